"""How sure the time and the savings are, all stated doubts together, by Monte Carlo.

Every doubt is drawn from a normal distribution and carried through the quadratic surrogate of
the course time (`racecalc.decisions.surrogate`), whose error is measured by full solves at some
of the draws. The error of the published model counts in the finish time. It cancels, like every
doubt that is shared, in the difference of two rides: a saving is worked out draw by draw, in
the same wind and air and with the same power, once with and once without the option.

References
----------
.. [1] JCGM 101:2008, Propagation of distributions using a Monte Carlo method.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.bands import Cause, SavingBand, Spread, SurrogateError, TimeBand
from racecalc.decisions.holding import held_share
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import change_of
from racecalc.decisions.surrogate import SLOPES, Surrogate, fit, moved, wind_shift
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.decisions.worth import total_change
from racecalc.domain.option import Option
from racecalc.domain.race import Race

DEFAULT_DRAWS = 20_000
DEFAULT_SEED = 1

CHECKS = 8
"""Draws that are solved in full to measure the error of the surrogate; our choice, few because each
is a full solve."""

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
}
"""Every cause of doubt in plain words; its place here numbers its stream of random numbers, so
that the draws of one cause do not depend on which others are stated."""

Draws = Mapping[str, FloatArray]
"""Deviation of each cause from its best estimate in every draw, in SI."""


def time_band(ridden: Ridden, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED) -> TimeBand:
    """How sure the finish time is, the error of the model included.

    Parameters
    ----------
    ridden : Ridden
        The race at its best estimates, with its doubts.
    draws : int
        How many draws.
    seed : int
        Seed of the random numbers; the same seed gives the same answer.

    Returns
    -------
    TimeBand
        Intervals, causes, and the error of the surrogate.

    Raises
    ------
    InputError
        If the doubts reach to where the race cannot be ridden.
    """
    race = ridden.race
    drawn = _drawn({**felt(race), "model": MODEL_ERROR}, draws, seed)
    surrogate = _fitted(ridden, _shifts(race, drawn))

    def times(of: Draws) -> FloatArray:
        return surrogate.at(_shifts(race, of))

    found = times(drawn)
    return TimeBand(
        time_s=ridden.time,
        spread=Spread.of(found),
        causes=_causes(times, drawn),
        surrogate_error_s=_error(
            found, [one.time for one in _solved(ridden, _shifts(race, drawn))]
        ),
        draws=draws,
        seed=seed,
    )


def saving_bands(
    ridden: Ridden,
    options: Iterable[Option],
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> tuple[SavingBand, ...]:
    """How sure the saving of each option is, by draws that are shared with and without it.

    Parameters
    ----------
    ridden : Ridden
        The race without any option, with its doubts.
    options : iterable of Option
        What may be used.
    draws : int
        How many draws.
    seed : int
        Seed of the random numbers; the same seed gives the same answer.

    Returns
    -------
    tuple of SavingBand
        In the order of the options.

    Raises
    ------
    InputError
        If the doubts reach to where the race cannot be ridden.
    """
    without = _Without.of(ridden, draws, seed)
    return tuple(_saving_band(without, option, draws, seed) for option in options)


@dataclass(frozen=True)
class _Without:
    """The race without any option: its draws, its surrogate, and its times at the checks."""

    ridden: Ridden
    drawn: Draws
    surrogate: Surrogate
    solved: list[Ridden]

    @classmethod
    def of(cls, ridden: Ridden, draws: int, seed: int) -> "_Without":
        drawn = _drawn({"model": 0.0, **felt(ridden.race)}, draws, seed)
        shifts = _shifts(ridden.race, drawn)
        return cls(ridden, drawn, _fitted(ridden, shifts), _solved(ridden, shifts))

    def times(self, drawn: Draws) -> FloatArray:
        """Time without the option in each draw [s]."""
        return self.surrogate.at(_shifts(self.ridden.race, drawn))


def _saving_band(without: _Without, option: Option, draws: int, seed: int) -> SavingBand:
    base = without.ridden
    changed = base.changed(total_change(option, base))
    axis, amount = _own_doubt(option, changed.race)
    drawn = {**without.drawn, **_drawn({"own": amount}, draws, seed, option.name)}
    shifts = _shifts(changed.race, drawn, axis)
    surrogate = _fitted(changed, shifts)

    def savings(of: Draws) -> FloatArray:
        return without.times(of) - surrogate.at(_shifts(changed.race, of, axis))

    found = savings(drawn)
    solved = [
        alone.time - used.time
        for alone, used in zip(
            without.solved, _solved(changed, shifts, without.solved), strict=True
        )
    ]
    return SavingBand(
        name=option.name,
        saved_s=base.time - changed.time,
        own_doubt_stated=option.saves is None or option.doubt is not None,
        spread=Spread.of(found),
        chance_faster=_chance(found),
        causes=_causes(savings, drawn),
        surrogate_error_s=_error(found, solved),
        draws=draws,
        seed=seed,
    )


def _chance(found: FloatArray) -> float:
    """Chance of more than nothing; never quite 0 or 1 where only the draws say so (Jeffreys)."""
    faster, certain = int(np.sum(found > 0)), bool(np.ptp(found) == 0)
    return float(found[0] > 0) if certain else (faster + 0.5) / (len(found) + 1)


def _own_doubt(option: Option, race: Race) -> tuple[str, float]:
    """Axis along which the doubt of a saving acts, and one standard uncertainty of it."""
    if option.doubt is None:
        return "cda", 0.0
    change = change_of(option.doubt, option, race).times(held_share(option.holding))
    axis = next((one for one in ("crr", "drivetrain_loss") if getattr(change, one)), "cda")
    return axis, abs(getattr(change, axis))


def felt(race: Race) -> dict[str, float]:
    """Return the stated doubts that can change the time of this race, by name."""
    idle = set()
    if race.bike.power_at == "hub":
        idle.add("drivetrain_loss")
    idle |= {"density"} if race.air.density is None else {"temperature", "pressure"}
    return {name: doubt for name, doubt in race.doubts.stated.items() if name not in idle}


def _drawn(doubts: Mapping[str, float], draws: int, seed: int, about: str = "") -> Draws:
    """Draws of each cause; `about` parts the streams of causes of one name, as of options."""
    names = list(CAUSES)
    return {
        name: doubt
        * np.clip(
            np.random.default_rng([seed, names.index(name), *about.encode()]).normal(size=draws),
            -FURTHEST,
            FURTHEST,
        )
        for name, doubt in doubts.items()
    }


def _shifts(race: Race, drawn: Draws, own_axis: str = "") -> dict[str, FloatArray]:
    """Shift of every axis of the surrogate in each draw; "own" acts along `own_axis`, if any."""
    blown = wind_shift(
        race.air.wind.speed, drawn.get("wind_speed", 0.0), drawn.get("wind_from", 0.0)
    )
    by_cause = [
        *((name, values) for name, values in drawn.items() if name in SLOPES),
        ("power", drawn["model"]),
        (own_axis, drawn.get("own", 0.0)),
        *blown.items(),
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
        moved(ridden, {axis: float(values[draw]) for axis, values in shifts.items()}, start)
        for draw, start in enumerate(near[: len(shifts["power"])])
    ]


def _error(found: FloatArray, solved: Sequence[float]) -> SurrogateError:
    error = np.abs(found[: len(solved)] - solved)
    return SurrogateError(float(np.max(error)), float(np.sqrt(np.mean(error**2))), len(solved))


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
