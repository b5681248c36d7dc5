"""The course time as a quadratic function of all uncertain inputs at once.

Along each axis the race is solved at the centre and at ``+-sqrt(3) s``, the three nodes of
Gauss-Hermite quadrature for a normal quantity of standard deviation ``s``, and the exact
gradient is taken at all of them. For normal inputs the quadratic nearest to a function in the
mean square has its mean value, mean gradient and mean Hessian for coefficients (Stein's lemma);
the quadrature gives the first two with every term of third order along one axis and of the kind
``x y^2``, and differences of gradients give the Hessian with all its mixed terms. So two solves
an axis do the work of a full second-order design, and small axes need none.

The wind is one vector: its axes are the parts along and across the stated direction, in which
the time is smooth even through calm. Direction and speed are turned into them exactly, and the
fit is centred on the mean of the vector.

References
----------
.. [1] Stein CM. Estimation of the mean of a multivariate normal distribution. Annals of
   Statistics 1981;9:1135-1151.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.needed import first_order
from racecalc.decisions.rates import (
    at_temperature,
    time_by_pressure,
    time_by_temperature,
    time_by_wind,
)
from racecalc.decisions.riding import Ridden
from racecalc.domain.air import Air
from racecalc.domain.race import Change, Race
from racecalc.errors import InputError

NODE = np.sqrt(3.0)
"""Outer node of three-point Gauss-Hermite quadrature, in standard deviations."""

NODE_WEIGHT = 1.0 / 6.0
"""Weight of each outer node."""

STRAIGHT = 0.15
"""Axes with less of the first-order standard deviation are taken as straight: what they add to
it is of second order already, and their mixed terms with the other axes are kept."""

Shift = Mapping[str, float]
"""How far each axis is moved from the best estimate, in SI; axes not named stay."""


@dataclass(frozen=True)
class Surrogate:
    """``constant + linear . z + 1/2 z . hessian . z``, z the shifts less their origin.

    Parameters
    ----------
    axes : tuple of str, length k
        Keys of `SLOPES`.
    origin : FloatArray, shape (k,)
        Shifts around which it was fitted, in SI.
    constant : float
        [s]
    linear : FloatArray, shape (k,)
        [s per SI unit]
    hessian : FloatArray, shape (k, k)
        [s per SI unit squared]
    """

    axes: tuple[str, ...]
    origin: FloatArray
    constant: float
    linear: FloatArray
    hessian: FloatArray

    def at(self, shifts: Mapping[str, FloatArray]) -> FloatArray:
        """Time [s] at each draw.

        Parameters
        ----------
        shifts : Mapping of str to FloatArray, shape (n,)
            Shift of each axis in each draw.

        Returns
        -------
        FloatArray, shape (n,)
            [s]
        """
        z = np.stack([shifts[axis] for axis in self.axes]) - self.origin[:, None]
        # Products this thin are slower in threads, which "@" would start.
        slope = self.linear[:, None] + 0.5 * np.einsum("ij,jn->in", self.hessian, z)
        return np.asarray(self.constant + np.sum(slope * z, axis=0))


def fit(best: Ridden, scales: Shift, origin: Shift | None = None) -> Surrogate:
    """Fit the surrogate.

    Parameters
    ----------
    best : Ridden
        The race at its best estimates.
    scales : Mapping of str to float
        Standard deviation along each axis, in SI and positive; keys of `SLOPES`.
    origin : Mapping of str to float, optional
        Middle of the shifts where it is not the best estimate: a wind whose direction is open
        is weaker, as a vector, than the one that was forecast.

    Returns
    -------
    Surrogate
        Nearest quadratic for normal shifts of these scales about the origin.

    Raises
    ------
    InputError
        If a race at ``sqrt(3)`` standard deviations is impossible.
    """
    axes, start = tuple(scales), dict(origin or {})
    size = np.array([scales[axis] for axis in axes])
    centre = moved(best, start) if start else best
    constant, linear = centre.time, _gradient(centre, best.race, start, axes)
    mean_linear, hessian = linear.copy(), np.zeros((len(axes), len(axes)))
    bent = _bent(axes, np.abs(linear * size))
    for number in bent:
        axis, step = axes[number], NODE * size[number]
        shifts = [{**start, axis: start.get(axis, 0.0) + one} for one in (step, -step)]
        ends = [moved(best, shift, centre) for shift in shifts]
        up, down = (
            _gradient(end, best.race, shift, axes) for end, shift in zip(ends, shifts, strict=True)
        )
        constant += NODE_WEIGHT * sum(end.time - centre.time for end in ends)
        mean_linear += NODE_WEIGHT * (up + down - 2.0 * linear)
        hessian[number] = (up - down) / (2.0 * step)
    both = np.isin(np.arange(len(axes)), bent)
    hessian = (hessian + hessian.T) / np.where(both & both[:, None], 2.0, 1.0)
    constant -= 0.5 * float(np.sum(np.diag(hessian) * size**2))
    middle = np.array([start.get(axis, 0.0) for axis in axes])
    return Surrogate(axes, middle, constant, mean_linear, hessian)


def _bent(axes: tuple[str, ...], effect: FloatArray) -> NDArray[np.int_]:
    """Numbers of the axes along which curvature counts: all of the wind, and all large ones."""
    wind = np.array([axis.startswith("wind") for axis in axes])
    return np.flatnonzero(wind | (effect > STRAIGHT * np.linalg.norm(effect)))


def moved(centre: Ridden, shift: Shift, near: Ridden | None = None) -> Ridden:
    """Solve the race in full with its inputs moved, on the same nodes.

    Parameters
    ----------
    centre : Ridden
        The race at its best estimates.
    shift : Mapping of str to float
        How far each input is moved.
    near : Ridden, optional
        A ride on the same nodes that is known to be similar; it only saves time.

    Returns
    -------
    Ridden
        The race there.

    Raises
    ------
    InputError
        If nothing can be ridden there; it says where that is.
    """
    try:
        race = _moved_race(centre.race, {**dict.fromkeys(SLOPES, 0.0), **shift})
        return (near or centre).variant(race)
    except ValueError as error:
        where = ", ".join(f"{axis} by {amount:+.3g}" for axis, amount in shift.items() if amount)
        raise InputError(
            "the stated doubts",
            f"with {where} (SI) the race cannot be ridden: {error}",
            "state smaller ones",
        ) from error


def _moved_race(race: Race, by: Shift) -> Race:
    rider, bike = race.rider, race.bike
    # A loss that is not there would be refused; the power that passes it may be any.
    passing = 1.0 - by["drivetrain_loss"] / (1.0 - bike.drivetrain_loss)
    power = (rider.power + by["power"]) * passing
    return replace(
        race,
        rider=replace(rider, power=power, mass=rider.mass + by["mass"]),
        bike=replace(bike, cda=bike.cda.plus(by["cda"]), crr=bike.crr + by["crr"]),
        air=moved_air(race.air, by),
    )


def wind_shift(
    speed: float, more: FloatArray | float, turn: FloatArray | float
) -> dict[str, FloatArray]:
    """Shift of the wind as a vector where its speed and its direction are off.

    Parameters
    ----------
    speed : float
        As stated [m/s].
    more : FloatArray or float
        Speed on top of that [m/s]; a sum below zero blows from the other side.
    turn : FloatArray or float
        Turn of the direction, clockwise [rad].

    Returns
    -------
    dict of str to FloatArray
        The axes along and across the stated direction [m/s].
    """
    blown = speed + np.asarray(more)
    return {"wind_along": blown * np.cos(turn) - speed, "wind_across": blown * np.sin(turn)}


def moved_air(air: Air, by: Shift) -> Air:
    """The air of a race moved along the axes of the wind, temperature, pressure and density.

    Raises
    ------
    ValueError
        If no such air exists.
    """
    by = {**dict.fromkeys(SLOPES, 0.0), **by}
    wind = air.wind
    along, across = wind.speed + by["wind_along"], by["wind_across"]
    blown = replace(
        wind,
        speed=math.hypot(along, across),
        direction=wind.direction + math.atan2(across, along),
    )
    warmed = at_temperature(air, air.temperature + by["temperature"])
    density = None if air.density is None else air.density + by["density"]
    return replace(warmed, wind=blown, pressure=air.pressure + by["pressure"], density=density)


def _gradient(now: Ridden, start: Race, by: Shift, axes: Iterable[str]) -> FloatArray:
    """Exact derivatives of the time where the race `start` has been moved `by` so much."""
    return np.array([SLOPES[axis](now, start, by) for axis in axes])


def _by_power(now: Ridden, start: Race, by: Shift) -> float:
    loss = start.bike.drivetrain_loss
    passing = 1.0 - by.get("drivetrain_loss", 0.0) / (1.0 - loss)
    return now.time_by_power * passing


def _by_loss(now: Ridden, start: Race, by: Shift) -> float:
    power = start.rider.power + by.get("power", 0.0)
    lost = -power * start.bike.efficiency / (1.0 - start.bike.drivetrain_loss)
    return float(now.derivatives.wheel_power.sum()) * lost


SLOPES: dict[str, Callable[[Ridden, Race, Shift], float]] = {
    "power": _by_power,
    "cda": lambda now, *_: first_order(now, Change(cda=1.0)),
    "crr": lambda now, *_: first_order(now, Change(crr=1.0)),
    "mass": lambda now, *_: first_order(now, Change(mass=1.0)),
    "drivetrain_loss": _by_loss,
    "wind_along": lambda now, start, _: time_by_wind(now, start.air.wind.direction),
    "wind_across": lambda now, start, _: time_by_wind(
        now, start.air.wind.direction + 0.5 * math.pi
    ),
    "temperature": lambda now, *_: time_by_temperature(now),
    "pressure": lambda now, *_: time_by_pressure(now),
    "density": lambda now, *_: float(now.derivatives.density.sum()),
}
"""Every axis with the derivative of the time along it [s per SI unit]."""
