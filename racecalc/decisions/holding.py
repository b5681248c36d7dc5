"""Positions that are held for a part of the race only.

While a rider changes between two positions, the mean speed over time is that of both positions,
weighted by the time in each: ``v = s v_held + (1 - s) v_up``. The turns are taken to be long
against the ten to fifteen seconds in which speed settles.
"""

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.breakeven import multiple_needed
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import change_of
from racecalc.domain.option import Option
from racecalc.domain.position import Holding
from racecalc.domain.race import Change


def held_share(holding: Holding) -> float:
    """Share of the riding time in which a position is held, over the whole course."""
    return float(np.mean(holding.shares))


def held_change(option: Option, change: Change, base: Ridden) -> Change:
    """The constant change that takes the same time as holding a position for its shares.

    Parameters
    ----------
    option : Option
        Says how long it is held, and what holds otherwise.
    change : Change
        What it changes while it is held, but for the loss of power.
    base : Ridden
        The race without it.

    Returns
    -------
    Change
        The same change where it is always held; else with the drag area, the same all along,
        that takes as long. The loss of power counts with its share of the time.
    """
    holding = option.holding
    loss = holding.power_loss.of(base.race.rider.power) if holding.power_loss else 0.0
    power = Change(power=-loss * held_share(holding))
    if holding.always or not (change.cda or holding.otherwise):
        return change.plus(power)
    rest = Change(mass=change.mass)
    carried = base.changed(rest)
    time = _time_in_turns(base, option, change)
    area = multiple_needed(carried, Change(cda=1.0), time)
    return rest.plus(power).plus(Change(cda=area or 0.0))


def _time_in_turns(base: Ridden, option: Option, change: Change) -> float:
    held, up = _both(base, option, change)
    return time_held(held, up, option.holding.shares)


def _both(base: Ridden, option: Option, change: Change) -> tuple[Ridden, Ridden]:
    """The race with the position held all along, and never."""
    otherwise = option.holding.otherwise
    apart = change_of(otherwise, option, base.race) if otherwise else Change()
    return base.changed(change), base.changed(apart.plus(Change(mass=change.mass)))


def time_held(held: Ridden, up: Ridden, shares: tuple[float, ...]) -> float:
    """Time of a race in which a position is held for shares of the riding time.

    Parameters
    ----------
    held, up : Ridden
        The race with the position held all along, and never; on the same nodes.
    shares : tuple of float
        One for each of as many equal parts of the course.

    Returns
    -------
    float
        [s]
    """
    ride = held.solution.ride
    part = np.minimum((ride.middle / ride.nodes[-1] * len(shares)).astype(int), len(shares) - 1)
    share: FloatArray = np.asarray(shares)[part]
    speed = share * held.solution.mean_speed + (1.0 - share) * up.solution.mean_speed
    return float(np.sum(ride.step / speed))
