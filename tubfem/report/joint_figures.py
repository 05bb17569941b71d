"""The picture of the joints: every line coloured and as wide as its shear flow."""

from collections.abc import Sequence

import numpy as np
from matplotlib import colormaps
from matplotlib.colors import Normalize, to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from tubfem.arrays import Floats, Ints
from tubfem.findings.results import JointFindings, LoadCaseFindings
from tubfem.report.figures import ABOVE, BELOW, _colour_bar, _legend, _paint, _sheet, _text_entries, _title
from tubfem.report.numbers import margin, three
from tubfem.report.views import feature_edges
from tubfem.tub.model import TubModel

WIDEST, THINNEST, STEPS = 7.0, 0.6, 24
PALE = "#eef0f1"
LISTED = 8


def shear_flow_map(model: TubModel, load_case: LoadCaseFindings, changes: Sequence[str] = ()) -> Figure:
    """Joint lines over a pale tub, moulded ones too; the lines of highest flow are listed with their margins."""
    mesh = model.mesh
    figure, above, below = _sheet(f"Shear flow along the joints, load case {load_case.name}", _title(model, changes))
    edges, flow = joint_edges(model, load_case)
    top = max(float(np.quantile(flow, 0.99)) if len(flow) else 0.0, 1e-9)
    norm, cmap = Normalize(0.0, 1e-3 * top), colormaps["viridis_r"]
    lines = [(feature_edges(mesh), "#8a8f94", 0.3)]
    step = np.minimum((STEPS * flow / top).astype(np.int64), STEPS - 1)
    for k in np.unique(step):
        part = (k + 0.5) / STEPS
        lines.append((edges[step == k], to_hex(cmap(part)), THINNEST + (WIDEST - THINNEST) * part))
    colours = np.tile(tuple(int(PALE[i : i + 2], 16) / 255 for i in (1, 3, 5)), (mesh.element_count, 1))
    for axes, view in ((above, ABOVE), (below, BELOW)):
        _paint(axes, mesh.points, mesh, colours, lines=lines, view=view, shade=0.5)
    listed = sorted(load_case.joints.values(), key=lambda joint: -joint.peak_shear_flow)[:LISTED]
    _legend(above, _entries(listed), title="highest shear flow, N/mm")
    label = f"shear flow along the line, N/mm (highest {three(1e-3 * float(flow.max(initial=0.0)))})"
    _colour_bar(figure, cmap, norm, label, extend="max")
    return figure


def _entries(joints: Sequence[JointFindings]) -> list[Line2D]:
    words = []
    for joint in joints:
        judged = "" if joint.margin is None else f", margin {margin(joint.margin)}"
        words.append(f"{three(1e-3 * joint.peak_shear_flow)}  {joint.name} ({joint.kind}{judged})")
    return _text_entries(words)


def joint_edges(model: TubModel, load_case: LoadCaseFindings) -> tuple[Ints, Floats]:
    """Edges (n, 2) of all joint lines and the size of their shear flow (n,) [N/m].

    The highest of what was read nearest to an edge's middle and its two ends: ties are read at nodes.
    """
    panels = [panel.name for panel in model.mesh.panels]
    edges, flows = [], []
    for line in model.mesh.joints:
        ends = model.mesh.points[line.edges]
        places = np.stack([ends.mean(axis=1), ends[:, 0], ends[:, 1]], axis=1)
        here = np.zeros(len(line.edges))
        for name, joint in load_case.joints.items():
            first, _, second = name.partition("/")
            own = {first, second} <= {panels[k] for k in line.panels}
            if own and len(joint.position):
                distance = np.linalg.norm(places[:, :, None] - joint.position, axis=-1)
                here = np.maximum(here, np.abs(joint.shear_flow)[distance.argmin(axis=-1)].max(axis=1))
        edges.append(line.edges)
        flows.append(here)
    if not edges:
        return np.zeros((0, 2), dtype=np.int64), np.zeros(0)
    return np.concatenate(edges), np.concatenate(flows)
