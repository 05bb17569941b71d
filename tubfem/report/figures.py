"""Pictures of a tub and of what was found in it. Each states what it shows, in which units, and what it is not."""

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.colors import BoundaryNorm, Colormap, ListedColormap, Normalize, to_rgb
from matplotlib.figure import Figure
from matplotlib.legend import Legend
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from tubfem.arrays import Floats, Ints
from tubfem.findings.hand_results import HandCheck
from tubfem.findings.results import LoadCaseFindings, Torsion
from tubfem.geometry.mesh import TubMesh
from tubfem.report.numbers import hot_spot_place, margin, three
from tubfem.report.tube_figures import draw_tubes
from tubfem.report.views import (
    ABOVE,
    BELOW,
    SIDE,
    Sight,
    View,
    arrange,
    brightness,
    corners,
    feature_edges,
    look_from,
    motion_of_mesh,
    pickup_places,
    plain_edges,
    project,
    region_of_elements,
    round_scale,
    sight,
    tied_edges,
)
from tubfem.tub.model import TubModel

CAUTION = "Estimate, to be reviewed by a licensed engineer. Certifies nothing; local codes prevail."
INK, QUIET, PAPER, GHOST = "#222222", "#6b6b6b", "#ffffff", "#b9b9b9"
FILLS = ("#77AADD", "#EE8866", "#EEDD88", "#44BB99", "#FFAABB", "#99DDFF", "#BBCC33", "#CBB8DC", "#D9C3A5", "#C9CED3")
TIED, MOULDED, ON_DATA = "#c1121f", "#333333", "#ff5a36"
MARGIN_STEPS = (-1.0, 0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
DPI = 130
MARGIN_FILLS = ("#67001f", "#c9473f", "#ee9a7a", "#fbd3bd", "#ececec", "#d3e1ec", "#b4cde2", "#93b7d5")


def save(figure: Figure, path: Path) -> None:
    """Write a figure as PNG."""
    # level 3 of zlib: a tenth larger, written in a third of the time
    figure.savefig(path, dpi=DPI, facecolor=PAPER, metadata={"Software": "tubfem"}, pil_kwargs={"compress_level": 3})


def region_map(model: TubModel, changes: Sequence[str] = ()) -> Figure:
    """The tub from above and below, one tint a region, numbered; joints, mounts and pickups marked."""
    mesh = model.mesh
    names, region = region_of_elements(mesh)
    figure, above, below = _sheet("Regions", _title(model, changes))
    tied = tied_edges(model)
    colours = np.array([_tint(k) for k in range(len(names))])
    lines = [(plain_edges(model), MOULDED, 0.35), (tied, TIED, 1.4)]
    marks: list[Line2D] = []
    for axes, view in ((above, ABOVE), (below, BELOW)):
        _paint(axes, mesh.points, mesh, colours[region], lines=lines, view=view)
        seen = sight(mesh, view)
        _number(axes, seen, region, len(names), least=2 if axes is above else 10)
        marks = _mark_points(axes, model, seen)
    entries = [
        Patch(facecolor=colours[k], edgecolor=INK, linewidth=0.4, label=f"{k + 1}  {name}")
        for k, name in enumerate(names)
    ]
    kinds = [Line2D([], [], color=MOULDED, linewidth=0.8, label="moulded through, or free edge")]
    if len(tied):
        kinds.append(Line2D([], [], color=TIED, linewidth=1.8, label="joint on springs: tabbed, fastened, ..."))
    columns = 2 if len(names) > 14 else 1
    above.add_artist(_legend(above, entries, columns=columns))
    rows = -(-len(names) // columns)
    _legend(above, kinds + marks, title="faint: behind another part", down=0.036 * rows + 0.03)
    return figure


def margin_map(model: TubModel, load_case: LoadCaseFindings, changes: Sequence[str] = ()) -> Figure:
    """The lowest margin of every element in steps; the lowest places of the tightest regions are numbered."""
    mesh = model.mesh
    figure, above, below = _sheet(f"Lowest margin, load case {load_case.name}", _title(model, changes))
    cmap = ListedColormap(MARGIN_FILLS)
    norm = BoundaryNorm(MARGIN_STEPS, len(MARGIN_STEPS), extend="max")
    value = np.maximum(np.nan_to_num(load_case.fields.margin, posinf=1e9), MARGIN_STEPS[0])
    colours = cmap(norm(value))[:, :3]
    worst = sorted((w for r in load_case.regions.values() if (w := r.worst) is not None), key=lambda w: w.margin)[:5]
    places = np.array([w.position for w in worst]).reshape(-1, 3)
    lines = [(feature_edges(mesh), "#555555", 0.3)]
    for axes, view in ((above, ABOVE), (below, BELOW)):
        _paint(axes, mesh.points, mesh, colours, lines=lines, view=view, shade=0.5)
        _flag_places(axes, mesh, sight(mesh, view), places, mesh.points)
    words = [f"{k + 1}  {w.region}: {margin(w.margin)}, {w.kind}" for k, w in enumerate(worst)]
    _legend(above, _text_entries(words), title="the tightest regions\n(dashed ring: behind another part)")
    _colour_bar(figure, cmap, norm, "margin = allowable / demand − 1   (0: just enough, negative: not enough)")
    return figure


def joint_strain(model: TubModel, load_case: LoadCaseFindings, changes: Sequence[str] = ()) -> Figure:
    """The deformed tub coloured by the greatest principal strain at the laminate's faces, joints outlined."""
    mesh = model.mesh
    figure, above, below = _sheet(f"Strain at the joints, load case {load_case.name}", _title(model, changes))
    motion = motion_of_mesh(model, load_case.fields.displacement)
    length = float(np.ptp(mesh.points, axis=0).max())
    scale = round_scale(0.05 * length / max(float(np.linalg.norm(motion, axis=1).max()), 1e-30))
    moved = mesh.points + scale * motion
    strain = 1e6 * load_case.fields.strain
    top = float(np.quantile(strain, 0.995))
    norm, cmap = Normalize(0.0, top), colormaps["viridis"]
    lines = [(plain_edges(model), "#ffffff", 0.2), (tied_edges(model), ON_DATA, 1.4)]
    hottest = load_case.hot_spots[:5]
    places = np.array([spot.position for spot in hottest]).reshape(-1, 3)
    for axes, view in ((above, ABOVE), (below, BELOW)):
        flat, _ = project(mesh.points, view)
        ghost = PolyCollection(
            flat[feature_edges(mesh)], closed=False, facecolors="none", edgecolors=GHOST, linewidths=0.5
        )
        axes.add_collection(ghost)
        _paint(axes, moved, mesh, cmap(norm(strain))[:, :3], lines=lines, view=view, shade=0.5)
        _flag_places(axes, mesh, sight(mesh, view), places, moved)
    words = [f"{k + 1}  {three(1e6 * spot.strain_averaged)}: {hot_spot_place(spot)}" for k, spot in enumerate(hottest)]
    entries = _text_entries(words)
    entries.append(Line2D([], [], color=ON_DATA, linewidth=1.8, label="joint on springs: tabbed, fastened, ..."))
    entries.append(Line2D([], [], color=GHOST, linewidth=1, label="before loading"))
    _legend(above, entries, title="hot spots, averaged microstrain\n(dashed ring: behind another part)")
    label = f"greatest principal strain at the laminate's faces, microstrain (highest {three(float(strain.max()))});"
    label += f"   displacements drawn {scale:g} times"
    _colour_bar(figure, cmap, norm, label, extend="max" if strain.max() > top else "neither")
    return figure


def mode_shape(model: TubModel, what: str, shape: Floats, words: Sequence[str], changes: Sequence[str] = ()) -> Figure:
    """The tub in a shape (P, 6) of no certain size, coloured by how far it moves; `words` stand beside it."""
    mesh = model.mesh
    figure, above, below = _sheet(what, _title(model, changes))
    motion = motion_of_mesh(model, shape)
    size = np.linalg.norm(motion, axis=1)
    moved = mesh.points + 0.05 * np.ptp(mesh.points, axis=0).max() / size.max() * motion
    norm, cmap = Normalize(0.0, 1.0), colormaps["viridis"]
    colours = cmap(norm(size[corners(mesh)].mean(axis=1) / size.max()))[:, :3]
    for axes, view in ((above, ABOVE), (below, BELOW)):
        _paint(axes, moved, mesh, colours, lines=[(feature_edges(mesh), "#ffffff", 0.3)], view=view, shade=0.6)
    _legend(above, _text_entries(words))
    _colour_bar(figure, cmap, norm, "movement, as a part of the largest; how far a mode moves has no meaning")
    return figure


def twist_curve(model: TubModel, load_case: LoadCaseFindings, changes: Sequence[str] = ()) -> Figure:
    """Twist along the tub with its bays, over the tub's side view on the same scale."""
    torsion = load_case.torsion
    if torsion is None:
        raise ValueError("a twist curve needs a torsion load case")
    figure = Figure(figsize=(10.5, 7.2))
    FigureCanvasAgg(figure)
    side = figure.add_axes((0.09, 0.09, 0.86, 0.30))
    low, high, tall = _side_view(side, model)
    height = min(0.86 * 10.5 / 7.2 * tall / (high - low), 0.36)  # one scale in x and z, unless the tub is very tall
    side.set_position((0.09, 0.09, 0.86, height))
    curve = figure.add_axes((0.09, 0.12 + height, 0.86, 0.74 - height))
    _headings(figure, f"Twist along the tub, load case {load_case.name}", _title(model, changes))
    curve.plot(1e3 * torsion.x, torsion.curve_deg, color="#0b4f8a", linewidth=2.2, marker="o", markersize=3.5)
    if torsion.hand_check is not None:
        _hand_curve(curve, torsion, torsion.hand_check)
    curve.set_ylabel("twist, degrees")
    curve.tick_params(labelbottom=False)
    curve.grid(color="#e4e4e4", linewidth=0.8)
    for axes in (curve, side):
        axes.set_xlim(1e3 * low, 1e3 * high)
        for spine in ("top", "right"):
            axes.spines[spine].set_visible(False)
    _bays(curve, side, torsion)
    figure.text(0.09, 0.872, _twist_words(torsion), fontsize=9.5, color=INK)
    side.set_xlabel("x aft, mm")
    side.set_ylabel("z, mm")
    return figure


def _hand_curve(curve: Axes, torsion: Torsion, check: HandCheck) -> None:
    """The twist by hand, from where the first slice begins."""
    level = np.interp(check.x[0], torsion.x, torsion.curve_deg)
    label = f"hand check: {three(check.stiffness)} N·m/deg ({100 * (check.ratio - 1):+.0f} %)"
    curve.plot(1e3 * check.x, level + check.curve_deg, color="#7a7a7a", linewidth=1.4, linestyle="--", label=label)
    curve.legend(loc="lower right", frameon=False, fontsize=8.5, labelcolor=INK)


def _bays(curve: Axes, side: Axes, torsion: Torsion) -> None:
    """Marks of all bays, the softest shaded, twist per metre written in each."""
    bottom, top = curve.get_ylim()
    top += 0.2 * (top - bottom)
    curve.set_ylim(bottom, top)
    for bay in torsion.bays:
        soft = bay == torsion.softest and len(torsion.bays) > 1
        start, end = (1e3 * x for x in bay.x)
        for axes in (curve, side):
            axes.axvline(start, color="#9a9a9a", linewidth=0.8, linestyle=(0, (4, 3)), zorder=0)
            axes.axvline(end, color="#9a9a9a", linewidth=0.8, linestyle=(0, (4, 3)), zorder=0)
            if soft:
                axes.axvspan(start, end, color="#f6d9a8", alpha=0.65, zorder=-1, linewidth=0)
        words = f"{three(bay.twist_deg_per_m)}°/m" + ("\nsoftest bay" if soft else "")
        weight = "bold" if soft else "normal"
        curve.text(0.5 * (start + end), top, words, ha="center", va="top", fontsize=8.5, color=INK, weight=weight)
    names = {bay.start: bay.x[0] for bay in torsion.bays} | {bay.end: bay.x[1] for bay in torsion.bays}
    for name, x in names.items():
        side.text(1e3 * x + 6, side.get_ylim()[1], name, rotation=90, ha="left", va="top", fontsize=7.5, color=QUIET)


def _side_view(axes: Axes, model: TubModel) -> tuple[float, float, float]:
    """The side of the tub in grey, x to the right; returns the range of x to show, and the height shown [m]."""
    mesh = model.mesh
    flat = 1e3 * mesh.points[:, [0, 2]]
    bare = corners(mesh)[look_from(mesh, SIDE).bare]
    walls = PolyCollection(flat[bare], facecolors="#dfe3e6", edgecolors="none", antialiaseds=False)
    lines = {"closed": False, "facecolors": "none", "edgecolors": "#555555", "linewidths": 0.7}
    for drawn in (walls, PolyCollection(flat[feature_edges(mesh)], **lines)):
        axes.add_collection(drawn, autolim=False)
    places = pickup_places(model)
    axes.plot(1e3 * places[:, 0], 1e3 * places[:, 2], "D", color=TIED, markersize=6, label="pickup")
    x = np.concatenate([mesh.points[:, 0], places[:, 0]])
    z = np.concatenate([mesh.points[:, 2], places[:, 2]])
    room = 0.03 * float(np.ptp(x))
    bottom, top = float(z.min()) - room, float(z.max()) + 3 * room
    axes.set_ylim(1e3 * bottom, 1e3 * top)
    if len(places):
        axes.legend(loc="lower right", frameon=False, fontsize=8)
    return float(x.min()) - room, float(x.max()) + room, top - bottom


def _twist_words(torsion: Torsion) -> str:
    text = f"{three(torsion.pickup_to_pickup)} N·m/deg between pickups"
    text += f" (band {three(torsion.band.low)} to {three(torsion.band.high)})"
    if torsion.between_stations is not None:
        text += f"; {three(torsion.between_stations)} read on the tub itself"
    return f"{text}.  Torque {torsion.torque:g} N·m."


def _sheet(what: str, title: str) -> tuple[Figure, Axes, Axes]:
    """A page with headings, a caution at its foot, and axes for two views of the tub: from above and from below."""
    figure = Figure(figsize=(11.5, 7.2))
    FigureCanvasAgg(figure)
    above, below = figure.add_axes((0.02, 0.14, 0.68, 0.75)), figure.add_axes((0.66, 0.05, 0.33, 0.33))
    for axes in (above, below):
        axes.set_axis_off()
        axes.set_aspect("equal")
    figure.text(0.99, 0.04, "from the rear, right and below", fontsize=8, color=QUIET, ha="right", va="center")
    _headings(figure, what, title)
    return figure, above, below


def _headings(figure: Figure, what: str, title: str) -> None:
    figure.text(0.03, 0.955, what, fontsize=15, weight="bold", color=INK, va="center")
    figure.text(0.03, 0.915, title, fontsize=10, color=QUIET, va="center")
    figure.text(0.03, 0.018, CAUTION, fontsize=8, color=QUIET, va="center")


def _paint(
    axes: Axes,
    points: Floats,
    mesh: TubMesh,
    colours: Floats,
    *,
    lines: Sequence[tuple[Ints, str, float]],
    view: View,
    shade: float = 1.0,
) -> None:
    """Elements in `colours` (e, 3) and sets of line edges (nodes, colour, width), hidden parts left out or covered."""
    bare = (sight(mesh, view) if points is mesh.points else look_from(mesh, view, points)).bare
    quads = corners(mesh)[bare]
    light = 1.0 - shade * (1.0 - brightness(points, quads, view))
    touched = np.zeros(len(points), dtype=bool)
    touched[quads] = True
    lines = [(nodes[touched[nodes].all(axis=1)], colour, width) for nodes, colour, width in lines]
    edges = np.concatenate([nodes.reshape(-1, 2) for nodes, _, _ in lines])
    flat, _ = project(points, view)
    axes.update_datalim(flat)
    axes.autoscale_view()
    point = _inch(axes) / 72 * (1.0 if axes.get_position().width > 0.5 else 0.6)  # finer strokes in the small view
    widths = np.concatenate([np.full(len(nodes), width * point) for nodes, _, width in lines])
    drawing = arrange(points, quads, edges, widths, view)
    inks = [np.tile(to_rgb(colour), (len(nodes), 1)) for nodes, colour, _ in lines]
    faces = np.concatenate([colours[bare] * light[:, None], *inks])
    # Neighbours that share a side leave no gap between them while their sides are not smoothed; strokes are smooth.
    smooth, fills = drawing.source >= len(quads), faces[drawing.source]
    painted = PolyCollection(drawing.polygons, facecolors=fills, edgecolors="none", antialiaseds=smooth)
    axes.add_collection(painted, autolim=False)


def _inch(axes: Axes) -> float:
    """Metres on paper to an inch of the page, in a view of equal scales."""
    span = np.array([np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())])
    return float((span / (axes.get_position().size * axes.figure.get_size_inches())).max())


def _tint(index: int) -> tuple[float, float, float]:
    """The index-th fill; when all are used they come again, darker. The number on the part tells them apart."""
    rounds, k = divmod(index, len(FILLS))
    return tuple(np.array(to_rgb(FILLS[k])) * 0.78**rounds)


def _number(axes: Axes, seen: Sight, group: Ints, count: int, *, least: int) -> None:
    """Write the number of each group of elements (e,) deepest inside its largest part in sight, `least` pixels deep."""
    found = seen.middles(group, count, least=least)
    _flags(axes, np.array(list(found.values())).reshape(-1, 2), [f"{index + 1}" for index in found])


def _flag_places(axes: Axes, mesh: TubMesh, seen: Sight, places: Floats, moved: Floats) -> None:
    """Number places (n, 3) on a tub drawn at `moved` (p, 3); a dashed ring where another part stands before them."""
    nodes = [int(np.argmin(np.linalg.norm(mesh.points - place, axis=1))) for place in places]
    spots, _ = project(moved[nodes], seen.view)
    _flags(axes, spots, [f"{k + 1}" for k in range(len(places))], seen.hides(places, tolerance=1.5 * mesh.size))


def _flags(axes: Axes, spots: Floats, texts: Sequence[str], hidden: Sequence[bool] | None = None) -> None:
    """Texts in rings at spots (n, 2); one that would cover another stands beside its spot, tied to it by a line."""
    room = 0.2 * _inch(axes)  # a ring is a fifth of an inch wide
    turns = np.radians(np.arange(0, 360, 30))
    around = [np.zeros(2), *(r * room * np.array([np.cos(t), np.sin(t)]) for r in (1.1, 2.0, 3.0) for t in turns)]
    placed: list[Floats] = []
    for k, (spot, text) in enumerate(zip(spots, texts, strict=True)):
        free = (spot + step for step in around if all(np.linalg.norm(spot + step - p) > room for p in placed))
        at = next(free, spot)
        placed.append(at)
        if at is not spot and np.linalg.norm(at - spot) > 0:
            axes.plot(*np.stack([spot, at]).T, color=INK, linewidth=0.7, zorder=9)
        _flag(axes, at, text, hidden=hidden is not None and bool(hidden[k]))


def _flag(axes: Axes, spot: Floats, text: str, *, hidden: bool = False) -> None:
    box = {"boxstyle": "circle,pad=0.22", "facecolor": "white", "edgecolor": INK, "linewidth": 0.8}
    box |= {"linestyle": (0, (2, 1.5)), "alpha": 0.75} if hidden else {"alpha": 0.95}
    axes.text(*spot, text, ha="center", va="center", fontsize=8, color=INK, bbox=box, zorder=10)


def _mark_points(axes: Axes, model: TubModel, seen: Sight) -> list[Line2D]:
    """Mounts, pickups and what is between them, faint where another part stands before them; their legend entries."""
    entries = draw_tubes(axes, model, seen)
    mounts = np.array([mount.centre for mount in model.mesh.mounts]).reshape(-1, 3)
    for places, mark, colour, label in ((mounts, "o", PAPER, "mount"), (pickup_places(model), "D", TIED, "pickup")):
        style = {"marker": mark, "markerfacecolor": colour, "markeredgecolor": INK, "markersize": 6, "linestyle": ""}
        flat, _ = project(places, seen.view)
        hidden = seen.hides(places, tolerance=1.5 * model.mesh.size)
        for which, alpha in ((~hidden, 1.0), (hidden, 0.3)):
            axes.plot(flat[which, 0], flat[which, 1], zorder=9, alpha=alpha, **style)
        if len(places):
            entries.append(Line2D([], [], label=label, **style))
    return entries


def _legend(
    axes: Axes, entries: Sequence[Patch | Line2D], *, title: str | None = None, columns: int = 1, down: float = 0.0
) -> Legend:
    """A legend to the right of the axes, `down` from their top as a share of the page."""
    return axes.legend(
        handles=list(entries),
        title=title,
        loc="upper left",
        bbox_to_anchor=(0.705, 0.89 - down),
        bbox_transform=axes.figure.transFigure,
        frameon=False,
        ncols=columns,
        columnspacing=1.0,
        handlelength=1.6,
        fontsize=8,
        title_fontsize=8.5,
        alignment="left",
        borderaxespad=0.0,
        labelcolor=INK,
    )


def _colour_bar(figure: Figure, cmap: Colormap, norm: Normalize, label: str, extend: str = "neither") -> None:
    where = figure.add_axes((0.08, 0.095, 0.54, 0.02))
    mappable = ScalarMappable(norm=norm, cmap=cmap)
    options = {} if isinstance(norm, BoundaryNorm) else {"extend": extend}
    bar = figure.colorbar(mappable, cax=where, orientation="horizontal", **options)
    bar.set_label(label, fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=8.5)
    bar.outline.set_linewidth(0.5)


def _text_entries(lines: Sequence[str]) -> list[Line2D]:
    return [Line2D([], [], linestyle="", label="\n".join(wrap(line, 46, subsequent_indent="    "))) for line in lines]


def _title(model: TubModel, changes: Sequence[str]) -> str:
    """The case, its mesh size and what the command line changed."""
    return "   ·   ".join([model.case.title, f"mesh {1e3 * model.mesh.size:.3g} mm", *changes])
