"""What a run says on the terminal: cautions, the answer, then where it comes from; readable at 80 columns."""

from collections.abc import Mapping, Sequence
from itertools import groupby

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from tubfem.findings.gain import Gain
from tubfem.findings.hand_results import HandCheck
from tubfem.findings.hand_words import cells_in_words, stretches, twist_of
from tubfem.findings.mass_results import Mass
from tubfem.findings.results import Findings, LoadCaseFindings, Torsion, Worst
from tubfem.materials.catalogue import Entry, Sheet
from tubfem.report.cautions import STANDING, own_cautions
from tubfem.report.heat_table import print_heat
from tubfem.report.joints_table import print_connections, print_hard_points, print_joints, print_twist_shares
from tubfem.report.numbers import factor as factor_text
from tubfem.report.numbers import hot_spot_place, margin, percent, place, signed, three
from tubfem.report.openings_table import print_core_edges, print_openings
from tubfem.report.road_table import print_road
from tubfem.report.stability_table import print_buckling, print_modes
from tubfem.report.terminal import heading as _heading
from tubfem.report.terminal import put as _put
from tubfem.report.terminal import say as _say
from tubfem.report.terminal import table_of as _table
from tubfem.report.tubes_table import frame_masses, print_tubes
from tubfem.report.verdict_table import print_envelope, print_verdicts
from tubfem.tub.model import TubModel

SPOTS_SHOWN, LOWEST_SHOWN = 6, 8
BAR = 10  # characters of the longest bar


def print_findings(console: Console, model: TubModel, findings: Findings, changes: Sequence[str] = ()) -> None:
    """All findings of a run."""
    _heading(console, model.case.title or model.case.path)
    for text in STANDING:
        _say(console, text)
    if changes:
        _say(console, f"Changed on the command line: {'  '.join(changes)}")
    for gain in findings.gains:
        _gain(console, gain)
    for load_case in findings.load_cases.values():
        if load_case.torsion is not None:
            _torsion(console, load_case, load_case.torsion)
        elif load_case.road is not None:
            print_road(console, load_case, load_case.road)
        else:
            _heading(console, f"Load case {load_case.name}")
        if load_case.probes:
            _probes(console, load_case)
        _mesh(console, load_case, findings)
    print_verdicts(console, findings)
    print_envelope(console, findings)
    if findings.heat is not None:
        print_heat(console, findings.heat)
    _mass(console, findings)
    prefix = f"{next(iter(findings.load_cases))}: " if len(findings.load_cases) == 1 else ""
    _lines(console, "In words", [text.removeprefix(prefix) for text in findings.sentences])
    for load_case in findings.load_cases.values():
        _regions(console, load_case, findings.mass)
        _lowest(console, load_case)
        _hot_spots(console, load_case)
        print_openings(console, load_case)
        print_core_edges(console, load_case)
        mirrored = model.case.mirror is not None
        print_twist_shares(console, load_case, mirrored)
        print_joints(console, load_case, mirrored)
        print_connections(console, load_case)
        print_hard_points(console, load_case, mirrored)
        print_tubes(console, load_case)
        if load_case.buckling is not None:
            print_buckling(console, load_case, load_case.buckling)
    if findings.modes is not None:
        print_modes(console, findings.modes)
    _factors(console, findings)
    _checks(console, findings)
    _lines(console, "Cautions of this case", own_cautions(model, findings))
    hint = (
        (f"{len(model.notes)} more on geometry, covers and joints: tubfem look, or results.json",)
        if model.notes
        else ()
    )
    _lines(console, "Notes", (*findings.notes, *hint))


def print_ending(console: Console, findings: Findings, timings: Mapping[str, float], out: str) -> None:
    """Size, stage times and where the files are."""
    mesh = findings.mesh
    stages = ", ".join(f"{stage} {seconds:.1f}" for stage, seconds in timings.items())
    console.print()
    _say(console, f"{mesh.elements} elements, {mesh.freedoms} freedoms; seconds: {stages}")
    _say(console, f"Files in {out}")


