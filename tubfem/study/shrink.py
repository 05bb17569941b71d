"""A reduced model small enough to be carried in a page: fewer vectors, chosen for the changes that a builder tries.

The reduced model answers a few hundred likely changes from both sides; of those answers the directions that matter
most are kept (a proper orthogonal decomposition in the energy of the unchanged tub, in which the basis is orthonormal).
What is left is a reduced model like any other: its bracket holds, only wider.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.geometry.mesh import areas
from tubfem.laminate.ply import plane_stiffness, turned
from tubfem.study.bracket import balanced
from tubfem.study.family import COMPONENTS, Change
from tubfem.study.hot import with_fixed_lengths
from tubfem.study.laying import find_seats, lay_on
from tubfem.study.reduce import candidate_angles, faces_of
from tubfem.study.reduced import PAIRS, Reduced, galerkin, unpacked
from tubfem.study.store import Ready
from tubfem.study.threads import one_thread
from tubfem.tub.further import laid_patches
from tubfem.tub.plies import cured_layers

TRIED = 2  # plies more of every kind on either face
TOGETHER = 40  # draws of several changes at once
LEAST, MOST = 12, 64  # vectors that are kept


@one_thread
def shrink(tub: Ready, room: float) -> Ready:
    """The same tub with as many vectors as go into `room` bytes in single precision, 12 to 64 of them.

    Strains stay averaged over the lengths of the laminates as they are, for which fewer elements are enough.
    """
    reduced, hot = tub.reduced, with_fixed_lengths(tub.hot)
    regions = sum(group.kind == "region" for group in tub.family.groups)
    per_pair = 4 * (len(PAIRS) * regions + len(tub.family.groups) - regions) / 2
    followed = int(np.count_nonzero(np.diff(hot.elements.mean.indptr)))
    per_vector = 4 * (8 * followed + 2 * len(hot.near) + COMPONENTS**2 * regions)
    size = (-per_vector + np.sqrt(per_vector**2 + 4 * per_pair * room)) / (2 * per_pair)
    size = int(np.clip(size, LEAST, min(MOST, reduced.size)))
    Q = _directions(reduced, list(_trials(tub)), size)
    small = truncated(reduced, Q)
    own = np.asarray((hot.own @ Q).astype(np.float32), dtype=float)
    outputs = replace(tub.outputs, curve=tub.outputs.curve @ Q, forces=tub.outputs.forces @ Q)
    return replace(tub, reduced=small, hot=replace(hot, own=own), outputs=outputs, twisted=None)


def truncated(reduced: Reduced, Q: Floats) -> Reduced:
    """The reduced model in the basis Q (n, m), orthonormal, of the old one; what is large in single precision."""
    n, lower = reduced.size, np.tril_indices(Q.shape[1])
    groups = tuple(
        replace(
            group,
            P=np.array([(Q.T @ unpacked(row, n) @ Q)[lower] for row in group.P], dtype=np.float32),
            mixed=np.asarray((group.mixed @ Q).astype(np.float32), dtype=float),
        )
        for group in reduced.groups
    )
    return replace(
        reduced,
        groups=groups,
        load=Q.T @ reduced.load,
        alpha=reduced.alpha @ Q,
        loaded=reduced.loaded @ Q,
        unchanged=Q.T @ reduced.unchanged @ Q,
    )


def _directions(reduced: Reduced, changes: list[Change], size: int) -> Floats:
    """Orthonormal columns (n, size): the unchanged tub's own answer first, then what most answers have in common."""
    answers = []
    for change in changes:
        answers.append(galerkin(reduced, change))
        other = balanced(reduced, change)
        if other is not None:
            answers.append(other)
    first = reduced.load / np.linalg.norm(reduced.load)
    together = np.stack(answers, axis=1)
    together = together / np.linalg.norm(together, axis=0)
    together -= np.outer(first, first @ together)
    most, _, _ = np.linalg.svd(together, full_matrices=False)
    return np.column_stack([first, most[:, : size - 1]])


def _trials(tub: Ready) -> Iterator[Change]:
    """Plies more on either face of every region and on every patch, every joint twice as stiff, and several at once."""
    family, case = tub.family, tub.model.case
    single: list[Change] = []
    for region in dict.fromkeys(group.name for group in family.groups if group.kind == "region"):
        numbers = family.named("region", region)
        layup = case.layups[region]
        for ply in case.plies:
            angles = candidate_angles(case, region, ply)
            for angle in dict.fromkeys((angles[0], angles[-1])):
                layers = cured_layers(case, ply, layup)
                Q = sum(p.thickness * turned(plane_stiffness([p]), np.array([angle + a]))[0] for a, p in layers)
                for z in faces_of(tub.model, region):
                    D = _thin(TRIED * Q, z, tub.state.shell.drilling)
                    single.append(dict.fromkeys(numbers, D))
    for kind, name in dict.fromkeys((group.kind, group.name) for group in family.groups if group.kind != "region"):
        single.append(dict.fromkeys(family.named(kind, name), np.ones((1, 1))))
    for name, laid in laid_patches(case).items():
        seats = find_seats(tub.model, family, areas(tub.model.mesh), f"patch:{name}")
        single += [lay_on(tub.model, seats, [f"patch:{name}={laid.entries[-1].name}*{n}"]).change for n in (1, TRIED)]
    yield from single
    rng = np.random.default_rng(0)
    for _ in range(TOGETHER):
        total: dict[int, Floats] = {}
        for k in rng.integers(len(single), size=4):
            for group, dC in single[k].items():
                total[group] = total.get(group, 0.0) + rng.uniform(0.3, 1.5) * dC
        yield total


def _thin(Q: Floats, z: float, drilling: float) -> Floats:
    """Stiffness (9, 9) of a thin layer of membrane stiffness Q (3, 3) [N/m] at z [m]."""
    D = np.zeros((COMPONENTS, COMPONENTS))
    D[:6, :6] = np.block([[Q, z * Q], [z * Q, z**2 * Q]])
    D[8, 8] = drilling * Q[2, 2]
    return D
