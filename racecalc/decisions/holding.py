"""Positions that are held for a part of the race only.

While a rider changes between two positions, the mean speed over time is that of both positions,
weighted by the time in each: ``v = s v_held + (1 - s) v_up``. The turns are taken to be long
against the ten to fifteen seconds in which speed settles.
"""

from dataclasses import dataclass

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
    held, up = _both(base, option, change)
    area = multiple_needed(carried, Change(cda=1.0), time_held(held, up, holding.shares))
    return rest.plus(power).plus(Change(cda=area or 0.0))


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
    speed = _speed_in_turns(held, up, _share_along(held, shares))
    return float(np.sum(held.solution.ride.step / speed))


def _share_along(held: Ridden, shares: tuple[float, ...]) -> FloatArray:
    ride = held.solution.ride
    part = (ride.middle / ride.nodes[-1] * len(shares)).astype(np.intp)
    return np.asarray(np.asarray(shares)[np.minimum(part, len(shares) - 1)])


def _speed_in_turns(held: Ridden, up: Ridden, share: FloatArray) -> FloatArray:
    return share * held.solution.mean_speed + (1.0 - share) * up.solution.mean_speed


@dataclass(frozen=True)
class HoldingAnswer:
    """What it takes for a position to pay.

    Parameters
    ----------
    share : float
        Share of the riding time in which it is held, as stated, over the whole course.
    loss_w : float
        Loss of power while held, as stated [W].
    full_s : float
        Seconds saved if it were held all along at no loss of power, mass included.
    break_even_time, break_even_course : float or None
        Share of the riding time, and of the course, for which it must be held to save anything
        at the stated loss of power; the stated shares are kept in proportion. None where even
        holding it throughout saves nothing, 0 where it never costs time.
    break_even_power_w : float or None
        Loss of power at which it saves nothing although held all along [W].
    losses_w : tuple of float
        Losses of power of the rows of `table` [W].
    held : tuple of float
        Shares of the riding time of its columns.
    table : tuple of tuple of float
        Seconds saved for each loss of power while held, and each share.
    """

    share: float
    loss_w: float
    full_s: float
    break_even_time: float | None
    break_even_course: float | None
    break_even_power_w: float | None
    losses_w: tuple[float, ...]
    held: tuple[float, ...]
    table: tuple[tuple[float, ...], ...]


HELD = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
"""Shares of the time shown; our choice."""

LOSSES = (0.0, 0.01, 0.02, 0.03, 0.04)
"""Losses of power shown, as shares of the race power; trials of low positions found 0 to 10 %."""

TOLERANCE = 1e-6


def holding_answer(base: Ridden, option: Option, change: Change) -> HoldingAnswer | None:
    """What it takes for a position to pay; None for what is always held and costs no power.

    Parameters
    ----------
    base : Ridden
        The race without it.
    option : Option
        Says how long it is held, what it costs in power, and what holds otherwise.
    change : Change
        Its saving and mass, as if held all along and without a loss of power.

    Returns
    -------
    HoldingAnswer or None
        Break-even shares and a table of losses of power against shares.
    """
    holding = option.holding
    if holding.always and not holding.power_loss:
        return None
    power = base.race.rider.power
    loss = holding.power_loss.of(power) if holding.power_loss else 0.0
    held, up = _both(base, option, change)
    losses = tuple(round(share * power) + 0.0 for share in LOSSES)
    rows = [held.changed(Change(power=-one)) for one in losses]
    time, course = _break_even_share(base, held.changed(Change(power=-loss)), up, holding)
    return HoldingAnswer(
        share=held_share(holding),
        loss_w=loss,
        full_s=base.time - held.time,
        break_even_time=time,
        break_even_course=course,
        break_even_power_w=multiple_needed(held, Change(power=-1.0), base.time),
        losses_w=losses,
        held=HELD,
        table=tuple(
            tuple(base.time - time_held(row, up, (share,)) for share in HELD) for row in rows
        ),
    )


def _break_even_share(
    base: Ridden, held: Ridden, up: Ridden, holding: Holding
) -> tuple[float | None, float | None]:
    """Share of the time and of the course at which nothing is saved any more."""
    shares = holding.shares if any(holding.shares) else (1.0,)

    def scaled(factor: float) -> tuple[float, ...]:
        return tuple(min(1.0, factor * share) for share in shares)

    most = 1.0 / min(share for share in shares if share)
    low, high = 0.0, most
    if time_held(held, up, scaled(low)) <= base.time:
        return 0.0, 0.0
    if time_held(held, up, scaled(high)) > base.time:
        return None, None
    while high - low > TOLERANCE * most:
        middle = 0.5 * (low + high)
        slower = time_held(held, up, scaled(middle)) > base.time
        low, high = (middle, high) if slower else (low, middle)
    share = _share_along(held, scaled(high))
    speed = _speed_in_turns(held, up, share)
    step = held.solution.ride.step
    time, distance = step / speed, step * share * held.solution.mean_speed / speed
    return float(np.sum(share * time) / np.sum(time)), float(np.sum(distance) / np.sum(step))
