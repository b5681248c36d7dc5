"""From several riders to the next one, and from the best of many to what remains of it.

Values are taken as y_i = x_i mu + u_i + e_i with u of standard deviation tau and e of the known
variance v_i. For riders x is 1 throughout; for correlated errors (`shrinkage`) x is what remains of
1 after the errors are made independent.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Annotated, Literal

import numpy as np
import scipy

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import chi_squared_exceeded, t_point
from racecalc.decisions.evidence.least_squares import ROUND_OFF
from racecalc.decisions.verdicts import interval_of
from racecalc.written import HIDDEN, As

# --- How much true values differ beyond the error of their measurement ---------------------------

HALVINGS = 60
"""Bisections; each halves the bracket, so that 2^-60 of it remains."""

STARTS = 120
"""Points of the coarse search that precedes the root of the restricted likelihood."""


@dataclass(frozen=True, eq=False)
class Estimates:
    """Values in any unit, with the variances of their independent errors; arrays of shape (k,)."""

    values: FloatArray
    variances: FloatArray
    """In the unit squared; all 0 where none is known."""
    design: FloatArray
    """Share of the common mean in each value; 1 but for rotated data."""

    def __post_init__(self) -> None:
        shape = self.values.shape
        if len(shape) != 1 or not shape[0]:
            raise ValueError("values must be a list of at least one")
        for array in (self.values, self.variances, self.design):
            if array.shape != shape or not np.all(np.isfinite(array)):
                raise ValueError("values and errors must be as many as each other, and finite")
        if np.any(self.variances < 0) or (np.any(self.variances == 0) and np.any(self.variances)):
            raise ValueError("errors must be all positive, or all 0 where none is known")

    @property
    def freedom(self) -> int:
        """Degrees of freedom, k - 1."""
        return len(self.values) - 1

    @property
    def scatter(self) -> float:
        """Sum of squares about the unweighted mean, in the unit squared."""
        mean = self.design @ self.values / (self.design @ self.design)
        return float(np.sum((self.values - self.design * mean) ** 2))

    def weights(self, tau_squared: FloatArray) -> FloatArray:
        """Weights 1/(v + tau^2), shape (m, k), for m values of tau^2, shape (m,)."""
        return 1.0 / (self.variances + tau_squared[:, None])

    def mean(self, tau_squared: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weighted mean and its variance, each of shape (m,), at each tau^2, shape (m,)."""
        weights = self.weights(tau_squared)
        total = weights @ self.design**2
        return weights @ (self.design * self.values) / total, 1.0 / total

    def residual(self, tau_squared: FloatArray) -> FloatArray:
        """Values less the weighted mean, shape (m, k), at each tau^2, shape (m,)."""
        mean, _ = self.mean(tau_squared)
        return np.asarray(self.values - mean[:, None] * self.design)

    def q(self, tau_squared: FloatArray) -> FloatArray:
        """Weighted sum of squared residuals, shape (m,); chi^2 with k - 1 at the true tau^2."""
        weights = self.weights(tau_squared)
        return np.asarray(np.sum(weights * self.residual(tau_squared) ** 2, axis=1))

    def tau_squared_at(self, q: FloatArray) -> FloatArray:
        """The tau^2 at which `q` falls to given values; 0 where it lies below them from the start.

        q falls as tau^2 grows, and lies between scatter / (v + tau^2) at the largest and the
        smallest v, which brackets the root.
        """
        level = self.scatter / q
        low = np.maximum(level - np.max(self.variances), 0.0)
        high = np.maximum(level - np.min(self.variances), 0.0)
        if np.all(high == low):
            return low
        root = bisected(lambda tau_squared: q - self.q(tau_squared), low, high)
        return np.where(self.q(np.zeros(1)) > q, root, 0.0)

    def score(self, tau_squared: FloatArray) -> FloatArray:
        """Twice the slope of the restricted log likelihood by tau^2, shape (m,)."""
        weights = self.weights(tau_squared)
        spent = (weights**2 @ self.design**2) / (weights @ self.design**2)
        squares = np.sum((weights * self.residual(tau_squared)) ** 2, axis=1)
        return np.asarray(squares - np.sum(weights, axis=1) + spent)

    def restricted_likelihood(self, tau_squared: FloatArray) -> FloatArray:
        """Twice the restricted log likelihood but for a constant, shape (m,)."""
        weights = self.weights(tau_squared)
        return np.asarray(
            np.sum(np.log(weights), axis=1) - np.log(weights @ self.design**2) - self.q(tau_squared)
        )


