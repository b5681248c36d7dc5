"""From runs to differences, their scatter and verdicts, and the runs that would settle them.

Session means and slopes are swept out session by session and the items fitted to what is left
(Frisch R, Waugh FV. Econometrica 1933;1:387-401), which gives the same answer as one wide
regression and stays small however many sessions there are. The model is that of Sutton CM, Clarkson
MT. A general approach to comparisons in the presence of drift. Metrologia 1994;30:487-493 (volume
from memory), with drift linear.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.verdicts import Verdict, word
from racecalc.domain.trial import SI_UNIT, Measure, Runs
from racecalc.errors import InputError
from racecalc.written import HIDDEN, As, written

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
    """Fit item, session and drift to measured values."""
    session, others = design.session, design.items - 1
    time = centred(design.order, session)
    column = (design.item[:, None] == np.arange(1, others + 1)).astype(float)
    swept = _by_column(lambda one: _swept(one, time, session, design), column, len(value))
    rest = _swept(value, time, session, design)
    inverse, estimable, rank = _inverse(swept.T @ swept)
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
        square_sum=_square_sum(residual, value),
    )


def _by_column(
    change: Callable[[FloatArray], FloatArray], columns: FloatArray, length: int
) -> FloatArray:
    """What becomes of each of some columns, which may be none, shape (length, columns)."""
    return np.array([change(one) for one in columns.T]).reshape(-1, length).T


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


# --- How many standard errors it takes, when several items or several looks share the errors -----

LEVEL = 0.05
"""Share of tests in which something is called faster or slower although nothing is."""

POCOCK = {1: 0.05, 2: 0.0294, 3: 0.0221, 4: 0.0182, 5: 0.0158}
"""Level of each look that keeps 5 % over all of them. Pocock SJ. Biometrika 1977;64:191-199
(from memory; that of five looks also simulated in tests/evidence)."""

POINTS = 32768
"""Points of the numerical integral; the level was then right to 0.0001 wherever one-factor
quadrature could check it."""


def level_per_look(looks: int) -> float:
    """Level of each look at a growing test.

    Examples
    --------
    >>> level_per_look(5), level_per_look(10)
    (0.0158, 0.005)
    """
    if looks < 1:
        raise InputError("looks", f"{looks} is not a number of looks", "give 1 or more")
    return POCOCK.get(looks, LEVEL / looks)


@dataclass(frozen=True)
class Quantiles:
    """Standard errors that a verdict needs."""

    decisive: float
    """Half-width of the interval that must leave out zero for "faster" or "slower"."""
    tie: float
    """Half-width of the interval that must lie within the margin for "tie"."""


def quantiles(df: float, correlation: FloatArray, level: float) -> Quantiles:
    """Quantiles for items compared with one baseline.

    Faster and slower use the quantile of the largest of several correlated t values (Dunnett's
    comparison with a control, for any correlation), which is exact where Bonferroni's and
    Holm's are on the safe side. A tie needs two one-sided tests at `level` over the number of
    items (Bonferroni), or the simultaneous interval where that is shorter: both hold whatever
    the true differences are.

    References
    ----------
    Dunnett CW. J Am Stat Assoc 1955;50:1096-1121. Schuirmann DJ. J Pharmacokinet Biopharm
    1987;15:657-680. Both cited from memory.
    """
    count, decisive = max(1, len(correlation)), _t(df, 1 - level / 2)
    if count > 1:
        decisive = _largest(df, np.round(correlation, 6).tobytes(), count, level)
    return Quantiles(decisive, min(_t(df, 1 - level / count), decisive))


def foretold(df: float, count: int, level: float) -> Quantiles:
    """Quantiles for `count` items before their correlation is known (Bonferroni)."""
    return Quantiles(_t(df, 1 - level / (2 * count)), _t(df, 1 - level / count))


def _t(df: float, chance: float) -> float:
    """Quantile of Student's t, of the normal distribution where `df` is infinite."""
    from scipy.special import ndtri, stdtrit

    return float(ndtri(chance) if math.isinf(df) else stdtrit(df, chance))


