"""Each rate against whole solutions of the race changed by hand, both ways."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import Rate, rates
from racecalc.domain.race import Air, Race, Wind
from racecalc.motion.solver import solve
from tests.builders import flat_course, graded_course, profile_course, race, yaw_table

RELATIVE = 1e-6
"""Central differences over small changes leave 1e-8 of curvature and of rounding."""

WIND = Wind(speed=5.0, direction=np.radians(250.0), height=10.0, terrain="open fields")
WEATHER = Air(temperature=291.0, pressure=99_500.0, altitude=120.0, humidity=0.6, wind=WIND)
COURSE = graded_course(
    (900.0, 0.02),
    (700.0, -0.025),
    (1100.0, 0.03),
    (800.0, -0.02),
    bearing=[0.2, 1.4, 2.6, 4.4],
    shelter=[1.0, 0.5, 1.0, 0.8],
    roughness=[1.0, 1.3, 1.0, 2.0],
)
RACES = {
    "station pressure": race(course=COURSE, air=WEATHER),
    "sea-level pressure": race(course=COURSE, air=replace(WEATHER, pressure_at_sea_level=True)),
    "dew point": race(course=COURSE, air=replace(WEATHER, dew_point=283.0)),
    "wind from the rider's side": race(
        course=COURSE,
        air=replace(WEATHER, wind=Wind(speed=2.0, direction=0.5, follows_rider=True)),
        cda=yaw_table([0, 40], [0.25, 0.22]),
    ),
    "power at the hub, fluid drunk": replace(
        race(course=COURSE, air=WEATHER, power_at="hub"),
        rider=replace(race().rider, fluid_used=1.2),
    ),
}


@pytest.fixture(scope="module", params=RACES, ids=str)
def ridden(request: pytest.FixtureRequest) -> Ridden:
    return ride(RACES[request.param])


def rate(ridden: Ridden, quantity: str) -> Rate:
    (found,) = [one for one in rates(ridden) if one.quantity == quantity]
    return found


def on_rider(name: str) -> Callable[[Race, float], Race]:
    def change(built: Race, by: float) -> Race:
        return replace(built, rider=replace(built.rider, **{name: getattr(built.rider, name) + by}))

    return change


def on_bike(name: str) -> Callable[[Race, float], Race]:
    def change(built: Race, by: float) -> Race:
        return replace(built, bike=replace(built.bike, **{name: getattr(built.bike, name) + by}))

    return change


def on_air(name: str) -> Callable[[Race, float], Race]:
    def change(built: Race, by: float) -> Race:
        return replace(built, air=replace(built.air, **{name: getattr(built.air, name) + by}))

    return change


def on_wind(built: Race, by: float) -> Race:
    stronger = replace(built.air.wind, speed=built.air.wind.speed + by)
    return replace(built, air=replace(built.air, wind=stronger))


def on_area(built: Race, by: float) -> Race:
    return replace(built, bike=replace(built.bike, cda=built.bike.cda.plus(by)))


@pytest.mark.parametrize(
    ("quantity", "unit", "size", "span", "change"),
    [
        ("power", "W", 1.0, 0.05, on_rider("power")),
        ("cda", "0.001 m^2", 0.001, 5e-5, on_area),
        ("crr", "0.0001", 0.0001, 1e-6, on_bike("crr")),
        ("mass", "100 g", 0.1, 0.02, on_bike("mass")),
        ("mass", "100 g", 0.1, 0.02, on_rider("mass")),
        ("temperature", "degC", 1.0, 0.05, on_air("temperature")),
        ("pressure", "hPa", 100.0, 20.0, on_air("pressure")),
        ("wind_speed", "m/s", 1.0, 0.002, on_wind),
    ],
)
def test_a_rate_is_what_solving_again_gives(
    ridden: Ridden,
    quantity: str,
    unit: str,
    size: float,
    span: float,
    change: Callable[[Race, float], Race],
):
    found = rate(ridden, quantity)
    assert found.unit == unit
    slower, faster = (ridden.variant(change(ridden.race, by)).time for by in (-span, span))
    assert found.seconds_per_unit == pytest.approx(
        size * (slower - faster) / (2 * span), rel=RELATIVE
    )


@pytest.mark.parametrize("name", ["density", "head"])
def test_rates_of_the_air_where_it_meets_the_rider(ridden: Ridden, name: str):
    quantity, size, span = {
        "density": ("air_density", 0.01, 1e-4),
        "head": ("head_wind", 1.0, 0.002),
    }[name]
    now = ridden.solution.ride
    felt = 1.0
    if name == "head":
        course = ridden.race.course
        felt = course.shelter[np.searchsorted(course.distance, now.middle) - 1]
    slower, faster = (
        solve(replace(now, **{name: getattr(now, name) + by * felt})).time for by in (-span, span)
    )
    assert rate(ridden, quantity).seconds_per_unit == pytest.approx(
        size * (slower - faster) / (2 * span), rel=RELATIVE
    )


def test_signs_on_an_ordinary_day():
    """A watt saves; area, rolling, mass, dense air and head wind cost; warmth thins the air."""
    found = {one.quantity: one.seconds_per_unit for one in rates(ride(RACES["station pressure"]))}
    assert {name for name, seconds in found.items() if seconds > 0} >= {"power", "temperature"}
    for name in ("cda", "crr", "mass", "air_density", "pressure", "head_wind"):
        assert found[name] < 0, name


def test_air_given_by_its_density_has_no_temperature_and_pressure():
    names = [one.quantity for one in rates(ride(race()))]
    assert names == [
        "power",
        "cda",
        "crr",
        "mass",
        "air_density",
        "head_wind",
        "wind_speed",
    ]


def test_saturated_air_can_grow_colder():
    """The dew point cannot lie above the temperature; fog on a race morning is plausible."""
    foggy = race(course=COURSE, air=replace(WEATHER, dew_point=WEATHER.temperature))
    assert np.isfinite(rate(ride(foggy), "temperature").seconds_per_unit)


def test_every_rate_is_a_number_on_a_calm_day_on_a_road_without_directions():
    """A made-up course has no bearing, and in calm air it needs none."""
    for course in (flat_course(2000.0), profile_course([0, 800, 2000], [0, 10, 0])):
        for one in rates(ride(race(course=course, air=Air()))):
            assert np.isfinite(one.seconds_per_unit), one.quantity


def test_wind_words_say_which_wind():
    def words(built: Race) -> str:
        return rate(ride(built), "wind_speed").meaning

    assert words(RACES["station pressure"]) == "more wind at 10 m height, from WSW (250°)"
    assert "at the rider, from " in words(RACES["wind from the rider's side"])


def test_flat_calm_rates_in_closed_form():
    """Steady at v on the flat: T = L / v, so dT/dP = -L / v^2 / (dP/dv), and so on."""
    length, weight = 20_000.0, 80 * 9.80665
    cubic = np.roots([0.15, 0.0087, 0.004 * weight + 0.091, -0.975 * 250])
    speed = float(cubic[np.isreal(cubic)].real[0])
    steady = ride(race(course=flat_course(length), start_speed=speed))
    grown = 0.15 * 3 * speed**2 + 2 * 0.0087 * speed + 0.004 * weight + 0.091
    per_road_watt = length / speed**2 / grown
    # The start speed is fixed, so the first few hundred metres answer less: 1 % of 20 km.
    assert rate(steady, "power").seconds_per_unit == pytest.approx(0.975 * per_road_watt, rel=0.015)
    by_area = 0.6 * speed**3 * 0.001 * per_road_watt
    assert rate(steady, "cda").seconds_per_unit == pytest.approx(-by_area, rel=0.015)
    by_crr = weight * speed * 0.0001 * per_road_watt
    assert rate(steady, "crr").seconds_per_unit == pytest.approx(-by_crr, rel=0.015)
