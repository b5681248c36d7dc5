"""Runs needed, orders that are balanced against drift, and the sheet to fill in."""

import csv
import math

import numpy as np
import pytest
from scipy import stats

from racecalc.decisions.evidence.chances import (
    Quantiles,
    chances,
    fewest,
    foretold,
    quantiles,
)
from racecalc.decisions.evidence.judging import Repeatability
from racecalc.decisions.evidence.planning import balanced_order, plan
from racecalc.decisions.evidence.trial import analyse
from racecalc.domain.trial import load_runs
from racecalc.errors import InputError

KNOWN = foretold(math.inf, 1, 0.05)


class TestDetectable:
    """An independent calculation for six pairs with a known sd: 2.80 standard errors."""

    @pytest.mark.parametrize(("sd", "printed"), [(0.004, 0.0065), (0.002, 0.0032)])
    def test_six_pairs(self, sd, printed):
        error = sd * math.sqrt(2 / 6)
        for size, within in ((printed, 0.02), ((1.959964 + 0.841621) * error, 1e-5)):
            seen = chances(size, error, math.inf, None, KNOWN).seen
            assert seen == pytest.approx(0.80, abs=within)

    @pytest.mark.parametrize("df", [2, 5, 10, 30])
    def test_estimated_sd_is_the_noncentral_t(self, df):
        size = 2.8
        edge = stats.t.ppf(0.975, df)
        power = stats.nct.sf(edge, df, size) + stats.nct.cdf(-edge, df, size)
        seen = chances(size, 1.0, df, None, Quantiles(edge, edge)).seen
        assert seen == pytest.approx(power, abs=1e-3)  # 200 nodes


class TestRunsNeeded:
    @pytest.mark.parametrize("ratio", [0.1, 0.2])
    def test_as_the_formulas_for_a_known_sd(self, ratio):
        """15.7 (sd/D)^2 for a difference and 17.1 (sd/margin)^2 for a tie (from memory)."""

        def chance(runs, difference, margin):
            return chances(difference, math.sqrt(2 / runs), math.inf, margin, KNOWN)

        to_see = fewest(lambda runs: chance(runs, ratio, None).seen, 5000)
        to_tie = fewest(lambda runs: chance(runs, 0.0, ratio).tied, 5000)
        assert to_see == pytest.approx(15.7 / ratio**2, rel=0.005, abs=1)
        assert to_tie == pytest.approx(17.1 / ratio**2, rel=0.005, abs=1)

    # Pooled t, an independent simulation: chance of a verdict at 2 and 3 sd, and of a tie where
    # nothing differs, margin over sd 2 and 3 (100,000 tests each). No tie is offered there or
    # here that the interval alone forbids; the simulation had no such rule.
    @pytest.mark.parametrize(
        ("runs", "two", "three", "tie_of_three"),
        [
            (2, 0.219, 0.389, 0.44),
            (3, 0.462, 0.783, 0.82),
            (4, 0.658, 0.940, 0.96),
            (6, 0.877, 0.996, 1.0),
        ],
    )
    def test_chances_as_simulated(self, runs, two, three, tie_of_three):
        df, error = 2 * runs - 2, math.sqrt(2 / runs)
        needed = foretold(df, 1, 0.05)
        assert chances(2.0, error, df, None, needed).seen == pytest.approx(two, abs=0.005)
        assert chances(3.0, error, df, None, needed).seen == pytest.approx(three, abs=0.005)
        assert chances(0.0, error, df, 3.0, needed).tied <= tie_of_three + 0.01
        if runs > 3:
            assert chances(0.0, error, df, 3.0, needed).tied >= tie_of_three - 0.05

    def test_settled_is_either(self):
        needed = foretold(10, 1, 0.05)
        found = chances(0.5, 0.4, 10, 1.5, needed)
        assert max(found.seen, found.tied) <= found.settled <= found.seen + found.tied + 1e-12
        assert chances(0.3, 0.1, 60, 1.5, foretold(60, 1, 0.05)).settled == pytest.approx(
            1.0, abs=1e-6
        )

    def test_fewest_is_the_first_that_will_do(self):
        for first in (1, 2, 3, 7, 64, 65, 499, 500):
            assert fewest(lambda n, first=first: float(n >= first)) == first
        assert fewest(lambda n: 0.0) is None


