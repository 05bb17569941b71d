"""How steeply plies end one after another, and which of them end more steeply than common practice."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from tubfem.case.regions import bay_region, regions
from tubfem.case.schema import Case
from tubfem.tub.plies import Layer, entry_plies, patch_plies
from tubfem.tub.tapers import more_plies

STEEP, ALONG = 10.0, 20.0  # length over thickness of a ply's step, everywhere and along the main load; second-hand
ROUND = 1e-9


@dataclass(frozen=True, slots=True)
class Drop:
    """Plies that end beside each other: what they are, how many, how the case says how far apart they end.

    `step` is the least distance between the ends of two of them and `thickness` that of the ply that ends there [m].
    """

    what: str
    plies: int
    step: float
    thickness: float
    remedy: str

    @property
    def slope(self) -> float:
        """Length over height of the steepest step."""
        return self.step / self.thickness

    @property
    def words(self) -> str:
        """In one line."""
        height = f"{1e3 * self.thickness:.2g} mm"
        if self.step < ROUND:
            return f"{self.what}: {self.plies} plies end together, {height} each"
        return (
            f"{self.what}: {self.plies} plies end {1e3 * self.step:.3g} mm apart, 1 in {self.slope:.3g} ({height} each)"
        )


def ply_drops(case: Case) -> tuple[Drop, ...]:
    """Every lap, patch and taper of two plies and more; what ends with one ply has no step to choose."""
    found = [*_laps(case), *_tapers(case), *_patches(case)]
    return tuple(dict.fromkeys(drop for drop in found if drop.plies > 1))


def steep_drops(case: Case) -> tuple[str, ...]:
    """Cautions for plies that end more steeply than 1 in 10."""
    found = []
    for drop in ply_drops(case):
        if drop.slope < STEEP - ROUND:
            least, flat = (ceil(1e3 * slope * drop.thickness - ROUND) for slope in (STEEP, ALONG))
            found.append(
                f"{drop.words}; 1 in {STEEP:g} is common practice, 1 in {ALONG:g} along the main load: "
                f"{drop.remedy} of {least} to {flat} mm"
            )
    return tuple(found)


def _laps(case: Case) -> Iterator[Drop]:
    for region in regions(case):
        layup = case.layups.get(region)
        if layup is None:
            continue
        laid = entry_plies(case, layup.stack, label=region, layup=layup)
        for plies, entry in zip(laid, layup.stack, strict=True):
            if entry.laps:
                what = f"lap of {region} {plies[0][0].entry} on {', '.join(entry.laps)}"
                yield Drop(what, len(plies), entry.stagger, _thickness(plies[0]), "a stagger")


def _tapers(case: Case) -> Iterator[Drop]:
    for name, section in case.sections.items():
        for bay in section.layup_from:
            if bay.taper is not None and f"{name}.{bay.wall}" not in case.without:
                plies = [ply for ply, _ in more_plies(case, name, section, bay)]
                what = f"taper of {bay_region(name, bay.wall, bay.from_, bay.to)}"
                thickness, count = max(map(_thickness, plies)), len(plies)
                yield Drop(what, count, bay.taper / count, thickness, f"a taper of {count} steps")


def _patches(case: Case) -> Iterator[Drop]:
    for name, patch in case.patches.items():
        plies = patch_plies(case, patch.ply, f"patch {name}")
        thickness = max(map(_thickness, plies))
        yield Drop(f"patch {name}", len(plies), patch.stagger, thickness, "a stagger")
    for name, mount in case.mounts.items():
        if mount.patch:
            plies = patch_plies(case, mount.patch, f"patch of {name}")
            radii = mount.patch_radius if len(mount.patch_radius) > 1 else mount.patch_radius * len(plies)
            steps = [(one - other, _thickness(ply)) for (one, other), ply in zip(pairwise(radii), plies, strict=False)]
            step, thickness = min(steps, key=lambda each: each[0] / each[1], default=(0.0, _thickness(plies[0])))
            yield Drop(f"patch of mount {name}", len(plies), step, thickness, "steps of patch_radius")


def _thickness(layers: Sequence[Layer]) -> float:
    return sum(layer.ply.thickness for layer in layers)
