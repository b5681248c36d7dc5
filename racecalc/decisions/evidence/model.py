"""Least squares for the runs of a test."""

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


def design_of(item: IntArray, session: IntArray, order: FloatArray) -> Design:
    """Design of a test, with drift terms where they can be carried.

    A session carries a drift term if it has at least two runs more than it has items (A-B-B-A
    does, A-B and A-B-A do not): then one run is left over to judge the spread by.

    Parameters
    ----------
    item, session : IntArray, shape (n,)
        Numbers from 0, without gaps.
    order : FloatArray, shape (n,)
        Clock or counter within the session.

    Returns
    -------
    Design
        The same with its drift terms.
    """
    plain = Design(item, session, order, np.zeros(int(session.max()) + 1, bool))
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


def _swept(values: FloatArray, time: FloatArray, group: IntArray, design: Design) -> FloatArray:
    """Sweep group means and the session's slope over `time` out of one column."""
    rest = centred(values, group)
    return np.asarray(rest - _slopes(rest, time, design)[design.session] * time)


@dataclass(frozen=True)
class RunFit:
    """A fitted model."""

    design: Design
    """What was fitted."""
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
    """Degrees of freedom of the residuals."""
    square_sum: float
    """Sum of squared residuals; exactly 0 where only round-off is left."""

    @property
    def variance(self) -> float | None:
        """Residual variance; None without degrees of freedom."""
        return self.square_sum / self.df if self.df else None


def fit(design: Design, value: FloatArray) -> RunFit:
    """Fit item, session and drift to measured values.

    Parameters
    ----------
    design : Design
        Which item was ridden when.
    value : FloatArray, shape (n,)
        What was measured.

    Returns
    -------
    RunFit
        In the unit of the values.
    """
    session, others = design.session, design.items - 1
    time = centred(design.order, session)
    column = (design.item[:, None] == np.arange(1, others + 1)).astype(float)
    swept = np.empty_like(column)
    for number in range(others):
        swept[:, number] = _swept(column[:, number], time, session, design)
    rest = _swept(value, time, session, design)
    inverse, estimable, rank = _inverse(swept.T @ swept)
    beta = inverse @ (swept.T @ rest)
    residual = rest - swept @ beta
    square = np.bincount(session, time * time)
    square[~design.drift] = np.nan
    in_time = np.nan_to_num(time**2 / square[session])
    lean = (
        np.array([_slopes(one, time, design) for one in column.T])
        .reshape(others, design.sessions)
        .T
    )
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
        square_sum=_square_sum(residual, value),
    )


def _inverse(gram: FloatArray) -> tuple[FloatArray, NDArray[np.bool_], int]:
    """Pseudo-inverse, which coefficients are estimable, and the rank."""
    if not gram.size:
        return gram, np.zeros(0, bool), 0
    size, direction = np.linalg.eigh(gram)
    measured = size > RANK_TOLERANCE * max(1.0, float(size[-1]))
    used, lost = direction[:, measured], direction[:, ~measured]
    inverse = (used / size[measured]) @ used.T
    return inverse, np.sum(lost**2, axis=1) < RANK_TOLERANCE, int(measured.sum())


def _square_sum(residual: FloatArray, value: FloatArray) -> float:
    none = np.max(np.abs(residual)) <= ROUND_OFF * np.max(np.abs(value))
    return 0.0 if none else float(residual @ residual)


def disagreement(fitted: RunFit, value: FloatArray) -> tuple[float, int, float, int]:
    """Sum of squares by which items differ from session to session, and what then is left.

    Parameters
    ----------
    fitted : RunFit
        The model with one difference for all sessions.
    value : FloatArray, shape (n,)
        What was measured.

    Returns
    -------
    between, between_df : float, int
        Sum of squares and degrees of freedom of item by session.
    within, within_df : float, int
        The same of what is left within the sessions.

    References
    ----------
    JCGM 100:2008, H.5, where the session is the day.
    """
    design = fitted.design
    time = centred(design.order, design.cell)
    rest = _swept(value, time, design.cell, design)
    within = _square_sum(rest, value)
    within_df = len(value) - int(design.cell.max()) - 1 - int(design.drift.sum())
    return max(fitted.square_sum - within, 0.0), fitted.df - within_df, within, within_df


def studentised(fitted: RunFit) -> FloatArray:
    """Externally studentised residuals: each run against the spread of all the others.

    Parameters
    ----------
    fitted : RunFit
        A fitted model.

    Returns
    -------
    FloatArray, shape (n,)
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