def estimates(values: FloatArray, standard_errors: FloatArray) -> Estimates:
    """Values of the same common mean with standard errors, both of shape (k,)."""
    values = np.asarray(values, dtype=np.float64)
    standard_errors = np.asarray(standard_errors, dtype=np.float64)
    if np.any(standard_errors < 0):
        raise ValueError("standard errors must not be negative")
    return Estimates(values, standard_errors**2, np.ones_like(values))


def bisected(
    rising: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray
) -> FloatArray:
    """Roots of m rising functions at once, each within its bracket; arrays of shape (m,)."""
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        below = rising(middle) < 0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))


def tau_squared(data: Estimates) -> float:
    """Variance of at least two true values about their common mean, by restricted likelihood.

    The best of a coarse search, so that a second, lower peak is not taken; then bisection.

    References
    ----------
    Viechtbauer W. J Educ Behav Stat 2005;30:261-293 (from memory; checked in the tests).

    Examples
    --------
    >>> round(tau_squared(estimates(np.array([1.0, 3.0]), np.array([0.5, 0.5]))), 6)
    1.75
    """
    if not np.any(data.variances):
        return data.scatter / data.freedom
    largest = 4.0 * data.scatter + np.min(data.variances)
    steps = np.concatenate([[0.0], np.geomspace(1e-6 * largest, largest, STARTS)])
    best = int(np.argmax(data.restricted_likelihood(steps)))
    low, high = steps[max(best - 1, 0)], steps[min(best + 1, STARTS)]
    if data.score(np.array([low]))[0] <= 0:
        return float(low)
    return float(bisected(lambda t: -data.score(t), np.array([low]), np.array([high]))[0])


def tau_interval(data: Estimates) -> tuple[float, float]:
    """The 95 % interval of tau, from the tau^2 at which q has the quantiles of chi^2 with k - 1.

    Exact where the errors are normal and their variances known.

    References
    ----------
    Viechtbauer W. Confidence intervals for the amount of heterogeneity in meta-analysis.
    Stat Med 2007;26:37-52 (from memory).
    """
    ends = chi_squared_exceeded(data.freedom, np.array([0.025, 0.975]))
    low, high = np.sqrt(data.tau_squared_at(ends))
    return float(low), float(high)


# --- A quantity that is normal for every tau, averaged over what is known of tau -----------------

NODES = 48
"""Gauss-Legendre nodes; chances then agree with the t distribution to 1e-9 (tests)."""

NEGLIGIBLE = 1e-14
"""Chance beyond which chi is not followed."""