class TestOrder:
    def test_two_items_go_as_thue_morse(self):
        assert "".join(balanced_order("AB", 8)) == "ABBABAABBAABABBA"

    @pytest.mark.parametrize("items", ["AB", "ABC", "ABCDE"])
    @pytest.mark.parametrize("rounds", [2, 4, 6, 8])
    def test_a_linear_drift_favours_none(self, items, rounds):
        order = np.array(balanced_order(items, rounds))
        place = np.arange(len(order))
        means = [place[order == item].mean() for item in items]
        assert np.ptp(means) == 0.0

    def test_four_rounds_of_two_take_a_quadratic_drift_out(self):
        order = np.array(balanced_order("AB", 4))
        square = np.arange(8.0) ** 2
        assert square[order == "A"].mean() == square[order == "B"].mean()

    def test_each_session_begins_with_another_item(self):
        assert [balanced_order("ABC", 2, turn)[0] for turn in range(4)] == ["A", "B", "C", "A"]


def seen_on_one_day(runs, size, items=2, experience=10, change=0.8, edge=None):
    """Chance by the noncentral t of a verdict on any day; amounts in scatters of one run.

    One day with its drift leaves items (runs - 1) - 1 degrees of freedom. The error assumed is that
    of a change of 0.8 from day to day, which is a share q of the variance; its degrees of freedom
    1 / (1/df + q^2/4), JCGM 100:2008, G.4.1, from memory.
    """
    df = items * (runs - 1) - 1 + experience
    share = 0.64 / (0.64 + 2 / runs)
    edge = edge or stats.t.ppf(0.975, 1 / (1 / df + share**2 / 4))
    true = math.sqrt(change**2 + 2 / runs)
    edge *= math.sqrt(0.64 + 2 / runs) / true
    # Where it is next to nothing the chance of the wrong side comes as NaN.
    other = np.nan_to_num(stats.nct.cdf(-edge, df, size / true))
    return stats.nct.sf(edge, df, size / true) + other


