"""The tub as compact arrays for the page's 3-D view: little-endian, in base 64, elements in the order of the mesh."""

import base64
from typing import Any

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.findings.mass import mixture_thickness
from tubfem.findings.results import Findings, JointFindings, LoadCaseFindings
from tubfem.shell.beam2 import axis_motion
from tubfem.tub.model import FrameBeams, LayupField, TubModel

NO_LIMIT = 1e6  # stands for an unlimited margin, as in fields.vtu


def scene(model: TubModel, findings: Findings | None = None) -> dict[str, Any]:
    """Everything the view draws, ready for JSON.

    Points are the shell's own, so that parts on either side of a joint move apart. `corners` (e, 4) are the nodes of
    every element, the last one repeated in a triangle. `plies` of every stack: text, angle [rad] from the material
    frame, z of both faces [m] from the meshed surface. Fields of load cases as in `findings.results.Fields`, margins
    cut off at `NO_LIMIT`; `joints` of a load case are positions (m, 3) and shear flow (m,); `bars` both ends of tubes
    and stiffeners (b, 2, 3), in a load case their motion.
    """
    points, corners = _drawn(model)
    panels = model.mesh.panels
    names = list(dict.fromkeys(panel.region for panel in panels))
    of_panel = np.array([names.index(panel.region) for panel in panels])
    return {
        "points": _floats(points),
        "corners": _ints(corners, "<u4"),
        "panel": _ints(model.mesh.element_panel, "<u2"),
        "region": _ints(of_panel[model.mesh.element_panel], "<u2"),
        "panels": [panel.name for panel in panels],
        "regions": names,
        "thickness": _floats(mixture_thickness(model.layup) if findings is None else findings.element_thickness),
        "mixture": _ints(model.layup.mixture, "<u2"),
        **_laid(model.layup),
        "lines": _lines(model),
        "bars": _floats(np.concatenate([np.empty((0, 2, 3)), *(frame.ends for frame in model.frames)])),
        "bar_radii": _floats(np.concatenate([np.empty(0), *(_radii(frame) for frame in model.frames)])),
        "marks": _marks(model),
        "load_cases": {} if findings is None else {n: _load_case(model, f) for n, f in findings.load_cases.items()},
    }


def _drawn(model: TubModel) -> tuple[Floats, Ints]:
    """Shell nodes that elements use (n, 3), and every element's corners among them."""
    blocks = model.states[0].shell.blocks
    conn = np.concatenate([np.pad(b.conn, ((0, 0), (0, 4 - b.conn.shape[1])), mode="edge") for b in blocks])
    used, corners = np.unique(conn, return_inverse=True)
    return model.states[0].shell.points[used], corners.reshape(-1, 4)


def _radii(frame: FrameBeams) -> Floats:
    """Half the greater width (b,) of beams [m]."""
    return np.maximum(frame.section.reach_2, frame.section.reach_3)


def _bar_motion(model: TubModel, motion: Floats) -> Floats:
    """Translation (b, 2, 3) of the ends of all beams under a motion (P, 6)."""
    found = [axis_motion(frame.beams, motion) for frame in model.frames]
    return np.concatenate([np.empty((0, 2, 3)), *found])


def _laid(layup: LayupField) -> dict[str, Any]:
    """Stacks and mixtures, so that the page can work out ply strains."""
    stacks = [
        [
            [text, float(angle), float(low), float(high), int(ply.core)]
            for text, ply, angle, low, high in zip(
                entries, stack.plies, stack.angle, stack.z[:-1], stack.z[1:], strict=True
            )
        ]
        for stack, entries in zip(layup.stacks, layup.stack_entries, strict=True)
    ]
    mixtures = [
        [[int(stack), float(weight)] for stack, weight in zip(*pair, strict=True)]
        for pair in zip(layup.mixture_stacks, layup.mixture_weights, strict=True)
    ]
    return {"stacks": stacks, "mixtures": mixtures}


def _lines(model: TubModel) -> list[dict[str, Any]]:
    """Joints by name and kind, with the ends of their edges (2 m, 3)."""
    mesh = model.mesh
    kinds = {frozenset(name.split("/")): (name, kind) for name, kind in model.joint_kinds.items()}
    found = []
    for line in mesh.joints:
        names = [mesh.panels[i].name for i in line.panels]
        pairs = (frozenset((a, b)) for i, a in enumerate(names) for b in names[i + 1 :])
        known = [kinds[pair] for pair in pairs if pair in kinds]
        if known:
            tied = [one for one in known if one[1] != "continuous"]
            name, kind = (tied or known)[0]
            found.append({"name": name, "kind": kind, "ends": _floats(mesh.points[line.edges.ravel()])})
    return found


def _marks(model: TubModel) -> list[dict[str, Any]]:
    """Pickups and mounts by name with their place [m]."""
    points = model.states[0].shell.points
    places = [("pickup", name, points[node]) for name, node in model.pickups.items()]
    places += [("mount", mount.name, mount.centre) for mount in model.mesh.mounts]
    return [{"kind": kind, "name": name, "at": [float(c) for c in at]} for kind, name, at in places]


def _load_case(model: TubModel, found: LoadCaseFindings) -> dict[str, Any]:
    blocks = model.states[0].shell.blocks
    used = np.unique(np.concatenate([block.conn.ravel() for block in blocks]))
    fields = found.fields
    return {
        "displacement": _floats(fields.displacement[used, :3]),
        "bars": _floats(_bar_motion(model, fields.displacement)),
        "strain": _floats(fields.strain),
        "margin": _floats(np.minimum(fields.margin, NO_LIMIT)),
        "energy": _floats(fields.energy),
        "generalised": _floats(fields.generalised),
        "kind": _ints(fields.kind, "<u2"),
        "kinds": list(fields.kinds),
        "both_hands": found.torsion is not None,
        "margin_scale": found.margin_scale,
        "joints": {name: _joint(joint) for name, joint in found.joints.items()},
    }


def _joint(joint: JointFindings) -> dict[str, Any]:
    return {"kind": joint.kind, "at": _floats(joint.position), "flow": _floats(joint.shear_flow)}


def _floats(values: Floats) -> str:
    return _coded(values, "<f4")


def _ints(values: Ints, kind: str) -> str:
    if len(values) and int(np.max(values)) > np.iinfo(kind).max:
        raise ValueError(f"{np.max(values)} does not go into {kind}")
    return _coded(values, kind)


def _coded(values: Floats | Ints, kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")
