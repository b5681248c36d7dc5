"""How many standard errors a verdict needs, and how likely it is."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

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

    Examples
    --------
    >>> level_per_look(5), level_per_look(10)
    (0.0158, 0.005)
    """
    if looks < 1:
        raise InputError("looks", f"{looks} is not a number of looks", "give 1 or more")
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
    """Largest absolute value of correlated standard normal values, from small to large.

    At points of a lattice, put together to `TOGETHER`, which leaves a quantile the same to 0.0001.
    The lattice is Richtmyer's, multiples of the square roots of primes (Genz A, Bretz F.
    Computation of Multivariate Normal and t Probabilities. 2009, section 4.2; from memory).
    """
    from scipy.special import ndtri

    size, direction = np.linalg.eigh(np.frombuffer(correlation).reshape(count, count))
    root = direction[:, ::-1] * np.sqrt(np.maximum(size[::-1], 0.0))
    steps = np.arange(1, POINTS + 1)[:, None] * np.sqrt(_primes(count))
    folded = 1.0 - np.abs(2.0 * (steps % 1.0) - 1.0)  # makes the integrand periodic
    uniform = np.clip(folded, 1e-12, 1.0 - 1e-12)
    largest = np.sort(np.max(np.abs(ndtri(uniform) @ root.T), axis=1))
    return np.asarray(largest.reshape(TOGETHER, -1).mean(axis=1))


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

    least, most = (t_point(df, 1 - level / (2 * many)) for many in (1, count))
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

    quantile = t_point(df, 1 - level / 2)
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
