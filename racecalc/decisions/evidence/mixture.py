"""A quantity that is normal for every tau, averaged over what is known of tau."""

from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.true_spread import Measured, bisected

NODES = 48
"""Gauss-Legendre nodes; chances then agree with the t distribution to 1e-9 (tests)."""

NEGLIGIBLE = 1e-14
"""Chance beyond which chi is not followed."""


def confidence_in_tau(data: Measured) -> tuple[FloatArray, FloatArray]:
    """What the data say of tau^2: a list of values and the confidence in each.

    The weighted sum of squares q(tau^2) is a draw of chi^2 with k - 1 degrees of freedom at the
    true tau^2. Read backwards, each value of chi^2 names a tau^2, and its chance is the confidence
    in it; values above q(0) name tau = 0.

    Parameters
    ----------
    data : Measured
        At least two values that are not all equal.

    Returns
    -------
    tau_squared, weights : FloatArray, shape (m,)
        In the unit squared; the weights sum to 1.

    Notes
    -----
    The nodes are Gauss-Legendre in chi, whose density chi^(k-2) exp(-chi^2/2) is smooth for any k.
    The interval of tau that follows is that of `true_spread.tau_interval`.

    References
    ----------
    Viechtbauer W. Stat Med 2007;26:37-52 for the interval. Nagashima K, Noma H, Furukawa TA.
    Stat Methods Med Res 2019;28:1689-1702 average a prediction over such a distribution, drawn
    at random from Cochran's Q; q(tau^2) needs no drawing.
    """
    from scipy.special import chdtr, chdtri

    freedom = data.freedom
    end = float(np.sqrt(chdtri(freedom, NEGLIGIBLE)))
    if np.any(data.variances):
        end = min(end, float(np.sqrt(data.q(np.zeros(1))[0])))
    spread_chance = float(chdtr(freedom, end**2))
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
    """Weighted normal distributions.

    Parameters
    ----------
    means, deviations : FloatArray, shape (m,)
        Of each normal distribution, in the unit of the quantity; deviations positive.
    weights : FloatArray, shape (m,)
        Sum to 1.
    """

    means: FloatArray
    deviations: FloatArray
    weights: FloatArray

    def chance_below(self, limit: float) -> float:
        """Chance that the quantity lies below a limit."""
        return float(self._below(np.array([limit]))[0])

    def quantiles(self, chances: FloatArray) -> FloatArray:
        """Values below which the quantity lies with given chances, shape (n,).

        Each lies between the least and the greatest quantile of the parts.
        """
        from scipy.special import ndtri

        parts = self.means + np.outer(ndtri(chances), self.deviations)
        return bisected(
            lambda limits: self._below(limits) - chances, parts.min(axis=1), parts.max(axis=1)
        )

    def updated(self, value: float, standard_error: float) -> tuple[float, float]:
        """Mean and standard deviation once a value with a normal error has been measured.

        Parameters
        ----------
        value, standard_error : float
            In the unit of the quantity; the error is positive.

        Returns
        -------
        mean, deviation : float
            Of the mixture of the updated parts: Bayes' theorem for each, weights by how well each
            part foretold the value.
        """
        total = self.deviations**2 + standard_error**2
        foretold = np.log(self.weights) - 0.5 * (np.log(total) + (value - self.means) ** 2 / total)
        weights = np.exp(foretold - np.max(foretold))
        weights /= np.sum(weights)
        trust = self.deviations**2 / total
        means = self.means + trust * (value - self.means)
        mean = float(weights @ means)
        variance = weights @ (trust * standard_error**2 + (means - mean) ** 2)
        return mean, float(np.sqrt(variance))

    def _below(self, limits: FloatArray) -> FloatArray:
        from scipy.special import ndtr

        return np.asarray(ndtr((limits[:, None] - self.means) / self.deviations) @ self.weights)
