"""Cards: the cut against all cuts, whole steps, the limit by another integration, goals."""

from dataclasses import replace
from itertools import combinations, pairwise, product
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import norm

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing import levels as levelling
from racecalc.decisions.pacing import making
from racecalc.decisions.pacing import optimal as cutting
from racecalc.decisions.pacing.card import Pacing, other_winds
from racecalc.decisions.pacing.levels import (
    MOST_LOST,
    RiddenSections,
    best_levels,
    rounded_levels,
    sections_at,
)
from racecalc.decisions.pacing.limits import Cap, Limits, PowerMean
from racecalc.decisions.pacing.making import SHORTEST
from racecalc.decisions.pacing.optimal import constant_within, cut, ideal_plan
from racecalc.decisions.pacing.plans import PacingPlan, Sections, coarser, ridden_at
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import pedalled
from racecalc.domain.loading import load_race
from racecalc.domain.pacing import STEEP
from racecalc.domain.race import SpeedLimits
from racecalc.errors import InputError
from racecalc.motion.optimum import PowerBounds
from tests.builders import BEARINGS, flat_course, graded_course, race, steady_start, windy_air
from tests.motion.by_hand import resisting_force
from tests.pacing.making import card_within, critical, power_mean

pytestmark = pytest.mark.xdist_group(__name__)
"""What the tests share is worked out once."""

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"

PIECES = (
    (1100.0, 0.0),
    (900.0, 0.045),
    (700.0, -0.03),
    (1300.0, 0.02),
    (800.0, 0.06),
    (1200.0, -0.02),
    (1000.0, 0.0),
)
"""A hilly road of 7 km on which nobody needs to brake."""

MEAN = power_mean(250.0, 4.0, 0.0, 375.0)
CRITICAL = critical(240.0, 12e3, 0.0, 375.0)
LIMITS: dict[str, Limits] = {
    "4th-power mean": MEAN,
    "plain mean": power_mean(250.0, 1.0, 0.0, 375.0),
    "fading": power_mean(250.0, 4.0, 0.0, 375.0, fade=0.1),
    "critical power": CRITICAL,
    "no refill": critical(240.0, 12e3, 0.0, 375.0, refill=0.0),
    "both": replace(CRITICAL, means=(PowerMean(246.0),)),
}


@pytest.fixture(scope="module")
def hills() -> Ridden:
    bearing = np.radians([0.0, 30.0, 80.0, 170.0, 200.0, 270.0, 330.0])
    course = graded_course(*PIECES, bearing=bearing)
    return ride(race(course=course, air=windy_air(2.0, 20.0), start_speed=8.0, step=35.0))


@pytest.fixture(scope="module")
def still_hills() -> Ridden:
    return ride(race(course=graded_course(*PIECES), start_speed=8.0, step=35.0))


@pytest.fixture(scope="module")
def ideal(hills: Ridden) -> PacingPlan:
    return ideal_plan(hills, MEAN)


@pytest.fixture(scope="module")
def cards(hills: Ridden) -> dict[str, Pacing]:
    return {name: card_within(hills, limit, 6) for name, limit in LIMITS.items()}


def second_order_loss(plan: PacingPlan, edges: tuple[int, ...], order: float) -> float:
    """Seconds lost by one power a section, the same loss written once more step by step.

    To second order the Lagrangian changes by n (n - 1) / 2 of its price times the squared change
    of the power relative to the level, and the price is the worth of a watt all along.
    """
    level = plan.mean(order)
    watt = -float(np.sum(plan.by_power(np.ones_like(plan.power)))) / plan.time
    share = np.maximum(plan.power / level, 0.1)
    weight = 0.5 * (order - 1.0) * watt / level * plan.step_time * share ** (order - 2.0)
    lost = 0.0
    for start, end in pairwise(edges):
        power, heavy = plan.power[start:end], weight[start:end]
        lost += float(np.sum(heavy * (power - np.average(power, weights=heavy)) ** 2))
    return lost


