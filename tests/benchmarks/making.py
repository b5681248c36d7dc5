"""A road and a clock that the benchmarks share."""

import time
from collections.abc import Callable

import numpy as np

from racecalc.domain.race import DragArea
from racecalc.motion.ride import Ride

CDA, CRR, MASS, DENSITY = 0.24, 0.004, 80.0, 1.2
BEARING, GROWTH, SPOKES = 0.091, 0.0087, 0.0044


def rolling_ride(length: float, steps: int, wheel_power: float) -> Ride:
    """Hills of 2.3 km and wind that turns over 9 km, without ceilings."""
    nodes = np.linspace(0.0, length, steps + 1)
    middle = 0.5 * (nodes[:-1] + nodes[1:])
    each = np.ones(steps)
    return Ride(
        nodes=nodes,
        slope_sine=0.03 * np.sin(2 * np.pi * middle / 2300.0),
        wheel_power=wheel_power * each,
        mass=MASS * each,
        rotating_mass=1.4,
        crr=CRR * each,
        density=DENSITY * each,
        head=2.0 * np.sin(2 * np.pi * middle / 9000.0),
        cross=0.0 * each,
        cda=DragArea((CDA,)),
        spoke_drag=SPOKES,
        bearing_drag=BEARING,
        bearing_drag_slope=GROWTH,
        ceiling=np.full(steps + 1, np.inf),
        start_speed=9.0,
    )


def fastest(work: Callable[[], object], repeats: int) -> float:
    """Shortest wall time of several runs [s]: the one least disturbed."""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)
