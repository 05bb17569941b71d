"""The hand check in words: what was covered, and why its figure is not that of the finite elements."""

from collections import Counter
from itertools import groupby, pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.hand_results import HandCheck, Section
from tubfem.findings.openings import Hole
from tubfem.findings.results import Energy, Torsion
from tubfem.geometry.mesh import TubMesh

STEP = 2.0  # GJ of neighbouring slices this far apart: warping of either is held by the other
APART = 0.05  # of the twist
JOINTED = 0.01  # of the strain energy in joints, from which on it is worth a line


def opening_words(mesh: TubMesh, openings: tuple[Hole, ...], between: tuple[float, float]) -> tuple[str, ...]:
    """Openings along the way, panel by panel; those in panels that stand across the tub are no part of a section."""
    words = []
    for hole in openings:
        along, first, last = hole.high[0] - hole.low[0], float(hole.low[0]), float(hole.high[0])
        if along < 0.5 * float((hole.high - hole.low).max()) or last < between[0] or first > between[1]:
            continue
        words.append(f"{mesh.panels[hole.panel].name}, x = {1e3 * first:.0f} to {1e3 * last:.0f} mm")
    return tuple(words)


def stretches(sections: tuple[Section, ...]) -> tuple[tuple[float, float, tuple[Section, ...]], ...]:
    """Neighbouring slices with the same panels round their cells put together: start, end [m], slices."""
    found = []
    for _, group in groupby(sections, key=lambda s: frozenset(frozenset(cell.panels) for cell in s.cells)):
        own = tuple(group)
        found.append((own[0].start, own[-1].end, own))
    return tuple(found)


def twist_of(sections: tuple[Section, ...], x: Floats, curve_deg: Floats) -> float:
    """Twist [deg] of neighbouring slices on a curve (m,)."""
    start, end = np.interp([sections[0].start, sections[-1].end], x, curve_deg)
    return float(end - start)


def _apart(check: HandCheck, torsion: Torsion) -> float:
    """Twist that the two figures place in different stretches, as a part of that of the finite elements."""
    curves = (check.x, check.curve_deg), (torsion.x, torsion.curve_deg)
    hand, model = (np.array([twist_of(own, *c) for _, _, own in stretches(check.sections)]) for c in curves)
    return float(0.5 * np.abs(hand / hand.sum() - model / model.sum()).sum())


def cells_in_words(sections: tuple[Section, ...]) -> str:
    """The closed cells of a stretch, left and right told once, largest first: the parts longest round each."""
    count = Counter(_short(cell.panels) for cell in sections[0].cells)
    return "; ".join(f"{times} x {name}" if times > 1 else name for name, times in count.items()) or "none"


def _short(panels: tuple[str, ...]) -> str:
    names = dict.fromkeys(panel.removesuffix(".left").removesuffix(".right") for panel in panels)
    groups = dict.fromkeys(name.split(".")[0] for name in names)
    return "+".join(list(groups)[:3])


def difference_reasons(check: HandCheck, energy: Energy, torsion: Torsion) -> tuple[str, ...]:
    """Why the finite element figure differs, each reason from a fact of this tub, with the way it works."""
    found = []
    if check.openings:
        found.append(
            f"Openings count as whole here and are cut in the finite element model, which makes that softer: "
            f"{'; '.join(check.openings)}."
        )
    joints = sum(energy.joints.values())
    if joints >= JOINTED:
        found.append(
            f"Joints count as moulded here; in the finite element model they hold {100 * joints:.0f} % of the strain "
            "energy, which makes that softer."
        )
    open_length = sum(s.end - s.start for s in check.sections if not s.cells)
    if open_length > 0:
        found.append(
            f"{1e3 * open_length:.0f} mm have no closed cell. Walls there hold each other from warping, which the hand "
            "rules leave out: the finite element model is stiffer."
        )
    steps = [f"{1e3 * a.end:.0f}" for a, b in pairwise(check.sections) if max(a.GJ, b.GJ) > STEP * min(a.GJ, b.GJ)]
    if steps:
        found.append(
            f"GJ changes by more than a factor of {STEP:g} at x = {', '.join(steps)} mm. The stiffer side holds the "
            "softer from warping (finite elements stiffer there), and shear needs some length to spread into a cell "
            "that begins (softer there)."
        )
    lengths = [section.end - section.start for section in check.sections]
    share = sum(
        section.strips / section.GJ * length / section.GJ
        for section, length in zip(check.sections, lengths, strict=True)
    ) / sum(length / section.GJ for section, length in zip(check.sections, lengths, strict=True))
    if share > 0.1:
        found.append(f"{100 * share:.0f} % of the stiffness that counts is walls that twist as strips.")
    apart = _apart(check, torsion)
    if apart > APART:
        found.append(
            f"The two place {100 * apart:.0f} % of the twist in different stretches of the tub, so that agreement of "
            "the totals alone proves little."
        )
    rest = (torsion.front_share or 0.0) + (torsion.rear_share or 0.0)
    if abs(rest) >= 0.01:
        found.append(
            f"Between the pickups there is more twist than in the tub: {100 * rest:.0f} % of it lies in mounts, "
            "subframes and the panels round them; the hand check leaves that out and stands beside the figure read on "
            "the tub itself."
        )
    found.append("Sections keep their shape here; between bulkheads real ones do not quite, which makes a tub softer.")
    return tuple(found)