def _primes(count: int) -> list[int]:
    found: list[int] = []
    number = 2
    while len(found) < count:
        if all(number % prime for prime in found):
            found.append(number)
        number += 1
    return found


@lru_cache(maxsize=256)
def _largest_normal(correlation: bytes, count: int) -> FloatArray:
    """Largest absolute value of correlated standard normal values, at points of a lattice.

    The lattice is Richtmyer's, multiples of the square roots of primes (Genz A, Bretz F.
    Computation of Multivariate Normal and t Probabilities. 2009, section 4.2; from memory).
    """
    from scipy.special import ndtri

    size, direction = np.linalg.eigh(np.frombuffer(correlation).reshape(count, count))
    root = direction[:, ::-1] * np.sqrt(np.maximum(size[::-1], 0.0))
    steps = np.arange(1, POINTS + 1)[:, None] * np.sqrt(_primes(count))
    folded = 1.0 - np.abs(2.0 * (steps % 1.0) - 1.0)  # makes the integrand periodic
    uniform = np.clip(folded, 1e-12, 1.0 - 1e-12)
    return np.asarray(np.max(np.abs(ndtri(uniform) @ root.T), axis=1))


@lru_cache(maxsize=1024)
def _largest(df: float, correlation: bytes, count: int, level: float) -> float:
    """Quantile of the largest absolute value of correlated t values.

    Given the normal values, the chance over the common standard deviation is exact: it is the
    chance of a chi-squared value above df (largest / quantile)^2.
    """
    from scipy.optimize import brentq
    from scipy.special import chdtrc

    largest = _largest_normal(correlation, count)

    def excess(quantile: float) -> float:
        return float(np.mean(chdtrc(df, df * (largest / quantile) ** 2))) - (1 - level)

    least, most = (_t(df, 1 - level / (2 * many)) for many in (1, count))
    # Both ends are bounds up to the error of the integral, so they are widened a little.
    return float(brentq(excess, 0.97 * least, 1.03 * most, xtol=1e-6))


# --- How likely a verdict is, and how many runs make it likely -----------------------------------

WANTED = 0.80
"""Chance of a verdict that counts as "probably"; common practice, no source."""

MOST_RUNS = 500
"""Runs an item beyond which a test is called hopeless; our choice, some weeks of riding."""

NODES = 200
"""Places at which the spread is averaged; our choice, the chance then being right to 0.001 against
the noncentral t (tests/evidence)."""


@dataclass(frozen=True)
class VerdictChances:
    """Chances of the verdicts of a test."""

    seen: float
    """Of "faster" or "slower"."""
    tied: float
    """Of an interval within the margin."""
    settled: float
    """Of either."""


@lru_cache(maxsize=4096)
def _spreads(df: float) -> FloatArray:
    """Return estimated over true standard deviation, at equally likely places."""
    from scipy.special import chdtri

    if math.isinf(df):
        return np.ones(1)
    middle = (np.arange(NODES) + 0.5) / NODES
    return np.asarray(np.sqrt(chdtri(df, middle) / df))


def chances(
    difference: float, error: float, df: float, margin: float | None, needed: Quantiles
) -> VerdictChances:
    """Chances of the verdicts for a true difference.

    The chance given the estimated standard deviation is normal; it is averaged over the
    distribution of that estimate, which is the noncentral t probability for `seen`.
    """
    from scipy.special import ndtr

    centre, spread = abs(difference) / error, _spreads(df)
    outer = needed.decisive * spread
    seen = ndtr(centre - outer) + ndtr(-centre - outer)
    if margin is None:
        return VerdictChances(float(seen.mean()), 0.0, float(seen.mean()))
    # No tie is offered while the interval alone is wider than the margin.
    inner = np.where(outer * error < margin, margin / error - needed.tie * spread, 0.0)
    tied = np.where(inner > 0, ndtr(inner - centre) - ndtr(-inner - centre), 0.0)
    settled = np.where(inner >= outer, 1.0, seen + tied)
    return VerdictChances(float(seen.mean()), float(tied.mean()), float(settled.mean()))


