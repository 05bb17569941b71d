"""Choices of whole plies as a mixed-integer linear program, by cuts that every stiff enough tub must satisfy.

The work of the load f·u is the largest of 2 f·v - v K v over all motions v, so that a tub of work F at most needs
v K v >= (f·v)² / F for any v whatever. K is linear in each region's stiffness, and each choice of a region has a
stiffness of its own: in binaries that pick one choice for each region the cut is linear and exact, wherever the plies
lie in the stack. The least of the program is therefore never more than the true least (Kelley 1960, Duran and
Grossmann 1986: outer approximation).
"""

import ctypes
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from tempfile import TemporaryFile
from threading import Lock

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from tubfem.arrays import Floats
from tubfem.errors import SolveError
from tubfem.study.options import Option
from tubfem.study.reduced import Reduced, coefficients

SPARE = 1e-9  # of a stock: rounding
SHARP, LARGE, BLUNT = 1e-7, 300, 1e-3  # gap of the integer program, and of one with more choices than that
INFEASIBLE = 2  # of `milp`
SECONDS = 30.0  # for one integer program; its bound holds if it is stopped
OWN_LINES = re.compile(rb"HighsMipSolverData::[^\n]*\n")  # what HiGHS prints whatever its options
ONE_AT_A_TIME = Lock()  # descriptor 1 is the whole process's


@dataclass(frozen=True, eq=False, slots=True)
class Program:
    """Columns: one for each option, the work F as a share of the unchanged tub's, and what soft rows are exceeded by.

    `groups` (regions, o) sums the options of each region, `stock` the cloth of each ply and how much there is [m²]:
    what is taken off gives none back. `number` is the column of an option by its `id`.
    """

    options: tuple[Option, ...]
    regions: tuple[str, ...]
    groups: Floats
    stock: tuple[tuple[Floats, float], ...]
    number: dict[int, int]

    def columns(self, picks: Sequence[Option]) -> list[int]:
        """The columns of some of the options."""
        return [self.number[id(pick)] for pick in picks]

    def enough(self, picks: Sequence[Option]) -> bool:
        """Whether there is as much cloth as some of the options take."""
        at = self.columns(picks)
        return all(row[at].sum() <= area * (1 + SPARE) for row, area in self.stock)


@dataclass(frozen=True, eq=False, slots=True)
class Cut:
    """Row: energy (o,) of one motion in every option; `own` its energy without any, `work` f·v; shares of f·u0."""

    energy: Floats
    own: float
    work: float


@dataclass(frozen=True, eq=False, slots=True)
class Chosen:
    """Answer of a program: the share of every option, its value, and a bound below that of any answer."""

    x: Floats
    value: float
    bound: float


def make_program(options: Mapping[str, Sequence[Option]], left: Mapping[str, float]) -> Program:
    """The choices, one of each region, and what of each ply may be laid [m²]."""
    flat = tuple(option for own in options.values() for option in own)
    names = tuple(options)
    groups = np.array([[float(option.region == name) for option in flat] for name in names]).reshape(-1, len(flat))
    stock = tuple(
        (np.array([max(option.cloth.get(ply, 0.0), 0.0) for option in flat]), area)
        for ply, area in left.items()
        if any(ply in option.cloth for option in flat)
    )
    return Program(flat, names, groups, stock, {id(option): k for k, option in enumerate(flat)})


def make_cut(reduced: Reduced, options: Sequence[Option], b: Floats) -> Cut:
    """The cut of the motion with amounts b (n,)."""
    n = len(b)
    rows, columns = np.tril_indices(n)
    packed = b[rows] * b[columns] * np.where(rows == columns, 1.0, 2.0)
    single = packed.astype(np.float32)
    wanted = sorted({k for option in options for k in option.change})
    S = {k: (reduced.groups[k].P @ single).astype(float) for k in wanted}
    energy = [sum(coefficients(dC) @ S[k] for k, dC in option.change.items()) for option in options]
    base = reduced.base_work
    return Cut(np.array(energy, dtype=float) / base, float(b @ b) / base, float(reduced.load @ b) / base)


