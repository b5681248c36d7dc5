"""Places among rivals, and the chance of each where times are not sure.

The own time and those of the rivals are taken as normal and independent of each other. Given the
own time, the number of rivals ahead then is a sum of independent yes-or-no events (a
Poisson-binomial count), worked out exactly by adding one rival after the other; what is left is
an integral over the own time. No random numbers are drawn.

References
----------
.. [1] Chen SX, Liu JS. Statistical applications of the Poisson-binomial and conditional Bernoulli
   distributions. Statistica Sinica 1997;7:875-892 (the count by recursion; from memory).
"""

import math

import numpy as np
from scipy.special import ndtr

from racecalc.arrays import FloatArray

REACH = 8.0
"""Standard deviations either way beyond which nothing happens; that leaves out some 1e-15."""

MOST_NODES = 4000
"""Most own times at which the count is worked out; our choice. Enough for spreads of rivals down to
some hundredth of the own one; below, chances are off by 0.002 at most."""


def place_of(time: float, rivals: FloatArray) -> int:
    """Place of a time; who shares a time shares the place, and the places after it fall out.

    Parameters
    ----------
    time : float
        [s].
    rivals : FloatArray, shape (n,)
        Times of the rivals [s], in any order.

    Returns
    -------
    int
        From 1.

    Examples
    --------
    >>> place_of(1408.0, np.array([1391.0, 1402.0, 1408.0])), place_of(9.0, np.array([8.0, 8.0]))
    (3, 3)
    """
    return 1 + int(np.count_nonzero(rivals < time))


def place_chances(time: float, doubt: float, rivals: FloatArray, spread: float) -> FloatArray:
    """Chance of each place.

    Parameters
    ----------
    time, doubt : float
        Best estimate and standard uncertainty of the own time [s].
    rivals : FloatArray, shape (n,)
        Best estimates of the rivals' times [s], in any order.
    spread : float
        Standard deviation of each rival's time [s]; 0 takes them as they stand.

    Returns
    -------
    FloatArray, shape (n + 1,)
        Chance of the first place, of the second and so on; they add up to 1. Dead heats count
        only where no time is in doubt: anywhere else they have no chance worth a number.

    Examples
    --------
    >>> place_chances(10.0, 1.0, np.array([10.0]), 1.0)
    array([0.5, 0.5])
    """
    if spread == 0:
        return _among_fixed(time, doubt, np.sort(rivals))
    # Whoever is out of reach is surely ahead or behind, and not worth counting.
    reach = REACH * (doubt + spread)
    near = rivals[np.abs(rivals - time) <= reach]
    ahead = int(np.count_nonzero(rivals < time - reach))
    chances = np.zeros(len(rivals) + 1)
    chances[ahead : ahead + len(near) + 1] = _among_spread(time, doubt, near, spread)
    return chances


def _among_spread(time: float, doubt: float, rivals: FloatArray, spread: float) -> FloatArray:
    if doubt == 0:
        own, weight = np.array([time]), np.ones(1)
    else:
        deviation = np.linspace(-REACH, REACH, _nodes(doubt, spread, len(rivals)))
        own, weight = time + doubt * deviation, np.exp(-0.5 * deviation**2)
    ahead = ndtr((own[:, None] - rivals) / spread)
    return np.asarray((weight / weight.sum()) @ counts(ahead))


def _among_fixed(time: float, doubt: float, rivals: FloatArray) -> FloatArray:
    if doubt == 0:
        return np.asarray(np.arange(1, len(rivals) + 2) == place_of(time, rivals), dtype=float)
    below = ndtr((rivals - time) / doubt)
    return np.diff(np.concatenate(([0.0], below, [1.0])))


def _nodes(doubt: float, spread: float, rivals: int) -> int:
    """How many own times resolve the integrand.

    The chance of a place changes over about `spread` / sqrt(n) where n rivals lie together. The
    trapezoidal rule on smooth functions that vanish at both ends converges faster than any power
    of its step, so that half of that width is small enough.
    """
    width = min(doubt, spread / math.sqrt(max(rivals, 1)))
    return min(2 * math.ceil(2.0 * REACH * doubt / width) + 1, MOST_NODES)


def counts(chances: FloatArray) -> FloatArray:
    """Chance of each number of events among independent ones.

    Parameters
    ----------
    chances : FloatArray, shape (cases, n)
        Chance of each of n events.

    Returns
    -------
    FloatArray, shape (cases, n + 1)
        Chance that none, one, ... or all of them happen.

    Examples
    --------
    >>> counts(np.array([[0.5, 0.5]]))
    array([[0.25, 0.5 , 0.25]])
    """
    cases, events = chances.shape
    found = np.zeros((cases, events + 1))
    found[:, 0] = 1.0
    for event in range(events):
        happens = chances[:, event, None]
        until = found[:, : event + 1].copy()
        found[:, : event + 1] *= 1.0 - happens
        found[:, 1 : event + 2] += happens * until
    return found


def chance_within(time: float, doubt: float, limit: float) -> float:
    """Chance that a time is no more than a limit [s]."""
    if doubt == 0:
        return float(time <= limit)
    return float(ndtr((limit - time) / doubt))
