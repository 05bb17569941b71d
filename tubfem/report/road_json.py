"""Wheel loads and forces in suspension members as results.json holds them."""

from typing import Any

from tubfem.tub.model import RoadLoads


def road_entries(road: RoadLoads | None) -> dict[str, Any]:
    """Keys of a load case: `wheel_loads`, `link_forces`, `ball_forces`, `pickup_forces` [N], `car`; empty if none."""
    if road is None:
        return {"wheel_loads": {}, "link_forces": {}, "ball_forces": {}, "pickup_forces": {}, "car": None}
    return {
        "wheel_loads": road.wheels,
        "link_forces": road.members,
        "ball_forces": road.balls,
        "pickup_forces": road.pickups,
        "car": {
            "mass": road.mass,
            "centre": road.centre,
            "felt_g": road.felt[:3],
            "turning_rad_s2": road.felt[3:],
            "pull": road.pull,
            "factors": [{"name": f.name, "value": f.value, "source": f.source} for f in road.factors],
        },
    }
