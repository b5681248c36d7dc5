"""A race in SI: rider, bike, air, doubts, and all of them together.

References
----------
.. [1] Wieringa J. Updating the Davenport roughness classification. J Wind Eng Ind Aerodyn
   1992;41:357-368 (roughness lengths from memory).
"""

import math
import operator
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from functools import cached_property, reduce
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course, Landmark
from racecalc.domain.option import NO_MONEY_TERMS, MoneyTerms, Option
from racecalc.domain.pacing import LimitWish, Stretch
from racecalc.errors import Notice, require
from racecalc.files.race_file import Assumption

# --- The rider -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rider:
    """The rider and what they can hold.

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    mass: float
    """Body mass [kg]."""
    power: float
    """Power held over the race [W], where the bike's power meter is."""
    fluid_used: float = 0.0
    """Mass drunk or shed evenly over the course [kg]."""
    critical_power: float | None = None
    """Critical power [W], for pacing."""
    work_above_critical: float | None = None
    """Work above critical power [J], for pacing."""
    power_points: tuple[tuple[float, float], ...] = ()
    """Durations [s] and the powers held all-out for them [W], from which critical power and the
    work above it can be fitted.
    """
    power_fade: float = 0.0
    """Share of what can be held that is lost an hour in long races."""
    least_power: float = 0.0
    """Least power while pedalling [W]."""
    most_power: float | None = None
    """Most power the rider is willing to push [W]."""
    pacing_limits: tuple[LimitWish, ...] = ()
    pacing_caps: tuple[Stretch, ...] = ()
    pacing_plan: tuple[Stretch, ...] = ()
    """What the pacing card may not exceed, and a plan of their own."""
    name: str = ""
    """Who they are, as tables of runs name them; empty where it is not stated."""

    def __post_init__(self) -> None:
        require(self.mass > 0, "mass must be positive")
        require(self.power >= 0, "power must not be negative")
        require(0 <= self.fluid_used < self.mass, "fluid_used must be less than the rider's mass")
        positive = all(time > 0 and power > 0 for time, power in self.power_points)
        require(positive, "power_points must be positive")
        require(0 <= self.power_fade < 1, "power_fade must be a share below 1")
        require(self.least_power >= 0, "least_power must not be negative")
        if self.most_power is not None and not self.most_power > self.least_power:
            raise ValueError("most_power must be above least_power")

    def showing(self, power: float) -> "Rider":
        """The same legs where the meter shows another power for them [W]."""
        share = power / self.power if self.power else 1.0
        critical, work = self.critical_power, self.work_above_critical
        return replace(
            self,
            power=power,
            critical_power=None if critical is None else share * critical,
            work_above_critical=None if work is None else share * work,
            power_points=tuple((held, share * shown) for held, shown in self.power_points),
        )


# --- The bike and its drag area by yaw -----------------------------------------------------------

PowerAt = Literal["cranks", "hub"]


