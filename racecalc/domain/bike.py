"""The bike and its drag area by yaw."""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray

PowerAt = Literal["cranks", "hub"]


@dataclass(frozen=True)
class DragArea:
    """Axial drag area CdA by yaw: axial force over the dynamic pressure of the apparent wind.

    Between the points of the table the area is linear in yaw; beyond its ends the end value
    holds, since no measurement says more.

    Parameters
    ----------
    area : tuple of float
        Drag area at each yaw [m^2].
    yaw : tuple of float
        Yaw angles in ascending order [rad]. If none is negative, left and right are taken alike.
    """

    area: tuple[float, ...]
    yaw: tuple[float, ...] = (0.0,)

    def __post_init__(self) -> None:
        if len(self.area) != len(self.yaw) or not self.area:
            raise ValueError("a yaw table needs one area for each yaw")
        if any(later <= earlier for earlier, later in pairwise(self.yaw)):
            raise ValueError("the yaws of a table must increase")
        if not all(np.isfinite(self.area)) or min(self.area) <= 0:
            raise ValueError("drag areas must be positive")

    @property
    def is_constant(self) -> bool:
        """Whether the area is the same at every yaw."""
        return len(set(self.area)) == 1

    @property
    def is_symmetric(self) -> bool:
        """Whether left and right are taken alike."""
        return self.yaw[0] >= 0

    @property
    def at_zero_yaw(self) -> float:
        """Drag area with the air from straight ahead [m^2]."""
        return float(np.interp(0.0, self.yaw, self.area))

    def plus(self, change: float) -> "DragArea":
        """Return a table with every area changed by `change` [m^2]."""
        return DragArea(tuple(area + change for area in self.area), self.yaw)

    @cached_property
    def _slopes(self) -> FloatArray:
        inner = np.diff(self.area) / np.diff(self.yaw)
        return np.concatenate(([0.0], inner, [0.0]))

    def at(self, yaw: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Drag area [m^2] at each yaw [rad] and its derivative with respect to yaw [m^2/rad]."""
        if self.is_symmetric:
            area, slope = self._look_up(np.abs(yaw))
            return area, np.sign(yaw) * slope
        return self._look_up(yaw)

    def covers(self, yaw: FloatArray) -> NDArray[np.bool_]:
        """Whether each yaw [rad] lies within the table; air from behind counts as its fold."""
        met = self._folded(np.abs(yaw) if self.is_symmetric else yaw)
        # Straight ahead stands for itself in a table that begins a little later.
        return np.asarray((met >= min(self.yaw[0], 0.0)) & (met <= self.yaw[-1]))

    @staticmethod
    def _folded(yaw: FloatArray) -> FloatArray:
        """Air from behind meets the rider at the supplement of the angle."""
        return np.where(np.abs(yaw) > np.pi / 2, np.sign(yaw) * np.pi - yaw, yaw)

    def _look_up(self, yaw: FloatArray) -> tuple[FloatArray, FloatArray]:
        folded = self._folded(yaw)
        turn = np.where(np.abs(yaw) > np.pi / 2, -1.0, 1.0)
        piece = np.searchsorted(self.yaw, folded, side="right")
        return np.interp(folded, self.yaw, self.area), turn * self._slopes[piece]


@dataclass(frozen=True)
class Bike:
    """The bike with everything that is worn or carried on the day.

    Parameters
    ----------
    mass : float
        Bike, bottles, shoes, clothing and spares [kg].
    cda : DragArea
        Drag area of rider and bike together.
    crr : float
        Rolling-resistance coefficient.
    drivetrain_loss : float
        Share of the crank power that does not reach the wheel, 0 to 1.
    spoke_drag : float
        Drag area of the rotating wheels [m^2]; 0 where `cda` was measured riding.
    bearing_drag : float
        Speed-independent drag of the wheel bearings [N].
    bearing_drag_slope : float
        Growth of that drag with speed [N s/m].
    wheel_inertia : float
        Moment of inertia of both wheels [kg m^2].
    wheel_radius : float
        Rolling radius [m].
    power_at : {"cranks", "hub"}
        Where the power is measured.
    start_speed : float
        Speed at the start line [m/s].

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    mass: float
    cda: DragArea
    crr: float
    drivetrain_loss: float
    spoke_drag: float
    bearing_drag: float
    bearing_drag_slope: float
    wheel_inertia: float
    wheel_radius: float
    power_at: PowerAt
    start_speed: float

    def __post_init__(self) -> None:
        for name in ("mass", "crr", "wheel_radius"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be positive")
        for name in ("spoke_drag", "bearing_drag", "bearing_drag_slope", "wheel_inertia"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name} must not be negative")
        if not 0 <= self.drivetrain_loss < 1:
            raise ValueError("drivetrain_loss must lie between 0 and 1")
        if not self.start_speed >= 0:
            raise ValueError("start_speed must not be negative")

    @property
    def rotating_mass(self) -> float:
        """Mass that the inertia of the wheels adds when speed changes [kg]."""
        return self.wheel_inertia / self.wheel_radius**2

    @property
    def efficiency(self) -> float:
        """Share of the measured power that reaches the road."""
        return 1.0 - self.drivetrain_loss if self.power_at == "cranks" else 1.0
