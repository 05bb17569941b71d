"""Which ply next: one entry more in every region, tab and patch, ranked; the best confirmed by full solves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tubfem.arrays import Floats
from tubfem.case.changes import usual_angle
from tubfem.case.faults import nearest
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.findings.gain import gains
from tubfem.findings.results import Findings
from tubfem.geometry.mesh import TubMesh, areas
from tubfem.laminate.stack import Stack
from tubfem.run import Stages, change_case, run_case
from tubfem.study.bracket import evaluated
from tubfem.study.cost import price_per_area
from tubfem.study.enrich import enriched
from tubfem.study.executors import SERIAL, Kept, Pool, do_all
from tubfem.study.family import spring_change
from tubfem.study.fingerprints import case_key, fingerprint
from tubfem.study.hot import lowest_margin
from tubfem.study.laying import find_seats, lay_on
from tubfem.study.reduce import candidate_angles
from tubfem.study.reduced import galerkin
from tubfem.study.side_change import side_change
from tubfem.study.store import Ready, ready
from tubfem.study.tabs import tabs_of
from tubfem.tub.fillets import tab_area
from tubfem.tub.further import laid_patches
from tubfem.tub.joints import join
from tubfem.tub.model import plain_joint
from tubfem.tub.plies import cured_layers

STUDY = "next-ply"
CONFIRMED = 5  # of the ranking, by full solves
NOTHING = 0.01  # percent: a smaller gain is none


@dataclass(frozen=True, slots=True)
class Candidate:
    """One change, `text` as --add takes it, and what the reduced model says of it.

    Stiffness [N·m/deg] is the middle of a bracket, `error_estimate` half its width; mass [kg] and area [m²] are what is
    laid more, tabs included; `price` in `currency`, None without one; `length` [m] off the roll, `enough` whether so
    much is on hand; `worst_margin`, an indication, in `worst_region`, None where nothing is judged. `confirmed` and
    `confirmed_margin` by a full solve, None without.
    """

    text: str
    target: str
    ply: str
    stiffness: float
    gain: float
    gain_percent: float
    error_estimate: float
    mass: float
    area: float
    price: float | None
    currency: str | None
    length: float | None
    enough: bool | None
    worst_margin: float | None
    worst_region: str
    worst_kind: str
    confirmed: float | None = None
    confirmed_margin: float | None = None

    @property
    def gain_per_kg(self) -> float | None:
        """Stiffness won by each kilogram laid [N·m/deg/kg]."""
        return self.gain / self.mass if self.mass > 0 else None

    @property
    def gain_per_price(self) -> float | None:
        """Stiffness won for each unit of money [N·m/deg]."""
        return self.gain / self.price if self.price else None

    @property
    def no_gain(self) -> bool:
        """Whether the tub gets no stiffer by it."""
        return self.gain_percent < NOTHING


@dataclass(frozen=True, eq=False, slots=True)
class NextPly:
    """The ranking: `base` as it is, candidates best first, how they were ranked, seconds for each candidate.

    `freedoms` of the tub and of its reduced model, `snapshots` how many full solutions are in that; `tub` has it.
    """

    case: Case
    load_case: str
    stiffness: float
    mass: float
    margin: float | None
    region: str
    findings: Findings
    candidates: tuple[Candidate, ...]
    goal: str
    per: str
    freedoms: tuple[int, int]
    snapshots: int
    each: float
    tub: Ready


def next_ply(
    case: Case,
    *,
    plies: Sequence[str] = (),
    goal: str = "stiffness",
    per: str = "kg",
    confirm: int = CONFIRMED,
    folder: Path | None = None,
    stages: Stages | None = None,
    pool: Pool = SERIAL,
) -> NextPly:
    """Rank one entry more of every ply in every place.

    Parameters
    ----------
    plies
        Names of the plies to try; all of the case by default.
    goal
        "stiffness" ranks by gain, "margin" by the lowest margin of all regions.
    per
        "kg" or "price": what a gain in stiffness is divided by.
    confirm
        How many of the best are solved in full. Where the lowest margin decides, they are all those ranked by it.

    folder
        Where the reduced model is kept, and read again while the tub is the same.
    pool
        Where the full solves are done.

    Raises
    ------
    CaseError
        A ply is not in the case; or nothing has a price and the ranking asks for it; or there is no torsion case.
    """
    stages = stages or Stages()
    unknown = [name for name in plies if name not in case.plies]
    if unknown:
        raise CaseError([f"--ply {name}: no ply of the case{nearest(name, case.plies)}" for name in unknown])
    names = tuple(plies) or tuple(case.plies)
    if per == "price" and not any(price_per_area(case.plies[name]) for name in names):
        raise CaseError('no ply has a price per area; write price = "13 EUR/m^2" under [plies]')
    model, _, findings = run_case(case, stages=stages)
    with stages("reduced model"):
        tub, again = ready(model, folder)
    if again:
        stages.tell("reduced model read again")
    margin, region, _ = _judged(lowest_margin(tub.hot, galerkin(tub.reduced, {}), {}))
    with stages("candidates"):
        tried = _regions_and_patches(tub, names) + _tabs(tub, names)
    with stages("snapshots"):
        tub = enriched(tub, [each.change for each in tried], folder=folder, pool=pool)
    with stages("candidates"):
        found = [_candidate(tub, each) for each in tried]
    each = stages.seconds["candidates"] / max(len(found), 1)
    ranked = _ranked(found, goal, per)
    with stages("confirm"):
        ranked = _confirmed(ranked, confirm, (case, model.mesh, findings), tub, pool, folder, stages)
    return NextPly(
        case,
        tub.setup.name,
        tub.stiffness,
        findings.mass.total,
        margin,
        region,
        findings,
        tuple(ranked),
        goal,
        per,
        (findings.mesh.freedoms, tub.reduced.size),
        len(tub.snapshots),
        each,
        tub,
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Tried:
    """What `text` does to the groups and to the stacks, the mass and area it lays more."""

    text: str
    change: dict[int, Floats]
    stacks: dict[tuple[int, bool], Stack]
    mass: float
    area: float


def _regions_and_patches(tub: Ready, names: Sequence[str]) -> list[_Tried]:
    model, family = tub.model, tub.family
    case, area = model.case, areas(model.mesh)
    found = []
    for region in dict.fromkeys(group.name for group in family.groups if group.kind == "region"):
        seats = find_seats(model, family, area, region)
        for ply in names:
            for angle in candidate_angles(case, region, ply):
                for face in ("", ":tool"):
                    text = f"{region}={ply}{_angle(angle, usual_angle(case.layups[region].stack, ply))}{face}"
                    laid = lay_on(model, seats, [text])
                    change = laid.change | side_change(model, family, tub.state.shell.springs, text)
                    found.append(_Tried(text, change, laid.stacks, laid.mass, laid.area))
    for patch in laid_patches(case):
        seats = find_seats(model, family, area, f"patch:{patch}")
        for ply in names:
            text = f"patch:{patch}={ply}"
            laid = lay_on(model, seats, [text])
            if laid.change:
                found.append(_Tried(text, laid.change, laid.stacks, laid.mass, laid.area))
    return found


def _tabs(tub: Ready, names: Sequence[str]) -> list[_Tried]:
    """One ply more in the tab of a joint kind, and of each single joint of that kind."""
    model, family = tub.model, tub.family
    case = model.case
    if not model.joints:
        return []
    first, *others = tub.state.shell.springs  # the joints' own come first
    alone = {tabs.name for tabs in tabs_of(model)}
    found = []
    for kind_name, kind in case.joint_kinds.items():
        if not kind.tab or kind_name in case.joints:
            continue
        per_joint: dict[str, float] = {}
        for ties in model.joints:
            if ties.means == kind_name:
                name = plain_joint(ties.name)
                per_joint[name] = per_joint.get(name, 0.0) + tab_area(kind, ties)
        for ply in names:
            changed = change_case(case, add=[f"joint:{kind_name}={ply}"])
            now = join(changed, model.mesh).springs
            change = spring_change(family, (first, *others), (now, *others))
            joints = dict.fromkeys(family.groups[k].name for k in change)
            layers = cured_layers(case, ply, None)
            for target, chosen in ((kind_name, joints), *((j, {j: None}) for j in joints if j in alone)):
                if len(joints) == 1 and target != kind_name:
                    continue
                own = {k: share for k, share in change.items() if family.groups[k].name in chosen}
                area = sum(per_joint[joint] for joint in chosen)
                mass = area * sum(p.areal_mass for _, p in layers)
                if own:
                    text = f"joint:{target}={ply}"
                    found.append(_Tried(text, own, {}, mass, area))
    return found


def _candidate(tub: Ready, tried: _Tried) -> Candidate:
    text, change, area = tried.text, tried.change, tried.area
    target, _, rest = text.partition("=")
    ply = rest.partition("@")[0].partition(":")[0]
    table = tub.model.case.plies[ply]
    low, high, b = evaluated(tub.reduced, change)
    stiffness = 0.5 * (low + high)
    price = price_per_area(table)
    stock = table.on_hand
    width = table.roll_width
    length = area / width if width else None
    left = None if stock is None else stock.amount if stock.unit == "m^2" else stock.amount * width if width else None
    margin, region, kind = _judged(lowest_margin(tub.hot, b, tried.stacks))
    gain = stiffness - tub.stiffness
    return Candidate(
        text=text,
        target=target,
        ply=ply,
        stiffness=stiffness,
        gain=gain,
        gain_percent=100 * gain / tub.stiffness,
        error_estimate=0.5 * (high - low),
        mass=tried.mass,
        area=area,
        price=None if price is None else price[0] * area,
        currency=None if price is None else price[1],
        length=length,
        enough=None if left is None else area <= left,
        worst_margin=margin,
        worst_region=region,
        worst_kind=kind,
    )


def _judged(lowest: tuple[float, str, str]) -> tuple[float | None, str, str]:
    """A lowest margin with its region and kind, or none of them where nothing can fail that has a limit."""
    return lowest if math.isfinite(lowest[0]) else (None, "", "")


def _ranked(found: Sequence[Candidate], goal: str, per: str) -> list[Candidate]:
    """Best first; what the shelf does not hold comes behind, what gains nothing last."""

    def value(candidate: Candidate) -> float:
        if goal == "margin":
            wanted = candidate.worst_margin
        else:
            wanted = candidate.gain_per_kg if per == "kg" else candidate.gain_per_price
        return -math.inf if wanted is None else wanted

    useful = goal == "margin"
    return sorted(found, key=lambda c: (c.enough is False, c.no_gain and not useful, -value(c), c.text))


def _confirmed(
    ranked: Sequence[Candidate],
    confirm: int,
    shared: tuple[Case, TubMesh, Findings],
    tub: Ready,
    pool: Pool,
    folder: Path | None,
    stages: Stages,
) -> list[Candidate]:
    """The first candidates with stiffness and lowest margin by full solves on the same mesh."""
    case, mesh, before = shared
    asked = {c.text: (c.text, tub.setup.name) for c in ranked[:confirm] if not c.no_gain}
    kept = None if folder is None else Kept(folder, STUDY, fingerprint(case_key(case), mesh.points.tobytes()))
    base = replace(before, load_cases={tub.setup.name: before.load_cases[tub.setup.name]})
    found = do_all(pool, in_full, (case, mesh, base), asked, kept=kept, tell=stages.tell, note=stages.note)
    return [
        replace(c, confirmed=found[c.text][0], confirmed_margin=found[c.text][1]) if c.text in found else c
        for c in ranked
    ]


def in_full(shared: tuple[Case, TubMesh, Findings], item: tuple[str, str]) -> list[float | None]:
    """Stiffness and lowest margin of a load case with one change, by a full solve on the mesh of the base."""
    (case, mesh, before), (text, load_case) = shared, item
    _, _, findings = run_case(change_case(case, add=[text]), base=case, mesh=mesh)
    gain = next(each for each in gains(before, findings) if each.load_case == load_case)
    return [gain.stiffness, gain.worst_margin]


def _angle(angle: float, usual: float) -> str:
    return "" if abs(angle - usual) < 1e-9 else f"@{round(math.degrees(angle), 6):g}"
