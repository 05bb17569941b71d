"""Edges of cores for results.json."""

from typing import Any

from tubfem.findings.core_edge_results import CoreEdge


def core_edge_entry(edge: CoreEdge) -> dict[str, Any]:
    """The worst place of one line, at the load that margins are for."""
    return {
        "region": edge.region,
        "panel": edge.panel,
        "position": edge.position,
        "where": edge.where,
        "skin_force": edge.force,
        "chamfer": edge.chamfer,
        "peel": edge.demand,
        "allowable": edge.allowable,
        "margin": edge.margin,
        "weak_estimate": True,
        "test_needed": edge.test_needed,
    }
