"""What tests over days show of any day: how far a difference changes from one day to the next.

Model: y = item + session + drift + u + e, e ~ N(0, s^2), and u ~ N(0, w^2 / 2) for each item on
each day, the baseline too, so a difference changes from day to day with the standard deviation w.
It is fitted by generalised least squares at an assumed w, day by day, since days share nothing but
the items. The days then correct the assumption: its variance and theirs are combined as Smyth GK
(Stat Appl Genet Mol Biol 2004;3:3) combines variances, with the degrees of freedom of Welch and
Satterthwaite (JCGM 100:2008, G.4.1); both cited from memory.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import f_chance
from racecalc.decisions.evidence.least_squares import (
    Design,
    IntArray,
    centred,
    inverse_of,
    square_sum_of,
)

USUAL_SHARE = 0.8
"""Standard deviation, in those of one run, by which a difference is taken to change from day to day
where none is stated. With `COUNTED_DAYS` our choice: of the pairs tried, the one that finds most
while, up to a true share of 1, 6.1 % of tests at most give a false winner (tests/evidence). No
published values of riders are known to us."""

COUNTED_DAYS = 4.0
"""Degrees of freedom that the assumption counts."""

AS_STATED = "as stated"
"""Why a change from day to day is what it is."""

LEAST_ALONE = 2
"""Degrees of freedom from which days that clearly differ by more than is usual count alone."""

DOUBT_LEVEL = 0.10
"""Level of the F tests; a lenient one, since missing a difference does harm."""

USUAL_RATIO = USUAL_SHARE**2 / 2

INDEPENDENT = 1e-7
"""Share of the largest singular value below which columns count as dependent."""


# --- Least squares day by day --------------------------------------------------------------------


@dataclass(frozen=True)
class _Day:
    """The runs of one day."""

    rows: IntArray
    cell: FloatArray
    """Which of the items ridden that day each run is of, as columns of 0 and 1."""
    level: FloatArray
    """Columns of its sessions and drifts."""
    item: FloatArray
    """Columns of the items but for the baseline."""

    def weighted(self, columns: FloatArray, ratio: float) -> FloatArray:
        """Columns for runs whose covariance is 1 + ratio Z Z', turned into independent ones."""
        runs = self.cell.sum(axis=0)
        pull = (1.0 - 1.0 / np.sqrt(1.0 + ratio * runs)) / runs
        return np.asarray(columns - self.cell @ (pull[:, None] * (self.cell.T @ columns)))


def _base(columns: FloatArray) -> FloatArray:
    """Orthonormal columns that span the same."""
    left, size, _ = np.linalg.svd(columns, full_matrices=False)
    return np.asarray(left[:, size > INDEPENDENT * size[0]])


def _without(base: FloatArray, columns: FloatArray) -> FloatArray:
    return np.asarray(columns - base @ (base.T @ columns))


def _days(design: Design) -> list[_Day]:
    others = np.arange(1, design.items)
    time = centred(design.order, design.session)
    out = []
    for number in range(int(design.day.max()) + 1):
        rows = np.flatnonzero(design.day == number)
        item, session = design.item[rows], design.session[rows]
        sessions = session[:, None] == np.unique(session)
        drifts = sessions[:, design.drift[np.unique(session)]] * time[rows, None]
        level = np.hstack([sessions, drifts / np.sqrt(np.sum(drifts**2, axis=0))])
        cell = (item[:, None] == np.unique(item)).astype(float)
        out.append(_Day(rows, cell, level, (item[:, None] == others).astype(float)))
    return out


@dataclass(frozen=True)
class Within:
    """How far runs of one item on one day differ, but for session and drift."""

    square_sum: float
    df: int
    """Sum of squares, exactly 0 where only round-off is left, and its degrees of freedom."""


