"""Days of weather: what is drawn, what a forecast foretells, and what is ridden in it."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from racecalc.decisions.doubt import moved_air, wind_shift
from racecalc.decisions.race_day import ridden_on
from racecalc.decisions.riding import ride
from racecalc.decisions.weather import (
    Day,
    drawn_about,
    forecast_days,
    gust_at_rider,
    stated_day,
    under_forecast,
    weather_doubts,
    with_tests,
)
from racecalc.decisions.worth import worth_of
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Air, Doubts, Race, Wind
from racecalc.errors import InputError
from racecalc.files.race_file import Assumption
from racecalc.files.table_kinds import ForecastTable, read_forecast
from tests.builders import (
    flat_course,
    out_and_back,
    race,
    reference_density,
    steady_start,
    still_air,
    windy_air,
)

FORECAST_WIND = Wind(speed=5.0, direction=math.radians(250), height=10.0, terrain="open fields")
SEA_AIR = Air(
    temperature=289.15, pressure=100_900.0, humidity=0.75, wind=FORECAST_WIND, altitude=0.0
)
USUAL = Doubts(wind_speed=1.2, wind_from=math.radians(20), temperature=2.0, pressure=400.0)


def short(**changes: object) -> Race:
    """Four flat kilometres out and back along a meridian, in few steps."""
    return race(**{"course": out_and_back(4000.0), "step": 100.0, **changes})


def forecast(folder: Path, text: str) -> ForecastTable:
    path = folder / "hours.csv"
    path.write_text(text, encoding="utf-8")
    return read_forecast(path)


def polar(days: tuple[Day, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Speed with its sign and turn of each day against the stated wind, in m/s and rad."""
    turn = np.array([day.air.wind.direction for day in days]) - FORECAST_WIND.direction
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    back = np.abs(turn) > np.pi / 2
    speed = np.array([day.air.wind.speed for day in days]) * np.where(back, -1.0, 1.0)
    return speed, np.where(back, turn - np.pi * np.sign(turn), turn)


def test_drawn_days_have_the_stated_means_and_spreads() -> None:
    course = short(air=SEA_AIR, doubts=USUAL)
    days = drawn_about([stated_day(course)], course, 400, 1)
    speed, turn = polar(days)
    air = [day.air for day in days]
    for found, mean, spread in (
        (speed, 5.0, USUAL.wind_speed),
        (turn, 0.0, USUAL.wind_from),
        (np.array([one.temperature for one in air]), SEA_AIR.temperature, USUAL.temperature),
        (np.array([one.pressure for one in air]), SEA_AIR.pressure, USUAL.pressure),
    ):
        # Strata hold the mean to some hundredths of what independent draws would miss it by.
        assert np.mean(found) == pytest.approx(mean, abs=0.01 * spread)
        assert np.std(found) == pytest.approx(spread, rel=0.02)
    assert len({day.name for day in days}) == 400
    assert np.corrcoef(speed, turn)[0, 1] == pytest.approx(0.0, abs=0.15)


def test_a_turn_is_clockwise_and_a_negative_speed_is_the_other_side() -> None:
    for speed, turn, expected in ((5.0, 0.3, 0.3), (5.0, -0.3, -0.3), (-2.0, 0.3, 0.3 - math.pi)):
        shift = wind_shift(5.0, speed - 5.0, turn)
        wind = moved_air(SEA_AIR, {axis: float(one) for axis, one in shift.items()}).wind
        assert wind.speed == pytest.approx(abs(speed))
        assert wind.direction - FORECAST_WIND.direction == pytest.approx(expected)


def test_a_speed_drawn_below_nothing_turns_the_wind_round() -> None:
    calm = replace(SEA_AIR, wind=replace(FORECAST_WIND, speed=0.0))
    course = short(air=calm, doubts=Doubts(wind_speed=1.0))
    days = drawn_about([stated_day(course)], course, 200, 1)
    back = [math.cos(day.air.wind.direction - FORECAST_WIND.direction) < 0 for day in days]
    assert np.mean(back) == pytest.approx(0.5)
    assert min(day.air.wind.speed for day in days) >= 0


def test_the_seed_repeats_the_days_and_another_gives_others() -> None:
    course = short(air=SEA_AIR, doubts=USUAL)
    drawn = [drawn_about([stated_day(course)], course, 20, seed) for seed in (1, 1, 2)]
    assert drawn[0] == drawn[1] != drawn[2]


