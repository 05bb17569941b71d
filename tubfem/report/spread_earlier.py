"""spread.json of an earlier study; a module of its own, since a run reads it and should not load what draws."""

import json
from pathlib import Path
from typing import Any

from tubfem.case.digest import case_digest
from tubfem.case.schema import Case
from tubfem.report.schemas import SCHEMAS

SCHEMA = SCHEMAS["spread"]
FILE = "spread.json"


def read_spread(out: Path, case: Case) -> dict[str, Any] | None:
    """What spread.json in `out` holds; None if there is none, or it was made from another text of the case."""
    try:
        found = json.loads((out / FILE).read_text(encoding="utf-8"))
        same = found["schema"] == SCHEMA and found["case"]["sha256"] == case_digest(case) is not None
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return found if same else None
