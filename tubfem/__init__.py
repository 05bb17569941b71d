"""Torsional stiffness and ply margins of hand-laminated composite monocoque tubs."""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_PUBLIC = {  # name: its module; imported when first asked for, so that `tubfem --help` comes at once
    "Case": "tubfem.case.schema",
    "CaseError": "tubfem.errors",
    "Findings": "tubfem.findings.results",
    "MeshError": "tubfem.errors",
    "PlainTub": "tubfem.case.plain",
    "SolveError": "tubfem.errors",
    "Solution": "tubfem.shell.solve",
    "TubMesh": "tubfem.geometry.mesh",
    "TubModel": "tubfem.tub.model",
    "TubfemError": "tubfem.errors",
    "base_thickness": "tubfem.tub.plies",
    "build_model": "tubfem.tub.build",
    "change_case": "tubfem.run",
    "find": "tubfem.findings.collect",
    "lay_plies": "tubfem.tub.layup",
    "load_case": "tubfem.case.read",
    "mesh_tub": "tubfem.geometry.mesher",
    "plain_tub": "tubfem.case.sections",
    "model_case": "tubfem.run",
    "run_case": "tubfem.run",
    "solve": "tubfem.shell.solve",
    "write_results": "tubfem.report.files",
}

__all__ = ["__version__", *_PUBLIC]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'tubfem' has no attribute '{name}'")
    return getattr(import_module(_PUBLIC[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
