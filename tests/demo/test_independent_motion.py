"""The demo's road ridden by scipy's adaptive integrator, as a check of the motion solver."""

from bisect import bisect_right
from dataclasses import replace
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from racecalc.domain.loading import load_race
from racecalc.domain.race import SpeedLimits
from racecalc.motion.ride import Ride
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import solve

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
GRAVITY = 9.80665


def adaptive_time(ride: Ride) -> float:
    """Time by Dormand and Prince over kinetic energy along the road, the force written out again.

    Martin et al. 1998, with the square of the apparent wind up to 30 degrees of yaw and its
    projection beyond.
    """
    columns = [ride.slope_sine, ride.head, ride.cross, ride.crr, ride.density, ride.wheel_power]
    rows = np.column_stack(columns).tolist()
    ends = ride.nodes[1:-1].tolist()
    area, mass = ride.cda.area[0] + ride.spoke_drag, float(ride.mass[0])
    inertia = mass + ride.rotating_mass
    edge = sqrt(3) / 2

    def along(position: float, state: np.ndarray) -> list[float]:
        sine, head, cross, crr, density, power = rows[bisect_right(ends, position)]
        # A trial stage may overshoot on a steep ramp; an accepted step does not.
        speed = sqrt(max(2 * state[0] / inertia, 1e-3))
        ahead = speed + head
        wind = sqrt(ahead**2 + cross**2)
        product = wind**2 if ahead >= edge * wind else wind * ahead / edge
        force = 0.5 * density * area * product + ride.bearing_drag
        force += ride.bearing_drag_slope * speed
        force += mass * GRAVITY * (crr * sqrt(1 - sine**2) + sine)
        return [power / speed - force, 1 / speed]

    begin = [0.5 * inertia * ride.start_speed**2, 0.0]
    span = (0.0, float(ride.nodes[-1]))
    found = solve_ivp(along, span, begin, method="RK45", rtol=1e-6, atol=1e-6, max_step=50.0)
    return float(found.y[1, -1])


def test_the_demo_takes_the_same_time() -> None:
    """Within 0.002 %, in the demo's own wind; the integrator knows no ceilings and no drinking."""
    race = load_race(DEMO, ["rider.fluid_used=0 kg", "bike.start_speed=30 km/h"])
    ride = ride_of(replace(race, limits=SpeedLimits()))
    ours, theirs = solve(ride).time, adaptive_time(ride)
    assert ours == pytest.approx(theirs, rel=2e-5)