def test_one_doubt_is_drawn_alike_whatever_else_is_stated() -> None:
    alone, both = (
        drawn_about([stated_day(course)], course, 20, 1)
        for course in (
            short(air=SEA_AIR, doubts=Doubts(temperature=2.0)),
            short(air=SEA_AIR, doubts=USUAL),
        )
    )
    assert [day.air.temperature for day in alone] == [day.air.temperature for day in both]


def test_only_doubts_of_the_weather_make_days() -> None:
    course = short(air=windy_air(3.0), doubts=Doubts(power=5.0, temperature=2.0))
    assert weather_doubts(course) == {}
    assert drawn_about([stated_day(course)], course, 20, 1) == ()


def test_doubts_that_reach_to_no_air_are_refused() -> None:
    course = short(air=still_air(0.5), doubts=Doubts(density=0.3))
    with pytest.raises(InputError, match="density must be positive"):
        drawn_about([stated_day(course)], course, 200, 1)


def test_rows_of_a_forecast_get_the_same_draws(tmp_path: Path) -> None:
    course = short(air=SEA_AIR, doubts=Doubts(temperature=2.0))
    text = (
        "time,wind_speed [m/s],wind_from [deg],temperature [degC]\n8:00,3,200,12\n9:00,4,210,20\n"
    )
    rows = forecast_days(course, forecast(tmp_path, text))
    days = drawn_about(rows, course, 10, 1)
    early, late = days[:10], days[10:]
    assert [day.row for day in days] == [0] * 10 + [1] * 10
    assert {day.name for day in late} == {"9:00"}
    np.testing.assert_allclose(
        [b.air.temperature - a.air.temperature for a, b in zip(early, late, strict=True)], 8.0
    )


def test_a_forecast_replaces_what_it_states_and_keeps_the_rest(tmp_path: Path) -> None:
    text = (
        "time,wind_speed [m/s],wind_from [deg],gust [m/s],temperature [degC],"
        "sea_level_pressure [hPa],dew_point [degC]\n8:00,3,200,10,12,1012,5\n9:00,4,210,,,,\n"
    )
    course = short(air=SEA_AIR)
    first, second = forecast_days(course, forecast(tmp_path, text), gust=8.0)
    air = first.air
    assert (air.temperature, air.dew_point) == pytest.approx((285.15, 278.15))
    assert (air.pressure, air.pressure_at_sea_level) == (pytest.approx(101_200.0), True)
    assert air.wind == replace(FORECAST_WIND, speed=3.0, direction=math.radians(200))
    assert second.air == replace(
        SEA_AIR, wind=replace(FORECAST_WIND, speed=4.0, direction=math.radians(210))
    )
    # Log law from 10 m to 1 m above 0.03 m: ln(1/0.03)/ln(10/0.03) = 0.60364, by hand.
    assert first.gust == pytest.approx(10 * 0.60364, rel=1e-4)
    assert second.gust == pytest.approx(8 * 0.60364, rel=1e-4)


def test_the_humidity_of_a_forecast_replaces_the_dew_point_of_the_race(tmp_path: Path) -> None:
    text = "time,wind_speed [m/s],wind_from [deg],humidity [%]\n8:00,3,200,60\n"
    (day,) = forecast_days(short(air=replace(SEA_AIR, dew_point=280.0)), forecast(tmp_path, text))
    assert (day.air.humidity, day.air.dew_point) == (0.6, None)


def test_a_gust_rises_with_the_mean_wind_and_does_not_fall() -> None:
    course = short(air=SEA_AIR, doubts=Doubts(wind_speed=1.2))
    days = drawn_about([stated_day(course, 9.0)], course, 40, 1)
    usual = gust_at_rider(SEA_AIR, 9.0)
    assert usual is not None
    mean = stated_day(course).wind_at_rider_m_s
    for day in days:
        assert day.gust == pytest.approx(usual + max(0.0, day.wind_at_rider_m_s - mean))


