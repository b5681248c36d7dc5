"""Sweeps by yaw: tables, weights of a ride, and whether field and tunnel agree."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.sweep import YawMet, agreement, sweep_of, weighted, yaw_met
from racecalc.decisions.riding import Ridden, multiple_needed, ride
from racecalc.domain.race import Change, DragArea, SpeedLimits
from racecalc.domain.trial import Runs
from racecalc.errors import InputError
from tests.builders import out_and_back, profile_course, race, windy_air, yaw_table


def runs(degrees: Any, values: Any, **changes: Any) -> Runs:
    """Runs of one item in the order given; `changes` are fields of `Runs`."""
    values = np.asarray(values, dtype=float)
    count = len(values)
    return Runs(
        **{
            "source": "tunnel.csv",
            "measure": "cda",
            "item": ("suit",) * count,
            "rider": ("",) * count,
            "session": ("1",) * count,
            "order": np.arange(float(count)),
            "value": values,
            "speed": np.full(count, np.nan),
            "density": np.full(count, np.nan),
            "yaw": np.radians(np.asarray(degrees, dtype=float)),
            "note": ("",) * count,
            "line": tuple(range(2, count + 2)),
            **changes,
        }
    )


def windy(wind: float = 4.0, cda: DragArea | float = 0.24, from_degrees: float = 60.0) -> Ridden:
    return ride(race(course=out_and_back(20_000.0), air=windy_air(wind, from_degrees), cda=cda))


def test_means_and_errors_by_hand() -> None:
    """Two runs a yaw, 0.002 apart: scatter 0.002/sqrt 2, error of a mean 0.001."""
    sweep = sweep_of(runs([0, 0, 10, 10], [0.239, 0.241, 0.229, 0.231]), "suit")
    assert [one.area for one in sweep.points] == pytest.approx([0.240, 0.230])
    assert sweep.scatter == pytest.approx(0.002 / np.sqrt(2))
    assert sweep.standard_error == pytest.approx([0.001, 0.001])
    assert [one.runs for one in sweep.points] == [2, 2]
    assert sweep.folded


def test_without_repeats_no_error_is_known() -> None:
    sweep = sweep_of(runs([0, 10], [0.24, 0.23]), "suit")
    assert set(sweep.standard_error) == {None}
    assert weighted(sweep, yaw_met(windy())).standard_error is None


def test_a_side_that_was_not_measured_is_lent_and_one_that_was_is_not() -> None:
    sweep = sweep_of(runs([-5, 0, 5, 10], [0.235, 0.24, 0.233, 0.228]), "suit")
    areas = {round(float(np.degrees(one.yaw))): one.area for one in sweep.points}
    assert areas == {-10: 0.228, -5: 0.235, 0: 0.24, 5: 0.233, 10: 0.228}
    assert [one.runs for one in sweep.points] == [0, 1, 1, 1, 1]
    assert not sweep.folded


def test_one_side_alone_counts_for_both_whichever_it_is() -> None:
    right = sweep_of(runs([0, 5, 10], [0.24, 0.235, 0.23]), "suit")
    left = sweep_of(runs([0, -5, -10], [0.24, 0.235, 0.23]), "suit")
    assert right.drag_area == left.drag_area
    assert right.drag_area.is_symmetric


@pytest.mark.parametrize(
    ("measure", "value"), [("power", 0.24 * 0.6 * 12.5**3), ("drag", 0.24 * 0.6 * 12.5**2)]
)
def test_watts_and_newtons_become_areas(measure: str, value: float) -> None:
    given = {"measure": measure, "speed": np.full(2, 12.5), "density": np.full(2, 1.2)}
    sweep = sweep_of(runs([0, 10], [value, value], **given), "suit")
    assert [one.area for one in sweep.points] == pytest.approx([0.24, 0.24])


def test_a_flat_table_is_the_constant_exactly() -> None:
    sweep = sweep_of(runs([0, 10, 20], [0.24, 0.24, 0.24]), "suit")
    found = weighted(sweep, yaw_met(windy()))
    assert found.area == pytest.approx(0.24, rel=1e-15)
    assert windy(cda=sweep.drag_area).time == windy(cda=0.24).time


@pytest.mark.parametrize("areas", [[0.24, 0.236, 0.228, 0.22], [0.24, 0.243, 0.25, 0.265]])
def test_the_weighted_area_gives_the_time_of_the_table(areas: list[float]) -> None:
    """The constant in place of the table: the same time within 2 % of what yaw is worth."""
    sweep = sweep_of(runs([0, 5, 10, 20], areas), "suit")
    by_table = windy(cda=sweep.drag_area)
    found = weighted(sweep, yaw_met(by_table))
    by_constant = by_table.variant(
        race(course=by_table.race.course, air=by_table.race.air, cda=found.area)
    )
    at_zero = by_table.variant(
        race(course=by_table.race.course, air=by_table.race.air, cda=areas[0])
    )
    worth = abs(at_zero.time - by_table.time)
    assert worth > 3.0
    assert by_constant.time == pytest.approx(by_table.time, abs=0.02 * worth)


def test_the_error_of_the_weighted_area_is_that_of_simulated_sweeps() -> None:
    """Sweeps drawn with a known scatter on both sides, one of them short."""
    met = yaw_met(windy())
    degrees = np.repeat([-5.0, 0.0, 5.0, 10.0, 15.0], 4)
    truth = 0.24 - 0.0008 * np.abs(degrees)
    generator = np.random.default_rng(5)
    found = [
        weighted(sweep_of(runs(degrees, truth + generator.normal(0, 0.003, 20)), "suit"), met)
        for _ in range(400)
    ]
    spread = np.std([one.area for one in found])
    claimed = np.sqrt(np.mean([one.standard_error**2 for one in found if one.standard_error]))
    assert claimed == pytest.approx(spread, rel=0.12)


def test_yaw_beyond_the_table_uses_its_end_and_says_how_long() -> None:
    """A steady 60 degree wind of 4 m/s: the yaw of either leg by hand lies beyond 3 degrees."""
    met = yaw_met(windy())
    sweep = sweep_of(runs([0, 3], [0.24, 0.23]), "suit")
    found = weighted(sweep, met)
    assert found.area == pytest.approx(0.23)
    assert found.outside == 1.0
    assert found.highest_yaw == -found.lowest_yaw == pytest.approx(np.radians(3.0))
    head_only = weighted(sweep, yaw_met(windy(from_degrees=0.0)))
    assert (head_only.area, head_only.outside) == (pytest.approx(0.24), 0.0)


def test_the_share_outside_is_one_of_time_and_not_of_weight() -> None:
    """By hand: 30 s and 40 s of 100 s lie beyond 10 degrees; its end itself is covered."""
    met = YawMet(
        yaw=np.radians([0.0, -10.0, 12.0, -15.0]),
        weight=np.array([0.1, 0.4, 0.1, 0.4]),
        time=np.array([10.0, 20.0, 30.0, 40.0]),
    )
    for degrees, outside in (([0, 10], 0.7), ([-10, 0, 10], 0.7), ([0, 13], 0.4), ([0, 15], 0.0)):
        sweep = sweep_of(runs(degrees, np.full(len(degrees), 0.24)), "suit")
        assert weighted(sweep, met).outside == pytest.approx(outside)


def circle(wind: float, speed: float) -> Ridden:
    """A lap of a round course at one speed, held there by a limit."""
    corners = np.arange(721)
    course = profile_course(
        50.0 * corners,
        np.zeros(len(corners)),
        bearing=np.radians(0.5 * (corners[:-1] + 0.5)),
    )
    return ride(
        race(
            course=course,
            air=windy_air(wind, 30.0),
            power=900.0,
            start_speed=speed,
            limits=SpeedLimits(max_speed=speed),
            step=50.0,
        )
    )


def barry_share_below(yaw: FloatArray, ratio: float) -> FloatArray:
    """Share of the time with a yaw below one of either sign.

    A wind of `ratio` times the speed from a direction that is equally likely all round gives
    the density cos(yaw) / (pi sqrt(ratio^2 - sin^2(yaw))), after Barry (derived here from the
    law of sines; an independent calculation), whose integral is an arc sine.
    """
    return 2.0 / np.pi * np.arcsin(np.minimum(np.sin(yaw) / ratio, 1.0))


@pytest.mark.parametrize("wind", [1.0, 2.5, 4.0])
def test_the_yaw_of_a_round_course_is_that_of_the_closed_form(wind: float) -> None:
    speed = 10.0
    solution = circle(wind, speed).solution
    assert np.ptp(solution.speed) < 1e-9
    yaw = np.abs(np.arctan2(solution.ride.cross, solution.mean_speed + solution.ride.head))
    for limit in np.radians([2.0, 5.0, 8.0, 12.0, 20.0]):
        share = float(np.average(yaw < limit, weights=solution.step_time))
        wanted = float(barry_share_below(np.asarray(limit), wind / speed))
        assert share == pytest.approx(wanted, abs=0.006)


def test_the_closed_form_integrates_its_density() -> None:
    ratio, limit = 0.3, np.radians(12.0)
    yaw = np.linspace(-limit, limit, 20_001)
    density = np.cos(yaw) / (np.pi * np.sqrt(ratio**2 - np.sin(yaw) ** 2))
    assert np.trapezoid(density, yaw) == pytest.approx(
        float(barry_share_below(np.asarray(limit), ratio)), rel=1e-6
    )


def test_limits_all_the_way_leave_nothing_to_weight() -> None:
    with pytest.raises(InputError, match="leave nothing to the air"):
        yaw_met(circle(2.0, 10.0))


SPEED, DENSITY = 45 / 3.6, 1.2
OLD = (0.240, 0.238, 0.233, 0.228)
SAVED = (0.0008, 0.0020, 0.0060, 0.0105)
"""Made-up drag areas at 0, 5, 10 and 15 degrees: a suit that saves little from straight ahead."""


def watts(area: float) -> float:
    return 0.5 * DENSITY * SPEED**3 * area


def tunnel() -> Runs:
    """Old and new suit at 0 to 15 degrees, five runs each, with a scatter of 0.0002 m^2."""
    areas = np.concatenate((np.repeat(OLD, 5), np.repeat(np.subtract(OLD, SAVED), 5)))
    noise = np.random.default_rng(4).normal(0.0, 0.0002, 40)
    degrees = np.tile(np.repeat([0.0, 5.0, 10.0, 15.0], 5), 2)
    return runs(degrees, areas + noise, item=("old",) * 20 + ("new",) * 20)


def in_field(areas: Any) -> tuple[Ridden, float]:
    """A field test in a breeze: the ride, and the one drag area that explains its time."""
    true = windy(1.0, yaw_table([0, 5, 10, 15], areas))
    plain = true.variant(replace(true.race, bike=replace(true.race.bike, cda=DragArea((0.24,)))))
    more = multiple_needed(plain, Change(cda=1.0), true.time)
    assert more is not None
    return true, 0.24 + more


def test_field_and_tunnel_that_differ_only_through_yaw_agree_once_matched() -> None:
    made, error = tunnel(), 0.0002
    old, new = sweep_of(made, "old"), sweep_of(made, "new")
    ridden, field_old = in_field(OLD)
    _, field_new = in_field(np.subtract(OLD, SAVED))
    in_test = watts(field_old - field_new)
    at_best_yaw = watts(old.points[-1].area - new.points[-1].area)
    met = yaw_met(ridden)
    assert np.degrees(np.abs(met.yaw)).max() < 5.5
    was, now = weighted(old, met), weighted(new, met)
    matched = watts(was.area - now.area)
    assert matched == pytest.approx(in_test, abs=0.5)
    assert abs(at_best_yaw - in_test) > 8.0
    doubt = watts(float(np.hypot(was.standard_error, now.standard_error)))
    assert agreement(matched, doubt, in_test, watts(error)).verdict == "agree"
    assert agreement(at_best_yaw, doubt, in_test, watts(error)).verdict == "disagree"


@pytest.mark.parametrize(
    ("a", "b", "verdict"),
    # Standard error of the difference 1 by hand: 0.6 and 0.8.
    [(5.0, 4.0, "agree"), (5.0, 3.01, "agree"), (5.0, 2.9, "questionable"), (1.0, 4.1, "disagree")],
)
def test_agreement(a: float, b: float, verdict: str) -> None:
    found = agreement(a, 0.6, b, 0.8)
    assert (found.verdict, found.zeta) == (verdict, pytest.approx(a - b))
    assert found.words
    assert agreement(b, 0.8, a, 0.6).verdict == verdict


def test_agreement_says_what_it_could_not_have_seen() -> None:
    assert "below 20 would not be noticed" in agreement(5.0, 6.0, -9.0, 8.0).words


@pytest.mark.parametrize(
    ("made", "item", "said"),
    [
        (runs([0, 10], [0.24, 0.23]), "hat", "there are no runs of 'hat'"),
        (runs([5, 5], [0.24, 0.23]), "suit", "at one yaw"),
        (runs([0, 10], [30.0, 31.0], measure="drag"), "suit", "without speed and air density"),
    ],
)
def test_what_is_no_sweep(made: Runs, item: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        sweep_of(made, item)


def test_the_weights_are_those_of_the_exact_derivative() -> None:
    """A hair more drag area on one leg only, by table: the seconds are its share of all."""
    base = windy(cda=yaw_table([-40, -1, 1, 40], [0.24, 0.24, 0.24, 0.24]))
    met = yaw_met(base)
    small = 1e-6
    left = replace(base.race.bike, cda=yaw_table([-40, -1, 1, 40], [0.24 + small] * 2 + [0.24] * 2))
    right = replace(
        base.race.bike, cda=yaw_table([-40, -1, 1, 40], [0.24] * 2 + [0.24 + small] * 2)
    )
    costs = [base.variant(replace(base.race, bike=bike)).time - base.time for bike in (left, right)]
    assert float(met.weight[met.yaw < 0].sum()) == pytest.approx(costs[0] / sum(costs), rel=1e-3)
