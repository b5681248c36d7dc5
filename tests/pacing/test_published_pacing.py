"""Published pacing plans, and which mean they hold: that over time or that over distance.

`tests/published/studies.toml` has the seconds on roads that are ridden piece by piece at steady
speed; here whole courses are ridden, with the means as a plan states them. The published plans
know no change of speed between pieces; on a course of two pieces, many times as long, it has lost
its weight.
"""

from dataclasses import replace
from typing import ClassVar

import numpy as np
import pytest
from scipy.optimize import brentq

from racecalc.decisions.pacing.levels import best_levels
from racecalc.decisions.pacing.limits import Limits, PowerMean
from racecalc.decisions.pacing.optimal import constant_within, ideal_plan
from racecalc.decisions.pacing.plans import PacingPlan, Sections, ridden_at
from racecalc.decisions.riding import Ridden, ride
from racecalc.domain.race import Race
from tests.builders import (
    TEN_MILES,
    graded_course,
    out_and_back,
    race,
    reference_race,
    still_air,
    windy_air,
)
from tests.pacing.making import card_within, critical, power_mean

LONG = 20
"""Courses are so many times as long, and seconds are divided by as many."""


def in_halves(base: Ridden) -> Sections:
    nodes = base.solution.ride.nodes
    return Sections(np.array([0, np.searchsorted(nodes, 0.5 * nodes[-1]), len(nodes) - 1]))


def at_two(base: Ridden, first: float, second: float) -> PacingPlan:
    return ridden_at(base, in_halves(base).spread(np.array([first, second])))


def saved(base: Ridden, plan: PacingPlan) -> float:
    """Seconds against the race power throughout."""
    return (base.time - plan.time) / LONG


class TestTenPercentHarderAndEasier:
    """289 W varied by 10 % on hills and in wind.

    Atkinson G, Peacock O, Passfield L. J Sports Sci 2007;25:1001-1009, abstract (read): saves
    126 s on 10 km of 1-km pieces at +-10 % and 51 s on 40 km of 5-km pieces of +-4.4 m/s. CdA
    0.26 m^2, Crr 0.004 and rho 1.2 kg/m^3 are assumed, the coefficients are those of Martin et
    al. 1998, and so are x1.1 and x0.9 over equal distances. All other numbers: independent
    calculation at steady speeds.
    """

    POWER = 289.0
    # Course: at constant power [s], saved at the same mean over distance [s] and over time [s],
    # second power that keeps the mean over time [W].
    EXPECTED: ClassVar = {
        "hills": (1686.5, 126.6, 118.7, 114.8),
        "wind": (3616.4, 50.5, 27.2, 246.2),
    }
    PUBLISHED: ClassVar = {"hills": 126.0, "wind": 51.0}

    @pytest.fixture(scope="module")
    @staticmethod
    def roads() -> dict[str, Ridden]:
        each = {"hills": LONG * 5_000.0, "wind": LONG * 20_000.0}
        courses = {
            "hills": graded_course((each["hills"], 0.1), (each["hills"], -0.1)),
            "wind": out_and_back(2.0 * each["wind"]),
        }
        airs = {"hills": still_air(1.2), "wind": windy_air(4.4)}
        starts = {"hills": 3.4, "wind": 8.8}
        return {
            name: ride(
                race(
                    course=course,
                    air=airs[name],
                    power=TestTenPercentHarderAndEasier.POWER,
                    cda=0.26,
                    drivetrain_loss=1.0 - 0.97698,
                    spoke_drag=0.0044,
                    start_speed=starts[name],
                    step=50.0,
                )
            )
            for name, course in courses.items()
        }

    @pytest.mark.parametrize("name", EXPECTED)
    def test_by_distance(self, roads: dict[str, Ridden], name: str):
        base = roads[name]
        constant, by_distance, _, _ = self.EXPECTED[name]
        plan = at_two(base, 1.1 * self.POWER, 0.9 * self.POWER)
        assert base.time / LONG == pytest.approx(constant, abs=1.0)
        assert saved(base, plan) == pytest.approx(by_distance, abs=0.3)
        assert saved(base, plan) == pytest.approx(self.PUBLISHED[name], abs=1.0)
        # It is the mean over distance that stays; over time the rider rides harder.
        assert plan.distance_mean() == pytest.approx(self.POWER, abs=0.01)
        assert plan.mean() > self.POWER + 4.0

    @pytest.mark.parametrize("name", EXPECTED)
    def test_by_time(self, roads: dict[str, Ridden], name: str):
        base = roads[name]
        _, by_distance, by_time, second = self.EXPECTED[name]
        first = 1.1 * self.POWER
        found = brentq(
            lambda watts: at_two(base, first, watts).mean() - self.POWER,
            60.0,
            self.POWER,
            xtol=1e-4,
        )
        plan = at_two(base, first, found)
        # The descent begins at the speed of the climb, which here is ridden and there is not.
        assert found == pytest.approx(second, abs=0.6)
        assert saved(base, plan) == pytest.approx(by_time, abs=0.3)
        assert plan.mean() == pytest.approx(self.POWER, abs=0.001)
        assert plan.distance_mean() < self.POWER - 5.0
        assert by_time < by_distance

    @pytest.mark.parametrize("name", EXPECTED)
    def test_the_rest_is_riding_harder(self, roads: dict[str, Ridden], name: str):
        """Against one power of the same mean over time, x1.1 and x0.9 save less than 0.6 of it."""
        base = roads[name]
        plan = at_two(base, 1.1 * self.POWER, 0.9 * self.POWER)
        fair = constant_within(base, power_mean(plan.mean(), 1.0))
        assert fair.mean() == pytest.approx(plan.mean(), rel=1e-5)
        assert 0.0 < (fair.time - plan.time) / LONG < 0.6 * saved(base, plan)

    @pytest.mark.parametrize("name", EXPECTED)
    def test_the_best_is_at_least_as_good(self, roads: dict[str, Ridden], name: str):
        """Swain DP. Med Sci Sports Exerc 1997;29:1104-1108, as reported in a secondary page:
        harder uphill and into the wind, easier down and before it."""
        base = roads[name]
        limit = power_mean(self.POWER, 1.0, 0.0, 600.0)
        best = best_levels(base, in_halves(base), limit, np.array([300.0, 270.0]))
        levels, plan = best.levels, best.plan
        assert levels[0] > self.POWER > levels[1]
        assert saved(base, plan) > self.EXPECTED[name][2]
        assert plan.mean() <= self.POWER * (1 + 1e-9)


