"""docs/verification.md and its plots, from the records of a test run."""

from itertools import groupby

import numpy as np

PLOTS = "verification"
# Heading, what the family says to a user, and its modules in order.
FAMILIES = (
    (
        "Laminates",
        "What a stack of plies is worth: stiffness A, B, D, transverse shear, strains and stresses in every ply, "
        "failure. All of it is algebra, so the numbers agree to the digits that the sources print.",
        (
            "test_nasa_rp1351",
            "test_kaw",
            "test_tsai_hahn",
            "test_mallick_daniel",
            "test_antisymmetric_laminates",
            "test_hashin_tsai_wu",
            "test_transverse_shear",
            "test_composites_library",
        ),
    ),
    (
        "Elements",
        "Beams, plates and shells that have caught weak elements for forty years: in-plane bending, warping, "
        "curvature, thin limits, distorted meshes.",
        (
            "test_macneal_harder",
            "test_thin_plates",
            "test_waves",
            "test_obstacle_course",
            "test_nafems",
            "test_element_quality",
        ),
    ),
    (
        "Laminated and sandwich panels",
        "Bending of panels whose plies couple stretch with bending or whose core shears: the panels of a tub.",
        ("test_pagano", "test_laminated_shells", "test_sandwich_beams"),
    ),
    (
        "Torsion",
        "Closed, slit, open and many-celled sections, cut-outs and holes, and a simplified tub: how a tub carries "
        "its main load.",
        (
            "test_box_torsion",
            "test_box_and_channel",
            "test_sandwich_boxes",
            "test_box_with_cut_out",
            "test_open_holes",
            "test_multi_cell",
            "test_tapered_tubes",
            "test_megson",
            "test_simplified_tub",
        ),
    ),
    (
        "Buckling and vibration",
        "When panels begin to ripple, and at which frequencies they and a tube vibrate.",
        (
            "test_plate_buckling",
            "test_plate_vibration",
            "test_anisotropic_plates",
            "test_stiffened_plate_and_box_beam",
        ),
    ),
    (
        "Joints and frames",
        "Bond lines, fillets, bolts and inserts, frames whose corners give, and frames of tubes.",
        ("test_bonded_laps", "test_fillets", "test_joined_frames", "test_space_frames"),
    ),
    (
        "Against independent libraries",
        "The same structure computed by somebody else's code: solids, cross-sections and another shell element.",
        (
            "test_scikit_fem_solids",
            "test_foam_box",
            "test_section_properties",
            "test_laminated_sections",
            "test_second_shell_library",
        ),
    ),
    (
        "Convergence",
        "How fast the error falls when the mesh is refined. Order 2: a quarter of the error on half the size.",
        ("test_convergence", "test_celik"),
    ),
)
HEAD = """# How far the numbers can be trusted

Every line below is a problem whose answer is known from a publication, a closed formula, or an independent computation,
solved by tubfem in its test suite. This page is written by that run (see DEVELOPERS.md), so it cannot say anything
else than what the tests found.

It is about the arithmetic: whether the equations of laminated shells are solved rightly, and how much a mesh takes
away. It says nothing about whether your laminate is what the case file says, which is usually the larger error.

"Error" is ours against the reference; "asked" is the accuracy that the case is held to at that mesh. A reference marked
*from memory* was recalled and then reproduced independently.
"""


def write_page(docs, entries):
    """Write the page and its plots into the folder `docs`.

    A record of no family and a family's module without a record are errors: a page of half a run would mislead.
    """
    mutations = [entry for entry in entries if "mutation" in entry]
    found = {entry["module"] for entry in entries if "mutation" not in entry}
    known = [module for _, _, modules in FAMILIES for module in modules]
    if found != set(known) or not mutations:
        raise ValueError(
            "the page needs every verification test and the mutations in one run; "
            f"not run: {sorted(set(known) - found)}; of no family here: {sorted(found - set(known))}"
        )
    # In a distributed run they arrive in any order.
    numbers = [entry for entry in entries if "mutation" not in entry]
    numbers.sort(key=lambda e: (known.index(e["module"]), e["line"], e["node"]))
    mutations.sort(key=lambda e: e["node"])
    (docs / PLOTS).mkdir(exist_ok=True)
    lines = [HEAD, *_summary(numbers), *_weak(numbers)]
    for heading, says, modules in FAMILIES:
        mine = [entry for entry in numbers if entry["module"] in modules]
        lines += ["", f"## {heading}", "", says, "", *_overview(mine), *_plots(docs, heading, mine)]
    lines += _mutations(mutations)
    lines += ["", "## Every number", "", *_numbers(numbers)]
    (docs / "verification.md").write_text("\n".join(lines) + "\n")


def _summary(numbers):
    count = sum(entry["count"] for entry in numbers)
    within = sum(entry["count"] for entry in numbers if _within(entry))
    cases = len({(entry["module"], entry["test"]) for entry in numbers})
    return [f"{count} numbers of {cases} cases; {within} are within what is asked.", ""]


