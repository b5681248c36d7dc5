"""The savings of one item on several riders, taken together."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.character import Character, character_of, spread_words
from racecalc.decisions.evidence.true_spread import (
    Estimator,
    Measured,
    measured,
    tau_interval,
    tau_squared,
)
from racecalc.decisions.evidence.untested import (
    Prediction,
    predicted,
    t_interval,
)
from racecalc.decisions.verdicts import interval

UNSTATED = "No test error is stated, so the spread between riders holds the test error too."


@dataclass(frozen=True)
class Pooled:
    """An item tested on several riders; all savings in the unit they were given in.

    Parameters
    ----------
    riders : int
        How many were tested, k.
    saving : float
        Mean over all riders, weighted by how well each is known.
    standard_error : float or None
        Of the mean (Hartung and Knapp, never below the plain one); None where nothing tells it.
    low, high : float or None
        95 % interval of the mean over all riders, which is not the range for one rider.
    tau, tau_low, tau_high : float or None
        How much riders truly differ (standard deviation), with its 95 % interval; None for one
        rider.
    i_squared : float or None
        Share of the scatter that is not test error; None where no error is known.
    worst : float
        Least saving found on a rider, as measured.
    prediction : Prediction or None
        For a rider who was not tested; None where the spread between riders is not known.
    character : Character
        What kind of item it is.
    because : str
        Why it is called that, in one sentence.
    known : tuple of str
        What so many riders tell and do not tell, in sentences.
    """

    riders: int
    saving: float
    standard_error: float | None
    low: float | None
    high: float | None
    tau: float | None
    tau_low: float | None
    tau_high: float | None
    i_squared: float | None
    worst: float
    prediction: Prediction | None
    character: Character
    because: str
    known: tuple[str, ...]


def pool(
    savings: FloatArray,
    standard_errors: FloatArray,
    margin: float,
    estimator: Estimator = "reml",
) -> Pooled:
    """Savings of riders taken as drawn from a normal distribution of riders.

    Parameters
    ----------
    savings : FloatArray, shape (k,)
        Saving of each rider, in any one unit.
    standard_errors : FloatArray, shape (k,)
        Their standard errors; all 0 where none is known.
    margin : float
        Saving or loss that does not matter, in the same unit; not negative.
    estimator : {"reml", "dl", "pm"}
        Of tau, for the mean and the spread; the prediction averages over tau and needs none.

    Returns
    -------
    Pooled

    Raises
    ------
    ValueError
        If shapes disagree, a value is not finite, errors are negative or only in part 0, or the
        margin is negative.

    Notes
    -----
    The standard errors are taken as known. The interval of the mean is that of Hartung and Knapp
    with q not below 1, as advised for few studies by Roever et al. (BMC Med Res Methodol
    2015;15:99).

    References
    ----------
    Knapp G, Hartung J. Stat Med 2003;22:2693-2710. Higgins JPT, Thompson SG. Stat Med
    2002;21:1539-1558 (I^2).

    Examples
    --------
    Seven riders of whom no error is known; one of them lost:

    >>> found = np.array([4.1, 6.0, -2.5, 3.2, 1.0, 5.1, 2.2])
    >>> bottle = pool(found, np.zeros(7), margin=2.0)
    >>> round(bottle.saving, 1), round(bottle.prediction.chance_faster, 2)
    (2.7, 0.8)
    >>> bottle.character
    'best for some, bad for others'
    """
    if margin < 0:
        raise ValueError("the margin must not be negative")
    data = measured(savings, standard_errors)
    if not data.freedom or (not np.any(data.variances) and np.ptp(data.values) == 0):
        return _without_spread(data)
    squared = tau_squared(data, estimator)
    mean, variance, ratio = _mean_at(data, squared)
    low, high = t_interval(mean, variance * max(1.0, ratio), data.freedom)
    tau_low, tau_high = tau_interval(data)
    prediction = predicted(data, margin)
    riders = data.freedom + 1
    character, because = character_of(riders, mean, tau_low, prediction)
    typical_error = float(np.sqrt(np.mean(data.variances)))
    words = spread_words(riders, float(np.sqrt(squared)), (tau_low, tau_high), typical_error)
    return Pooled(
        riders=riders,
        saving=mean,
        standard_error=float(np.sqrt(variance * max(1.0, ratio))),
        low=low,
        high=high,
        tau=float(np.sqrt(squared)),
        tau_low=tau_low,
        tau_high=tau_high,
        i_squared=_i_squared(data),
        worst=float(np.min(data.values)),
        prediction=prediction,
        character=character,
        because=because,
        known=(words,) if typical_error else (words, UNSTATED),
    )


def blend(own: float, own_standard_error: float, pooled: Pooled) -> tuple[float, float]:
    """A rider's own result with what the other riders let expect.

    The prediction for an untested rider is the prior. The better the own result is known, the
    more it weighs; and the further it lies from what was foretold, the more likely are riders to
    differ, and the more it weighs as well. With six others, and riders who differ by one standard
    error, 1.96 deviations hold the truth in 91 % of simulated tests.

    Parameters
    ----------
    own, own_standard_error : float
        The rider's own saving and its standard error, in the unit of the pool.
    pooled : Pooled
        Other riders; the rider's own result must not be among them.

    Returns
    -------
    saving, deviation : float
        In the same unit. The own result as it stands where its error is 0 or nothing is predicted.

    References
    ----------
    Normal prior and normal error: Raiffa H, Schlaifer R. Applied Statistical Decision Theory,
    1961 (from memory), here for each part of the mixture.
    """
    if pooled.prediction is None or own_standard_error == 0:
        return own, own_standard_error
    return pooled.prediction.distribution.updated(own, own_standard_error)


def safest_first(items: Mapping[str, Pooled]) -> tuple[str, ...]:
    """Names by what an unlucky rider gets: the saving that nine riders in ten exceed.

    Parameters
    ----------
    items : mapping of str to Pooled
        All in one unit.

    Returns
    -------
    tuple of str
        Those without a prediction last, by their mean.
    """

    def downside(name: str) -> tuple[bool, float]:
        prediction = items[name].prediction
        if prediction is None:
            return True, -items[name].saving
        return False, -prediction.lower

    return tuple(sorted(items, key=downside))


def _mean_at(data: Measured, squared: float) -> tuple[float, float, float]:
    """Mean, its plain variance, and q / (k - 1)."""
    at = np.array([squared])
    mean, variance = data.mean(at)
    return float(mean[0]), float(variance[0]), float(data.q(at)[0]) / data.freedom


def _i_squared(data: Measured) -> float | None:
    if not np.any(data.variances):
        return None
    q = float(data.q(np.zeros(1))[0])
    return max(0.0, 1.0 - data.freedom / q) if q > 0 else 0.0


def _without_spread(data: Measured) -> Pooled:
    """One rider, or the same value for all with no error known."""
    riders, mean = data.freedom + 1, float(np.mean(data.values))
    error = float(np.sqrt(np.mean(data.variances))) or None
    low, high = interval(mean, error)
    if riders == 1:
        words = "One rider was tested, so how much riders differ is not known."
    else:
        words = "All riders show the same value and no test error is stated, which tells no spread."
    return Pooled(
        riders=riders,
        saving=mean,
        standard_error=error,
        low=low,
        high=high,
        tau=None,
        tau_low=None,
        tau_high=None,
        i_squared=None,
        worst=float(np.min(data.values)),
        prediction=None,
        character="cannot be told yet",
        because="the spread between riders is not known",
        known=(words, "Nothing can be said of a rider who was not tested."),
    )
