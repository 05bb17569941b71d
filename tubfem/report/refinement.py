"""refine.json and refine.png: a case on several meshes."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from tubfem.arrays import Floats
from tubfem.case.digest import case_digest
from tubfem.report.figures import CAUTION, INK, QUIET
from tubfem.report.json_file import plain
from tubfem.report.numbers import three
from tubfem.report.schemas import SCHEMAS
from tubfem.report.study_files import write_study
from tubfem.study.refine import USE, Refinement

MARGINS_SHOWN = 8


def write_refinement(out: Path, refinement: Refinement, *, version: str) -> tuple[str, ...]:
    """Write both files into `out`; other files there stay. Returns their names."""
    found = refinement_contents(refinement, version)
    return write_study(out, "refine", found, refinement_figure(found))


def refinement_contents(refinement: Refinement, version: str) -> dict[str, Any]:
    """Everything of a refinement, ready for JSON; meshes and values run from the finest."""
    meshes = zip(refinement.meshes, refinement.seconds, strict=True)
    return plain(
        {
            "schema": SCHEMAS["refine"],
            "tubfem_version": version,
            "case": {
                "title": refinement.case.title,
                "path": refinement.case.path,
                "sha256": case_digest(refinement.case),
            },
            "meshes": [
                {
                    "size": mesh.size,
                    "nodes": mesh.nodes,
                    "elements": mesh.elements,
                    "freedoms": mesh.freedoms,
                    "seconds": seconds,
                }
                for mesh, seconds in meshes
            ],
            "own": refinement.own,
            "band": refinement.band,
            "quantities": [
                {
                    "load_case": quantity.load_case,
                    "what": quantity.what,
                    "region": quantity.region,
                    "values": quantity.convergence.values.tolist(),
                    "modes": quantity.modes,
                    "kind": quantity.convergence.kind,
                    "order": quantity.convergence.order,
                    "order_used": quantity.convergence.order_used,
                    "extrapolated": quantity.convergence.extrapolated,
                    "band": quantity.convergence.band.tolist(),
                    "size_for_one_percent": quantity.convergence.size_for_one_percent,
                }
                for quantity in refinement.quantities
            ],
            "single_run_bands": refinement.estimates,
            "warnings": refinement.warnings,
            "left_out": refinement.left_out,
        }
    )


def refinement_figure(found: Mapping[str, Any]) -> Figure:
    """Stiffness of refine.json against mesh size with its band, and beside it use of the most used regions."""
    sizes = np.array([mesh["size"] for mesh in found["meshes"]])
    figure = Figure(figsize=(11.5, 6.2))
    FigureCanvasAgg(figure)
    left, right = figure.subplots(1, 2, gridspec_kw={"left": 0.08, "right": 0.98, "bottom": 0.13, "top": 0.84})
    figure.text(0.03, 0.95, "What the mesh does", fontsize=15, weight="bold", color=INK, va="center")
    figure.text(0.03, 0.905, found["case"]["title"], fontsize=10, color=QUIET, va="center")
    figure.text(0.03, 0.018, CAUTION, fontsize=8, color=QUIET, va="center")
    stiff = [quantity for quantity in found["quantities"] if quantity["what"] != USE]
    for k, quantity in enumerate(stiff):
        _curve(left, quantity, sizes, f"C{k}", relative=len(stiff) > 1)
    left.set_ylabel("part of the value on the finest mesh" if len(stiff) > 1 else stiff[0]["what"])
    used = [quantity for quantity in found["quantities"] if quantity["what"] == USE]
    used.sort(key=lambda quantity: -quantity["values"][0])
    for quantity in used[:MARGINS_SHOWN]:
        right.plot(1e3 * sizes, quantity["values"], marker="o", markersize=4, label=quantity["region"])
    right.set_ylabel("demand over allowable, 1 / (1 + lowest margin)")
    for axes in (left, right):
        axes.set_xlim(left=0.0)
        axes.set_xlabel("mesh size, mm")
        axes.grid(color="#e4e4e4", linewidth=0.8)
        for spine in ("top", "right"):
            axes.spines[spine].set_visible(False)
        if axes.lines:
            axes.legend(frameon=False, fontsize=8.5, labelcolor=INK)
    right.set_ylim(bottom=0.0)
    return figure


def _curve(axes: Axes, quantity: Mapping[str, Any], sizes: Floats, colour: str, *, relative: bool) -> None:
    values, order, extrapolated = np.array(quantity["values"]), quantity["order_used"], quantity["extrapolated"]
    unit, h = float(values[0]) if relative else 1.0, 1e3 * sizes
    label = f"{quantity['load_case']}, {quantity['what']}"
    if extrapolated is not None:
        label += f": {three(extrapolated)} at size nought"
    error = np.array(quantity["band"]) * values / unit
    axes.errorbar(h, values / unit, yerr=error, color=colour, fmt="o", markersize=5, capsize=3, label=label)
    if extrapolated is not None and order is not None:
        fine = np.linspace(0, h[-1], 60)
        slope = float((values - extrapolated) @ h**order) / float((h ** (2 * order)).sum())
        axes.plot(fine, (extrapolated + slope * fine**order) / unit, color=colour, linewidth=1.2)
