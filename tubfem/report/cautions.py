"""What every report says before any number, and the notices a case adds."""

from tubfem.findings.results import Findings

STANDING = (
    "Estimate, to be reviewed by a licensed engineer before anything is built or driven on it.",
    "It certifies no crash, belt, seat, roll-over, fire, steering, brake or fuel matter; local codes prevail.",
)


def all_cautions(findings: Findings) -> tuple[str, ...]:
    """The standing cautions, then those of this case, each once."""
    return tuple(dict.fromkeys((*STANDING, *findings.cautions)))
