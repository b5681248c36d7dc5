"""A race: who rides what, where and in which air, and what may be changed for it."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from functools import reduce

import numpy as np

from racecalc.domain.air import Air
from racecalc.domain.bike import Bike
from racecalc.domain.course import Course, Landmark
from racecalc.domain.doubts import NO_DOUBTS, Doubts
from racecalc.domain.option import Option
from racecalc.domain.rider import Rider
from racecalc.domain.terms import EMPTY_PURSE, Purse
from racecalc.errors import Notice
from racecalc.files.race_file import Assumption


@dataclass(frozen=True)
class SpeedLimits:
    """What keeps the rider from going as fast as power and slope allow.

    Parameters
    ----------
    max_speed : float, optional
        Highest speed anywhere [m/s].
    lateral_grip : float, optional
        Sideways acceleration the rider trusts in bends, over that of free fall.
    braking : float, optional
        Deceleration under the brakes [m/s^2].
    """

    max_speed: float | None = None
    lateral_grip: float | None = None
    braking: float | None = None

    def __post_init__(self) -> None:
        for name in ("max_speed", "lateral_grip", "braking"):
            value = getattr(self, name)
            if value is not None and not value > 0:
                raise ValueError(f"{name} must be positive")


@dataclass(frozen=True)
class Change:
    """What an option changes on the bike and rider; all zero for nothing.

    Parameters
    ----------
    cda : float
        Change of drag area at every yaw [m^2].
    crr : float
        Change of the rolling-resistance coefficient.
    drivetrain_loss : float
        Change of the share of power lost.
    mass : float
        Change of mass [kg].
    power : float
        Change of the power at the meter [W].
    """

    cda: float = 0.0
    crr: float = 0.0
    drivetrain_loss: float = 0.0
    mass: float = 0.0
    power: float = 0.0

    @classmethod
    def sum(cls, changes: Iterable["Change"]) -> "Change":
        """All of some changes together."""
        return reduce(cls.plus, changes, cls())

    def plus(self, other: "Change") -> "Change":
        """Both changes together."""
        return Change(
            self.cda + other.cda,
            self.crr + other.crr,
            self.drivetrain_loss + other.drivetrain_loss,
            self.mass + other.mass,
            self.power + other.power,
        )

    def times(self, count: float) -> "Change":
        """The change so many times over."""
        return Change(
            count * self.cda,
            count * self.crr,
            count * self.drivetrain_loss,
            count * self.mass,
            count * self.power,
        )


AXES = tuple(axis.name for axis in fields(Change))
"""What an option can change, in the order of `Change`."""


@dataclass(frozen=True)
class Race:
    """A race and its options.

    Parameters
    ----------
    name : str
        Title, or the name of the race file.
    rider, bike, air, course : Rider, Bike, Air, Course
        What is ridden.
    limits : SpeedLimits
        Braking, bends and the highest speed.
    step : float
        Greatest distance between the nodes of the solver [m].
    options : tuple of Option
        What may be changed.
    assumptions : tuple of Assumption
        Values that the user did not give, each with its source.
    notices : tuple of Notice
        What the user should know about the inputs.
    doubts : Doubts
        How sure the inputs are.
    purse : Purse
        What can be spent.
    landmarks : tuple of Landmark
        Places on the course, from start to finish.

    Raises
    ------
    ValueError
        If the course states rolling resistance otherwise than as a factor on the bike's own,
        has no bearings although the wind comes from a compass direction, or the step is no length.
    """

    name: str
    rider: Rider
    bike: Bike
    air: Air
    course: Course
    limits: SpeedLimits = SpeedLimits()
    step: float = 10.0
    options: tuple[Option, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    notices: tuple[Notice, ...] = ()
    doubts: Doubts = NO_DOUBTS
    purse: Purse = EMPTY_PURSE
    landmarks: tuple[Landmark, ...] = ()

    def __post_init__(self) -> None:
        if not np.all(np.isnan(self.course.crr)):
            raise ValueError("give the course through Course.with_own_crr_as_roughness")
        wind = self.air.wind
        if wind.speed and not wind.follows_rider and np.any(np.isnan(self.course.bearing)):
            raise ValueError("a wind from a compass direction needs a course with bearings")
        if not self.step > 0:
            raise ValueError("step must be positive")

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
        hub, a drivetrain that loses less shows there as more power.

        Raises
        ------
        ValueError
            If the change leaves nothing of a quantity that must stay positive.
        """
        old = self.bike
        new = replace(
            old,
            mass=old.mass + change.mass,
            cda=old.cda.plus(change.cda) if change.cda else old.cda,
            crr=old.crr + change.crr,
            drivetrain_loss=old.drivetrain_loss + change.drivetrain_loss,
        )
        power = self.rider.power + change.power
        if not power > 0:
            raise ValueError("power must be positive")
        if new.power_at == "hub" and change.drivetrain_loss:
            power *= (1.0 - new.drivetrain_loss) / (1.0 - old.drivetrain_loss)
        return replace(self.with_power(power), bike=new)

    def with_power(self, power: float) -> "Race":
        """The same race ridden at another power [W]."""
        return replace(self, rider=replace(self.rider, power=power))
