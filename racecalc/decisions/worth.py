"""What an option changes, what that saves on the course, and the doubt of it in seconds."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.holding import held_change, held_share
from racecalc.decisions.needed import first_order
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import change_of
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.domain.saving import Saving
from racecalc.errors import InputError


@dataclass(frozen=True)
class Worth:
    """An option tried on a course.

    Parameters
    ----------
    option : Option
        With the saving and doubt of its test, if it names one.
    change : Change
        What it changes, mass and power included.
    changed : Ridden
        The race with it.
    saved_s : float
        Seconds saved; negative where it costs time.
    doubt_s : float or None
        Standard uncertainty of `saved_s`, first order; None where none is stated.
    """

    option: Option
    change: Change
    changed: Ridden
    saved_s: float
    doubt_s: float | None


def worth_of(base: Ridden, option: Option) -> Worth:
    """Solve the race again with an option.

    Parameters
    ----------
    base : Ridden
        The race without it.
    option : Option
        What is tried.

    Returns
    -------
    Worth
        Seconds and their doubt.

    Raises
    ------
    InputError
        If its test tells nothing about it, or nothing can be ridden with it.
    """
    option = with_evidence(option, base)
    change = total_change(option, base)
    changed = ridden_with(base, change, option.name)
    doubt = doubt_in_seconds(changed, option)
    return Worth(option, change, changed, base.time - changed.time, doubt)


def ridden_with(base: Ridden, change: Change, name: str) -> Ridden:
    """Ride with a change, its errors naming the option."""
    with naming(name):
        return base.changed(change)


@contextmanager
def naming(name: str) -> Iterator[None]:
    """Let every error name the option it is about."""
    try:
        yield
    except InputError as error:
        raise error.at(f"option {name}") from error


def total_change(option: Option, base: Ridden) -> Change:
    """What an option changes: its saving as far as it is held, its mass and its loss of power."""
    with naming(option.name):
        return held_change(option, change_held(option, base), base)


def change_held(option: Option, base: Ridden) -> Change:
    """What an option changes while it is held, but for the loss of power."""
    mass = Change(mass=option.mass)
    return mass.plus(change_of(option.saves, option, base.race)) if option.saves else mass


def doubt_in_seconds(changed: Ridden, option: Option) -> float | None:
    """Standard uncertainty of the seconds, first order; None if no doubt was stated.

    An option that only changes mass has none: mass is weighed.
    """
    if option.saves is None:
        return 0.0
    if option.doubt is None:
        return None
    return amount_in_seconds(changed, option, option.doubt)


def amount_in_seconds(changed: Ridden, option: Option, amount: Saving) -> float:
    """Seconds on this course of a doubt or an error in the saving of an option, first order.

    Parameters
    ----------
    changed : Ridden
        The race with the option.
    option : Option
        Gives the loss, the conditions that `amount` refers to, and how much it is held.
    amount : Saving
        In a form that fits the loss.

    Returns
    -------
    float
        Zero or more [s].
    """
    change = change_of(amount, option, changed.race).times(held_share(option.holding))
    return abs(first_order(changed, change))
