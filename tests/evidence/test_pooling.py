"""Pooling over riders: the untested rider, words for few riders, own results, invariances."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, t

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.pooling import Pooled, blend, pool

BOTTLE = np.array([4.1, 6.0, -2.5, 3.2, 1.0, 5.1, 2.2])


def test_seven_riders_of_whom_no_error_is_known() -> None:
    """Invented; chances worked out independently: plain prediction by t with 6 df."""
    found = pool(BOTTLE, np.zeros(7), 2.0)
    assert found.prediction is not None
    assert round(found.saving, 1) == 2.7
    assert round(found.tau, 1) == 2.9
    deviation = np.std(BOTTLE, ddof=1) * math.sqrt(8 / 7)
    assert found.prediction.chance_faster == pytest.approx(
        t.sf(-found.saving / deviation, 6), abs=1e-9
    )
    assert found.prediction.chance_faster == pytest.approx(0.80, abs=0.02)
    assert found.prediction.chance_of_loss == pytest.approx(0.09, abs=0.005)
    assert found.prediction.high - found.saving == pytest.approx(
        t.ppf(0.975, 6) * deviation, rel=1e-9
    )
    assert found.character == "best for some, bad for others"
    assert found.worst == -2.5


@pytest.mark.parametrize("riders", [2, 3, 4, 12, 60, 400])
def test_without_errors_the_prediction_is_student_s(riders: int) -> None:
    values = np.random.default_rng(riders).normal(2.0, 3.0, riders)
    found = pool(values, np.zeros(riders), 1.0)
    deviation = np.std(values, ddof=1) * math.sqrt(1 + 1 / riders)
    assert found.prediction is not None
    assert (found.prediction.low, found.prediction.high) == pytest.approx(
        t.interval(0.95, riders - 1, np.mean(values), deviation), rel=1e-6
    )
    assert (found.low, found.high) == pytest.approx(
        t.interval(0.95, riders - 1, np.mean(values), deviation / math.sqrt(1 + riders)), rel=1e-9
    )


def test_known_test_errors_leave_less_spread_between_riders() -> None:
    without, allowed = (pool(BOTTLE, np.full(7, error), 2.0) for error in (0.0, 1.5))
    assert allowed.tau == pytest.approx(math.sqrt(without.tau**2 - 1.5**2), rel=1e-9)
    assert allowed.prediction.chance_faster > without.prediction.chance_faster


def test_a_range_for_one_rider_is_wider_than_for_the_mean() -> None:
    found = pool(BOTTLE, np.full(7, 1.0), 2.0)
    assert found.prediction.low < found.low < found.high < found.prediction.high


def test_equal_results_without_errors_are_not_taken_for_certainty() -> None:
    found = pool(np.full(3, 0.1), np.zeros(3), 1.0)
    assert found.prediction is None
    assert found.known[0].startswith("All riders show the same value and no test error is stated")


def test_equal_results_with_errors_leave_the_doubt_of_the_tests() -> None:
    found = pool(np.full(5, 2.0), np.full(5, 1.0), 0.5)
    assert found.tau == 0
    assert found.prediction.high - found.saving == pytest.approx(1.959964 / math.sqrt(5), rel=1e-6)
    assert found.known == (
        "With 5 riders tested, results differ even less than the stated test errors suggest.",
    )


def test_two_riders_give_a_wide_range_and_say_so() -> None:
    found = pool(np.array([4.0, 1.0]), np.full(2, 1.0), 1.0)
    assert found.prediction.high - found.prediction.low > 20
    assert found.character == "not known yet"
    assert found.known[0].startswith("With 2 riders tested, no spread beyond the test error is")


def test_what_is_known_with_three_riders() -> None:
    found = pool(np.array([4.1, 2.2, -1.5]), np.full(3, 0.5), 1.0)
    assert found.known == (
        "With 3 riders tested, the true spread between riders may be 6.4 times what was found "
        "(95 % limit); the range for another rider allows for it.",
    )
    assert found.because.endswith(
        "but the riders are too few, or their tests too coarse, to show a difference between riders"
    )


@pytest.mark.parametrize(
    ("savings", "character"),
    [
        ([1.2, 0.8, 1.0, 1.1, 0.9, 1.3], "works on everyone"),
        ([-1.2, -0.8, -1.0, -1.1, -0.9, -1.3], "slows nearly everyone"),
        ([0.3, -0.2, 0.1, 0.0, -0.3, 0.2], "about the same for all"),
        ([9.0, 8.0, -4.0, 7.0, -3.0, 8.5], "best for some, bad for others"),
        ([2.0, 0.0, 1.6, -0.7, -1.2, -1.9], "differs from rider to rider"),
    ],
)
def test_character(savings: list[float], character: str) -> None:
    assert pool(np.array(savings), np.full(6, 0.1), 1.0).character == character


def test_coarse_tests_that_cannot_tell_riders_apart() -> None:
    found = pool(np.array([4.0, -1.0, 2.0, 1.0]), np.full(4, 3.0), 1.0)
    assert found.character == "not known yet"
    assert "tests too coarse" in found.because


def test_two_items_of_the_same_mean_rank_by_what_an_unlucky_rider_gets() -> None:
    errors = np.full(6, 0.3)
    steady = pool(np.array([2.9, 3.1, 3.0, 2.8, 3.2, 3.0]), errors, 1.0)
    moody = pool(np.array([7.0, -1.0, 3.0, 8.0, -2.0, 3.0]), errors, 1.0)
    alike = pool(np.full(2, 9.0), np.zeros(2), 1.0)
    assert steady.saving == pytest.approx(moody.saving)
    assert steady.safety > moody.safety > alike.safety
    assert steady.prediction.lower > moody.prediction.lower
    assert steady.prediction.chance_of_loss < moody.prediction.chance_of_loss


def test_own_result_weighs_more_the_more_runs_stand_behind_it() -> None:
    others = pool(BOTTLE, np.full(7, 1.0), 2.0)
    blended = [blend(-1.0, 4.0 / math.sqrt(runs), others) for runs in (1, 2, 4, 8, 16, 64, 1024)]
    savings = [saving for saving, _ in blended]
    doubts = [doubt for _, doubt in blended]
    assert savings == sorted(savings, reverse=True)
    assert doubts == sorted(doubts, reverse=True)
    assert -1.0 < savings[-1] < -0.98
    assert others.saving > savings[0] > -1.0


def test_own_result_with_many_other_riders_follows_the_normal_rule() -> None:
    """Prior N(m, s^2), error e: (m e^2 + own s^2) / (s^2 + e^2), which 4000 riders all but tell."""
    values = norm.ppf((np.arange(4000) + 0.5) / 4000) * 2.0 + 3.0
    saving, doubt = blend(0.0, 1.5, pool(values, np.zeros(4000), 1.0))
    assert saving == pytest.approx(3.0 * 1.5**2 / (2.0**2 + 1.5**2), rel=0.003)
    assert doubt == pytest.approx(math.sqrt(1 / (1 / 4 + 1 / 1.5**2)), rel=0.003)


def test_own_result_stands_alone_where_nothing_is_foretold() -> None:
    assert blend(2.0, 0.5, pool(np.full(2, 3.0), np.zeros(2), 1.0)) == (2.0, 0.5)
    assert blend(2.0, 0.0, pool(BOTTLE, np.zeros(7), 1.0)) == (2.0, 0.0)


@pytest.mark.parametrize(
    ("savings", "errors", "words"),
    [
        ([], [], "at least one"),
        ([1.0, 2.0], [1.0], "as many"),
        ([1.0, math.nan], [1.0, 1.0], "finite"),
        ([1.0, 2.0], [1.0, 0.0], "all 0"),
        ([1.0, 2.0], [1.0, -1.0], "negative"),
    ],
)
def test_what_will_not_do(savings, errors, words) -> None:
    with pytest.raises(ValueError, match=words):
        pool(np.array(savings), np.array(errors), 1.0)


SAVINGS = st.lists(
    st.tuples(st.floats(-20.0, 20.0), st.floats(0.05, 10.0)), min_size=2, max_size=9
).map(np.array)


def numbers(found: Pooled) -> FloatArray:
    """Everything in the unit of the savings."""
    ahead = found.prediction
    return np.array(
        [
            *(found.saving, found.low, found.high, found.worst),
            *(ahead.low, ahead.high, ahead.lower, ahead.upper),
        ]
    )


def spreads(found: Pooled) -> FloatArray:
    return np.array([found.standard_error, found.tau, found.tau_low, found.tau_high])


@given(SAVINGS, st.randoms(use_true_random=False))
def test_the_order_of_riders_does_not_matter(rows: FloatArray, random) -> None:
    order = list(range(len(rows)))
    random.shuffle(order)
    one, other = pool(*rows.T, 1.0), pool(*rows[order].T, 1.0)
    assert numbers(other) == pytest.approx(numbers(one), rel=1e-5, abs=1e-5)
    assert spreads(other) == pytest.approx(spreads(one), rel=1e-5, abs=1e-5)


@given(SAVINGS, st.floats(-50.0, 50.0))
def test_a_shift_of_all_savings_shifts_every_answer(rows: FloatArray, shift: float) -> None:
    one, other = pool(*rows.T, 1.0), pool(rows[:, 0] + shift, rows[:, 1], 1.0)
    assert numbers(other) == pytest.approx(numbers(one) + shift, rel=1e-5, abs=1e-5)
    assert spreads(other) == pytest.approx(spreads(one), rel=1e-5, abs=1e-5)


@given(SAVINGS, st.floats(1e-4, 1e3))
def test_another_unit_scales_every_answer(rows: FloatArray, scale: float) -> None:
    one, other = pool(*rows.T, 1.0), pool(*(scale * rows.T), scale)
    assert numbers(other) == pytest.approx(scale * numbers(one), rel=1e-5, abs=1e-5 * scale)
    assert spreads(other) == pytest.approx(scale * spreads(one), rel=1e-5, abs=1e-5 * scale)
    assert other.prediction.chance_faster == pytest.approx(one.prediction.chance_faster, abs=1e-6)
    assert other.prediction.chance_of_loss == pytest.approx(one.prediction.chance_of_loss, abs=1e-6)
