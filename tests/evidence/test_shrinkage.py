"""The best of many: what luck makes of it, and what is left after shrinking."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.pooling import Shrunken, best_by_luck, shrink


@pytest.mark.parametrize(
    ("count", "error", "luck"),
    [(4, 1.5, 1.5), (8, 1.5, 2.1), (8, 3.0, 4.3), (1, 1.5, 0.0)],
)
def test_how_good_the_best_of_equal_items_looks(count: int, error: float, luck: float) -> None:
    """Worked out independently as the expected maximum of k normals: + 1.54, 2.14 and 4.27 W."""
    found = best_by_luck(np.full(count, error))
    direct, _ = quad(
        lambda x: x * count * norm.pdf(x) * norm.cdf(x) ** (count - 1), -9.0, 9.0, epsabs=1e-12
    )
    assert round(found, 1) == luck
    assert found == pytest.approx(error * direct, abs=1e-7)


def test_luck_of_two_with_unequal_errors() -> None:
    """E max of two normals: sqrt((a^2 + b^2) / 2 pi). Clark CE 1961, Oper Res 9:145, from
    memory."""
    assert best_by_luck(np.array([1.0, 2.0])) == pytest.approx(math.sqrt(5 / (2 * math.pi)))


def alone(savings: FloatArray, errors: FloatArray) -> Shrunken:
    """Items whose errors are independent."""
    return shrink(savings, np.diag(errors**2))


def null_tests(count: int, tests: int, shared: float = 0.0) -> list[Shrunken]:
    """Items that do nothing, each compared with a standard error of 1.5."""
    random = np.random.default_rng(20_250_301 + count)
    errors = np.full(count, 1.5)
    covariance = np.diag(errors**2) + shared**2
    return [
        shrink(
            errors * random.standard_normal(count) + shared * random.standard_normal(),
            covariance,
        )
        for _ in range(tests)
    ]


@pytest.mark.parametrize("count", [4, 8])
def test_among_items_that_do_nothing_the_best_is_believed_to_do_nothing(count: int) -> None:
    found = null_tests(count, 300)
    assert np.mean([one.raw[one.looked_best] for one in found]) == pytest.approx(
        best_by_luck(np.full(count, 1.5)), abs=0.15
    )
    assert abs(np.mean([one.shrunken[one.best] for one in found])) < 0.3


def test_a_baseline_that_all_share_does_not_spoil_it() -> None:
    found = null_tests(6, 300, shared=1.5)
    assert abs(np.mean([one.shrunken[one.best] for one in found])) < 0.35


@pytest.mark.slow
@pytest.mark.parametrize("count", [2, 3, 4, 6, 8, 12])
@pytest.mark.parametrize("tau", [0.0, 0.5, 1.0, 2.0])
def test_shrunk_best_and_its_doubt_over_many_tests(count: int, tau: float) -> None:
    """Mean error of the best of k after shrinking, in standard errors; its root mean square and the
    raw one (40 000 simulated tests each, seed 1):

    ========== ================ ================ ================ ================
    true tau   k = 2            k = 4            k = 8            k = 12
    ========== ================ ================ ================ ================
    0          +0.17 0.81 1.00  +0.16 0.63 1.24  +0.15 0.49 1.55  +0.13 0.42 1.73
    0.5        +0.11 0.85 1.00  +0.04 0.74 1.20  -0.04 0.67 1.45  -0.07 0.63 1.61
    1          +0.00 0.93 1.00  -0.14 0.91 1.14  -0.23 0.91 1.31  -0.26 0.91 1.40
    2          -0.11 1.00 1.00  -0.25 1.04 1.05  -0.23 1.03 1.13  -0.21 1.00 1.18
    ========== ================ ================ ================ ================
    """
    random = np.random.default_rng(7)
    wrong, raw_wrong, held = [], [], []
    for _ in range(3000):
        truth = tau * random.standard_normal(count)
        found = alone(truth + random.standard_normal(count), np.ones(count))
        wrong.append(found.shrunken[found.best] - truth[found.best])
        raw_wrong.append(found.raw[found.looked_best] - truth[found.looked_best])
        held.append(abs(wrong[-1]) < 1.96 * found.doubt[found.best])
    assert abs(np.mean(wrong)) < 0.3
    assert np.mean(np.square(wrong)) < 1.02 * np.mean(np.square(raw_wrong))
    assert np.mean(held) > 0.90


def test_the_share_that_is_kept_follows_the_scatter() -> None:
    """Equal errors s: kept is 1 - s^2 c / SS, c the 30 % quantile from above of chi^2."""
    raw = np.array([3.0, 1.0, 0.0, -4.0])
    found = alone(raw, np.full(4, 1.0))
    assert found.kept == pytest.approx(1.0 - 3.6649 / 26.0, abs=1e-4)  # table of chi^2, 3 df
    assert found.shrunken == pytest.approx(found.kept * raw)
    assert found.common == pytest.approx(0.0, abs=1e-12)
    assert found.why == (
        "The best of 4 was picked for looking best, and part of that is luck: 86 % of its lead "
        "over the mean of all is kept."
    )


def test_items_that_differ_less_than_their_errors_are_not_told_apart() -> None:
    found = alone(np.array([1.0, 0.5, 0.2]), np.full(3, 2.0))
    assert found.shrunken == pytest.approx(np.full(3, 1.7 / 3))
    assert found.tau == 0
    assert "none of its lead is kept" in found.why
    assert found.doubt[0] > 2.0 / math.sqrt(3)


def test_the_best_of_eight_over_seven_riders() -> None:
    """Means over seven riders, of which the best is the bottle of `test_pooling`: 2.73 +- 1.10 W.

    By hand: 8.383 x 1.104^2 = 10.2 (table of chi^2, 7 df, 30 %) is more than the sum of squares
    9.633 - 8 x 0.34125^2 = 8.70, so nothing is left of its lead.
    """
    raw = np.array([2.73, 0.8, 0.6, 0.3, 0.0, -0.3, -0.6, -0.8])
    found = alone(raw, np.full(8, 2.92 / math.sqrt(7)))
    assert found.alike
    assert found.shrunken == pytest.approx(np.full(8, 0.34125))


def test_a_surer_item_may_overtake() -> None:
    found = alone(np.array([6.0, 5.0, 0.0, 0.3]), np.array([4.0, 0.3, 0.3, 0.3]))
    assert (found.looked_best, found.best) == (0, 1)
    assert found.why.endswith("another item, which is better known, comes out best.")


def test_a_shared_baseline_adds_to_the_doubt_and_moves_no_item() -> None:
    """An error that all share cannot tell items apart, whatever its size."""
    raw, errors = np.array([3.0, -1.0, 2.0, 0.5]), np.full(4, 0.7)
    apart = alone(raw, errors)
    shared = shrink(raw, np.diag(errors**2) + 4.0)
    assert shared.shrunken == pytest.approx(apart.shrunken)
    assert shared.doubt == pytest.approx(np.sqrt(apart.doubt**2 + 4.0))
    assert shared.luck == pytest.approx(apart.luck)


def test_only_what_all_items_share_leaves_the_luck() -> None:
    """A variance of 4 each, of which all three share 1 and two of them 2.

    E max of three normals: 3 / (2 sqrt(pi)) of their deviation. David and Nagaraja 2003, from
    memory.
    """
    shared = np.array([[4.0, 2.0, 1.0], [2.0, 4.0, 1.0], [1.0, 1.0, 4.0]])
    found = shrink(np.array([3.0, -1.0, 2.0]), shared)
    assert found.luck == pytest.approx(math.sqrt(4 - 1) * 1.5 / math.sqrt(math.pi), rel=1e-6)


@pytest.mark.parametrize(
    ("raw", "covariance", "words"),
    [
        ([1.0, 2.0], [[1.0, 0.0], [0.0, 0.0]], "definite"),
        ([1.0, 2.0, 3.0], [[1.0, 0.0], [0.0, 1.0]], "mismatch"),
        ([1.0, math.nan], [[1.0, 0.0], [0.0, 1.0]], "finite"),
        ([1.0, 2.0], [[1.0, 1.0], [1.0, 1.0]], "definite"),
    ],
)
def test_what_will_not_do(raw, covariance, words) -> None:
    with pytest.raises(ValueError, match=words):
        shrink(np.array(raw), np.array(covariance))


ITEMS = st.lists(
    st.tuples(st.floats(-20.0, 20.0), st.floats(0.1, 10.0)), min_size=2, max_size=8
).map(np.array)


@given(ITEMS, st.floats(-50.0, 50.0), st.floats(1e-3, 1e3))
def test_shift_and_scale_pass_through(rows: FloatArray, shift: float, scale: float) -> None:
    one = alone(*rows.T)
    other = alone(scale * (rows[:, 0] + shift), scale * rows[:, 1])
    assert other.shrunken == pytest.approx(
        scale * (one.shrunken + shift), rel=1e-5, abs=1e-4 * scale
    )
    assert other.doubt == pytest.approx(scale * one.doubt, rel=1e-4)


@given(ITEMS)
def test_the_shrunken_lie_between_the_raw_and_their_mean(rows: FloatArray) -> None:
    found = alone(*rows.T)
    low = np.minimum(found.raw, found.common) - 1e-9
    high = np.maximum(found.raw, found.common) + 1e-9
    assert np.all((low <= found.shrunken) & (found.shrunken <= high))
    assert np.all(found.doubt > 0)


@given(ITEMS, st.randoms(use_true_random=False))
def test_the_order_of_items_does_not_matter(rows: FloatArray, random) -> None:
    order = list(range(len(rows)))
    random.shuffle(order)
    one, other = alone(*rows.T), alone(*rows[order].T)
    assert other.shrunken == pytest.approx(one.shrunken[order], rel=1e-5, abs=1e-4)
