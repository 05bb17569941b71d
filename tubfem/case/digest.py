"""A case file's fingerprint: whether a file beside the results was made from the same text."""

import hashlib
from pathlib import Path

from tubfem.case.schema import Case


def case_digest(case: Case) -> str | None:
    """SHA-256 of the case file followed by the files it includes; None for a case that was not read from a file."""
    path = Path(case.path)
    if not path.is_file():
        return None
    digest = hashlib.sha256(path.read_bytes())
    for name in case.include:
        digest.update((path.parent / name).read_bytes())
    return digest.hexdigest()
