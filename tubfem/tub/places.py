"""Where supports, forces and probes act: texts of the case as shell nodes, each with its share."""

from dataclasses import dataclass, field

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.frames import station_plane
from tubfem.case.schema import Case
from tubfem.case.targets import Target, read_target
from tubfem.errors import CaseError
from tubfem.geometry.mesh import TubMesh
from tubfem.tub.attachments import tributary_areas
from tubfem.tub.split import SplitMesh

ON_PLANE = 1e-4  # m: nodes this near a station lie on it


@dataclass(frozen=True, eq=False, slots=True)
class Places:
    """The tub as far as names in it can be found: nodes of mounts, pickups and tubes ("hoop.top.left")."""

    case: Case
    mesh: TubMesh
    split: SplitMesh
    mounts: dict[str, int]
    pickups: dict[str, int]
    tubes: dict[str, int] = field(default_factory=dict)

    def nodes(self, text: str, rigid: dict[str, int]) -> tuple[Ints, Floats]:
        """Shell nodes that a text names and their weights: 1 of a point, length [m] of an edge, area [m²] of a panel.

        All nodes that joints made of one mesh node are named together and share its weight.

        Raises
        ------
        CaseError
            Nothing of that name is in the mesh.
        """
        target = read_target(self.case, text, tuple(rigid))
        if target.kind == "rigid":
            return np.array([rigid[target.names[0]]]), np.ones(1)
        if target.kind in ("pickup", "mount", "node"):
            table = {"pickup": self.pickups, "mount": self.mounts, "node": self.tubes}[target.kind]
            found = np.array([node for node in _sided(table, target.names[0], target.side)], dtype=np.int64)
            return _found(text, found), np.ones(len(found))
        if target.kind == "panel":
            return self._panel(text, target)
        if target.kind == "station":
            return self._station(text, target)
        if target.kind == "edge":
            return self._edge(text, target)
        nodes = np.array(list(_sided(self.mesh.nodes_at, target.names[0], target.side)), dtype=np.int64)
        return self._shared(_found(text, nodes), np.ones(len(nodes)))

    def elements(self, text: str) -> Ints:
        """Elements of the panels that a text names."""
        target = read_target(self.case, text)
        named = [
            k
            for k, panel in enumerate(self.mesh.panels)
            if panel.plain in target.names or panel.plain.startswith(tuple(f"{name}." for name in target.names))
        ]
        if target.side is not None:
            whole, named = named, [k for k in named if self.mesh.panels[k].name.endswith(f".{target.side}")]
            if whole and not named:
                raise CaseError(
                    f'"{text}": it is one piece over the middle and has no {target.side} half; name it whole'
                )
        return _found(text, np.flatnonzero(np.isin(self.mesh.element_panel, named)))

    def _panel(self, text: str, target: Target) -> tuple[Ints, Floats]:
        return tributary_areas(self.mesh, self.split, self.elements(text))

    def _station(self, text: str, target: Target) -> tuple[Ints, Floats]:
        station = self.case.stations[target.names[0]]
        plane = station_plane(station.first, station.second)
        height = plane.height(self.mesh.points)
        used = np.unique(np.concatenate([block.conn.ravel() for block in self.mesh.blocks]))
        return self._lengths(text, used[np.abs(height[used]) < ON_PLANE])

    def _lengths(self, text: str, nodes: Ints) -> tuple[Ints, Floats]:
        """Nodes with the length of the mesh edges between them."""
        on = np.zeros(len(self.mesh.points), dtype=bool)
        on[_found(text, nodes)] = True
        pairs = [np.stack([b.conn, np.roll(b.conn, -1, axis=1)], -1).reshape(-1, 2) for b in self.mesh.blocks]
        edges = np.unique(np.sort(np.concatenate(pairs), axis=1), axis=0)
        edges = edges[on[edges].all(1)]
        return (
            self._shared(*_edge_weights(self.mesh.points, edges))
            if len(edges)
            else self._shared(nodes, np.ones(len(nodes)))
        )

    def _edge(self, text: str, target: Target) -> tuple[Ints, Floats]:
        edges = list(_sided(self.mesh.edges_at, "-".join(target.names), target.side))
        if not edges:
            raise CaseError(f'"{text}": no edge of the mesh lies there')
        return self._shared(*_edge_weights(self.mesh.points, np.concatenate(edges)))

    def _shared(self, nodes: Ints, weights: Floats) -> tuple[Ints, Floats]:
        """Shell nodes that stand on mesh nodes, sharing the weight of each."""
        weight = np.zeros(len(self.mesh.points))
        weight[nodes] = weights
        copies = np.bincount(self.split.mesh_node, minlength=len(weight))
        chosen = np.flatnonzero(np.isin(self.split.mesh_node, nodes))
        stands = self.split.mesh_node[chosen]
        return chosen, weight[stands] / copies[stands]


def _found(text: str, nodes: Ints) -> Ints:
    if not len(nodes):
        raise CaseError(f'"{text}": nothing of the mesh lies there')
    return nodes


def _sided(table: dict, name: str, side: str | None):
    """What a table holds under a name: both sides, or the one that is said."""
    suffixes = ("", ".left", ".right") if side is None else (f".{side}",)
    for suffix in suffixes:
        if name + suffix in table:
            yield table[name + suffix]


def _edge_weights(points: Floats, edges: Ints) -> tuple[Ints, Floats]:
    length = np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1)
    nodes, back = np.unique(edges, return_inverse=True)
    return nodes, np.bincount(back.ravel(), np.repeat(0.5 * length, 2))
