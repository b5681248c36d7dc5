"""How many standard errors a verdict needs, and how likely it is.

The chances of t, F and chi-squared are scipy's, parts of which load when the first is asked for.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy

from racecalc.arrays import FloatArray
from racecalc.errors import InputError

# --- How many standard errors it takes, when several items or several looks share the errors -----

LEVEL = 0.05
"""Share of tests in which something is called faster or slower although nothing is."""

POCOCK = {1: 0.05, 2: 0.0294, 3: 0.0221, 4: 0.0182, 5: 0.0158}
"""Level of each look that keeps 5 % over all of them. Pocock SJ. Biometrika 1977;64:191-199
(from memory; that of five looks also simulated in tests/evidence)."""

POINTS = 32768
"""Points of the numerical integral; the level was then right to 0.0001 wherever one-factor
quadrature could check it."""

TOGETHER = 2048
"""Points to which they are put together, for speed."""


AGAIN = 0.01
"""Level of each further look that was not planned, the first having been at `LEVEL`: some 5.5 % of
tests then give a false winner by the second look, 6.5 % by the fifth, and 7.4 % by the fifth where
the first had two runs of each item (tests/evidence)."""


def level_per_look(looks: int, *, again: bool = False) -> float:
    """Level of each look at a growing test: of several planned ones, or of one more.

    >>> level_per_look(5), level_per_look(10)
    (0.0158, 0.005)
    """
    if again and looks > 1:
        raise InputError(
            "looks", "the looks were planned, so none is one more", "leave one of the two out"
        )
    return AGAIN if again else POCOCK.get(looks, LEVEL / looks)


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
    count, decisive = max(1, len(correlation)), t_point(df, 1 - level / 2)
    if count > 1:
        decisive = _largest(df, np.round(correlation, 6).tobytes(), count, level)
    return Quantiles(decisive, min(t_point(df, 1 - level / count), decisive))


def foretold(df: float, count: int, level: float) -> Quantiles:
    """Quantiles for `count` items before their correlation is known (Bonferroni)."""
    return Quantiles(t_point(df, 1 - level / (2 * count)), t_point(df, 1 - level / count))


def foretold_for_control(df: float, count: int, level: float) -> Quantiles:
    """The same for equal numbers of runs, whose differences correlate by one half."""
    return quantiles(df, np.full((count, count), 0.5) + 0.5 * np.eye(count), level)


def t_point(df: float, chance: float) -> float:
    """Quantile of Student's t, of the normal distribution where `df` is infinite."""
    known = scipy.special
    return float(known.ndtri(chance) if math.isinf(df) else known.stdtrit(df, chance))


def chi_squared_exceeded(df: float, chance: FloatArray | float) -> FloatArray:
    """What chi-squared exceeds with some chances."""
    return np.asarray(scipy.special.chdtri(df, chance))


def f_chance(between: float, between_df: float, within: float, within_df: float) -> float:
    """Chance of so large a ratio of two variances, or a larger one, if they are equal."""
    return float(scipy.special.fdtrc(between_df, within_df, between / within)) if within else 1.0


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
    """Largest absolute value of correlated standard normal values, from small to large.

    At points of a lattice, put together to `TOGETHER`, which leaves a quantile the same to 0.0001.
    The lattice is Richtmyer's, multiples of the square roots of primes (Genz A, Bretz F.
    Computation of Multivariate Normal and t Probabilities. 2009, section 4.2; from memory).
    """
    size, direction = np.linalg.eigh(np.frombuffer(correlation).reshape(count, count))
    root = direction[:, ::-1] * np.sqrt(np.maximum(size[::-1], 0.0))
    steps = np.arange(1, POINTS + 1)[:, None] * np.sqrt(_primes(count))
    folded = 1.0 - np.abs(2.0 * (steps % 1.0) - 1.0)  # makes the integrand periodic
    uniform = np.clip(folded, 1e-12, 1.0 - 1e-12)
    largest = np.sort(np.max(np.abs(scipy.special.ndtri(uniform) @ root.T), axis=1))
    return np.asarray(largest.reshape(TOGETHER, -1).mean(axis=1))


