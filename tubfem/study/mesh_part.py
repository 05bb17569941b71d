"""The mesh's part in the spread: from a refinement of the same case file, else from what the run says of itself."""

import json
from dataclasses import dataclass
from pathlib import Path

from tubfem.case.digest import case_digest
from tubfem.case.schema import Case
from tubfem.findings.results import Findings

REFINEMENT = "refine.json"


@dataclass(frozen=True, slots=True)
class MeshPart:
    """The true stiffness lies between `low` and `high`, as shares of the one found, anywhere alike; `words` say why."""

    low: float
    high: float
    words: str


def mesh_part(case: Case, findings: Findings, load_case: str, folder: Path | None) -> MeshPart:
    """What the mesh may do to the stiffness of a torsion load case."""
    refined = None if folder is None else _refined(folder / REFINEMENT, case, load_case)
    if refined is not None:
        return refined
    band = findings.load_cases[load_case].mesh.band
    words = f"up to {100 * band:.1f} % too stiff, estimated from one solution; tubfem refine finds out"
    return MeshPart(1 / (1 + band), 1.0, words)


def _refined(path: Path, case: Case, load_case: str) -> MeshPart | None:
    """From refine.json, if it was made from this very case file."""
    try:
        contents = json.loads(path.read_text(encoding="utf-8"))
        if case_digest(case) is None or contents["case"]["sha256"] != case_digest(case):
            return None
        own = contents["own"]
        (found,) = (q for q in contents["quantities"] if (q["load_case"], q["what"]) == (load_case, "stiffness"))
        same = abs(contents["meshes"][own]["size"] / case.mesh.size - 1) < 1e-6
        value, band, limit = found["values"][own], found["band"][own], found["extrapolated"]
    except (OSError, ValueError, KeyError, TypeError, IndexError):
        return None
    if not same:
        return None
    words = f"up to {100 * band:.1f} % by tubfem refine"
    if limit is None:
        return MeshPart(1 - band, 1 + band, f"{words}, either way")
    if limit < value:
        return MeshPart(1 - band, 1.0, f"{words}, too stiff")
    return MeshPart(1.0, 1 + band, f"{words}, too soft")
