"""What every joint line carries: forces and moment per metre of ties, shear flow beside continuous lines."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.findings.joint_names import pair_names
from tubfem.findings.results import JointFindings
from tubfem.findings.strains import Elements
from tubfem.geometry.mesh import JointLine, TubMesh
from tubfem.tub.model import JointTies, TubModel


def joint_loads(
    model: TubModel, elements: Elements, forces: Floats, energy: Floats, total: float, membrane: Floats
) -> dict[str, JointFindings]:
    """Loads of every tie, and of every continuous line between two regions.

    A continuous line has no springs to read: what either panel gives to it comes from the membrane forces of its
    elements there, and the lesser of the two is what can pass from one to the other.

    Parameters
    ----------
    forces, energy
        Of every spring row (rows,), through the shell model's spring sets in order [N, N m] and [J].
    total
        Strain energy of the load case [J].
    membrane
        (e, 3) [N/m] mean membrane forces in the material frame.
    """
    found: dict[str, JointFindings] = {}
    for name, ties in _by_name(model.joints).items():
        found[name] = _tied(model, name, ties, forces, energy, total)
    names = pair_names(model.joint_kinds)
    lines = {name: at for name, at in _continuous(model, names).items() if name not in found}
    if lines:
        sides = Sides.of(model.mesh)
        for name, at in lines.items():
            found[name] = _moulded(model.mesh, elements, sides, name, at, membrane)
    return found


def _by_name(joints: tuple[JointTies, ...]) -> dict[str, list[JointTies]]:
    found: dict[str, list[JointTies]] = {}
    for ties in joints:
        found.setdefault(ties.name, []).append(ties)
    return found


def _tied(
    model: TubModel, name: str, ties: list[JointTies], forces: Floats, energy: Floats, total: float
) -> JointFindings:
    lengths = np.concatenate([part.lengths for part in ties])
    rows = np.concatenate([part.rows for part in ties])
    points = model.states[0].shell.points
    per_length = forces[rows] / lengths[:, None]  # (m, 4)
    shear, normal, peel, moment = per_length.T
    peaks = np.abs(per_length).max(axis=0)
    return JointFindings(
        name=name,
        kind=ties[0].kind,
        length=float(lengths.sum()),
        position=points[np.concatenate([part.pairs[:, 0] for part in ties])],
        shear_flow=shear,
        normal=normal,
        peel=peel,
        moment=moment,
        peak_shear_flow=float(peaks[0]),
        peak_normal=float(peaks[1]),
        peak_peel=float(peaks[2]),
        peak_moment=float(peaks[3]),
        margin=None,
        twist_share=float(energy[rows].sum() / total),
    )


def _continuous(model: TubModel, names: dict[frozenset[str], str]) -> dict[str, list[tuple[JointLine, int, int]]]:
    """Lines of every continuous pair of panels of different regions."""
    panels = model.mesh.panels
    found: dict[str, list[tuple[JointLine, int, int]]] = {}
    for line in model.mesh.joints:
        for a, b in combinations(line.panels, 2):
            name = names.get(frozenset((panels[a].name, panels[b].name)))
            if name is not None and panels[a].region != panels[b].region:
                found.setdefault(name, []).append((line, a, b))
    return found


@dataclass(frozen=True, eq=False, slots=True)
class Sides:
    """Sides of all elements, sorted by the edge and panel they belong to: `key` (m,), `element` (m,)."""

    key: Ints
    element: Ints
    points: int
    panels: int

    @classmethod
    def of(cls, mesh: TubMesh) -> "Sides":
        """Those of a mesh."""
        edges, owner, first = [], [], 0
        for block in mesh.blocks:
            count, corners = block.conn.shape
            edges.append(np.stack([block.conn, np.roll(block.conn, -1, axis=1)], axis=-1).reshape(-1, 2))
            owner.append(np.repeat(np.arange(first, first + count), corners))
            first += count
        edge, element = np.concatenate(edges), np.concatenate(owner)
        points, panels = len(mesh.points), len(mesh.panels)
        key = _key(edge, mesh.element_panel[element], points, panels)
        order = np.argsort(key, kind="stable")
        return cls(key[order], element[order], points, panels)

    def at(self, edges: Ints, panel: int) -> tuple[Ints, Ints]:
        """Elements of a panel at edges (n, 2): which edge each stands at (m,), and the element (m,)."""
        key = _key(edges, np.full(len(edges), panel), self.points, self.panels)
        begin, end = np.searchsorted(self.key, key), np.searchsorted(self.key, key, side="right")
        edge = np.repeat(np.arange(len(edges)), end - begin)
        rows = np.concatenate([np.arange(i, j) for i, j in zip(begin, end, strict=True)])
        return edge, self.element[rows]


def _key(edges: Ints, panel: Ints, points: int, panels: int) -> Ints:
    return (edges.min(axis=1) * points + edges.max(axis=1)) * panels + panel


def _moulded(
    mesh: TubMesh,
    elements: Elements,
    sides: Sides,
    name: str,
    lines: list[tuple[JointLine, int, int]],
    membrane: Floats,
) -> JointFindings:
    middles, flows, length = [], [], 0.0
    for line, a, b in lines:
        along = mesh.points[line.edges[:, 1]] - mesh.points[line.edges[:, 0]]
        middle = mesh.points[line.edges].mean(axis=1)
        given = [_given(elements, sides, panel, line.edges, along, middle, membrane) for panel in (a, b)]
        flows.append(np.where(np.abs(given[0]) <= np.abs(given[1]), given[0], -given[1]))
        middles.append(middle)
        length += float(np.linalg.norm(along, axis=1).sum())
    flow = np.concatenate(flows)
    return JointFindings(
        name=name,
        kind="continuous",
        length=length,
        position=np.concatenate(middles),
        shear_flow=flow,
        normal=None,
        peel=None,
        moment=None,
        peak_shear_flow=float(np.abs(flow).max()),
        peak_normal=None,
        peak_peel=None,
        peak_moment=None,
        margin=None,
        twist_share=None,
    )


def _given(
    elements: Elements, sides: Sides, panel: int, edges: Ints, along: Floats, middle: Floats, membrane: Floats
) -> Floats:
    """Force per length (n,) [N/m] along every edge that a panel's elements give to the line, all of them together."""
    edge, element = sides.at(edges, panel)
    s = (along / np.linalg.norm(along, axis=1)[:, None])[edge]
    inwards = elements.centre[element] - middle[edge]
    inwards -= (inwards * s).sum(axis=1)[:, None] * s
    inwards /= np.linalg.norm(inwards, axis=1)[:, None]
    e1 = elements.axis[element]
    e2 = np.cross(elements.normal[element], e1)
    s1, s2, m1, m2 = (s * e1).sum(1), (s * e2).sum(1), (inwards * e1).sum(1), (inwards * e2).sum(1)
    Nx, Ny, Nxy = membrane[element].T
    return np.bincount(edge, weights=s1 * Nx * m1 + s2 * Ny * m2 + (s1 * m2 + s2 * m1) * Nxy, minlength=len(edges))