class TestTenMilesInWind:
    """Out and back in 3.5 m/s, 4th-power mean at most 264 W (independent calculation)."""

    @pytest.fixture(scope="class")
    @staticmethod
    def base() -> Ridden:
        return ride(
            reference_race(course=out_and_back(LONG * TEN_MILES), air=windy_air(3.5, density=1.225))
        )

    def test_out_harder_than_back(self, base: Ridden):
        plan = at_two(base, 277.0, 241.0)
        assert base.time / LONG == pytest.approx(1456.6, abs=0.2)
        assert plan.time / LONG == pytest.approx(1451.3, abs=0.2)
        assert saved(base, plan) == pytest.approx(5.3, abs=0.5)
        assert plan.mean() == pytest.approx(262.0, abs=0.2)
        assert plan.mean(4.0) == pytest.approx(263.8, abs=0.1)
        assert plan.distance_mean() == pytest.approx(259.0, abs=0.01)

    def test_half_of_it_is_had_early(self, base: Ridden):
        """268 W out and 253 W back, which keep the mean over time, give 2.4 s already."""
        back = brentq(lambda watts: at_two(base, 268.0, watts).mean() - 262.0, 240.0, 262.0)
        assert back == pytest.approx(253.0, abs=0.5)
        assert saved(base, at_two(base, 268.0, back)) == pytest.approx(2.4, abs=0.05)

    def test_the_best_two_sections_gain_at_least_that(self, base: Ridden):
        limit = power_mean(264.0, 4.0, 0.0, 400.0)
        best = best_levels(base, in_halves(base), limit, np.array([262.0, 262.0]))
        levels, plan = best.levels, best.plan
        assert limit.means[0].held(plan) <= 264.0
        assert levels[0] > levels[1] + 20.0
        assert saved(base, plan) >= saved(base, at_two(base, 277.0, 241.0))

    def test_both_means_at_once(self, base: Ridden):
        """A mean of 262 W and a 4th-power mean of 264 W: 277 W out, 241 W back, 5.3 s gained."""
        limit = Limits((PowerMean(264.0), PowerMean(262.0, 1.0)), most=400.0)
        best = best_levels(base, in_halves(base), limit, np.array([262.0, 262.0]))
        levels, plan = best.levels, best.plan
        assert levels == pytest.approx([277.0, 241.0], abs=1.5)
        assert plan.mean() == pytest.approx(262.0, abs=0.2)
        assert plan.mean(4.0) == pytest.approx(264.0, abs=0.2)
        even = constant_within(base, limit)
        assert even.power[0] == pytest.approx(262.0, abs=0.01)
        assert (even.time - plan.time) / LONG == pytest.approx(5.3, abs=0.5)

    def test_a_card_of_two(self):
        """Ten miles as they are: the turn costs a little, whole steps of 5 W a little more."""
        built = reference_race(course=out_and_back(TEN_MILES), air=windy_air(3.5, density=1.225))
        base = ride(built)
        found = card_within(base, power_mean(264.0, 4.0, 0.0, 396.0), 2)
        out, back = found.card.targets
        assert out.to_m == pytest.approx(0.5 * TEN_MILES, abs=250.0)
        assert out.power_w > 265.0
        assert back.power_w < 255.0
        assert base.time - found.card.time_s > 4.8
        assert found.card.power_mean_w <= 264.0
        # A watt into the wind, where more time is spent, is worth more.
        assert out.seconds_per_watt > back.seconds_per_watt > 0


