"""Differences of items by least squares, with levels and drifts of sessions.

Session means and slopes are swept out session by session and the items fitted to what is left
(Frisch R, Waugh FV. Econometrica 1933;1:387-401), which gives the same answer as one wide
regression and stays small however many sessions there are. The model is that of Sutton CM, Clarkson
MT. A general approach to comparisons in the presence of drift. Metrologia 1994;30:487-493 (volume
from memory), with drift linear.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray

# --- The design of a test ------------------------------------------------------------------------

IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Design:
    """Which item was ridden when; numbers count from 0, item 0 is the baseline."""

    item: IntArray
    session: IntArray
    """Number of the item and of the session of each run; shape (n,)."""
    order: FloatArray
    """Clock or counter within the session; shape (n,)."""
    drift: NDArray[np.bool_]
    """Sessions with a drift term; shape (sessions,)."""
    on_day: IntArray | None = None
    """Number of the day of each run, shape (n,); None where each session is a day."""

    @cached_property
    def day(self) -> IntArray:
        """Number of the day of each run; shape (n,)."""
        return self.session if self.on_day is None else self.on_day

    @property
    def items(self) -> int:
        """Number of items, the baseline included."""
        return int(self.item.max()) + 1

    @property
    def sessions(self) -> int:
        """Number of sessions."""
        return len(self.drift)

    @cached_property
    def cell(self) -> IntArray:
        """Number of each run's item in its session, without gaps; shape (n,)."""
        _, numbers = np.unique(self.session * self.items + self.item, return_inverse=True)
        return np.asarray(numbers, dtype=np.intp)


def design_of(
    item: IntArray, session: IntArray, order: FloatArray, on_day: IntArray | None = None
) -> Design:
    """Design of a test, with drift terms where they can be carried.

    A session carries a drift term if it has at least two runs more than it has items (A-B-B-A
    does, A-B and A-B-A do not): then one run is left over to judge the spread by.
    """
    plain = Design(item, session, order, np.zeros(int(session.max()) + 1, bool), on_day)
    runs = np.bincount(session)
    first_of_cell = np.unique(plain.cell, return_index=True)[1]
    held = np.bincount(session[first_of_cell], minlength=len(runs))
    # A drift term needs orders that differ within one item.
    apart = np.bincount(session, centred(order, plain.cell) ** 2) > 0
    return replace(plain, drift=(runs >= held + 2) & apart)


def centred(values: FloatArray, group: IntArray) -> FloatArray:
    """Take the mean of its group from each value; shape (n,)."""
    count = np.bincount(group)
    return np.asarray(values - (np.bincount(group, values) / count)[group])


# --- Least squares for runs of one rider ---------------------------------------------------------

RANK_TOLERANCE = 1e-9
"""Share of the largest eigenvalue below which a direction counts as not measured."""

ROUND_OFF = 1e-12
"""Share of the largest value below which residuals count as none."""


def _slopes(values: FloatArray, time: FloatArray, design: Design) -> FloatArray:
    """Slope of centred values over centred time by session; 0 where there is no drift term."""
    square = np.bincount(design.session, time * time)
    product = np.bincount(design.session, time * values)
    return np.where(design.drift, product / np.where(square > 0, square, 1.0), 0.0)


def _swept(values: FloatArray, time: FloatArray, design: Design) -> FloatArray:
    """Sweep the means and slopes of sessions out of one column."""
    rest = centred(values, design.session)
    return np.asarray(rest - _slopes(rest, time, design)[design.session] * time)


@dataclass(frozen=True)
class RunFit:
    """A fitted model."""

    design: Design
    difference: FloatArray
    """Item minus baseline; NaN where the runs do not connect the two; shape (items - 1,)."""
    inverse: FloatArray
    """Covariance of the differences for a residual variance of one; shape (items - 1, items - 1).
    """
    residual: FloatArray
    """What is left of each run; shape (n,)."""
    leverage: FloatArray
    """Share of each run in its own fitted value, 0 to 1; shape (n,)."""
    slope: FloatArray
    slope_factor: FloatArray
    """Drift per unit of order, and its standard error for a residual variance of one; NaN where no
    drift term is carried; shape (sessions,).
    """
    df: int
    square_sum: float
    """Degrees of freedom of the residuals, and the sum of their squares; exactly 0 where only
    round-off is left."""

    @property
    def variance(self) -> float | None:
        """Residual variance; None without degrees of freedom."""
        return self.square_sum / self.df if self.df else None


