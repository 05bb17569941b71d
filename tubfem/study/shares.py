"""Where the twist of a changed tub is: shares of its strain energy, by the reduced model."""

from collections.abc import Mapping

import numpy as np

from tubfem.arrays import Floats
from tubfem.study.reduced import coefficients
from tubfem.study.store import Ready


def energy_shares(tub: Ready, b: Floats, change: Mapping[int, Floats]) -> dict[tuple[str, str], float]:
    """Share of the strain energy, which is the share of the twist, by (kind, name) of the groups."""
    rows, columns = np.tril_indices(len(b))
    packed = (b[rows] * b[columns] * np.where(rows == columns, 1.0, 2.0)).astype(np.float32)
    total = float(tub.reduced.load @ b)
    found: dict[tuple[str, str], float] = {}
    for k, group in enumerate(tub.family.groups):
        C = group.C + change.get(k, np.zeros((len(group.C), len(group.C))))
        energy = float(coefficients(C) @ (tub.reduced.groups[k].P @ packed))
        found[group.kind, group.name] = found.get((group.kind, group.name), 0.0) + energy / total
    return found
