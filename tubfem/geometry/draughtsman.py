"""OCC points, curves and faces from edges and loops; `model` is gmsh's, opened by `mesher.gmsh_model`."""

from dataclasses import dataclass
from typing import Any

from tubfem.case.plain import Edge
from tubfem.geometry.curves import Loop, canonical_edge, plane_of, sample_loop

Sides = frozenset[str]  # the sides of the tub on which a piece of the half exists: "right", "left" or both


@dataclass(frozen=True, slots=True)
class Piece:
    """A face of the OCC model: its tag, its part's index and the sides it exists on."""

    tag: int
    part: int
    sides: Sides


class Draughtsman:
    """Makes OCC points, curves and faces, the same coordinates always giving the same tag."""

    def __init__(self, model: Any) -> None:
        self.occ = model.occ
        self._points: dict[tuple[float, ...], int] = {}
        self._curves: dict[Edge, int] = {}

    def point(self, at: tuple[float, ...]) -> int:
        """Tag of the point at these coordinates."""
        at = tuple(float(c) for c in at)
        if at not in self._points:
            self._points[at] = self.occ.addPoint(*at)
        return self._points[at]

    def curve(self, edge: Edge) -> int:
        """Tag of the curve, whichever way it was run."""
        edge = canonical_edge(edge)
        if edge not in self._curves:
            tags = [self.point(p) for p in edge.points]
            if edge.kind == "line":
                tag = self.occ.addLine(*tags)
            elif edge.kind == "arc":
                tag = self.occ.addCircleArc(tags[0], tags[1], tags[2], center=False)
            else:
                tag = self.occ.addSpline(tags)
            self._curves[edge] = tag
        return self._curves[edge]

    def face(self, loop: Loop) -> int:
        """Tag of the face inside a loop: plane, straight-lined between four edges, or filled."""
        tags = [self.curve(edge) for edge in loop]
        if plane_of(sample_loop(loop))[2] < 1e-7:  # what OCC takes for a plane
            return self.occ.addPlaneSurface([self.occ.addCurveLoop(tags)])
        if len(loop) in (3, 4):
            return self.occ.addBSplineFilling(self.occ.addWire(tags), type="Stretch")
        return self.occ.addSurfaceFilling(self.occ.addCurveLoop(tags))

    def forget(self) -> None:
        """Start afresh: tags made so far may have been consumed by a boolean operation."""
        self._points.clear()
        self._curves.clear()
