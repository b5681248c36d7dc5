"""Drag area from the energy balance of whole laps.

The work of the pedals, less that of the bearings and tyres and what went into speed and height, is
the work against the air: 1/2 rho CdA times the integral of the squared air speed over the way. The
balance and its terms are those of Martin et al. [1]_, summed over a lap instead of at each moment.

References
----------
.. [1] Martin JC, Milliken DL, Cobb JE, McFadden KL, Coggan AR. Validation of a mathematical
   model for road cycling power. J Appl Biomech 1998;14:276-291. doi:10.1123/jab.14.3.276
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.signals import Signals
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.race_values import bike_default
from racecalc.physics.forces import (
    GRAVITY,
    air_speed_product,
    bearing_drag,
    lean_in_bend,
    rolling_drag,
)


@dataclass(frozen=True)
class Bends:
    """Those of a track of two straights and two bends, on the line that the wheels follow."""

    radius: float
    share: float
    """Of both bends [m], and of the lap: 2 pi radius over its length."""
    height: float
    """Of the centre of mass when upright [m]."""


@dataclass(frozen=True)
class Setup:
    """What of rider and bike the recording does not tell."""

    mass: float
    crr: float
    """Rider, bike and all they carry [kg], and the rolling-resistance coefficient."""
    efficiency: float
    """Share of the measured power that reaches the road."""
    bearing_drag: float
    bearing_drag_slope: float
    """Drag of the wheel bearings [N] and its growth with speed [N s/m]."""
    rotating_mass: float
    """Mass that the inertia of the wheels adds when speed changes [kg]."""
    bends: Bends | None = None
    """None on the road, whose bends are too wide to matter."""


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
    inertia, radius = bike_default("wheel_inertia"), bike_default("wheel_radius")
    return Setup(
        mass=given["--mass"] or 0.0,
        crr=given["--crr"] or 0.0,
        efficiency=1.0 - (given["--loss"] or 0.0),
        bearing_drag=bike.bearing_drag if bike else bike_default("bearing_drag"),
        bearing_drag_slope=bike.bearing_drag_slope if bike else bike_default("bearing_drag_slope"),
        rotating_mass=bike.rotating_mass if bike else inertia / radius**2,
    )


@dataclass(frozen=True, eq=False)
class Sums:
    """Running sums of a run at the points of its recording; shape (n,)."""

    signals: Signals
    setup: Setup
    rolling: FloatArray
    bearings: FloatArray
    """Work of the tyres and of the bearings [J]."""
    push: FloatArray
    """Work against the air for each m^2 of drag area [J/m^2]."""


def sums_of(
    signals: Signals, setup: Setup, density: float, head: FloatArray, cross: FloatArray
) -> Sums:
    """Running sums in air of a density [kg/m^3] with head and cross wind [m/s] at each point."""
    speed, bends = signals.speed, setup.bends
    braking = bearing_drag(speed, setup.bearing_drag, setup.bearing_drag_slope)[0]
    product = np.asarray(air_speed_product(speed, head, cross)[0]) * speed
    weight = np.ones_like(speed)
    if bends is not None:
        lean, slower = lean_in_bend(speed, bends.radius, bends.height)
        body = slower * speed
        in_bend = np.asarray(air_speed_product(body, head, cross)[0]) * body
        product = (1.0 - bends.share) * product + bends.share * in_bend
        weight = 1.0 - bends.share + bends.share / np.cos(lean)
    return Sums(
        signals,
        setup,
        signals.summed(setup.crr * setup.mass * GRAVITY * weight * speed),
        signals.summed(np.asarray(braking) * speed),
        signals.summed(0.5 * density * product),
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


def total(parts: Sequence[Energy]) -> Energy:
    """All parts together."""
    return Energy(*map(sum, zip(*(vars(one).values() for one in parts), strict=True)))


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
        np.diff(signals.at(times, sums.rolling)),
        np.diff(signals.at(times, sums.bearings)),
        inertia * np.diff(speed**2),
        setup.mass * GRAVITY * rise * distance / np.sum(distance),
        np.diff(signals.at(times, sums.push)),
    )
    return [Energy(*map(float, row)) for row in np.transpose(columns)]


@dataclass(frozen=True)
class CrrFit:
    """Rolling resistance found together with the drag areas."""

    crr: float
    """Best value."""
    standard_error: float
    """By the scatter of the runs, and what the wind may do to it."""
    df: int
    """Degrees of freedom of the scatter."""


def fit_crr(runs: Sequence[Energy], groups: Sequence[Hashable], crr: float) -> CrrFit | None:
    """The Crr that all runs share, with a drag area for each group; None without runs to spare.

    The work at the road is CdA x push + Crr x weight x way: linear in both, so least squares, each
    run weighted by the road it covers. The balances were made with `crr`.
    """
    names = list(dict.fromkeys(groups))
    df = len(runs) - len(names) - 1
    if df < 1:
        return None
    push = np.array([run.push for run in runs])
    rows = np.array(
        [
            [run.push * (own == name) for name in names]
            for run, own in zip(runs, groups, strict=True)
        ]
    )
    weight = np.array([run.rolling / crr for run in runs])
    work = np.array([run.against_air + run.rolling for run in runs])
    scale = 1.0 / np.sqrt(push)
    design = np.column_stack([rows, weight]) * scale[:, np.newaxis]
    best = np.linalg.lstsq(design, work * scale, rcond=None)[0]
    variance = float(np.sum((work * scale - design @ best) ** 2)) / df
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[-1, -1])
    return CrrFit(float(best[-1]), float(error), df)
