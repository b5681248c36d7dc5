"""The quickest power along a course as a plain nonlinear program, for CasADi with IPOPT.

Written once more from the textbook and not from the package: speeds, powers at the meter and brake
forces are all variables, and the energy balance of every step is a constraint. Only the arrays of a
`Ride` and the numbers of its `PowerBounds` are taken over. Forces: Martin et al. 1998, J Appl
Biomech 14:276-291, and for cross wind the rule of the package, the square of the apparent wind up
to 30 degrees of yaw and its cosine beyond. Needs one drag area for every yaw. Several means are
inequalities, each of its own.
"""

import time
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.motion.optimum import PowerBounds
from racecalc.motion.ride import Ride
from tests.motion.by_hand import GRAVITY

ca = pytest.importorskip("casadi")


@dataclass(frozen=True)
class Found:
    """What IPOPT found."""

    speed: FloatArray
    power: FloatArray
    brake: FloatArray
    time: float
    seconds: float
    status: str


def air_force(ride: Ride, speed: Any) -> Any:
    """Drag of the air on every step, as an expression [N]."""
    assert ride.cda.is_constant
    half = 0.5 * ride.density * (ride.cda.area[0] + ride.spoke_drag)
    along = speed + ca.DM(ride.head)
    if not np.any(ride.cross):
        return ca.DM(half) * along * ca.fabs(along)
    square = along**2 + ca.DM(ride.cross) ** 2
    full = np.cos(np.radians(30.0))
    ahead = ca.fabs(along) >= full * ca.sqrt(square)
    turned = ca.sqrt(square) * along / full
    return ca.DM(half) * ca.if_else(ahead, ca.sign(along) * square, turned)


def quickest(
    ride: Ride, wanted: PowerBounds, guess: FloatArray, sections: NDArray[np.intp] | None = None
) -> Found:
    """The optimum from a ride that is possible, its powers read off its balance.

    With `sections`, the number of the section of each step, there is one power in each of them.
    """
    count = len(ride.step)
    owner = np.arange(count) if sections is None else sections
    first_step = np.unique(owner, return_index=True)[1]
    v = ca.SX.sym("v", count)
    levels, brake = ca.SX.sym("power", len(first_step)), ca.SX.sym("brake", count)
    power = levels[owner.tolist()]
    before = ca.vertcat(float(ride.start_speed), v[:-1])
    mean = 0.5 * (before + v)
    dt = ca.DM(ride.step) / mean
    road = ride.mass * GRAVITY * (ride.crr * np.sqrt(1 - ride.slope_sine**2) + ride.slope_sine)
    bearings = ride.bearing_drag + ride.bearing_drag_slope * mean
    against = air_force(ride, mean) + bearings + ca.DM(road)
    inertia = ride.mass + ride.rotating_mass
    gained = 0.5 * ca.DM(inertia / ride.step) * (v**2 - before**2)
    # Power over force, in watts: the balance times the mean speed.
    balance = wanted.efficiency * power - mean * (against + gained + brake)
    efforts = [
        ca.dot((power / ca.DM(level)) ** float(order) - 1.0, dt)
        for level, order in zip(
            np.atleast_2d(wanted.level), np.atleast_1d(wanted.order), strict=True
        )
    ]
    program = {
        "x": ca.vertcat(v, levels, brake),
        "f": ca.sum1(dt),
        "g": ca.vertcat(balance, *efforts),
    }
    quiet = {"ipopt.print_level": 0, "print_time": False, "ipopt.sb": "yes"}
    solver = ca.nlpsol("quickest", "ipopt", program, {**quiet, "ipopt.tol": 1e-8})
    lowest, highest = np.full(count, 0.05), np.minimum(ride.ceiling[1:], 60.0)
    first = np.clip(guess[1:], lowest, highest)
    least, most = (np.broadcast_to(one, count)[first_step] for one in (wanted.least, wanted.most))
    level = np.minimum(np.min(np.atleast_2d(wanted.level), axis=0)[first_step], most)
    began = time.perf_counter()
    found = solver(
        x0=np.concatenate((first, level, np.zeros(count))),
        lbx=np.concatenate((lowest, least, np.zeros(count))),
        ubx=np.concatenate((highest, most, np.full(count, np.inf))),
        lbg=np.concatenate((np.zeros(count), np.full(len(efforts), -np.inf))),
        ubg=np.zeros(count + len(efforts)),
    )
    seconds = time.perf_counter() - began
    x = np.asarray(found["x"]).ravel()
    speed = np.concatenate(([ride.start_speed], x[:count]))
    return Found(
        speed=speed,
        power=x[count:-count][owner],
        brake=x[-count:],
        time=float(found["f"]),
        seconds=seconds,
        status=str(solver.stats()["return_status"]),
    )