def confidence_in_tau(data: Estimates) -> tuple[FloatArray, FloatArray]:
    """What the data say of tau^2: a list of values and the confidence in each.

    The weighted sum of squares q(tau^2) is a draw of chi^2 with k - 1 degrees of freedom at the
    true tau^2. Read backwards, each value of chi^2 names a tau^2, and its chance is the confidence
    in it, of which the weights sum to 1; values above q(0) name tau = 0. The interval of tau that
    follows is `tau_interval`. The nodes are Gauss-Legendre in chi, whose density
    chi^(k-2) exp(-chi^2/2) is smooth for any k.

    References
    ----------
    Viechtbauer W. Stat Med 2007;26:37-52 for the interval. Nagashima K, Noma H, Furukawa TA.
    Stat Methods Med Res 2019;28:1689-1702 average a prediction over such a distribution, drawn
    at random from Cochran's Q; q(tau^2) needs no drawing.
    """
    freedom = data.freedom
    end = float(np.sqrt(chi_squared_exceeded(freedom, NEGLIGIBLE)))
    if np.any(data.variances):
        end = min(end, float(np.sqrt(data.q(np.zeros(1))[0])))
    spread_chance = float(scipy.special.chdtr(freedom, end**2))
    if spread_chance < NEGLIGIBLE:
        return np.zeros(1), np.ones(1)
    nodes, lengths = np.polynomial.legendre.leggauss(NODES)
    chi = 0.5 * end * (nodes + 1.0)
    exponent = (freedom - 1) * np.log(chi) - 0.5 * chi**2
    density = lengths * np.exp(exponent - np.max(exponent))
    weights = density / np.sum(density) * spread_chance
    tau_squared = data.tau_squared_at(chi**2)
    if np.any(data.variances):
        weights, tau_squared = np.append(weights, 1.0 - spread_chance), np.append(tau_squared, 0.0)
    real = weights > NEGLIGIBLE
    return tau_squared[real], weights[real] / np.sum(weights[real])


@dataclass(frozen=True, eq=False)
class Mixture:
    """Weighted normal distributions, in the unit of the quantity; arrays of shape (m,)."""

    means: FloatArray
    deviations: FloatArray
    weights: FloatArray
    """Sum to 1."""

    def quantiles(self, chances: FloatArray) -> FloatArray:
        """Values below which the quantity lies with given chances, shape (n,).

        Each lies between the least and the greatest quantile of the parts.
        """
        parts = self.means + np.outer(scipy.special.ndtri(chances), self.deviations)
        return bisected(
            lambda limits: self.below(limits) - chances, parts.min(axis=1), parts.max(axis=1)
        )

    def updated(self, value: float, standard_error: float) -> tuple[float, float]:
        """Mean and standard deviation once a value with a normal error has been measured."""
        total = self.deviations**2 + standard_error**2
        foretold = np.log(self.weights) - 0.5 * (np.log(total) + (value - self.means) ** 2 / total)
        weights = np.exp(foretold - np.max(foretold))
        weights /= np.sum(weights)
        trust = self.deviations**2 / total
        means = self.means + trust * (value - self.means)
        mean = float(weights @ means)
        variance = weights @ (trust * standard_error**2 + (means - mean) ** 2)
        return mean, float(np.sqrt(variance))

    def below(self, limits: FloatArray) -> FloatArray:
        """Chance that the quantity lies below each limit, shape (n,)."""
        below = scipy.special.ndtr((limits[:, None] - self.means) / self.deviations)
        return np.asarray(below @ self.weights)


# --- What a rider who was not tested may expect from an item that others have tested -------------

LOWER = 0.10
"""One rider in ten does worse than `Prediction.lower`, one in ten better than `upper`;
our choice."""


@dataclass(frozen=True)
class Prediction:
    """Saving of a rider who was not tested; savings in the unit of the data."""

    low: float
    high: float
    """95 % prediction interval."""
    lower: float
    upper: float
    """10 % and 90 % quantiles: eight riders in ten lie between."""
    chance_faster: float
    """Chance that the item saves anything at all."""
    chance_of_loss: float
    """Chance that it costs more than the margin."""
    margin: float
    """Loss that does not matter."""
    distribution: Mixture = field(repr=False, compare=False)
    """All that is foretold, for `pooling.blend`."""


