"""The fibre family that a laminate round a bolt is judged by."""

from tubfem.case.schema import Case
from tubfem.materials import library


def fibre_family(case: Case, region: str) -> str:
    """The family of a region's plies if it has one only and all are cloths of the library, else ""."""
    families = set()
    for entry in case.layups[region].stack:
        if entry.thickness is None:
            table = case.plies[entry.name]
            families.add(library.fibre(table.fibre).family if table.is_cloth else "")
    return families.pop() if len(families) == 1 else ""
