"""A case and its variants side by side, on one mesh wherever the geometry is the same."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from tubfem.case.schema import Case
from tubfem.errors import CaseError, TubfemError
from tubfem.findings.gain import Gain, other_margins
from tubfem.findings.results import Findings, LoadCaseFindings
from tubfem.geometry.mesh import TubMesh
from tubfem.run import Stages, change_case, run_case
from tubfem.study.cost import Cost, laid_cost
from tubfem.study.executors import SERIAL, Kept, Pool, do_all
from tubfem.study.fingerprints import case_key, fingerprint
from tubfem.tub.model import TubModel

STUDY = "compare"
PREFIXES = {"joints": "joint ", "hard points": "hard point ", "openings": "opening ", "tubes": ""}  # of their names
GEOMETRY = ("mirror", "mesh", "stations", "points", "sections", "panels", "mounts", "stiffeners", "without")


@dataclass(frozen=True, slots=True)
class Variant:
    """A case to compare: its name in the table, the changes that made it in words, and itself."""

    name: str
    changes: tuple[str, ...]
    case: Case


@dataclass(frozen=True, slots=True)
class Lowest:
    """The lowest margin of a region and what it is of: fields as of `findings.results.Worst`."""

    margin: float
    kind: str
    mode: str
    ply: str
    ply_index: int
    region: str
    position: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Told:
    """What one load case says of a variant: lowest margins by region, None where nothing is judged.

    `others` has the margins of joints, hard points, tubes and openings by name. In torsion `torque` [N·m], `stiffness`
    between pickups [N·m/deg] and the twist curve, `x` [m] and `twist_deg`.
    """

    torque: float | None
    stiffness: float | None
    x: tuple[float, ...]
    twist_deg: tuple[float, ...]
    regions: dict[str, Lowest | None]
    others: dict[str, float]

    @property
    def lowest_other(self) -> tuple[float, str] | None:
        """The lowest margin of all that is no region, and its name."""
        return min(((margin, name) for name, margin in self.others.items()), default=None)

    @property
    def lowest_others(self) -> dict[str, tuple[float, str]]:
        """The lowest margins of joints, hard points, openings and tubes with their names, of what is judged."""
        return lowest_by_kind(self.others)

    @property
    def lowest(self) -> Lowest | None:
        """The lowest margin of all regions."""
        found = [worst for worst in self.regions.values() if worst is not None]
        return min(found, key=lambda worst: worst.margin, default=None)


@dataclass(frozen=True, eq=False, slots=True)
class Compared:
    """One column of the comparison; `gains` against the first case, `own_mesh` if its geometry is another one.

    `mass` [kg]; `doubts` in words.
    """

    variant: Variant
    own_mesh: bool
    mass: float
    cost: Cost
    load_cases: dict[str, Told]
    doubts: tuple[str, ...]
    gains: tuple[Gain, ...] = ()


def lowest_by_kind(others: Mapping[str, float]) -> dict[str, tuple[float, str]]:
    """The lowest of the margins `Told.others`, of every kind that is there."""
    found: dict[str, tuple[float, str]] = {}
    for name, margin in others.items():
        what = next(what for what, prefix in PREFIXES.items() if name.startswith(prefix))
        found[what] = min(found.get(what, (margin, name)), (margin, name))
    return {what: found[what] for what in PREFIXES if what in found}


Judge = Callable[[Findings, TubMesh], Sequence[str]]


def no_doubts(findings: Findings, mesh: TubMesh) -> Sequence[str]:
    """Nothing is doubtful."""
    return ()


def written_variants(case: Case) -> tuple[Variant, ...]:
    """The variants under [variants] of a case.

    Raises
    ------
    CaseError
        Every change that cannot be made, with its variant.
    """
    found, faults = [], []
    for name, table in case.variants.items():
        wanted = {"add": table.add, "drop": table.drop, "without": table.without}
        try:
            changed = change_case(case, **wanted)
        except CaseError as error:
            faults += [case.message(("variants", name), message) for message in error.messages]
            continue
        words = tuple(f"--{flag} {text}" for flag, texts in wanted.items() for text in texts)
        found.append(Variant(name, words, changed))
    if faults:
        raise CaseError(faults)
    return tuple(found)


def flag_variants(case: Case, flags: Mapping[str, Sequence[str]]) -> tuple[Variant, ...]:
    """One variant for every change: `flags` has texts under "add", "drop" and "without".

    Raises
    ------
    CaseError
        A change cannot be made.
    """
    found = []
    for flag, texts in flags.items():
        for text in texts:
            name = text if flag == "add" else f"{flag} {text}"
            found.append(Variant(name, (f"--{flag} {text}",), change_case(case, **{flag: [text]})))
    return tuple(found)


def compare(
    base: Case,
    variants: Sequence[Variant],
    *,
    judge: Judge = no_doubts,
    stages: Stages | None = None,
    pool: Pool = SERIAL,
    folder: Path | None = None,
) -> tuple[Compared, ...]:
    """Run the base and every variant; the base comes first.

    A variant with the geometry of the base is laid on the base's mesh, so that differences are not those of two
    meshes; any other gets a mesh of its own.

    Parameters
    ----------
    judge : what is doubtful about a run, in words; a function that its module's name leads to
    pool : where variants are run
    folder : where finished variants are kept, for a study that is stopped

    Raises
    ------
    CaseError, MeshError, SolveError
        As `run_case`, each message with its variant's name before it.
    """
    stages = stages or Stages()
    model, _, findings = run_case(base, stages=stages)
    first = _compared(Variant("base", (), base), _told(model, findings, judge), own_mesh=False)
    shared = [same_geometry(base, variant.case) for variant in variants]
    items = {f"variant {k + 1}, {v.name}": (v, shared[k]) for k, v in enumerate(variants)}
    kept = None if folder is None else _kept(folder, base, model.mesh, items)
    with stages("variants"):
        runs = do_all(
            pool, _run_variant, (base, model.mesh, judge), items, kept=kept, tell=stages.tell, note=stages.note
        )
    found = [
        _compared(variant, run, own_mesh=not on_base)
        for (variant, on_base), run in zip(items.values(), runs.values(), strict=True)
    ]
    return (first, *(replace(each, gains=_gains(first, each)) for each in found))


def _kept(folder: Path, base: Case, mesh: TubMesh, items: Mapping[str, tuple[Variant, bool]]) -> Kept:
    """Where finished variants are; each is its own, whichever others are compared with it."""
    alone = base.model_copy(update={"variants": {}})
    own = {
        name: fingerprint(case_key(v.case.model_copy(update={"variants": {}})), f"{v.case.path == base.path}")
        for name, (v, _) in items.items()
    }
    return Kept(folder, STUDY, fingerprint(case_key(alone), mesh.points.tobytes()), own)


def _run_variant(shared: tuple[Case, TubMesh, Judge], item: tuple[Variant, bool]) -> dict[str, Any]:
    (base, mesh, judge), (variant, on_base) = shared, item
    reference = base if on_base or variant.case.path == base.path else variant.case
    try:
        model, _, findings = run_case(variant.case, base=reference, mesh=mesh if on_base else None)
    except TubfemError as error:
        raise type(error)([f"{variant.name}: {message}" for message in error.messages]) from error
    return _told(model, findings, judge)


def _told(model: TubModel, findings: Findings, judge: Judge) -> dict[str, Any]:
    """What is compared of a run, plain enough to be kept."""
    return {
        "mass": findings.mass.total,
        "cost": asdict(laid_cost(model)),
        "doubts": list(judge(findings, model.mesh)),
        "load_cases": {name: _load_case(load_case) for name, load_case in findings.load_cases.items()},
    }


def _load_case(found: LoadCaseFindings) -> dict[str, Any]:
    torsion = found.torsion
    names = [field.name for field in fields(Lowest)]
    return {
        "torque": None if torsion is None else torsion.torque,
        "stiffness": None if torsion is None else torsion.stiffness_Nm_per_deg,
        "x": [] if torsion is None else torsion.x.tolist(),
        "twist_deg": [] if torsion is None else torsion.curve_deg.tolist(),
        "regions": {
            name: None if region.worst is None else {each: getattr(region.worst, each) for each in names}
            for name, region in found.regions.items()
        },
        "others": _others(found),
    }


def _others(found: LoadCaseFindings) -> dict[str, float]:
    """Margins of joints, hard points, tubes and openings by what and name."""
    return {PREFIXES[what] + name: margin for what, own in other_margins(found).items() for name, margin in own.items()}


def _compared(variant: Variant, run: Mapping[str, Any], *, own_mesh: bool) -> Compared:
    """What `_told` told, read again."""
    load_cases = {}
    for name, found in run["load_cases"].items():
        regions = {
            region: None if worst is None else Lowest(**worst | {"position": tuple(worst["position"])})
            for region, worst in found["regions"].items()
        }
        curve = {key: tuple(found[key]) for key in ("x", "twist_deg")}
        load_cases[name] = Told(found["torque"], found["stiffness"], **curve, regions=regions, others=found["others"])
    return Compared(variant, own_mesh, run["mass"], Cost(**run["cost"]), load_cases, tuple(run["doubts"]))


def _gains(before: Compared, now: Compared) -> tuple[Gain, ...]:
    """One `Gain` for every torsion load case that both have."""
    found = []
    for name, told in now.load_cases.items():
        then = before.load_cases.get(name)
        if then is None or then.stiffness is None or told.stiffness is None:
            continue
        margins = [(None, "") if low is None else (low.margin, low.region) for low in (then.lowest, told.lowest)]
        found.append(Gain(name, then.stiffness, told.stiffness, before.mass, now.mass, *margins[0], *margins[1]))
    return tuple(found)


def same_geometry(one: Case, other: Case) -> bool:
    """Whether two cases can share a mesh: equal shapes, mounts and mesh size, and the same regions."""
    return one.layups.keys() == other.layups.keys() and all(
        getattr(one, name) == getattr(other, name) for name in GEOMETRY
    )


def gain_per_price(base: Compared, other: Compared, gain: Gain) -> float | None:
    """Stiffness won for each unit of money added [N·m/deg]; None where a price is missing or nothing is added."""
    more = other.cost.beyond(base.cost)
    return None if more is None or more[0] <= 0 else gain.gain_Nm_per_deg / more[0]
