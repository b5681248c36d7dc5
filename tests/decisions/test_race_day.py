"""Who wins on which day, what keeping to a choice loses, and what gusts rule out."""

from collections.abc import Sequence

import numpy as np
import pytest

from racecalc.decisions.allowed import FORBIDDEN
from racecalc.decisions.doubt import time_band
from racecalc.decisions.race_day import NOTHING_NEW, DayNumbers, RaceDay, race_day, ridden_on
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.decisions.weather import (
    GUST_CAUTION,
    GUST_TOO_STRONG,
    HOT,
    Day,
    drawn_about,
    stated_day,
)
from racecalc.domain.option import Option, Restrictions, read_saving
from racecalc.domain.race import Air, Doubts
from racecalc.domain.trial import Runs
from tests.builders import out_and_back, race, windy_air

CATCHES = Restrictions(catches_wind=True)


def base(wind: float = 3.0) -> Ridden:
    """Four flat kilometres out and back along a meridian, in few steps."""
    course = out_and_back(4000.0)
    return ride(race(course=course, step=100.0, air=windy_air(wind)))


BASE = base()


def made_up(options: Sequence[Option], savings: object, **of_day: object) -> RaceDay:
    """The answer for savings [s] written down, one row a day; `of_day` are lists by day."""
    table = np.asarray(savings, dtype=float)
    days = []
    for number in range(len(table)):
        fields = {name: values[number] for name, values in of_day.items()}
        days.append(
            Day(**{"name": f"day {number + 1}", "air": BASE.race.air, "drawn": True, **fields})
        )
    times = np.full(len(days), BASE.time)
    return race_day(BASE, options, DayNumbers.of_options(options, days, times, table))


def wheel(name: str, **fields: object) -> Option:
    return Option(name, slot="wheel", saves=read_saving("0.002 m^2"), **fields)


PAIR = (wheel("deep"), wheel("mid"))


def choices(found: RaceDay, slot: str = "wheel") -> dict[str, tuple[float, float, float]]:
    """Share of wins, mean and worst regret of each choice of a slot."""
    (one,) = (one for one in found.slots if one.slot == slot)
    return {
        choice.name: (choice.share_best, choice.mean_regret_s, choice.worst_regret_s)
        for choice in one.choices
    }


def test_shares_and_regrets_by_hand() -> None:
    """Best: 6, 4, 0, 5. Lost by nothing 6 4 0 5, by deep 0 3 2 8, by mid 2 0 1 0."""
    found = made_up(PAIR, [(6, 4), (1, 4), (-2, -1), (-3, 5)])
    by_name = choices(found)
    assert by_name[NOTHING_NEW] == pytest.approx((0.25, 3.75, 6.0))
    assert by_name["deep"] == pytest.approx((0.25, 3.25, 8.0))
    assert by_name["mid"] == pytest.approx((0.5, 0.75, 2.0))
    (slot,) = found.slots
    assert (slot.least_mean.name, slot.least_worst.name, slot.settled) == ("mid", "mid", False)
    assert {choice.name: choice.worst_day.name for choice in slot.choices} == {
        NOTHING_NEW: "day 1",
        "deep": "day 4",
        "mid": "day 1",
    }
    deep, mid = found.options
    assert (deep.share_best, deep.share_faster) == (0.25, 0.5)
    assert (mid.share_best, mid.share_faster) == (0.5, 0.75)
    assert (deep.median_s, deep.lowest_s, deep.highest_s) == (-0.5, -3.0, 6.0)


def test_least_on_average_and_least_at_worst_may_differ() -> None:
    (slot,) = made_up(PAIR, [(9, 5)] * 4 + [(0, 5)]).slots
    assert (slot.least_mean.name, slot.least_worst.name) == ("deep", "mid")


def test_what_wins_every_day_has_nothing_to_regret() -> None:
    found = made_up(PAIR, [(6, 4), (5, 4), (9, -1)])
    assert choices(found)["deep"] == (1.0, 0.0, 0.0)
    assert found.slots[0].settled


