"""Which ply next: one entry more in every region, tab and patch, ranked; the best confirmed by full solves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tubfem.arrays import Floats
from tubfem.case.asking import no_ply
from tubfem.case.changes import usual_angle
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.findings.results import Findings
from tubfem.geometry.mesh import TubMesh, areas
from tubfem.laminate.stack import Stack
from tubfem.run import Stages, change_case, run_case
from tubfem.shell.solve import Factored
from tubfem.study.bracket import evaluated
from tubfem.study.cost import price_per_area, refuse_mixed_prices
from tubfem.study.enrich import enriched_for_margins, with_solved
from tubfem.study.executors import SERIAL, Kept, Pool, do_all
from tubfem.study.family import spring_change
from tubfem.study.fingerprints import case_key, fingerprint
from tubfem.study.laying import find_seats, lay_on
from tubfem.study.reduce import candidate_angles
from tubfem.study.reduced import galerkin
from tubfem.study.side_change import side_change
from tubfem.study.store import Ready, ready
from tubfem.study.tabs import NAMED, tabs_of
from tubfem.study.weakest import Weakest, weakest_now, weakest_of
from tubfem.tub.fillets import tab_area
from tubfem.tub.further import laid_patches
from tubfem.tub.joints import join
from tubfem.tub.model import plain_joint
from tubfem.tub.plies import cured_layers

STUDY = "next-ply"
CONFIRMED = 5  # of the ranking, by full solves
NOTHING = 0.01  # percent: a smaller gain is none
MOVED = 0.02  # of what a joint bears: a tab that moves the lowest margin by more is solved in full
DECIDING = 6  # such tabs at most


@dataclass(frozen=True, slots=True)
class Candidate:
    """One change, `text` as --add takes it, and what the reduced model says of it.

    Stiffness [N·m/deg] is the middle of a bracket, `error_estimate` half its width; mass [kg] and area [m²] are what is
    laid more, tabs included; `price` in `currency`, None without one; `length` [m] off the roll, `enough` whether so
    much is on hand; `weakest` with it, an indication. `confirmed` and `confirmed_weakest` by a full solve, else None.
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
    weakest: Weakest
    confirmed: float | None = None
    confirmed_weakest: Weakest | None = None

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
    weakest: Weakest
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
        "stiffness" ranks by gain, "margin" by the lowest margin of all regions and joints.
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
        A ply is not in the case; or the ranking asks for prices, and there are none, or in several currencies; or there
        is no torsion case.
    """
    stages = stages or Stages()
    if wrong := [f"--ply {name}: {no_ply(case, name)}" for name in plies if name not in case.plies]:
        raise CaseError(wrong)
    names = tuple(plies) or tuple(case.plies)
    if per == "price" and not any(price_per_area(case.plies[name]) for name in names):
        raise CaseError('no ply has a price per area; write price = "13 EUR/m^2" under [plies]')
    if per == "price":
        refuse_mixed_prices(case, names)
    factors: dict[int, Factored] = {}
    model, _, findings = run_case(case, stages=stages, solved=factors.__setitem__)
    with stages("reduced model"):
        tub, again = ready(model, folder, factors)
    if again:
        stages.tell("reduced model read again")
    weakest = weakest_now(tub, galerkin(tub.reduced, {}), {}, {}, case)
    with stages("candidates"):
        tried = _regions_and_patches(tub, names) + _tabs(tub, names)
    with stages("snapshots"):
        tub = enriched_for_margins(tub, [each.change for each in tried], folder=folder, pool=pool)
        deciding = _deciding(tub, weakest, tried)
        if deciding:
            tub = with_solved(tub, deciding, folder=folder, pool=pool)
    with stages("candidates"):
        found = [_candidate(tub, each) for each in tried]
    each = stages.seconds["candidates"] / max(len(found), 1)
    ranked = _ranked(found, goal, per)
    with stages("confirm"):
        first = [c for c in ranked[:confirm] if goal == "margin" or not c.no_gain]
        ranked = _confirmed(ranked, first, (case, model.mesh), tub, pool, folder, stages)
    return NextPly(
        case,
        tub.setup.name,
        tub.stiffness,
        findings.mass.total,
        weakest,
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
    """What `text` does to the groups and to the stacks, the case with it, the mass and area it lays more."""

    text: str
    laid: Case
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
                    changed = change_case(case, add=[text])
                    found.append(_Tried(text, changed, change, laid.stacks, laid.mass, laid.area))
    for patch in laid_patches(case):
        seats = find_seats(model, family, area, f"patch:{patch}")
        for ply in names:
            text = f"patch:{patch}={ply}"
            laid = lay_on(model, seats, [text])
            if laid.change:
                found.append(_Tried(text, case, laid.change, laid.stacks, laid.mass, laid.area))
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
                    found.append(_Tried(text, change_case(case, add=[text]), own, {}, mass, area))
    return found


def _deciding(tub: Ready, before: Weakest, tried: Sequence[_Tried]) -> dict[str, dict[int, Floats]]:
    """Changes of tabs that move the lowest margin of all joints, the farthest first; none that is solved already.

    With a ply more a tab is many times as stiff against turning, which is beyond what the reduced model has for it.
    """
    if before.joint[0] is None:
        return {}
    solved = [set(snapshot.change) for snapshot in tub.snapshots]
    moved: dict[str, float] = {}
    changes = {each.text: each.change for each in tried if each.text.startswith(NAMED)}
    for each in tried:
        if each.text in changes and set(each.change) not in solved:
            now = weakest_now(tub, galerkin(tub.reduced, each.change), each.change, {}, each.laid).joint[0]
            moved[each.text] = 0.0 if now is None else abs((1 + now) / (1 + before.joint[0]) - 1)
    far = sorted((text for text, share in moved.items() if share > MOVED), key=lambda text: -moved[text])
    return {text: changes[text] for text in far[:DECIDING]}


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
        weakest=weakest_now(tub, b, change, tried.stacks, tried.laid),
    )


def _ranked(found: Sequence[Candidate], goal: str, per: str) -> list[Candidate]:
    """Best first; what the shelf does not hold comes behind, what gains nothing last."""

    def value(candidate: Candidate) -> float:
        if goal == "margin":
            wanted = candidate.weakest.margin
        else:
            wanted = candidate.gain_per_kg if per == "kg" else candidate.gain_per_price
        return -math.inf if wanted is None else wanted

    useful = goal == "margin"
    return sorted(found, key=lambda c: (c.enough is False, c.no_gain and not useful, -value(c), c.text))


def _confirmed(
    ranked: Sequence[Candidate],
    chosen: Sequence[Candidate],
    shared: tuple[Case, TubMesh],
    tub: Ready,
    pool: Pool,
    folder: Path | None,
    stages: Stages,
) -> list[Candidate]:
    """The ranking, those that are chosen with stiffness and lowest margins by full solves on the same mesh."""
    case, mesh = shared
    asked = {c.text: (c.text, tub.setup.name) for c in chosen}
    kept = None if folder is None else Kept(folder, STUDY, fingerprint(case_key(case), mesh.points.tobytes()))
    found = do_all(pool, in_full, shared, asked, kept=kept, tell=stages.tell, note=stages.note)
    return [
        replace(c, confirmed=found[c.text][0], confirmed_weakest=Weakest(*map(tuple, found[c.text][1:])))
        if c.text in found
        else c
        for c in ranked
    ]


def in_full(shared: tuple[Case, TubMesh], item: tuple[str, str]) -> list[Any]:
    """Stiffness of a load case with one change, and the weakest region and joint, by a full solve on the same mesh."""
    (case, mesh), (text, load_case) = shared, item
    _, _, findings = run_case(change_case(case, add=[text]), base=case, mesh=mesh)
    found = findings.load_cases[load_case]
    weakest = weakest_of(found)
    return [found.torsion.pickup_to_pickup, list(weakest.region), list(weakest.joint)]


def _angle(angle: float, usual: float) -> str:
    return "" if abs(angle - usual) < 1e-9 else f"@{round(math.degrees(angle), 6):g}"