@dataclass(frozen=True)
class Across:
    """The differences at one assumed ratio, w^2 / 2 over s^2."""

    ratio: float
    difference: FloatArray
    """Item minus baseline; NaN where no chain of days connects the two; shape (items - 1,)."""
    covariance: FloatArray
    """Of the differences on any day, for a run variance of one; shape (items - 1, items - 1)."""
    of_runs: FloatArray
    """The part of it that the scatter of runs makes: the covariance on the days ridden."""
    between: float
    between_df: int
    """Sum of squares by which days disagree, in units of the run variance at this ratio, and its
    degrees of freedom."""
    trace: float
    """By how much `between` grows in the mean for each unit of w^2 / 2, at a ratio of 0."""

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Which items can be compared."""
        return np.isfinite(self.difference)

    @property
    def share(self) -> float:
        """Largest share of the days in the variance of a difference."""
        whole, runs = np.diag(self.covariance)[self.known], np.diag(self.of_runs)[self.known]
        return float(np.max(1.0 - runs / whole))


class DayFit:
    """Measured values of a design, shape (n,), fitted day by day."""

    def __init__(self, design: Design, value: FloatArray) -> None:
        self._days = _days(design)
        self._value, self._design = value, design
        self._found: dict[float, Across] = {}
        self.days = len(self._days)

    @cached_property
    def within(self) -> Within:
        """What is left once every item has a level of its own on every day."""
        parts, rank = [], 0
        for day in self._days:
            base = _base(np.hstack([day.cell, day.level]))
            rank += base.shape[1]
            parts.append(_without(base, self._value[day.rows]))
        rest = np.concatenate(parts)
        return Within(square_sum_of(rest, self._value), len(rest) - rank)

    def at(self, ratio: float) -> Across:
        """The differences at a ratio of w^2 / 2 over s^2."""
        if ratio not in self._found:
            self._found[ratio] = self._at(ratio)
        return self._found[ratio]

    def _at(self, ratio: float) -> Across:
        others = self._design.items - 1
        gram, of_days, trace = np.zeros((others, others)), np.zeros((others, others)), 0.0
        parts, rank = [], 0
        for day in self._days:
            base = _base(day.weighted(day.level, ratio))
            columns = (day.item, day.cell, self._value[day.rows, None])
            item, cell, value = (_without(base, day.weighted(one, ratio)) for one in columns)
            gram += item.T @ item
            of_days += (item.T @ cell) @ (item.T @ cell).T
            trace += float(np.sum(cell**2))
            rank += base.shape[1]
            parts.append((item, value[:, 0]))
        inverse, estimable, items_rank = inverse_of(gram)
        difference = inverse @ np.sum([item.T @ value for item, value in parts], axis=0)
        rest = np.concatenate([value - item @ difference for item, value in parts])
        left = float(rest @ rest) - self.within.square_sum
        return Across(
            ratio=ratio,
            difference=np.where(estimable, difference, np.nan),
            covariance=inverse,
            of_runs=inverse - ratio * inverse @ of_days @ inverse,
            between=max(left, 0.0),
            between_df=len(rest) - rank - items_rank - self.within.df,
            trace=trace - float(np.sum(inverse * of_days)),
        )


# --- From an assumed change from day to day to the error on any day ------------------------------


@dataclass(frozen=True)
class AnyDay:
    """The differences as they are on any day, and what their errors rest on."""

    across: Across
    variance: float
    """What `across.covariance` is multiplied by."""
    df: float
    """Degrees of freedom of the variance."""
    sd: float | None
    """Standard deviation by which a difference is taken to change from day to day; None where the
    days alone tell it.
    """
    because: str
    """Where it comes from, in words that follow a colon."""

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the differences."""
        return np.asarray(self.variance * self.across.covariance)

    @property
    def of_known(self) -> FloatArray:
        """The same of those that are known."""
        known = self.across.known
        return self.covariance[np.ix_(known, known)]


@dataclass(frozen=True)
class RunScatter:
    """The scatter of runs on one day that a verdict rests on."""

    sd: float | None
    """Standard deviation of a single run; None where nothing tells it."""
    df: float
    because: str
    """Where it comes from, in words that follow a colon; its `df` are not said again."""
    rounded: bool = False
    """Whether runs repeat each other to the last digit, which tells nothing of any day either."""

    @property
    def variance(self) -> float:
        """Of a single run; 0 where nothing tells it."""
        return self.sd**2 if self.sd else 0.0


def any_day(
    fits: DayFit, run: RunScatter, stated: float | None, width: Callable[[AnyDay], float]
) -> AnyDay | None:
    """Differences with errors that hold on any day; None where nothing tells the errors.

    `stated` is the standard deviation of a difference from day to day by the tester, `width` that
    of the widest interval.
    """
    usual = fits.at(USUAL_RATIO)
    if run.rounded or not np.any(usual.known):
        return None
    if not run.variance:
        return _alone(usual, "each day counts once, because no run is repeated on a day")
    across = usual if stated is None else fits.at(stated**2 / (2.0 * run.variance))
    own, freedom = combined_df(run.df, across.share), across.between_df
    chance = f_chance(across.between / freedom, freedom, run.variance, own) if freedom else 1.0
    if chance < DOUBT_LEVEL and across.ratio < USUAL_RATIO:
        found = any_day(fits, run, None, width)
        less = "what is stated is too little for these days"
        return found and replace(found, because=f"{found.because}; {less} (chance {chance:.1%})")
    found = _corrected(across, run, own, stated)
    if chance >= DOUBT_LEVEL:
        return found
    more = f"; the days differ by more than that (chance {chance:.1%})"
    found = replace(found, because=found.because + more)
    if freedom < LEAST_ALONE:
        return found
    clear = "the days differ by more than is usual"
    alone = _alone(across, f"each day counts once, because {clear} (chance {chance:.1%})")
    return alone if alone and width(alone) > width(found) else found


def combined_df(run_df: float, share: float, day_df: float = COUNTED_DAYS) -> float:
    """Degrees of freedom of an assumed variance of a difference of which days are a share."""
    rest = 1.0 / run_df + share**2 / day_df
    return 1.0 / rest if rest else math.inf


def _corrected(across: Across, run: RunScatter, own: float, stated: float | None) -> AnyDay:
    """The assumed variance, corrected by how far the days disagree."""
    df = own + across.between_df
    sd = math.sqrt(2.0 * across.ratio * run.variance)
    because = AS_STATED
    if stated is None:
        because = f"{USUAL_SHARE:g} of what one run scatters, because none is stated"
    return AnyDay(across, (own * run.variance + across.between) / df, df, sd, because)


def _alone(across: Across, because: str) -> AnyDay | None:
    """By how far the days disagree and nothing else."""
    if not across.between_df or not across.between:
        return None
    df = across.between_df
    return AnyDay(across, across.between / df, df, None, because)


def found_from_day_to_day(fits: DayFit, run: RunScatter) -> float | None:
    """Standard deviation from day to day by the days alone; None where nothing tells it.

    The moment estimate of a variance component, 0 where the days differ by less than runs explain.
    """
    if not run.variance or fits.days == 1:
        return None
    across = fits.at(0.0)
    if not across.between_df:
        return None
    excess = across.between - across.between_df * run.variance
    return math.sqrt(max(2.0 * excess / across.trace, 0.0))