class TestCut:
    @pytest.mark.parametrize("most", [1, 2, 3, 4])
    @pytest.mark.parametrize("shortest", [0.0, 1500.0])
    def test_against_all_cuts(
        self, ideal: PacingPlan, monkeypatch: pytest.MonkeyPatch, most: int, shortest: float
    ):
        monkeypatch.setattr(cutting, "PLACES", 12)
        monkeypatch.setattr(cutting, "SPARED", 0.0)
        places = np.searchsorted(ideal.nodes, np.linspace(0.0, ideal.nodes[-1], 13)[:-1]).tolist()
        last = len(ideal.nodes) - 1
        tried = {
            (0, *inner, last): second_order_loss(ideal, (0, *inner, last), 4.0)
            for count in range(most)
            for inner in combinations(places[1:], count)
            if np.min(np.diff(ideal.nodes[[0, *inner, last]])) >= shortest
        }
        best = min(tried, key=lambda edges: tried[edges])
        found = cut(ideal, most, shortest, 4.0)
        assert tried[tuple(found.edges.tolist())] == pytest.approx(tried[best], rel=1e-9)
        assert found.count == len(best) - 1

    @pytest.mark.parametrize("order", [1.0, 4.0])
    @pytest.mark.parametrize(("most", "shortest"), [(1, 0.0), (5, 500.0), (20, 900.0), (40, 0.0)])
    def test_never_more_and_never_shorter(
        self, ideal: PacingPlan, order: float, most: int, shortest: float
    ):
        found = cut(ideal, most, shortest, order)
        assert 1 <= found.count <= most
        assert found.count >= min(most, 4)
        assert (found.edges[0], found.edges[-1]) == (0, len(ideal.nodes) - 1)
        assert np.min(np.diff(ideal.nodes[found.edges])) >= shortest

    def test_what_it_counts_is_what_is_lost(self, hills: Ridden, ideal: PacingPlan):
        """The seconds that the cut expects to lose, against the course ridden in the sections."""
        for most in (3, 5, 8):
            found = cut(ideal, most, 300.0, 4.0)
            start = np.full(found.count, 250.0)
            plan = best_levels(hills, found, MEAN, start).plan
            expected = second_order_loss(ideal, tuple(found.edges.tolist()), 4.0)
            assert plan.time - ideal.time == pytest.approx(expected, rel=0.4, abs=0.1)

    def test_one_that_spares_nothing_is_left_out(self):
        """In still air on the flat one power is as good as many."""
        base = ride(steady_start(race(course=flat_course(8000.0))))
        assert cut(ideal_plan(base, MEAN), 8, 500.0, 4.0).count <= 2


@pytest.mark.parametrize("name", ["plain mean", "4th-power mean"])
def test_best_sections_against_an_interior_point(hills: Ridden, ideal: PacingPlan, name: str):
    """CasADi with IPOPT, where speeds, powers and brakes are all unknown: the same time again."""
    pytest.importorskip("casadi")
    from tests.pacing.nonlinear_program import quickest

    sections, limit, _, plan = exact_levels(hills, ideal, name, 8)
    road, (mean,) = hills.solution.ride, limit.means
    level = np.full(len(road.step), mean.level)
    owner = sections.spread(np.arange(sections.count))
    wanted = PowerBounds(level, mean.order, 1.0, limit.most, hills.race.bike.efficiency)
    other = quickest(road, wanted, hills.solution.speed, owner)
    assert other.status == "Solve_Succeeded"
    assert sections.count > 5
    # Asked for are 1e-6.
    assert plan.time == pytest.approx(other.time, rel=1e-6)


class TestWholeSteps:
    @pytest.mark.parametrize("name", LIMITS)
    def test_whole_steps_within_the_limit(self, cards: dict[str, Pacing], name: str):
        """Of five watts, or finer where fives would take the gain."""
        found = cards[name]
        powers = [one.power_w for one in found.card.targets]
        assert 1 < len(powers) <= 6
        assert any(all(power % step == 0.0 for power in powers) for step in (5.0, 2.0, 1.0))
        assert all(one != after for one, after in pairwise(powers))
        assert np.all(found.limit.room(found.ridden) >= 0.0)
        above, mean = found.limit.above, found.limit.mean
        assert above or mean
        if above:
            assert np.min(above.reserve(found.ridden)) >= 0.0
        if mean:
            assert found.effort == mean.held(found.ridden) <= mean.level
        else:
            assert found.effort >= 0.0

    @pytest.mark.parametrize(("least", "most"), [(0.0, 262.0), (233.0, 400.0), (241.0, 290.0)])
    def test_but_for_the_least_and_the_most(self, hills: Ridden, least: float, most: float):
        found = card_within(hills, power_mean(250.0, 4.0, least, most), 6)
        for one in found.card.targets:
            assert one.power_w % 5.0 == 0.0 or one.power_w in {least, most}
            assert least <= one.power_w <= most
        assert found.effort <= 250.0

    @pytest.mark.parametrize("name", LIMITS)
    def test_fives_or_coasting(self, cards: dict[str, Pacing], name: str):
        """One watt stands for coasting, as a plain mean has it on descents."""
        assert all(
            one.power_w % 5.0 == 0.0 or one.power_w == 1.0 for one in cards[name].card.targets
        )

    @pytest.mark.parametrize("name", LIMITS)
    @pytest.mark.parametrize(
        "most", [1, 3, *(pytest.param(most, marks=pytest.mark.slow) for most in (2, 5))]
    )
    def test_rounding_does_not_take_the_gain(self, hills: Ridden, name: str, most: int):
        """No slower than constant power, but for the watt to which that is rounded."""
        card = card_within(hills, LIMITS[name], most).card
        watt = max(one.seconds_per_watt for one in card.targets)
        assert card.time_s <= card.constant_power_time_s + watt

    @pytest.mark.parametrize("name", ["4th-power mean", "plain mean", "critical power"])
    def test_against_all_roundings(self, hills: Ridden, ideal: PacingPlan, name: str):
        """No slower than the best of fives, up or down in every section, all of them ridden."""
        sections, limit, levels, exact = exact_levels(hills, ideal, name, 5)
        low = 5.0 * np.floor(levels / 5.0)
        plans = [
            ridden_at(hills, sections.spread(np.minimum(low + 5.0 * np.array(up), limit.most)))
            for up in product((0, 1), repeat=sections.count)
        ]
        best = min(plan.time for plan in plans if np.all(limit.room(plan) >= 0.0))
        found = rounded_plan(hills, sections, limit, levels, np.inf)
        assert exact.time - 0.05 < found.time < best + 0.05

    @pytest.mark.parametrize(("count", "reach"), [(2, 8), (3, 3)])
    @pytest.mark.parametrize("name", ["4th-power mean", "plain mean", "critical power"])
    def test_whole_steps_are_the_best_of_all(
        self, hills: Ridden, ideal: PacingPlan, name: str, count: int, reach: int
    ):
        """Every multiple of 5 W near the exact powers in every section, all of them ridden."""
        sections, limit, levels, _ = exact_levels(hills, ideal, name, count)
        best = quickest(hills, sections, limit, levels, 5.0, reach)
        found = rounded_plan(hills, sections, limit, levels, np.inf)
        assert found.time == pytest.approx(best, abs=1e-3)

    @pytest.mark.parametrize("slower", [0.1, 0.5, 2.0, 9.0])
    def test_finer_steps_only_where_coarse_ones_are_too_slow(
        self, hills: Ridden, ideal: PacingPlan, slower: float
    ):
        """5 W, then 2 W, then 1 W, until one loses little of the gain; each by trying all."""
        sections, limit, levels, exact = exact_levels(hills, ideal, "critical power", 2)
        wanted = exact.time + slower
        bests = [quickest(hills, sections, limit, levels, step, 4) for step in (5.0, 2.0, 1.0)]
        expected = next((best for best in bests if best <= wanted), min(bests))
        even = exact.time + slower / MOST_LOST
        found = rounded_plan(hills, sections, limit, levels, even)
        assert found.time == pytest.approx(expected, abs=1e-3)

    @pytest.mark.parametrize("name", ["4th-power mean", "plain mean", "critical power"])
    def test_best_powers_against_their_neighbours(
        self, hills: Ridden, ideal: PacingPlan, name: str
    ):
        """A watt from any section to any other, the limit still held, gains nothing to speak of."""
        sections, limit, levels, plan = exact_levels(hills, ideal, name, 4)
        for more, less in product(range(sections.count), repeat=2):
            moved = levels.copy()
            moved[more] += 3.0
            moved[less] -= 3.0
            other = ridden_at(hills, sections.spread(moved), plan)
            assert other.time > plan.time - 0.1 or np.any(limit.room(other) < 0.0)