def test_shares_sum_to_one_and_no_regret_is_negative() -> None:
    savings = np.random.default_rng(7).normal(0.0, 5.0, (60, 3))
    options = (*PAIR, Option("chain", saves=read_saving("0.001 m^2")))
    found = made_up(options, savings)
    for slot in found.slots:
        assert sum(choice.share_best for choice in slot.choices) == pytest.approx(1.0)
        for choice in slot.choices:
            assert 0 <= choice.mean_regret_s <= choice.worst_regret_s
    assert [slot.slot for slot in found.slots] == ["wheel", "chain"]


def test_an_option_that_changes_nothing_never_wins_and_loses_nothing() -> None:
    found = made_up(PAIR, [(0, -1), (0, -2)])
    assert choices(found)["deep"] == (0.0, 0.0, 0.0)
    assert choices(found)[NOTHING_NEW] == (1.0, 0.0, 0.0)
    assert found.options[0].share_faster == 0.0


def test_what_the_rules_forbid_never_wins() -> None:
    forbidden = wheel("deep", restrictions=Restrictions(rules="forbidden"))
    found = made_up((forbidden, PAIR[1]), [(9, 4), (9, -4)])
    assert choices(found) == {NOTHING_NEW: (0.5, 2.0, 4.0), "mid": (0.5, 2.0, 4.0)}
    assert (found.options[0].share_best, found.options[0].share_faster) == (0.0, 1.0)
    assert [option.barred for option in found.options] == [FORBIDDEN, ""]


def test_gusts_exclude_what_catches_the_wind_from_the_limit_on() -> None:
    options = (wheel("deep", restrictions=CATCHES), PAIR[1])
    gusts = [GUST_CAUTION, GUST_TOO_STRONG - 0.1, GUST_TOO_STRONG, None]
    found = made_up(options, [(9, 4)] * 4, gust=gusts)
    assert found.options[0].share_ruled_out == 0.25
    assert choices(found)["deep"] == (0.75, 1.0, 4.0)
    assert choices(found)["mid"][0] == 0.25
    too_strong, strong, unknown = found.cautions
    assert (
        "14 m/s (50 km/h, 31 mph) or more at the rider on 1 of 4 days: deep cannot be chosen then"
        in too_strong
    )
    assert (
        "11 m/s (40 km/h, 25 mph) or more at the rider on 2 of 4 days: take care with deep"
        in strong
    )
    assert "Gusts are unknown on 1 of 4 days" in unknown


def test_what_needs_an_excluded_option_is_excluded_with_it() -> None:
    """On the day of gusts the fairing has no wheel to sit on; by the rules it never has."""
    fairing = Option("fairing", restrictions=Restrictions(needs=("deep",)))
    deep = wheel("deep", restrictions=CATCHES)
    found = made_up((deep, fairing), [(5.0, 6.0), (5.0, 6.0)], gust=[2.0, GUST_TOO_STRONG])
    assert {one.name: one.share_ruled_out for one in found.options} == {"deep": 0.5, "fairing": 0.5}
    banned = wheel("deep", restrictions=Restrictions(rules="forbidden"))
    found = made_up((banned, fairing), [(5.0, 6.0)])
    assert [one.barred for one in found.options] == [
        FORBIDDEN,
        "it needs deep, which cannot be chosen",
    ]


def test_a_mean_wind_above_the_limit_excludes_without_a_known_gust() -> None:
    found = made_up(
        (wheel("deep", restrictions=CATCHES),), [(9,)], air=[windy_air(GUST_TOO_STRONG)]
    )
    assert choices(found)["deep"][0] == 0.0


def test_options_that_are_not_marked_are_pointed_at_in_gusts() -> None:
    (too_strong, unmarked) = made_up(PAIR, [(9, 4)], gust=[20.0]).cautions
    assert "leave deep wheels and full shrouds at home" in too_strong
    assert "No option is marked catches_wind = true" in unmarked
    assert made_up(PAIR, [(9, 4)], gust=[GUST_CAUTION - 0.1]).cautions == ()


def test_heat_is_pointed_at_where_the_temperature_is_known() -> None:
    airs = [Air(temperature=HOT + 0.1), Air(temperature=HOT), Air(temperature=310.0, density=1.1)]
    (hot,) = made_up(PAIR, [(9, 4)] * 3, air=airs).cautions
    assert hot.startswith("Warmer than 28 degC (82 degF) on 1 of 3 days: power falls")


