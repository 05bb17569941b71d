"""What the solver is given: points, elements, stiffness by stack, springs, ties and loads, as arrays."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.shell.ties import Ties

FREEDOMS = 6  # u v w θx θy θz of a node; freedom = 6·node + component
NODES = {"quad4": 4, "tria3": 3}
MODES_OF_A_BEAM = 6  # natural modes: elongation, twist, two of bending in each plane


@dataclass(frozen=True, eq=False, slots=True)
class Relief:
    """Curvatures that elements at free edges feel of those that their nodes' motion has (`shell.edges`).

    Attributes
    ----------
    elements : (k,)
        Of a block, ascending.
    turn : (k, 3, 3)
        From κx κy κxy to κx κy κxy, in the material frame.
    """

    elements: Ints
    turn: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "elements", frozen(np.asarray(self.elements, dtype=np.int64)))
        object.__setattr__(self, "turn", frozen(np.asarray(self.turn, dtype=float)))


@dataclass(frozen=True, eq=False, slots=True)
class Block:
    """Elements of one kind.

    Attributes
    ----------
    kind
        ``"quad4"`` or ``"tria3"``.
    conn : (e, n)
        Nodes in order round the element; the normal e3 follows by the right-hand rule.
    stack : (e,)
        Row of `ShellModel.stiffness` and `ShellModel.mass`.
    direction : (e, 3)
        0° reference; e1 of the material frame is its projection on the surface.
    relief
        Of elements at free edges; None for none.
    bulge : (e, 4)
        How much the sides of quads, 12 23 34 41, bulge between their nodes (`shell.bulges`); None for straight ones.
    """

    kind: str
    conn: Ints
    stack: Ints
    direction: Floats
    relief: Relief | None = None
    bulge: Floats | None = None

    def __post_init__(self) -> None:
        count = len(self.conn)
        conn = np.asarray(self.conn, dtype=np.int64).reshape(count, NODES[self.kind])
        object.__setattr__(self, "conn", frozen(conn))
        object.__setattr__(self, "stack", frozen(np.asarray(self.stack, dtype=np.int64).reshape(count)))
        object.__setattr__(self, "direction", frozen(np.asarray(self.direction, dtype=float).reshape(count, 3)))
        if self.bulge is not None:
            object.__setattr__(self, "bulge", frozen(np.asarray(self.bulge, dtype=float).reshape(count, 4)))


@dataclass(frozen=True, eq=False, slots=True)
class Springs:
    """Linear springs between any freedoms: row m stores the energy ½ stiffness (Σ coefficients·u[freedoms])².

    Attributes
    ----------
    freedoms : (m, k)
        Freedoms that each row reads.
    coefficients : (m, k)
        Their factors [- or m]; the sum is the elongation (or relative rotation) of the row.
    stiffness : (m,)
        [N/m or N·m/rad]; a row of a line spring carries stiffness per length times its share of the length.
    """

    freedoms: Ints
    coefficients: Floats
    stiffness: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "freedoms", frozen(np.asarray(self.freedoms, dtype=np.int64)))
        object.__setattr__(self, "coefficients", frozen(np.asarray(self.coefficients, dtype=float)))
        object.__setattr__(self, "stiffness", frozen(np.asarray(self.stiffness, dtype=float)))


@dataclass(frozen=True, eq=False, slots=True)
class Beams:
    """Beams, written as springs (`shell.beam2`).

    Attributes
    ----------
    springs
        Six rows a beam, its natural modes; the first is its elongation.
    masses
        Velocities along the axes, the stiffness of a row being a mass [kg] or moment of inertia [kg·m²]: for every
        beam and integration point three translations in global axes, then three rotations.
    slopes
        Slopes of the axis across itself, the stiffness of a row being the length that it stands for [m]; the same
        number of rows for every beam.
    """

    springs: Springs
    masses: Springs
    slopes: Springs


@dataclass(frozen=True, eq=False, slots=True)
class ShellModel:
    """A linear shell structure, ready to solve.

    Attributes
    ----------
    points : (p, 3)
        [m]; points without elements (mounts, subframes, pickups) are nodes like any other.
    blocks
        Elements, one block or more of each kind.
    stiffness : (s, 8, 8)
        A, B, D and transverse shear of each stack about the element surface, in the material frame; strain
        order εx εy γxy κx κy κxy γxz γyz [N/m, N, N·m].
    mass : (s, 3)
        ∫ρ (1, z, z²) dz [kg/m², kg/m, kg].
    springs
        Sets of springs; results come back per set and row.
    ties
        Motion allowed by supports, rigid links and spreading.
    loads : (d, c)
        Force or moment on every freedom, one column per load case [N, N·m].
    drilling
        Stiffness of the drilling strain as a factor of A66.
    beams
        Mass and slopes of beams; their springs stand among `springs` as well.
    lumps : (p,)
        Mass at the points beside that of elements and beams [kg]; None for nothing.
    """

    points: Floats
    blocks: tuple[Block, ...]
    stiffness: Floats
    mass: Floats
    springs: tuple[Springs, ...]
    ties: Ties
    loads: Floats
    drilling: float = 1e-3
    beams: tuple[Beams, ...] = ()
    lumps: Floats | None = None

    def __post_init__(self) -> None:
        if self.lumps is None:
            object.__setattr__(self, "lumps", np.zeros(len(self.points)))
        for name in ("points", "stiffness", "mass", "loads", "lumps"):
            object.__setattr__(self, name, frozen(np.asarray(getattr(self, name), dtype=float)))
