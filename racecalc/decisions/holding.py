"""What an option changes, positions held in part included.

While a rider changes between two positions, the mean speed over time is that of both positions,
weighted by the time in each: ``v = s v_held + (1 - s) v_up``. The turns are taken to be long
against the ten to fifteen seconds in which speed settles.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden, multiple_needed, once
from racecalc.decisions.savings import change_of
from racecalc.domain.option import Holding, Option
from racecalc.domain.race import Change
from racecalc.errors import InputError

# --- What an option changes ----------------------------------------------------------------------


@once
def total_change(option: Option, base: Ridden) -> Change:
    """What an option changes: its saving as far as it is held, its mass and its loss of power."""
    with errors_about(option.name):
        return held_change(option, change_held(option, base), base)


def change_held(option: Option, base: Ridden) -> Change:
    """What an option changes while it is held, but for the loss of power."""
    mass = Change(mass=option.mass)
    return mass.plus(change_of(option.saves, option, base.race)) if option.saves else mass


def ridden_with(base: Ridden, change: Change, name: str, guess: FloatArray | None = None) -> Ridden:
    """Ride with a change, its errors naming the option."""
    with errors_about(name):
        return base.changed(change, guess)


@contextmanager
def errors_about(name: str) -> Iterator[None]:
    """Let every error name the option it is about."""
    try:
        yield
    except InputError as error:
        raise error.at(f"option {name}") from error


# --- Positions that are held for a part of the race only -----------------------------------------


def held_share(holding: Holding) -> float:
    """Share of the riding time in which a position is held, over the whole course."""
    return float(np.mean(holding.shares))


def held_change(option: Option, change: Change, base: Ridden) -> Change:
    """The constant change that takes the same time as holding a position for its shares."""
    holding = option.holding
    power = Change(power=-_loss(holding, base) * held_share(holding))
    if holding.always or not (change.cda or holding.otherwise):
        return change.plus(power)
    rest = Change(mass=change.mass)
    time = Turns.of(*_both(base, option, change)).time(holding.shares)
    area = multiple_needed(base.changed(rest), Change(cda=1.0), time)
    return rest.plus(power).plus(Change(cda=area or 0.0))


def _loss(holding: Holding, base: Ridden) -> float:
    """Loss of power while a position is held [W]."""
    return holding.power_loss.of(base.race.rider.power) if holding.power_loss else 0.0


def _both(base: Ridden, option: Option, change: Change) -> tuple[Ridden, Ridden]:
    """The race with the position held throughout, and never."""
    otherwise = option.holding.otherwise
    apart = change_of(otherwise, option, base.race) if otherwise else Change()
    return base.changed(change), base.changed(apart.plus(Change(mass=change.mass)))


@dataclass(frozen=True)
class Turns:
    """A position held and given up alternately, on the nodes that both rides share."""

    nodes: FloatArray
    """Distances [m]; shape (k + 1,)."""
    held: FloatArray
    up: FloatArray
    """Speed on each step with the position held throughout, and never [m/s]; shape (k,)."""

    @classmethod
    def of(cls, held: Ridden, up: Ridden) -> "Turns":
        """Both rides; where a rider is very slow the solver lays nodes of its own between."""
        nodes = np.intersect1d(held.solution.ride.nodes, up.solution.ride.nodes)
        return cls(nodes, held.solution.mean_speed_on(nodes), up.solution.mean_speed_on(nodes))

    def share_along(self, shares: tuple[float, ...]) -> FloatArray:
        """Share of the riding time on each step, shape (k,)."""
        middle = 0.5 * (self.nodes[:-1] + self.nodes[1:]) / self.nodes[-1]
        part = np.minimum((middle * len(shares)).astype(np.intp), len(shares) - 1)
        return np.asarray(np.asarray(shares)[part])

    def times(self, share: FloatArray) -> FloatArray:
        """Time on each step for the share held there [s], shape (k,)."""
        return np.diff(self.nodes) / (share * self.held + (1.0 - share) * self.up)

    def time(self, shares: tuple[float, ...]) -> float:
        """Time of the race, held for shares of the time on equal parts of the course [s]."""
        return float(np.sum(self.times(self.share_along(shares))))


@dataclass(frozen=True)
class HoldingAnswer:
    """What it takes for a position to pay."""

    share: float
    """Share of the riding time in which it is held, as stated, over the whole course."""
    loss_w: float
    """Loss of power while held, as stated [W]."""
    full_s: float
    """Seconds saved if it were held throughout at no loss of power, mass included."""
    break_even_time: float | None
    break_even_course: float | None
    """Share of the riding time, and of the course, for which it must be held to save anything at
    the stated loss of power; the stated shares are kept in proportion. None where even holding
    it throughout saves nothing, 0 where it never costs time.
    """
    break_even_power_w: float | None
    """Loss of power at which it saves nothing although held throughout [W]."""
    losses_w: tuple[float, ...]
    """Losses of power of the rows of `table` [W]."""
    held: tuple[float, ...]
    """Shares of the riding time of its columns."""
    table: tuple[tuple[float, ...], ...]
    """Seconds saved for each loss of power while held, and each share."""


HELD = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
"""Shares of the time shown; our choice."""

LOSSES = (0.0, 0.01, 0.02, 0.03, 0.04)
"""Losses of power shown, as shares of the race power; trials of low positions found 0 to 10 %."""

TOLERANCE = 1e-6


def holding_answer(
    base: Ridden, option: Option, change: Change, without: float
) -> HoldingAnswer | None:
    """What it takes for a position to pay; None for what is always held and costs no power.

    Seconds are saved from the time `without` it [s].
    """
    holding = option.holding
    if holding.always and not holding.power_loss:
        return None
    held, up = _both(base, option, change)
    loss = _loss(holding, base)
    losses = tuple(round(share * base.race.rider.power) + 0.0 for share in LOSSES)
    rows = [Turns.of(held.changed(Change(power=-one)), up) for one in losses]
    turns = Turns.of(held.changed(Change(power=-loss)), up)
    time, course = _break_even_share(without, turns, holding)
    return HoldingAnswer(
        share=held_share(holding),
        loss_w=loss,
        full_s=without - held.time,
        break_even_time=time,
        break_even_course=course,
        break_even_power_w=multiple_needed(held, Change(power=-1.0), without),
        losses_w=losses,
        held=HELD,
        table=tuple(tuple(without - row.time((share,)) for share in HELD) for row in rows),
    )


def _break_even_share(
    without: float, turns: Turns, holding: Holding
) -> tuple[float | None, float | None]:
    """Share of the time and of the course at which nothing is saved any more."""
    shares = holding.shares if any(holding.shares) else (1.0,)

    def scaled(factor: float) -> tuple[float, ...]:
        return tuple(min(1.0, factor * share) for share in shares)

    most = 1.0 / min(share for share in shares if share)
    low, high = 0.0, most
    if turns.time(scaled(low)) <= without:
        return 0.0, 0.0
    if turns.time(scaled(high)) > without:
        return None, None
    while high - low > TOLERANCE * most:
        middle = 0.5 * (low + high)
        slower = turns.time(scaled(middle)) > without
        low, high = (middle, high) if slower else (low, middle)
    share = turns.share_along(scaled(high))
    time = turns.times(share)
    return (
        float(np.sum(share * time) / np.sum(time)),
        float(np.sum(share * time * turns.held) / turns.nodes[-1]),
    )
