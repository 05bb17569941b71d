"""The case's cloths and cores as cured layers, and every region's stack in laying order."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import degrees, exp, inf

from tubfem.case.schema import Case
from tubfem.case.stuff import Core as CoreTable
from tubfem.case.stuff import Layup, StackEntry
from tubfem.case.stuff import Ply as PlyTable
from tubfem.errors import CaseError
from tubfem.geometry.mesh import Panel
from tubfem.materials import library
from tubfem.materials.cloth import Cloth, make_plies
from tubfem.materials.library import Resin
from tubfem.materials.micromechanics import mass_fraction
from tubfem.materials.ply import LIMITS, STRENGTHS, CorePly, Ply, core_ply

CONSTANTS = ("E1", "E2", "G12", "nu12", "G13", "G23", "thickness")
ADDED, OUTSIDE = 0, -1
MARK = "\0"  # begins the text of what marks a place in a stack
LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class Layer:
    """One cured layer: angle [rad] from its panel's zero (unmirrored), ply, number of its entry, its text.

    Entries of the case count from 1 at the tool face. What a change added has number `ADDED`, or `OUTSIDE` if it lies
    beyond the tool face.
    """

    angle: float
    ply: Ply | CorePly
    entry: int
    text: str


def base_stacks(case: Case) -> dict[str, tuple[Layer, ...]]:
    """Layers of every region in laying order, tool face first.

    Raises
    ------
    CaseError
        A material is not in the library, or a ply lacks a number; all faults together.
    """
    stacks, faults = {}, []
    for region, layup in case.layups.items():
        try:
            stacks[region] = entry_layers(case, layup.stack, layup=layup, label=region)
        except CaseError as error:
            faults += error.messages
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))
    return stacks


def laid_on(layers: Sequence[Layer], panel: Panel) -> tuple[list[Layer], float]:
    """Layers of a region as they lie on one of its panels, and where the first of them begins above the surface [m]."""
    outside = sum(layer.ply.thickness for layer in layers if layer.entry == OUTSIDE)
    sign = -1 if panel.mirrored else 1
    return [replace(layer, angle=sign * layer.angle) for layer in layers], -panel.shift - outside


def base_thickness(case: Case) -> dict[str, float]:
    """Thickness [m] of every region's own stack, laps and patches not counted."""
    return {region: sum(layer.ply.thickness for layer in stack) for region, stack in base_stacks(case).items()}


def entry_layers(
    case: Case, entries: Sequence[StackEntry], *, label: str, layup: Layup | None = None
) -> tuple[Layer, ...]:
    """Layers of stack entries in laying order; as `entry_plies`."""
    found = entry_plies(case, entries, label=label, layup=layup)
    return tuple(layer for plies in found for ply in plies for layer in ply)


def entry_plies(
    case: Case, entries: Sequence[StackEntry], *, label: str, layup: Layup | None = None
) -> list[list[tuple[Layer, ...]]]:
    """Layers of every ply (or core) of every stack entry, laid as `layup` is, or as the defaults say without one.

    Entries are numbered from 1; an entry of several plies has its plies lettered (2a, 2b).
    """
    found: list[list[tuple[Layer, ...]]] = []
    for number, entry in zip(entry_numbers(entries), entries, strict=True):
        written = f"{number}" if number > 0 else "+"
        if entry.thickness is not None:
            core = _core(case, entry.name, entry.thickness)
            text = f"{label} {written} {entry.name} {1e3 * entry.thickness:g} mm"
            found.append([(Layer(0.0, core, number, text),)])
            continue
        cured = cured_layers(case, entry.name, layup)
        plies = []
        for count in range(entry.count):
            place = f"{label} {written}{LETTERS[count % 26] if entry.count > 1 else ''} {entry.name}"
            angles = [(entry.angle + angle, ply) for angle, ply in cured]
            plies.append(tuple(Layer(a, ply, number, f"{place} {round(degrees(a), 3):+g}") for a, ply in angles))
        found.append(plies)
    return found


def patch_plies(case: Case, entries: Sequence[StackEntry], label: str) -> list[tuple[Layer, ...]]:
    """Layers of every ply of a patch."""
    return [ply for plies in entry_plies(case, entries, label=label) for ply in plies]


def marked(plies: Sequence[tuple[Layer, ...]], label: str, step: int) -> tuple[Layer, ...]:
    """What marks where plies of a patch begin (step 0) or would go on (1, 2, ...), instead of a ply."""
    return (replace(plies[0][0], angle=1.0, text=f"{MARK}{step} {label}"),)


def entry_numbers(entries: Sequence[StackEntry]) -> list[int]:
    """Number of every entry: the case's own in order from 1, `ADDED` or `OUTSIDE` for what a change added."""
    numbers, last = [], 0
    for entry in entries:
        if entry.added is None:
            last += 1
            numbers.append(last)
        else:
            numbers.append(OUTSIDE if entry.added == "tool" else ADDED)
    return numbers


