"""How often the interval for an untested rider holds, over simulated tests of few riders.

The chance that the next rider's true saving lies within an interval is worked out from the true
mean and spread, so that no rider need be drawn.

Chosen by the share of untested riders (%) within the 95 % interval, for a true tau of 0.5, 1 and 2
standard errors; 1500 tests of every kind, equal standard errors:

====== =========== =========== =========== =========== =========== ===========
riders Higgins     Partlett    t, k - 1    Nagashima   half-normal here
====== =========== =========== =========== =========== =========== ===========
2      none        none        100 100 100  97  97  96 100 100  94  99  98  96
3      100 100 100  99  99  98 100  98  93  96  96  95 100  99  93  98  96  95
4      100  97  95  96  93  93  98  93  91  96  95  95 100  99  93  98  96  95
5       98  93  94  92  89  93  96  90  92  96  94  95 100  98  93  98  95  95
6       96  90  93  90  87  93  94  88  92  95  94  94 100  97  93  97  94  95
8       91  88  93  87  87  93  90  88  92  95  94  94  99  96  93  96  94  94
10      90  88  93  87  87  93  90  87  93  95  93  94  99  95  93  96  94  94
12      88  88  93  85  87  93  87  88  93  94  93  94  99  94  93  95  94  94
====== =========== =========== =========== =========== =========== ===========

Higgins: t with k - 2 on tau^2 + se^2 by REML; Partlett: the same with the standard error of
Hartung and Knapp; t: that, not below the plain one, with k - 1; Nagashima: drawn, with tau
from q(tau^2); half-normal: a Bayesian prior on tau of twice the standard error. Errors that differ
15-fold in variance change the column "here" by less than 1.5 %.
"""

from collections.abc import Iterator

import numpy as np
import pytest
from scipy.special import ndtr

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.pooling import Prediction, blend, pool

MEAN = 1.5
"""True mean saving, in standard errors."""

EQUAL = np.ones(12)
UNEQUAL = np.sqrt(np.resize([0.2, 0.4, 1.0, 2.0, 3.0], 12) / 1.32)
"""A rider's standard errors; the second list has variances that differ 15-fold, mean 1."""


def predictions(riders: int, tau: float, errors: FloatArray, tests: int) -> Iterator[Prediction]:
    """Predictions of simulated tests."""
    random = np.random.default_rng([riders, round(10 * tau)])
    errors = errors[:riders]
    for _ in range(tests):
        savings = MEAN + tau * random.standard_normal(riders)
        found = pool(savings + errors * random.standard_normal(riders), errors, 1.0)
        assert found.prediction is not None
        yield found.prediction


def shares(found: list[Prediction], tau: float) -> tuple[float, float, float, float]:
    """Mean share of riders within 95 % and within 80 %, and below both lower ends."""

    def below(name: str) -> FloatArray:
        limits = np.array([getattr(one, name) for one in found])
        return np.asarray(ndtr((limits - MEAN) / tau))

    low, lower, upper, high = (below(name) for name in ("low", "lower", "upper", "high"))
    return (
        float(np.mean(high - low)),
        float(np.mean(upper - lower)),
        float(np.mean(low)),
        float(np.mean(lower)),
    )


def check(riders: int, tau: float, errors: FloatArray, tests: int, slack: float) -> None:
    whole, eight, low, lower = shares(list(predictions(riders, tau, errors, tests)), tau)
    # measured, 1500 tests a cell: 93.7 to 99.0 % of 95, 77 to 93 % of 80 (wide where riders are
    # few and hardly differ)
    assert 0.93 - slack < whole <= 1.0
    assert 0.76 - slack < eight < 0.95 + slack
    assert low == pytest.approx((1.0 - whole) / 2, abs=0.01 + slack)
    assert lower == pytest.approx((1.0 - eight) / 2, abs=0.02 + slack)


@pytest.mark.parametrize("riders", [3, 8])
@pytest.mark.parametrize("tau", [0.5, 2.0])
def test_few_simulated_tests(riders: int, tau: float) -> None:
    check(riders, tau, EQUAL, 150, slack=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("riders", [3, 4, 5, 6, 8, 10, 12])
@pytest.mark.parametrize("tau", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("errors", [EQUAL, UNEQUAL], ids=["equal", "unequal"])
def test_many_simulated_tests(riders: int, tau: float, errors: FloatArray) -> None:
    check(riders, tau, errors, 1500, slack=0.005)


@pytest.mark.slow
@pytest.mark.parametrize("riders", [4, 8])
def test_stated_chances_come_true(riders: int) -> None:
    """Means and spreads drawn afresh: of the items called faster with a chance of about 80 %,
    about 80 % of untested riders gain."""
    random = np.random.default_rng(11)
    stated, true = [], []
    for _ in range(3000):
        mean, tau = random.normal(0.0, 2.0), random.uniform(0.2, 2.0)
        savings = mean + tau * random.standard_normal(riders) + random.standard_normal(riders)
        prediction = pool(savings, np.ones(riders), 1.0).prediction
        stated.append(prediction.chance_faster)
        true.append(ndtr(mean / tau))
    chance, gained = np.array(stated), np.array(true)
    for low in (0.1, 0.3, 0.5, 0.7):
        called = (chance >= low) & (chance < low + 0.2)
        assert np.mean(gained[called]) == pytest.approx(np.mean(chance[called]), abs=0.08)


@pytest.mark.slow
def test_a_blended_result_is_nearer_the_truth_than_either_part() -> None:
    random = np.random.default_rng(12)
    wrong: list[tuple[float, float, float]] = []
    held = 0
    for _ in range(2000):
        truth = MEAN + random.standard_normal(7)
        measured = truth + random.standard_normal(7)
        others = pool(measured[1:], np.ones(6), 1.0)
        saving, doubt = blend(float(measured[0]), 1.0, others)
        wrong.append((saving - truth[0], measured[0] - truth[0], others.saving - truth[0]))
        held += abs(saving - truth[0]) < 1.96 * doubt
    blended, own, mean = np.sqrt(np.mean(np.square(wrong), axis=0))
    assert blended < 0.9 * min(own, mean)
    assert held / 2000 == pytest.approx(0.915, abs=0.02)  # measured, as `blend` says
