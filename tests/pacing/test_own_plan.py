"""A plan of one's own: what it gives away, and where."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import Cap, CriticalPower, Limits, PowerMean
from racecalc.decisions.pacing.own_plan import OwnPlan, own_plan
from racecalc.decisions.pacing.plans import PacingPlan, ridden_at
from racecalc.decisions.riding import Ridden, ride
from racecalc.errors import InputError
from tests.builders import TEN_MILES, out_and_back, race, reference_race, windy_air

HALF = 0.5 * TEN_MILES
LIMIT = Limits(
    (PowerMean(264.0),), CriticalPower(270.0, 17e3), (Cap(280.0, "everywhere"),), most=400.0
)


@pytest.fixture(scope="module")
def base() -> Ridden:
    return ride(
        reference_race(course=out_and_back(TEN_MILES), air=windy_air(3.5, density=1.225), step=50.0)
    )


def planned(base: Ridden, *watts: float, limit: Limits = LIMIT) -> OwnPlan:
    ends = np.linspace(0.0, TEN_MILES, len(watts) + 1)[1:]
    return own_plan(base, limit, "--plan mine.csv", ends, np.array(watts))


class TestOutAndBackInWind:
    """Ten miles in 3.5 m/s."""

    def test_constant_power(self, base: Ridden):
        """Against the best two powers of the same 4th-power mean, found by trying."""
        found = planned(base, 262.0, 262.0)
        halves = np.searchsorted(base.solution.ride.middle, HALF)

        def at_two(out: float, back: float) -> PacingPlan:
            count = len(base.solution.ride.middle)
            return ridden_at(base, np.repeat([out, back], [halves, count - halves]))

        def gained(out: float) -> float:
            back = brentq(lambda watts: at_two(out, watts).mean(4.0) - 262.0, 200.0, 263.0)
            return found.time_s - at_two(out, back).time

        assert found.time_s == pytest.approx(at_two(262.0, 262.0).time, abs=1e-6)
        assert found.power_mean_w == pytest.approx(262.0, abs=0.01)
        best = max(gained(out) for out in (266.0, 270.0, 274.0))
        assert best > 2.0
        # The quickest also changes its power about the start, the turn and the finish.
        assert best - 0.01 < found.given_away_s < best + 0.9
        assert found.held

    def test_the_known_plan_gives_little_away(self, base: Ridden):
        """277 W out and 241 W back is the best at a mean of 262 W and a 4th-power mean of 264 W.

        Independent calculation, of steady speeds: the quickest also uses the start and the turn.
        """
        means = (LIMIT.means[0], PowerMean(262.5, 1.0))
        found = planned(base, 277.0, 241.0, limit=replace(LIMIT, means=means))
        assert found.mean_power_w == pytest.approx(262.0, abs=0.5)
        assert found.power_mean_w == pytest.approx(263.8, abs=0.2)
        assert 0.0 <= found.given_away_s < 1.1
        assert planned(base, 262.0, 262.0).time_s - found.time_s == pytest.approx(5.3, abs=0.5)

    def test_where_it_is_given_away(self, base: Ridden):
        """Two wrong quarters out of four: what is lost is lost there, and adds up."""
        found = planned(base, 277.0, 277.0, 200.0, 272.0, limit=replace(LIMIT, caps=()))
        lost = [one.given_away_s for one in found.sections]
        assert sum(lost) == pytest.approx(found.given_away_s, abs=1e-6)
        assert found.given_away_s > 3.0
        assert lost[2] + lost[3] > 0.9 * found.given_away_s
        assert [one.best_w > one.power_w for one in found.sections[2:]] == [True, False]


def test_each_limit_is_held_against_it(base: Ridden):
    """285 W breaks the cap, 300 W for half of the way the 17 kJ above 270 W: by hand, 30 W t."""
    found = planned(base, 300.0, 240.0)
    mean, above, cap = found.limits
    assert (above.held, cap.held, found.held) == (False, False, False)
    assert cap.comes_to_w == 300.0
    out = found.sections[0].time_s
    assert above.least_reserve_j == pytest.approx(17e3 - 30.0 * out, abs=30.0)
    shares = np.array([one.time_s for one in found.sections]) / found.time_s
    by_hand = float(shares @ np.array([300.0, 240.0]) ** 4) ** 0.25
    assert mean.comes_to_w == pytest.approx(by_hand, abs=0.01)
    assert mean.held == (by_hand <= 264.0)


def test_more_than_the_most_is_not_held(base: Ridden):
    found = planned(base, 240.0, 410.0, 180.0, 180.0, limit=replace(LIMIT, caps=(), above=None))
    assert found.most_w == 400.0
    assert not found.held


@pytest.mark.parametrize("ends", [[8000.0, 15_000.0], [8000.0, 17_000.0]])
def test_it_ends_where_the_course_does(base: Ridden, ends: FloatArray):
    with pytest.raises(InputError, match=r"--plan mine.csv: it ends at 1[57].00 km, but the cou"):
        own_plan(base, LIMIT, "--plan mine.csv", np.array(ends), np.array([262.0, 262.0]))


def test_a_plan_that_stops_the_rider(base: Ridden):
    with pytest.raises(
        InputError, match=r"--plan mine\.csv: 1 W all but stop the rider on section 1; give it"
    ):
        planned(ride(race(course=base.race.course, air=windy_air(8.0))), 1.0, 262.0)