def exact_levels(
    hills: Ridden, ideal: PacingPlan, name: str, most: int
) -> tuple[Sections, Limits, FloatArray, PacingPlan]:
    """Sections and the best power of each, before rounding."""
    sections, limit = cut(ideal, most, 500.0, 4.0), LIMITS[name]
    limit = limit.checked(ideal.nodes[sections.edges])
    best = best_levels(hills, sections, limit, np.full(sections.count, 250.0))
    return sections, limit, best.levels, best.plan


def rounded_plan(
    hills: Ridden, sections: Sections, limit: Limits, levels: FloatArray, even: float
) -> PacingPlan:
    """Powers of sections in whole steps."""
    rough = sections_at(*coarser(hills, sections), limit, levels)
    return rounded_levels(hills, sections, rough, even).plan


def quickest(
    hills: Ridden,
    sections: Sections,
    limit: Limits,
    levels: FloatArray,
    step: float,
    reach: int,
) -> float:
    """Least time within the limit of all whole steps up to `reach` of them around the levels."""
    tried = [
        sorted(
            {min(step * round(level / step + by), limit.most) for by in range(-reach, reach + 1)}
        )
        for level in levels
    ]
    plans = (ridden_at(hills, sections.spread(np.array(one))) for one in product(*tried))
    return min(plan.time for plan in plans if np.all(limit.room(plan) >= 0.0))


def simulated(found: Pacing, pieces: tuple[tuple[float, float], ...]) -> tuple[float, FloatArray]:
    """Time, and the reserve at every end of a piece or section and in between.

    The equation of motion over distance with kinetic energy, time and reserve as states; forces
    by hand; adaptive Runge-Kutta from one change of slope or power to the next. Reserve as in
    Skiba et al. 2015, Eur J Appl Physiol 115:703-713 (form from memory).
    """
    assert found.limit.above
    critical, work = found.limit.above.critical, found.limit.above.work
    length = np.cumsum([0.0, *(piece for piece, _ in pieces)])
    ends = np.array([0.0, *(one.to_m for one in found.card.targets)])
    powers = [one.power_w for one in found.card.targets]
    borders = np.unique(np.round(np.concatenate((length, ends)), 6))
    state, least = np.array([0.5 * 80.0 * 8.0**2, 0.0, work]), []
    for start, end in pairwise(borders):
        middle = 0.5 * (start + end)
        grade = pieces[int(np.searchsorted(length, middle)) - 1][1]
        power = powers[int(np.searchsorted(ends, middle)) - 1]

        def along(_: float, now: FloatArray, grade: float = grade, power: float = power):
            speed = np.sqrt(now[0] / 40.0)
            force = resisting_force(
                speed,
                mass=80.0,
                sine=np.sin(np.arctan(grade)),
                crr=0.004,
                density=1.2,
                area=0.25,
                bearings=(BEARINGS["bearing_drag"], BEARINGS["bearing_drag_slope"]),
            )
            above = power - critical
            rate = -above if above > 0 else -(1.0 - now[2] / work) * above
            return [0.975 * power / speed - force, 1.0 / speed, rate / speed]

        part = solve_ivp(along, (start, end), state, rtol=1e-9, atol=1e-9)
        state = part.y[:, -1]
        least.extend(part.y[2])
    return float(state[1]), np.array(least)


