"""One table for the whole tub: what governs every region, in which load case, and what would raise it most."""

from rich.console import Console

from tubfem.findings.envelope import envelope
from tubfem.findings.results import Findings
from tubfem.report.numbers import margin, three
from tubfem.report.terminal import put, say, table_of

ENVELOPED = 12


def print_verdicts(console: Console, findings: Findings) -> None:
    """Regions from the lowest margin on, over all load cases."""
    if not findings.verdicts:
        return
    table = table_of("region", "margin", "governed by", "load case", "raised most by", right=(1,))
    for verdict in findings.verdicts:
        raised = verdict.raised
        what = verdict.kind if verdict.mode == verdict.kind else f"{verdict.kind}, {verdict.mode}"
        more = (
            "none of its own plies, no thicker core"
            if raised is None
            else f"{raised.change} gives {margin(raised.margin)} for {three(raised.areal_mass)} kg/m²"
        )
        table.add_row(verdict.region, margin(verdict.margin), what, verdict.load_case, more)
    put(console, "What governs every region, the worst of all load cases", table)
    say(console, "Raised margins hold the line loads; a stiffer region draws more: run the change with --add to see.")


def print_envelope(console: Console, findings: Findings) -> None:
    """The lowest margins of joints, hard points, tubes and stiffeners over all load cases, if there are several."""
    if len(findings.load_cases) < 2:
        return
    found = envelope(findings.load_cases)
    table = table_of("", "margin", "governed by", "load case", right=(1,))
    for one in found[:ENVELOPED]:
        table.add_row(f"{one.name} ({one.what})", margin(one.margin), one.governs, one.load_case)
    put(console, "Joints, hard points and tubes, the worst of all load cases", table)
    if len(found) > ENVELOPED:
        say(console, f"and {len(found) - ENVELOPED} more in results.json")