def print_look(console: Console, model: TubModel, words: Mapping[str, Sequence[str]], changes: Sequence[str]) -> None:
    """What a case is, group by group, without any result."""
    _heading(console, model.case.title or model.case.path)
    if changes:
        _say(console, f"Changed on the command line: {'  '.join(changes)}")
    for heading, lines in words.items():
        _lines(console, heading, lines)


def print_catalogue(console: Console, entries: Sequence[Entry]) -> None:
    """The names of the material library, group by group."""
    for group, members in groupby(entries, key=lambda entry: entry.group):
        table = _table(group, "")
        for entry in members:
            table.add_row(entry.name, entry.words)
        plural = f"{group[:-1]}ies" if group.endswith("y") else f"{group}s"
        _put(console, plural.capitalize(), table)


def print_sheet(console: Console, sheet: Sheet) -> None:
    """Everything about one name of the library, with the source of every number."""
    _heading(console, f"{sheet.name} ({sheet.group})")
    for heading, rows in sheet.groups:
        table = _table("quantity", "value", "source", right=(1,))
        for row in rows:
            table.add_row(row.quantity, row.shown, row.source)
        _put(console, heading, table)


def _torsion(console: Console, load_case: LoadCaseFindings, torsion: Torsion) -> None:
    _heading(console, f"Load case {load_case.name}: twist under {three(torsion.torque)} N·m")
    held = ", rear held as on a bench" if torsion.restraint == "bench" else ""
    answer = Text(f"{three(torsion.pickup_to_pickup)} N·m/deg", style="bold")
    answer.append(f"  between pickups{held}; band {three(torsion.band.low)} to {three(torsion.band.high)}", "not bold")
    console.print(Padding(answer, (0, 0, 0, 2), expand=False))
    _say(console, f"{three(torsion.twist_deg)} degrees of twist from axle to axle.")
    if torsion.between_stations is not None and torsion.stations_x is not None:
        front, rear = (f"{1e3 * x:.0f}" for x in torsion.stations_x)
        _say(console, f"{three(torsion.between_stations)} N·m/deg read on the tub itself, x = {front} to {rear} mm.")
    if torsion.hub_to_hub is not None:
        _say(console, f"{three(torsion.hub_to_hub)} N·m/deg between hubs, with suspension members that do not give.")
    table = _table("why the band", "lower", "higher", right=(1, 2))
    for reason in torsion.band.why:
        table.add_row(reason.text, f"{reason.low_percent:+.1f} %", f"{reason.high_percent:+.1f} %")
    _put(console, None, table)
    if torsion.band.meaning:
        _say(console, torsion.band.meaning)
    if torsion.band.left_out:
        _say(console, f"Not in the band: {'; '.join(torsion.band.left_out)}.")
    if torsion.bays:
        most = max(bay.twist_deg_per_m for bay in torsion.bays)
        table = _table("from", "to", "x, mm", "twist, deg", "deg/m", "", right=(2, 3, 4))
        for bay in torsion.bays:
            bar = "█" * round(BAR * max(bay.twist_deg_per_m, 0.0) / most) if most > 0 else ""
            bar += " softest" if bay == torsion.softest else ""
            x = f"{1e3 * bay.x[0]:.0f} to {1e3 * bay.x[1]:.0f}"
            table.add_row(bay.start, bay.end, x, three(bay.twist_deg), three(bay.twist_deg_per_m), bar)
        _put(console, "Twist along the tub", table)
    if torsion.hand_check is not None:
        _hand_check(console, torsion.hand_check, torsion)


