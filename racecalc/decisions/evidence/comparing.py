"""How many standard errors it takes, when several items or several looks share the errors."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError

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

    Parameters
    ----------
    looks : int
        How often the test is judged in all, the last time included.

    Returns
    -------
    float
        Pocock's constant up to five looks, 0.05 / looks beyond (Bonferroni).

    Raises
    ------
    InputError
        If it is less than one.

    Examples
    --------
    >>> level_per_look(5), level_per_look(10)
    (0.0158, 0.005)
    """
    if looks < 1:
        raise InputError("looks", f"{looks} is no number of looks", "give 1 or more")
    return POCOCK.get(looks, LEVEL / looks)


@dataclass(frozen=True)
class Quantiles:
    """Standard errors that a verdict needs.

    Parameters
    ----------
    decisive : float
        Half-width of the interval that must leave out zero for "faster" or "slower".
    tie : float
        Half-width of the interval that must lie within the margin for "tie".
    """

    decisive: float
    tie: float


def quantiles(df: float, correlation: FloatArray, level: float) -> Quantiles:
    """Quantiles for items compared with one baseline.

    Faster and slower use the quantile of the largest of several correlated t values (Dunnett's
    comparison with a control, for any correlation), which is exact where Bonferroni's and
    Holm's are on the safe side. A tie needs two one-sided tests at `level` over the number of
    items (Bonferroni), or the simultaneous interval where that is shorter: both hold whatever
    the true differences are.

    Parameters
    ----------
    df : float
        Degrees of freedom of the common standard deviation.
    correlation : FloatArray, shape (items, items)
        Correlation of the differences.
    level : float
        Chance of one or more false verdicts.

    Returns
    -------
    Quantiles
        Both at least those of one comparison.

    References
    ----------
    Dunnett CW. J Am Stat Assoc 1955;50:1096-1121. Schuirmann DJ. J Pharmacokinet Biopharm
    1987;15:657-680. Both cited from memory.
    """
    from scipy.special import stdtrit

    count = max(1, len(correlation))
    decisive = (
        float(stdtrit(df, 1 - level / 2))
        if count == 1
        else _largest(df, np.round(correlation, 6).tobytes(), count, level)
    )
    return Quantiles(decisive, min(float(stdtrit(df, 1 - level / count)), decisive))


def foretold(df: float, count: int, level: float) -> Quantiles:
    """Quantiles for `count` items before their correlation is known (Bonferroni)."""
    from scipy.special import ndtri, stdtrit

    def quantile(chance: float) -> float:
        return float(ndtri(chance) if np.isinf(df) else stdtrit(df, chance))

    return Quantiles(quantile(1 - level / (2 * count)), quantile(1 - level / count))


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
    from scipy.special import chdtrc, stdtrit

    largest = _largest_normal(correlation, count)

    def excess(quantile: float) -> float:
        return float(np.mean(chdtrc(df, df * (largest / quantile) ** 2))) - (1 - level)

    least, most = (float(stdtrit(df, 1 - level / (2 * many))) for many in (1, count))
    # Both ends are bounds up to the error of the integral, so they are widened a little.
    return float(brentq(excess, 0.97 * least, 1.03 * most, xtol=1e-6))
