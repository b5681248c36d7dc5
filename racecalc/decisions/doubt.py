"""How sure a time or a saving is: all stated doubts drawn together.

How sure the time and the savings are, all stated doubts together, by Monte Carlo. Every doubt is
drawn from a normal distribution and carried through the quadratic surrogate of the course time,
whose error is measured by full solves at some of the draws. The error of the published model counts
in the finish time. It cancels, like every doubt that is shared, in the difference of two rides: a
saving is worked out draw by draw, in the same wind and air and with the same power, once with and
once without the option.

The course time as a quadratic function of all uncertain inputs at once. Along each axis the race is
solved at the centre and at ``+-sqrt(3) s``, the three nodes of Gauss-Hermite quadrature for a
normal quantity of standard deviation ``s``, and the exact gradient is taken at all of them. For
normal inputs the quadratic nearest to a function in the mean square has its mean value, mean
gradient and mean Hessian for coefficients (Stein's lemma); the quadrature gives the first two with
every term of third order along one axis and of the kind ``x y^2``, and differences of gradients
give the Hessian with all its mixed terms. So two solves an axis do the work of a full second-order
design, and small axes need none.

The wind is one vector: its axes are the parts along and across the stated direction, in which the
time is smooth even through calm. Direction and speed are turned into them exactly, and the fit is
centred on the mean of the vector.

References
----------
.. [1] JCGM 101:2008, Propagation of distributions using a Monte Carlo method.
.. [2] Stein CM. Estimation of the mean of a multivariate normal distribution. Annals of Statistics
   1981;9:1135-1151.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.holding import held_share
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import change_of
from racecalc.decisions.timing import (
    MODEL_ERROR,
    at_temperature,
    time_by_pressure,
    time_by_temperature,
    time_by_wind,
)
from racecalc.decisions.worth import Worth, doubt_in_use, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import Air, Change, Race
from racecalc.errors import InputError
from racecalc.written import SPREAD

# --- The course time as a quadratic function of all uncertain inputs at once ---------------------

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
    """``constant + linear . z + 1/2 z . hessian . z``, z the shifts less their origin."""

    axes: tuple[str, ...]
    """Keys of `SLOPES`."""
    origin: FloatArray
    """Shifts around which it was fitted, in SI; shape (k,)."""
    constant: float
    """[s]"""
    linear: FloatArray
    """[s per SI unit]; shape (k,)."""
    hessian: FloatArray
    """[s per SI unit squared]; shape (k, k)."""

    def at(self, shifts: Mapping[str, FloatArray]) -> FloatArray:
        """Time [s] at each draw."""
        z = np.stack([shifts[axis] for axis in self.axes]) - self.origin[:, None]
        # Products this thin are slower in threads, which "@" would start.
        slope = self.linear[:, None] + 0.5 * np.einsum("ij,jn->in", self.hessian, z)
        return np.asarray(self.constant + np.sum(slope * z, axis=0))


def fit(best: Ridden, scales: Shift, origin: Shift | None = None) -> Surrogate:
    """Fit the surrogate."""
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
        both = zip(ends, shifts, strict=True)
        up, down = (_gradient(end, best.race, shift, axes) for end, shift in both)
        constant += NODE_WEIGHT * sum(end.time - centre.time for end in ends)
        mean_linear += NODE_WEIGHT * (up + down - 2.0 * linear)
        hessian[number] = (up - down) / (2.0 * step)
    known = np.isin(np.arange(len(axes)), bent)
    hessian = (hessian + hessian.T) / np.where(known & known[:, None], 2.0, 1.0)
    constant -= 0.5 * float(np.sum(np.diag(hessian) * size**2))
    middle = np.array([start.get(axis, 0.0) for axis in axes])
    return Surrogate(axes, middle, constant, mean_linear, hessian)


def _bent(axes: tuple[str, ...], effect: FloatArray) -> NDArray[np.int_]:
    """Numbers of the axes along which curvature counts: all of the wind, and all large ones."""
    wind = np.array([axis.startswith("wind") for axis in axes])
    return np.flatnonzero(wind | (effect > STRAIGHT * np.linalg.norm(effect)))


def moved(centre: Ridden, shift: Shift, near: Ridden | None = None) -> Ridden:
    """Solve the race in full with its inputs moved, on the same nodes."""
    try:
        race = _moved_race(centre.race, {**dict.fromkeys(SLOPES, 0.0), **shift})
        return (near or centre).variant(race)
    except ValueError as error:
        where = ", ".join(f"{axis} by {amount:+.3g}" for axis, amount in shift.items() if amount)
        problem = f"with {where} (SI) the race cannot be ridden: {error}"
        raise InputError("the stated doubts", problem, "state smaller ones") from error


def _moved_race(race: Race, by: Shift) -> Race:
    rider, bike = race.rider, race.bike
    power = (rider.power + by["power"]) * _passing(race, by)
    return replace(
        race,
        rider=replace(rider, power=power, mass=rider.mass + by["mass"]),
        bike=replace(bike, cda=bike.cda.plus(by["cda"]), crr=bike.crr + by["crr"]),
        air=moved_air(race.air, by),
    )


def wind_shift(
    speed: float, more: FloatArray | float, turn: FloatArray | float
) -> dict[str, FloatArray]:
    """Shift of the wind as a vector where its speed and its direction are off."""
    blown = speed + np.asarray(more)
    return {"wind_along": blown * np.cos(turn) - speed, "wind_across": blown * np.sin(turn)}


def moved_air(air: Air, by: Shift) -> Air:
    """The air of a race moved along the axes of the wind, temperature, pressure and density."""
    by = {**dict.fromkeys(SLOPES, 0.0), **by}
    wind = air.wind
    along, across = wind.speed + by["wind_along"], by["wind_across"]
    blown = replace(
        wind, speed=math.hypot(along, across), direction=wind.direction + math.atan2(across, along)
    )
    warmed = at_temperature(air, air.temperature + by["temperature"])
    density = None if air.density is None else air.density + by["density"]
    return replace(warmed, wind=blown, pressure=air.pressure + by["pressure"], density=density)


def _gradient(now: Ridden, start: Race, by: Shift, axes: Iterable[str]) -> FloatArray:
    """Exact derivatives of the time where the race `start` has been moved `by` so much."""
    return np.array([SLOPES[axis](now, start, by) for axis in axes])


def _passing(start: Race, by: Shift) -> float:
    """Share of the power that passes the drivetrain of a moved race, of that which did before.

    A loss that is not there would be refused; the power that passes it may be any.
    """
    return 1.0 - by.get("drivetrain_loss", 0.0) / (1.0 - start.bike.drivetrain_loss)


def _by_loss(now: Ridden, start: Race, by: Shift) -> float:
    power = start.rider.power + by.get("power", 0.0)
    lost = -power * start.bike.efficiency / (1.0 - start.bike.drivetrain_loss)
    return float(now.derivatives.wheel_power.sum()) * lost


SLOPES: dict[str, Callable[[Ridden, Race, Shift], float]] = {
    "power": lambda now, start, by: now.time_by_power * _passing(start, by),
    "cda": lambda now, *_: now.seconds_per_unit.cda,
    "crr": lambda now, *_: now.seconds_per_unit.crr,
    "mass": lambda now, *_: now.seconds_per_unit.mass,
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


# --- The answers of a Monte Carlo over all doubts ------------------------------------------------


@dataclass(frozen=True)
class SurrogateError:
    """How far the surrogate lay from full solves at randomly chosen draws."""

    largest: float
    rms: float
    """Largest and root-mean-square difference [s]."""
    solves: int
    """Number of draws that were solved in full."""


@dataclass(frozen=True)
class Cause:
    """One input and its part in the doubt of an answer."""

    name: str
    """Field of `racecalc.domain.race.Doubts`, "model", "own" (the option's own saving) or "use"
    (what the set in use saves).
    """
    words: str
    """The same in plain words."""
    share: float
    """Part of the variance that would go if this input were known to be its best estimate.
    Near-linear answers have shares that add up to 1.
    """


@dataclass(frozen=True)
class TimeSpread:
    """Quantiles of draws [s]."""

    median_s: float
    standard_deviation_s: float
    """Of all draws."""
    low_80_s: float
    high_80_s: float
    low_90_s: float
    high_90_s: float
    low_95_s: float
    high_95_s: float
    """Intervals that leave out as many draws below as above."""

    @property
    def between_95_s(self) -> tuple[float, float]:
        """The 95 % interval."""
        return self.low_95_s, self.high_95_s

    @classmethod
    def of(cls, draws: FloatArray) -> "TimeSpread":
        """Quantiles of draws [s], shape (n,)."""
        shares = (0.5, 0.1, 0.9, 0.05, 0.95, 0.025, 0.975)
        median, *ends = (float(one) for one in np.quantile(draws, shares))
        return cls(median, float(np.std(draws)), *ends)


@dataclass(frozen=True)
class Band:
    """How sure an answer is, all doubts together."""

    spread: Annotated[TimeSpread, SPREAD]
    """Of the time, or of the saving."""
    causes: tuple[Cause, ...]
    """Largest first."""
    surrogate_error_s: SurrogateError
    """Check against full solves."""
    draws: int
    seed: int
    """Number of draws, and the seed that repeats them."""


@dataclass(frozen=True)
class TimeBand(Band):
    """How sure a finish time is."""

    time_s: float
    """Time at the best estimates [s]."""


@dataclass(frozen=True)
class SavingBand(Band):
    """How sure a saving is: the same draws ridden with and without the option."""

    name: str
    """The option."""
    saved_s: float
    """Saving at the best estimates [s]."""
    own_doubt_stated: bool
    """Whether the doubt of the saving itself is known. Where it is not, `spread` holds the common
    doubts alone and is no interval for the saving.
    """
    chance_faster: float
    """From the share of the draws in which it saves time."""


# --- How sure the time and the savings are, all stated doubts together, by Monte Carlo -----------

DEFAULT_DRAWS = 20_000
DEFAULT_SEED = 1

CHECKS = 8
"""Draws that are solved in full to measure the error of the surrogate; our choice, few because each
is a full solve."""

CHECKS_OF_SAVING = 3
"""The same of the surrogate with an option: the one without it has been checked."""

CAUSE_DRAWS = 2000
"""Draws from which the parts of the causes are worked out; our choice: whole percent are shown."""

FURTHEST = 3.5
"""Draws are kept within so many standard uncertainties, so that none is impossible; that takes
less than 0.1 % off the standard deviation."""

CAUSES = {
    "power": "power",
    "cda": "CdA",
    "crr": "Crr",
    "mass": "mass",
    "drivetrain_loss": "drivetrain loss",
    "wind_speed": "wind speed",
    "wind_from": "wind direction",
    "temperature": "temperature",
    "pressure": "pressure",
    "density": "air density",
    "model": "error of the model",
    "own": "the saving itself",
    "use": "what the set saves",
}
"""Every cause of doubt in plain words; its place here numbers its stream of random numbers, so
that the draws of one cause do not depend on which others are stated."""

Draws = Mapping[str, FloatArray]
"""Deviation of each cause from its best estimate in every draw, in SI."""


def time_band(ridden: Ridden, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED) -> TimeBand:
    """How sure the finish time is, the error of the model and the set in use included.

    The same seed gives the same answer.

    Raises `InputError` if the doubts reach to where the race cannot be ridden.
    """
    used = doubt_in_use(ridden)
    used = used and used / abs(ridden.seconds_per_unit.cda)
    base = _Drawn.of(ridden, {"model": MODEL_ERROR, "use": used}, draws, seed)
    solved = [one.time for one in base.solved]
    band = _band(base.times, base.times(base.drawn), base.drawn, solved)
    return TimeBand(*band, draws, seed, time_s=ridden.time)


def saving_bands(
    ridden: Ridden, options: Iterable[Option], draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED
) -> tuple[SavingBand, ...]:
    """How sure the saving of each option is, by draws that are shared with and without it.

    The race is that without any option; the same seed gives the same answer.

    Raises `InputError` if the doubts reach to where the race cannot be ridden.
    """
    start = _Drawn.of(ridden, {"model": 0.0}, draws, seed)
    return tuple(_saving_band(start, option, draws, seed) for option in options)


@dataclass(frozen=True)
class _Drawn:
    """The race without any option: its draws, its surrogate, and its rides at the checks."""

    ridden: Ridden
    drawn: Draws
    surrogate: Surrogate
    solved: list[Ridden]

    @classmethod
    def of(cls, ridden: Ridden, more: Mapping[str, float], draws: int, seed: int) -> "_Drawn":
        drawn = _drawn({**felt(ridden.race), **more}, draws, seed)
        shifts = _shifts(ridden.race, drawn)
        return cls(ridden, drawn, _fitted(ridden, shifts), _solved(ridden, shifts))

    def times(self, drawn: Draws) -> FloatArray:
        """Time without the option in each draw [s]."""
        return self.surrogate.at(_shifts(self.ridden.race, drawn))


def _band(
    answer: Callable[[Draws], FloatArray], found: FloatArray, drawn: Draws, solved: Sequence[float]
) -> tuple[TimeSpread, tuple[Cause, ...], SurrogateError]:
    """Spread, causes and error of an answer that was `found` in each draw."""
    error = np.abs(found[: len(solved)] - solved)
    checked = SurrogateError(float(np.max(error)), float(np.sqrt(np.mean(error**2))), len(solved))
    return TimeSpread.of(found), _causes(answer, drawn), checked


def band_between(
    base: Ridden,
    changed: Ridden,
    doubt: float,
    name: str,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> SavingBand:
    """How sure the difference of two rides is, by draws that both share.

    `doubt` is the standard uncertainty of what sets them apart [s].

    Raises `InputError` if the doubts reach to where the race cannot be ridden.
    """
    start = _Drawn.of(base, {"model": 0.0}, draws, seed)
    own = _as_area(changed, doubt)
    return _difference_band(start, changed, own, name, draws, seed, stated=True)


def _saving_band(start: _Drawn, option: Option, draws: int, seed: int) -> SavingBand:
    worth = worth_of(start.ridden, option)
    without = _Drawn.of(worth.base, {"model": 0.0}, draws, seed) if worth.exchange.in_use else start
    stated = worth.doubt_s is not None
    return _difference_band(
        without, worth.changed, _own_doubt(worth), option.name, draws, seed, stated=stated
    )


def _difference_band(
    without: _Drawn,
    changed: Ridden,
    own: tuple[str, float],
    name: str,
    draws: int,
    seed: int,
    *,
    stated: bool,
) -> SavingBand:
    """Seconds saved in each draw; `own` is the axis and the size of the doubt of the saving."""
    axis, amount = own
    drawn = {**without.drawn, **_drawn({"own": amount}, draws, seed, name)}
    shifts = _shifts(changed.race, drawn, axis)
    surrogate = _fitted(changed, shifts)

    def savings(of: Draws) -> FloatArray:
        return without.times(of) - surrogate.at(_shifts(changed.race, of, axis))

    found = savings(drawn)
    checked = without.solved[:CHECKS_OF_SAVING]
    rides = zip(checked, _solved(changed, shifts, checked), strict=True)
    solved = [alone.time - used.time for alone, used in rides]
    return SavingBand(
        *_band(savings, found, drawn, solved),
        draws,
        seed,
        name=name,
        saved_s=without.ridden.time - changed.time,
        own_doubt_stated=stated,
        chance_faster=_chance(found),
    )


def _chance(found: FloatArray) -> float:
    """Chance of more than nothing; never quite 0 or 1 where only the draws say so (Jeffreys)."""
    faster, certain = int(np.sum(found > 0)), bool(np.ptp(found) == 0)
    return float(found[0] > 0) if certain else (faster + 0.5) / (len(found) + 1)


def _own_doubt(worth: Worth) -> tuple[str, float]:
    """Axis along which the doubt of a saving acts, and one standard uncertainty of it.

    Where other options go or come with it, their doubts are counted along the drag area too.
    """
    option, race = worth.option, worth.changed.race
    if worth.rest != Change() and worth.doubt_s is not None:
        return _as_area(worth.changed, worth.doubt_s)
    if option.doubt is None:
        return "cda", 0.0
    change = change_of(option.doubt, option, race).times(held_share(option.holding))
    axis = next((one for one in ("crr", "drivetrain_loss") if getattr(change, one)), "cda")
    return axis, abs(getattr(change, axis))


def _as_area(ridden: Ridden, doubt: float) -> tuple[str, float]:
    """A doubt in seconds as one of the drag area."""
    return "cda", doubt / ridden.seconds_per_unit.cda


def felt(race: Race) -> dict[str, float]:
    """Return the stated doubts that can change the time of this race, by name."""
    idle = {"density"} if race.air.density is None else {"temperature", "pressure"}
    if race.bike.power_at == "hub":
        idle.add("drivetrain_loss")
    return {name: doubt for name, doubt in race.doubts.stated.items() if name not in idle}


def _drawn(doubts: Mapping[str, float], draws: int, seed: int, about: str = "") -> Draws:
    """Draws of each cause; `about` parts the streams of causes of one name, as of options."""
    drawn = {}
    for name, doubt in doubts.items():
        stream = [seed, list(CAUSES).index(name), *about.encode()]
        normals = np.random.default_rng(stream).normal(size=draws)
        drawn[name] = doubt * np.clip(normals, -FURTHEST, FURTHEST)
    return drawn


def _shifts(race: Race, drawn: Draws, own_axis: str = "") -> dict[str, FloatArray]:
    """Shift of every axis of the surrogate in each draw; "own" acts along `own_axis`, if any."""
    more, turn = drawn.get("wind_speed", 0.0), drawn.get("wind_from", 0.0)
    by_cause = [
        *((name, values) for name, values in drawn.items() if name in SLOPES),
        ("power", drawn["model"]),
        ("cda", drawn.get("use", 0.0)),
        (own_axis, drawn.get("own", 0.0)),
        *wind_shift(race.air.wind.speed, more, turn).items(),
    ]
    shifts = dict.fromkeys(SLOPES, np.zeros(len(drawn["model"])))
    for axis, values in by_cause:
        if axis:
            shifts[axis] = shifts[axis] + values
    return shifts


def _fitted(ridden: Ridden, shifts: Draws) -> Surrogate:
    """Fit the surrogate where the draws lie; power always is one of its axes."""
    origin = {axis: float(np.mean(shifts[axis])) for axis in ("wind_along", "wind_across")}
    sizes = {
        axis: float(np.sqrt(np.mean((values - origin.get(axis, 0.0)) ** 2)))
        for axis, values in shifts.items()
    }
    sizes["power"] = sizes["power"] or MODEL_ERROR
    felt = {axis: size for axis, size in sizes.items() if size > 0}
    return fit(ridden, felt, {axis: mean for axis, mean in origin.items() if mean and axis in felt})


def _solved(
    ridden: Ridden, shifts: Draws, near: Sequence[Ridden | None] = (None,) * CHECKS
) -> list[Ridden]:
    """The first draws, solved in full, each from one that is known to be near."""
    return [
        moved(
            ridden, {axis: float(values[draw]) for axis, values in shifts.items()}, start
        ).slimmed()
        for draw, start in enumerate(near[: len(shifts["power"])])
    ]


def _causes(answer: Callable[[Draws], FloatArray], drawn: Draws) -> tuple[Cause, ...]:
    """Part of the variance that goes with each cause, largest first."""
    some = {name: values[:CAUSE_DRAWS] for name, values in drawn.items()}
    whole = float(np.var(answer(some)))
    causes = [
        Cause(name, CAUSES[name], 1.0 - float(np.var(answer({**some, name: 0.0 * values}))) / whole)
        for name, values in some.items()
        if np.any(values) and whole > 0
    ]
    return tuple(sorted(causes, key=lambda cause: -cause.share))