class TestCaps:
    """At most 270 W on the pieces of 4.5 and 6 %, and 180 W from 5 to 6 km, within a mean."""

    STEEP_PIECES = ((1100.0, 2000.0), (4000.0, 4800.0))
    CAPS = (Cap(270.0, "climbs", grade=STEEP), Cap(180.0, "5 to 6 km", 5000.0, 6000.0))

    @pytest.fixture(scope="class")
    @staticmethod
    def found(hills: Ridden) -> Pacing:
        return card_within(hills, replace(MEAN, caps=TestCaps.CAPS), 6)

    def test_what_is_steep(self, hills: Ridden):
        """The pieces themselves, and up to the length that a grade is taken over."""
        covered = hills.solution.ride.middle[self.CAPS[0].covers(hills)]
        inside = [
            (covered > start - 200) & (covered < end + 200) for start, end in self.STEEP_PIECES
        ]
        assert np.all(inside[0] | inside[1])
        for (start, end), one in zip(self.STEEP_PIECES, inside, strict=True):
            assert covered[one].min() < start + 10.5
            assert covered[one].max() > end - 10.5

    def test_no_target_is_above(self, found: Pacing):
        parts = [(270.0, *piece) for piece in self.STEEP_PIECES] + [(180.0, 5000.0, 6000.0)]
        for most, start, end in parts:
            on_it = [one for one in found.card.targets if one.from_m < end and one.to_m > start]
            assert on_it
            assert all(one.power_w <= most for one in on_it)
        assert max(one.power_w for one in found.card.targets) == 270.0
        assert [one.held for one in found.limits] == [True, True, True]
        assert [one.comes_to_w for one in found.limits[1:]] == [270.0, 180.0]

    def test_what_they_cost_is_made_up_elsewhere(
        self, hills: Ridden, cards: dict[str, Pacing], found: Pacing
    ):
        free = cards["4th-power mean"]
        assert found.card.time_s > free.card.time_s + 0.5
        assert found.effort > 248.5
        assert found.card.targets[-1].power_w > free.card.targets[-1].power_w
        even = constant_within(hills, replace(MEAN, caps=self.CAPS))
        assert even.power.max() > 250.0
        assert even.power[(even.nodes[1:] > 5020.0) & (even.nodes[1:] < 6000.0)].max() == 180.0
        assert MEAN.means[0].held(even) == pytest.approx(250.0, rel=1e-5)
        assert found.card.time_s < even.time

    def test_with_a_critical_power_and_a_goal(self, hills: Ridden):
        """Caps are rules: a goal raises what the rider holds and not them."""
        limit = replace(CRITICAL, means=MEAN.means, caps=(Cap(255.0, "everywhere"),))
        wanted = card_within(hills, limit, 6).card.time_s - 2.0
        found = card_within(hills, limit, 6, wanted=wanted)
        assert found.card.time_s <= wanted
        assert max(one.power_w for one in found.card.targets) <= 255.0


class TestReserveByAnotherIntegration:
    @pytest.mark.parametrize(("power", "work"), [(240.0, 12e3), (255.0, 6e3), (220.0, 25e3)])
    def test_it_is_never_used_up(self, still_hills: Ridden, power: float, work: float):
        found = card_within(still_hills, critical(power, work, 0.0, 400.0), 6)
        time, reserve = simulated(found, PIECES)
        assert time == pytest.approx(found.card.time_s, abs=0.1)
        assert reserve.min() >= -0.01 * work
        assert np.min(reserve) == pytest.approx(found.effort, abs=0.01 * work)
        assert found.effort >= 0.0
        # And it is used: a card that never does gives seconds away.
        assert found.effort < 0.15 * work

    def test_without_refill_less_is_left(self, hills: Ridden, cards: dict[str, Pacing]):
        found = cards["critical power"]
        assert found.card.least_reserve_unrefilled_j is not None
        assert found.card.least_reserve_unrefilled_j <= found.effort
        both = cards["both"].card
        assert both.least_reserve_j is not None
        assert both.least_reserve_unrefilled_j is not None
        assert both.least_reserve_unrefilled_j < both.least_reserve_j - 100.0
        assert cards["no refill"].card.time_s >= found.card.time_s
        assert cards["4th-power mean"].card.least_reserve_unrefilled_j is None


