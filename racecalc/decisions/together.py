"""What is advised slot by slot, looked at as one: sets that were tested, and what cannot go along.

Slots are judged one by one, so two pieces of advice can be good alone and bad together.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from racecalc.decisions.allowed import conflicts
from racecalc.decisions.riding import Ridden
from racecalc.decisions.set_value import value_of_set
from racecalc.domain.option import Option


@dataclass(frozen=True)
class JointResult:
    """Options that are advised one by one although their test as a set says something else.

    Money is in the currency of the question.

    Parameters
    ----------
    name : str
        Of the test.
    names : tuple of str
        The options.
    saved_s : float
        What the test of the set says that they save [s].
    singles_s : float
        What the advice counts: the sum of what each saves alone [s].
    gap_worth : float
        What the difference is worth; negative where the set saves less.
    worth : float
        Of all of them by the test, after their prices.
    leave : str
        The one without which the rest is worth more; empty where there is none.
    worth_without : float
        Of the rest, after their prices; `worth` where nothing is better left.
    """

    name: str
    names: tuple[str, ...]
    saved_s: float
    singles_s: float
    gap_worth: float
    worth: float
    leave: str
    worth_without: float


@dataclass(frozen=True)
class Together:
    """What holds for all that is advised to be bought or used now.

    Parameters
    ----------
    sets : tuple of JointResult
        The tests of sets within it.
    conflicts : tuple of str
        What keeps it from being used together, in sentences.
    """

    sets: tuple[JointResult, ...]
    conflicts: tuple[str, ...]


def advised_together(
    base: Ridden, options: Sequence[Option], advised: Iterable[str], per_second: float
) -> Together:
    """Look at what is advised as one.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    options : sequence of Option
        All of the race, tests of sets included.
    advised : iterable of str
        Names of what is to be bought or used now.
    per_second : float
        What a second is worth.

    Returns
    -------
    Together
        Empty in both parts where nothing speaks against it.
    """
    known = {option.name: option for option in options}
    used = [known[name] for name in advised]
    names = {option.name for option in used}
    tests = [option for option in options if option.is_set]
    sets = tuple(
        _as_tested(base, test, known, tests, per_second)
        for test in tests
        if names.issuperset(test.set_of)
    )
    return Together(sets, conflicts(used, known))


def _as_tested(
    base: Ridden,
    test: Option,
    known: Mapping[str, Option],
    tests: Sequence[Option],
    per_second: float,
) -> JointResult:
    parts = tuple(known[name] for name in test.set_of)
    whole = value_of_set(base, parts, tests)
    worth = per_second * whole.saved_s - _price(parts)
    leave, worth_without = "", worth
    for part in parts:
        rest = tuple(one for one in parts if one is not part)
        if any(part.name in one.ties.needs for one in rest):
            continue
        left = per_second * value_of_set(base, rest, tests).saved_s - _price(rest)
        if left > worth_without:
            leave, worth_without = part.name, left
    return JointResult(
        name=test.name,
        names=whole.names,
        saved_s=whole.saved_s,
        singles_s=whole.sum_of_single_s,
        gap_worth=per_second * (whole.saved_s - whole.sum_of_single_s),
        worth=worth,
        leave=leave,
        worth_without=worth_without,
    )


def _price(options: Iterable[Option]) -> float:
    """What there is to pay; what is owned costs nothing more."""
    return sum(option.to_pay or 0.0 for option in options)