def predicted(data: Estimates, margin: float) -> Prediction:
    """Prediction for an untested rider, the spread between riders being itself uncertain.

    For every tau the saving is normal about the weighted mean, with the variance of the mean plus
    tau^2; these are averaged over the confidence in tau (`confidence_in_tau`). Without known
    errors this is exactly Student's t with k - 1 degrees of freedom and the deviation
    s sqrt(1 + 1/k).

    The method was chosen by simulation against five others; `tests/evidence/
    test_prediction_coverage.py` has their shares and runs it again. With three riders at tau of 1
    standard error the median width is 11, against 23 of the usual interval (Higgins). Where riders
    do not differ at all, 99.5 % and more lie within: the interval errs on the wide side.

    References
    ----------
    Higgins JPT, Thompson SG, Spiegelhalter DJ. J R Stat Soc A 2009;172:137-159. Partlett C,
    Riley RD. Stat Med 2017;36:301-317. Nagashima K, Noma H, Furukawa TA. Stat Methods Med Res
    2019;28:1689-1702.
    """
    tau_squared, weights = confidence_in_tau(data)
    mean, variance = data.mean(tau_squared)
    foretold = Mixture(mean, np.sqrt(variance + tau_squared), weights)
    chances = np.array([0.025, LOWER, 1.0 - LOWER, 0.975])
    low, lower, upper, high = foretold.quantiles(chances).tolist()
    slower, loss = foretold.below(np.array([0.0, -margin])).tolist()
    return Prediction(
        low=low,
        high=high,
        lower=lower,
        upper=upper,
        chance_faster=1.0 - slower,
        chance_of_loss=loss,
        margin=margin,
        distribution=foretold,
    )


# --- Words for what riders show of an item -------------------------------------------------------

Character = Literal[
    "works on everyone",
    "about the same for all",
    "best for some, bad for others",
    "slows nearly everyone",
    "differs from rider to rider",
    "not known yet",
]

NEARLY_ALL = 0.9
"""Chance of a gain from which an item works on everyone."""

LOSS_LIMIT = 0.05
"""Chance of losing more than the margin from which an item is bad for some."""

FEWEST_TO_TELL_APART = 4
"""Riders below which no word is given; the chances are shown all the same."""

TOO_LITTLE = (
    "the riders are too few, or their tests too coarse, to show a difference between riders"
)


def character_of(
    riders: int, saving: float, tau_low: float, prediction: Prediction
) -> tuple[Character, str]:
    """Word for an item, by what it does to a rider who was not tested, and why."""
    chances = (
        f"another rider gains with a chance of {_percent(prediction.chance_faster)} and loses more"
        f" than the margin with {_percent(prediction.chance_of_loss)}"
    )
    word = _word(riders, saving, tau_low, prediction)
    if word == "not known yet":
        return word, f"{chances}, but {TOO_LITTLE}"
    if word == "about the same for all":
        return word, "eight riders in ten are within the margin of the middle one"
    return word, chances


def _word(riders: int, saving: float, tau_low: float, prediction: Prediction) -> Character:
    faster, loss = prediction.chance_faster, prediction.chance_of_loss
    if riders < FEWEST_TO_TELL_APART:
        return "not known yet"
    if faster >= NEARLY_ALL and loss <= LOSS_LIMIT:
        return "works on everyone"
    if faster <= 1.0 - NEARLY_ALL:
        return "slows nearly everyone"
    if prediction.upper - prediction.lower <= 2.0 * prediction.margin:
        return "about the same for all"
    if tau_low == 0:
        return "not known yet"
    good = saving > 0 and loss > LOSS_LIMIT
    return "best for some, bad for others" if good else "differs from rider to rider"


def spread_words(
    riders: int, tau: float, tau_interval: tuple[float, float], typical_error: float
) -> str:
    """What so many riders tell of the differences between riders, in one sentence."""
    low, high = tau_interval
    count = f"With {riders} riders tested, "
    allowed = "(95 % limit); the range for another rider allows for it."
    if low > 0 and tau > 0:
        said = f"the true spread between riders may be {high / tau:.1f} times what was found"
        return f"{count}{said} {allowed}"
    if high > 0:
        said = "no spread beyond the test error is proved, but it may be as large as"
        return f"{count}{said} {high / typical_error:.1f} test errors {allowed}"
    return f"{count}results differ even less than the stated test errors suggest."