class TestWhatACardGains:
    @pytest.mark.parametrize("name", ["4th-power mean", "plain mean"])
    def test_over_constant_power_that_is_as_hard(self, cards: dict[str, Pacing], name: str):
        """The mean of the pedalled power raised to its order, worked out from the steps of both."""
        found = cards[name]
        order = found.card.power_mean_order
        even = found.ridden.ridden.variant(
            found.ridden.ridden.race.with_power(found.card.constant_power_w)
        )
        assert even.time == pytest.approx(found.card.constant_power_time_s, abs=0.01)
        watts, seconds = pedalled(even), even.solution.step_time
        mean = (np.sum(watts**order * seconds) / np.sum(seconds)) ** (1.0 / order)
        assert mean == pytest.approx(found.card.constant_power_mean_w, abs=0.01)
        assert mean == pytest.approx(found.card.power_mean_w, abs=0.01)

    @pytest.mark.parametrize("name", LIMITS)
    def test_on_hills(self, cards: dict[str, Pacing], name: str):
        card = cards[name].card
        assert card.ideal_time_s <= card.time_s < 1.01 * card.ideal_time_s
        assert card.time_s < card.constant_power_time_s - 1.0

    @pytest.mark.parametrize(
        "limit",
        [
            power_mean(262.0, 4.0, 0.0, 393.0),
            pytest.param(critical(270.0, 17e3, 0.0, 393.0), marks=pytest.mark.slow),
        ],
    )
    def test_on_the_demo(self, limit: Limits):
        card = card_within(ride(load_race(DEMO)), limit, 10).card
        assert card.time_s < 1.01 * card.ideal_time_s
        assert card.time_s < card.constant_power_time_s - 25.0

    def test_more_sections_are_no_slower(self, hills: Ridden, ideal: PacingPlan):
        times = []
        for most in (1, 2, 4, 8):
            sections = cut(ideal, most, 300.0, 4.0)
            best = best_levels(hills, sections, MEAN, np.full(sections.count, 250.0))
            times.append(best.plan.time)
        assert all(later < earlier for earlier, later in pairwise(times))

    def test_a_watt_in_every_section_is_a_watt_all_along(
        self, hills: Ridden, cards: dict[str, Pacing]
    ):
        found = cards["4th-power mean"]
        one_more = ridden_at(hills, found.ridden.power + 1.0)
        worth = sum(one.seconds_per_watt for one in found.card.targets)
        assert worth == pytest.approx(found.card.time_s - one_more.time, rel=0.01)

    def test_times_add_up(self, cards: dict[str, Pacing]):
        card = cards["4th-power mean"].card
        assert sum(one.time_s for one in card.targets) == pytest.approx(card.time_s)
        assert card.targets[-1].elapsed_s == pytest.approx(card.time_s)
        by_time = sum(one.time_s * one.power_w for one in card.targets) / card.time_s
        by_way = sum((one.to_m - one.from_m) * one.power_w for one in card.targets)
        assert card.mean_power_w == pytest.approx(by_time)
        assert card.distance_mean_w == pytest.approx(by_way / card.targets[-1].to_m)

    def test_riding_astray_costs_little(self, cards: dict[str, Pacing]):
        """Three percent too hard and too soft by turns, at the same mean: the optimum is flat."""
        found = cards["4th-power mean"]
        assert found.astray_s is not None
        assert 0.0 < found.astray_s < 0.003 * found.card.time_s

    def test_going_astray_is_the_mean_of_both_ways_to_begin(
        self, hills: Ridden, cards: dict[str, Pacing]
    ):
        """At a plain mean one way loses what the other gains, nearly: its power is free to shift.

        Each way scaled again and again until it has the mean of the card.
        """
        found = cards["plain mean"]
        levels = np.array([one.power_w for one in found.card.targets])
        lost = []
        for share in (1.03, 0.97):
            astray = levels * np.where(np.arange(len(levels)) % 2 == 0, share, 2.0 - share)
            for _ in range(5):
                plan = ridden_at(hills, found.sections.spread(astray), found.ridden)
                astray = astray * found.ridden.mean() / plan.mean()
            lost.append(plan.time - found.card.time_s)
        assert min(lost) < -0.5 < 0.5 < max(lost)
        assert found.astray_s == pytest.approx(0.5 * sum(lost), abs=0.03)

    def test_the_ideal_of_a_section_is_a_mean_over_its_own_time(self, cards: dict[str, Pacing]):
        """Work over time on the section, both of the ideal ride."""
        found = cards["4th-power mean"]
        ideal = found.ideal
        for one in found.card.targets:
            on_it = (ideal.nodes[1:] > one.from_m) & (ideal.nodes[1:] <= one.to_m)
            time = np.diff(ideal.elapsed)[on_it]
            mean = float(np.sum(ideal.pedalled[on_it] * time) / np.sum(time))
            assert one.ideal_w == pytest.approx(mean, rel=1e-9)

    def test_nothing_goes_astray_in_one_section(self, hills: Ridden):
        assert card_within(hills, MEAN, 1).astray_s is None


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("both", 0.0),
        *((name, 12.0) for name in LIMITS if name != "fading"),
        pytest.param("fading", 12.0, marks=pytest.mark.slow),
        *(pytest.param(name, 0.0, marks=pytest.mark.slow) for name in LIMITS if name != "both"),
    ],
)
def test_a_course_of_five_seconds(name: str, start: float):
    """60 m: one section, within the limit."""
    limit = LIMITS[name]
    found = card_within(ride(race(course=flat_course(60.0), start_speed=start)), limit, 6)
    assert len(found.card.targets) == 1
    assert found.card.targets[0].to_m == pytest.approx(60.0)
    assert np.all(found.limit.room(found.ridden) >= 0.0)


