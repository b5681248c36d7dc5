"""The same motion by an adaptive Runge-Kutta method that knows nothing of the package."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from racecalc.domain.course import Course
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import solve
from tests.builders import graded_course, race, windy_air, yaw_table
from tests.motion.by_hand import resisting_force

LENGTHS = (900.0, 650.0, 1200.0, 400.0, 800.0, 1050.0)
GRADES = (0.02, -0.035, 0.01, 0.06, -0.05, 0.0)
BEARINGS = (0.3, 0.9, 1.4, 0.7, 0.1, -0.5)
YAWS = np.array([0.0, 5.0, 10.0, 15.0, 20.0])
AREAS = np.array([0.25, 0.247, 0.24, 0.236, 0.238])
WIND_FROM = np.radians(50.0)
POWER = 0.975 * 250.0
ROTATING = 0.14 / 0.311**2


def rolling_road() -> Course:
    return graded_course(*zip(LENGTHS, GRADES, strict=True), bearing=BEARINGS)


def force_on(piece: int, wind: float) -> Callable[[float], float]:
    """Force on a piece, its yaw looked up in the table at the apparent wind."""
    angle = WIND_FROM - BEARINGS[piece]
    head, cross = wind * np.cos(angle), wind * np.sin(angle)

    def force(speed: float) -> float:
        yaw = np.degrees(np.arctan2(abs(cross), speed + head))
        return float(
            resisting_force(
                speed,
                mass=80.0,
                sine=np.sin(np.arctan(GRADES[piece])),
                crr=0.004,
                density=1.2,
                area=np.interp(yaw, YAWS, AREAS),
                head=head,
                cross=cross,
                bearings=(0.091, 0.0087),
            )
        )

    return force


def by_distance(wind: float, start_speed: float) -> tuple[float, float]:
    """Time and final speed; v dv/dx = (P / v - F) / M piece by piece, 10 digits asked for."""
    time, speed = 0.0, start_speed
    for piece, length in enumerate(LENGTHS):
        force = force_on(piece, wind)

        def rates(_: float, state: np.ndarray, force: Callable[[float], float] = force) -> list:
            now = state[1]
            return [1 / now, (POWER / now - force(now)) / ((80 + ROTATING) * now)]

        found = solve_ivp(
            rates, (0.0, length), [time, speed], method="DOP853", rtol=1e-10, atol=1e-10
        )
        time, speed = found.y[:, -1]
    return float(time), float(speed)


@pytest.mark.parametrize("wind", [0.0, 4.0])
def test_rolling_road_with_wind_and_yaw_table(wind: float):
    time, speed = by_distance(wind, 12.0)
    times = []
    for step in (10.0, 5.0, 2.5):
        built = race(
            course=rolling_road(),
            air=windy_air(wind, 50.0),
            cda=yaw_table(YAWS, AREAS),
            wheel_inertia=0.14,
            step=step,
        )
        found = solve(ride_of(built))
        # Second order: 1e-5 or 6 ms at 10 m, where each change of grade is an edge, and 1/16 of
        # it at 2.5 m.
        assert found.time == pytest.approx(time, rel=1.2e-5 * (step / 10) ** 2)
        assert found.speed[-1] == pytest.approx(speed, rel=4e-6 * (step / 10) ** 2)
        times.append(found.time)
    # Without the second-order part, which halving tells, the two methods meet.
    assert (4 * times[2] - times[1]) / 3 == pytest.approx(time, rel=5e-8)


@pytest.mark.parametrize("power", [180.0, 420.0])
def test_standing_start_by_kinetic_energy_in_time(power: float):
    """dE/dt = P - F v starts from rest without a singularity, and shares nothing with steps."""

    def rates(_: float, state: np.ndarray) -> list[float]:
        now = np.sqrt(2 * max(state[1], 0.0) / 80.0)
        force = resisting_force(
            now, mass=80.0, sine=sine, crr=0.004, density=1.2, area=0.25, bearings=(0.091, 0.0087)
        )
        return [now, 0.975 * power - float(force) * now]

    def finish(_: float, state: np.ndarray) -> float:
        return float(state[0] - 1500.0)

    finish.terminal = True
    sine = np.sin(np.arctan(0.02))
    found = solve_ivp(
        rates, (0.0, 1e4), [0.0, 0.0], method="RK45", rtol=1e-9, atol=1e-9, events=finish
    )
    ridden = solve(
        ride_of(race(course=graded_course((1500.0, 0.02)), power=power, start_speed=0.0))
    )
    # The launch steps are worth under 5 ms of some 200 s.
    assert abs(ridden.time - found.t_events[0][0]) < 5e-3
