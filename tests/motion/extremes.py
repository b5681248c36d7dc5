"""Made-up rides that are hard on Newton's method, each from its number."""

import numpy as np

from racecalc.domain.race import Race, SpeedLimits
from tests.builders import graded_course, race, windy_air, yaw_table


def square_wave(power: float, grade: float = 0.17, top: float | None = 12.0) -> Race:
    """Ramps of 100 m up and down in turn, taken slowly up and under a ceiling down."""
    ramps = [(100.0, grade if number % 2 == 0 else -grade) for number in range(4)]
    return race(course=graded_course(*ramps), power=power, limits=SpeedLimits(max_speed=top))


def extreme(number: int) -> Race:
    """Grades to 18 %, head winds from -20 to 12 m/s, 80 to 450 W, ceilings and yaw tables."""
    chance = np.random.default_rng(number)
    pieces = int(chance.integers(4, 30))
    lengths = chance.uniform(20.0, 300.0, pieces)
    grades = chance.uniform(-0.18, 0.18, pieces)
    if number % 3 == 0:
        grades = np.where(np.arange(pieces) % 2, 1, -1) * chance.uniform(0.05, 0.18)
    area = chance.uniform(0.18, 0.32)
    table = yaw_table([0, 5, 10, 15, 25], area * (1 - chance.uniform(0.0, 0.12, 5)))
    limits = SpeedLimits(
        max_speed=float(chance.uniform(8.0, 20.0)) if chance.random() < 0.5 else None,
        braking=float(chance.uniform(1.0, 4.0)) if chance.random() < 0.5 else None,
    )
    slow = np.where(chance.random(pieces) < 0.2, chance.uniform(5.0, 12.0, pieces), np.inf)
    head = float(chance.uniform(-20.0, 12.0))
    turned = number % 2 == 0
    return race(
        course=graded_course(
            *zip(lengths, grades, strict=True),
            bearing=chance.uniform(0.0, 2 * np.pi, pieces) if turned else 0.0,
            max_speed=slow if chance.random() < 0.5 else np.inf,
        ),
        air=windy_air(abs(head), 0.0 if head > 0 else 180.0),
        power=float(chance.uniform(80.0, 450.0)),
        cda=table if chance.random() < 0.5 else area,
        limits=limits,
        start_speed=float(chance.choice([0.0, 3.0, 12.0])),
        step=float(chance.choice([5.0, 10.0, 20.0])),
    )
