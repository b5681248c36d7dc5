"""What must never cost time, and what must not change it."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from racecalc.domain.course import Course
from racecalc.domain.race import Race, SpeedLimits
from racecalc.motion.setting import ride_of, ride_on
from racecalc.motion.solver import solve
from tests.builders import graded_course, race, windy_air

LESS = st.floats(0.5, 0.999)
ROUNDING = 1e-12


@st.composite
def roads(draw: st.DrawFn, least: float = -0.08, most: float = 0.1) -> Course:
    pieces = draw(
        st.lists(st.tuples(st.floats(20.0, 900.0), st.floats(least, most)), min_size=1, max_size=7)
    )
    return graded_course(*pieces)


@st.composite
def races(draw: st.DrawFn, **limits: float) -> Race:
    """Head winds and mild tail winds: where the air pushes, less drag area would be slower."""
    head = draw(st.floats(0.0, 8.0))
    top = draw(st.sampled_from([None, 9.0, 14.0]))
    return race(
        course=draw(roads(**limits)),
        air=windy_air(head, 0.0, follows_rider=True),
        power=draw(st.floats(60.0, 500.0)),
        start_speed=0.0,
        limits=SpeedLimits(max_speed=top, braking=2.5),
    )


def never_slower(built: Race, better: Race) -> None:
    nodes = ride_of(built).nodes
    before, after = (solve(ride_on(one, nodes)).time for one in (built, better))
    assert after <= before * (1 + ROUNDING)


def on_bike(name: str, change: Callable[[Race], object]) -> Callable[[Race], Race]:
    return lambda built: replace(built, bike=replace(built.bike, **{name: change(built)}))


@given(built=races(), share=LESS)
@settings(max_examples=40, deadline=None)
def test_less_drag_area(built: Race, share: float):
    cda = built.bike.cda.plus(-(1 - share) * 0.25)
    never_slower(built, on_bike("cda", lambda _: cda)(built))


@given(built=races(), share=LESS)
@settings(max_examples=40, deadline=None)
def test_less_rolling_resistance(built: Race, share: float):
    never_slower(built, on_bike("crr", lambda one: share * one.bike.crr)(built))


@given(built=races(), share=LESS)
@settings(max_examples=40, deadline=None)
def test_more_power(built: Race, share: float):
    never_slower(built, built.with_power(built.rider.power / share))


@given(built=races(least=0.0), share=LESS)
@settings(max_examples=40, deadline=None)
def test_less_mass_where_it_never_goes_down(built: Race, share: float):
    """From rest in a steady wind: the rider then never coasts, where mass would carry them."""
    never_slower(built, on_bike("mass", lambda one: share * one.bike.mass)(built))


@pytest.mark.parametrize("better", ["cda", "crr", "mass"])
def test_on_a_climb_it_is_faster_and_not_only_never_slower(better: str):
    built = race(course=graded_course((3000.0, 0.05)))
    values = {"cda": built.bike.cda.plus(-0.01), "crr": 0.0035, "mass": 8.0}
    nodes = ride_of(built).nodes
    faster = on_bike(better, lambda _: values[better])(built)
    gained = solve(ride_on(built, nodes)).time - solve(ride_on(faster, nodes)).time
    assert gained > 0.5


@given(built=races(), power=st.integers(-3, 3))
@settings(max_examples=25, deadline=None)
def test_forces_masses_and_power_scaled_alike_leave_the_time(built: Race, power: int):
    """By a power of two, so that not a bit may differ."""
    factor = 2.0**power
    ride = ride_of(replace(built, bike=replace(built.bike, wheel_inertia=0.14)))
    scaled = replace(
        ride,
        wheel_power=factor * ride.wheel_power,
        mass=factor * ride.mass,
        rotating_mass=factor * ride.rotating_mass,
        density=factor * ride.density,
        bearing_drag=factor * ride.bearing_drag,
        bearing_drag_slope=factor * ride.bearing_drag_slope,
    )
    assert solve(scaled).time == solve(ride).time


def test_a_guess_does_not_change_the_answer():
    built = race(course=graded_course((800.0, 0.04), (900.0, -0.05), (700.0, 0.0)))
    ride = ride_of(built)
    plain = solve(ride)
    other = solve(ride_on(built.with_power(400.0), ride.nodes))
    for guess in (plain.speed, other.speed, 0 * plain.speed + 3.0, plain.speed[:-1]):
        assert solve(ride, guess).time == pytest.approx(plain.time, rel=ROUNDING)