def detectable(error: float, df: float, level: float = 0.05, chance: float = WANTED) -> float:
    """Smallest true difference that is called faster or slower with a given chance."""
    from scipy.optimize import brentq

    quantile = _t(df, 1 - level / 2)
    needed = Quantiles(quantile, quantile)

    def excess(size: float) -> float:
        return chances(size, 1.0, df, None, needed).seen - chance

    return error * float(brentq(excess, 0, 20 + 20 * quantile))


def fewest(likely: Callable[[int], float], most: int = MOST_RUNS) -> int | None:
    """Find the smallest number of runs that makes something likely."""
    high = 1
    while likely(high) < WANTED:
        if high >= most:
            return None
        high = min(2 * high, most)
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if likely(middle) >= WANTED else (middle, high)
    return high


# --- How far runs scatter ------------------------------------------------------------------------

MOST_EXPERIENCE = 10.0
"""Degrees of freedom that experience counts at most. On a day that scatters half as much again
as experience says, 8 to 11 % of tests then give a false winner (tests/evidence); were the standard
deviation taken as known, it would be P(|z| > 1.96 / 1.5) = 19 %."""

DOUBT_LEVEL = 0.10
"""Level of the two F tests below; a lenient one, since missing a difference does harm."""

Origin = Literal["none", "runs", "runs and experience", "experience", "sessions"]


@dataclass(frozen=True)
class Repeatability:
    """What is known from earlier tests about how runs of one setup scatter.

    Raises
    ------
    InputError
        If either is not above zero.
    """

    sd: float
    """Standard deviation of a single run, in the unit of the measure."""
    df: float
    """Degrees of freedom behind it: earlier runs minus the means taken from them."""

    def __post_init__(self) -> None:
        refuse_unless_positive("repeatability, ", sd=self.sd, df=self.df)


def refuse_unless_positive(place: str, **values: float) -> None:
    """Refuse what is not finite and above zero, its name after `place`."""
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{place}{name}", f"{value:g} is not above zero", "give it above 0")


@dataclass(frozen=True)
class RunScatter:
    """The scatter that a verdict rests on."""

    sd: float | None
    """Standard deviation of a single run; None where nothing tells it."""
    df: float
    """Degrees of freedom of the sd."""
    origin: Origin
    """Where it comes from."""
    because: str
    """The same in words that follow a colon; `df` is not said again."""


def f_chance(between: float, between_df: float, within: float, within_df: float) -> float:
    """Chance of so large a ratio of two variances, or a larger one, if they are equal."""
    from scipy.special import fdtrc

    return float(fdtrc(between_df, within_df, between / within)) if within else 1.0


def spread_of(fitted: RunFit, value: FloatArray, known: Repeatability | None) -> RunScatter:
    """Choose the scatter of a test.

    Where items differ from session to session more than their runs explain (F test at 10 %),
    a session counts as one observation: the mean square of item by session is the variance.
    Otherwise the scatter of the runs is combined with experience, s^2 = (n0 s0^2 + n s^2) /
    (n0 + n) with at most 10 degrees of freedom for experience, unless this test scatters more
    than experience explains (F test at 10 %); then experience is left out.

    With two or three sessions the first F test often misses that they disagree; where items
    differ from session to session by as much as runs scatter, 7 to 8 % of tests then give a
    false winner (tests/evidence).

    References
    ----------
    Smyth GK. Stat Appl Genet Mol Biol 2004;3:3, for the combination; JCGM 100:2008, H.5.2.2,
    for the sessions (both cited from memory).
    """
    apart = _between_sessions(fitted, value)
    if apart:
        return apart
    if fitted.variance is None:
        if not known:
            return RunScatter(None, 0, "none", "no run is repeated")
        df = min(known.df, MOST_EXPERIENCE)
        return RunScatter(known.sd, df, "experience", "from experience alone")
    if not fitted.square_sum and not known:
        rounded = "the repeats are identical to the last digit but for drift, which is rounding"
        return RunScatter(None, 0, "none", f"{rounded} and not precision")
    own = RunScatter(math.sqrt(fitted.variance), fitted.df, "runs", "from this test")
    return _combined(own, fitted.variance, known) if known else own


