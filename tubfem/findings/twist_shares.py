"""How much of the twist each part is responsible for: its share of the strain energy."""

from tubfem.findings.results import Energy


def twist_shares(energy: Energy) -> dict[tuple[str, str], float]:
    """(kind, name) -> share; kinds are region, joint, attachment, foam inside, tubes, model; all together they are 1.

    Notes
    -----
    The couple's work is T times the twist, and all of it is strain energy: a part that holds a tenth of the energy
    gives a tenth of the twist. The stabilisation of the drilling rotation belongs to no part and stands by itself.
    """
    shares = {("region", name): share for name, share in energy.regions.items()}
    shares |= {("joint", name): share for name, share in energy.joints.items()}
    shares |= {("attachment", name): share for name, share in energy.attachments.items()}
    shares |= {("foam inside", name): share for name, share in energy.foams.items()}
    shares |= {("tubes", name): share for name, share in energy.frames.items()}
    rest = energy.mounts - sum(energy.attachments.values())
    if abs(rest) > 1e-12:
        shares["attachment", "other springs"] = rest
    shares["model", "drilling stabilisation"] = energy.drilling
    return shares