def _percent(chance: float) -> str:
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"


# --- The savings of one item on several riders, taken together -----------------------------------

PREDICTED = As(chance_faster="chance_faster", chance_of_loss="chance_of_loss")

ALIKE = (
    "All riders show the same value and no test error is stated, so the spread is unknown.",
    "Nothing can be said about a rider who was not tested.",
)

UNSTATED = "No test error is stated, so the spread between riders includes the test error."


@dataclass(frozen=True, kw_only=True)
class Pooled:
    """An item tested on several riders; all savings in the unit they were given in."""

    riders: int
    """How many were tested, k."""
    saving: Annotated[float, HIDDEN]
    """Mean over all riders, weighted by how well each is known."""
    standard_error: Annotated[float | None, HIDDEN] = None
    """Of the mean (Hartung and Knapp, never below the plain one); None where nothing tells it."""
    low: Annotated[float | None, HIDDEN] = None
    high: Annotated[float | None, HIDDEN] = None
    """95 % interval of the mean over all riders, which is not the range for one rider."""
    tau: Annotated[float | None, As(spread_between_riders="")] = None
    tau_low: Annotated[float | None, As(spread_low="")] = None
    tau_high: Annotated[float | None, As(spread_high="")] = None
    """How much riders truly differ (standard deviation), with its 95 % interval; None for one
    rider.
    """
    i_squared: Annotated[float | None, As(share_of_scatter_between_riders="")] = None
    """Share of the scatter that is not test error; None where no error is known."""
    worst: Annotated[float, As(worst_saving="")]
    """Least saving found on a rider, as measured."""
    prediction: Annotated[Prediction | None, PREDICTED] = None
    """For a rider who was not tested; None where the spread between riders is not known."""
    character: Character = "not known yet"
    """What kind of item it is."""
    because: Annotated[str, As(character_because="")] = "the spread between riders is not known"
    """Why it is called that, in one sentence."""
    known: tuple[str, ...]
    """What so many riders tell and do not tell, in sentences."""

    @property
    def safety(self) -> tuple[bool, float]:
        """Greater for what an unlucky rider gains more from: nine in ten gain so much."""
        ahead = self.prediction
        return (False, self.saving) if ahead is None else (True, ahead.lower)


def pool(savings: FloatArray, standard_errors: FloatArray, margin: float) -> Pooled:
    """Savings of two or more riders taken as drawn from a normal distribution of riders.

    The standard errors, all 0 where none is known, are taken as known; all in any one unit, arrays
    of shape (k,). The interval of the mean is that of Hartung and Knapp with q not below 1, as
    advised for few studies by Roever et al. (BMC Med Res Methodol 2015;15:99).

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
    data = estimates(savings, standard_errors)
    riders, worst = data.freedom + 1, float(np.min(data.values))
    if not np.any(data.variances) and np.ptp(data.values) == 0:
        return Pooled(riders=riders, saving=worst, worst=worst, known=ALIKE)
    squared = tau_squared(data)
    mean, error = mean_at(data, squared)
    low, high = interval_of(mean, error, t_point(data.freedom, 0.975))
    tau, (tau_low, tau_high) = float(np.sqrt(squared)), tau_interval(data)
    prediction = predicted(data, margin)
    character, because = character_of(riders, mean, tau_low, prediction)
    typical_error = float(np.sqrt(np.mean(data.variances)))
    words = spread_words(riders, tau, (tau_low, tau_high), typical_error)
    return Pooled(
        riders=riders,
        saving=mean,
        standard_error=error,
        low=low,
        high=high,
        tau=tau,
        tau_low=tau_low,
        tau_high=tau_high,
        i_squared=_i_squared(data),
        worst=worst,
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

    The own result remains where its error is 0 or nothing is predicted. It must not be in the pool.

    References
    ----------
    Normal prior and normal error: Raiffa H, Schlaifer R. Applied Statistical Decision Theory,
    1961 (from memory), here for each part of the mixture.
    """
    if pooled.prediction is None or own_standard_error == 0:
        return own, own_standard_error
    return pooled.prediction.distribution.updated(own, own_standard_error)