def _combined(own: RunScatter, variance: float, known: Repeatability) -> RunScatter:
    weight = min(known.df, MOST_EXPERIENCE)
    chance = f_chance(variance, own.df, known.sd**2, weight)
    if chance < DOUBT_LEVEL:
        because = (
            f"{own.because}; experience was left out, because these runs scatter"
            f" {math.sqrt(variance) / known.sd:.1f} times as much (chance {chance:.1%})"
        )
        return replace(own, because=because)
    df = own.df + weight
    pooled = math.sqrt((weight * known.sd**2 + own.df * variance) / df)
    counted = f"(counted as {own.df:.0f}) and experience (counted as {weight:.0f})"
    return RunScatter(pooled, df, "runs and experience", f"from this test {counted}")


def _between_sessions(fitted: RunFit, value: FloatArray) -> RunScatter | None:
    if fitted.design.sessions < 2 or not fitted.square_sum:
        return None
    between, between_df, within, within_df = disagreement(fitted, value)
    if not between_df or not within_df or not within:
        return None
    mean_square = between / between_df
    chance = f_chance(mean_square, between_df, within / within_df, within_df)
    if chance >= DOUBT_LEVEL:
        return None
    apart = "from how far the sessions disagree, which is more than the runs within them explain"
    scatter = math.sqrt(mean_square)
    return RunScatter(scatter, between_df, "sessions", f"{apart} (chance {chance:.1%})")


# --- What a test of one rider says ---------------------------------------------------------------

DECIMALS: dict[Measure, int] = {"cda": 4, "power": 1, "drag": 3}


def shown(value: float, measure: Measure, *, sign: bool = False) -> str:
    """Text of a measured value with its unit, for sentences.

    Examples
    --------
    >>> shown(-0.00384, "cda", sign=True)
    '-0.0038 m^2'
    """
    plus = "+" if sign else ""
    return f"{value:{plus}.{DECIMALS[measure]}f} {SI_UNIT[measure]}"


@dataclass(frozen=True, kw_only=True)
class ItemRuns:
    """The runs of one item."""

    name: str
    """The item."""
    mean: float
    """Mean of its runs, on the conditions of the baseline's runs where it can be compared."""
    values: tuple[float, ...]
    """Each run as it was measured."""
    adjusted: tuple[float, ...]
    """Each run without what its session and drift explain: mean plus residual."""
    residuals: tuple[float, ...]
    """What the model leaves of each run."""
    lines: tuple[int, ...]
    """Line of each run in the file."""

    @written
    def runs(self) -> int:
        """Number of runs."""
        return len(self.values)


@dataclass(frozen=True, kw_only=True)
class ItemResult(ItemRuns):
    """One item against the baseline; None stands where something cannot be known."""

    difference: float | None = None
    """Item minus baseline; below zero is faster."""
    standard_error: float | None = None
    """Of the difference."""
    df: float = 0.0
    """Degrees of freedom of the standard error."""
    low: float | None = None
    high: float | None = None
    """Interval that the verdict rests on: 95 % for all items and looks together."""
    low_alone: float | None = None
    high_alone: float | None = None
    """95 % interval as if this item were the only one and this look the only look."""
    chance_faster: float | None = None
    """Chance that it is faster at all, by the t distribution, taken alone."""
    verdict: Verdict = "undecided"
    """"faster", "slower", "tie" or "undecided"."""
    because: str
    """Why, in one sentence."""
    further_runs: int | None = None
    """More runs of this item, and as many of the baseline, that settle it with a chance of 80 % if
    the difference is as it appears; None where it is settled, or nothing foretells it, or
    `MOST_RUNS` would not do.
    """

    @property
    def saved(self) -> tuple[float, float | None, float | None] | None:
        """Difference and interval as a saving, more is faster; None where nothing is known."""
        if self.difference is None:
            return None
        return -self.difference, minus(self.high), minus(self.low)


