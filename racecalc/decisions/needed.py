"""The saving that makes up for something: solved on the full course."""

from racecalc.decisions.riding import Ridden
from racecalc.domain.race import Change

MOST_ITERATIONS = 30
TIME_TOLERANCE = 1e-9


def first_order(ridden: Ridden, change: Change) -> float:
    """Time that a small change would add [s], by the exact derivatives at this ride."""
    race, ride, d = ridden.race, ridden.solution.ride, ridden.derivatives
    crank_power = race.rider.power
    if race.bike.power_at == "hub":
        crank_power /= 1.0 - race.bike.drivetrain_loss
    return float(
        change.cda * d.cda.sum()
        + change.crr * (d.crr * ride.crr / race.bike.crr).sum()
        + change.mass * d.mass.sum()
        - crank_power * change.drivetrain_loss * d.wheel_power.sum()
        + change.power * ridden.time_by_power
    )


def multiple_needed(ridden: Ridden, unit: Change, target_time: float) -> float | None:
    """How many units of a change bring a ride to a time.

    Newton's method on full solves, with the exact derivative of the time.

    Parameters
    ----------
    ridden : Ridden
        Where to start from.
    unit : Change
        The change to be multiplied.
    target_time : float
        Wanted time [s].

    Returns
    -------
    float or None
        Number of units; None where no possible number reaches the time.
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
            now = ridden.changed(unit.times(count))
        except ValueError:
            return None
    return None


def power_worth(ridden: Ridden, target_time: float) -> float | None:
    """Watts to add over the whole course to bring a ride to a time.

    Parameters
    ----------
    ridden : Ridden
        Where to start from.
    target_time : float
        Wanted time [s].

    Returns
    -------
    float or None
        Watts at the power meter, negative for a slower time; None if no power reaches it.
    """
    return multiple_needed(ridden, Change(power=1.0), target_time)