def mean_at(data: Estimates, squared: float) -> tuple[float, float]:
    """Mean, and its standard error times sqrt(q / (k - 1)) where that is above 1."""
    at = np.array([squared])
    mean, variance = data.mean(at)
    return float(mean[0]), float(np.sqrt(variance[0] * max(1.0, data.q(at)[0] / data.freedom)))


def _i_squared(data: Estimates) -> float | None:
    if not np.any(data.variances):
        return None
    q = float(data.q(np.zeros(1))[0])
    return max(0.0, 1.0 - data.freedom / q) if q > 0 else 0.0


# --- The best of many looks better than it is ----------------------------------------------------

PRUDENCE = 0.7
"""Confidence with which items truly differ by at least the tau that is used; see `shrink`."""


@dataclass(frozen=True, eq=False)
class Shrunken:
    """Items compared at the same time, as measured and as they should be believed."""

    raw: Annotated[FloatArray, As(saved_as_measured="")]
    """Savings against the shared baseline, as measured; shape (k,)."""
    shrunken: Annotated[FloatArray, As(saved_as_believed="")]
    """What remains of them, in the same unit; shape (k,)."""
    doubt: FloatArray
    """Standard uncertainty of `shrunken`, for which tau is not taken as known; shape (k,)."""
    covariance: Annotated[FloatArray, HIDDEN]
    """Of the errors of `shrunken`; `doubt` squared on its diagonal; shape (k, k)."""
    common: float
    """Mean of all items, towards which they are drawn."""
    tau: Annotated[float, HIDDEN]
    """How much the items are taken to differ in truth (standard deviation)."""
    looked_best: int
    best: int
    """Which item is best as measured, and which after shrinking."""
    luck: Annotated[float, As(luck_of_the_best="")]
    """By how much the best of so many equal items is seen to lead them, by test error alone."""
    kept: Annotated[float, HIDDEN]
    """Share of the lead over the mean that is left to the item that looked best."""
    why: Annotated[str, As(because="")]
    """Why both columns differ, in one sentence."""

    @property
    def alike(self) -> bool:
        """Whether several items differ by no more than test error, so that all are one value."""
        return not self.tau

    def wider(self, factor: float) -> "Shrunken":
        """The same where the test error itself is known from few runs."""
        doubt, covariance = factor * self.doubt, factor**2 * self.covariance
        return replace(self, doubt=doubt, covariance=covariance)


def shrink(savings: FloatArray, covariance: FloatArray) -> Shrunken:
    """Savings of items drawn together by as much as test error may have driven them apart.

    Items are taken as drawn from a normal distribution about their common mean, which the tests
    themselves tell. Drawing them towards 0 instead would charge every item with an error of the
    baseline that they share. At least two savings in any one unit, shape (k,), and the covariance
    of their errors in that unit squared, shape (k, k).

    Raises `ValueError` if a value is not finite, or the covariance is not positive definite.

    The expected tau draws too little: among k equal items it leaves the best 0.23 standard errors
    ahead, as it is above 0 in four tests of ten. Taken here is the tau that the true one exceeds
    with 70 % confidence; the errors that it leaves are in `tests/evidence/test_shrinkage.py`. The
    interval of 1.96 `doubt` about the best then holds its true value in 91 to 99 % of tests.

    References
    ----------
    Efron B, Morris C. J Am Stat Assoc 1975;70:311-319 (normal means, known errors). Dawid AP.
    Selection paradoxes of Bayesian inference, 1994: given the right tau, a choice needs no
    further correction (from memory).
    """
    variances, axes = np.linalg.eigh(covariance)
    if variances[0] <= 1e-12 * variances[-1]:
        raise ValueError("the covariance must be positive definite")
    data = Estimates(axes.T @ savings, variances, axes.T @ np.ones_like(savings))
    tau_squared = data.tau_squared_at(
        chi_squared_exceeded(data.freedom, np.array([1.0 - PRUDENCE]))
    )
    shrunken = (axes @ _drawn(data, tau_squared)[0])[:, 0]
    common = float(data.mean(tau_squared)[0][0])
    looked_best, best = int(np.argmax(savings)), int(np.argmax(shrunken))
    lead = float(savings[looked_best]) - common
    ahead = lead > ROUND_OFF * float(np.max(np.abs(savings)))
    kept = (float(shrunken[looked_best]) - common) / lead if ahead else 1.0
    of_shrunken = _errors_left(data, axes, shrunken)
    return Shrunken(
        raw=savings,
        shrunken=shrunken,
        doubt=np.sqrt(np.diag(of_shrunken)),
        covariance=of_shrunken,
        common=common,
        tau=float(np.sqrt(tau_squared[0])),
        looked_best=looked_best,
        best=best,
        luck=best_by_luck(_own_errors(covariance)),
        kept=kept,
        why=_why(len(savings), kept, best == looked_best),
    )


