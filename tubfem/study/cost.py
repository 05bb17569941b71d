"""What the laid cloth and cores of a tub cost: net areas, no offcuts, no resin or filler beyond what a price says."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.case.stuff import Core, Ply, Price
from tubfem.errors import CaseError
from tubfem.tub.cover import element_cells
from tubfem.tub.fillets import tab_area
from tubfem.tub.layup import mixed
from tubfem.tub.model import TubModel
from tubfem.tub.plies import cured_layers

SAME = 1e-9  # of an area or a sum: nothing else is laid


@dataclass(frozen=True, slots=True)
class Cost:
    """Money by currency for what has a price; `unpriced` has the area [m²] of each ply and core that has none."""

    amounts: dict[str, float]
    unpriced: dict[str, float]

    def beyond(self, other: "Cost") -> tuple[float, str] | None:
        """Money more than `other` and its currency; None where what has no price differs, or two currencies do."""
        for name in self.unpriced | other.unpriced:
            own, before = self.unpriced.get(name, 0.0), other.unpriced.get(name, 0.0)
            if abs(own - before) > SAME * max(own, before):
                return None
        more = {
            name: self.amounts.get(name, 0.0) - other.amounts.get(name, 0.0) for name in self.amounts | other.amounts
        }
        changed = [(amount, name) for name, amount in more.items() if abs(amount) > SAME * self.amounts.get(name, 0.0)]
        return changed[0] if len(changed) == 1 else None


def price_per_area(table: Ply | Core) -> tuple[float, str] | None:
    """Price of one square metre of a cloth or core and its currency; None where that cannot be told.

    A price by the metre needs the roll's width, one by the kilogram the dry cloth's weight; one by the sheet has no
    area.
    """
    price: Price | None = table.price
    if price is None:
        return None
    if price.per == "m^2":
        return price.amount, price.currency
    if price.per == "m" and getattr(table, "roll_width", None) is not None:
        return price.amount / table.roll_width, price.currency
    if price.per == "kg" and getattr(table, "areal_weight", None) is not None:
        return price.amount * table.areal_weight, price.currency
    return None


def refuse_mixed_prices(case: Case, names: Iterable[str]) -> None:
    """Raise a CaseError if the prices of plies are in several currencies, so that they cannot be added or compared."""
    prices = [price_per_area(case.plies[name]) for name in names]
    if len(found := sorted({price[1] for price in prices if price is not None})) > 1:
        raise CaseError(f"prices in {' and '.join(found)} cannot be set against each other; write all in one currency")


def laid_areas(model: TubModel) -> dict[str, float]:
    """Area [m²] laid of every ply and core of the case, laps, patches and tabs counted."""
    names = [*model.case.plies, *model.case.cores]
    layers = {name: len(cured_layers(model.case, name, None)) for name in model.case.plies}
    counts = np.array(
        [
            [sum(ply.name == name for ply in stack.plies) / layers.get(name, 1) for name in names]
            for stack in model.layup.stacks
        ]
    )
    per_element = mixed(model.layup, counts)[model.layup.mixture]
    total = element_cells(model.mesh).area @ per_element
    found = {name: float(area) for name, area in zip(names, total, strict=True)}
    for ties in model.joints:
        kind = kind_named(model.case, ties.means)
        for entry in kind.tab:
            found[entry.name] += entry.count * tab_area(kind, ties)
    return {name: area for name, area in found.items() if area > 0}


def laid_cost(model: TubModel) -> Cost:
    """Cost of everything laid."""
    amounts: dict[str, float] = {}
    unpriced: dict[str, float] = {}
    for name, area in laid_areas(model).items():
        price = price_per_area(_table(model.case, name))
        if price is None:
            unpriced[name] = area
        else:
            amounts[price[1]] = amounts.get(price[1], 0.0) + area * price[0]
    return Cost(amounts, unpriced)


def _table(case: Case, name: str) -> Ply | Core:
    return case.plies[name] if name in case.plies else case.cores[name]
