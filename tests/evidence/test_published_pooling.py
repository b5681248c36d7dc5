"""Pooling against published random-effects analyses and independent calculations."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import multivariate_normal, norm, t

from racecalc.decisions.evidence.pooling import (
    Estimates,
    estimates,
    mean_at,
    pool,
    tau_interval,
    tau_squared,
)

TRIALS = np.array(
    [
        (4, 119, 11, 128),
        (6, 300, 29, 274),
        (3, 228, 11, 209),
        (62, 13536, 248, 12619),
        (33, 5036, 47, 5761),
        (180, 1361, 372, 1079),
        (8, 2537, 10, 619),
        (505, 87886, 499, 87892),
        (29, 7470, 45, 7232),
        (17, 1699, 65, 1600),
        (186, 50448, 141, 27197),
        (5, 2493, 3, 2338),
        (27, 16886, 29, 17825),
    ],
    dtype=float,
)
"""Ill and healthy with and without vaccine. Colditz et al. 1994, JAMA 271:698-702: ten rows read
in a page that reports the data, three from memory, confirmed by Cochran's Q."""

ILL, HEALTHY, ILL_UNTREATED, HEALTHY_UNTREATED = TRIALS.T

RISK_RATIOS = estimates(
    np.log(ILL / (ILL + HEALTHY) * (ILL_UNTREATED + HEALTHY_UNTREATED) / ILL_UNTREATED),
    np.sqrt(
        1 / ILL - 1 / (ILL + HEALTHY) + 1 / ILL_UNTREATED - 1 / (ILL_UNTREATED + HEALTHY_UNTREATED)
    ),
)

ODDS_RATIOS = estimates(
    np.log(ILL * HEALTHY_UNTREATED / HEALTHY / ILL_UNTREATED),
    np.sqrt(np.sum(1 / TRIALS, axis=1)),
)

BLOOD_PRESSURE = estimates(
    np.array([0.00, 0.10, -0.40, -0.80, -0.63, 0.22, -0.34, -0.51, 0.03, -0.81]),
    np.array(
        [
            0.423477,
            0.219392,
            0.025511,
            0.198983,
            0.301026,
            0.301026,
            0.071430,
            0.102043,
            0.122451,
            0.301026,
        ]
    ),
)
"""Riley RD, Higgins JPT, Deeks JJ 2011, BMJ 342:d549; read, to six digits, in the data of an
open-source package that cites it."""

ARSENIC = estimates(
    np.array([61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90]),
    np.sqrt([0.2025, 1.21, 0.09, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225]),
)
"""Kacker RN 2004, Metrologia 41:132-136, Table 1; read in an open-source package's test suite."""


@dataclass(frozen=True)
class Fit:
    """What the published analyses report."""

    tau_squared: float
    mean: float
    error: float
    ratio: float


def by_moments(data: Estimates) -> float:
    """DerSimonian R, Laird N. Control Clin Trials 1986;7:177-188; from memory."""
    weights = 1.0 / data.variances
    spent = weights.sum() - (weights**2).sum() / weights.sum()
    return max(0.0, float((data.q(np.zeros(1))[0] - data.freedom) / spent))


def by_q(data: Estimates) -> float:
    """Paule RC, Mandel J. J Res Natl Bur Stand 1982;87:377-385; from memory."""
    return float(data.tau_squared_at(np.array([float(data.freedom)]))[0])


ESTIMATORS = {"dl": by_moments, "pm": by_q, "reml": tau_squared}


def fit(data: Estimates, estimator: str) -> Fit:
    squared = ESTIMATORS[estimator](data)
    mean, variance = data.mean(np.array([squared]))
    ratio = data.q(np.array([squared]))[0] / data.freedom
    return Fit(squared, float(mean[0]), math.sqrt(variance[0]), float(ratio))


def interval_of_mean(data: Estimates) -> tuple[float, float]:
    """That of `pool`, with tau^2 by moments as in the published analyses."""
    return t.interval(0.95, data.freedom, *mean_at(data, by_moments(data)))


def near(value: float, digits: int) -> object:
    """As printed: half a unit of the last digit."""
    return pytest.approx(value, abs=0.5001 * 10.0**-digits)


READ = "read in an open-source package's test suite, which cites the paper"


@pytest.mark.parametrize(
    ("data", "estimator", "squared", "mean", "digits", "source"),
    [
        (RISK_RATIOS, "dl", 0.3088, -0.7141, 4, "Colditz 1994; " + READ),
        (ODDS_RATIOS, "dl", 0.3663, -0.7474, 4, "van Houwelingen 2002, Stat Med 21:589; " + READ),
        (ARSENIC, "pm", 0.705395309224248, 62.4076199113286, 8, "Kacker 2004; " + READ),
        (ARSENIC, "dl", 0.288049246973751, 62.3901386044504, 8, "Kacker 2004; " + READ),
        (RISK_RATIOS, "reml", 0.313243, -0.714532, 6, "Colditz 1994; worked out independently"),
        (RISK_RATIOS, "pm", 0.318068, -0.714968, 6, "Colditz 1994; worked out independently"),
        (ODDS_RATIOS, "reml", 0.337772, -0.745178, 6, "same data; worked out independently"),
    ],
)
def test_published_spread_and_mean(data, estimator, squared, mean, digits, source) -> None:
    found = fit(data, estimator)
    assert found.tau_squared == near(squared, digits), source
    assert found.mean == near(mean, digits), source


def test_restricted_likelihood_to_all_printed_digits() -> None:
    """0.313243325980895, BCG log risk ratio; read in an open-source package's test suite, whose
    search stops short of the last digits: the direct search below agrees with racecalc."""
    assert tau_squared(RISK_RATIOS) == pytest.approx(0.313243325980895, rel=1e-6)


