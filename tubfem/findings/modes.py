"""Natural modes of the free tub by name: what its cross-sections do, and where its kinetic energy is.

A mode without rigid motion has no effective mass in the classical sense: its momentum is nil. What takes part is told
by shares of the kinetic energy instead. The tub is cut into slices across x; the motion of each slice is split into
its mean translation, its mean rotation about x through its own centre of mass, and the rest. These parts are
orthogonal with respect to mass, so their kinetic energies add up.

Thin panels vibrate by themselves at lower frequencies than the tub does as a whole. Its first torsion and bending are
therefore found with all mass in those means of the slices, which leaves a few modes of the whole tub only; then the
natural mode is looked for that moves the sections most like it, by the share of its kinetic energy that does so.
"""

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.stability_results import ModeFindings, ModesFindings, WholeMode
from tubfem.findings.strains import Elements
from tubfem.shell.eigen import Vibration
from tubfem.shell.loads import node_masses, row_masses
from tubfem.shell.model import Springs
from tubfem.tub.model import TubModel

SLICES = 12
WHOLE = 8  # modes of the sections: torsion, bending both ways and stretching are among the first few
NAMED = 0.4  # of the kinetic energy in one motion of cross-sections: below, the mode is a local one
LIKE = 0.2  # likeness below which no natural mode is said to be that of the whole tub
MOTIONS = ("torsion", "vertical bending", "lateral bending", "axial")


def find_modes(model: TubModel, solved: Vibration, whole: Vibration, elements: Elements) -> ModesFindings:
    """Modes with their names.

    Parameters
    ----------
    solved : modes of the free tub, of the state that `model.modes` points at
    whole : the same with all mass in `section_masses`
    """
    setup, shell = model.modes, model.states[model.modes.state].shell
    mass, _ = _masses(model)
    member = _slices(shell.points, mass)
    bare = node_masses(shell.points, shell.blocks, shell.mass) + shell.lumps
    tubes = {frame.name: row_masses(len(bare), frame.beams.masses) for frame in model.frames}
    element_mass = np.concatenate([shell.mass[block.stack, 0] for block in shell.blocks]) * elements.area
    found = []
    for frequency, motion in zip(solved.frequencies, solved.shapes, strict=True):
        carried = {each.name: _row_energy(each.rows, motion) for each in setup.carried}
        squares = motion[:, :3] ** 2
        carried |= {name: mass_of @ squares for name, mass_of in tubes.items()}
        own = bare @ squares
        directions = own + sum(carried.values(), np.zeros(3))
        total = float(directions.sum())
        shares = dict(zip(MOTIONS, (_section_shares(shell.points, mass, member, motion) / total).tolist(), strict=True))
        lively = np.concatenate([squares[block.conn].sum(2).mean(1) for block in shell.blocks]) * element_mass
        regions = np.bincount(elements.region, lively, minlength=len(elements.regions)) / lively.sum()
        best = max(shares, key=shares.get)
        found.append(
            ModeFindings(
                frequency=float(frequency),
                shape=best if shares[best] >= NAMED else "local",
                shares=shares,
                directions=tuple((directions / total).tolist()),
                regions=dict(zip(elements.regions, (regions * own.sum() / total).tolist(), strict=True)),
                carried={name: float(energy.sum()) / total for name, energy in carried.items()},
                motion=motion,
            )
        )
    likeness = _likeness(section_masses(model), whole.shapes, solved.shapes)
    names = [int(_section_shares(shell.points, mass, member, shape).argmax()) for shape in whole.shapes]
    torsion, bending = (_whole(whole, names, likeness, MOTIONS.index(name)) for name in MOTIONS[:2])
    carried_mass = {each.name: each.mass for each in setup.carried}
    carried_mass |= {name: float(mass_of.sum()) for name, mass_of in tubes.items()}
    return ModesFindings(tuple(found), torsion, bending, float(bare.sum()) + sum(carried_mass.values()), carried_mass)


def section_masses(model: TubModel) -> list[Springs]:
    """All mass of a tub as that of its slices: rows for their mean translations and turning about x, and point masses.

    Written as springs are, the stiffness of a row being its mass [kg] or moment of inertia [kg m2].
    """
    points = model.states[model.modes.state].shell.points
    mass, found = _masses(model)
    for member in _slices(points, mass):
        nodes = np.flatnonzero(member)
        own = mass[nodes]
        arm = points[nodes] - own @ points[nodes] / own.sum()
        inertia = float(own @ (arm[:, 1] ** 2 + arm[:, 2] ** 2))
        rows = np.zeros((4, len(nodes), 3))
        for x in range(3):
            rows[x, :, x] = own / own.sum()
        if inertia > 0:
            rows[3, :, 1], rows[3, :, 2] = -own * arm[:, 2] / inertia, own * arm[:, 1] / inertia
        freedoms = np.tile((6 * nodes[:, None] + np.arange(3)).ravel(), (4, 1))
        found.append(Springs(freedoms, rows.reshape(4, -1), np.array([*[own.sum()] * 3, inertia])))
    return found