@pytest.mark.parametrize("name", LIMITS)
def test_a_course_of_one_step(name: str):
    """50 m down 45 % from 100 km/h: one power, and it holds the limit."""
    steep = race(course=graded_course((50.0, -0.45)), start_speed=27.8, step=50.0)
    found = card_within(ride(steep), LIMITS[name], 6)
    assert len(found.ridden.power) == len(found.card.targets) == 1
    assert found.limit.hold(found.ridden)


def test_sections_keep_their_length(hills: Ridden):
    """Forty of 500 m do not fit into 7 km; as many as help are taken then."""
    found = card_within(hills, MEAN, 40)
    assert len(found.card.targets) >= 6
    assert min(one.to_m - one.from_m for one in found.card.targets) >= SHORTEST


def test_bends_that_decide():
    """Where the rider coasts the card says so, and its powers still hold the limit."""
    course = graded_course(
        (2000.0, 0.03), (2000.0, -0.06), (2000.0, 0.0), bend_radius=[np.inf, 40.0, 25.0, np.inf]
    )
    limits = SpeedLimits(max_speed=14.0, lateral_grip=0.4, braking=2.0)
    found = card_within(ride(race(course=course, limits=limits)), MEAN, 5)
    assert sum(one.coasting_s for one in found.card.targets) > 60.0
    assert found.effort <= 250.0
    assert found.card.time_s < found.card.constant_power_time_s


class TestWhatIfs:
    @pytest.fixture(scope="class")
    @staticmethod
    def found(hills: Ridden) -> Pacing:
        others = (("as it is", hills.race), *other_winds(hills.race))
        return card_within(hills, MEAN, 5, others)

    def test_the_same_weather_is_the_card(self, found: Pacing):
        same = found.what_ifs[0]
        assert same.time_s == pytest.approx(found.card.time_s, abs=1e-6)
        assert same.remade_s == pytest.approx(found.card.time_s, abs=0.1)
        assert same.held
        assert same.effort == pytest.approx(found.effort)

    def test_even_takes_as_much_effort(self, hills: Ridden, found: Pacing):
        as_much = MEAN.at_level(found.effort)
        even = constant_within(hills, as_much).time
        assert found.what_ifs[0].constant_s == pytest.approx(even, abs=1e-6)

    def test_targets_made_for_a_weather_are_best_in_it(self, found: Pacing):
        for one in found.what_ifs:
            assert one.time_s is not None
            assert one.remade_s is not None
            assert (one.constant_s is None) == (not one.held)
            if one.constant_s is not None:
                assert one.remade_s <= one.time_s
                assert one.remade_s < one.constant_s
        assert len({one.time_s for one in found.what_ifs}) == len(found.what_ifs)

    def test_a_wind_that_stops_the_rider(self):
        """One watt, which does for a descent with the wind, does not against it."""
        course = graded_course((2000.0, 0.04), (2000.0, -0.01), bearing=[0.0, 0.0])
        base = ride(race(course=course, air=windy_air(8.0, 180.0), start_speed=8.0))
        found = card_within(base, LIMITS["plain mean"], 4, other_winds(base.race))
        stopped = [one for one in found.what_ifs if one.time_s is None]
        for one in stopped:
            assert (one.remade_s, one.constant_s, one.held, one.effort) == (None, None, False, None)
        assert stopped

    def test_held_says_what_the_mean_says(self, found: Pacing):
        for one in found.what_ifs:
            assert one.effort is not None
            assert one.held == (one.effort <= 250.0 * (1 + 1e-9))

    def test_a_wind_turned_to_the_right_veers(self, hills: Ridden):
        """Clockwise, as in reports of the weather; 2 m/s from 20 degrees."""
        winds = {words: one.air.wind for words, one in other_winds(hills.race)}
        turned = {words: np.degrees(wind.direction) for words, wind in winds.items()}
        assert turned["wind turned 45 deg to the right"] == pytest.approx(65.0)
        assert turned["wind turned 45 deg to the left"] == pytest.approx(-25.0)
        assert turned["wind from the opposite side"] == pytest.approx(200.0)
        assert winds["half as much wind"].speed == pytest.approx(1.0)
        assert winds["half as much wind again"].speed == pytest.approx(3.0)

    def test_calm_has_no_other_winds(self, still_hills: Ridden):
        assert other_winds(still_hills.race) == ()


