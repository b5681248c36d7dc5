"""Positions held in part: a worked example, the parts of the course, and doubt."""

import numpy as np
import pytest

from racecalc.decisions.doubt import saving_bands
from racecalc.decisions.holding import HoldingAnswer, Turns, held_share
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.value import OptionValue, value_of
from racecalc.decisions.worth import worth_of
from racecalc.domain.option import Holding, Option, PowerLoss, read_power_loss, read_saving
from racecalc.domain.race import Change, Doubts
from racecalc.errors import InputError
from racecalc.quantities.measured import QuantityError
from tests.builders import TEN_MILES, flat_course, graded_course, race, reference_race, steady_start

# An independent implementation's numbers: 10 miles at 262 W and 81 kg in all, drag area 0.243 m^2
# held before, 0.231 m^2 in the new position and 0.262 m^2 sitting up; seconds saved by the share
# of the distance. Shares of the distance are turned into shares of the time below.
OLD, LOW, UP = 0.243, 0.231, 0.262
BY_DISTANCE = {1.0: 22.4, 0.9: 16.8, 0.8: 11.1, 0.7: 5.5}
PRINTED = 0.1
"""The last digit printed, the seconds being differences of times rounded like it."""

LONG = 20
"""That implementation holds steady speeds. On so many times the course, the seconds divided by
as many, what the start takes to reach the new speed has lost its weight."""


def low_position(*shares: float, **holding: object) -> Option:
    return Option(
        "low pads",
        saves=read_saving(f"{OLD - LOW:.3f} m^2"),
        doubt=read_saving("0.002 m^2"),
        holding=Holding(shares or (1.0,), otherwise=read_saving(f"{OLD - UP:.3f} m^2"), **holding),
    )


@pytest.fixture(scope="module")
def base() -> Ridden:
    return ride(reference_race(course=flat_course(LONG * TEN_MILES)))


def answer(base: Ridden, option: Option) -> tuple[OptionValue, HoldingAnswer]:
    value = value_of(base, option)
    assert value.holding is not None
    return value, value.holding


def time_share(base: Ridden, distance_share: float) -> float:
    fast, slow = (base.changed(Change(cda=area - OLD)).time for area in (LOW, UP))
    return distance_share * fast / (distance_share * fast + (1 - distance_share) * slow)


@pytest.mark.parametrize("share", BY_DISTANCE)
def test_seconds_by_the_share_of_the_course(base: Ridden, share: float):
    value = value_of(base, low_position(time_share(base, share)))
    assert value.saved_s / LONG == pytest.approx(BY_DISTANCE[share], abs=PRINTED)


def test_break_even_share_and_power(base: Ridden):
    """Break-even hold about 60 % of the distance, break-even loss about 11 W."""
    _, found = answer(base, low_position(0.8))
    assert found.break_even_course == pytest.approx(0.60, abs=0.01)
    assert found.break_even_time == pytest.approx(time_share(base, 0.60), abs=0.01)
    assert found.break_even_power_w == pytest.approx(11.0, abs=0.5)
    assert found.full_s / LONG == pytest.approx(22.4, abs=PRINTED)


def test_at_the_break_even_nothing_is_saved(base: Ridden):
    _, found = answer(base, low_position(0.8))
    assert found.break_even_time is not None
    assert worth_of(base, low_position(found.break_even_time)).saved_s == pytest.approx(0, abs=0.02)
    assert found.break_even_power_w is not None
    paying = low_position(1.0, power_loss=PowerLoss(watts=found.break_even_power_w))
    assert value_of(base, paying).saved_s == pytest.approx(0.0, abs=1e-4)


def test_the_table_agrees_with_solving_each_cell(base: Ridden):
    _, found = answer(base, low_position(0.8))
    for loss, row in zip(found.losses_w, found.table, strict=True):
        for share, seconds in zip(found.held, row, strict=True):
            option = low_position(share, power_loss=PowerLoss(watts=loss))
            # The loss counts with its mean there, and while it is held here.
            assert worth_of(base, option).saved_s / LONG == pytest.approx(seconds / LONG, abs=0.35)
    first = found.table[0]
    assert list(first) == sorted(first, reverse=True)


