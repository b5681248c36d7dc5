"""The quickest power: an independent optimum, conditions of optimality, known facts, limits."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import Cap, Limits, PowerMean, asked_limit
from racecalc.decisions.pacing.optimal import constant_within, ideal_plan, ideal_within
from racecalc.decisions.pacing.plans import PacingPlan, ridden_at
from racecalc.decisions.riding import Ridden, ride
from racecalc.domain.loading import load_race
from racecalc.domain.pacing import STEEP
from racecalc.domain.race import SpeedLimits
from racecalc.errors import InputError
from racecalc.motion import optimum as seeking
from racecalc.motion.optimum import INSIDE, Optimum, PowerBounds, optimum
from racecalc.motion.ride import Ride
from racecalc.motion.solver import solve
from tests.builders import flat_course, graded_course, race, steady_start, windy_air
from tests.motion.extremes import extreme, square_wave
from tests.pacing.making import critical, power_mean

pytestmark = pytest.mark.xdist_group(__name__)
"""What the tests share is worked out once."""

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
LEVEL, ORDER, MOST = 262.0, 4.0, 393.0
"""Power of the rider of the demo, the usual order, and one and a half times that power [W]."""


@dataclass(frozen=True)
class Sought:
    """The optimum itself, before it is ridden once more and brought to the limit."""

    ride: Ride
    wanted: PowerBounds
    guess: FloatArray
    found: Optimum

    @property
    def time(self) -> float:
        speed = self.found.speed
        return float(np.sum(2.0 * self.ride.step / (speed[1:] + speed[:-1])))


def sought(base: Ridden, limit: Limits) -> Sought:
    road, efficiency = base.solution.ride, base.race.bike.efficiency
    each, mean = np.ones(len(road.step)), limit.means[0]
    wanted = PowerBounds(mean.level * each, mean.order, limit.least, limit.most, efficiency)
    gentle = 0.9 * mean.level * efficiency * each
    guess = solve(replace(road, ceiling=INSIDE * road.ceiling, wheel_power=gentle)).speed
    return Sought(road, wanted, guess, optimum(road, wanted, guess))


def best(base: Ridden, limit: Limits) -> PacingPlan:
    """The quickest ride within a limit, of sections within a plain mean."""
    return ideal_within(base, limit, constant_within(base, limit))


@pytest.fixture(scope="module", params=["21 km", pytest.param("0 km", marks=pytest.mark.slow)])
def demo(request: pytest.FixtureRequest) -> Ridden:
    """The first 15 km, with the turn; all of it in the slow run."""
    text = re.sub(r"(?s)\[\[course\.landmark\]\].*?(?=\n\[)", "", DEMO.read_text("utf-8"))
    return ride(load_race(DEMO, [f"course.trim_end={request.param}", "course.step=15 m"], text))


@pytest.fixture(scope="module")
def demo_optimum(demo: Ridden) -> Sought:
    return sought(demo, power_mean(LEVEL, ORDER, 0.0, MOST))


@pytest.fixture(scope="module")
def hills() -> Ridden:
    """Climbs, descents, bends and wind on 6 km, a few hundred steps."""
    course = graded_course(
        (1200.0, 0.0),
        (900.0, 0.05),
        (800.0, -0.04),
        (1200.0, 0.015),
        (1000.0, -0.06),
        (900.0, 0.0),
        bearing=np.radians([0.0, 40.0, 80.0, 170.0, 200.0, 270.0]),
        bend_radius=[np.inf, 60.0, 30.0, np.inf, np.inf, 15.0, np.inf],
    )
    limits = SpeedLimits(max_speed=17.0, lateral_grip=0.4, braking=2.0)
    return ride(
        race(course=course, air=windy_air(3.0, 20.0), limits=limits, start_speed=0.0, step=13.0)
    )


def held_exactly(base: Ridden, shape: FloatArray, limit: Limits, near: PacingPlan) -> PacingPlan:
    """The shape of power on the level of the limit to rounding."""
    plan = ridden_at(base, shape, near)
    for _ in range(12):
        share = limit.means[0].held(plan) / limit.means[0].level
        plan = ridden_at(base, plan.power / share, plan)
    assert limit.means[0].held(plan) == pytest.approx(limit.means[0].level, rel=1e-9)
    return plan


@pytest.fixture(scope="module")
def other(demo_optimum: Sought):
    pytest.importorskip("casadi")
    from tests.pacing.nonlinear_program import quickest

    found = quickest(demo_optimum.ride, demo_optimum.wanted, demo_optimum.guess)
    assert found.status == "Solve_Succeeded"
    return found


class TestAgainstAnotherOptimum:
    """CasADi with IPOPT on a formulation of its own, on the whole course of the demo."""

    def test_the_same_time(self, demo_optimum: Sought, other):
        assert demo_optimum.found.converged
        # Asked for is 1e-4; found were 4e-9.
        assert demo_optimum.time == pytest.approx(other.time, rel=1e-6)

    def test_the_same_powers(self, demo_optimum: Sought, other):
        """But where a ceiling decides or nothing is pedalled by either: 59 s of an hour.

        There the brakes or the ceiling take what the pedals do not give.
        """
        speed, power = demo_optimum.found.speed, demo_optimum.found.power
        ceiling = 0.999 * demo_optimum.ride.ceiling[1:]
        held_back = (speed[1:] > ceiling) | (other.speed[1:] > ceiling)
        coasting = (power < 5.0) | (other.power < 5.0)
        free = ~held_back & ~coasting
        step_time = demo_optimum.ride.step / (0.5 * (speed[1:] + speed[:-1]))
        assert np.sum(step_time[~free]) < 0.02 * other.time
        assert np.max(np.abs(power - other.power)[free]) < 1.0
        assert np.max(np.abs(speed - other.speed)) < 0.01

    def test_nobody_pedals_against_the_brakes(self, other):
        """Or the other optimum were none."""
        assert np.max(np.minimum(other.power, other.brake * other.speed[1:])) < 5.0


@pytest.mark.parametrize(("number", "order"), [(0, 4.0), (9, 2.0), (14, 8.0), (24, 4.0)])
def test_another_optimum_on_hard_courses(number: int, order: float):
    """Grades to 18 %, ceilings and bounds that bind: the same time again."""
    pytest.importorskip("casadi")
    from tests.pacing.nonlinear_program import quickest

    base = ride(extreme(number))
    power = base.race.rider.power
    ours = sought(base, power_mean(power, order, 0.0, 1.5 * power))
    other = quickest(ours.ride, ours.wanted, ours.guess)
    assert (other.status, ours.found.converged) == ("Solve_Succeeded", True)
    assert ours.time == pytest.approx(other.time, rel=1e-6)


def sought_within(base: Ridden, limit: Limits) -> Sought:
    """The optimum under several means, with less allowed on parts of the course."""
    road, efficiency = base.solution.ride, base.race.bike.efficiency
    each, highest = np.ones(len(road.step)), limit.highest(base)
    levels = np.array([mean.level * each for mean in limit.means])
    orders = np.array([mean.order for mean in limit.means])
    gentle = 0.9 * np.minimum(levels.min(axis=0), highest) * efficiency
    guess = solve(replace(road, ceiling=INSIDE * road.ceiling, wheel_power=gentle)).speed
    wanted = PowerBounds(levels, orders, limit.least, highest, efficiency)
    return Sought(road, wanted, guess, optimum(road, wanted, guess))


TWO_MEANS = Limits(
    (PowerMean(255.0), PowerMean(233.0, 1.0)),
    caps=(Cap(265.0, "climbs", grade=STEEP), Cap(235.0, "3.2 km to 4 km", 3200.0, 4000.0)),
    most=400.0,
)


class TestSeveralLimits:
    """Two means that both are used up, a cap on what is steep and one on a stretch."""

    @pytest.fixture(
        scope="class",
        params=[
            "hills",
            *(pytest.param(name, marks=pytest.mark.slow) for name in ("demo", "extreme")),
        ],
    )
    @staticmethod
    def bound(request: pytest.FixtureRequest, hills: Ridden) -> tuple[Ridden, Limits]:
        if request.param == "hills":
            return hills, TWO_MEANS
        if request.param == "demo":
            means = (PowerMean(264.0), PowerMean(253.0, 1.0))
            caps = (Cap(300.0, "climbs", grade=STEEP), Cap(240.0, "8 to 11 km", 8e3, 11e3))
            return ride(load_race(DEMO)), Limits(means, None, caps, most=MOST)
        base = ride(extreme(9))
        power = base.race.rider.power
        means = tuple(PowerMean(share * power, order) for share, order in ((1.03, 4.0), (0.9, 1.0)))
        return base, Limits(
            means, None, (Cap(1.1 * power, "climbs", grade=STEEP),), most=1.5 * power
        )

    @pytest.fixture(scope="class")
    @staticmethod
    def found(bound: tuple[Ridden, Limits]) -> Sought:
        return sought_within(*bound)

    def test_against_an_interior_point(self, found: Sought):
        """CasADi with IPOPT on a formulation of its own: the same time and the same powers."""
        pytest.importorskip("casadi")
        from tests.pacing.nonlinear_program import quickest

        other = quickest(found.ride, found.wanted, found.guess)
        assert (other.status, found.found.converged) == ("Solve_Succeeded", True)
        # Found were 1.3e-6 at most: barriers leave a little of each mean.
        assert found.time == pytest.approx(other.time, rel=5e-6)
        held_back = found.found.speed[1:] > 0.999 * found.ride.ceiling[1:]
        free = ~held_back & (found.found.power > 5.0) & (other.power > 5.0)
        assert np.quantile(np.abs(found.found.power - other.power)[free], 0.99) < 1.0

    def test_conditions_of_optimality(self, bound: tuple[Ridden, Limits], found: Sought):
        """With the adjoint: sum of m n P^(n - 1) = -a / dt where nothing else binds.

        J sums w dt with w = 1 + sum of m (P^n - L^n), the powers held, and a = dJ/dP.
        """
        base, limit = bound
        plan = ridden_at(base, found.found.power)
        prices = found.found.prices
        assert np.all(prices > 0.0)
        parts = list(zip(prices, limit.means, strict=True))
        for _, mean in parts:
            assert mean.held(plan) == pytest.approx(mean.level, rel=1e-4)
        weights = 1.0 + sum(m * ((plan.power / one.level) ** one.order - 1.0) for m, one in parts)
        slope = plan.by_power(weights) / plan.step_time
        asked = sum(
            m * one.order / one.level * (plan.power / one.level) ** (one.order - 1.0)
            for m, one in parts
        )
        solution, highest = plan.ridden.solution, limit.highest(base)
        held_back = solution.at_ceiling | (solution.speed[1:] > 0.999 * solution.ride.ceiling[1:])
        free = ~held_back & (plan.power > 20.0) & (plan.power < 0.995 * highest)
        off = np.abs(asked[free] / -slope[free] - 1.0)
        assert np.quantile(off, 0.97) < 2e-3
        # Where a cap binds a watt more would be worth it.
        capped = ~held_back & (plan.power > 0.9999 * highest)
        assert np.sum(capped) > 10
        assert np.all((asked + slope)[capped] < 1e-6)

    def test_the_ideal_holds_all_of_them(self, bound: tuple[Ridden, Limits], found: Sought):
        base, limit = bound
        plan = ideal_plan(base, limit)
        assert np.all(limit.room(plan) >= 0.0)
        assert np.all(plan.power <= limit.highest(base) + 1e-6)
        assert found.time - 1e-6 < plan.time < found.time + 0.1


def test_one_mean_that_does_not_bind_changes_nothing(hills: Ridden):
    alone = power_mean(250.0, 4.0, 0.0, 400.0)
    both = replace(alone, means=(*alone.means, PowerMean(260.0, 1.0)))
    assert ideal_plan(hills, both).time == ideal_plan(hills, alone).time


class TestRiddenOnceMore:
    """The powers alone, given to the solver of every other answer."""

    def test_time_and_limit(self, demo: Ridden, demo_optimum: Sought):
        plan = ridden_at(demo, demo_optimum.found.power)
        assert plan.time == pytest.approx(demo_optimum.time, rel=1e-6)
        assert PowerMean(LEVEL, ORDER).held(plan) == pytest.approx(LEVEL, rel=1e-6)

    def test_the_ideal_gives_little_of_it_away(self, demo: Ridden, demo_optimum: Sought):
        limit = power_mean(LEVEL, ORDER, 0.0, MOST)
        plan = ideal_plan(demo, limit)
        assert 0.9999 * LEVEL < limit.means[0].held(plan) <= LEVEL * (1.0 + 1e-12)
        assert demo_optimum.time - 1e-6 < plan.time < demo_optimum.time + 0.05

    def test_newton_needs_few_steps(self, demo_optimum: Sought, monkeypatch: pytest.MonkeyPatch):
        """Wrong second derivatives would still lead there, only slowly; 58 were counted."""
        taken, step = [], seeking._Problem.newton
        monkeypatch.setattr(
            seeking._Problem, "newton", lambda *given: taken.append(1) or step(*given)
        )
        optimum(demo_optimum.ride, demo_optimum.wanted, demo_optimum.guess)
        assert 20 < len(taken) < 120


class TestConditionsOfOptimality:
    """Checked with the adjoint and the solver of `motion`, which the optimum does not use."""

    @pytest.mark.parametrize("order", [2.0, 4.0])
    def test_a_watt_costs_as_much_everywhere(self, demo: Ridden, order: float):
        """Seconds for a unit of the limit are the same on every free step."""
        limit = power_mean(LEVEL, order, 0.0, MOST)
        plan = ridden_at(demo, sought(demo, limit).found.power)
        by_time = plan.by_power(np.ones_like(plan.power))
        (by_room,) = limit.slopes(plan)
        road, ridden = plan.ridden.solution.ride, plan.ridden.solution
        held_back = ridden.at_ceiling | (ridden.speed[1:] > 0.999 * road.ceiling[1:])
        free = (plan.power > 20.0) & (plan.power < 0.99 * MOST) & ~held_back
        price = by_time[free] / by_room[free]
        assert np.mean(free) > 0.85
        off = np.abs(price / np.median(price) - 1.0)
        # One step, in which braking for a bend begins, belongs to both sides.
        assert np.sum(off > 1e-3) <= 2
        assert np.quantile(off, 0.99) < 1e-4

    @pytest.mark.parametrize("size", [0.003, 0.05])
    def test_no_smooth_change_is_quicker(self, demo: Ridden, demo_optimum: Sought, size: float):
        """50 random smooth changes of the power, each brought back to the same mean."""
        limit = power_mean(LEVEL, ORDER, 0.0, MOST)
        best = held_exactly(
            demo,
            demo_optimum.found.power,
            limit,
            ridden_at(demo, LEVEL + 0 * demo_optimum.found.power),
        )
        chance = np.random.default_rng(7)
        along = best.nodes[1:] / best.nodes[-1]
        waves = np.array([np.cos(np.pi * number * along) for number in range(1, 40)])
        lost = []
        for _ in range(25):
            change = chance.normal(size=len(waves)) @ waves
            change *= size / np.std(change)
            for factor in (1.0 + change, 1.0 - change):
                lost.append(held_exactly(demo, best.power * factor, limit, best).time - best.time)
        assert min(lost) > -1e-5
        # And the changes are large enough to be felt.
        assert np.median(lost) > (1e-3 if size < 0.01 else 0.3)


class TestKnownFacts:
    @pytest.mark.parametrize("order", [2.0, 4.0])
    @pytest.mark.parametrize(
        ("course", "start"),
        [(flat_course(16_000.0), None), (graded_course((8000.0, 0.05)), 4.75)],
        ids=["flat", "climb"],
    )
    def test_one_power_on_an_even_road(self, course, start: float | None, order: float):
        """Nothing changes along the road, so nothing does in the power but at its ends."""
        built = race(course=course)
        built = steady_start(built) if start is None else steady_start_at(built, start)
        plan = best(ride(built), power_mean(250.0, order, 0.0, 500.0))
        middle = (plan.nodes[1:] > 1500.0) & (plan.nodes[1:] < plan.nodes[-1] - 1500.0)
        assert np.ptp(plan.power[middle]) < 0.5
        # At the end way is used up that nobody needs any more.
        assert plan.power[-1] < 0.6 * np.mean(plan.power[middle])
        assert 250.0 < np.mean(plan.power[middle]) < 254.0

    def test_a_plain_mean_evens_the_ground_speed(self):
        """Up and down of equal length, neither the most nor the least power binding.

        Bos L, Slawinski MA, Slawinski RA, Stanoev T. arXiv:2403.03363, abstract (read): for a
        mean power, ground speed that stays the same is the quickest whatever the slope.
        """
        course = graded_course((6000.0, 0.008), (6000.0, -0.008))
        base = ride(steady_start(race(course=course)))
        plan = best(base, power_mean(250.0, 1.0, 0.0, 500.0))
        up, down = np.interp([3000.0, 9000.0], plan.nodes, plan.ridden.solution.speed)
        assert up == pytest.approx(down, rel=0.01)
        inner = (plan.nodes[1:] > 500.0) & (plan.nodes[1:] < 11_000.0)
        assert plan.power[inner].min() > 100.0
        assert plan.power[inner].max() < 400.0
        # At constant power it is far from even.
        even = constant_within(base, power_mean(250.0, 1.0, 0.0, 500.0)).ridden.solution
        slow, fast = np.interp([3000.0, 9000.0], plan.nodes, even.speed)
        assert fast > 1.2 * slow

    def test_effort_stays_the_same_share_of_what_fades(self):
        """On an even road with v ~ p^a, p / level has one value along the way.

        Minimising the integral of (1 + m ((p / L)^n - 1)) / v over distance gives
        (p / L)^n (n - a) m = a (1 - m): worked out here. On a real road a changes slightly.
        """
        limit = power_mean(250.0, ORDER, 0.0, 500.0, fade=0.1)
        plan = best(ride(steady_start(race(course=flat_course(30_000.0)))), limit)
        share = plan.power / limit.means[0].levels(plan)
        middle = (plan.nodes[1:] > 1000.0) & (plan.nodes[1:] < 28_000.0)
        assert np.ptp(share[middle]) < 0.003
        assert plan.power[middle][-1] < 0.94 * plan.power[middle][0]
        assert limit.means[0].held(plan) == pytest.approx(250.0, rel=2e-4)

    @pytest.mark.parametrize("order", [1.0, ORDER])
    def test_fade_is_counted_by_the_hour(self, order: float):
        """One power all along, by hand: the mean over T hours of (p / (1 - f t))^n, in closed form.

        Its n-th root, with x = 1 - f T: -p ln(x) / (f T) for the plain mean, and else
        p ((x^(1 - n) - 1) / ((n - 1) f T))^(1/n).
        """
        plan = ridden_evenly(240.0, 50_000.0)
        limit = power_mean(250.0, order, 0.0, 500.0, fade=0.1)
        lost = 0.1 * plan.time / 3600.0
        mean = (
            -np.log1p(-lost) / lost
            if order == 1.0
            else (((1 - lost) ** (1 - order) - 1) / ((order - 1) * lost)) ** (1 / order)
        )
        assert plan.time > 1.2 * 3600.0
        assert limit.means[0].levels(plan)[[0, -1]] == pytest.approx(
            [250.0, 250.0 * (1 - lost)], rel=1e-3
        )
        assert limit.means[0].held(plan) == pytest.approx(240.0 * mean, rel=1e-5)

    def test_a_fade_that_leaves_no_power_is_refused(self):
        """All is lost where the share an hour times the hours comes to one."""
        base = ride(steady_start(race(course=flat_course(50_000.0), step=500.0)))
        all_of_it = 3600.0 / base.time

        def fading(share: float) -> Ridden:
            rider = replace(base.race.rider, power_fade=share * all_of_it)
            return replace(base, race=replace(base.race, rider=rider))

        held = asked_limit(fading(0.99), "mean").limit.means[0]
        assert held.fade == pytest.approx(0.99 * all_of_it)
        with pytest.raises(InputError, match="per hour leaves no power before the finish"):
            asked_limit(fading(1.01), "mean")

    def test_harder_into_the_wind_and_uphill(self, hills: Ridden):
        """Swain DP. Med Sci Sports Exerc 1997;29:1104-1108, as reported in a secondary page."""
        plan = best(hills, power_mean(250.0, ORDER, 0.0, 400.0))
        where = plan.nodes[1:]
        climb = np.mean(plan.power[(where > 1200.0) & (where < 2100.0)])
        descent = np.mean(plan.power[(where > 4100.0) & (where < 5100.0)])
        assert climb > 1.1 * 250.0 > 1.4 * descent


def ridden_evenly(power: float, length: float) -> PacingPlan:
    base = ride(steady_start(race(course=flat_course(length), step=200.0)))
    return ridden_at(base, np.full(len(base.solution.ride.middle), power))


def steady_start_at(built, speed: float):
    return replace(built, bike=replace(built.bike, start_speed=speed))


ORDERS = (1.0, 1.5, 2.0, 4.0, 8.0)


class TestOrdersAndLevels:
    def test_gains_and_variation_fall_with_the_order(self, hills: Ridden):
        gains, spreads = [], []
        for order in ORDERS:
            limit = power_mean(250.0, order, 0.0, 600.0)
            plan, even = best(hills, limit), constant_within(hills, limit)
            free = ~plan.ridden.solution.at_ceiling & (plan.nodes[1:] < 5500.0)
            gains.append(even.time - plan.time)
            spreads.append(float(np.std(plan.pedalled[free])))
        assert min(gains) > 0.5
        assert gains == sorted(gains, reverse=True)
        assert spreads == sorted(spreads, reverse=True)

    @pytest.mark.parametrize("order", [1.0, 4.0])
    def test_more_power_is_never_slower(self, hills: Ridden, order: float):
        times = [
            best(hills, power_mean(level, order, 0.0, 600.0)).time
            for level in np.linspace(120.0, 420.0, 4)
        ]
        assert all(later < earlier for earlier, later in pairwise(times))

    @pytest.mark.parametrize("order", ORDERS)
    def test_nothing_to_gain_is_nothing_lost(self, order: float):
        """In still air on the flat the end alone gives something."""
        base = ride(steady_start(race(course=flat_course(3000.0))))
        limit = power_mean(250.0, order, 0.0, 251.0)
        assert best(base, limit).time <= constant_within(base, limit).time + 1e-3


class TestBounds:
    @pytest.mark.parametrize("order", [1.0, 4.0])
    @pytest.mark.parametrize(
        ("least", "most"),
        [(0.0, 290.0), (180.0, 400.0), pytest.param(240.0, 260.0, marks=pytest.mark.slow)],
    )
    def test_least_and_most_are_kept(self, hills: Ridden, order: float, least: float, most: float):
        limit = power_mean(250.0, order, least, most)
        plan = best(hills, limit)
        assert plan.power.min() >= least - 1e-6
        assert plan.power.max() <= most + 1e-6
        reached = min(250.0, limit.means[0].held(constant_within(hills, limit)))
        assert 0.999 * reached < limit.means[0].held(plan) <= 250.0 * (1.0 + 1e-9)

    def test_a_limit_out_of_reach(self, hills: Ridden):
        """Bends make the rider coast so long that the most power does not come to the mean."""
        limit = power_mean(250.0, 1.0, 240.0, 260.0)
        plan = best(hills, limit)
        assert limit.means[0].held(plan) < 249.0
        assert plan.power == pytest.approx(260.0)

    def test_the_bounds_bind_here(self, hills: Ridden):
        plan = best(hills, power_mean(250.0, 1.0, 180.0, 290.0))
        assert np.mean(plan.power > 289.0) > 0.1
        assert np.mean(plan.power < 181.0) > 0.04

    def test_a_start_from_rest(self):
        base = ride(race(course=flat_course(2000.0), start_speed=0.0))
        limit = power_mean(250.0, 1.2, 0.0, 400.0)
        plan = best(base, limit)
        assert plan.power.max() <= 400.0 + 1e-6
        # Away from the line by a few metres everything there is goes in.
        assert plan.power[plan.nodes[1:] < 20.0].min() > 350.0
        assert plan.time < constant_within(base, limit).time - 1.0

    @pytest.mark.parametrize(
        ("level", "least", "most"), [(250.0, 0.0, 240.0), (250.0, 260.0, 400.0)]
    )
    def test_nothing_to_choose(self, hills: Ridden, level: float, least: float, most: float):
        with pytest.raises(InputError, match="does not lie between the least"):
            best(hills, power_mean(level, ORDER, least, most))


HARD: dict[str, Callable[[], Ridden]] = {
    **{f"extreme {number}": (lambda n=number: ride(extreme(n))) for number in range(0, 60, 3)},
    **{f"extreme {number}": (lambda n=number: ride(extreme(n))) for number in (40, 41, 48)},
    "ramps of 17 %": lambda: ride(square_wave(200.0)),
    "strong tail wind": lambda: ride(
        race(course=flat_course(3000.0, bearing=0.0), air=windy_air(20.0, 180.0))
    ),
    "strong head wind": lambda: ride(
        race(course=flat_course(3000.0, bearing=0.0), air=windy_air(14.0, 0.0))
    ),
    "tight bends": lambda: ride(
        race(
            course=graded_course(
                *[(100.0, 0.02), (100.0, -0.02)] * 8, bend_radius=[np.inf, *[6.0] * 15, np.inf]
            ),
            limits=SpeedLimits(lateral_grip=0.4, braking=2.0),
        )
    ),
}


@pytest.mark.parametrize("course", HARD)
def test_hard_courses_hold_the_limit_and_lose_nothing(course: str):
    """Converged or not: the powers hold the limit when they are ridden."""
    base = HARD[course]()
    power = base.race.rider.power
    limit = power_mean(power, ORDER, 0.0, 1.5 * power)
    plan = best(base, limit)
    assert limit.means[0].held(plan) <= power * (1.0 + 1e-9)
    assert plan.power.max() <= 1.5 * power * (1.0 + 1e-9)
    even = constant_within(base, limit)
    assert plan.time <= even.time + 1e-3


class TestSlopesOfLimits:
    """Against central differences of the room, every tenth step and a smooth change of all."""

    LIMITS: ClassVar = {
        "mean": power_mean(250.0, 1.0),
        "4th-power mean": power_mean(250.0, 4.0),
        "fading": power_mean(250.0, 4.0, fade=0.5),
        "critical power": critical(240.0, 8e3).checked(np.array([1000.0, 2500.0, 4000.0])),
        "no refill": critical(240.0, 8e3, refill=0.0).checked(np.array([2500.0])),
    }

    @pytest.mark.parametrize("name", LIMITS)
    def test_against_differences(self, hills: Ridden, name: str):
        limit: Limits = self.LIMITS[name]
        where = hills.solution.ride.middle
        # Off the kink at critical power.
        plan = ridden_at(hills, 250.0 + 40.0 * np.sin(where / 500.0) + 1.0)
        slopes = limit.slopes(plan)
        assert slopes.shape == (len(limit.room(plan)), len(where))
        rows = np.eye(len(where))[::10]
        size = np.abs(slopes).max(axis=1)
        for change in (*rows, np.cos(where / 700.0)):
            above, below = (
                limit.room(ridden_at(hills, plan.power + step * change, plan))
                for step in (0.05, -0.05)
            )
            off = np.abs(slopes @ change - (above - below) / 0.1)
            assert np.all(off <= 1e-5 * size * np.sqrt(np.sum(change**2)))
