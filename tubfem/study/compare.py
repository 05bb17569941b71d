"""A case and its variants side by side, on one mesh wherever the geometry is the same."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tubfem.case.schema import Case
from tubfem.errors import CaseError, TubfemError
from tubfem.findings.gain import Gain, gains
from tubfem.findings.results import Findings
from tubfem.geometry.mesh import TubMesh
from tubfem.run import Stages, change_case, run_case
from tubfem.study.cost import Cost, laid_cost
from tubfem.study.executors import SERIAL, Pool, do_all
from tubfem.tub.model import TubModel

GEOMETRY = ("mirror", "mesh", "stations", "points", "sections", "panels", "mounts", "stiffeners", "without")


@dataclass(frozen=True, slots=True)
class Variant:
    """A case to compare: its name in the table, the changes that made it in words, and itself."""

    name: str
    changes: tuple[str, ...]
    case: Case


@dataclass(frozen=True, eq=False, slots=True)
class Compared:
    """One column of the comparison; `gains` against the first case, `own_mesh` if its geometry is another one."""

    variant: Variant
    model: TubModel
    findings: Findings
    gains: tuple[Gain, ...]
    cost: Cost
    own_mesh: bool


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
            found.append(Variant(text, (f"--{flag} {text}",), change_case(case, **{flag: [text]})))
    return tuple(found)


def compare(
    base: Case, variants: Sequence[Variant], *, stages: Stages | None = None, pool: Pool = SERIAL
) -> tuple[Compared, ...]:
    """Run the base and every variant; the base comes first.

    A variant with the geometry of the base is laid on the base's mesh, so that differences are not those of two
    meshes; any other gets a mesh of its own. Variants are run by the workers of `pool`.

    Raises
    ------
    CaseError, MeshError, SolveError
        As `run_case`, each message with its variant's name before it.
    """
    stages = stages or Stages()
    model, _, before = run_case(base, stages=stages)
    found = [Compared(Variant("base", (), base), model, before, (), laid_cost(model), own_mesh=False)]
    shared = {k: same_geometry(base, variant.case) for k, variant in enumerate(variants)}
    items = {f"variant {k + 1}, {variant.name}": (variant, shared[k]) for k, variant in enumerate(variants)}
    with stages("variants"):
        runs = do_all(pool, _run_variant, (base, model.mesh), items, tell=stages.tell)
    for (variant, on_base), (own, findings) in zip(items.values(), runs.values(), strict=True):
        found.append(Compared(variant, own, findings, gains(before, findings), laid_cost(own), own_mesh=not on_base))
    return tuple(found)


def _run_variant(shared: tuple[Case, TubMesh], item: tuple[Variant, bool]) -> tuple[TubModel, Findings]:
    (base, mesh), (variant, on_base) = shared, item
    reference = base if on_base or variant.case.path == base.path else variant.case
    try:
        model, _, findings = run_case(variant.case, base=reference, mesh=mesh if on_base else None)
    except TubfemError as error:
        raise type(error)([f"{variant.name}: {message}" for message in error.messages]) from error
    return model, findings


def same_geometry(one: Case, other: Case) -> bool:
    """Whether two cases can share a mesh: equal shapes, mounts and mesh size, and the same regions."""
    return one.layups.keys() == other.layups.keys() and all(
        getattr(one, name) == getattr(other, name) for name in GEOMETRY
    )


def gain_per_price(base: Compared, other: Compared, gain: Gain) -> float | None:
    """Stiffness won for each unit of money added [N·m/deg]; None where a price is missing or nothing is added."""
    before, now = base.cost.single, other.cost.single
    if before is None or now is None or before[1] != now[1] or now[0] <= before[0]:
        return None
    return gain.gain_Nm_per_deg / (now[0] - before[0])
