"""What a statement of drag refers to: a speed, a power, and what is known beside."""

from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from racecalc.domain.bike import Bike, DragArea
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import read_value
from racecalc.motion.steady import flat_calm_speed
from racecalc.physics.atmosphere import density_along

NAMES = {
    "cda": "the drag area",
    "crr": "the rolling resistance",
    "mass": "the mass",
    "loss": "the drivetrain loss",
    "density": "the air density",
    "speed": "the speed it refers to",
    "power": "the power that percentages refer to",
}
"""Conditions in plain words; each has a flag of its name."""


class NotStatedError(InputError):
    """Conditions that a conversion needs and nobody stated.

    Parameters
    ----------
    names : tuple of str
        Fields of `Conditions`.
    for_speed : tuple of str
        Fields that together would do instead of "speed".
    """

    def __init__(self, names: tuple[str, ...], for_speed: tuple[str, ...] = ()) -> None:
        self.names, self.for_speed = names, for_speed
        flags = [f"--{name}" for name in names]
        if "speed" in names:
            others = [f"--{name}" for name in for_speed if name not in names]
            place = names.index("speed")
            flags[place] += f" (or for it {_listed(others)})" if others else ""
        problem = f"not stated: {', '.join(NAMES[name] for name in names)}"
        super().__init__("", problem, f"give {_listed(flags)}, or --race")


def _listed(flags: list[str]) -> str:
    return " and ".join(part for part in (", ".join(flags[:-1]), flags[-1]) if part)


@dataclass(frozen=True)
class Conditions:
    """What is known of rider, bike and air; None for what is not.

    Parameters
    ----------
    cda : float, optional
        Drag area [m^2].
    power : float, optional
        Power of the rider [W].
    speed : float, optional
        Speed of the rider at that power [m/s].
    mass : float, optional
        Rider, bike and all they carry [kg].
    crr : float, optional
        Rolling-resistance coefficient.
    loss : float, optional
        Share of the crank power lost on the way to the wheel.
    density : float, optional
        Air density [kg/m^3].
    bike : Bike, optional
        Further losses of the bike; common bearings where it is not given.
    """

    cda: float | None = None
    power: float | None = None
    speed: float | None = None
    mass: float | None = None
    crr: float | None = None
    loss: float | None = None
    density: float | None = None
    bike: Bike | None = None


def conditions_of(race: Race) -> Conditions:
    """What a race says: its rider and bike, and its air at the mean height of the course."""
    height = np.mean(race.course.elevation, keepdims=True)
    return Conditions(
        cda=race.bike.cda.at_zero_yaw,
        power=race.rider.power,
        mass=race.total_mass,
        crr=race.bike.crr,
        loss=1.0 - race.bike.efficiency,
        density=float(density_along(race.air, height)[0]),
        bike=race.bike,
    )


@dataclass(frozen=True)
class Reference:
    """Speed [m/s] and power [W] that a statement refers to, and what is known beside."""

    speed: float | None
    power: float | None
    known: Conditions

    def is_that_of(self, other: "Reference") -> bool:
        """Whether two statements surely refer to one speed."""
        if self.speed is not None and other.speed is not None:
            return self.speed == other.speed
        return self.power is not None and self.power == other.power

    def at_speed(self) -> float:
        """Speed as stated, or as this power gives it on a flat, calm road [m/s].

        Raises
        ------
        NotStatedError
            If it is not known.
        """
        if self.speed is not None:
            return self.speed
        of_rider = self.known.power in (None, self.power)
        if self.power is not None and self.known.speed is not None and of_rider:
            return self.known.speed
        lacking = lacking_of(self.known, FOR_SPEED)
        if self.power is None:
            raise NotStatedError(("speed",), ("power", *lacking))
        if lacking:
            raise NotStatedError(("speed",), lacking) if of_rider else NotStatedError(lacking)
        _, _, mass, density, loss = needed(self.known, FOR_SPEED)
        return flat_calm_speed(rolling_bike(self.known), mass, self.power * (1.0 - loss), density)

    def speed_or_none(self) -> float | None:
        """The same; None where something for it is not known."""
        try:
            return self.at_speed()
        except NotStatedError:
            return None

    def at_power(self) -> float:
        """Power as stated [W].

        Raises
        ------
        NotStatedError
            If it is not known.
        """
        if self.power is None:
            raise NotStatedError(("power",))
        return self.power


FOR_SPEED = ("cda", "crr", "mass", "density", "loss")
"""What a speed from a power needs."""


def rolling_bike(known: Conditions) -> Bike:
    """The bike behind its drivetrain: powers are those at the road."""
    cda, crr = needed(known, ("cda", "crr"))
    usual = known.bike or _usual_bike()
    return replace(usual, cda=DragArea((cda,)), crr=crr, power_at="hub")


def _usual_bike() -> Bike:
    """Bearings as a race file takes them for granted; turning wheels counted in CdA."""

    def default(key: str) -> float:
        about = RACE_KEYS["bike"][key]
        return cast(float, read_value(about, about.default))

    return Bike(
        mass=1.0,
        cda=DragArea((1.0,)),
        crr=1.0,
        drivetrain_loss=0.0,
        spoke_drag=0.0,
        bearing_drag=default("bearing_drag"),
        bearing_drag_slope=default("bearing_drag_slope"),
        wheel_inertia=0.0,
        wheel_radius=1.0,
        power_at="hub",
        start_speed=0.0,
    )


def lacking_of(known: Conditions, names: tuple[str, ...]) -> tuple[str, ...]:
    """Those conditions that are not known."""
    return tuple(name for name in names if getattr(known, name) is None)


def needed(known: Conditions, names: tuple[str, ...]) -> tuple[float, ...]:
    """Conditions by name.

    Parameters
    ----------
    known : Conditions
        What is known.
    names : tuple of str
        Its fields.

    Returns
    -------
    tuple of float
        In the order of the names.

    Raises
    ------
    NotStatedError
        If one is not known; it names the flags.
    """
    lacking = lacking_of(known, names)
    if lacking:
        raise NotStatedError(lacking)
    return tuple(getattr(known, name) for name in names)