class TestGoals:
    """The card that makes a time; found by trying cards, checked by riding the powers it shows."""

    @pytest.mark.parametrize(("name", "change"), [("4th-power mean", 15.0), ("both", -8.0)])
    def test_the_card_makes_the_time(
        self, hills: Ridden, cards: dict[str, Pacing], name: str, change: float
    ):
        limit, stated = LIMITS[name], cards[name].card
        wanted = stated.time_s + change
        found = card_within(hills, limit, 6, wanted=wanted)
        goal, edges = found.goal, np.array([0.0, *(one.to_m for one in found.card.targets)])
        assert goal is not None
        where = np.searchsorted(edges, hills.solution.ride.middle) - 1
        plan = ridden_at(hills, np.array([one.power_w for one in found.card.targets])[where])
        assert wanted - 1.0 < plan.time <= wanted
        assert plan.time == pytest.approx(found.card.time_s, abs=1e-6)
        assert goal.held == (change > 0) == bool(np.all(limit.room(plan) >= -1e-9))
        assert goal.stated_time_s == pytest.approx(stated.time_s, abs=1e-6)
        assert bool(found.card.warnings) != goal.held
        mean = limit.mean
        assert mean is not None
        assert goal.mean_w is not None
        # What it asks for is what the powers come to, but for whole watts.
        assert mean.held(plan) <= goal.mean_w + 1e-6
        assert mean.held(plan) == pytest.approx(goal.mean_w, abs=2.0)
        if goal.critical_w:
            # Both are raised by one factor, and the work above critical power stays.
            assert goal.critical_w == pytest.approx(240.0 * goal.mean_w / 246.0)
        even = hills.variant(hills.race.with_power(goal.constant_w))
        assert even.time == pytest.approx(wanted, abs=0.1)

    def test_doubt_and_chance(self, hills: Ridden, cards: dict[str, Pacing]):
        """By the normal distribution; the card of the limits where that makes the time already."""
        stated = cards["4th-power mean"].card
        found = card_within(hills, MEAN, 6, wanted=stated.time_s + 0.2)
        goal = found.goal
        assert goal is not None
        assert goal.chance == pytest.approx(norm.cdf(0.2 / goal.doubt_s), abs=1e-6)
        assert (goal.mean_w, goal.held) == (250.0, True)
        assert found.card == stated

    def test_what_nobody_reaches_and_what_is_too_slow(self, hills: Ridden):
        """The one is told from the other."""
        with pytest.raises(InputError, match="no power that anybody pedals"):
            card_within(hills, MEAN, 6, wanted=60.0)
        with pytest.raises(InputError, match=r"--goal: .*slower than the least .*shorter"):
            card_within(hills, MEAN, 6, wanted=360_000.0)

    def test_never_more_than_the_rider_pushes(self, hills: Ridden):
        """A softer goal leaves pedal_most as it is; one beyond it says so."""
        limit = power_mean(250.0, 4.0, 0.0, 262.0)
        stated = card_within(hills, limit, 6).card
        softer, harder = (
            card_within(hills, limit, 6, wanted=stated.time_s + change) for change in (10.0, -45.0)
        )
        assert max(one.power_w for one in softer.card.targets) <= 262.0
        assert (softer.goal.held, softer.card.warnings) == (True, ())
        pushed = max(one.power_w for one in harder.card.targets)
        assert pushed > 262.0
        assert not harder.goal.held
        said = f"up to {pushed:.0f} W, more than the 262 W of pedal_most"
        assert said in harder.card.warnings[1]
        assert [(one.at_most_w, one.held) for one in harder.limits[1:]] == [(262.0, False)]

    def test_the_last_card_tried_counts(
        self, hills: Ridden, cards: dict[str, Pacing], monkeypatch: pytest.MonkeyPatch
    ):
        """One card alone is tried, and taken: it asks for less and still makes the time."""
        wanted = cards["4th-power mean"].card.time_s + 15.0
        monkeypatch.setattr(making, "TRIES", 1)
        monkeypatch.setattr(making, "_next_factor", lambda *_: 0.97)
        goal = card_within(hills, MEAN, 6, wanted=wanted).goal
        assert goal.mean_w == pytest.approx(0.97 * 250.0)