def test_where_no_gust_is_known_it_reaches_the_mean_wind() -> None:
    assert Day("calm", windy_air(6.0)).least_gust == 6.0
    assert Day("gusty", windy_air(6.0), gust=9.0).least_gust == 9.0


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"course": flat_course(4000.0), "air": Air()}, "has no bearings"),
        ({"air": still_air()}, "temperature, dew_point: the race states air.density itself"),
    ],
)
def test_forecasts_that_a_race_cannot_take(tmp_path: Path, changes: dict, said: str) -> None:
    heading = "time,wind_speed [m/s],wind_from [deg],temperature [degC],dew_point [degC]"
    text = f"{heading}\n8:00,3,200,12,9\n"
    with pytest.raises(InputError, match=said):
        forecast_days(short(**{"air": SEA_AIR, **changes}), forecast(tmp_path, text))


def test_a_dew_point_above_the_temperature_of_the_race_names_its_line(tmp_path: Path) -> None:
    text = "time,wind_speed [m/s],wind_from [deg],dew_point [degC]\n8:00,3,200,9\n9:00,3,200,17\n"
    with pytest.raises(InputError, match=r"hours.csv, line 3: the dew point lies above"):
        forecast_days(short(air=SEA_AIR), forecast(tmp_path, text))


def test_assumptions_that_a_forecast_replaces_are_gone(tmp_path: Path) -> None:
    keys = ("air.temperature", "air.humidity", "air.sea_level_pressure", "air.terrain")
    assumed = tuple(Assumption(key, "some", "assumed") for key in keys)
    text = "time,wind_speed [m/s],wind_from [deg],pressure [hPa],dew_point [degC]\n8:00,3,0,999,9\n"
    left = under_forecast(short(assumptions=assumed), forecast(tmp_path, text)).assumptions
    assert [one.key for one in left] == ["air.temperature", "air.terrain"]


@pytest.mark.xdist_group("CoolProp")
def test_the_time_of_a_day_is_that_of_its_air_by_the_reference_equation() -> None:
    """Density by CoolProp's humid air, the race solved again from its start at that density."""
    calm = replace(SEA_AIR, wind=Wind(follows_rider=True))
    course = race(
        air=calm,
        course=flat_course(10_000.0),
        step=100.0,
        doubts=Doubts(temperature=6.0, pressure=1500.0),
    )
    days = drawn_about([stated_day(course)], course, 5, 1)
    times = ridden_on(days, ride(course), ()).times
    for day, time in zip(days, times, strict=True):
        air = day.air
        density = reference_density(air.temperature, air.pressure, air.humidity)
        again = ride(replace(course, air=still_air(density)))
        assert time == pytest.approx(again.time, rel=3e-5)
    assert np.ptp(times) > 10.0


def test_wind_out_and_back_costs_what_it_is_known_to_cost(tmp_path: Path) -> None:
    """40 km out and back at 250 W in 4 m/s against calm: 131 s.

    Source: an independent calculation for the second rider of tests/published/riders.toml, with
    a steady speed on each half. A hundred such courses in one leave the kinetic energy of start
    and turn, 4 s, a hundredth of its weight; half a second is half of the last digit.
    """
    course = steady_start(
        race(
            course=out_and_back(100 * 40_000.0),
            step=5000.0,
            rider_mass=75.0,
            cda=0.240,
            crr=0.0035,
        )
    )
    text = "time,wind_speed [m/s],wind_from [deg]\n8:00,0,0\n9:00,4,0\n"
    days = forecast_days(course, forecast(tmp_path, text))
    calm, windy = ridden_on(days, ride(course), ()).times
    assert (windy - calm) / 100 == pytest.approx(131.0, abs=0.55)


def test_options_are_worth_what_they_are_in_the_race_of_that_day() -> None:
    suit = Option("suit", saves=read_saving("0.006 m^2"))
    course = short(air=SEA_AIR, doubts=USUAL)
    base = ride(course)
    days = drawn_about([stated_day(course)], course, 3, 1)
    found = ridden_on(days, base, with_tests([suit], base))
    for day, time, (saved,) in zip(days, found.times, found.savings, strict=True):
        there = ride(replace(course, air=day.air))
        assert time == pytest.approx(there.time, abs=1e-6)
        assert saved == pytest.approx(worth_of(there, suit).saved_s, abs=1e-6)


def test_an_error_on_a_day_names_the_day() -> None:
    course = short(air=windy_air(1.0))
    with pytest.raises(InputError, match=r"17:00, option balloon, .*: leaves an impossible bike"):
        ridden_on([Day("17:00", course.air)], ride(course), (Option("balloon", mass=-200.0),))