class TestHillClimb:
    """4.2 km at 7.1 %: 282 W critical power and 17 kJ above it let 301 W be held and not 302.

    Independent calculation: 875.8 s at 300 W, 16.6 kJ used at 301 W and 17.4 kJ at 302 W.
    """

    LIMIT = critical(282.0, 17e3, 0.0, 450.0)

    @pytest.fixture(scope="class")
    @staticmethod
    def base() -> Ridden:
        built: Race = race(
            power=300.0,
            rider_mass=68.0,
            mass=8.5,
            cda=0.33,
            crr=0.0045,
            air=still_air(1.15),
            course=graded_course((4200.0, 0.071)),
        )
        settled = ride(replace(built, course=graded_course((2000.0, 0.071)))).solution.speed[-1]
        return ride(replace(built, bike=replace(built.bike, start_speed=float(settled))))

    @pytest.mark.parametrize(("power", "used"), [(300.0, 15.8e3), (301.0, 16.6e3), (302.0, 17.4e3)])
    def test_what_is_used(self, base: Ridden, power: float, used: float):
        plan = ridden_at(base, np.full(len(base.solution.ride.step), power))
        assert 17e3 - self.LIMIT.above.reserve(plan)[-1] == pytest.approx(used, abs=50.0)
        assert np.all(self.LIMIT.room(plan) >= 0.0) == (power < 302.0)

    def test_the_highest_constant_power(self, base: Ridden):
        assert base.time == pytest.approx(875.8, abs=0.5)
        plan = constant_within(base, self.LIMIT)
        assert 301.0 < plan.power[0] < 302.0
        # It empties the reserve at the finish and not before.
        assert 0.0 <= self.LIMIT.above.reserve(plan)[-1] < 20.0

    def test_whole_steps_cost_what_they_must(self, base: Ridden):
        """Little is to gain on one slope; 300 W would cost 0.3 %, and whole watts at most 0.2 %."""
        found = card_within(base, self.LIMIT, 8)
        assert found.effort >= 0.0
        assert {one.power_w % 1.0 for one in found.card.targets} == {0.0}
        assert found.card.time_s < 1.002 * found.ideal.time
        assert found.card.constant_power_time_s - 2.0 < found.ideal.time
        assert found.ideal.time <= found.card.constant_power_time_s


def test_a_long_course_is_ridden_like_its_ideal():
    """The ideal of all steps and the best two sections agree where both halves are even."""
    base = ride(
        reference_race(
            course=out_and_back(LONG * TEN_MILES), air=windy_air(3.5, density=1.225), step=50.0
        )
    )
    limit = power_mean(264.0, 4.0, 0.0, 400.0)
    two = best_levels(base, in_halves(base), limit, np.array([275.0, 245.0])).plan
    best = ideal_plan(base, limit)
    assert best.time <= two.time
    assert two.time - best.time < 0.1 * LONG
