"""What every report says before any number, and the notices a case adds."""

from tubfem.findings.results import Findings
from tubfem.tub.model import TubModel

STANDING = (
    "Estimate, to be reviewed by a licensed engineer before anything is built or driven on it.",
    "It certifies no crash, belt, seat, roll-over, fire, steering, brake or fuel matter; local codes prevail.",
)


def own_cautions(model: TubModel, findings: Findings) -> tuple[str, ...]:
    """Cautions of this case, from reading its file to finding its margins, each once."""
    return tuple(dict.fromkeys((*model.case.cautions, *model.cautions, *findings.cautions)))
