"""Which stack lies on every element: the region's own, and over parts of it laps, patches and strips."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.expansion import Expansion
from tubfem.case.schema import Case
from tubfem.case.sections import expand
from tubfem.errors import CaseError
from tubfem.geometry.mesh import TubMesh
from tubfem.laminate.stack import Stack, make_stack, mass_moments
from tubfem.materials import library
from tubfem.materials.ply import solid_ply
from tubfem.tub.cover import CELLS, Cells, covered_cells, element_cells
from tubfem.tub.fill import with_fill
from tubfem.tub.laps import Cover, lap_covers, laps
from tubfem.tub.model import LayupField
from tubfem.tub.mounts import mount_covers, strip_covers
from tubfem.tub.patches import patch_covers
from tubfem.tub.plies import OUTSIDE, Layer, base_stacks, base_thickness, laid_on
from tubfem.tub.tapers import tapers


@dataclass(slots=True)
class _Found:
    """Distinct stacks and mixtures as they turn up."""

    stacks: list[Stack] = field(default_factory=list)
    entries: list[tuple[str, ...]] = field(default_factory=list)
    number: dict[tuple, int] = field(default_factory=dict)
    mixtures: dict[tuple[tuple[int, int], ...], int] = field(default_factory=dict)

    def stack(self, layers: Sequence[Layer], tool_z: float) -> int:
        """Number of the stack of these layers, a new one if need be."""
        stack = make_stack([(layer.angle, layer.ply) for layer in layers], tool_z=tool_z)
        texts = tuple(layer.text for layer in layers)
        key = (stack.key(), texts)
        if key not in self.number:
            self.number[key] = len(self.stacks)
            self.stacks.append(stack)
            self.entries.append(texts)
        return self.number[key]

    def mixture(self, parts: Sequence[int]) -> int:
        """Number of the mixture of these stacks, one for each cell of an element."""
        stacks, counts = np.unique(parts, return_counts=True)
        key = tuple(zip(stacks.tolist(), counts.tolist(), strict=True))
        return self.mixtures.setdefault(key, len(self.mixtures))


def lay_plies(
    case: Case,
    mesh: TubMesh,
    thickness: dict[str, float] | None = None,
    whole: Expansion | None = None,
    *,
    further: int = 0,
) -> LayupField:
    """Stacks of every element of the mesh.

    Parameters
    ----------
    case
        With its changes, if there are any.
    mesh
        Meshed on the surface that the unchanged case asked for; `Panel.shift` says where its tool face is.
    thickness
        Thickness by region [m] that the mesh was moved by, from `base_thickness` of the unchanged case; this case's
        own by default.
    whole
        The case expanded with that thickness, where that is done already.
    further
        How many further plies of every patch are marked, by a layer in the place of each (`tub.further`).

    Raises
    ------
    CaseError
        A panel's region has no layup, a material is unknown, or a lap, patch or strip cannot be placed.
    """
    stacks = base_stacks(case)
    missing = sorted({panel.region for panel in mesh.panels} - set(stacks))
    if missing:
        raise CaseError([f'region "{region}" has no layup; add layups.{region}' for region in missing])
    covers = lap_covers(mesh, laps(case, mesh, stacks) + tapers(case, mesh)) + mount_covers(case, mesh, further)
    if case.patches:
        covers += patch_covers(case, mesh, whole or expand(case, thickness or base_thickness(case)), further)
    covers += strip_covers(case, mesh)
    cells = element_cells(mesh)
    by_panel = defaultdict(list)
    for cover in covers:
        by_panel[cover.panel].append(cover)
    found, notes = _Found(), []
    mixture = np.zeros(mesh.element_count, dtype=np.int64)
    for index, panel in enumerate(mesh.panels):
        elements = np.flatnonzero(mesh.element_panel == index)
        base, tool_z = laid_on(stacks[panel.region], panel)
        parts, words = _lay_panel(mesh, cells, elements, base, tool_z, by_panel[index], found)
        first, back = distinct_rows(np.sort(parts, axis=1))
        mixture[elements] = np.array([found.mixture(parts[row]) for row in first], dtype=np.int64)[back]
        notes += words
    mixtures = list(found.mixtures)
    layup = LayupField(
        stacks=tuple(found.stacks),
        mixture_stacks=tuple(tuple(stack for stack, _ in parts) for parts in mixtures),
        mixture_weights=tuple(tuple(count / CELLS for _, count in parts) for parts in mixtures),
        mixture=frozen(mixture),
        stack_entries=tuple(found.entries),
        notes=tuple(notes),
    )
    return with_fill(case, mesh, layup)


def _lay_panel(
    mesh: TubMesh,
    cells: Cells,
    elements: Ints,
    base: list[Layer],
    tool_z: float,
    covers: list[Cover],
    found: _Found,
) -> tuple[Ints, list[str]]:
    """Stack of every cell (m, 16) of a panel's elements, and the covered areas in words."""
    covered = np.zeros((len(covers), len(elements) * CELLS), dtype=bool)
    notes = []
    for row, cover in enumerate(covers):
        mask, area, _ = covered_cells(mesh, cells, elements, cover.field)
        covered[row] = mask.ravel()
        notes.append(f"{cover.label}: {1e4 * area:.1f} cm²")
    first, back = distinct_rows(np.packbits(covered, axis=0).T)
    number = [
        found.stack(stack_layers(base, [cover for cover, on in zip(covers, pattern, strict=True) if on]), tool_z)
        for pattern in covered[:, first].T
    ]
    return np.array(number, dtype=np.int64)[back].reshape(-1, CELLS), notes