def fit(design: Design, value: FloatArray) -> RunFit:
    """Fit item, session and drift to measured values."""
    session, others = design.session, design.items - 1
    time = centred(design.order, session)
    column = (design.item[:, None] == np.arange(1, others + 1)).astype(float)
    swept = _by_column(lambda one: _swept(one, time, design), column, len(value))
    rest = _swept(value, time, design)
    inverse, estimable, rank = inverse_of(swept.T @ swept)
    beta = inverse @ (swept.T @ rest)
    residual = rest - swept @ beta
    square = np.bincount(session, time * time)
    square[~design.drift] = np.nan
    in_time = np.nan_to_num(time**2 / square[session])
    lean = _by_column(lambda one: _slopes(one, time, design), column, design.sessions)
    df = len(value) - design.sessions - int(design.drift.sum()) - rank
    return RunFit(
        design=design,
        difference=np.where(estimable, beta, np.nan),
        inverse=inverse,
        residual=residual,
        leverage=1.0 / np.bincount(session)[session]
        + in_time
        + np.einsum("ij,jk,ik->i", swept, inverse, swept),
        slope=np.where(design.drift, _slopes(value - column @ beta, time, design), np.nan),
        slope_factor=np.sqrt(1.0 / square + np.einsum("ij,jk,ik->i", lean, inverse, lean)),
        df=df,
        square_sum=square_sum_of(residual, value),
    )


def _by_column(
    change: Callable[[FloatArray], FloatArray], columns: FloatArray, length: int
) -> FloatArray:
    """What becomes of each of some columns, which may be none, shape (length, columns)."""
    return np.array([change(one) for one in columns.T]).reshape(-1, length).T


def inverse_of(gram: FloatArray) -> tuple[FloatArray, NDArray[np.bool_], int]:
    """Pseudo-inverse, which coefficients are estimable, and the rank."""
    if not gram.size:
        return gram, np.zeros(0, bool), 0
    size, direction = np.linalg.eigh(gram)
    measured = size > RANK_TOLERANCE * max(1.0, float(size[-1]))
    used, lost = direction[:, measured], direction[:, ~measured]
    inverse = (used / size[measured]) @ used.T
    return inverse, np.sum(lost**2, axis=1) < RANK_TOLERANCE, int(measured.sum())


def square_sum_of(residual: FloatArray, value: FloatArray) -> float:
    """Sum of squared residuals; exactly 0 where only round-off is left."""
    none = np.max(np.abs(residual)) <= ROUND_OFF * np.max(np.abs(value))
    return 0.0 if none else float(residual @ residual)


def studentised(fitted: RunFit) -> FloatArray:
    """Externally studentised residuals: each run against the spread of all the others, shape (n,).

    Distributed as t with `df` - 1 degrees of freedom; NaN where a run cannot be judged.

    References
    ----------
    Cook RD, Weisberg S. Residuals and Influence in Regression. 1982, section 2.2.1 (cited from
    memory).
    """
    free = 1.0 - fitted.leverage
    out = np.full(len(free), np.nan)
    if fitted.df < 2 or not fitted.square_sum:
        return out
    judged = free > RANK_TOLERANCE
    own = fitted.residual[judged] ** 2 / free[judged]
    others = (fitted.square_sum - own) / (fitted.df - 1)
    # Where the others repeat each other to the digit, that is rounding and no yardstick.
    fair = others > RANK_TOLERANCE * fitted.square_sum
    scale = np.sqrt(np.where(fair, others, np.nan) * free[judged])
    out[judged] = fitted.residual[judged] / scale
    return out
