"""A race solved, solved again with a change, and what a change must be to save so much."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, replace
from functools import cached_property, wraps
from pathlib import Path
from typing import Any, TypeVar, TypeVarTuple

from racecalc.arrays import FloatArray
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option
from racecalc.domain.race import AXES, Change, Race
from racecalc.errors import InputError
from racecalc.motion.adjoint import TimeDerivatives
from racecalc.motion.setting import ride_again, ride_of, ride_on
from racecalc.motion.solver import Solution, solve

# --- Solving a race, and solving its variants on the same nodes ----------------------------------


@dataclass(frozen=True)
class Ridden:
    """A race and its solution."""

    race: Race
    """What was ridden."""
    solution: Solution
    """Speed along the course."""

    @property
    def time(self) -> float:
        """Total time [s]."""
        return self.solution.time

    @cached_property
    def bare(self) -> "Ridden":
        """The race with none of its options in use."""
        return self.variant(self.race.bare) if self.race.use else self

    @cached_property
    def known(self) -> dict[Any, Any]:
        """What was found about it `once`."""
        return {}

    @cached_property
    def derivatives(self) -> TimeDerivatives:
        """Derivatives of the total time on every step."""
        return TimeDerivatives(self.solution)

    @property
    def time_by_power(self) -> float:
        """Derivative of the time with respect to the power at the meter [s/W]."""
        return float(self.derivatives.wheel_power.sum()) * self.race.bike.efficiency

    @cached_property
    def seconds_per_unit(self) -> Change:
        """Time that a unit of each quantity of a change would add [s], to first order."""
        race, ride, d = self.race, self.solution.ride, self.derivatives
        crank_power = race.rider.power
        if race.bike.power_at == "hub":
            crank_power /= 1.0 - race.bike.drivetrain_loss
        return Change(
            cda=float(d.cda.sum()),
            crr=float((d.crr * ride.crr / race.bike.crr).sum()),
            mass=float(d.mass.sum()),
            drivetrain_loss=-crank_power * float(d.wheel_power.sum()),
            power=self.time_by_power,
        )

    def slimmed(self) -> "Ridden":
        """The same without what can be worked out again: most of the memory of a long ride."""
        for part in (self, self.solution, self.solution.ride):
            given = {field.name for field in fields(part)}
            for name in [*vars(part)]:
                if name not in given and not isinstance(vars(part)[name], float | Change | dict):
                    del vars(part)[name]
        return self

    def variant(self, race: Race, guess: FloatArray | None = None) -> "Ridden":
        """Ride another version of the race on the same nodes, so that rounding cancels.

        It is solved from a `guess` of the speeds at the nodes, or else from its own.
        """
        ride = ride_again(self.solution.ride, self.race, race)
        return Ridden(race, solve(ride, self.solution.speed if guess is None else guess))

    def changed(self, change: Change, guess: FloatArray | None = None) -> "Ridden":
        """Ride the race with an option in use; nothing changed gives the very same time."""
        if change == Change():
            return self
        try:
            race = self.race.changed(change)
        except ValueError as error:
            problem = f"leaves an impossible bike: {error}"
            remedy = "check the saving and the conditions of its test"
            raise InputError(f"a change of {_words(change)}", problem, remedy) from error
        return self.variant(race, guess)


def _words(change: Change) -> str:
    parts = {
        f"{change.cda:+.4f} m^2 of CdA": change.cda,
        f"{change.crr:+.5f} of Crr": change.crr,
        f"{100 * change.drivetrain_loss:+.1f} % of drivetrain loss": change.drivetrain_loss,
        f"{change.mass:+.3f} kg": change.mass,
        f"{change.power:+.0f} W": change.power,
    }
    return " and ".join(words for words, amount in parts.items() if amount)


STANDSTILL = 1.0
"""Mean speed below which nobody stays upright [m/s]; our choice."""

Given = TypeVarTuple("Given")
Found = TypeVar("Found")


def once(find: Callable[[*Given], Found]) -> Callable[[*Given], Found]:
    """Let what is found about a ride by other arguments, all by position, be kept with it."""

    @wraps(find)
    def found(*args: *Given) -> Found:
        (ridden,) = (one for one in args if isinstance(one, Ridden))
        key = (find, *(one for one in args if one is not ridden))
        if key not in ridden.known:
            ridden.known[key] = find(*args)
        kept: Found = ridden.known[key]
        return kept

    return found


def ride(race: Race) -> Ridden:
    """Solve a race.

    Parameters
    ----------
    race : Race
        What is ridden.

    Returns
    -------
    Ridden
        The race with its solution.

    Raises
    ------
    InputError
        If the rider comes to a stop on the way.
    """
    laid = ride_of(race)
    solution = solve(laid)
    if solution.ride is not laid:
        # The solver cut steps for itself; what acts on them is filled in afresh.
        solution = solve(ride_on(race, solution.ride.nodes), solution.speed)
    return Ridden(race, solution)


# --- The saving that makes up for something ------------------------------------------------------

MOST_ITERATIONS = 30
TIME_TOLERANCE = 1e-9


def first_order(ridden: Ridden, change: Change) -> float:
    """Time that a small change would add [s], by the exact derivatives at this ride."""
    unit = ridden.seconds_per_unit
    return float(sum(getattr(change, axis) * getattr(unit, axis) for axis in AXES))


def multiple_needed(ridden: Ridden, unit: Change, target_time: float) -> float | None:
    """How many units of a change bring a ride to a time.

    Newton's method on full solves, with the exact derivative of the time.
    """
    count, now = 0.0, ridden
    for _ in range(MOST_ITERATIONS):
        excess = now.time - target_time
        if abs(excess) < TIME_TOLERANCE * target_time:
            return count
        per_unit = first_order(now, unit)
        if per_unit == 0:
            return None
        count -= excess / per_unit
        try:
            now = ridden.changed(unit.times(count), now.solution.speed)
        except ValueError:
            return None
    return None


def power_worth(ridden: Ridden, target_time: float) -> float | None:
    """Watts to add over the whole course to bring a ride to a time."""
    return multiple_needed(ridden, Change(power=1.0), target_time)


def load_measured(path: Path, changes: Iterable[str] = (), text: str | None = None) -> Race:
    """Read a race as `load_race` does, and measure the sheets that its options name as trials.

    Mass, Crr and losses are those of the file as it is saved, as a what-if of the race changes
    nothing on the day of the test. The air must be in the sheet.
    """
    race = load_race(path, changes, text)
    if not any(option.trial_sheet for option in race.options):
        return race
    try:
        ridden = load_race(path)
    except InputError:
        ridden = race
    return replace(race, options=tuple(_measured(option, ridden) for option in race.options))


def _measured(option: Option, ridden: Race) -> Option:
    if option.trial_sheet is None:
        return option
    # Hardly a race names a sheet, and what reads recordings takes a third of a second to load.
    from racecalc.decisions.measuring.measure import runs_of_sheet

    try:
        runs = runs_of_sheet(option.trial_sheet, ridden)
    except InputError as error:
        raise error.at(f"option {option.name}") from error
    return replace(option, trial=runs)