@lru_cache(maxsize=1024)
def _largest(df: float, correlation: bytes, count: int, level: float) -> float:
    """Quantile of the largest absolute value of correlated t values.

    Given the normal values, the chance over the common standard deviation is exact: it is the
    chance of a chi-squared value above df (largest / quantile)^2.
    """
    largest = _largest_normal(correlation, count)

    def excess(quantile: float) -> float:
        above = scipy.special.chdtrc(df, df * (largest / quantile) ** 2)
        return float(np.mean(above)) - (1 - level)

    least, most = (t_point(df, 1 - level / (2 * many)) for many in (1, count))
    # Both ends are bounds up to the error of the integral, so they are widened a little.
    return _root(excess, 0.97 * least, 1.03 * most)


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Root by false position, an end that stays being weighed half (Illinois algorithm).

    To load `scipy.optimize` for it takes longer than all else that a test needs.
    """
    below, above, last = rising(low), rising(high), 0
    found = low
    for _ in range(60):
        before, found = found, (low * above - high * below) / (above - below)
        value = rising(found)
        if value == 0.0 or abs(found - before) < 1e-9:
            break
        if value < 0.0:
            low, below, above = found, value, 0.5 * above if last < 0 else above
        else:
            high, above, below = found, value, 0.5 * below if last > 0 else below
        last = -1 if value < 0.0 else 1
    return found


# --- How likely a verdict is, and how many runs make it likely -----------------------------------

WANTED = 0.80
"""Chance of a verdict that counts as "probably"; common practice, no source."""

MOST_RUNS = 500
"""Runs an item beyond which a test is called hopeless; our choice, some weeks of riding."""

NODES = 200
"""Places at which the spread is averaged; our choice, the chance then being right to 0.001 against
the noncentral t (tests/evidence)."""


@lru_cache(maxsize=4096)
def mean_squares(df: float, nodes: int) -> FloatArray:
    """Chi-squared over its degrees of freedom at equally likely places; 0 without any."""
    if not df:
        return np.zeros(1)
    return chi_squared_exceeded(df, 1.0 - (np.arange(nodes) + 0.5) / nodes) / df


@dataclass(frozen=True)
class VerdictChances:
    """Chances of the verdicts of a test."""

    seen: float
    tied: float
    settled: float
    """Of "faster" or "slower", of an interval within the margin, and of either."""

    @classmethod
    def of(
        cls,
        difference: float,
        error: float,
        halves: tuple[FloatArray, FloatArray],
        margin: float | None,
    ) -> "VerdictChances":
        """For a true difference whose error is normal, averaged over equally likely tests.

        A test is told by its half-widths for a verdict and for a tie.
        """
        centre, (outer, inner) = abs(difference) / error, (half / error for half in halves)
        below = scipy.special.ndtr
        seen = below(centre - outer) + below(-centre - outer)
        if margin is None:
            return cls(float(seen.mean()), 0.0, float(seen.mean()))
        # No tie is offered while the interval alone is wider than the margin.
        room = np.where(outer * error < margin, margin / error - inner, 0.0)
        tied = np.where(room > 0, below(room - centre) - below(-room - centre), 0.0)
        settled = np.where(room >= outer, 1.0, seen + tied)
        return cls(float(seen.mean()), float(tied.mean()), float(settled.mean()))


def chances(
    difference: float, error: float, df: float, margin: float | None, needed: Quantiles
) -> VerdictChances:
    """Chances of the verdicts for a true difference.

    They are averaged over the distribution of the estimated standard deviation, which is the
    noncentral t probability for `seen`.
    """
    found = error * (np.ones(1) if math.isinf(df) else np.sqrt(mean_squares(df, NODES)))
    halves = needed.decisive * found, needed.tie * found
    return VerdictChances.of(difference, error, halves, margin)


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
