"""Differences, intervals and verdicts for one rider, against published and independent values."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from racecalc.decisions.evidence.chances import f_chance, foretold, level_per_look, quantiles
from racecalc.decisions.evidence.days import DayFit
from racecalc.decisions.evidence.judging import Repeatability, spread_of
from racecalc.decisions.evidence.least_squares import Design, design_of, fit, studentised
from racecalc.decisions.evidence.trial import analyse
from racecalc.decisions.verdicts import word
from racecalc.errors import InputError
from tests.evidence.runs import runs_of

ROUND_OFF = 1e-9


def plain_design(items, sessions=None, order=None, *, drift=True) -> Design:
    """Design with a drift term in every session or in none."""
    items = np.asarray(items, np.intp)
    sessions = np.zeros(len(items), np.intp) if sessions is None else np.asarray(sessions, np.intp)
    order = np.arange(len(items), dtype=float) if order is None else np.asarray(order, float)
    return Design(items, sessions, order, np.full(sessions.max() + 1, drift))


class TestDriftComparison:
    """Sutton CM, Clarkson MT. A general approach to comparisons in the presence of drift.

    Metrologia 1994;30:487-493 (volume from memory), its example of four masses in three rounds;
    data and results as they stand in the tests of a public program for weighing. The numbers
    without drift but for the sd, the b-c and c-d of the linear model and all its standard errors
    are an independent implementation's.
    """

    VALUES = (
        (22.1, 743.7, 3080.4, 4003.4),
        (18.3, 739.2, 3075.5, 3998.2),
        (14.2, 734.7, 3071.6, 3994.8),
    )

    def fitted(self, *, drift: bool, baseline: int = 0):
        values = np.ravel(self.VALUES)
        items = (np.tile(np.arange(4), 3) - baseline) % 4
        return fit(plain_design(items, drift=drift), values)

    @pytest.mark.parametrize(("drift", "sd", "df"), [(False, 4.30300283, 8), (True, 0.39013124, 7)])
    def test_residual_sd(self, drift, sd, df):
        found = self.fitted(drift=drift)
        assert found.df == df
        assert math.sqrt(found.variance) == pytest.approx(sd, abs=5e-9)

    # baseline, neighbour after it in a-b-c-d-a, printed difference baseline minus neighbour
    @pytest.mark.parametrize(
        ("drift", "baseline", "difference", "error"),
        [
            (False, 0, -721.0, 3.51339),
            (False, 1, -2336.63333, 3.51339),
            (False, 2, -922.96667, 3.51339),
            (False, 3, 3980.6, 3.51339),
            (True, 0, -722.07187, 0.32040),
            (True, 1, -2337.70521, 0.32040),
            (True, 2, -924.03854, 0.32040),
            (True, 3, 3983.81562, 0.33492),
        ],
    )
    def test_differences(self, drift, baseline, difference, error):
        found = self.fitted(drift=drift, baseline=baseline)
        # 722.071875 was cut, not rounded, to 722.07187.
        assert -found.difference[0] == pytest.approx(difference, abs=1e-5)
        assert math.sqrt(found.variance * found.inverse[0, 0]) == pytest.approx(error, abs=5e-6)

    def test_drift(self):
        found = self.fitted(drift=True)
        assert found.slope[0] == pytest.approx(-1.071875, abs=5e-7)
        error = math.sqrt(found.variance) * found.slope_factor[0]
        assert error == pytest.approx(0.03448, abs=5e-6)

    def test_two_items_at_their_true_times(self):
        pair = np.ravel([row[:2] for row in self.VALUES])
        found = fit(plain_design([0, 1] * 3, order=[0, 1, 4, 5, 8, 9]), pair)
        assert found.df == 3
        assert found.difference[0] == pytest.approx(722.05625, abs=5e-6)
        assert found.slope[0] == pytest.approx(-1.05625, abs=5e-6)
        assert math.sqrt(found.variance) == pytest.approx(0.32532, abs=5e-6)
        assert math.sqrt(found.variance * found.inverse[0, 0]) == pytest.approx(0.26872, abs=5e-6)
        counted = fit(plain_design([0, 1] * 3), pair)
        assert counted.difference[0] == pytest.approx(723.1125, abs=5e-5)

    def test_the_whole_analysis_says_the_same(self):
        trial = analyse(runs_of("abcd" * 3, np.ravel(self.VALUES)))
        assert trial.repeatability == pytest.approx(0.39013124, abs=5e-9)
        assert trial.items[0].difference == pytest.approx(722.07187, abs=1e-5)
        assert trial.items[0].standard_error_that_day == pytest.approx(0.32040, abs=5e-6)
        assert [item.verdict for item in trial.items] == ["slower"] * 3
        assert not trial.drifts[0].exceeds


class TestEquivalence:
    """Two one-sided tests: raw data of a public test suite that was checked there against R."""

    X = (2.84, 2.51, 2.41, 2.95, 3.14, 3.79, 4.14, 3.85, 3.02, 3.45, 5.37, 3.81, 4.19, 3.16, 3.84)
    Y = (2.60, 2.82, 2.18, 3.46, 4.01, 3.04, 3.47, 4.06, 2.91, 3.59, 4.51, 3.16, 3.86, 3.31, 3.02)

    def test_pooled(self):
        """One session without drift: difference, error, df, 90 % interval, p and verdict."""
        items = np.repeat([1, 0], 15)
        found = fit(plain_design(items, drift=False), np.array(self.X + self.Y))
        error = math.sqrt(found.variance * found.inverse[0, 0])
        assert found.df == 28
        assert found.difference[0] == pytest.approx(0.1646666667, abs=5e-11)
        assert error == pytest.approx(0.2531625991, abs=5e-11)
        needed = quantiles(found.df, np.ones((1, 1)), 0.05)
        low, high = (found.difference[0] + sign * needed.tie * error for sign in (-1, 1))
        assert (low, high) == pytest.approx((-0.2659961, 0.5953294), abs=5e-8)
        assert stats.t.sf((0.6 - high) / error + needed.tie, 28) == pytest.approx(
            0.0482731510, abs=5e-11
        )
        assert word(-found.difference[0], error, 0.6, needed.decisive, needed.tie) == "tie"
        assert word(-found.difference[0], error, 0.59, needed.decisive, needed.tie) == "undecided"

    def test_pairs(self):
        """Each pair is a session of two runs, which is the paired test: df 14."""
        values = np.column_stack([self.X, self.Y]).ravel()
        trial = analyse(
            runs_of(["x", "y"] * 15, values, sessions=np.repeat(np.arange(15), 2).astype(str)),
            baseline="y",
            margin=0.6,
        )
        (item,) = trial.items
        assert item.df == 14
        assert item.difference == pytest.approx(0.1646666667, abs=5e-11)
        assert item.standard_error == pytest.approx(0.1357514068, abs=5e-11)
        assert item.verdict == "tie"
        needed = quantiles(14, np.ones((1, 1)), 0.05)
        ends = [item.difference + sign * needed.tie * item.standard_error for sign in (-1, 1)]
        assert ends == pytest.approx([-0.0744337, 0.4037670], abs=5e-8)

    def test_summary(self):
        """Pooled t of a published summary at df 182 (Lakens 2017, sd 0.95 as it was used)."""
        error = math.sqrt((94 * 0.95**2 + 88 * 0.83**2) / 182 * (1 / 95 + 1 / 89))
        assert (0.03 - 0.429) / error == pytest.approx(-3.02543, abs=5e-6)
        needed = quantiles(182, np.ones((1, 1)), 0.05)
        assert word(-0.03, error, 0.384, needed.decisive, needed.tie) == "tie"


class TestDays:
    """JCGM 100:2008, H.5: ten days of five readings each, in microvolts above 10 V.

    Day means and sds as tabled there (table H.9); F and the uncertainties as printed, 128, 43,
    18 and 13 from memory. The readings of a day are made to have just that mean and sd.
    """

    MEANS = np.array([172, 116, 13, 144, 106, 31, 60, 125, 163, 41.0])
    SDS = np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86.0])
    PATTERN = np.array([-2, -1, 0, 1, 2]) / math.sqrt(2.5)

    def test_session_spread(self):
        """One item against a baseline without scatter of its own: H.5 item by session."""
        days = np.repeat(np.arange(10), 10)
        readings = self.MEANS[:, None] + self.SDS[:, None] * self.PATTERN
        # Every reading stands beside its mirror image in the baseline, so that half the
        # difference of a day is that day's mean, and no drift is in the order.
        values = np.concatenate([np.concatenate([r, -r[::-1]]) for r in readings])
        items = np.tile(np.repeat([1, 0], 5), 10)
        design = plain_design(items, days, np.tile(np.arange(10), 10), drift=False)
        found = fit(design, values)
        fits = DayFit(design, values)
        across, within = fits.at(0.0), fits.within
        assert found.difference[0] / 2 == pytest.approx(97.1, abs=1e-9)
        assert (across.between_df, within.df) == (9, 80)
        s_a = math.sqrt(across.between / across.between_df / 2)
        s_b = math.sqrt(within.square_sum / within.df)
        # The two arms double the sum of squares between days.
        assert s_a == pytest.approx(127.656, abs=5e-4)
        assert s_b == pytest.approx(84.8870, abs=5e-5)
        assert (s_a / s_b) ** 2 == pytest.approx(2.25, abs=0.02)
        assert s_a / math.sqrt(50) == pytest.approx(18.0533, abs=5e-5)

    def test_f(self):
        assert f_chance(2.26152, 9, 1.0, 40) == pytest.approx(0.037397, abs=1e-6)
        assert f_chance(2.12403, 9, 1.0, 40) == pytest.approx(0.05, abs=1e-5)
        assert f_chance(2.45194, 9, 1.0, 40) == pytest.approx(0.025, abs=1e-5)

    def test_sessions_that_disagree_widen_the_interval(self):
        """Ten sessions of A-B-B-A whose differences scatter more than their runs."""
        rng = np.random.default_rng(5)
        runs = abba_sessions(rng, 10, apart=0.006)
        trial = analyse(runs)
        alone = fit(
            design_of(
                np.array([item == "B" for item in runs.item], np.intp),
                np.repeat(np.arange(10), 4),
                runs.order,
            ),
            runs.value,
        )
        assert "each day counts once" in trial.day_to_day_because
        assert trial.items[0].df == 9
        own = math.sqrt(alone.variance * alone.inverse[0, 0])
        assert trial.items[0].standard_error > 1.3 * own
        # The same as ten differences, one a session, taken as the data.
        by_session = runs.value.reshape(10, 4) @ np.array([-0.5, 0.5, 0.5, -0.5])
        assert trial.items[0].difference == pytest.approx(by_session.mean(), abs=1e-12)
        assert trial.items[0].standard_error == pytest.approx(
            by_session.std(ddof=1) / math.sqrt(10), rel=ROUND_OFF
        )

    def test_further_days_where_days_disagree(self):
        """A degree of freedom for each further day; the chance by the noncentral t at 1 %."""
        trial = analyse(abba_sessions(np.random.default_rng(2), 3, apart=0.01, difference=-0.006))
        (item,) = trial.items
        assert "each day counts once" in trial.day_to_day_because
        assert (item.df, item.verdict) == (2, "undecided")

        def power(more, level):
            df = 2 + more
            size = abs(item.difference) / (item.standard_error * math.sqrt(3 / (3 + more)))
            edge = stats.t.ppf(1 - level / 2, df)
            return stats.nct.sf(edge, df, size) + stats.nct.cdf(-edge, df, size)

        enough, too_soon = (
            next(more for more in range(1, 500) if power(more, level) >= 0.8)
            for level in (0.01, 0.05)
        )
        assert item.further_days == enough
        assert enough > too_soon


def abba_sessions(rng, sessions, apart=0.0, sd=0.002, difference=0.0):
    """Sessions of A-B-B-A; `apart` is the sd of the difference from session to session."""
    shift = difference + apart * rng.standard_normal(sessions)
    values = 0.24 + sd * rng.standard_normal((sessions, 4)) + 0.01 * rng.random((sessions, 1))
    values[:, 1:3] += shift[:, None]
    names = np.repeat([f"day {number}" for number in range(sessions)], 4)
    order = np.tile(np.arange(4.0), sessions)
    return runs_of("ABBA" * sessions, values.ravel(), list(names), order)


class TestExactly:
    def test_abba_takes_drift_out(self):
        """A 100, B 99, drift 0.2 a run: the difference is -1 exactly, and no doubt is known."""
        trial = analyse(runs_of("ABBA", [100.0, 99.2, 99.4, 100.6]))
        (item,) = trial.items
        assert item.difference == pytest.approx(-1.0, rel=1e-13)
        assert trial.drifts[0].slope == pytest.approx(0.2, rel=1e-12)
        assert item.verdict == "undecided"
        assert (item.low, item.high, item.further_days) == (None, None, None)
        assert "identical to the last digit" in item.because

    def test_identical_repeats_with_experience_can_be_judged(self):
        trial = analyse(
            runs_of("ABBA", [0.24, 0.23, 0.23, 0.24]), repeatability=Repeatability(0.001, 30)
        )
        assert trial.items[0].verdict == "faster"
        assert trial.repeatability == pytest.approx(0.001 * math.sqrt(10 / 11), rel=1e-12)

    def test_aba_is_left_without_drift(self):
        """By hand: B less the mean of A; two runs of A 0.004 apart; the error sd sqrt(1 + 1/2)."""
        trial = analyse(runs_of("ABA", [0.240, 0.230, 0.244]))
        (item,) = trial.items
        assert trial.drifts == ()
        assert (item.difference, trial.repeatability_df) == (pytest.approx(-0.012), 1)
        assert trial.repeatability == pytest.approx(0.004 / math.sqrt(2))
        assert item.standard_error_that_day == pytest.approx(0.004 / math.sqrt(2) * math.sqrt(1.5))

    def test_a_drift_needs_two_runs_more_than_items(self):
        """Three items: A-B-C-A carries none, A-B-C-A-B one."""
        assert analyse(runs_of("ABCA", [0.24, 0.23, 0.22, 0.244])).drifts == ()
        assert len(analyse(runs_of("ABCAB", [0.24, 0.23, 0.22, 0.244, 0.231])).drifts) == 1

    # Independently calculated properties of orders: standard error over sd without and with
    # drift, and the bias of the plain difference of means by a drift of one a run.
    @pytest.mark.parametrize(
        ("order", "bias", "plain", "df", "drifting"),
        [
            ("AABB", 2, 1.000, 2, 2.236),
            ("ABAB", 1, 1.000, 2, 1.118),
            ("ABBA", 0, 1.000, 2, 1.000),
            ("ABABA", 0, 0.9129, 3, 0.9129),
            ("ABABAB", 1, 0.8165, 4, 0.8539),
            ("ABABABAB", 1, 0.7071, 6, 0.7246),
            ("ABBAABBA", 0, 0.7071, 6, 0.7071),
            ("ABBABAAB", 0, 0.7071, 6, 0.7071),
        ],
    )
    def test_orders(self, order, bias, plain, df, drifting):
        items = [item == "B" for item in order]
        without, carried = (
            fit(plain_design(items, drift=d), np.arange(len(order)) * 1.0) for d in (False, True)
        )
        assert without.difference[0] == pytest.approx(bias, abs=1e-12)
        assert carried.difference[0] == pytest.approx(0, abs=1e-12)
        assert (without.df, carried.df) == (df, df - 1)
        assert math.sqrt(without.inverse[0, 0]) == pytest.approx(plain, abs=5e-4)
        assert math.sqrt(carried.inverse[0, 0]) == pytest.approx(drifting, abs=5e-4)

    def test_six_pairs(self):
        """An independent calculation for six pairs at an sd of 0.004 m^2: 0.0023 m^2."""
        found = fit(
            plain_design([0, 1, 1, 0] * 3, np.repeat([0, 1, 2], 4), np.tile(range(4), 3)),
            np.zeros(12),
        )
        assert 0.004 * math.sqrt(found.inverse[0, 0]) == pytest.approx(0.0023, abs=5e-5)


class TestLeastSquares:
    """Against the ordinary least squares of an independent library, with a dummy for all."""

    @pytest.mark.parametrize("seed", range(12))
    @pytest.mark.xdist_group("statsmodels")
    def test_same_as_one_wide_regression(self, seed):
        import statsmodels.api as sm

        rng = np.random.default_rng(seed)
        count, items, sessions = (
            int(rng.integers(14, 40)),
            int(rng.integers(2, 6)),
            int(rng.integers(1, 4)),
        )
        item = np.concatenate([np.arange(items), rng.integers(0, items, count - items)])
        session = np.sort(
            np.concatenate([np.arange(sessions), rng.integers(0, sessions, count - sessions)])
        )
        order = rng.permutation(count) * rng.uniform(0.5, 2.0)
        value = 0.24 + 0.002 * rng.standard_normal(count) + 0.01 * session + 1e-4 * order
        design = design_of(item.astype(np.intp), session.astype(np.intp), order)
        ours = fit(design, value)
        columns = [item == k for k in range(1, items)] + [session == k for k in range(sessions)]
        columns += [(session == k) * order for k in np.flatnonzero(design.drift)]
        theirs = sm.OLS(value, np.column_stack(columns).astype(float)).fit()
        if np.linalg.matrix_rank(np.column_stack(columns)) < len(columns):
            pytest.skip("the items of this draw are not connected")
        assert ours.df == theirs.df_resid
        np.testing.assert_allclose(
            ours.difference, theirs.params[: items - 1], rtol=1e-8, atol=1e-12
        )
        np.testing.assert_allclose(
            np.sqrt(ours.variance * np.diag(ours.inverse)), theirs.bse[: items - 1], rtol=1e-8
        )
        influence = theirs.get_influence()
        np.testing.assert_allclose(ours.leverage, influence.hat_matrix_diag, atol=1e-9)
        np.testing.assert_allclose(
            studentised(ours), influence.resid_studentized_external, rtol=1e-6
        )
        carried = design.drift
        np.testing.assert_allclose(
            ours.slope[carried], theirs.params[items - 1 + sessions :], atol=1e-11
        )
        np.testing.assert_allclose(
            math.sqrt(ours.variance) * ours.slope_factor[carried],
            theirs.bse[items - 1 + sessions :],
            rtol=1e-8,
        )

    @pytest.mark.xdist_group("statsmodels")
    def test_disagreement_is_the_f_of_nested_models(self):
        import statsmodels.api as sm

        rng = np.random.default_rng(3)
        runs = abba_sessions(rng, 4)
        item = np.array([name == "B" for name in runs.item], np.intp)
        session = np.repeat(np.arange(4), 4)
        design = design_of(item, session, runs.order)
        base = [session == k for k in range(4)] + [(session == k) * runs.order for k in range(4)]
        one = sm.OLS(runs.value, np.column_stack([item, *base]).astype(float)).fit()
        many = sm.OLS(
            runs.value,
            np.column_stack([*[(session == k) * item for k in range(4)], *base]).astype(float),
        ).fit()
        fits = DayFit(design, runs.value)
        across, within = fits.at(0.0), fits.within
        f, p, df = many.compare_f_test(one)
        assert (across.between_df, within.df) == (df, many.df_resid)
        squares = across.between / across.between_df, within.square_sum / within.df
        assert f_chance(squares[0], df, squares[1], within.df) == pytest.approx(p, rel=1e-6)
        assert squares[0] / squares[1] == pytest.approx(f, rel=1e-6)


class TestSeveralItems:
    # Dunnett CW. New tables for multiple comparisons with a control. Biometrics 1964;20:482-491,
    # two-sided 5 % (from memory).
    @pytest.mark.parametrize(
        ("count", "df", "printed"),
        [(1, 10, 2.23), (2, 10, 2.57), (3, 10, 2.76), (4, 10, 2.89), (5, 10, 2.99), (2, 5, 3.03)],
    )
    def test_quantiles_as_tabled(self, count, df, printed):
        correlation = np.full((count, count), 0.5) + 0.5 * np.eye(count)
        assert quantiles(df, correlation, 0.05).decisive == pytest.approx(printed, abs=6e-3)

    def test_intervals_as_an_independent_library_has_them(self):
        """Unequal numbers of runs; scipy integrates at random, to about 0.002 of a quantile."""
        rng = np.random.default_rng(8)
        counts = {"base": 6, "a": 3, "b": 4, "c": 7}
        groups = {name: rng.normal(0.24, 0.002, number) for name, number in counts.items()}
        items = [name for name, number in counts.items() for _ in range(number)]
        # All orders alike: no drift to be fitted.
        runs = runs_of(items, np.concatenate(list(groups.values())), order=np.zeros(20))
        trial = analyse(runs, baseline="base")
        theirs = stats.dunnett(
            groups["a"], groups["b"], groups["c"], control=groups["base"], random_state=1
        ).confidence_interval(0.95)
        lows, highs = zip(*((i.low_that_day, i.high_that_day) for i in trial.items), strict=True)
        width = highs[0] - lows[0]
        assert lows == pytest.approx(theirs.low, abs=2e-3 * width)
        assert highs == pytest.approx(theirs.high, abs=2e-3 * width)
        assert trial.items[0].low < trial.items[0].low_alone

    def test_narrower_than_bonferroni_and_wider_than_one(self):
        for count in (2, 3, 6):
            correlation = np.full((count, count), 0.5) + 0.5 * np.eye(count)
            ours, safe = quantiles(9, correlation, 0.05), foretold(9, count, 0.05)
            assert foretold(9, 1, 0.05).decisive < ours.decisive < safe.decisive
            assert ours.tie <= ours.decisive

    def test_levels_of_looks(self):
        assert [level_per_look(n) for n in (1, 2, 5, 6)] == [0.05, 0.0294, 0.0158, 0.05 / 6]


class TestVerdicts:
    VALUES = np.array([0.2400, 0.2310, 0.2315, 0.2405, 0.2308, 0.2396, 0.2402, 0.2312])

    def test_faster_is_less(self):
        (item,) = analyse(runs_of("ABBABAAB", self.VALUES)).items
        assert item.verdict == "faster"
        assert item.high < 0
        assert item.chance_faster > 0.999
        assert item.because == "the whole 95 % interval is on the faster side"
        assert item.further_days is None
        (other,) = analyse(runs_of("ABBABAAB", self.VALUES), baseline="B").items
        assert other.verdict == "slower"
        assert other.difference == pytest.approx(-item.difference, rel=1e-9)

    def test_tie(self):
        values = [0.2400, 0.2401, 0.2399, 0.2400, 0.2400, 0.2401, 0.2399, 0.2401]
        (item,) = analyse(runs_of("ABBABAAB", values), margin=0.002).items
        assert item.verdict == "tie"
        assert item.because == (
            "two one-sided tests show that it lies within 0.0020 m^2 either way"
        )

    def test_no_tie_while_the_interval_is_wider_than_the_margin(self):
        """Even around a difference of nothing, and without the words of a tie."""
        values = [0.2400, 0.2420, 0.2380, 0.2400, 0.2400, 0.2420, 0.2380, 0.2401]
        (item,) = analyse(runs_of("ABBABAAB", values), margin=0.001).items
        assert item.verdict == "undecided"
        assert "too wide to prove a tie within 0.0010 m^2 either way" in item.because
        assert item.further_days is None or item.further_days > 1

    def test_a_certain_difference_within_the_margin_says_so(self):
        (item,) = analyse(runs_of("ABBABAAB", self.VALUES), margin=0.02).items
        assert item.verdict == "tie"
        assert item.because.endswith("within 0.0200 m^2 either way, though not zero")

    def test_without_margin_none_is_offered(self):
        values = [0.2400, 0.2401, 0.2399, 0.2400, 0.2400, 0.2401, 0.2399, 0.2401]
        trial = analyse(runs_of("ABBABAAB", values))
        assert trial.margin is None
        assert trial.items[0].verdict == "undecided"
        assert trial.items[0].because.endswith("state one with --margin")

    @pytest.mark.parametrize("experience", [None, Repeatability(0.001, 30)])
    def test_one_run_is_no_finding(self, experience):
        for order, values in (
            ("AB", [0.24, 0.20]),
            ("ABAAAA", [0.24, 0.20, 0.24, 0.241, 0.239, 0.24]),
        ):
            (item,) = analyse(runs_of(order, values), repeatability=experience).items
            assert item.verdict == "undecided"
            assert item.runs == 1
        assert item.low is not None

    def test_one_run_of_the_baseline_is_no_finding(self):
        values = [0.200, 0.240, 0.200, 0.201, 0.199, 0.200]
        (item,) = analyse(runs_of("BABBBB", values), baseline="A").items
        assert (item.runs, item.verdict) == (5, "undecided")
        assert item.because == "a single run shows no scatter; repeat item and baseline"
        assert item.high < 0

    def test_one_run_in_all(self):
        trial = analyse(runs_of("A", [0.24]))
        assert trial.items == ()
        assert trial.baseline.mean == 0.24
        assert (
            trial.notes[-1] == "Only one item was ridden, so there is nothing to compare it with."
        )

    def test_a_session_of_one_item_does_no_harm(self):
        values = np.concatenate([self.VALUES, [0.25, 0.251, 0.249]])
        both = analyse(runs_of("ABBABAAB" + "CCC", values, ["one"] * 8 + ["two"] * 3), baseline="A")
        b, c = both.items
        alone = analyse(runs_of("ABBABAAB", self.VALUES)).items[0]
        assert b.difference == pytest.approx(alone.difference, rel=1e-9)
        assert (c.difference, c.verdict, c.mean) == (None, "undecided", pytest.approx(0.25))
        assert c.because == "no session, nor a chain of sessions, holds both it and the baseline"

    def test_a_chain_of_sessions_connects(self):
        values = [0.24, 0.23, 0.23, 0.24, 0.26, 0.27, 0.27, 0.26]
        trial = analyse(
            runs_of(
                "ABBA" + "BCCB", np.add(values, np.tile([0, 1e-5, 0, 0], 2)), ["x"] * 4 + ["y"] * 4
            )
        )
        assert trial.items[1].difference == pytest.approx(0.0, abs=2e-5)

    def test_more_days_settle_about_as_often_as_foretold(self):
        """Days drawn around the difference found, changing from day to day as is assumed."""
        rng = np.random.default_rng(31)
        effect = np.array([0, 1, 1, 0, 1, 0, 0, 1])

        def ridden(days, true, sd, change):
            values = sd * rng.standard_normal((days, 8))
            values += effect * (true + change * rng.standard_normal((days, 1)))
            names, order = np.repeat(np.arange(days), 8).astype(str), np.tile(np.arange(8), days)
            return runs_of("ABBABAAB" * days, 0.24 + values.ravel(), list(names), order)

        start = analyse(ridden(2, -0.002, 0.002, 0.0016), margin=0.0005)
        (item,) = start.items
        assert item.verdict == "undecided"
        assert item.further_days is not None
        # Two days of four runs an item: the square of the error is sd^2 (0.8^2 + 2/4) / 2.
        sd = item.standard_error / math.sqrt((0.64 + 0.5) / 2)
        decided = [
            analyse(ridden(2 + item.further_days, item.difference, sd, 0.8 * sd), again=True)
            .items[0]
            .verdict
            != "undecided"
            for _ in range(200)
        ]
        # 80 % wanted, with the first whole day that reaches it; four standard errors are 0.11.
        assert 0.69 < np.mean(decided) < 0.95


class TestMargin:
    def test_a_watt_at_the_speed_of_the_test(self):
        """1 W / (1/2 1.2 12.5^3) is 1 / 1171.875 m^2, and 1 W / 12.5 m/s is 0.08 N."""
        values = [0.24, 0.241, 0.239, 0.24]
        area = analyse(runs_of("ABBA", values, speed=12.5, density=1.2))
        assert area.margin == pytest.approx(1 / 1171.875, rel=1e-12)
        assert area.margin_because == "1 W at the 45.0 km/h of the test, because none is stated"
        force = analyse(runs_of("ABBA", values, measure="drag", speed=12.5))
        assert force.margin == pytest.approx(0.08, rel=1e-12)
        assert analyse(runs_of("ABBA", values, measure="power", speed=12.5)).margin == 1.0
        assert analyse(runs_of("ABBA", values, speed=12.5)).margin is None

    @pytest.mark.parametrize("margin", [0.0, -1.0, math.nan])
    def test_must_be_above_zero(self, margin):
        with pytest.raises(InputError, match=r"margin: .* is not above zero; give it above 0"):
            analyse(runs_of("ABBA", [1, 2, 3, 4]), margin=margin)


class TestExperience:
    def setup_method(self):
        rng = np.random.default_rng(21)
        items = np.array([0, 1, 1, 0, 1, 0, 0, 1], np.intp)
        self.value = rng.normal(0.24, 0.002, 8)
        design = design_of(items, np.zeros(8, np.intp), np.arange(8.0))
        self.fitted, self.within = fit(design, self.value), DayFit(design, self.value).within

    def test_combined(self):
        """By hand: (10 s0^2 + 5 s^2) / 15."""
        s2 = self.fitted.variance
        found = spread_of(self.within, Repeatability(0.002, 40))
        assert found.df == 15
        assert found.sd == pytest.approx(math.sqrt((10 * 4e-6 + 5 * s2) / 15), rel=1e-12)
        little = spread_of(self.within, Repeatability(0.002, 4))
        assert little.df == 9

    def test_alone_it_counts_ten_at_most(self):
        """One run of each: all that is known is experience, by hand sqrt(2) of its sd."""
        for df, counted in ((30, 10), (6, 6)):
            (item,) = analyse(
                runs_of("AB", [0.24, 0.23]), repeatability=Repeatability(0.002, df)
            ).items
            half = stats.t.ppf(0.975, counted) * 0.002 * math.sqrt(2)
            assert item.high_that_day - item.difference == pytest.approx(half, rel=1e-9)

    def test_left_out_where_this_test_scatters_more(self):
        s = math.sqrt(self.fitted.variance)
        border = math.sqrt(stats.f.isf(0.10, 5, 10))
        kept = spread_of(self.within, Repeatability(s / border * 1.001, 40))
        left = spread_of(self.within, Repeatability(s / border * 0.999, 40))
        assert (kept.df, left.df) == (15, 5)
        assert left.sd == pytest.approx(s, rel=1e-12)
        assert "experience was left out" in left.because

    @pytest.mark.parametrize("wrong", [{"sd": 0.0, "df": 3}, {"sd": 0.1, "df": 0}])
    def test_must_be_above_zero(self, wrong):
        with pytest.raises(InputError, match=r"repeatability, .*: 0 is not above zero"):
            Repeatability(**wrong)


class TestOutliers:
    VALUES = np.array([0.2400, 0.2381, 0.2379, 0.2402, 0.2380, 0.2399, 0.2401, 0.2378] * 2)

    def test_pointed_at_and_both_answers_shown(self):
        values = self.VALUES.copy()
        values[5] = 0.2600
        trial = analyse(runs_of("ABBABAAB" * 2, values))
        (out,) = trial.outliers
        assert (out.line, out.item, out.value) == (7, "A", 0.26)
        assert trial.baseline.runs == 8
        assert trial.without_outliers.baseline.runs == 7
        assert trial.items[0].verdict == "undecided"
        assert trial.without_outliers.items[0].verdict == "faster"
        assert any(
            note.startswith("Runs that do not fit the others: line 7 (A, 0.2600 m^2)")
            for note in trial.notes
        )

    def test_none_in_clean_runs(self):
        trial = analyse(runs_of("ABBABAAB" * 2, self.VALUES))
        assert (trial.outliers, trial.without_outliers) == ((), None)

    def test_rounded_repeats_make_no_outlier(self):
        trial = analyse(runs_of("AABB" * 2, [0.24, 0.24, 0.23, 0.23, 0.24, 0.24, 0.23, 0.231]))
        assert trial.outliers == ()

    def test_an_item_is_never_lost(self):
        """Both runs of B are equally far from their mean, so nobody can say which is wrong."""
        rng = np.random.default_rng(2)
        values = np.concatenate([rng.normal(0.24, 1e-4, 20), [0.2, 0.28]])
        trial = analyse(runs_of("A" * 20 + "BB", values, order=np.zeros(22)))
        assert len(trial.outliers) == 2
        assert trial.without_outliers is None
        assert "an item would have no run without them" in " ".join(trial.notes)


class TestNotes:
    def test_drift_beyond_the_effect(self):
        values = np.arange(8) * 0.001 + 0.24 + 1e-5 * np.array([1, -1, 0, 2, -2, 1, 0, -1])
        trial = analyse(runs_of("ABBABAAB", values))
        assert trial.drifts[0].change == pytest.approx(0.007, abs=1e-4)
        assert trial.drifts[0].exceeds
        said = " ".join(trial.notes)
        assert "Session 'one' drifts by +0.0070 m^2" in said
        assert "the baseline itself changed by +0.0060 m^2" in said

    def test_one_session_and_the_first_item(self):
        trial = analyse(runs_of("ABBA", [0.24, 0.23, 0.231, 0.24]))
        assert trial.notes[0] == (
            "The baseline is 'A', the item of the first run, because none is named."
        )
        assert "from day to day" in trial.notes[1]
        named = analyse(runs_of("ABBA", [0.24, 0.23, 0.231, 0.24]), baseline="A")
        assert "because none is named" not in " ".join(named.notes)

    def test_short_sessions_say_that_drift_stays_in(self):
        trial = analyse(runs_of("ABAB", [0.24, 0.23, 0.241, 0.23], ["x", "x", "y", "y"]))
        assert trial.drifts == ()
        assert "No drift is removed from 2 of 2 sessions" in " ".join(trial.notes)
        assert "The baseline is not repeated within a session" in " ".join(trial.notes)

    def test_what_was_noted_on_reading_is_kept(self):
        runs = replace(runs_of("ABBA", [0.24, 0.23, 0.231, 0.24]), notes=("As read.",))
        assert analyse(runs).notes[0] == "As read."

    def test_no_such_baseline(self):
        with pytest.raises(InputError) as caught:
            analyse(runs_of("ABBA", [1, 2, 3, 4]), baseline="C")
        assert str(caught.value) == (
            "runs.csv, baseline: no run has the item 'C'; the items are: A, B"
        )

    def test_several_riders(self):
        with pytest.raises(InputError) as caught:
            analyse(runs_of("AB", [1, 2], riders=["Runa", "Odd"]))
        assert str(caught.value) == "runs.csv: the runs are of 2 riders; analyse them one by one"


SHIFTS = st.floats(-100, 100)
SEEDS = st.integers(0, 10_000)


def some_runs(seed):
    rng = np.random.default_rng(seed)
    sessions = int(rng.integers(1, 4))
    names = [f"day {number}" for number in range(sessions) for _ in range(8)]
    items = "".join("".join(rng.permutation(list("AABBCCAB"))) for _ in range(sessions))
    return runs_of(
        items, rng.normal(3.0, 0.5, len(items)), names, np.tile(np.arange(8.0), sessions)
    )


def numbers(trial):
    return [
        number
        for item in trial.items
        for number in (item.difference, item.low, item.high, item.standard_error)
    ]


@settings(max_examples=40)
@given(SEEDS, SHIFTS)
def test_a_constant_changes_nothing(seed, shift):
    runs = some_runs(seed)
    moved = replace(runs, value=runs.value + shift)
    before, after = (analyse(one, "A", margin=0.5) for one in (runs, moved))
    assert numbers(after) == pytest.approx(numbers(before), rel=1e-7, abs=1e-9)
    assert [i.verdict for i in after.items] == [i.verdict for i in before.items]
    assert after.baseline.mean == pytest.approx(before.baseline.mean + shift, abs=1e-9)


@settings(max_examples=40)
@given(SEEDS)
def test_names_of_sessions_and_order_of_rows_change_nothing(seed):
    runs = some_runs(seed)
    other = replace(runs, session=tuple(name[::-1] for name in runs.session))
    mixed = runs.kept(list(np.random.default_rng(seed).permutation(len(runs.value))))
    before = analyse(runs, "A", margin=0.5)
    for after in (analyse(other, "A", margin=0.5), analyse(mixed, "A", margin=0.5)):
        by_name = sorted(after.items, key=lambda item: item.name)
        first = sorted(before.items, key=lambda item: item.name)
        assert numbers(replace(after, items=tuple(by_name))) == pytest.approx(
            # The lattice integral depends on the order of the items, to 2e-4 of a level.
            numbers(replace(before, items=tuple(first))),
            rel=1e-3,
            abs=1e-3,
        )


@settings(max_examples=40)
@given(SEEDS, st.floats(1e-3, 1e3), st.floats(1e-3, 1e3))
def test_scaling_scales(seed, by, clock):
    runs = some_runs(seed)
    scaled = replace(runs, value=runs.value * by, order=runs.order * clock + 7)
    before, after = analyse(runs, "A", margin=0.5), analyse(scaled, "A", margin=0.5 * by)
    assert numbers(after) == pytest.approx(
        [by * number for number in numbers(before)], rel=1e-7, abs=1e-9 * by
    )
    assert [i.verdict for i in after.items] == [i.verdict for i in before.items]
    assert [i.further_days for i in after.items] == [i.further_days for i in before.items]


@settings(max_examples=80)
@given(
    st.lists(
        st.tuples(st.sampled_from("ABC"), st.sampled_from("xyz"), st.integers(0, 4)),
        min_size=1,
        max_size=14,
    ),
    st.sampled_from([0.0, 1e-4, 1e-3]),
    st.sampled_from([None, 0.001]),
    st.booleans(),
)
def test_any_table_is_answered(rows, step, margin, known):
    """Whatever was ridden: no failure, no endless number, and a verdict with its reason."""
    items, sessions, order = zip(*rows, strict=True)
    values = 0.24 + step * np.array([hash_like(row) for row in rows])
    trial = analyse(
        runs_of(items, values, sessions, order),
        margin=margin,
        repeatability=Repeatability(0.001, 8) if known else None,
    )
    for item in trial.items:
        assert item.because
        told = [number for number in (item.difference, item.low, item.high) if number is not None]
        assert all(map(math.isfinite, told))
        assert (item.low_that_day is None) == (trial.repeatability is None or item.low is None)
        assert item.runs == items.count(item.name)
        if item.runs < 2 or trial.baseline.runs < 2:
            assert item.verdict == "undecided"


def hash_like(row):
    """Some digit that depends on a row alone."""
    item, session, order = row
    return (ord(item) * 31 + ord(session) * 17 + order * 7) % 10
