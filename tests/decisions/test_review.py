"""The after-race review: inputs recovered, told apart or not, and nobody named without a reason."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import curve_fit, least_squares

from racecalc.answers.review import ReviewAnswer
from racecalc.arrays import FloatArray
from racecalc.decisions.review.fit import InputFit, KnownError, Replay, blame, fit
from racecalc.decisions.review.review import Explanation, Review, reviewed
from racecalc.decisions.riding import ride
from racecalc.decisions.timing import MODEL_ERROR, cut_at
from racecalc.domain.course import Course
from racecalc.domain.race import Race, SpeedLimits
from racecalc.errors import InputError
from racecalc.files.table_kinds import RiddenTable
from tests.builders import (
    flat_course,
    graded_course,
    out_and_back,
    race,
    windy_air,
    yaw_table,
)

HILLS = graded_course(
    (4000, 0.0), (3000, 0.05), (4000, 0.0), (3000, -0.02), (3000, 0.04), (3000, -0.03)
)
"""20 km on which air counts on the flats and rolling and weight on the climbs."""

ENDS = (2000, 4000, 5500, 7000, 9000, 11_000, 14_000, 15_500, 17_000, 20_000)

EXACT, TO_SECONDS = 0.0, 1.0
"""How the clock is read [s]."""


NEW_VALUE = 0.02
"""Synthetic rides are recovered within 2 %, the trade's own tolerance (common practice)."""


def review(*ridden_and_table: Any) -> Review:
    return reviewed(*ridden_and_table)[1]


def headline(found: Review) -> str:
    """The review in a sentence or three."""
    return ReviewAnswer.of(ride(race()), found).headline


def ridden(
    truth: Race, read_to: float = EXACT, ends: tuple[float, ...] = ENDS, power: bool = True
) -> RiddenTable:
    """The table that a rider brings home when the truth was another race."""
    splits = cut_at(ride(truth), np.array([0.0, *ends]))
    elapsed = np.array([one.elapsed_s for one in splits])
    if read_to:
        elapsed = np.round(elapsed / read_to) * read_to
    meter = np.array([one.power_w for one in splits]) if power else None
    lines = tuple(range(2, 2 + len(splits)))
    return RiddenTable("ridden.csv", lines, np.array(ends, float), elapsed, meter, read_to or 0.01)


def alone(found: Review, quantity: str) -> Explanation:
    return next(one for one in found.alone if one.quantity == quantity)


# --- values recovered -----------------------------------------------------------------------


@pytest.mark.parametrize("read_to", [EXACT, TO_SECONDS])
@pytest.mark.parametrize(("quantity", "truth"), [("cda", 0.265), ("crr", 0.0052), ("mass", 84.0)])
def test_one_input_is_recovered_and_named(quantity: str, truth: float, read_to: float):
    changed = {"rider_mass": truth - 9.0} if quantity == "mass" else {quantity: truth}
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS, **changed), read_to))
    one = alone(found, quantity)
    assert one.value == pytest.approx(truth, rel=NEW_VALUE if read_to else 1e-6)
    assert one.explained == pytest.approx(1.0, abs=0.03 if read_to else 1e-9)
    assert one.doubt is not None
    assert abs(one.value - truth) < 3 * one.doubt
    assert found.blamed.finding == "named"
    # Mass is no value to take from a race: a scale shows it.
    keys = [] if quantity == "mass" else [f"bike.{quantity}"]
    assert [value.key for value in found.refined] == keys
    assert found.power_s == pytest.approx(0.0, abs=1e-3)