def _masses(model: TubModel) -> tuple[Floats, list[Springs]]:
    """Mass (p,) at every point, spread masses included, and the point masses that are carried beside the surface."""
    shell = model.states[model.modes.state].shell
    mass = node_masses(shell.points, shell.blocks, shell.mass) + shell.lumps
    for beams in shell.beams:
        mass += row_masses(len(mass), beams.masses)
    beside = []
    for each in model.modes.carried:
        if each.rows.freedoms.shape[1] == 1:
            np.add.at(mass, each.rows.freedoms[:, 0] // 6, each.rows.stiffness / 3)
        else:
            beside.append(each.rows)
    return mass, beside


def _velocity(rows: Springs, motion: Floats) -> Floats:
    """What each row reads (k, 3) in a motion (P, 6); rows run x y z, x y z."""
    return (motion.ravel()[rows.freedoms] * rows.coefficients).sum(1).reshape(-1, 3)


def _row_energy(rows: Springs, motion: Floats) -> Floats:
    """Mass times square of velocity in x, y and z (3,)."""
    return (rows.stiffness.reshape(-1, 3) * _velocity(rows, motion) ** 2).sum(0)


def _likeness(sections: list[Springs], whole: Floats, motions: Floats) -> Floats:
    """Share (f, k) of the kinetic energy of motions (k, P, 6) that moves the sections as shapes (f, P, 6) do.

    Motions must have modal mass 1 kg.
    """

    def read(shapes: Floats) -> Floats:
        flat = shapes.reshape(len(shapes), -1)
        parts = [np.sqrt(rows.stiffness) * (flat[:, rows.freedoms] * rows.coefficients).sum(-1) for rows in sections]
        return np.concatenate(parts, axis=1)

    own = read(whole)
    return ((own / np.linalg.norm(own, axis=1, keepdims=True)) @ read(motions).T) ** 2


def _whole(whole: Vibration, names: list[int], likeness: Floats, name: int) -> WholeMode | None:
    if name not in names:
        return None
    k = names.index(name)
    like = int(likeness[k].argmax())
    best = float(likeness[k, like])
    return WholeMode(float(whole.frequencies[k]), like if best >= LIKE else None, best, whole.shapes[k])


def _slices(points: Floats, mass: Floats) -> Floats:
    """Membership (slices, p) of points in slices across x; points without mass are in none."""
    x = points[:, 0]
    heavy = mass > 0
    low, high = x[heavy].min(), x[heavy].max()
    number = np.clip(((x - low) / max(high - low, 1e-12) * SLICES).astype(np.int64), 0, SLICES - 1)
    member = np.zeros((SLICES, len(x)))
    member[number, np.arange(len(x))] = heavy
    return member[member.sum(1) > 0]


def _section_shares(points: Floats, mass: Floats, member: Floats, motion: Floats) -> Floats:
    """Twice the kinetic energy (4,) in each of `MOTIONS`, per square of the frequency."""
    weight = member * mass
    total = weight.sum(1, keepdims=True)
    centre, mean = weight @ points / total, weight @ motion[:, :3] / total
    arm = points[None] - centre[:, None]
    inertia = (weight * (arm[..., 1] ** 2 + arm[..., 2] ** 2)).sum(1)
    moment = (weight * (arm[..., 1] * motion[:, 2] - arm[..., 2] * motion[:, 1])).sum(1)
    torsion = np.divide(moment**2, inertia, out=np.zeros_like(moment), where=inertia > 0).sum()
    u, v, w = (total * mean**2).sum(0)
    return np.array([torsion, w, v, u])


def mode_sentences(modes: ModesFindings) -> tuple[str, ...]:
    """The lowest mode, and first torsion and bending of the whole tub."""
    lowest = modes.modes[0]
    what = lowest.shape if lowest.shape != "local" else f"local, most in {max(lowest.regions, key=lowest.regions.get)}"
    words = [f"The lowest natural frequency of the free tub is {lowest.frequency:.3g} Hz ({what})."]
    for name, one in (("torsion", modes.torsion), ("vertical bending", modes.bending)):
        if one is not None:
            words.append(whole_words(name, one, modes))
    return tuple(words)


def whole_words(name: str, one: WholeMode, modes: ModesFindings) -> str:
    """A mode of the whole tub in one sentence, and the natural mode that is most like it."""
    if one.mode is None:
        like = f"none of the {len(modes.modes)} modes asked is much like it"
    else:
        like = f"mode {one.mode + 1} at {modes.modes[one.mode].frequency:.3g} Hz is {100 * one.likeness:.0f} % that"
    return f"First {name} of the free tub as a whole: {one.frequency:.3g} Hz, panels' own vibration left out; {like}."
