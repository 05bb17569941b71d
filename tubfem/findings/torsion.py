"""Torsional stiffness of a tub: axle against axle, station against station, and the twist curve between."""

from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.case.shapes import Station
from tubfem.findings.band import stiffness_band
from tubfem.findings.gauges import bays, place_gauges, rotation, softest
from tubfem.findings.results import Torsion
from tubfem.findings.words import torsion_sentences
from tubfem.geometry.mesh import TubMesh
from tubfem.tub.model import TorsionSetup


def axle_twist(points: Floats, motion: Floats, setup: TorsionSetup) -> float:
    """Relative rotation [rad] of the axle lines, front over rear, each from its pickups' vertical movement."""
    front, rear = rotation(points, motion, np.array([setup.front, setup.rear]))
    return float(front - rear)


def axle_stiffness(points: Floats, motion: Floats, setup: TorsionSetup) -> float:
    """Torque over the relative rotation of the axle lines [N·m/deg]."""
    return setup.torque / float(np.degrees(axle_twist(points, motion, setup)))


def read_torsion(
    points: Floats,
    motion: Floats,
    setup: TorsionSetup,
    mesh: TubMesh,
    stations: dict[str, Station],
    shares: dict[str, float],
    mesh_band: float,
    hub_work: float | None = None,
) -> Torsion:
    """A torsion load case read from the motion (p, 6) of the shell's points (p, 3).

    The twist curve starts at zero at the first gauge and rises towards the rear, front turning with the torque.
    Between stations the tub itself is read, at the gauges' x nearest the axles: what it twists less than the pickups
    is in mounts, subframes and the panels round them. `shares` and `mesh_band` are what the band is made of.
    `hub_work` [J] is force times motion of the couple at the hubs, with links that do not give: T / theta = T² / work.
    """
    gauges = place_gauges(mesh, stations)
    twist = axle_twist(points, motion, setup)
    at_gauges = rotation(points, motion, gauges.pairs)
    curve = np.degrees(at_gauges[:1] - at_gauges)
    stiffness = axle_stiffness(points, motion, setup)
    common = {
        "torque": setup.torque,
        "twist_deg": float(np.degrees(twist)),
        "pickup_to_pickup": stiffness,
        "hub_to_hub": None if hub_work is None else setup.torque**2 / float(np.degrees(hub_work)),
        "band": stiffness_band(stiffness, shares, mesh_band),
        "restraint": setup.restraint,
        "x": frozen(gauges.x),
        "curve_deg": frozen(curve),
        "gauges": frozen(gauges.pairs),
        "sentences": (),
    }
    if len(gauges.x) < 2:
        empty = {"between_stations": None, "stations_x": None, "bays": (), "softest": None}
        return Torsion(**common, **empty, front_share=None, rear_share=None)
    found = bays(gauges, curve, stations, mesh.size)
    axles = points[np.array([setup.front, setup.rear]), 0].mean(axis=1)
    x = np.clip(axles, gauges.x[0], gauges.x[-1])
    front, rear = np.interp(x, gauges.x, at_gauges)
    ends = rotation(points, motion, np.array([setup.front, setup.rear]))
    torsion = Torsion(
        **common,
        between_stations=float(setup.torque / np.degrees(front - rear)),
        stations_x=(float(x[0]), float(x[1])),
        bays=found,
        softest=softest(found),
        front_share=float((ends[0] - front) / twist),
        rear_share=float((rear - ends[1]) / twist),
    )
    return replace(torsion, sentences=torsion_sentences(torsion))
