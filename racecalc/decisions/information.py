"""What it is worth to learn something before choosing; pure mathematics on arrays.

The worth of each action is normal: known by its mean and standard deviation, independent of the
others. A test tells it with a normal error. Before the test the mean that will be believed after
it is itself normal, about the present mean, with the preposterior standard deviation; the best
of these means is on average more than the present best, and the difference is what the test is
worth before its cost. One more action, to do nothing, is worth zero and always there.

References
----------
.. [1] Raiffa H, Schlaifer R. Applied Statistical Decision Theory. Harvard 1961 (from memory).
.. [2] Schlaifer R. Probability and Statistics for Business Decisions. McGraw-Hill 1959 (from
   memory).
"""

import math
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray

ROOT_TWO = math.sqrt(2.0)
ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True)
class Gain:
    """What learning is worth before its cost.

    Parameters
    ----------
    worth : float
        Mean of what the better choice brings more, in the unit of the means; never negative.
    monte_carlo_error : float
        Standard error of `worth` by the number of draws; 0 where a closed form was used.
    chance_of_change : float
        Chance that another action than the present one is chosen.
    """

    worth: float
    monte_carlo_error: float
    chance_of_change: float


NO_GAIN = Gain(0.0, 0.0, 0.0)


def unit_normal_loss(z: float) -> float:
    """Mean of how far a standard normal number lies above `z`, counted 0 where it lies below.

    ``L(z) = phi(z) - z (1 - Phi(z))``.

    Parameters
    ----------
    z : float
        Any number.

    Returns
    -------
    float
        Zero or more.

    References
    ----------
    Raiffa H, Schlaifer R. Applied Statistical Decision Theory. Harvard 1961 (from memory).

    Examples
    --------
    >>> unit_normal_loss(0.5)
    0.1977966
    """
    density = math.exp(-0.5 * z * z) / ROOT_TWO_PI
    return max(0.0, density - z * chance_above(z))


def chance_above(z: float) -> float:
    """Chance that a standard normal number is more than `z`."""
    return 0.5 * math.erfc(z / ROOT_TWO)


def preposterior_sd(doubt: float, error: float) -> float:
    """Standard deviation of the mean that a test will leave: ``s^2 / sqrt(s^2 + e^2)``.

    Parameters
    ----------
    doubt : float
        Standard deviation before the test.
    error : float
        Standard error of the test, in the same unit; infinite for no test.

    Returns
    -------
    float
        Between 0 for a test that tells nothing and `doubt` for one without error.
    """
    return doubt * doubt / math.hypot(doubt, error) if doubt else 0.0


def gain_for_two(mean: float, sd: float) -> Gain:
    """Worth of learning for two actions: one of uncertain worth, the other worth 0.

    ``sd L(|mean| / sd)``: with the whole doubt as `sd` the worth of perfect knowledge, with the
    preposterior standard deviation that of a test.

    Parameters
    ----------
    mean : float
        Mean worth of the one over the other.
    sd : float
        Standard deviation of what will be believed, zero or more, in the same unit.

    Returns
    -------
    Gain
        Exact.

    References
    ----------
    Raiffa H, Schlaifer R. Applied Statistical Decision Theory. Harvard 1961 (from memory).

    Examples
    --------
    >>> gain_for_two(-0.5, 1.0).worth
    0.1977966
    """
    if sd == 0:
        return NO_GAIN
    z = abs(mean) / sd
    return Gain(sd * unit_normal_loss(z), 0.0, chance_above(z))


def gain_of_learning(means: FloatArray, learnt: FloatArray, normals: FloatArray) -> Gain:
    """Worth of learning before choosing one of several actions or none.

    Where one action is learnt about, the closed form of two actions holds against the best of
    the rest. Where several are, their mean is taken draw by draw, and only the difference to the
    present choice is averaged, which is zero wherever the choice stays.

    Parameters
    ----------
    means : array of shape (k,)
        Mean worth of each action; one more is worth 0.
    learnt : array of shape (k,)
        Preposterior standard deviation of each, independent; 0 where nothing is learnt.
    normals : array of shape (draws, k)
        Standard normal numbers; the same for all tests that are compared.

    Returns
    -------
    Gain
        By closed form or by Monte Carlo, with its standard error.
    """
    tested = np.flatnonzero(learnt > 0)
    rest = max([0.0, *means[learnt <= 0].tolist()])
    if len(tested) == 0:
        return NO_GAIN
    if len(tested) == 1:
        return gain_for_two(float(means[tested[0]]) - rest, float(learnt[tested[0]]))
    present = int(np.argmax(means))
    after = np.full(len(normals), rest)
    for one in tested:
        np.maximum(after, means[one] + learnt[one] * normals[:, one], out=after)
    now = means[present] + learnt[present] * normals[:, present] if means[present] > 0 else 0.0
    gained = after - now
    error = float(np.std(gained, ddof=1)) / math.sqrt(len(gained))
    return Gain(float(gained.mean()), error, float(np.mean(gained > 0)))


def common_normals(draws: int, actions: int, seed: int) -> FloatArray:
    """Standard normal numbers of shape (draws, actions), repeatable by their seed."""
    # Those of one action lie side by side in memory, for they are read action by action.
    return np.random.default_rng(seed).standard_normal((actions, draws)).T
