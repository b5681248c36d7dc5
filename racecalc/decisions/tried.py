"""What is tried on the course: an option or a set, the seconds it saves and their doubt."""

from collections.abc import Sequence
from dataclasses import dataclass

from racecalc.decisions.riding import Ridden
from racecalc.decisions.set_value import value_of_set
from racecalc.decisions.worth import worth_of
from racecalc.domain.option import Option


@dataclass(frozen=True)
class Tried:
    """An option or set and what it saves.

    Parameters
    ----------
    name : str
        Of the option, or of all of a set.
    saved_s : float
        Seconds saved; negative where it costs time.
    doubt_s : float or None
        Standard uncertainty of `saved_s`; None where none is stated.
    forbidden : bool
        Whether the race file says that the rules forbid it or a part of it.
    untested_set : bool
        Whether it is a set of which only the parts were tested.
    """

    name: str
    saved_s: float
    doubt_s: float | None
    forbidden: bool = False
    untested_set: bool = False


NOTHING = Tried("no option", 0.0, 0.0)


def tried_option(base: Ridden, option: Option) -> Tried:
    """Try one option on the course of the race file."""
    worth = worth_of(base, option)
    return Tried(option.name, worth.saved_s, worth.doubt_s, _is_forbidden(option))


def tried_set(base: Ridden, options: tuple[Option, ...], tests: Sequence[Option]) -> Tried:
    """Try several options at once; of the tests of sets those that hold count."""
    value = value_of_set(base, options, tests)
    return Tried(
        name=" + ".join(value.names),
        saved_s=value.saved_s,
        doubt_s=value.doubt_s,
        forbidden=any(map(_is_forbidden, options)),
        untested_set=not value.wholly_tested,
    )


def _is_forbidden(option: Option) -> bool:
    return option.ties.rules == "forbidden"