def _hand_check(console: Console, check: HandCheck, torsion: Torsion) -> None:
    """The hand figure beside the finite element one, stretch by stretch, then why they differ."""
    _heading(console, "Hand check: Bredt and Batho on the cut tub")
    _say(
        console,
        f"{three(check.stiffness)} N·m/deg by hand from station to station, {three(check.finite_element)} by finite "
        f"elements: {100 * (check.ratio - 1):+.0f} %.",
    )
    table = _table("x, mm", "closed cells", "GJ, kN·m2", "hand", "finite el.", right=(2, 3, 4))
    for start, end, sections in stretches(check.sections):
        curves = (check.x, check.curve_deg), (torsion.x, torsion.curve_deg)
        hand, model = (twist_of(sections, *curve) / (end - start) for curve in curves)
        GJ = (end - start) / sum((s.end - s.start) / s.GJ for s in sections)
        table.add_row(
            f"{1e3 * start:.0f} to {1e3 * end:.0f}",
            cells_in_words(sections),
            three(1e-3 * GJ),
            three(hand),
            three(model),
        )
    _put(console, None, table)
    _say(
        console,
        "Last two columns in degrees per metre. The page works through the softest cut; every cut, wall by wall, is in "
        "results.json.",
    )
    for reason in check.reasons:
        _say(console, reason)


def _gain(console: Console, gain: Gain) -> None:
    _heading(console, f"What the changes do, load case {gain.load_case}")
    added = gain.mass - gain.mass_before
    answer = Text(f"{signed(gain.gain_Nm_per_deg)} N·m/deg", style="bold")
    share = f"  ({gain.gain_percent:+.2f} %) for {signed(added)} kg"
    if gain.gain_per_kg is not None:
        share += f", {signed(gain.gain_per_kg)} N·m/deg per kg"
    answer.append(share, "not bold")
    console.print(Padding(answer, (0, 0, 0, 2), expand=False))
    table = _table("", "as written", "changed", "margin of", right=(1, 2))
    table.add_row("stiffness, N·m/deg", three(gain.stiffness_before), three(gain.stiffness), "")
    table.add_row("mass, kg", three(gain.mass_before), three(gain.mass), "")
    of_regions = gain.worst_margin_before, gain.worst_region_before, gain.worst_margin, gain.worst_region
    rows = [("plies and cores", *of_regions)]
    rows += [(each.what, each.before, each.name_before, each.now, each.name) for each in gain.others]
    for what, before, name_before, now, name in rows:
        where = name if name_before in ("", name) else f"{name_before}, now {name}" if name else name_before
        table.add_row(what, margin(before), margin(now), where)
    _put(console, None, table)
    _say(console, "Margins are the lowest of plies and cores, of joints and so on; 0 is just enough.")


def _mesh(console: Console, load_case: LoadCaseFindings, findings: Findings) -> None:
    size, mesh = 1e3 * findings.mesh.size, load_case.mesh
    _say(
        console,
        f"Mesh of {size:.3g} mm: {percent(mesh.error)} too stiff by estimate, {percent(mesh.band)} with a margin for "
        "the estimate; tubfem refine finds out.",
    )


def _probes(console: Console, load_case: LoadCaseFindings) -> None:
    table = _table("probe", "x, mm", "y, mm", "z, mm", "rx, deg", "ry, deg", "rz, deg", right=range(1, 7))
    for name, motion in load_case.probes.items():
        shifts = [1e3 * value for value in motion[:3]] + [57.29577951308232 * value for value in motion[3:]]
        table.add_row(name, *(f"{value:.4g}" for value in shifts))
    _put(console, "Motion of the probes", table)


def _mass(console: Console, findings: Findings) -> None:
    x, y, z = (round(1e3 * c) + 0 for c in findings.mass.centre_of_gravity)
    _heading(console, "Mass")
    _say(
        console,
        f"{three(findings.mass.total)} kg as laid up (plies, cores, tabs and named filler; no bolts or metal); "
        f"centre of gravity x = {x}, y = {y}, z = {z} mm.",
    )
    if findings.mass.by_means:
        parts = ", ".join(f"{name} {three(mass)} kg" for name, mass in findings.mass.by_means.items())
        _say(console, f"In that, of the joints: {parts}.")
    if findings.mass.frames:
        _say(console, f"In that, as beams: {frame_masses(findings.mass.frames)}.")