def distinct_rows(table: np.ndarray) -> tuple[Ints, Ints]:
    """Where each distinct row of a table (m, n) first stands, and which of them every row is (m,)."""
    rows = np.ascontiguousarray(table)
    if rows.shape[1] == 0:
        return np.zeros(1, dtype=np.int64), np.zeros(len(rows), dtype=np.int64)
    _, first, back = np.unique(
        rows.view(f"V{rows.itemsize * rows.shape[1]}").ravel(), return_index=True, return_inverse=True
    )
    return first, back.ravel()


def stack_layers(base: Sequence[Layer], covers: Sequence[Cover]) -> list[Layer]:
    """Layers where these covers lie, tool face first; covers at one place lie in their own order."""
    replaced = [cover.core for cover in covers if cover.core is not None]
    numbers = [layer.entry for layer in base]
    ends = {number: position for position, number in enumerate(numbers) if number > 0}
    after: dict[int, list[Layer]] = defaultdict(list)
    for cover in covers:
        under = [number for number in ends if cover.over is not None and number <= cover.over]
        top = len(base) - 1 if cover.over is None else ends[max(under)] if under else numbers.count(OUTSIDE) - 1
        after[top].extend(cover.layers)
    layers = list(after[-1])
    for position, layer in enumerate(base):
        layers.append(_replaced_core(layer, replaced[-1]) if replaced and layer.ply.core else layer)
        layers.extend(after[position])
    return layers


def _replaced_core(layer: Layer, material: str) -> Layer:
    ply = solid_ply(library.solid(material), layer.ply.thickness)
    return replace(layer, ply=ply, text=f"insert of {material}")


def layup_mass(layup: LayupField) -> Floats:
    """Mass per area and its first and second moments of every mixture (m, 3) [kg/m², kg/m, kg], foam inside counted."""
    moments = mixed(layup, np.array([mass_moments(stack) for stack in layup.stacks]))
    if layup.filling:
        moments[:, 0] += layup.filling
    return moments


def mixed(layup: LayupField, per_stack: Floats) -> Floats:
    """Area-weighted mean (m, ...) over the stacks of every mixture of a quantity (s, ...) per stack."""
    row = np.repeat(np.arange(len(layup.mixture_stacks)), [len(stacks) for stacks in layup.mixture_stacks])
    weights = np.zeros((len(layup.mixture_stacks), len(layup.stacks)))
    weights[row, np.concatenate(layup.mixture_stacks)] = np.concatenate(layup.mixture_weights)
    flat = per_stack.reshape(len(layup.stacks), -1)
    return (weights @ flat).reshape(len(weights), *per_stack.shape[1:])


def panel_mass(mesh: TubMesh, layup: LayupField) -> dict[str, float]:
    """Mass [kg] of every panel by its name."""
    mass = element_cells(mesh).area * layup_mass(layup)[layup.mixture, 0]
    total = np.bincount(mesh.element_panel, mass, minlength=len(mesh.panels))
    return {panel.name: float(value) for panel, value in zip(mesh.panels, total, strict=True)}


def region_mass(mesh: TubMesh, layup: LayupField) -> dict[str, float]:
    """Mass [kg] of every region, both sides together."""
    masses: dict[str, float] = defaultdict(float)
    for panel, mass in zip(mesh.panels, panel_mass(mesh, layup).values(), strict=True):
        masses[panel.region] += mass
    return dict(masses)
