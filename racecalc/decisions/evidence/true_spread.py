"""How much true values differ beyond the error of their measurement: tau, three ways.

Values are taken as y_i = x_i mu + u_i + e_i with u of standard deviation tau and e of the known
variance v_i. For riders x is 1 throughout; for correlated errors (`shrinkage`) x is what remains
of 1 after the errors are made independent.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from racecalc.arrays import FloatArray

Estimator = Literal["reml", "dl", "pm"]

HALVINGS = 60
"""Bisections; each halves the bracket, so that 2^-60 of it remains."""

STARTS = 120
"""Points of the coarse search that precedes the root of the restricted likelihood."""


@dataclass(frozen=True, eq=False)
class Measured:
    """Values with the variances of their errors.

    Parameters
    ----------
    values : FloatArray, shape (k,)
        What was measured, in any unit.
    variances : FloatArray, shape (k,)
        Variances of the independent errors, in the unit squared; all 0 where none is known.
    design : FloatArray, shape (k,)
        Share of the common mean in each value; 1 but for rotated data.

    Raises
    ------
    ValueError
        If shapes disagree, there is no value, one is not finite, a variance is negative, or some
        variances are 0 and others not.
    """

    values: FloatArray
    variances: FloatArray
    design: FloatArray

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

        Parameters
        ----------
        q : FloatArray, shape (m,)
            Positive.

        Returns
        -------
        FloatArray, shape (m,)
            In the unit squared.

        Notes
        -----
        q lies between scatter / (v + tau^2) at the largest and the smallest v, which brackets the
        root; it falls as tau^2 grows.
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


def measured(values: FloatArray, standard_errors: FloatArray) -> Measured:
    """Values of the same common mean with standard errors, both of shape (k,)."""
    values = np.asarray(values, dtype=np.float64)
    standard_errors = np.asarray(standard_errors, dtype=np.float64)
    if np.any(standard_errors < 0):
        raise ValueError("standard errors must not be negative")
    return Measured(values, standard_errors**2, np.ones_like(values))


def bisected(
    rising: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray
) -> FloatArray:
    """Roots of m rising functions at once, each within its bracket; arrays of shape (m,)."""
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        below = rising(middle) < 0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))


def tau_squared(data: Measured, estimator: Estimator = "reml") -> float:
    """Variance of the true values about their common mean.

    Parameters
    ----------
    data : Measured
        At least two values.
    estimator : {"reml", "dl", "pm"}
        Restricted likelihood; moments; or the tau^2 at which q is k - 1.

    Returns
    -------
    float
        In the unit squared, not negative.

    References
    ----------
    "dl": DerSimonian R, Laird N. Control Clin Trials 1986;7:177-188. "pm": Paule RC, Mandel J.
    J Res Natl Bur Stand 1982;87:377-385. "reml": Viechtbauer W. J Educ Behav Stat
    2005;30:261-293. All three from memory; the values that they give are checked in the tests.

    Examples
    --------
    >>> pair = measured(np.array([1.0, 3.0]), np.array([0.5, 0.5]))
    >>> round(tau_squared(pair), 6), round(tau_squared(pair, "dl"), 6)
    (1.75, 1.75)
    """
    if not np.any(data.variances):
        return data.scatter / data.freedom
    if estimator == "dl":
        return _by_moments(data)
    if estimator == "pm":
        return float(data.tau_squared_at(np.array([float(data.freedom)]))[0])
    return _by_restricted_likelihood(data)


def _by_moments(data: Measured) -> float:
    weights = data.weights(np.zeros(1))[0]
    spent = np.sum(weights) - (weights**2 @ data.design**2) / (weights @ data.design**2)
    return max(0.0, float((data.q(np.zeros(1))[0] - data.freedom) / spent))


def _by_restricted_likelihood(data: Measured) -> float:
    """Best of a coarse search, so that a second, lower peak is not taken; then bisection."""
    largest = 4.0 * data.scatter + np.min(data.variances)
    steps = np.concatenate([[0.0], np.geomspace(1e-6 * largest, largest, STARTS)])
    best = int(np.argmax(data.restricted_likelihood(steps)))
    low, high = steps[max(best - 1, 0)], steps[min(best + 1, STARTS)]
    if data.score(np.array([low]))[0] <= 0:
        return float(low)
    return float(bisected(lambda t: -data.score(t), np.array([low]), np.array([high]))[0])


def tau_interval(data: Measured, level: float = 0.95) -> tuple[float, float]:
    """Interval of tau, from the tau^2 at which q has the quantiles of chi^2 with k - 1.

    Parameters
    ----------
    data : Measured
        At least two values.
    level : float
        Coverage; exact where the errors are normal and their variances known.

    Returns
    -------
    low, high : float
        In the unit of the values.

    References
    ----------
    Viechtbauer W. Confidence intervals for the amount of heterogeneity in meta-analysis.
    Stat Med 2007;26:37-52 (from memory).
    """
    from scipy.special import chdtri

    tails = np.array([0.5 * (1.0 - level), 0.5 * (1.0 + level)])
    low, high = np.sqrt(data.tau_squared_at(chdtri(data.freedom, tails)))
    return float(low), float(high)
