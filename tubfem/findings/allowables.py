"""What stands between a material's limit and an allowable: knock-downs and required factors of the case."""

from dataclasses import dataclass

from tubfem.case.loads import Margins
from tubfem.findings.results import Factor
from tubfem.materials.knockdowns import default_knockdowns, knockdown, mode_factors, required, voids, with_coupons

FIRST_DAMAGE, FIBRE, CORE, BUCKLING = "first damage", "fibre failure", "core and stability", "panel buckling"
BONDS = "bonds and bolts"
INTERLAMINAR = "interlaminar shear"
TUBE_YIELD, TUBE_BUCKLING = "tube yield", "tube buckling"
CLASS_RULE = Factor(
    "required",
    "wrinkling, class rule",
    1.0,
    ("wrinkling, class rule",),
    "0.3 (Ef Ec Gc)^(1/3) is already a design stress",
    "Korean Register GC-06-E (2025) for 0.3; that it needs no further factor: from memory",
)


@dataclass(frozen=True, slots=True)
class Allowables:
    """Factors of a case.

    `knock_down` maps each failure mode to the product of its knock-downs; `required` maps "first damage", "fibre
    failure", "bonds and bolts", "core and stability", "panel buckling", "tube yield" and "tube buckling" to the
    reserve factor asked; `factors` lists all of them for the reader.
    """

    knock_down: dict[str, float]
    required: dict[str, float]
    factors: tuple[Factor, ...]
    criterion: str = "maximum strain"  # of the plies


def allowables(margins: Margins) -> Allowables:
    """Knock-downs and required factors: those of the case, else the library's.

    Raises
    ------
    CaseError
        If the case names a knock-down that the library does not have, or its coupons or voids leave nothing.
    """
    chosen = default_knockdowns() if margins.knockdowns is None else tuple(map(knockdown, margins.knockdowns))
    if margins.coupons is not None:
        chosen = with_coupons(chosen, margins.coupons.count, margins.coupons.scatter, margins.coupons.modes)
    if margins.voids is not None:
        chosen = (*chosen, voids(margins.voids))
    factors = [Factor("knock-down", k.name, k.factor, k.modes, k.why, k.source) for k in chosen]
    asked = {
        FIRST_DAMAGE: margins.first_damage_factor,
        FIBRE: margins.fibre_factor,
        BONDS: margins.bond_factor,
        CORE: margins.core_factor,
        BUCKLING: margins.buckling_factor,
        TUBE_YIELD: margins.tube_factor,
        TUBE_BUCKLING: margins.tube_buckling_factor,
    }
    needed = {}
    for entry in required():
        if entry.name not in asked:
            continue
        own = asked[entry.name]
        needed[entry.name] = entry.factor if own is None else own
        why, source = (entry.why, entry.source) if own is None else ("asked in the case", "the case's [margins]")
        factors.append(Factor("required", entry.name, needed[entry.name], (entry.name,), why, source))
    for name, value in margins.required.items():
        needed[name] = value
        factors.append(Factor("required", name, value, (name,), "asked in the case", "the case's [margins.required]"))
    return Allowables(mode_factors(chosen), needed, (*factors, CLASS_RULE), margins.criterion)