def test_drag_area_by_the_closed_form():
    """A level road, no wind, steady speed: (1/2 rho CdA v^2 + Crr m g) v = eta P by hand."""
    watts, area, rolling, weight, density, efficiency = 250.0, 0.27, 0.004, 80 * 9.80665, 1.2, 0.975
    roots = np.roots([0.5 * density * area, 0.0, rolling * weight, -efficiency * watts])
    speed = float(roots[np.isreal(roots)].real.item())
    plain = {"bearing_drag": 0.0, "bearing_drag_slope": 0.0, "start_speed": speed}
    to = np.arange(2000.0, 10_001.0, 2000.0)
    table = RiddenTable("ridden.csv", (2, 3, 4, 5, 6), to, to / speed, np.full(5, watts), 0.01)
    found = review(ride(race(**plain)), table)
    assert alone(found, "cda").value == pytest.approx(area, rel=1e-7)
    # The same speed by rolling alone, solved for Crr in the same line.
    crr = (efficiency * watts / speed - 0.5 * density * 0.25 * speed**2) / weight
    assert alone(found, "crr").value == pytest.approx(crr, rel=1e-3)


def test_fit_and_doubt_against_other_solvers():
    """Both of scipy: its trust region from another start, its covariance by its own slopes."""
    course = out_and_back(20_000.0)
    base = ride(race(course=course, air=windy_air(4.0)))
    limits = np.linspace(0.0, 20_000.0, 9)
    even = np.full(len(base.solution.ride.middle), 250.0)
    replay = Replay(base, limits, even)
    noise = np.random.default_rng(4).normal(0.0, 2.0, 8)
    wanted = replay.times({"cda": 0.06, "wind": 0.2}) + noise
    found = fit(replay, wanted, ("cda", "wind"), 0.4)

    def times(_: FloatArray, cda: float, wind: float) -> FloatArray:
        return replay.times({"cda": cda, "wind": wind})

    best = least_squares(lambda share: times(limits, *share) - wanted, [0.3, -0.3], xtol=1e-12)
    assert found.share == pytest.approx(best.x, abs=1e-6)
    assert found.square_sum == pytest.approx(2.0 * best.cost, rel=1e-9)
    _, covariance = curve_fit(times, limits[1:], wanted, [0.0, 0.0])
    assert found.doubt == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-3)
    scale = math.sqrt(covariance[0, 0] * covariance[1, 1])
    assert found.correlation == pytest.approx(covariance[0, 1] / scale, abs=1e-3)


# --- told apart, or not ---------------------------------------------------------------------


def wind_and_area(course: Course, read_to: float) -> Review:
    stated = race(course=course, air=windy_air(4.0))
    truth = race(course=course, air=windy_air(4.8), cda=0.262)
    ends = tuple(np.linspace(0.0, 20_000.0, 9)[1:])
    return review(ride(stated), ridden(truth, read_to, ends))


@pytest.mark.parametrize("read_to", [EXACT, TO_SECONDS])
def test_wind_and_area_part_out_and_back(read_to: float):
    found = wind_and_area(out_and_back(20_000.0), read_to)
    assert found.pair is not None
    assert found.pair.apart
    area, wind = found.pair.explanations
    tolerance = NEW_VALUE if read_to else 1e-4
    assert (area.value, wind.value) == pytest.approx((0.262, 4.8), rel=tolerance)
    # Nothing on this road parts air from rolling, so neither is named.
    assert found.wrong == found.refined == ()


@pytest.mark.parametrize("read_to", [EXACT, TO_SECONDS])
def test_wind_and_area_do_not_part_one_way(read_to: float):
    found = wind_and_area(flat_course(20_000.0, bearing=0.0), read_to)
    assert found.pair is not None
    assert not found.pair.apart
    assert abs(found.pair.correlation) > 0.999
    assert found.blamed.finding in ("several", "together")
    assert found.wrong == found.refined == ()
    assert "cannot show which input was off" in headline(found)
    assert any("cannot separate CdA from wind" in line for line in found.reasons)


def test_area_and_rolling_do_not_part_on_the_flat():
    truth = race(cda=0.28)
    found = review(ride(race()), ridden(truth, ends=tuple(range(1000, 10_001, 1000))))
    assert found.pair is None
    assert found.blamed.finding in ("several", "together")
    assert found.wrong == ()
    assert any("states no wind" in line for line in found.cautions)


# --- power ----------------------------------------------------------------------------------