def cured_layers(case: Case, name: str, layup: Layup | None, *, drier: float = 0.0) -> tuple[tuple[float, Ply], ...]:
    """(angle from the roll [rad], layer) of one cloth or ply of the case, laid in a region.

    The region's fibre fraction wins over the ply's, the region's process over the ply's; a fraction over a process.
    `drier` is added to the logarithm of fibre over resin by mass; a measured thickness leaves no room for it.
    """
    table = case.plies[name]
    try:
        if not table.is_cloth:
            return ((0.0, _direct_ply(name, table)),)
        resin_name = table.resin or case.defaults.resin
        if resin_name is None:
            raise CaseError('no resin; write resin = "..." here or under [defaults]')
        fibre, resin = library.fibre(table.fibre), library.resin(resin_name)
        cloth = Cloth(name, fibre, library.architecture(table.architecture), table.areal_weight)
        coupons = {
            field: value for field in (*CONSTANTS, *LIMITS, *STRENGTHS, "S13") if (value := getattr(table, field))
        }
        if table.density is not None:
            coupons["rho"] = table.density
        fraction = table.mass_fraction
        volume = (layup.fibre_fraction if layup else None) or (
            (table.fibre_fraction or case.defaults.fibre_fraction) if fraction is None else None
        )
        if volume is not None:
            fraction = mass_fraction(volume, fibre.density, resin.density)
        if table.thickness is not None:
            fraction = None
        process = (layup.process if layup else None) or table.process or case.defaults.process
        if drier and table.thickness is None:
            if fraction is None:
                fraction, _ = library.mass_fraction(fibre, cloth.architecture, process)
            fraction = 1 / (1 + (1 - fraction) / fraction * exp(-drier))
        return _cured(cloth, resin, process, fraction, tuple(coupons.items()))
    except CaseError as error:
        raise CaseError([case.message(("plies", name), message) for message in error.messages]) from None


@lru_cache(maxsize=1024)
def _cured(
    cloth: Cloth, resin: Resin, process: str | None, fraction: float | None, coupons: tuple[tuple[str, float], ...]
) -> tuple[tuple[float, Ply], ...]:
    """Layers of a cloth, kept: a case asks for the same few thousands of times."""
    return make_plies(cloth, resin=resin, process=process, fibre_fraction=fraction, coupons=dict(coupons))


def _direct_ply(name: str, table: PlyTable) -> Ply:
    """A ply given by its constants. Without them G13 is G12 and G23 0.7 G12, as for a unidirectional layer."""
    if table.E is not None:
        E1 = E2 = table.E
        G12 = table.E / (2 * (1 + table.nu))
        nu12, G13, G23 = table.nu, table.G13 or G12, table.G23 or G12
    else:
        E1, E2, G12, nu12 = table.E1, table.E2, table.G12, table.nu12
        G13, G23 = table.G13 or G12, table.G23 or 0.7 * G12
    moduli = (E1, E1, E2, E2, G12)
    limits = {}
    for field, strength, modulus in zip(LIMITS, STRENGTHS, moduli, strict=True):
        X = getattr(table, strength)
        limits[field] = getattr(table, field) or (X / modulus if X is not None else inf)
    kind = "isotropic" if table.E is not None else "unidirectional"
    given = tuple((field, "case file") for field in (*CONSTANTS, "rho", *LIMITS, "S13"))
    density = table.density or 0.0
    limits["S13"] = inf if table.S13 is None else table.S13
    return Ply(name, kind, E1, E2, G12, nu12, G13, G23, table.thickness, density, **limits, sources=given)


def _core(case: Case, name: str, thickness: float) -> CorePly:
    table = case.cores[name]
    try:
        if table.material is None:
            return _direct_core(name, table, thickness)
        core = replace(core_ply(library.core(table.material), thickness, table.density), name=name)
    except CaseError as error:
        raise CaseError([case.message(("cores", name), message) for message in error.messages]) from None
    own = {
        "E1": table.E,
        "E2": table.E,
        "nu12": table.nu,
        "Ec": table.Ez,
        "G13": table.G13 or table.G,
        "G23": table.G23 or table.G,
        "shear_strength": table.shear_strength,
        "shear_strength_across": table.shear_strength_across or table.shear_strength,
        "cell": table.cell,
        "compressive_strength": table.compressive_strength,
    }
    given = {field: value for field, value in own.items() if value is not None}
    if "E1" in given or "nu12" in given:
        E, nu = given.get("E1", core.E1), given.get("nu12", core.nu12)
        given["G12"] = E / (2 * (1 + nu))
    words = {**dict(core.sources), **dict.fromkeys(given, "case file")}
    return replace(core, **given, sources=tuple(words.items()))


def _direct_core(name: str, table: CoreTable, thickness: float) -> CorePly:
    """A core given by its constants: isotropic in its plane, nu 0.3 unless given."""
    nu = 0.3 if table.nu is None else table.nu
    G13, G23 = table.G13 or table.G, table.G23 or table.G
    return CorePly(
        name,
        table.E,
        table.E,
        table.E / (2 * (1 + nu)),
        nu,
        G13,
        G23,
        thickness,
        table.density,
        table.Ez or table.E,
        table.shear_strength or inf,
        table.compressive_strength or inf,
        sources=(("E1", "case file"), ("G13", "case file"), ("G23", "case file"), ("rho", "case file")),
        shear_strength_across=table.shear_strength_across,
        cell=table.cell,
    )
