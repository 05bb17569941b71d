"""Rims of openings as results.json has them."""

from typing import Any

from tubfem.findings.rim_results import OpeningFindings


def opening_entry(opening: OpeningFindings) -> dict[str, Any]:
    """One opening in one load case; `margin` and `checks` at the load that margins are for."""
    plies = opening.doubler
    return {
        "region": opening.region,
        "panel": opening.panel,
        "margin": opening.margin,
        "strain_rim": opening.strain_rim,
        "strain_round": opening.strain_round,
        "reach": opening.reach,
        "note": opening.note or None,
        "checks": [
            {
                "kind": check.kind,
                "criterion": check.criterion,
                "distance": check.distance,
                "margin": check.margin,
                "mode": check.mode,
                "ply": check.ply,
                "face": check.face,
                "demand": check.demand,
                "allowable": check.allowable,
                "unit": check.unit,
                "sign": check.sign,
                "position": check.position,
            }
            for check in opening.checks
        ],
        "instead": opening.instead and {"change": opening.instead[0], "margin": opening.instead[1]},
        "doubler": plies and {"words": plies.words, "text": plies.text, "margin": plies.margin, "mass": plies.mass},
    }