def test_published_plain_interval_and_share_of_scatter() -> None:
    """Colditz 1994, DL: [-1.0644, -0.3638], I^2 92.1173 %; read in a test suite."""
    found = fit(RISK_RATIOS, "dl")
    assert found.mean - norm.ppf(0.975) * found.error == near(-1.0644, 4)
    assert found.mean + norm.ppf(0.975) * found.error == near(-0.3638, 4)
    for data, share in ((RISK_RATIOS, 92.1173), (ODDS_RATIOS, 92.6455)):
        pooled = pool(data.values, np.sqrt(data.variances), 0.1)
        assert 100 * pooled.i_squared == near(share, 4)
    assert RISK_RATIOS.q(np.zeros(1))[0] == near(152.2330, 4)


def test_published_interval_of_the_spread() -> None:
    """BCG log risk ratio: tau^2 from 0.1197 to 1.1115. Viechtbauer 2010, J Stat Softw 36(3),
    from memory."""
    low, high = tau_interval(RISK_RATIOS)
    assert low**2 == near(0.1197, 4)
    assert high**2 == near(1.1115, 4)


@pytest.mark.parametrize(
    ("estimator", "low", "high"),
    [("dl", -0.7597777, 0.09165839), ("reml", -0.98869947, 0.33121882)],
)
def test_published_prediction_intervals(estimator: str, low: float, high: float) -> None:
    """Riley 2011; both read in the documentation of an open-source package: the first of
    Higgins et al. 2009, the second of Partlett and Riley 2017. To 1e-4, as the errors are known
    to six digits."""
    found = fit(BLOOD_PRESSURE, estimator)
    ratio = found.ratio if estimator == "reml" else 1.0
    variance = found.tau_squared + found.error**2 * ratio
    found = t.interval(0.95, 8, found.mean, math.sqrt(variance))
    assert found == pytest.approx((low, high), abs=1e-4)


def test_prediction_follows_q_rather_than_moments() -> None:
    """Riley 2011: with the tau^2 at which q is k - 1, Higgins' interval is -1.03634 to .38055
    (worked out independently); by moments it ends at 0.092, since one trial in ten is known
    eight times as well as the others and all but fixes the mean."""
    errors = np.sqrt(BLOOD_PRESSURE.variances)
    prediction = pool(BLOOD_PRESSURE.values, errors, 0.1).prediction
    assert prediction is not None
    assert (prediction.low, prediction.high) == pytest.approx((-1.03634, 0.38055), abs=0.06)


def test_interval_of_the_mean_never_falls_below_the_plain_one() -> None:
    """BCG log odds ratio, DL: q = 0.9484; the interval from q would be (-1.15534, -0.33944), with
    max(1, q) it is (-1.16630, -0.32849). Worked out independently."""
    assert fit(ODDS_RATIOS, "dl").ratio == near(0.9484, 4)
    assert interval_of_mean(ODDS_RATIOS) == pytest.approx((-1.16630, -0.32849), abs=1e-5)


def test_interval_of_the_mean_follows_hartung_and_knapp() -> None:
    """Kacker 2004, DL: se .29477605699879, 61.710383798052 to 63.0698934108488; read in a test
    suite."""
    _, error = mean_at(ARSENIC, by_moments(ARSENIC))
    assert error == pytest.approx(0.29477605699879, rel=1e-9)
    ends = (61.710383798052, 63.0698934108488)
    assert interval_of_mean(ARSENIC) == pytest.approx(ends, rel=1e-9)


@pytest.mark.parametrize(
    ("data", "estimator"),
    [
        *((data, "dl") for data in (RISK_RATIOS, ODDS_RATIOS, BLOOD_PRESSURE, ARSENIC)),
        # not the odds ratios: there that program's search for "pm" breaks off at 0
        *((data, "pm") for data in (RISK_RATIOS, BLOOD_PRESSURE, ARSENIC)),
    ],
)
@pytest.mark.xdist_group("statsmodels")
def test_an_independent_program_agrees(data: Estimates, estimator: str) -> None:
    analysis = pytest.importorskip("statsmodels.stats.meta_analysis")
    other = analysis.combine_effects(
        data.values, data.variances, method_re=estimator, use_t=True, atol=1e-10
    )
    found = fit(data, estimator)
    assert found.tau_squared == pytest.approx(other.tau2, abs=1e-9)
    assert found.mean == pytest.approx(other.mean_effect_re, abs=1e-9)
    assert found.error * math.sqrt(found.ratio) == pytest.approx(other.sd_eff_w_re_hksj, abs=1e-9)


@pytest.mark.parametrize("data", [RISK_RATIOS, ODDS_RATIOS, BLOOD_PRESSURE, ARSENIC])
def test_restricted_likelihood_is_greatest_where_a_direct_search_finds_it(data: Estimates) -> None:
    """The likelihood of the k - 1 contrasts with the first value, maximised without racecalc."""
    contrast = np.hstack([-np.ones((data.freedom, 1)), np.eye(data.freedom)])

    def loss(root: float) -> float:
        covariance = contrast @ np.diag(data.variances + root**2) @ contrast.T
        zero = np.zeros(data.freedom)
        return -float(multivariate_normal.logpdf(contrast @ data.values, zero, covariance))

    best = minimize_scalar(loss, bounds=(0.0, 3.0), method="bounded", options={"xatol": 1e-10})
    assert tau_squared(data) == pytest.approx(best.x**2, rel=1e-5)