class TestWhatBreaksALimit:
    def test_a_quicker_plan_that_breaks_it_comes_last(self, hills: Ridden):
        even = np.ones(len(hills.solution.ride.middle))
        plans = [ridden_at(hills, watts * even) for watts in (240.0, 260.0, 249.0, 270.0)]
        ranked = [round(one.power[0]) for one in sorted(plans, key=MEAN.rank)]
        assert ranked == [249, 240, 270, 260]

    def test_finer_steps_where_coarse_ones_break_it(
        self, hills: Ridden, ideal: PacingPlan, monkeypatch: pytest.MonkeyPatch
    ):
        watts = {5.0: 260.0, 2.0: 248.0}
        monkeypatch.setattr(
            levelling, "_rounded", lambda exact, _, step: exact.at(np.full(2, watts[step]))
        )
        sections = cut(ideal, 2, 300.0, 4.0)
        found = rounded_plan(hills, sections, MEAN, np.full(2, 250.0), ideal.time + 50.0)
        assert set(found.power) == {248.0}

    def test_a_card_that_breaks_it_says_so(self, hills: Ridden, monkeypatch: pytest.MonkeyPatch):
        def broken(base: Ridden, sections: Sections, *_: object) -> RiddenSections:
            return sections_at(base, sections, MEAN, np.full(sections.count, 300.0))

        monkeypatch.setattr(making, "rounded_levels", broken)
        (said,) = card_within(hills, MEAN, 3).card.warnings
        assert "holds this limit: 4th-power mean of at most 250 W" in said

    def test_least_power_that_empties_the_reserve(self, hills: Ridden):
        """By hand: 25 W above 240 W all along."""
        time = ridden_at(hills, np.full(len(hills.solution.ride.middle), 265.0)).time
        more = 25.0 * time / 1000.0 - 12.0
        assert more > 1.0
        with pytest.raises(
            InputError, match=f"pedal_least: 265 W all along takes {more:.1f} kJ mo"
        ):
            card_within(hills, critical(240.0, 12e3, 265.0, 375.0), 6)

    def test_a_step_to_where_nothing_is_allowed(self):
        """Five are missing, and both together can give two: the bounds are kept, no number lost."""
        ones = np.ones(2)
        step, prices = levelling.quadratic_step(
            np.eye(2), -ones, ones[None, :], np.array([-5.0]), 0.0 * ones, ones
        )
        assert np.all((step >= 0.0) & (step <= 1.0))
        assert np.all(np.isfinite(prices))


def test_limits_that_all_but_stop_the_rider_are_refused():
    """By hand: 2 W against the 2.6 N of rolling and what air there is, some 0.7 m/s."""
    flat = ride(race(course=flat_course(2000.0), start_speed=5.0))
    with pytest.raises(InputError, match="nobody stays upright"):
        card_within(flat, critical(2.0, 100.0, 0.0, 375.0), 3)


def test_an_ideal_that_was_not_found_says_so(hills: Ridden, monkeypatch: pytest.MonkeyPatch):
    seek = cutting.optimum
    monkeypatch.setattr(cutting, "optimum", lambda *of: replace(seek(*of), converged=False))
    (said,) = card_within(hills, MEAN, 4).card.warnings
    assert "did not come to its end" in said


class TestEasingBeforeTheFinish:
    """A plain mean lets power fall for the last 500 m, where speed in hand is used up."""

    @pytest.fixture(scope="class")
    @staticmethod
    def flat() -> Ridden:
        return ride(race(course=flat_course(5000.0), start_speed=5.0, step=25.0))

    def test_it_is_left_out_where_it_saves_nothing(
        self, flat: Ridden, monkeypatch: pytest.MonkeyPatch
    ):
        """Against the same card with it: less than was allowed for is lost."""
        limit = power_mean(250.0, 1.0, 0.0, 375.0)
        eased = card_within(flat, limit, 6).card
        last, before = eased.targets[-1], eased.targets[-2]
        assert last.power_w < before.power_w
        assert eased.easing_s is not None
        monkeypatch.setattr(making, "WORTH_EASING", 3.0)
        steady = card_within(flat, limit, 6)
        assert steady.card.easing_s is None
        assert len(steady.card.targets) == len(eased.targets) - 1
        lost = steady.card.time_s - eased.time_s
        assert 0.5 <= lost == pytest.approx(eased.easing_s, abs=1e-6)
        assert steady.effort <= 250.0

    def test_a_power_mean_never_asks_for_it(self, flat: Ridden, hills: Ridden):
        for base in (flat, hills):
            targets = card_within(base, MEAN, 12).card.targets
            assert targets[-1].to_m - targets[-1].from_m > 1.5 * SHORTEST


def test_where_the_reserve_is_thinnest(hills: Ridden, cards: dict[str, Pacing]):
    """By the differential form, in steps of a second: it falls above 240 W and comes back below."""
    found = cards["critical power"]
    elapsed = np.arange(0.5, found.card.time_s)
    ends = [one.elapsed_s for one in found.card.targets]
    powers = np.array([one.power_w for one in found.card.targets])
    left = [12e3]
    for power in powers[np.minimum(np.searchsorted(ends, elapsed), len(ends) - 1)]:
        above = power - 240.0
        left.append(left[-1] - (above if above > 0 else (1.0 - left[-1] / 12e3) * above))
    lowest = int(np.argmin(left))
    assert found.card.least_reserve_j == pytest.approx(left[lowest], abs=150.0)
    where = np.interp(lowest, found.ridden.elapsed, found.ridden.nodes)
    assert found.card.least_reserve_at_m == pytest.approx(where, abs=25.0)


def test_constant_within_is_the_highest(hills: Ridden):
    for limit in LIMITS.values():
        plan = constant_within(hills, limit)
        assert np.all(limit.room(plan) >= -1e-5)
        more = ridden_at(hills, plan.power + 0.1)
        assert np.any(limit.room(more) < 0.0)


def test_sections_add_up():
    sections = Sections(np.array([0, 2, 5]))
    assert sections.spread(np.array([1.0, 2.0])).tolist() == [1.0, 1.0, 2.0, 2.0, 2.0]
    assert sections.total(np.arange(5.0)).tolist() == [1.0, 9.0]
    assert sections.total(np.ones((2, 5))).tolist() == [[2.0, 3.0], [2.0, 3.0]]