def minus(value: float | None) -> float | None:
    """A difference as a saving, or the other way; None where it is not known."""
    return None if value is None else -value


@dataclass(frozen=True)
class Drift:
    """How far runs drifted within a session."""

    session: str
    """Which one."""
    slope: float
    """Change per unit of order."""
    standard_error: float | None
    """Of the slope; None where the scatter is not known."""
    change: float
    """Change from the first to the last run of the session."""
    exceeds: bool
    """Whether it is larger than the largest difference found."""


@dataclass(frozen=True)
class Outlier:
    """A run that does not fit the others."""

    line: int
    """Line of the file."""
    item: str
    session: str
    """What and when."""
    value: float
    """What was measured."""
    residual: float
    """Its difference from the model."""
    studentised: float
    """The same in standard errors, judged by all the other runs."""


@dataclass(frozen=True)
class RiderTrial:
    """What a test of one rider says."""

    measure: Annotated[Measure, HIDDEN]
    """What was measured; values are in its SI unit."""
    baseline: ItemRuns
    """What the items are compared with."""
    items: tuple[ItemResult, ...]
    """All others, in the order in which they first appear."""
    margin: float | None
    """Difference that does not matter; None offers no tie."""
    margin_because: str
    """Where the margin comes from."""
    repeatability: float | None
    """Standard deviation of a single run that the intervals rest on."""
    repeatability_df: float
    """Its degrees of freedom."""
    repeatability_because: str
    """Where it comes from."""
    level: Annotated[float, HIDDEN]
    """Chance of one or more false verdicts at this look."""
    drifts: tuple[Drift, ...]
    """One for each session that carries a drift term."""
    outliers: tuple[Outlier, ...]
    """Runs that do not fit; they are in all numbers above."""
    without_outliers: Annotated["RiderTrial | None", As(without_outliers="items")]
    """The same test without them; None where there are none, or an item would have no run left."""
    notes: tuple[str, ...]
    """What one should know, in sentences."""
    speed: Annotated[float | None, HIDDEN] = None
    """Mean speed of the runs [m/s]; None where one does not state it."""
    one_session: Annotated[bool, HIDDEN] = False
    """Whether all runs are of one session."""

    @written
    def confidence(self) -> float:
        """Of all intervals together."""
        return 1.0 - self.level

    @property
    def fitting(self) -> "RiderTrial":
        """The test by the runs that fit; itself where all do or nothing else can be done."""
        return self.without_outliers or self


# --- From a difference and its standard error to a verdict, a reason and what would --------------


