"""Buckling and natural modes added to the findings of the linear solution."""

from collections.abc import Mapping
from dataclasses import replace

from tubfem.findings.allowables import BUCKLING, allowables
from tubfem.findings.buckling import buckling_sentences, find_buckling
from tubfem.findings.modes import find_modes, mode_sentences
from tubfem.findings.results import Findings
from tubfem.findings.strains import describe_elements
from tubfem.findings.verdicts import with_buckling
from tubfem.shell.eigen import Buckling, Vibration
from tubfem.tub.model import TubModel


def add_stability(
    findings: Findings,
    model: TubModel,
    buckled: Mapping[str, Buckling],
    vibrating: tuple[Vibration, Vibration] | None,
) -> Findings:
    """Findings with buckling and modes, and their sentences behind the others.

    Parameters
    ----------
    buckled : by load case, of those that ask for it
    vibrating : modes of the free tub, and of its sections alone; None if not asked
    """
    elements = describe_elements(model)
    required = allowables(model.case.margins).required[BUCKLING]
    cases, sentences, modes = dict(findings.load_cases), list(findings.sentences), None
    states = {setup.name: state for state in model.states for setup in state.load_cases}
    for name, solved in buckled.items():
        found = find_buckling(model, states[name], cases[name], solved, elements, required=required)
        sentences += [f"{name}: {text}" for text in buckling_sentences(found, cases[name].torsion)]
        cases[name] = replace(cases[name], buckling=found)
    if vibrating is not None:
        modes = find_modes(model, *vibrating, elements)
        sentences += mode_sentences(modes)
    verdicts = with_buckling(model, findings.verdicts, cases)
    return replace(findings, load_cases=cases, sentences=tuple(sentences), modes=modes, verdicts=verdicts)


def buckling_doubts(findings: Findings) -> list[str]:
    """Every load case whose first ripple comes below the load, or below the factor asked."""
    found = []
    for name, load_case in findings.load_cases.items():
        first = None if load_case.buckling is None else load_case.buckling.first
        if first is not None and first.factor < 1:
            found.append(f"buckling: {first.region} ripples at {first.factor:.3g} times the load, load case {name}")
        elif first is not None and first.margin < 0:
            asked = load_case.margin_scale * load_case.buckling.required
            text = f"negative margin: {first.region}, {first.margin:+.2f} buckling ({first.factor:.3g} times the load"
            found.append(f"{text}, {asked:.3g} asked), load case {name}")
    return found