def best_by_luck(standard_errors: FloatArray) -> float:
    """Expected greatest of independent normal errors with positive standard errors.

    References
    ----------
    E max = integral of 1 - F over x > 0 less that of F over x < 0, F the product of all
    distribution functions. David HA, Nagaraja HN. Order Statistics, 2003 (from memory).

    Examples
    --------
    >>> round(best_by_luck(np.full(4, 1.5)), 2), round(best_by_luck(np.full(8, 1.5)), 2)
    (1.54, 2.14)
    """
    reach = 9.0 * float(np.max(standard_errors))
    x = np.linspace(0.0, reach, 2001)
    above = 1.0 - np.prod(scipy.special.ndtr(x[:, None] / standard_errors), axis=1)
    below = np.prod(scipy.special.ndtr(-x[:, None] / standard_errors), axis=1)
    step = float(x[1])
    return step * float(np.sum(above - below) - 0.5 * (above[0] - below[0]))


def _own_errors(covariance: FloatArray) -> FloatArray:
    """Standard errors but for what all items share, which does not change which is best."""
    variances = np.diag(covariance)
    shared = float(np.min(covariance[~np.eye(len(covariance), dtype=bool)]))
    return np.sqrt(variances - min(shared, float(np.min(variances))))


def _drawn(data: Estimates, tau_squared: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Along the axes of the errors: values, own variance, and pull of the mean, each (k, m)."""
    trust = tau_squared / (tau_squared + data.variances[:, None])
    mean, _ = data.mean(tau_squared)
    foretold = np.outer(data.design, mean)
    values = foretold + trust * (data.values[:, None] - foretold)
    return values, trust * data.variances[:, None], (1.0 - trust) * data.design[:, None]


def _errors_left(data: Estimates, axes: FloatArray, shrunken: FloatArray) -> FloatArray:
    """Covariance about `shrunken`, averaged over the confidence in tau, shape (k, k)."""
    tau_squared, weights = confidence_in_tau(data)
    values, own, pull = _drawn(data, tau_squared)
    _, of_mean = data.mean(tau_squared)
    shared, off = axes @ pull, axes @ values - shrunken[:, None]
    found = (axes * (own @ weights)) @ axes.T
    return np.asarray(found + (shared * of_mean * weights) @ shared.T + (off * weights) @ off.T)


def _why(count: int, kept: float, same: bool) -> str:
    picked = f"The best of {count} was picked for looking best, and part of that is luck: "
    share = (
        "the items differ no more than by test error, so none of its lead is kept"
        if kept < 0.005
        else f"{100.0 * kept:.0f} % of its lead over the mean of all is kept"
    )
    return (
        picked + share + ("." if same else "; another item, which is better known, comes out best.")
    )