@dataclass(frozen=True)
class DragArea:
    """Axial drag area CdA by yaw: axial force over the dynamic pressure of the apparent wind.

    Between the points of the table the area is linear in yaw; beyond its ends the end value
    holds, since no measurement says more.
    """

    area: tuple[float, ...]
    """Drag area at each yaw [m^2]."""
    yaw: tuple[float, ...] = (0.0,)
    """Yaw angles in ascending order [rad]. If none is negative, left and right are taken alike."""

    def __post_init__(self) -> None:
        matched = len(self.area) == len(self.yaw) > 0
        require(matched, "a yaw table needs one area for each yaw")
        rising = all(later > earlier for earlier, later in pairwise(self.yaw))
        require(rising, "the yaws of a table must increase")
        positive = all(np.isfinite(self.area)) and min(self.area) > 0
        require(positive, "drag areas must be positive")

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

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    mass: float
    """Bike, bottles, shoes, clothing and spares [kg]."""
    cda: DragArea
    """Drag area of rider and bike together."""
    crr: float
    """Rolling-resistance coefficient."""
    drivetrain_loss: float
    """Share of the crank power that does not reach the wheel, 0 to 1."""
    spoke_drag: float
    """Drag area of the rotating wheels [m^2]; 0 where `cda` was measured riding."""
    bearing_drag: float
    """Speed-independent drag of the wheel bearings [N]."""
    bearing_drag_slope: float
    """Growth of that drag with speed [N s/m]."""
    wheel_inertia: float
    """Moment of inertia of both wheels [kg m^2]."""
    wheel_radius: float
    """Rolling radius [m]."""
    power_at: PowerAt
    """Where the power is measured."""
    start_speed: float
    """Speed at the start line [m/s]."""

    def __post_init__(self) -> None:
        for name in ("mass", "crr", "wheel_radius"):
            require(getattr(self, name) > 0, f"{name} must be positive")
        for name in ("spoke_drag", "bearing_drag", "bearing_drag_slope", "wheel_inertia"):
            require(getattr(self, name) >= 0, f"{name} must not be negative")
        require(0 <= self.drivetrain_loss < 1, "drivetrain_loss must lie between 0 and 1")
        require(self.start_speed >= 0, "start_speed must not be negative")

    @property
    def rotating_mass(self) -> float:
        """Mass that the inertia of the wheels adds when speed changes [kg]."""
        return self.wheel_inertia / self.wheel_radius**2

    @property
    def efficiency(self) -> float:
        """Share of the measured power that reaches the road."""
        return 1.0 - self.drivetrain_loss if self.power_at == "cranks" else 1.0


# --- The air and the wind of the day, as a forecast or a weather station states them -------------

RIDER_HEIGHT = 1.0
"""Height at which a crouched rider meets the wind [m]; common practice, no source."""

REPORT_HEIGHT = 10.0
"""Height at which weather services measure wind [m]; WMO-No. 8 (from memory)."""

ROUGHNESS_LENGTH = {
    "open water": 0.0002,
    "beach": 0.005,
    "short grass": 0.01,
    "open fields": 0.03,
    "low hedges": 0.10,
    "hedges and trees": 0.25,
    "suburb": 0.40,
}
"""Terrain class to roughness length z0 [m] [1]_."""

WindLaw = Literal["log", "power"]


@dataclass(frozen=True)
class Wind:
    """Mean wind.

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    speed: float = 0.0
    """Mean wind speed at `height` [m/s]."""
    direction: float = 0.0
    """Direction it comes from [rad]: clockwise from north, or from the direction of travel."""
    follows_rider: bool = False
    """True where `direction` is counted from the direction of travel (0 is a head wind)."""
    height: float = RIDER_HEIGHT
    """Height of the measurement [m]; `RIDER_HEIGHT` where the rider's own wind is known."""
    terrain: str = "open fields"
    """Key of `ROUGHNESS_LENGTH`."""
    law: WindLaw = "log"
    """Profile that brings the wind down to the rider."""

    def __post_init__(self) -> None:
        require(self.speed >= 0, "wind speed must not be negative")
        known = ", ".join(ROUGHNESS_LENGTH)
        require(self.terrain in ROUGHNESS_LENGTH, f"terrain must be one of {known}")
        above = self.height > 2 * ROUGHNESS_LENGTH[self.terrain]
        require(above, "wind height must lie well above the roughness of the terrain")


