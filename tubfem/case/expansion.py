"""A case's sheets as measured and as meshed, and what is looked up on them."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.plain import Face
from tubfem.case.schema import Case
from tubfem.case.skeleton import Sheet, State, label
from tubfem.case.surfaces import Surface, edge_points, segment_distance
from tubfem.case.tape import Tape


@dataclass(frozen=True, eq=False, slots=True)
class Border:
    """The free border of a sheet: straight bits (n, 3) [m] and what each one's edge is called."""

    starts: Floats
    ends: Floats
    names: tuple[str, ...]

    def nearest(self, points: Floats) -> tuple[float, str]:
        """Least distance [m] of points (m, 3) from the border, and the edge there."""
        gaps = np.array([segment_distance(self.starts, self.ends, point) for point in points])
        return float(gaps.min()), self.names[int(gaps.min(axis=0).argmin())]


@dataclass(frozen=True, eq=False, slots=True)
class Expansion:
    """A case's sheets, by name, and where their vertices are as measured and as meshed.

    surfaces: as measured and as meshed. normals: unit normals (patch, 3) from the tool face into the laminate.
    tapes: as measured and as meshed; None where two numbers mean nothing. shift: of the mesh from the tool face [m].
    """

    case: Case
    measured: State
    meshed: State
    sheets: Mapping[str, Sheet]
    surfaces: Mapping[str, tuple[Surface, Surface]]
    normals: Mapping[str, Floats]
    tapes: Mapping[str, tuple[Tape, Tape] | None]
    borders: Mapping[str, Border]
    shift: Mapping[str, float]
    notes: tuple[str, ...]


def border(state: State, sheet: Sheet, faces: tuple[Face, ...]) -> Border:
    """The border of a sheet without the seams between its patches and without the middle of a panel over it."""
    bits: dict[tuple, list[tuple[Floats, str]]] = {}
    for patch, face in zip(sheet.patches, faces, strict=True):
        drawn = {edge.points: edge for edge in face.edges}
        for _, vertices in patch:
            edge = drawn.get(tuple(tuple(float(x) for x in state.locate(vertex)) for vertex in vertices))
            if edge is not None:
                chain = edge_points(edge)
                key = (*sorted(tuple(np.round(chain[i], 7)) for i in (0, -1)), tuple(np.round(chain.mean(axis=0), 7)))
                bits.setdefault(key, []).append((chain, label(vertices[0], state)))
    starts, ends, names = [], [], []
    for found in bits.values():
        chain, name = found[0]
        if len(found) > 1 or (sheet.side == "across" and np.abs(chain[:, 1]).max() < 1e-7):
            continue
        starts += list(chain[:-1])
        ends += list(chain[1:])
        names += [name] * (len(chain) - 1)
    return Border(np.array(starts), np.array(ends), tuple(names))
