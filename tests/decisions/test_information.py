"""What learning is worth: published values, closed forms, limits, and integrals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from racecalc.decisions.information import (
    NO_GAIN,
    chance_above,
    common_normals,
    gain_for_two,
    gain_of_learning,
    preposterior_sd,
    unit_normal_loss,
)

SOME = st.floats(-50.0, 50.0)
DOUBTS = st.floats(0.01, 50.0)


@pytest.mark.parametrize(
    ("z", "loss"),
    [
        (0.0, 0.3989423),
        (0.1, 0.3509353),
        (0.25, 0.2863447),
        (0.5, 0.1977966),
        (0.69, 0.1453147),
        (0.75, 0.1311669),
        (1.0, 0.0833155),
        (1.5, 0.0293068),
        (2.0, 0.0084907),
        (2.5, 0.0020041),
        (3.0, 0.0003822),
    ],
)
def test_unit_normal_loss(z: float, loss: float):
    """The table of Raiffa & Schlaifer 1961 (from memory), recomputed independently."""
    assert unit_normal_loss(z) == pytest.approx(loss, abs=5e-8)
    assert unit_normal_loss(-z) == pytest.approx(loss + z, abs=5e-8)
    assert chance_above(z) == pytest.approx(norm.sf(z), rel=1e-12)


@given(z=st.floats(-6.0, 6.0))
def test_unit_normal_loss_is_its_integral(z: float):
    """Independent calculation: the mean of max(0, x - z) over the normal density."""
    found, _ = quad(lambda x: (x - z) * norm.pdf(x), z, max(z, 0) + 12.0, epsabs=1e-13)
    assert unit_normal_loss(z) == pytest.approx(found, abs=1e-11)


def test_far_out_no_loss_is_negative():
    assert unit_normal_loss(9.0) >= 0.0
    assert unit_normal_loss(60.0) == 0.0


def test_perfect_information_of_a_published_example():
    """Render, Stair & Hanna, Quantitative Analysis for Management, Module 3, Barclay Brothers.

    Break-even 6000, mean 8000, standard deviation 2885, loss 6 a unit; by hand with D = 0.69 to
    two digits: 6 x 2885 x 0.1453 = 2515.
    """
    by_hand = gain_for_two(0.69 * 6 * 2885, 6 * 2885).worth
    assert by_hand == pytest.approx(2515.4, abs=0.1)
    exact = gain_for_two(6 * (8000 - 6000), 6 * 2885).worth
    assert exact == pytest.approx(2501.675, abs=0.001)
    assert exact == pytest.approx(2515.0, rel=0.01)


@pytest.mark.parametrize(
    ("error", "sd", "worth"),
    [
        (2.0, 0.4472136, 0.0296092),
        (1.0, 0.7071068, 0.0998206),
        (0.7071068, 0.8164966, 0.1349710),
        (0.5, 0.8944272, 0.1611709),
        (0.25, 0.9701425, 0.1873251),
    ],
)
@pytest.mark.parametrize("mean", [-0.5, 0.5])
def test_worth_of_a_test(error: float, sd: float, worth: float, mean: float):
    """Independent calculation, for a prior of -0.5 +- 1 and, by symmetry, +0.5 +- 1."""
    assert preposterior_sd(1.0, error) == pytest.approx(sd, abs=5e-8)
    assert gain_for_two(mean, sd).worth == pytest.approx(worth, abs=1e-7)


def test_worth_of_a_test_of_an_even_choice():
    """1 / (2 sqrt(pi)) for a prior of 0 +- 1 and an error of 1."""
    found = gain_for_two(0.0, preposterior_sd(1.0, 1.0))
    assert found.worth == pytest.approx(0.5 / math.sqrt(math.pi), rel=1e-12)
    assert found.chance_of_change == 0.5


def test_no_doubt_nothing_to_learn():
    assert preposterior_sd(0.0, 1.0) == preposterior_sd(0.0, 0.0) == 0.0
    assert preposterior_sd(2.0, math.inf) == 0.0
    assert gain_for_two(1.0, 0.0) == NO_GAIN
    none = gain_of_learning(np.array([3.0, 1.0]), np.zeros(2), common_normals(200, 2, 1))
    assert none == NO_GAIN


@given(mean=SOME, doubt=DOUBTS, error=st.floats(0.0, 500.0))
def test_a_test_is_worth_at_most_perfect_knowledge(mean: float, doubt: float, error: float):
    test = gain_for_two(mean, preposterior_sd(doubt, error)).worth
    perfect = gain_for_two(mean, doubt).worth
    assert 0.0 <= test <= perfect * (1 + 1e-12) + 1e-12
    assert gain_for_two(-mean, doubt).worth == perfect
    assert gain_for_two(mean, preposterior_sd(doubt, 0.0)).worth == pytest.approx(perfect)
    assert gain_for_two(mean, preposterior_sd(doubt, 1e9 * doubt)).worth == pytest.approx(
        0.0, abs=1e-7 * doubt
    )


@given(mean=SOME, doubt=DOUBTS, error=st.floats(0.1, 50.0), more=st.floats(1.01, 5.0))
def test_a_better_test_is_worth_more(mean: float, doubt: float, error: float, more: float):
    good, poor = (gain_for_two(mean, preposterior_sd(doubt, e)) for e in (error, more * error))
    assert good.worth >= poor.worth
    assert good.chance_of_change >= poor.chance_of_change


NORMALS = common_normals(200_000, 3, 5)


def by_quadrature(means: list[float], learnt: list[float]) -> float:
    """Independent calculation: the mean of the best, less the best mean, by a sum over a grid."""
    along = np.linspace(-6.0, 6.0, 1201)
    x, y = np.meshgrid(along, along)
    best = np.maximum(means[0] + learnt[0] * x, means[1] + learnt[1] * y)
    best = np.maximum(best, max([*means[2:], 0.0]))
    found = np.sum(best * norm.pdf(x) * norm.pdf(y)) * (along[1] - along[0]) ** 2
    return float(found) - max([*means, 0.0])


@pytest.mark.parametrize(
    ("means", "learnt"),
    [
        ([-5.0, -3.0], [4.0, 6.0]),
        ([5.0, 4.0, 4.5], [2.0, 3.0, 0.0]),
        ([0.0, 0.0], [1.0, 1.0]),
    ],
)
def test_two_tested_items_against_an_integral(means: list[float], learnt: list[float]):
    k = len(means)
    found = gain_of_learning(np.array(means), np.array(learnt), NORMALS[:, :k])
    assert 0 < found.monte_carlo_error < 0.01 * max(learnt)
    assert found.worth == pytest.approx(
        by_quadrature(means, learnt), abs=4 * found.monte_carlo_error
    )


def test_three_tested_items_against_an_integral():
    """Independent calculation: mean of the best = integral of 1 - product of the chances."""
    means, learnt = np.array([2.0, -1.0, 1.0]), np.array([3.0, 5.0, 1.0])
    best, _ = quad(lambda t: 1 - np.prod(norm.cdf((t - means) / learnt)), 0.0, 60.0, limit=200)
    found = gain_of_learning(means, learnt, NORMALS)
    assert found.worth == pytest.approx(best - 2.0, abs=4 * found.monte_carlo_error)


def test_draws_agree_with_the_closed_form():
    """A second item that is tested but can never be chosen leaves the gain of the first."""
    means = np.array([-2.0, -1000.0])
    drawn = gain_of_learning(means, np.array([4.0, 1e-3]), NORMALS[:, :2])
    exact = gain_of_learning(means, np.array([4.0, 0.0]), NORMALS[:, :2])
    assert exact.monte_carlo_error == 0.0
    assert exact.worth == pytest.approx(4.0 * unit_normal_loss(0.5), rel=1e-12)
    assert drawn.worth == pytest.approx(exact.worth, abs=4 * drawn.monte_carlo_error)
    assert drawn.chance_of_change == pytest.approx(exact.chance_of_change, abs=0.005)


def test_one_tested_item_is_held_against_the_best_of_the_rest():
    """To choose B over A at 5 is as to choose B - 5 over nothing."""
    found = gain_of_learning(np.array([5.0, 3.0]), np.array([0.0, 4.0]), NORMALS[:, :2])
    assert found == gain_for_two(-2.0, 4.0)
    first = gain_of_learning(np.array([5.0, 3.0]), np.array([4.0, 0.0]), NORMALS[:, :2])
    assert first == gain_for_two(2.0, 4.0)


def test_what_cannot_change_the_choice_is_worth_exactly_nothing():
    means, learnt = np.array([100.0, 1.0]), np.array([1.0, 1.0])
    assert gain_of_learning(means, learnt, NORMALS[:, :2]) == NO_GAIN


def test_the_same_seed_draws_the_same():
    assert np.array_equal(common_normals(300, 2, 7), common_normals(300, 2, 7))
    assert not np.array_equal(common_normals(300, 2, 7), common_normals(300, 2, 8))