def test_rows_of_a_forecast_stand_against_the_first_and_are_paired() -> None:
    rows = [Day(name, windy_air(wind), row=row) for row, (name, wind) in enumerate(STARTS)]
    course = race(
        course=out_and_back(4000.0), step=100.0, air=windy_air(3.0), doubts=Doubts(density=0.02)
    )
    there = ride(course)
    days = [*rows, *drawn_about(rows, course, 10, 1)]
    found = race_day(there, (), ridden_on(days, there, ()))
    first, second = found.starts
    assert (found.days, first.against_first_s) == (20, 0.0)
    assert first.against_first is not None
    assert first.against_first.standard_deviation_s == 0.0
    # Each solved for itself has nodes of its own, in steps of 100 m.
    assert second.against_first_s == pytest.approx(base(6.0).time - base(1.0).time, rel=1e-3)
    # The air is the same at both hours, so the difference is far surer than either time.
    assert first.time is not None
    assert second.against_first is not None
    assert 0 < second.against_first.standard_deviation_s < 0.5 * first.time.standard_deviation_s


STARTS = (("8:00", 1.0), ("15:00", 6.0))


def test_without_doubts_the_rows_are_the_days() -> None:
    rows = [Day(name, windy_air(wind), row=row) for row, (name, wind) in enumerate(STARTS)]
    options = (wheel("deep", restrictions=CATCHES),)
    found = race_day(BASE, options, ridden_on(rows, BASE, options))
    assert (found.days, found.share_error) == (2, None)
    assert (found.fastest.day.name, found.slowest.day.name) == ("8:00", "15:00")
    assert [start.time for start in found.starts] == [None, None]
    assert found.slots[0].best_by_start == ("deep", "deep")
    assert found.cautions[0].startswith("Gusts are unknown in 2 of 2 rows (8:00, 15:00)")


def solved(course_wind: float, from_degrees: float, options: Sequence[Option]) -> RaceDay:
    course = race(
        course=out_and_back(4000.0),
        step=100.0,
        air=windy_air(course_wind, from_degrees),
        doubts=Doubts(wind_speed=1.5),
    )
    there = ride(course)
    days = drawn_about([stated_day(course)], course, 30, 1)
    return race_day(there, options, ridden_on(days, there, options))


def test_a_plain_saving_beats_nothing_on_every_day() -> None:
    (suit,) = solved(3.0, 30.0, (Option("suit", saves=read_saving("0.005 m^2")),)).options
    assert (suit.share_best, suit.share_faster) == (1.0, 1.0)
    assert 0 < suit.lowest_s <= suit.low_80_s < suit.median_s < suit.high_80_s <= suit.highest_s


def sweep() -> Runs:
    """A wheel that is slower straight ahead and faster from some 6 degrees of yaw on."""
    degrees = [0.0, 5.0, 10.0, 15.0] * 2
    areas = {"mid": [0.240] * 4, "deep": [0.243, 0.241, 0.237, 0.233]}
    yaw = np.radians(degrees * 2)
    values = np.array([*areas["mid"], *areas["mid"], *areas["deep"], *areas["deep"]])
    scatter = np.where(np.arange(16) % 8 < 4, 0.0003, -0.0003)
    return Runs(
        source="tunnel.csv",
        measure="cda",
        item=("mid",) * 8 + ("deep",) * 8,
        rider=("",) * 16,
        session=("1",) * 16,
        order=np.arange(16.0),
        value=values + scatter,
        speed=np.full(16, np.nan),
        density=np.full(16, np.nan),
        yaw=yaw,
        note=("",) * 16,
        line=tuple(range(2, 18)),
    )


def test_a_deep_wheel_wins_more_often_in_more_cross_wind() -> None:
    deep = Option("deep", slot="wheel", trial=sweep(), trial_item="deep", trial_baseline="mid")
    assert sweep().is_sweep
    calm, some, much = (solved(wind, 90.0, (deep,)).options[0] for wind in (0.5, 1.8, 5.0))
    assert calm.share_best < some.share_best < much.share_best
    assert calm.median_s < 0 < much.median_s
    # Straight ahead however hard it blows there is no yaw to live on.
    assert solved(5.0, 0.0, (deep,)).options[0].share_best == 0.0