def _regions(console: Console, load_case: LoadCaseFindings, mass: Mass) -> None:
    table = _table("region", "kg", "energy", "first damage", "fibre", "between plies", "core, skin", right=range(1, 7))
    for region in load_case.regions.values():
        margins = (region.worst_first_damage, region.worst_fibre, region.worst_interlaminar, region.worst_core)
        shown = ("-" if worst is None else margin(worst.margin) for worst in margins)
        table.add_row(region.name, three(region.mass), percent(region.strain_energy_share), *shown)
    energy = load_case.energy
    joints = sum(mass.by_means.values())
    others = [("joints", sum(energy.joints.values()), joints), ("mounts and bolts", energy.mounts, 0.0)]
    for name, share, kg in (*others, *((name, share, mass.frames[name]) for name, share in energy.frames.items())):
        if share > 0.0:
            table.add_row(name, three(kg) if kg else "", percent(share), "", "", "", "")
    heading = f"Regions, load case {load_case.name}: share of strain energy and lowest margins (0 is just enough)"
    _put(console, heading, table)
    if load_case.margin_scale != 1.0:
        _say(console, f"Margins are for {three(load_case.margin_scale)} times the load of the load case.")


def _lowest(console: Console, load_case: LoadCaseFindings) -> None:
    found = [w for region in load_case.regions.values() if (w := region.worst) is not None]
    found.sort(key=lambda w: w.margin)
    table = _table("margin", "what", "where", right=(0,))
    for one in found[:LOWEST_SHOWN]:
        table.add_row(margin(one.margin), _what(one), _where(one, load_case.kind == "torsion"))
    _put(console, "Where the lowest margins are, region by region", table)
    if len(found) > LOWEST_SHOWN:
        _say(console, f"and {len(found) - LOWEST_SHOWN} more in regions.csv")


def _what(worst: Worst) -> str:
    mode = worst.kind if worst.mode == worst.kind else f"{worst.kind}, {worst.mode}"
    return f"{mode}; {_amount(worst.demand, worst.unit)} of {_amount(worst.allowable, worst.unit)}"


def _where(worst: Worst, hands: bool) -> str:
    face = {"bottom": ", tool side", "top": ", far side", None: ""}[worst.face]
    hand = f"; torque {'+' if worst.sign > 0 else '-'}" if hands else ""
    return f"{worst.ply}{face}; {worst.panel} at {place(worst.position)} mm{hand}"


def _amount(value: float, unit: str) -> str:
    if unit == "-":
        return f"{three(100 * value)} %"
    if unit == "Pa":
        return f"{three(1e-6 * value)} MPa"
    return f"{three(1e-3 * value)} N/mm" if unit == "N/m" else f"{three(value)} {unit}"


def _hot_spots(console: Console, load_case: LoadCaseFindings) -> None:
    if not load_case.hot_spots:
        return
    table = _table("", "averaged", "peak", "margin", "where", right=(0, 1, 2, 3))
    for number, spot in enumerate(load_case.hot_spots[:SPOTS_SHOWN], start=1):
        strains = (f"{three(1e2 * value)} %" for value in (spot.strain_averaged, spot.strain_peak))
        where = f"{hot_spot_place(spot)}; at {place(spot.position)} mm"
        table.add_row(f"{number}", *strains, margin(spot.margin), where)
    _put(console, "Hot spots: strain averaged over a length, raw peak beside it", table)


def _factors(console: Console, findings: Findings) -> None:
    table = _table("factor", "value", "why (source)", right=(1,))
    for factor in findings.factors:
        sign = "×" if factor.kind == "knock-down" else "÷"
        table.add_row(factor.name, f"{sign} {factor_text(factor.value)}", f"{factor.why} ({factor.source})")
    _put(console, "Between a material's limit and the allowable: × knock-downs, ÷ required factors", table)


def _checks(console: Console, findings: Findings) -> None:
    table = _table("load case", "check", "value", "limit", "", right=(2, 3))
    for load_case in findings.load_cases.values():
        for check in load_case.checks:
            passed = "ok" if check.value <= check.limit else "FAILED"
            table.add_row(
                load_case.name, check.name.replace("_", " "), f"{check.value:.1e}", f"{check.limit:.0e}", passed
            )
    _put(console, "Checks of the solution", table)


def _lines(console: Console, heading: str, lines: Sequence[str]) -> None:
    if lines:
        _heading(console, heading)
        for line in dict.fromkeys(lines):
            _say(console, line)