@dataclass(frozen=True)
class Judge:
    """What the verdicts of one analysis have in common."""

    measure: Measure
    """What was measured."""
    sd: float
    df: float
    """Standard deviation of a single run, and its degrees of freedom."""
    df_by_run: float
    """Degrees of freedom that one more run of an item and of the baseline bring."""
    margin: float | None
    """Difference that does not matter."""
    level: float
    """Chance of one or more false verdicts."""
    comparisons: int
    """Number of items that can be compared."""
    needed: Quantiles
    """Standard errors that the verdicts need."""
    alone: float
    """Half-width in standard errors of the 95 % interval of one item taken alone."""

    def chance_faster(self, difference: float, error: float) -> float:
        """Chance that the true difference is below zero (t distribution, no other knowledge)."""
        from scipy.special import stdtr

        return float(stdtr(self.df, -difference / error))

    def verdict(self, difference: float, error: float, runs: int) -> tuple[Verdict, str]:
        """Verdict on a difference, and why."""
        if runs < 2:
            return "undecided", "a single run shows no scatter; repeat item and baseline"
        half = self.needed.decisive * error
        # While the interval alone is wider than the margin, only a spread that is small by luck
        # could prove a tie, and such a tie says next to nothing.
        offered = self.margin if self.margin is not None and half < self.margin else None
        verdict = word(-difference, error, offered, self.needed.decisive, self.needed.tie)
        certain = f"{100 * (1 - self.level):.4g} %"
        either = "" if self.margin is None else f"{shown(self.margin, self.measure)} either way"
        if verdict == "tie":
            sure = ", though not zero" if abs(difference) > half else ""
            return verdict, f"two one-sided tests show that it lies within {either}{sure}"
        if verdict != "undecided":
            side = verdict
            return verdict, f"the whole {certain} interval is on the {side} side"
        why = f"the {certain} interval, {shown(half, self.measure)} either way, includes zero"
        if self.margin is None:
            return verdict, f"{why}, and no margin is known for a tie; state one with --margin"
        if offered is None:
            return verdict, f"{why} and is too wide to prove a tie within {either}"
        return verdict, f"{why}, and a tie within {either} is not proved"

    def further_runs(self, difference: float, factor: float) -> int | None:
        """More runs of an item, and of the baseline, that probably settle it.

        The information of m further pairs, m / (2 sd^2), is added to that at hand, and the
        difference is taken to be as it appears.
        """

        def likely(more: int) -> float:
            df = self.df + self.df_by_run * more
            needed = foretold(df, self.comparisons, self.level)
            error = self.sd * math.sqrt(1.0 / (1.0 / factor + more / 2.0))
            return chances(difference, error, df, self.margin, needed).settled

        return fewest(likely)


def judge_of(
    fitted: RunFit, spread: RunScatter, measure: Measure, margin: float | None, level: float
) -> Judge | None:
    """Judge of an analysis; None where the scatter is not known or nothing can be compared."""
    known = np.isfinite(fitted.difference)
    if spread.sd is None or not np.any(known):
        return None
    inverse = fitted.inverse[np.ix_(known, known)]
    scale = np.sqrt(np.diag(inverse))
    return Judge(
        measure=measure,
        sd=spread.sd,
        df=spread.df,
        # A further session of A-B-B-A brings one degree of freedom where sessions disagree.
        df_by_run=0.5 if spread.origin == "sessions" else 2.0,
        margin=margin,
        level=level,
        comparisons=int(known.sum()),
        needed=quantiles(spread.df, inverse / np.outer(scale, scale), level),
        alone=_t(spread.df, 1 - LEVEL / 2),
    )


# --- The difference that does not matter, in the unit of the test --------------------------------

WATTS = 1.0
"""Watts at the test speed that are too few to matter; common practice, no source."""


def margin_of(runs: Runs, stated: float | None) -> tuple[float | None, str]:
    """Margin of a test and where it comes from."""
    if stated is not None:
        refuse_unless_positive("", margin=stated)
        return stated, "as stated"
    if runs.measure == "power":
        return WATTS, f"{WATTS:g} W, because none is stated"
    by_watt = per_watt(runs)
    if by_watt is None:
        missing = "speed or density" if runs.measure == "cda" else "speed"
        return None, (
            f"none is stated, and without {missing} of every run {WATTS:g} W cannot be turned into"
            f" {runs.unit}; no tie is offered without --margin"
        )
    at = f"{3.6 * float(np.mean(runs.speed)):.1f} km/h"
    return WATTS * by_watt, f"{WATTS:g} W at the {at} of the test, because none is stated"


def per_watt(runs: Runs) -> float | None:
    """What one watt at the mean speed of a test is in the unit of its measure.

    1 / (1/2 rho v^3) of drag area, 1 / v of drag force; None where speed or density of a run is
    not stated.
    """
    if runs.measure == "power":
        return 1.0
    speed = float(np.mean(runs.speed))
    by_watt = 1.0 / speed
    if runs.measure == "cda":
        by_watt /= 0.5 * float(np.mean(runs.density)) * speed**2
    return by_watt if np.isfinite(by_watt) else None