class TestPlan:
    ASKED = Repeatability(0.004, 20)

    def test_enough_runs_for_both(self):
        found = plan(["old", "new"], 0.012, self.ASKED, 0.012, sessions=2)
        assert found.runs_per_item >= max(found.runs_to_see, found.runs_to_tie)
        assert found.chance_seen >= 0.8
        assert found.chance_tied >= 0.8
        assert found.detectable <= 0.012
        assert [len(session) for session in found.sessions] == [found.runs_per_item] * 2
        fewer = plan(["old", "new"], 0.012, self.ASKED, sessions=2)
        assert fewer.runs_to_tie is None
        assert fewer.runs_per_item <= found.runs_per_item

    def test_two_runs_fewer_would_not_do(self):
        found = plan(["old", "new"], 0.012, self.ASKED, sessions=1)
        assert seen_on_one_day(found.runs_to_see - 2, 3.0) < 0.8
        assert seen_on_one_day(found.runs_to_see, 3.0) >= 0.8 - 2e-3

    def test_more_items_looks_and_doubt_make_a_verdict_less_likely(self):
        def chance(names="AB", sd=0.004, **more):
            known, riding = Repeatability(sd, 20), {"sessions": 3, "runs": 4} | more
            return plan(list(names), 0.008, known, **riding).chance_seen

        assert chance() > chance("ABCD")
        assert chance() > chance(looks=5)
        assert chance() > chance(sd=0.006)
        assert chance(day_to_day=0.002) > chance() > chance(day_to_day=0.006)

    @pytest.mark.parametrize(
        ("change", "key"), [(0.8, "chance_seen"), (0.0, "chance_seen_if_same")]
    )
    def test_the_chances_of_one_day_are_the_noncentral_t(self, change, key):
        found = plan(["old", "new"], 0.012, self.ASKED, sessions=1, runs=8)
        assert getattr(found, key) == pytest.approx(
            seen_on_one_day(8, 3.0, change=change), abs=2e-3
        )

    def test_the_chance_without_experience_is_the_noncentral_t(self):
        found = plan(["old", "new"], 0.012, self.ASKED, sessions=1, runs=8)
        alone = found.chance_seen_without_repeatability
        assert alone == pytest.approx(seen_on_one_day(8, 3.0, experience=0), abs=2e-3)
        assert alone < found.chance_seen

    def test_experience_counts_ten_degrees_of_freedom_at_most(self):
        def chance(df):
            return plan(["old", "new"], 0.012, Repeatability(0.004, df), sessions=1).chance_seen

        assert chance(20) == chance(10) > chance(9)

    def test_what_four_items_detect_is_what_the_noncentral_t_sees(self):
        """Three comparisons share the error: the quantile of Dunnett at the assumed freedom."""
        found = plan("ABCD", 0.012, self.ASKED, sessions=1, runs=8)
        df, share = 4 * 7 - 1 + 10, 0.64 / (0.64 + 2 / 8)
        half = np.full((3, 3), 0.5) + 0.5 * np.eye(3)
        edge = quantiles(1 / (1 / df + share**2 / 4), half, 0.05).decisive
        power = seen_on_one_day(8, found.detectable / 0.004, items=4, edge=edge)
        assert power == pytest.approx(0.8, abs=3e-3)

    def test_days_are_chosen_before_runs(self):
        """Two scatters of one run: no number of runs on one day, some days of a few runs."""
        found = plan(["old", "new"], 0.008, self.ASKED)
        assert len(found.sessions) > 1
        assert found.chance_seen >= 0.8
        one = plan(["old", "new"], 0.008, self.ASKED, sessions=1)
        assert one.runs_to_see is None
        assert (one.other_days.days, found.other_days) == (len(found.sessions), None)

    def test_told_how_many_runs_there_are(self):
        found = plan(["old", "new"], 0.008, self.ASKED, sessions=2, runs=4)
        assert found.runs_per_item == 8
        assert found.chance_seen < found.chance_seen_if_same < 0.8

    def test_without_margin_there_is_no_chance_of_a_tie(self):
        assert plan(["old", "new"], 0.006, self.ASKED).chance_tied is None

    def test_hopeless(self):
        found = plan(["old", "new"], 1e-6, self.ASKED, 1e-6, sessions=1)
        assert (found.runs_to_see, found.runs_to_tie, found.runs_per_item) == (None, None, 2)
        assert found.other_days is None
        assert "too small against the scatter to be seen" in " ".join(found.notes)
        assert "to prove a tie" in " ".join(found.notes)
        assert "One day does not show" in found.notes[-1]

    @pytest.mark.parametrize("measure", ["cda", "power", "drag"])
    def test_the_sheet_comes_back_as_runs(self, tmp_path, measure):
        found = plan(["old", "new"], 0.01, self.ASKED, sessions=2, measure=measure)
        heading, *rows = found.sheet
        rng = np.random.default_rng(1)
        filled = [
            (
                *row[:4],
                f"{0.24 + 0.01 * (row[2] == 'old') + 0.002 * rng.standard_normal():.4f}",
                "45",
                "1.2",
                *("" for _ in heading[6:]),
            )
            for row in rows
        ]
        if measure != "cda":
            filled = [(*row[:4], f"{100 * float(row[4]):.3f}", *row[5:]) for row in filled]
        path = tmp_path / "sheet.csv"
        with path.open("w", newline="") as file:
            csv.writer(file).writerows([heading, *filled])
        runs = load_runs(path)
        assert runs.measure == ("power" if measure == "power" else "cda")
        assert runs.items[0] == "old"
        assert analyse(runs).items[0].runs == found.runs_per_item

    @pytest.mark.parametrize(
        ("wrong", "says"),
        [
            (
                {"items": ["old"]},
                "plan, items: only one item is named; name a baseline and at least one other item",
            ),
            ({"items": ["old", "old"]}, "plan, items: 'old' is named twice"),
            ({"items": ["old", " "]}, "plan, items: an item has a blank name"),
            (
                {"items": ["New suit", "old", "new  suit"]},
                "plan, items: 'New suit' and 'new suit' differ only in capitals or spaces",
            ),
            ({"items": ["New suit", "Newsuit"]}, "plan, items: 'New suit' and 'Newsuit' differ"),
            ({"difference": 0.0}, "plan, difference: 0 is not above zero; give it above 0"),
            ({"margin": -1.0}, "plan, margin: -1 is not above zero; give it above 0"),
            ({"sessions": 0}, "plan, sessions: 0 is not above zero; give it above 0"),
            ({"day_to_day": 0.0}, "plan, day_to_day: 0 is not above zero; give it above 0"),
            ({"runs": 5}, "plan, runs: 5 is odd, so a drift would not cancel; give 6"),
        ],
    )
    def test_refused(self, wrong, says):
        asked = {"items": ["old", "new"], "difference": 0.01, "repeatability": self.ASKED} | wrong
        with pytest.raises(InputError) as caught:
            plan(**asked)
        assert str(caught.value).startswith(says)