def test_a_list_of_shares_goes_from_start_to_finish():
    """Held on the windy half it saves more than held on the climb."""
    course = graded_course((5000.0, 0.0), (5000.0, 0.07))
    base = ride(steady_start(race(course=course)))
    first, last = (
        worth_of(base, Option("low", saves=read_saving("0.01 m^2"), holding=Holding(shares)))
        for shares in ((1.0, 0.0), (0.0, 1.0))
    )
    assert first.saved_s > 2.0 * last.saved_s > 0
    held, up = base.changed(Change(cda=-0.01)), base
    part = base.solution.ride.middle < 5000.0
    by_hand = np.sum(held.solution.step_time[part]) + np.sum(up.solution.step_time[~part])
    assert Turns.of(held, up).time((1.0, 0.0)) == pytest.approx(float(by_hand))


def test_on_an_even_course_it_does_not_matter_where_it_is_held(base: Ridden):
    _, steady = answer(base, low_position(0.8))
    _, fading = answer(base, low_position(1.0, 0.6))
    assert held_share(Holding((1.0, 0.6))) == pytest.approx(0.8)
    assert fading.break_even_time == pytest.approx(steady.break_even_time, abs=0.02)


def test_always_held_is_the_option_itself(base: Ridden):
    plain = Option("low pads", saves=read_saving("0.012 m^2"), doubt=read_saving("0.002 m^2"))
    held = low_position(1.0)
    assert value_of(base, held).saved_s == value_of(base, plain).saved_s
    assert value_of(base, plain).holding is None


def test_it_never_pays_and_always_pays(base: Ridden):
    hopeless = low_position(0.8, power_loss=PowerLoss(watts=20.0))
    _, found = answer(base, hopeless)
    assert found.break_even_time is None
    harmless = Option("low", saves=read_saving("0.012 m^2"), holding=Holding((0.5,)))
    _, found = answer(base, harmless)
    assert found.break_even_time == 0.0


def test_the_doubt_counts_as_far_as_it_is_held(base: Ridden):
    full, half = (worth_of(base, low_position(share)) for share in (1.0, 0.5))
    assert full.doubt_s is not None
    assert half.doubt_s == pytest.approx(0.5 * full.doubt_s, rel=0.1)


def test_draws_of_all_doubts_hold_it_as_long():
    base = ride(reference_race(doubts=Doubts(cda=0.004)))
    option = low_position(0.8)
    band = saving_bands(base, [option], draws=4000)[0]
    worth = worth_of(base, option)
    assert band.saved_s == pytest.approx(worth.saved_s)
    assert band.spread.standard_deviation_s == pytest.approx(worth.doubt_s, rel=0.1)


def test_parts_add_up_with_a_loss_of_power(base: Ridden):
    value = value_of(base, low_position(0.9, power_loss=PowerLoss(share=0.01)))
    parts = (value.aero_s, value.rolling_s, value.drivetrain_s, value.mass_s, value.power_s)
    assert sum(parts) == pytest.approx(value.saved_s)
    assert value.power_s < 0


def test_a_loss_that_leaves_hardly_any_power(base: Ridden):
    """The solver cuts its steps for a rider who is so slow; the rides are compared all the same."""
    hilly = ride(race(course=graded_course((2000.0, 0.0), (500.0, 0.08)), power=40.0))
    option = low_position(0.8, power_loss=PowerLoss(share=0.95))
    value = value_of(hilly, option)
    assert value.holding is not None
    assert value.saved_s < 0


def test_a_loss_that_leaves_none_is_named(base: Ridden):
    with pytest.raises(InputError, match=r"option low pads, a change of .*-300 W: leaves an"):
        value_of(base, low_position(1.0, power_loss=PowerLoss(watts=300.0)))


@pytest.mark.parametrize(("text", "loss"), [("4 W", 4.0), ("1.5 %", 3.93), ("-2 W", -2.0)])
def test_reading_a_loss_of_power(text: str, loss: float):
    assert read_power_loss(text).of(262.0) == pytest.approx(loss)


@pytest.mark.parametrize("text", ["4", "100 %", "a little", "3 km"])
def test_what_is_no_loss_of_power(text: str):
    with pytest.raises(QuantityError):
        read_power_loss(text)


@pytest.mark.parametrize("shares", [(), (1.2,), (-0.1, 0.5)])
def test_shares_lie_between_nothing_and_all(shares: tuple[float, ...]):
    with pytest.raises(ValueError, match="shares must lie between 0 and 1"):
        Holding(shares)
