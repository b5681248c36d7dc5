"""Runs needed, orders that are balanced against drift, and the sheet to fill in."""

import csv
import math

import numpy as np
import pytest
from scipy import stats

from racecalc.decisions.evidence.judging import Repeatability, chances, detectable, fewest, foretold
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
        assert detectable(error, math.inf) == pytest.approx(printed, rel=0.03)
        assert detectable(error, math.inf) == pytest.approx((1.959964 + 0.841621) * error, rel=1e-4)

    @pytest.mark.parametrize("df", [2, 5, 10, 30])
    def test_estimated_sd_is_the_noncentral_t(self, df):
        size = detectable(1.0, df)
        edge = stats.t.ppf(0.975, df)
        power = stats.nct.sf(edge, df, size) + stats.nct.cdf(-edge, df, size)
        assert power == pytest.approx(0.80, abs=1e-3)  # 200 nodes


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


class TestPlan:
    ASKED = Repeatability(0.004, 20)

    def test_enough_runs_for_both(self):
        found = plan(["old", "new"], 0.004, self.ASKED, 0.003, sessions=2)
        assert found.runs_per_item >= max(found.runs_to_see, found.runs_to_tie)
        assert found.chance_seen >= 0.8
        assert found.chance_tied >= 0.8
        assert found.detectable <= 0.004
        assert [len(session) for session in found.sessions] == [found.runs_per_item] * 2
        fewer = plan(["old", "new"], 0.004, self.ASKED, sessions=2)
        assert fewer.runs_to_tie is None
        assert fewer.runs_per_item <= found.runs_per_item

    def test_one_run_fewer_would_not_do(self):
        found = plan(["old", "new"], 0.006, self.ASKED)
        df = 2 * (found.runs_to_see - 1) - 3 + 10
        error = 0.004 * math.sqrt(2 / (found.runs_to_see - 1))
        assert chances(0.006, error, df, None, foretold(df, 1, 0.05)).seen < 0.8

    def test_more_items_looks_and_doubt_need_more_runs(self):
        def runs(names="AB", sd=0.004, **more):
            return plan(list(names), 0.005, Repeatability(sd, 20), **more).runs_to_see

        assert runs() < runs("ABCD")
        assert runs() < runs(looks=5)
        assert runs() < runs(sd=0.006)

    def test_the_chance_without_experience_is_the_noncentral_t(self):
        found = plan(["old", "new"], 0.006, self.ASKED)
        df = 2 * found.runs_per_item - 3
        edge, size = stats.t.ppf(0.975, df), 0.006 / (0.004 * math.sqrt(2 / found.runs_per_item))
        power = stats.nct.sf(edge, df, size) + stats.nct.cdf(-edge, df, size)
        assert found.chance_seen_without_repeatability == pytest.approx(
            power, abs=2e-3
        )  # 200 nodes
        assert found.chance_seen_without_repeatability < found.chance_seen

    def test_experience_counts_ten_degrees_of_freedom_at_most(self):
        """The chance by the noncentral t, the session and its drift taken off, ten put on."""
        found = plan(["old", "new"], 0.006, self.ASKED)
        df = 2 * found.runs_per_item - 3 + 10
        edge, size = stats.t.ppf(0.975, df), 0.006 / (0.004 * math.sqrt(2 / found.runs_per_item))
        power = stats.nct.sf(edge, df, size) + stats.nct.cdf(-edge, df, size)
        assert found.chance_seen == pytest.approx(power, abs=1e-3)  # 200 nodes
        ten = plan(["old", "new"], 0.006, Repeatability(0.004, 10))
        assert ten.chance_seen == found.chance_seen
        assert plan(["old", "new"], 0.006, Repeatability(0.004, 9)).chance_seen < ten.chance_seen

    def test_what_four_items_detect_is_what_the_noncentral_t_sees(self):
        """Three comparisons share the error (Bonferroni): 5 % / 3 each; 80 % are to be seen."""
        found = plan("ABCD", 0.006, self.ASKED)
        runs = found.runs_per_item
        df = 4 * runs - 3 - 2 + 10
        edge, size = stats.t.ppf(1 - 0.05 / 6, df), found.detectable / (0.004 * math.sqrt(2 / runs))
        power = stats.nct.sf(edge, df, size) + stats.nct.cdf(-edge, df, size)
        assert power == pytest.approx(0.8, abs=1e-3)  # 200 nodes

    def test_without_margin_there_is_no_chance_of_a_tie(self):
        assert plan(["old", "new"], 0.006, self.ASKED).chance_tied is None

    def test_hopeless(self):
        found = plan(["old", "new"], 1e-6, self.ASKED, 1e-6)
        assert (found.runs_to_see, found.runs_to_tie, found.runs_per_item) == (None, None, 2)
        assert "too small against the scatter to be seen" in " ".join(found.notes)
        assert "for any test to prove a tie" in " ".join(found.notes)
        assert "One session does not show" in found.notes[-1]

    @pytest.mark.parametrize("measure", ["cda", "power", "drag"])
    def test_the_sheet_comes_back_as_runs(self, tmp_path, measure):
        found = plan(["old", "new"], 0.01, self.ASKED, sessions=2, measure=measure)
        heading, *rows = found.sheet
        rng = np.random.default_rng(1)
        filled = [
            (
                *row[:3],
                f"{0.24 + 0.01 * (row[2] == 'old') + 0.002 * rng.standard_normal():.4f}",
                "45",
                "1.2",
                "",
            )
            for row in rows
        ]
        if measure != "cda":
            filled = [(*row[:3], f"{100 * float(row[3]):.3f}", *row[4:]) for row in filled]
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
        ],
    )
    def test_refused(self, wrong, says):
        asked = {"items": ["old", "new"], "difference": 0.01, "repeatability": self.ASKED} | wrong
        with pytest.raises(InputError) as caught:
            plan(**asked)
        assert str(caught.value).startswith(says)