def _within(entry):
    return abs(entry["error"]) <= entry["asked"] * (1 + 1e-9)


def _weak(numbers):
    weak = [entry for entry in numbers if not _within(entry)]
    lines = ["## Where it is weak", ""]
    if not weak:
        return [*lines, "Nothing in this run is outside what is asked of it.", ""]
    lines += ["Outside what is asked; of several for one reason in one test the worst:", ""]
    lines += ["| case | error % | asked % | why |", "|---|---:|---:|---|"]
    for _, alike in groupby(weak, key=lambda e: (e["module"], e["test"], e["why"])):
        alike = list(alike)
        worst = max(alike, key=lambda e: abs(e["error"]) / e["asked"])
        more = f" (worst of {len(alike)})" if len(alike) > 1 else ""
        row = (_name(worst) + more, _percent(worst["error"]), _percent(worst["asked"]), _safe(worst["why"]))
        lines.append("| " + " | ".join(row) + " |")
    return lines


def _overview(mine):
    lines = []
    for _, module in groupby(mine, key=lambda e: e["module"]):
        module = list(module)
        lines += [f"**{_safe(module[0]['source'])}**", ""]
        lines += ["| what it shows | numbers | worst error % | asked % |", "|---|---:|---:|---:|"]
        for _, test in groupby(module, key=lambda e: e["test"]):
            test = list(test)
            worst = max(test, key=lambda e: abs(e["error"]) / max(e["asked"], 1e-300))
            count = sum(e["count"] for e in test)
            row = (_safe(worst["shows"]), str(count), _percent(worst["error"]), _percent(worst["asked"]))
            lines.append("| " + " | ".join(row) + " |")
        lines.append("")
    return lines


def _numbers(numbers):
    lines = ["| quantity | reference | ours | error % | asked % |", "|---|---:|---:|---:|---:|"]
    for e in numbers:
        values = f"{e['reference']:.6g} | {e['ours']:.6g} | {_percent(e['error'])} | {_percent(e['asked'])}"
        lines.append(f"| {_name(e)} | {values} |")
    return lines


def _name(entry):
    mesh = f", {entry['mesh']}" if entry["mesh"] else ""
    count = f" (worst of {entry['count']})" if entry["count"] > 1 else ""
    return _safe(entry["quantity"] + mesh + count)


def _mutations(mutations):
    if not mutations:
        return []
    lines = ["", "## Mistakes that would be caught", ""]
    lines += [
        "A suite that passes says something only if it fails when the code is wrong. Each mistake below was planted, "
        "and the test named beside it, computed anew with the mistake, left its tolerance.",
        "",
        "| planted mistake | test that fails, and where | off by, in tolerances |",
        "|---|---|---:|",
    ]
    lines += [f"| {e['mutation']} | {e['check']} | {e['off']:.0f} |" for e in mutations]
    return lines


def _plots(docs, heading, mine):
    curves = {}
    for e in mine:
        if e["series"] is not None:
            curves.setdefault(e["series"], []).append((e["size"], abs(e["error"])))
    if not curves:
        return []
    name = f"{heading.lower().replace(' ', '_')}.png"
    _plot(docs / PLOTS / name, curves)
    return ["", f"![Error against element size: {heading}]({PLOTS}/{name})"]


def _plot(path, curves):
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt
    from matplotlib.ticker import FixedLocator, NullFormatter, StrMethodFormatter

    figure, axes = plt.subplots(figsize=(8, 5), layout="constrained")
    colours = plt.get_cmap("viridis")(np.linspace(0, 0.9, len(curves)))
    markers = "osd^v<>Pp*hX"
    for k, (name, points) in enumerate(curves.items()):
        size, error = np.array(sorted(points)).T
        axes.loglog(size, np.maximum(error, 1e-4), marker=markers[k % len(markers)], ms=4, color=colours[k], label=name)
    low, high = axes.get_xlim()
    guide = np.array([high / 8, high / 1.5])
    axes.loglog(guide, 5 * (guide / guide[1]) ** 2, color="0.6", ls="--", label="order 2")
    axes.xaxis.set_major_locator(FixedLocator([0.005, 0.01, 0.02, 0.05, 0.1, 0.2]))
    axes.xaxis.set_minor_formatter(NullFormatter())
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(StrMethodFormatter("{x:g}"))
    axes.set(xlabel="element size over the size of the structure", ylabel="error, %", xlim=(low, high))
    axes.grid(which="both", alpha=0.25)
    axes.legend(fontsize=7, loc="center left", bbox_to_anchor=(1, 0.5))
    figure.savefig(path, dpi=110, metadata={"Software": None})
    plt.close(figure)


def _percent(value):
    if value == 0:
        return "0"
    return f"{value:.2f}" if abs(value) >= 0.005 else f"{value:.0e}"


def _safe(text):
    return str(text).replace("|", "\\|")