def test_sets_that_were_tested_as_one_stand_apart() -> None:
    both = Option("both", set_of=("deep", "mid"), saves=read_saving("0.003 m^2"))
    course = race(options=(*PAIR, both))
    assert course.single_options == PAIR
    assert course.tested_sets == (both,)


def test_ranges_are_of_the_days_on_which_gusts_allow_it() -> None:
    """Ruled out on the day of 32 s: what it would have saved then is no end of its range."""
    options = (wheel("deep", restrictions=CATCHES), PAIR[1])
    found = made_up(options, [(5, 4), (7, 4), (32, 4)], gust=[5.0, 5.0, GUST_TOO_STRONG])
    deep, mid = found.options
    assert (deep.lowest_s, deep.median_s, deep.highest_s) == (5.0, 6.0, 7.0)
    assert deep.high_80_s == pytest.approx(6.8)
    assert (deep.share_faster, deep.share_ruled_out) == (1.0, pytest.approx(1 / 3))
    assert (mid.lowest_s, mid.highest_s) == (4.0, 4.0)


def test_what_gusts_always_rule_out_has_no_range() -> None:
    (deep,) = made_up(
        (wheel("deep", restrictions=CATCHES),), [(9,)], gust=[GUST_TOO_STRONG]
    ).options
    assert (deep.median_s, deep.low_80_s, deep.highest_s, deep.share_faster) == (None,) * 4
    assert deep.share_ruled_out == 1.0


def test_what_is_worth_less_than_its_owner_wants_never_wins() -> None:
    wanted, enough = (
        wheel("deep", restrictions=Restrictions(least_gain=watts)) for watts in (5.0, 1.0)
    )
    assert "5 W you want" in solved(3.0, 30.0, (wanted,)).options[0].barred
    assert solved(3.0, 30.0, (wanted,)).options[0].share_best == 0.0
    assert solved(3.0, 30.0, (enough,)).options[0].share_best == 1.0


def test_a_share_is_as_sure_as_its_draws() -> None:
    """Half of 100 draws: 1.96 x sqrt(0.5 x 0.5 / 100) = 9.8 points; never less than one draw."""
    half = made_up(PAIR[:1], [(1.0,), (-1.0,)] * 50)
    assert half.share_error == pytest.approx(0.098, abs=1e-4)
    assert made_up(PAIR[:1], [(1.0,)] * 50).share_error == pytest.approx(0.02)


def test_own_doubt_stays_out_of_the_shares() -> None:
    doubtful, sure = (
        wheel(name, doubt=read_saving(doubt))
        for name, doubt in (("doubtful", "0.004 m^2"), ("sure", "0.0001 m^2"))
    )
    (one,), (other,) = (solved(3.0, 30.0, (option,)).options for option in (doubtful, sure))
    assert one.share_faster == other.share_faster == 1.0
    # Half a standard uncertainty above nothing: 69 % by the normal distribution.
    assert one.chance_faster == pytest.approx(0.691, abs=0.005)
    assert other.chance_faster == pytest.approx(1.0)


def test_full_solves_spread_as_the_draws_through_the_fitted_surface() -> None:
    """Less the error of the model, which no day of weather has: s^2 = band^2 - (2.7 W x T')^2."""
    doubts = Doubts(wind_speed=0.8, wind_from=0.3, density=0.015)
    course = race(
        course=out_and_back(20_000.0), air=windy_air(3.0, 30.0), step=200.0, doubts=doubts
    )
    there = ride(course)
    days = drawn_about([stated_day(course)], course, 200, 1)
    found = race_day(there, (), ridden_on(days, there, ())).time
    band = time_band(there).spread
    model = MODEL_ERROR * there.time_by_power
    expected = np.sqrt(band.standard_deviation_s**2 - model**2)
    assert found.standard_deviation_s == pytest.approx(expected, rel=0.05)
    assert found.median_s == pytest.approx(band.median_s, abs=0.1 * expected)