@dataclass(frozen=True)
class Air:
    """State of the air at one altitude; the solver carries it along the course.

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    temperature: float = 288.15
    """Air temperature at `altitude` [K]."""
    pressure: float = 101325.0
    """Pressure [Pa]: at `altitude` itself, or reduced to sea level if `pressure_at_sea_level`."""
    altitude: float = 0.0
    """Height above sea level of the weather station or forecast point [m]."""
    humidity: float = 0.0
    """Relative humidity, 0 to 1; ignored where `dew_point` is given."""
    dew_point: float | None = None
    """Dew point [K]."""
    pressure_at_sea_level: bool = False
    """Whether `pressure` has been reduced to sea level."""
    density: float | None = None
    """Density of the air everywhere [kg/m^3], instead of all the above."""
    felt: float | None = None
    """Temperature next to a density, for what heat forbids [K]; None where it is not stated."""
    wind: Wind = Wind(follows_rider=True)
    """Mean wind."""
    gusts: float | None = None
    """Strongest gust, at the height of the wind [m/s]; None where it is not known."""

    def __post_init__(self) -> None:
        positive = self.temperature > 0 and self.pressure > 0
        require(positive, "temperature and pressure must be positive")
        require(0 <= self.humidity <= 1, "humidity must lie between 0 and 1")
        if self.dew_point is not None and not 0 < self.dew_point <= self.temperature:
            raise ValueError("the dew point must not lie above the temperature")
        require(self.density is None or self.density > 0, "density must be positive")

    @property
    def known_temperature(self) -> float | None:
        """Air temperature [K]; None where only the density is stated."""
        return self.temperature if self.density is None else self.felt


# --- How sure the inputs of a race are -----------------------------------------------------------


@dataclass(frozen=True)
class Doubts:
    """One standard uncertainty of each input, independent of each other; 0 for none stated.

    Raises
    ------
    ValueError
        If a doubt is negative or not finite.
    """

    power: float = 0.0
    """Power, meter and what will be held together [W]."""
    cda: float = 0.0
    """Drag area, the same at every yaw [m^2]."""
    crr: float = 0.0
    """Rolling-resistance coefficient."""
    mass: float = 0.0
    """Rider and bike together [kg]."""
    drivetrain_loss: float = 0.0
    """Share of the crank power that is lost; without effect where power is measured at the hub."""
    wind_speed: float = 0.0
    """Mean wind at the height it is stated for [m/s]."""
    wind_from: float = 0.0
    """Direction the wind comes from [rad]."""
    temperature: float = 0.0
    """Air temperature [K]."""
    pressure: float = 0.0
    """Pressure as stated [Pa]."""
    density: float = 0.0
    """Air density where it is given itself [kg/m^3]."""

    def __post_init__(self) -> None:
        for name, value in self.stated.items():
            possible = value > 0 and math.isfinite(value)
            require(possible, f"the doubt of {name} must be finite and not negative")

    @property
    def stated(self) -> dict[str, float]:
        """The doubts that are not zero, by name."""
        every = {one.name: getattr(self, one.name) for one in fields(self)}
        return {name: value for name, value in every.items() if value != 0}


NO_DOUBTS = Doubts()
"""Nothing is stated."""


# --- A race --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SpeedLimits:
    """What keeps the rider from going as fast as power and slope allow."""

    max_speed: float | None = None
    """Highest speed anywhere [m/s]."""
    lateral_grip: float | None = None
    """Sideways acceleration the rider trusts in bends, over that of free fall."""
    braking: float | None = None
    """Deceleration under the brakes [m/s^2]."""

    def __post_init__(self) -> None:
        for name in ("max_speed", "lateral_grip", "braking"):
            value = getattr(self, name)
            require(value is None or value > 0, f"{name} must be positive")


@dataclass(frozen=True)
class Change:
    """What an option changes on the bike and rider; all zero for nothing."""

    cda: float = 0.0
    """Change of drag area at every yaw [m^2]."""
    crr: float = 0.0
    """Change of the rolling-resistance coefficient."""
    drivetrain_loss: float = 0.0
    """Change of the share of power lost."""
    mass: float = 0.0
    """Change of mass [kg]."""
    power: float = 0.0
    """Change of the power at the meter [W]."""

    @classmethod
    def sum(cls, changes: Iterable["Change"]) -> "Change":
        """All of some changes together."""
        return reduce(cls.plus, changes, cls())

    def plus(self, other: "Change") -> "Change":
        """Both changes together."""
        return Change(*map(operator.add, _amounts(self), _amounts(other)))

    def times(self, count: float) -> "Change":
        """The change so many times over."""
        return Change(*(count * amount for amount in _amounts(self)))


AXES = tuple(axis.name for axis in fields(Change))
"""What an option can change, in the order of `Change`."""

_amounts = operator.attrgetter(*AXES)

ADDED = ("crr", "drivetrain_loss", "mass")
"""What of it is added to the same of the bike."""


@dataclass(frozen=True)
class Race:
    """A race and its options.

    Raises
    ------
    ValueError
        If the course states rolling resistance otherwise than as a factor on the bike's own,
        has no bearings although the wind comes from a compass direction, or the step is not
        positive.
    """

    name: str
    """Title, or the name of the race file."""
    rider: Rider
    bike: Bike
    air: Air
    course: Course
    """What is ridden."""
    limits: SpeedLimits = SpeedLimits()
    """Braking, bends and the highest speed."""
    step: float = 10.0
    """Greatest distance between the nodes of the solver [m]."""
    options: tuple[Option, ...] = ()
    """What may be changed."""
    use: tuple[str, ...] = ()
    """Names of the single options in use."""
    used: Change | None = None
    """What they change, contained in rider and bike; None where that is not worked out yet."""
    doubted: tuple[Option, ...] = ()
    """Those of them, and tests of sets, that state how sure that is."""
    stated: tuple[Option, ...] = ()
    """The options as the file states them, while those in use cost nothing more."""
    assumptions: tuple[Assumption, ...] = ()
    """Values that the user did not give, each with its source."""
    notices: tuple[Notice, ...] = ()
    """What the user should know about the inputs."""
    doubts: Doubts = NO_DOUBTS
    """How sure the inputs are."""
    money_terms: MoneyTerms = NO_MONEY_TERMS
    """What can be spent."""
    landmarks: tuple[Landmark, ...] = ()
    """Places on the course, from start to finish."""

    def __post_init__(self) -> None:
        own = np.all(np.isnan(self.course.crr))
        require(own, "give the course through Course.with_own_crr_as_roughness")
        wind = self.air.wind
        if wind.speed and not wind.follows_rider and np.any(np.isnan(self.course.bearing)):
            raise ValueError("a wind from a compass direction needs a course with bearings")
        require(self.step > 0, "step must be positive")

    @property
    def total_mass(self) -> float:
        """Rider, bike and all they carry at the start [kg]."""
        return self.rider.mass + self.bike.mass

    @property
    def single_options(self) -> tuple[Option, ...]:
        """The options that stand for themselves, without the tests of whole sets."""
        return tuple(option for option in self.options if not option.is_set)

    @property
    def tested_sets(self) -> tuple[Option, ...]:
        """The tests of several options as one."""
        return tuple(option for option in self.options if option.is_set)

    def changed(self, change: Change) -> "Race":
        """The same race with an option in use.

        What the legs put into the cranks stays the same: where the power is measured at the
        hub, a drivetrain that loses less shows there as more power. All that the rider can hold
        goes with it, in the same proportion.
        """
        old = self.bike
        added = {name: getattr(old, name) + getattr(change, name) for name in ADDED}
        new = replace(old, cda=old.cda.plus(change.cda) if change.cda else old.cda, **added)
        power = self.rider.power + change.power
        require(power > 0, "power must be positive")
        if new.power_at == "hub" and change.drivetrain_loss:
            power *= (1.0 - new.drivetrain_loss) / (1.0 - old.drivetrain_loss)
        return replace(self, rider=self.rider.showing(power), bike=new)

    @property
    def bare(self) -> "Race":
        """The same race with none of its options in use."""
        without = self.changed(self.used.times(-1.0)) if self.used else self
        options = self.stated or self.options
        return replace(without, use=(), used=None, doubted=(), options=options, stated=())

    def with_power(self, power: float) -> "Race":
        """The same race ridden at another power [W]."""
        return replace(self, rider=replace(self.rider, power=power))
