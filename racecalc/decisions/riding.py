"""Solving a race, and solving its variants on the same nodes."""

from dataclasses import dataclass
from functools import cached_property

from racecalc.domain.race import Change, Race
from racecalc.errors import InputError
from racecalc.motion.adjoint import TimeDerivatives, time_derivatives
from racecalc.motion.setting import ride_again, ride_of, ride_on
from racecalc.motion.solver import Solution, solve


@dataclass(frozen=True)
class Ridden:
    """A race and its solution.

    Parameters
    ----------
    race : Race
        What was ridden.
    solution : Solution
        Speed along the course.
    """

    race: Race
    solution: Solution

    @property
    def time(self) -> float:
        """Total time [s]."""
        return self.solution.time

    @cached_property
    def derivatives(self) -> TimeDerivatives:
        """Derivatives of the total time on every step."""
        return time_derivatives(self.solution)

    @property
    def time_by_power(self) -> float:
        """Derivative of the time with respect to the power at the meter [s/W]."""
        return float(self.derivatives.wheel_power.sum()) * self.race.bike.efficiency

    def variant(self, race: Race) -> "Ridden":
        """Ride another version of the race on the same nodes, so that rounding cancels."""
        ride = ride_again(self.solution.ride, self.race, race)
        return Ridden(race, solve(ride, self.solution.speed))

    def changed(self, change: Change) -> "Ridden":
        """Ride the race with an option in use; nothing changed gives the very same time.

        Raises
        ------
        InputError
            If the change leaves no drag area, rolling resistance or mass.
        """
        if change == Change():
            return self
        try:
            race = self.race.changed(change)
        except ValueError as error:
            raise InputError(
                f"a change of {_words(change)}",
                f"leaves an impossible bike: {error}",
                "check the saving and the conditions of its test",
            ) from error
        return self.variant(race)


def _words(change: Change) -> str:
    parts = {
        f"{change.cda:+.4f} m^2 of CdA": change.cda,
        f"{change.crr:+.5f} of Crr": change.crr,
        f"{100 * change.drivetrain_loss:+.1f} % of drivetrain loss": change.drivetrain_loss,
        f"{change.mass:+.3f} kg": change.mass,
        f"{change.power:+.0f} W": change.power,
    }
    return " and ".join(words for words, amount in parts.items() if amount)


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
    solution = solve(ride_of(race))
    if not solution.iterations:
        # The solver cut steps for itself; what acts on them is filled in afresh.
        solution = solve(ride_on(race, solution.ride.nodes), solution.speed)
    return Ridden(race, solution)
