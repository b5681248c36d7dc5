"""How likely a verdict is, and how many runs make it likely."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.comparing import Quantiles

WANTED = 0.80
"""Chance of a verdict that counts as "probably"; common practice, no source."""

MOST_RUNS = 500
"""Runs an item beyond which a test is called hopeless; our choice, some weeks of riding."""

NODES = 200
"""Places at which the spread is averaged; our choice, the chance then being right to 0.001 against
the noncentral t (tests/evidence)."""


@dataclass(frozen=True)
class Chances:
    """Chances of the verdicts of a test.

    Parameters
    ----------
    seen : float
        Of "faster" or "slower".
    tied : float
        Of an interval within the margin.
    settled : float
        Of either.
    """

    seen: float
    tied: float
    settled: float


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
) -> Chances:
    """Chances of the verdicts for a true difference.

    The chance given the estimated standard deviation is normal; it is averaged over the
    distribution of that estimate, which is the noncentral t probability for `seen`.

    Parameters
    ----------
    difference : float
        True difference.
    error : float
        True standard error of the estimated difference, above zero.
    df : float
        Degrees of freedom; infinite where the standard deviation is known.
    margin : float or None
        Difference that does not matter; None offers no tie.
    needed : Quantiles
        Standard errors that the verdicts need.

    Returns
    -------
    Chances
        Each from 0 to 1.
    """
    from scipy.special import ndtr

    centre, spread = abs(difference) / error, _spreads(df)
    outer = needed.decisive * spread
    seen = ndtr(centre - outer) + ndtr(-centre - outer)
    if margin is None:
        return Chances(float(seen.mean()), 0.0, float(seen.mean()))
    # No tie is offered while the interval alone is wider than the margin.
    inner = np.where(outer * error < margin, margin / error - needed.tie * spread, 0.0)
    tied = np.where(inner > 0, ndtr(inner - centre) - ndtr(-inner - centre), 0.0)
    settled = np.where(inner >= outer, 1.0, seen + tied)
    return Chances(float(seen.mean()), float(tied.mean()), float(settled.mean()))


def detectable(error: float, df: float, level: float = 0.05, chance: float = WANTED) -> float:
    """Smallest true difference that is called faster or slower with a given chance.

    Parameters
    ----------
    error : float
        Standard error of the difference.
    df : float
        Degrees of freedom; infinite where the standard deviation is known.
    level : float
        Two-sided level.
    chance : float
        Chance wanted.

    Returns
    -------
    float
        In the unit of the error; 2.80 standard errors where the standard deviation is known.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtri, stdtrit

    quantile = float(ndtri(1 - level / 2) if math.isinf(df) else stdtrit(df, 1 - level / 2))
    needed = Quantiles(quantile, quantile)
    return error * float(
        brentq(
            lambda size: chances(size, 1.0, df, None, needed).seen - chance, 0, 20 + 20 * quantile
        )
    )


def fewest(likely: Callable[[int], float], most: int = MOST_RUNS) -> int | None:
    """Find the smallest number of runs that makes something likely.

    Parameters
    ----------
    likely : callable
        Chance for a number of runs from 1, growing with it.
    most : int
        Where the search ends.

    Returns
    -------
    int or None
        None if even the most runs do not reach 80 %.
    """
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
