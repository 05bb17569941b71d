"""Full solutions for the reduced model, where it is least sure of itself."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from tubfem.study.bracket import bracket
from tubfem.study.executors import SERIAL, Pool, do_all
from tubfem.study.family import Change
from tubfem.study.hot import lowest_margin
from tubfem.study.reduce import snapshot, twist_tub, with_solutions
from tubfem.study.reduced import galerkin
from tubfem.study.store import Ready, keep, make_ready

NARROW = 1e-3  # of the tub's stiffness: a bracket as narrow as this needs no snapshot
FINE = 5e-4  # the same where the region that governs changes: a strain is off by more than the whole tub
MOST = 12  # snapshots of one tub
ROUND = 4  # snapshots between two looks at all brackets


def enriched(
    tub: Ready,
    changes: Sequence[Change],
    *,
    narrow: float | Sequence[float] = NARROW,
    most: int = MOST,
    folder: Path | None = None,
    pool: Pool = SERIAL,
) -> Ready:
    """The tub with snapshots of its own where the brackets of `changes` are widest, until all are narrow.

    Parameters
    ----------
    narrow
        Width of a bracket as a share of the tub's stiffness, of all or of each.
    most
        How many snapshots the tub may have in all, those included that it has already.
    folder
        Where the richer reduced model is kept.
    pool
        Where snapshots are solved, those of a round at once.
    """
    while len(tub.snapshots) < most:
        chosen = _widest(tub, changes, narrow, min(ROUND, most - len(tub.snapshots)))
        if not chosen:
            break
        tub = with_solved(tub, {f"snapshot {k}": changes[k] for k in chosen}, folder=folder, pool=pool)
    return tub


def enriched_for_margins(
    tub: Ready, changes: Sequence[Change], *, folder: Path | None = None, pool: Pool = SERIAL
) -> Ready:
    """`enriched`, with brackets half as wide where the region of the lowest margin changes."""
    region = lowest_margin(tub.hot, galerkin(tub.reduced, {}), {})[1]
    own = set(tub.family.named("region", region))
    narrow = [NARROW if own.isdisjoint(change) else FINE for change in changes]
    return enriched(tub, changes, narrow=narrow, folder=folder, pool=pool)


def with_solved(tub: Ready, changes: Mapping[str, Change], *, folder: Path | None = None, pool: Pool = SERIAL) -> Ready:
    """The tub with a snapshot of each of the changes, which have names; arguments as of `enriched`."""
    twisted = tub.twisted
    if twisted is None:
        twisted = with_solutions(twist_tub(tub.model, tub.setup.name), tub.snapshots)
    shared = tub.family, tub.state.shell, tub.setup.column
    solved = do_all(pool, snapshot, shared, changes)
    tub = make_ready(with_solutions(twisted, list(solved.values())))
    if folder is not None:
        keep(tub, folder)
    return tub


def _widest(tub: Ready, changes: Sequence[Change], narrow: float | Sequence[float], room: int) -> list[int]:
    """Changes whose brackets are most too wide and that move the tub in ways of their own, `room` at most."""
    width = np.array([(high - low) / tub.stiffness for low, high in (bracket(tub.reduced, c) for c in changes)])
    width /= narrow
    open_ones = np.flatnonzero(width > 1)
    rest = galerkin(tub.reduced, {})
    moved = np.array([galerkin(tub.reduced, changes[k]) - rest for k in open_ones.tolist()])
    worth, chosen = width[open_ones], []
    while len(chosen) < room and len(worth) and worth.max() > 1:
        pick = int(worth.argmax())
        chosen.append(int(open_ones[pick]))
        length = np.linalg.norm(moved, axis=1) * np.linalg.norm(moved[pick])
        alike = np.abs(moved @ moved[pick]) / np.maximum(length, 1e-300)
        worth = worth * (1 - np.minimum(alike, 1.0) ** 2)
    return chosen