def least(
    program: Program,
    cost: Floats | None,
    cuts: Sequence[Cut],
    work: float | None,
    *,
    whole: bool,
    also: Sequence[tuple[Floats, float, float]] = (),
    soft: Sequence[tuple[Floats, float]] = (),
    penalty: float = 0.0,
) -> Chosen | None:
    """The choice of least cost whose work is at most `work` as far as the cuts can tell; None if there is none.

    Parameters
    ----------
    cost
        (o,) of every option; None asks for the least work instead.
    whole
        Whether options are taken whole, or may be mixed.
    also
        Further rows (o,) with their least and greatest value.
    soft
        Further rows (o,) with a greatest value, all of which may be exceeded by one amount at `penalty` for each unit.
    """
    count = len(program.options)
    rows = [np.append(row, [0.0, 0.0]) for row in program.groups]
    low, high = [1.0] * len(rows), [1.0] * len(rows)
    for row, area in program.stock:
        rows.append(np.append(row, [0.0, 0.0]))
        low.append(-np.inf)
        high.append(area)
    for cut in cuts:
        # In the least-work program F stands in the row; with a given F the motion may be scaled until it cuts deepest.
        rows.append(np.append(cut.energy, [1.0 if work is None else 0.0, 0.0]))
        low.append(2 * cut.work - cut.own if work is None else cut.work**2 / work - cut.own)
        high.append(np.inf)
    for row, least_value, most_value in also:
        rows.append(np.append(row, [0.0, 0.0]))
        low.append(least_value)
        high.append(most_value)
    for row, most_value in soft:
        rows.append(np.append(row, [0.0, -1.0]))
        low.append(-np.inf)
        high.append(most_value)
    objective = np.append(np.zeros(count), [1.0, penalty] if cost is None else [0.0, penalty])
    beyond = 0.0
    if cost is not None:  # beyond the cheapest of every place: a gap is a share of that, which is never near nought
        cheapest = np.array([cost[row > 0].min() for row in program.groups])
        objective[:count], beyond = cost - cheapest @ program.groups, float(cheapest.sum())
    with silent():
        found = milp(
            objective,
            integrality=np.append(np.full(count, float(whole)), [0.0, 0.0]),
            bounds=Bounds(np.zeros(count + 2), np.append(np.ones(count), [1e6, 1e6])),
            constraints=LinearConstraint(np.array(rows), low, high),
            options={"mip_rel_gap": SHARP if count <= LARGE else BLUNT, "time_limit": SECONDS},
        )
    if found.status == INFEASIBLE:
        return None
    if found.x is None:
        raise SolveError(f"the search for whole plies found nothing in {SECONDS:.0f} s; give it fewer choices")
    bound = found.fun if found.mip_dual_bound is None else min(found.fun, found.mip_dual_bound)
    return Chosen(found.x[:count], beyond + float(found.fun), beyond + float(bound))


@contextmanager
def silent() -> Iterator[None]:
    """Keep off the terminal what HiGHS writes past Python, straight to file descriptor 1.

    HiGHS 1.12 (in SciPy 1.17) prints a line whenever it mends a whole answer that its presolve or a heuristic left a
    little off. No option reaches that line, and neither another scaling nor no presolve avoids it. What other threads
    write there meanwhile comes through afterwards.
    """
    with ONE_AT_A_TIME:
        try:
            terminal = os.dup(1)
        except OSError:  # no such descriptor, nothing to be kept clean
            yield
            return
        with open(terminal, "wb") as through, TemporaryFile() as caught:
            os.dup2(caught.fileno(), 1)
            try:
                yield
            finally:
                _flush_printed()
                os.dup2(terminal, 1)
                caught.seek(0)
                through.write(OWN_LINES.sub(b"", caught.read()))


def _flush_printed() -> None:
    """Hand on what C has printed and still keeps, which it does where descriptor 1 is no terminal."""
    if os.name == "posix":
        ctypes.CDLL(None).fflush(None)
