"""Joints, hard points and twist shares as results.json has them."""

from typing import Any

from tubfem.findings.connections import ConnectionFindings
from tubfem.findings.joint_results import HardPoint
from tubfem.findings.results import Energy, JointFindings
from tubfem.findings.twist_shares import twist_shares


def joint_entry(joint: JointFindings) -> dict[str, Any]:
    """One joint in one load case; loads are the load case's own, strength is at the load that margins are for."""
    strength, fixity = joint.strength, joint.fixity
    return {
        "kind": joint.kind,
        "length": joint.length,
        "peak_shear_flow": joint.peak_shear_flow,
        "peak_normal": joint.peak_normal,
        "peak_peel": joint.peak_peel,
        "peak_moment": joint.peak_moment,
        "margin": joint.margin,
        "twist_share": joint.twist_share,
        "fixity": None if fixity is None else fixity.share,
        "strength": None
        if strength is None
        else {
            "margins": strength.margins,
            "margin_peel": strength.peel,
            "averaged_over": strength.length,
            "mean_shear": strength.mean_shear,
            "peak_shear": strength.peak_shear,
            "peak_peel": strength.peak_peel,
            "ply_use": strength.ply_use,
            "width": strength.width,
            "width_needed": strength.width_needed,
            "bolt_shear": strength.bolt_shear,
            "bolt_pull": strength.bolt_pull,
        },
    }


def hard_point_entry(point: HardPoint) -> dict[str, Any]:
    """One mount in one load case."""
    return {
        "panel": point.panel,
        "construction": point.construction,
        "shear": point.shear,
        "axial": point.axial,
        "tipping": point.tipping,
        "hole": point.diameter,
        "edge": point.edge,
        "margin": point.margin,
        "checks": [
            {
                "what": check.what,
                "demand": check.demand,
                "allowable": check.allowable,
                "unit": check.unit,
                "margin": check.margin,
                "source": check.source,
            }
            for check in point.checks
        ],
        "pull_test": point.pull_test or None,
    }


def connection_entry(connection: ConnectionFindings) -> dict[str, Any]:
    """One connection in one load case; turning stiffness [N m/rad] about x, y, z."""
    return {
        "middle": connection.middle.tolist(),
        "force": connection.force.tolist(),
        "moment": connection.moment.tolist(),
        "turning_stiffness": connection.turning,
        "paths": [
            {
                "joint": path.joint,
                "kind": path.kind,
                "length": path.length,
                "force": path.force.tolist(),
                "moment": path.moment.tolist(),
                "force_share": path.force_share,
                "moment_share": path.moment_share,
                "turning_stiffness_without": path.without,
            }
            for path in connection.paths
        ],
    }


def twist_entries(energy: Energy) -> list[dict[str, Any]]:
    """Shares of the twist, largest first; they sum to 1."""
    shares = sorted(twist_shares(energy).items(), key=lambda item: -item[1])
    return [{"kind": kind, "name": name, "share": share} for (kind, name), share in shares]
