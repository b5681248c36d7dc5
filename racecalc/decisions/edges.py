"""How far the advice on a slot stands from another one."""

import math
from dataclasses import dataclass

from racecalc.decisions.proposals import Action, Case, action_of

WIDEST = 10.0
"""What a second is worth is varied up to so many times either way."""

NEAR = 1.5
"""Factor of it within which another advice is near; our choice: few people know it better."""

STEPS = 24
"""Steps from the present value to the widest; narrower windows of another advice are missed."""

HALVINGS = 8
"""Halvings of the last step, to within 0.04 %: three digits are shown."""

HALF = 0.5
"""Part of the doubt by which what is known is moved."""


@dataclass(frozen=True)
class Edge:
    """A worth of a second at which the advice changes.

    Parameters
    ----------
    per_second : float
        In the currency of the question.
    becomes : Action
        The advice beyond it.
    """

    per_second: float
    becomes: Action


@dataclass(frozen=True)
class Shift:
    """A small change of what is known that changes the advice.

    Parameters
    ----------
    name : str
        The option.
    saved_s : float
        What it saves instead [s]: half its doubt more or less.
    becomes : Action
        The advice then.
    """

    name: str
    saved_s: float
    becomes: Action


@dataclass(frozen=True)
class Edges:
    """Where the advice on a slot changes.

    Parameters
    ----------
    below, above : Edge or None
        The nearest lower and higher worth of a second at which it changes; None where it does
        not up to `WIDEST` times either way.
    shifts : tuple of Shift
        Options whose saving, half its doubt higher or lower, would change it.
    near : bool
        Whether it changes within a factor of `NEAR` or by such a shift.
    """

    below: Edge | None
    above: Edge | None
    shifts: tuple[Shift, ...]
    near: bool


def edges_of(case: Case, now: Action) -> Edges:
    """Find where the advice on a slot changes.

    Parameters
    ----------
    case : Case
        The choice.
    now : Action
        The advice.

    Returns
    -------
    Edges
        The nearest changes.
    """
    below, above = _edge(case, now, 1.0 / WIDEST), _edge(case, now, WIDEST)
    shifts = _shifts(case, now)
    near = (
        bool(shifts)
        or (below is not None and below.per_second * NEAR > case.per_second)
        or (above is not None and above.per_second < case.per_second * NEAR)
    )
    return Edges(below, above, shifts, near)


def _edge(case: Case, now: Action, furthest: float) -> Edge | None:
    step = math.log(furthest) / STEPS
    for number in range(1, STEPS + 1):
        there = action_of(case.at(case.per_second * math.exp(number * step)))
        if there != now:
            return _bisected(case, now, there, (number - 1) * step, number * step)
    return None


def _bisected(case: Case, now: Action, there: Action, same: float, other: float) -> Edge:
    for _ in range(HALVINGS):
        middle = 0.5 * (same + other)
        action = action_of(case.at(case.per_second * math.exp(middle)))
        if action == now:
            same = middle
        else:
            other, there = middle, action
    return Edge(case.per_second * math.exp(other), there)


def _shifts(case: Case, now: Action) -> tuple[Shift, ...]:
    found = []
    for number, one in enumerate(case.prospects):
        for seconds in (-HALF * one.doubt_s, HALF * one.doubt_s):
            becomes = action_of(case.shifted(number, seconds))
            if becomes != now:
                found.append(Shift(one.name, one.saved_s + seconds, becomes))
    return tuple(found)
