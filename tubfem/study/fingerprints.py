"""What tells whether something kept on disk is still of the same case, made by the same program."""

import hashlib
from functools import cache
from pathlib import Path

from tubfem.case.schema import Case

DATA = (".py", ".toml")  # of the package: what results come from


def case_key(case: Case) -> str:
    """Everything a case says, whatever its file is called and however it is written."""
    return case.model_dump_json(exclude={"lines", "path", "cautions"})


def fingerprint(*parts: str | bytes) -> str:
    """SHA-256 of texts and bytes, one after the other."""
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()


@cache
def code_key() -> str:
    """The program as it stands on disk, so that another version takes nothing up that this one has left."""
    root = Path(__file__).parents[1]
    files = sorted(path for path in root.rglob("*") if path.suffix in DATA)
    return fingerprint(*(part for path in files for part in (path.relative_to(root).as_posix(), path.read_bytes())))
