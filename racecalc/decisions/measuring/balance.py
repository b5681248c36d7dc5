"""Drag area from the energy balance of whole laps.

The work of the pedals, less that of the bearings and tyres and what went into speed and height, is
the work against the air: 1/2 rho CdA times the integral of the squared air speed over the way. The
balance and its terms are those of Martin et al. [1]_, summed over a lap instead of at each moment.

References
----------
.. [1] Martin JC, Milliken DL, Cobb JE, McFadden KL, Coggan AR. Validation of a mathematical
   model for road cycling power. J Appl Biomech 1998;14:276-291. doi:10.1123/jab.14.3.276
"""

from dataclasses import dataclass
from typing import cast

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.signals import Signals
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import read_value
from racecalc.physics.forces import GRAVITY, air_speed_product, bearing_drag, rolling_drag


@dataclass(frozen=True)
class Setup:
    """What of rider and bike the recording does not tell."""

    mass: float
    """Rider, bike and all they carry [kg]."""
    crr: float
    """Rolling-resistance coefficient."""
    efficiency: float
    """Share of the measured power that reaches the road."""
    bearing_drag: float
    bearing_drag_slope: float
    """Drag of the wheel bearings [N] and its growth with speed [N s/m]."""
    rotating_mass: float
    """Mass that the inertia of the wheels adds when speed changes [kg]."""


def setup_of(
    race: Race | None,
    mass: float | None = None,
    crr: float | None = None,
    loss: float | None = None,
) -> Setup:
    """Rider and bike as stated, else as in a race, bearings and wheels as it takes them."""
    given, bike = {"--mass": mass, "--crr": crr, "--loss": loss}, race.bike if race else None
    if race and bike:
        stated = (race.total_mass, bike.crr, 1.0 - bike.efficiency)
        given = {
            name: known if value is None else value
            for (name, value), known in zip(given.items(), stated, strict=True)
        }
    for name, value in given.items():
        if value is None or (value == 0 and name != "--loss"):
            problem = "is not stated" if value is None else "is zero"
            raise InputError(name, problem, "give it, or name a race file that has it")
    of_bearings = "bearing_drag", "bearing_drag_slope"
    inertia, radius = (_default(name) for name in ("wheel_inertia", "wheel_radius"))
    return Setup(
        mass=given["--mass"] or 0.0,
        crr=given["--crr"] or 0.0,
        efficiency=1.0 - (given["--loss"] or 0.0),
        **{name: getattr(bike, name) if bike else _default(name) for name in of_bearings},
        rotating_mass=bike.rotating_mass if bike else inertia / radius**2,
    )


def _default(name: str) -> float:
    """What a race file takes where it states nothing."""
    key = RACE_KEYS["bike"][name]
    return cast(float, read_value(key, key.default))


@dataclass(frozen=True, eq=False)
class Sums:
    """Running sums of a run at the points of its recording; shape (n,)."""

    signals: Signals
    setup: Setup
    bearings: FloatArray
    """Work of the bearings [J]."""
    push: FloatArray
    """Work against the air for each m^2 of drag area [J/m^2]."""


def sums_of(
    signals: Signals, setup: Setup, density: float, head: FloatArray, cross: FloatArray
) -> Sums:
    """Running sums in air of a density [kg/m^3] with head and cross wind [m/s] at each point."""
    speed = signals.speed
    braking = bearing_drag(speed, setup.bearing_drag, setup.bearing_drag_slope)[0]
    product = air_speed_product(speed, head, cross)[0]
    return Sums(
        signals,
        setup,
        signals.summed(np.asarray(braking) * speed),
        signals.summed(0.5 * density * np.asarray(product) * speed),
    )


@dataclass(frozen=True)
class Energy:
    """Where the work of a stretch went."""

    seconds: float
    distance: float
    """[s], [m]."""
    work: float
    """At the meter [J]."""
    driven: float
    """At the road [J]."""
    rolling: float
    bearings: float
    kinetic: float
    height: float
    """Into tyres, bearings, speed and height [J]."""
    push: float
    """Against the air for each m^2 of drag area [J/m^2]."""

    @property
    def against_air(self) -> float:
        """What is left for the air [J]."""
        return self.driven - self.rolling - self.bearings - self.kinetic - self.height

    @property
    def cda(self) -> float:
        """Drag area [m^2]."""
        return self.against_air / self.push if self.push > 0 else np.nan

    def plus(self, other: "Energy") -> "Energy":
        """Both stretches together."""
        return Energy(*(one + more for one, more in zip(self._all, other._all, strict=True)))

    @property
    def _all(self) -> tuple[float, ...]:
        return tuple(vars(self).values())


def steady(setup: Setup, power: FloatArray, speed: FloatArray, density: FloatArray) -> list[Energy]:
    """Where a second goes at a power [W] and steady speed [m/s] in still air [kg/m^3], level."""
    none = np.zeros_like(speed)
    product = np.asarray(air_speed_product(speed, none, none)[0])
    braking = np.asarray(bearing_drag(speed, setup.bearing_drag, setup.bearing_drag_slope)[0])
    columns = (
        none + 1.0,
        speed,
        power,
        setup.efficiency * power,
        rolling_drag(setup.crr, setup.mass, none)[0] * speed,
        braking * speed,
        none,
        none,
        0.5 * density * product * speed,
    )
    return [Energy(*map(float, row)) for row in np.transpose(columns)]


def between(sums: Sums, times: FloatArray, rise: float = 0.0) -> list[Energy]:
    """Where the work went from each time to the next [s]; the whole goes up by `rise` [m]."""
    signals, setup = sums.signals, sums.setup
    speed = signals.at(times, signals.speed)
    distance = np.diff(signals.at(times, signals.distance))
    work = np.diff(signals.at(times, signals.work))
    inertia = 0.5 * (setup.mass + setup.rotating_mass)
    columns = (
        np.diff(times),
        distance,
        work,
        setup.efficiency * work,
        setup.crr * setup.mass * GRAVITY * distance,
        np.diff(signals.at(times, sums.bearings)),
        inertia * np.diff(speed**2),
        setup.mass * GRAVITY * rise * distance / np.sum(distance),
        np.diff(signals.at(times, sums.push)),
    )
    return [Energy(*map(float, row)) for row in np.transpose(columns)]