def test_power_explains_what_only_power_did():
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS, power=232.0)))
    assert found.power_s == pytest.approx(found.difference_s, abs=0.05)
    assert [one.rest_s for one in found.splits] == pytest.approx([0.0] * 10, abs=0.02)
    assert (found.blamed.finding, found.wrong) == ("nothing", ("power",))


def test_without_a_power_it_may_be_the_power():
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS, power=232.0), power=False))
    assert alone(found, "power").value == pytest.approx(232.0, abs=0.05)
    assert found.power_s is None
    assert (found.blamed.finding, found.wrong) == ("no power", ())
    assert all(one.rest_s == one.difference_s for one in found.splits)


def test_power_is_named_where_the_rest_cannot_be_told():
    truth = race(power=225.0, cda=0.28)
    found = review(ride(race()), ridden(truth, ends=tuple(range(1000, 10_001, 1000))))
    assert found.wrong == ("power",)
    assert "Likeliest cause: power. The splits cannot show whether" in headline(found)
    assert found.refined == ()


def test_braking_is_no_want_of_power():
    """A meter shows less on a descent with a speed limit; that is in the plan already."""
    stated = race(course=HILLS, limits=SpeedLimits(max_speed=12.5))
    found = review(ride(stated), ridden(stated))
    assert min(one.planned_w for one in found.splits) < 200.0
    assert [one.rest_s for one in found.splits] == pytest.approx([0.0] * 10, abs=0.01)
    assert found.blamed.finding == "nothing"
    assert found.wrong == ()


def test_a_power_that_limits_do_not_let_through_is_noted():
    stated = race(course=HILLS, limits=SpeedLimits(max_speed=11.0))
    table = ridden(stated)
    assert table.power is not None
    found = review(ride(stated), replace(table, power=table.power + 20.0))
    assert any("do not allow the ridden power" in line for line in found.notes)


# --- nobody is named ------------------------------------------------------------------------


@pytest.mark.parametrize("read_to", [EXACT, TO_SECONDS])
def test_a_ride_as_foretold(read_to: float):
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS), read_to))
    assert (found.blamed.finding, found.wrong) == ("nothing", ())
    assert "No input was off" in headline(found)


def test_an_error_of_the_size_of_the_models_is_none():
    """2.7 W more needed than foretold is one standard error, on a road of any kind."""
    base = ride(race(course=HILLS))
    table = ridden(race(course=HILLS, power=250.0 - MODEL_ERROR))
    assert table.power is not None
    found = review(base, replace(table, power=table.power + MODEL_ERROR))
    assert found.rest_s == pytest.approx(found.model_error_s, rel=0.05)
    assert (found.blamed.finding, found.wrong) == ("nothing", ())


def test_few_splits_name_nobody():
    found = review(
        ride(race(course=HILLS)), ridden(race(course=HILLS, cda=0.3), ends=(9000, 20_000))
    )
    assert (found.blamed.finding, found.wrong) == ("too few", ())
    assert "5 are needed" in headline(found)


def test_one_split_has_no_doubt_to_show():
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS, cda=0.3), ends=(20_000,)))
    assert alone(found, "cda").doubt is None
    assert found.wrong == ()


def test_a_stop_is_pointed_at_and_named_nobody():
    table = ridden(race(course=HILLS))
    stopped = table.elapsed + np.where(np.arange(10) >= 4, 90.0, 0.0)
    found = review(ride(race(course=HILLS)), replace(table, elapsed=stopped))
    assert found.wrong == ()
    assert any(line.startswith("Split 5 differs") for line in found.notes)


def test_scatter_alone_seldom_names_anybody():
    """By noise of 3 s on every split; each of the tests errs once in twenty (5 % level)."""
    slopes = np.array(
        [[40.0, 9], [42, 11], [15, 30], [14, 31], [41, 10], [44, 9], [38, 12], [13, 28]]
    )
    known = KnownError(1.0, np.full(8, 1.0))
    draws = np.random.default_rng(11).normal(0.0, 3.0, (1000, 8))
    named = [_linear(known, rest, slopes).finding == "named" for rest in draws]
    assert np.mean(named) < 0.07


