"""What the last money spent on a set buys: the part of it that costs most for each second."""

from collections.abc import Sequence
from dataclasses import dataclass

from racecalc.decisions.riding import Ridden
from racecalc.decisions.set_value import value_of_set
from racecalc.domain.option import Option
from racecalc.quantities.money import Money


@dataclass(frozen=True)
class LastSpent:
    """The dearest seconds of a set.

    Parameters
    ----------
    name : str
        The option that buys them.
    saved_s : float
        Seconds that the set loses without it.
    price : Money
        What that saves.
    per_second : float or None
        Money for each of these seconds, in whole units of the currency; None where it saves none.
    """

    name: str
    saved_s: float
    price: Money
    per_second: float | None


def last_spent(
    base: Ridden, used: Sequence[Option], tests: Sequence[Option] = ()
) -> LastSpent | None:
    """Leave each priced option of a set out in turn, and find the one that gives least for money.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    used : sequence of Option
        The set.
    tests : sequence of Option
        Tests of several options as one, as in `value_of_set`.

    Returns
    -------
    LastSpent or None
        None where nothing of the set is to pay.
    """
    whole = value_of_set(base, tuple(used), tests).saved_s if used else 0.0
    found = []
    for option in used:
        if option.price is None or not option.to_pay:
            continue
        others = tuple(other for other in used if other is not option)
        without = value_of_set(base, others, tests).saved_s if others else 0.0
        saved = whole - without
        per_second = option.to_pay / saved if saved > 0 else None
        found.append(LastSpent(option.name, saved, option.price, per_second))
    return max(found, key=_dearness, default=None)


def _dearness(one: LastSpent) -> float:
    return float("inf") if one.per_second is None else one.per_second
