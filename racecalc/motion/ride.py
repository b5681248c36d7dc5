"""What resists a ride at each step, and the speed at which nothing changes."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.race import Bike, DragArea
from racecalc.physics.forces import air_drag, bearing_drag, rolling_drag, weight_drag

# --- Everything the equation of motion needs, as arrays with one value a step --------------------

BY_STEP = ("slope_sine", "wheel_power", "mass", "crr", "density", "head", "cross")
"""Arrays of a `Ride` with one value a step."""

NO_CEILING = 1e3
"""Any speed ceiling from here on is none [m/s]."""


def cut_nodes(nodes: FloatArray, parts: NDArray[np.int_]) -> FloatArray:
    """Nodes with each step between them cut into the given number of equal parts."""
    count = np.arange(np.sum(parts)) - np.repeat(np.cumsum(parts) - parts, parts)
    starts = np.repeat(nodes[:-1], parts) + count * np.repeat(np.diff(nodes) / parts, parts)
    return np.append(starts, nodes[-1])


@dataclass(frozen=True)
class Ride:
    """One ride over k steps between k + 1 nodes, in SI.

    Arrays have one value a step unless said otherwise.
    """

    nodes: FloatArray
    """Distance of the nodes along the road [m]; shape (k + 1,)."""
    slope_sine: FloatArray
    """Sine of the slope angle."""
    wheel_power: FloatArray
    """Power that reaches the road [W]."""
    mass: FloatArray
    """Rider, bike and all they carry [kg]."""
    rotating_mass: float
    """Mass that the inertia of the wheels adds when speed changes [kg]."""
    crr: FloatArray
    """Rolling-resistance coefficient."""
    density: FloatArray
    """Air density [kg/m^3]."""
    head: FloatArray
    cross: FloatArray
    """Head wind and wind from the right at the rider [m/s]."""
    cda: DragArea
    """Drag area by yaw."""
    spoke_drag: float
    """Drag area of the rotating wheels [m^2]."""
    bearing_drag: float
    bearing_drag_slope: float
    """Drag of the wheel bearings [N] and its growth with speed [N s/m]."""
    ceiling: FloatArray
    """Highest speed allowed at each node [m/s], braking included; infinite for none; shape (k +
    1,).
    """
    start_speed: float
    """Speed at the first node [m/s]."""

    @cached_property
    def step(self) -> FloatArray:
        """Length of each step [m]."""
        return np.diff(self.nodes)

    @property
    def middle(self) -> FloatArray:
        """Distance of the middle of each step from the start [m]."""
        return 0.5 * (self.nodes[:-1] + self.nodes[1:])

    @cached_property
    def inertia(self) -> FloatArray:
        """Mass that must be accelerated: mass and rotating mass [kg]."""
        return self.mass + self.rotating_mass

    def resistance(self, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Total resisting force [N] and its derivative [N s/m] with respect to ground speed [m/s].

        Positive against the direction of travel.
        """
        air, air_slope = air_drag(
            speed, self.head, self.cross, self.density, self.cda, self.spoke_drag
        )
        bearings, bearing_slope = bearing_drag(speed, self.bearing_drag, self.bearing_drag_slope)
        return np.asarray(air + bearings + self._speedless), np.asarray(air_slope + bearing_slope)

    @cached_property
    def _speedless(self) -> FloatArray:
        rolling, _ = rolling_drag(self.crr, self.mass, self.slope_sine)
        weight, _ = weight_drag(self.mass, self.slope_sine)
        return np.asarray(rolling + weight)

    def part(self, steps: slice, start_speed: float) -> "Ride":
        """Return the ride over some of the steps, with the speed at which they begin [m/s]."""
        ends = slice(steps.start, steps.stop + 1)
        return replace(
            self,
            nodes=self.nodes[ends],
            ceiling=self.ceiling[ends],
            start_speed=start_speed,
            **{name: getattr(self, name)[steps] for name in BY_STEP},
        )

    def cut(self, parts: NDArray[np.int_]) -> "Ride":
        """Return the ride with each step cut into the given number of equal parts."""
        if np.all(parts == 1):
            return self
        nodes = cut_nodes(self.nodes, parts)
        # Linear in the square of speed, so that the braking limit still holds in between.
        finite = np.minimum(self.ceiling, NO_CEILING)
        ceiling = np.sqrt(np.interp(nodes, self.nodes, finite**2))
        by_step: dict[str, Any] = {name: np.repeat(getattr(self, name), parts) for name in BY_STEP}
        ceiling = np.where(ceiling < NO_CEILING, ceiling, np.inf)
        return replace(self, nodes=nodes, ceiling=ceiling, **by_step)


# --- The speed at which power and resistance balance ---------------------------------------------

MOST_ITERATIONS = 100


def flat_calm_speed(bike: Bike, total_mass: float, power: float, density: float) -> float:
    """Steady speed [m/s] on a flat road without wind, at a power of the bike's meter [W].

    The power at the road is a convex function of speed there, so Newton's method from above
    falls to the root without fail. Mass in kg, density in kg/m^3.
    """
    road_power = power * bike.efficiency
    lowest_drag = min(bike.cda.at_zero_yaw, bike.cda.at_zero_yaw + bike.spoke_drag)
    speed = (2.0 * road_power / (density * lowest_drag)) ** (1.0 / 3.0)
    for _ in range(MOST_ITERATIONS):
        force, slope = flat_calm_force(bike, total_mass, speed, density)
        change = (speed * force - road_power) / (force + speed * slope)
        speed -= change
        if abs(change) < 1e-13 * speed:
            break
    return float(speed)


def flat_calm_force(
    bike: Bike, total_mass: float, speed: float, density: float
) -> tuple[float, float]:
    """Resistance at a steady speed [m/s] on a flat road without wind [N], and its slope [N s/m].

    Other arguments as for `flat_calm_speed`.
    """
    rolling, _ = rolling_drag(bike.crr, total_mass, 0.0)
    air, air_slope = air_drag(speed, 0.0, 0.0, density, bike.cda, bike.spoke_drag)
    bearings, growth = bearing_drag(speed, bike.bearing_drag, bike.bearing_drag_slope)
    return float(air + rolling + bearings), float(air_slope + growth)