def _linear(known: KnownError, rest: FloatArray, slopes: FloatArray):
    def fitted(*columns: int) -> InputFit:
        used = slopes[:, columns]
        share = np.linalg.lstsq(used, rest)[0]
        names = tuple(("cda", "crr")[column] for column in columns)
        return InputFit(names, share, rest - used @ share, used, known.clock_s)

    fits = {one.names: one for one in (fitted(0), fitted(1), fitted(0, 1))}
    return blame(known, rest, fits, fits["cda", "crr"])


# --- what is reviewed -----------------------------------------------------------------------


def test_a_part_of_the_course():
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS, cda=0.27), ends=ENDS[:7]))
    whole = cut_at(ride(race(course=HILLS)), np.array([0.0, 14_000.0]))[0]
    assert found.planned_s == pytest.approx(whole.time_s)
    assert any("only the ridden part" in line for line in found.notes)
    assert "to the last split" in headline(found)


def test_sums_close():
    found = review(ride(race(course=HILLS)), ridden(race(course=HILLS, cda=0.27, power=240.0)))
    assert found.difference_s == pytest.approx(found.ridden_s - found.planned_s)
    assert found.difference_s == pytest.approx((found.power_s or 0.0) + found.rest_s)
    last = found.splits[-1]
    assert (last.difference_so_far_s, last.rest_so_far_s) == (found.difference_s, found.rest_s)


def test_a_card_is_a_plan():
    base = ride(race(course=HILLS))
    card = np.where(base.solution.ride.middle < 10_000.0, 260.0, 240.0)
    found = review(base, ridden(race(course=HILLS)), card)
    assert [one.planned_w for one in found.splits[:2]] == pytest.approx([260.0, 260.0], abs=0.1)
    assert found.rest_s == pytest.approx(0.0, abs=0.02)
    assert found.plan == "the card of pace"


def test_a_table_by_yaw_has_no_single_value_to_set():
    areas = yaw_table([0.0, 10.0], [0.25, 0.245])
    found = review(
        ride(race(course=HILLS, cda=areas)), ridden(race(course=HILLS, cda=areas.plus(0.015)))
    )
    assert found.wrong == ("air resistance (CdA)",)
    assert alone(found, "cda").value == pytest.approx(0.265, rel=1e-4)
    assert found.refined == ()
    assert any("table by yaw" in line for line in found.next_race)


def test_a_finish_by_rounded_kilometres():
    table = ridden(race(course=HILLS))
    for last in (19_994.0, 20_006.0):
        to = np.array([*ENDS[:-1], last])
        found = review(ride(race(course=HILLS)), replace(table, to=to))
        assert found.to_m == found.distance_m == 20_000.0


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        (
            (9000.0, 20_500.0),
            "ridden.csv, line 3: the split ends at 20.50 km, and the course at 20.00",
        ),
        ((20_002.0, 20_006.0), "ridden.csv, line 3: two splits end at the finish or past it"),
    ],
)
def test_splits_past_the_course(ends: tuple[float, float], said: str):
    table = replace(ridden(race(course=HILLS), ends=(9000, 20_000)), to=np.array(ends))
    with pytest.raises(InputError) as caught:
        review(ride(race(course=HILLS)), table)
    assert str(caught.value).startswith(said)
    assert caught.value.remedy


def test_a_power_that_stops_the_rider_names_the_file():
    table = ridden(race(course=HILLS))
    with pytest.raises(InputError, match=r"ridden\.csv"):
        review(ride(race(course=HILLS)), replace(table, power=np.zeros(10)))


def test_power_meter_that_fell_silent_clears_nobody():
    table = ridden(race(course=HILLS))
    silent = table.power.copy()
    silent[0] = 15.0
    with pytest.raises(
        InputError, match=r"line 2: with 15 W the split would take .* where it took"
    ):
        review(ride(race(course=HILLS)), replace(table, power=silent))
