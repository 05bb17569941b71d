"""results.json: findings under stable keys, SI units, angles in degrees and stiffness in N m/deg where the key says."""

import json
import math
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tubfem.case.digest import case_digest
from tubfem.findings.envelope import envelope
from tubfem.findings.gain import Gain
from tubfem.findings.hand_results import HandCheck
from tubfem.findings.results import Findings, LoadCaseFindings, Torsion, Verdict, Worst
from tubfem.report.cautions import STANDING, own_cautions
from tubfem.report.core_edges_files import core_edge_entry
from tubfem.report.joints_json import connection_entry, hard_point_entry, joint_entry, twist_entries
from tubfem.report.openings_json import opening_entry
from tubfem.report.road_json import road_entries
from tubfem.report.stability_json import buckling_entry, modes_entry
from tubfem.report.tubes_files import frame_entries
from tubfem.tub.model import TubModel

SCHEMA = 1


def results(
    model: TubModel, findings: Findings, timings: Mapping[str, float], version: str, changes: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Everything found, ready for JSON; what has no number (an unlimited margin) is None.

    Parameters
    ----------
    timings : seconds by stage
    version : of tubfem
    changes : what the command line asked on top of the case file, as typed
    """
    return plain(
        {
            **_case(model, version, changes),
            "mesh": {
                "nodes": findings.mesh.nodes,
                "elements": findings.mesh.elements,
                "freedoms": findings.mesh.freedoms,
                "size": findings.mesh.size,
            },
            "mass": {
                "total": findings.mass.total,
                "centre_of_gravity": findings.mass.centre_of_gravity,
                "regions": findings.mass.regions,
                "frames": findings.mass.frames,
                "joints": {name: asdict(found) for name, found in findings.mass.joints.items()},
            },
            "cautions": (*STANDING, *own_cautions(model, findings)),
            "notes": (*model.notes, *findings.notes),
            "sentences": findings.sentences,
            "gains": {gain.load_case: _gain(gain) for gain in findings.gains},
            "factors": [
                {"kind": f.kind, "name": f.name, "value": f.value, "modes": f.modes, "why": f.why, "source": f.source}
                for f in findings.factors
            ],
            "verdicts": [_verdict(verdict) for verdict in findings.verdicts],
            "envelope": [asdict(one) for one in envelope(findings.load_cases)],
            "load_cases": {name: _load_case(found) for name, found in findings.load_cases.items()},
            "modes": modes_entry(findings.modes),
            "heat": None if findings.heat is None else asdict(findings.heat),
            "fields": {"region": findings.regions, "panel": [panel.name for panel in model.mesh.panels]},
            "timings": dict(timings),
        }
    )


def about(model: TubModel, version: str, changes: tuple[str, ...] = ()) -> dict[str, Any]:
    """What is known of a case before it is solved, under the keys of `results`."""
    cautions = dict.fromkeys((*STANDING, *model.case.cautions, *model.cautions))
    return plain({**_case(model, version, changes), "cautions": tuple(cautions), "notes": model.notes})


def _case(model: TubModel, version: str, changes: tuple[str, ...]) -> dict[str, Any]:
    case = model.case
    about_it = {"title": case.title, "path": case.path, "sha256": case_digest(case), "changes": list(changes)}
    return {"schema": SCHEMA, "tubfem_version": version, "case": about_it}


def write_json(path: Path, contents: Mapping[str, Any]) -> None:
    """Write as readable JSON; a number that is not finite is an error, never a word that JSON does not know."""
    path.write_text(_text(contents, "\n") + "\n", encoding="utf-8")


def _text(value: Any, line: str) -> str:
    """JSON, every entry on a line of its own, but numbers of one list in one; `line` begins the line it stands in."""
    inner = line + " "
    if isinstance(value, Mapping) and value:
        return f"{{{','.join(f'{inner}{_flat(key)}: {_text(item, inner)}' for key, item in value.items())}{line}}}"
    if isinstance(value, list | tuple) and any(isinstance(item, str | Mapping | list | tuple) for item in value):
        return f"[{','.join(f'{inner}{_text(item, inner)}' for item in value)}{line}]"
    return _flat(value)


def _flat(value: Any) -> str:
    return json.dumps(value, allow_nan=False, ensure_ascii=False)


def _gain(gain: Gain) -> dict[str, Any]:
    return {
        "stiffness_before_Nm_per_deg": gain.stiffness_before,
        "stiffness_Nm_per_deg": gain.stiffness,
        "gain_Nm_per_deg": gain.gain_Nm_per_deg,
        "gain_percent": gain.gain_percent,
        "mass_before": gain.mass_before,
        "mass": gain.mass,
        "gain_per_kg": gain.gain_per_kg,
        "worst_margin_before": gain.worst_margin_before,
        "worst_region_before": gain.worst_region_before,
        "worst_margin": gain.worst_margin,
        "worst_region": gain.worst_region,
        "others": {
            each.what: {
                "margin_before": each.before,
                "name_before": each.name_before,
                "margin": each.now,
                "name": each.name,
            }
            for each in gain.others
        },
    }


def _load_case(found: LoadCaseFindings) -> dict[str, Any]:
    return {
        "kind": found.kind,
        "margin_scale": found.margin_scale,
        "torsion": None if found.torsion is None else _torsion(found.torsion),
        "probes": {name: {"displacement": list(motion)} for name, motion in found.probes.items()},
        "checks": {check.name: check.value for check in found.checks},
        "check_limits": {check.name: check.limit for check in found.checks},
        "buckling": buckling_entry(found.buckling),
        "regions": {
            name: {
                "mass": region.mass,
                "area": region.area,
                "strain_energy_share": region.strain_energy_share,
                "worst_first_damage": _worst(region.worst_first_damage),
                "worst_fibre": _worst(region.worst_fibre),
                "worst_interlaminar": _worst(region.worst_interlaminar),
                "worst_core": _worst(region.worst_core),
                "worst": _worst(region.worst),
                "core": [_worst(worst) for worst in region.core],
            }
            for name, region in found.regions.items()
        },
        "joints": {name: joint_entry(joint) for name, joint in found.joints.items()},
        "hard_points": {name: hard_point_entry(point) for name, point in found.hard_points.items()},
        "connections": {name: connection_entry(each) for name, each in found.connections.items()},
        **{family: frame_entries(found.frames, family) for family in ("subframes", "stiffeners")},
        "core_edges": {name: core_edge_entry(each) for name, each in found.core_edges.items()},
        "openings": {name: opening_entry(each) for name, each in found.openings.items()},
        **road_entries(found.road),
        "twist_shares": twist_entries(found.energy),
        "hot_spots": [
            {
                "position": spot.position,
                "region": spot.region,
                "panel": spot.panel,
                "joint": spot.joint,
                "joint_distance": spot.joint_distance,
                "mount": spot.mount,
                "both_sides": spot.both_sides,
                "strain_averaged": spot.strain_averaged,
                "strain_peak": spot.strain_peak,
                "length": spot.length,
                "margin": spot.margin,
            }
            for spot in found.hot_spots
        ],
        "energy": {
            "total": found.energy.total,
            "regions": found.energy.regions,
            "joints": found.energy.joints,
            "mounts": found.energy.mounts,
            "attachments": found.energy.attachments,
            "foams": found.energy.foams,
            "frames": found.energy.frames,
            "drilling": found.energy.drilling,
        },
        "mesh": {"error": found.mesh.error, "band": found.mesh.band, "regions": found.mesh.regions},
    }


def _hand_check(check: HandCheck) -> dict[str, Any]:
    return {
        "stiffness_Nm_per_deg": check.stiffness,
        "twist_deg": check.twist_deg,
        "finite_element_Nm_per_deg": check.finite_element,
        "ratio": check.ratio,
        "openings": check.openings,
        "reasons": check.reasons,
        "twist_curve": [{"x": x, "twist_deg": deg} for x, deg in zip(check.x, check.curve_deg, strict=True)],
        "sections": [
            {
                "x": section.x,
                "start": section.start,
                "end": section.end,
                "GJ": section.GJ,
                "strips": section.strips,
                "cells": [{"panels": cell.panels, "area": cell.area, "flow": cell.flow} for cell in section.cells],
                "walls": [
                    {
                        "panel": wall.panel,
                        "closed": wall.closed,
                        "length": wall.length,
                        "shear_stiffness": wall.shear_stiffness,
                        "twisting_stiffness": wall.twisting_stiffness,
                    }
                    for wall in section.walls
                ],
            }
            for section in check.sections
        ],
    }


def _torsion(torsion: Torsion) -> dict[str, Any]:
    bays = [
        {"start": b.start, "end": b.end, "x": b.x, "twist_deg": b.twist_deg, "twist_deg_per_m": b.twist_deg_per_m}
        for b in torsion.bays
    ]
    return {
        "torque": torsion.torque,
        "twist_deg": torsion.twist_deg,
        "stiffness_Nm_per_deg": torsion.stiffness_Nm_per_deg,
        "stiffness": {
            "pickup_to_pickup": torsion.pickup_to_pickup,
            "between_stations": torsion.between_stations,
            "hub_to_hub": torsion.hub_to_hub,
        },
        "stations_x": torsion.stations_x,
        "restraint": torsion.restraint,
        "band": {
            "low": torsion.band.low,
            "high": torsion.band.high,
            "why": [
                {"text": r.text, "low_percent": r.low_percent, "high_percent": r.high_percent} for r in torsion.band.why
            ],
            "left_out": torsion.band.left_out,
            "meaning": torsion.band.meaning,
        },
        "twist_curve": [
            {"x": float(x), "twist_deg": float(twist)} for x, twist in zip(torsion.x, torsion.curve_deg, strict=True)
        ],
        "bays": bays,
        "softest_bay": None if torsion.softest is None else bays[torsion.bays.index(torsion.softest)],
        "front_share": torsion.front_share,
        "rear_share": torsion.rear_share,
        "hand_check": None if torsion.hand_check is None else _hand_check(torsion.hand_check),
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    raised = verdict.raised
    return {
        "region": verdict.region,
        "load_case": verdict.load_case,
        "margin": verdict.margin,
        "kind": verdict.kind,
        "mode": verdict.mode,
        "raised": raised and {"change": raised.change, "margin": raised.margin, "areal_mass": raised.areal_mass},
    }


def _worst(worst: Worst | None) -> dict[str, Any] | None:
    if worst is None:
        return None
    return {
        "margin": worst.margin,
        "margin_peak": worst.margin_peak,
        "kind": worst.kind,
        "mode": worst.mode,
        "ply": worst.ply,
        "ply_index": worst.ply_index,
        "face": worst.face,
        "panel": worst.panel,
        "region": worst.region,
        "position": worst.position,
        "strain": worst.strain,
        "demand": worst.demand,
        "allowable": worst.allowable,
        "unit": worst.unit,
        "sign": worst.sign,
        "length": worst.length,
    }


def plain(value: Any) -> Any:
    """Plain JSON values: tuples become lists, numbers without a limit None."""
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return value
