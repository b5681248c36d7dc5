"""Several options used together: solved as one, for savings do not simply add."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.riding import Ridden
from racecalc.decisions.set_tests import tests_that_hold
from racecalc.decisions.worth import doubt_in_seconds, total_change
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from racecalc.written import As


@dataclass(frozen=True)
class SetValue:
    """Several options used together, solved as one.

    Parameters
    ----------
    names : tuple of str
        The options.
    tested : tuple of str
        Names of the tests of the whole set or of several of its parts as one, which count instead
        of these parts.
    wholly_tested : bool
        Whether every option of the set is in one of them.
    saved_s : float
        Seconds saved together, by these tests and the other parts.
    by_parts_s : float
        Seconds saved by its parts, their drag areas added and solved as one.
    sum_of_single_s : float
        Sum of what each saves alone, for comparison.
    doubt_s : float or None
        Standard uncertainty of `saved_s`, the doubts of parts being independent; None if one is
        not known.
    mass_kg : float
        Change of mass [kg].
    price : Money or None
        What is to pay for those that are not owned; None if one of them has no price, or if all
        are owned.
    """

    names: tuple[str, ...]
    tested: tuple[str, ...]
    wholly_tested: bool
    saved_s: float
    by_parts_s: float
    sum_of_single_s: float
    doubt_s: float | None
    mass_kg: float
    price: Annotated[Money | None, As(price="amount", currency="currency")]


def value_of_set(
    base: Ridden, options: tuple[Option, ...], tests: Sequence[Option] = ()
) -> SetValue:
    """Solve the race with several options at once; savings do not simply add.

    Parameters
    ----------
    base : Ridden
        The race without them.
    options : tuple of Option
        At most one of each slot.
    tests : sequence of Option
        Tests of several options as one. Those that hold for this set count instead of the parts
        they were of, larger ones first, as in a basket.

    Returns
    -------
    SetValue
        The set as one.
    """
    options = tuple(with_evidence(option, base) for option in options)
    parts = [total_change(option, base) for option in options]
    by_parts = _set_changed(base, options, parts)
    holding = tests_that_hold(
        [frozenset(test.set_of) for test in tests], [option.name for option in options]
    )
    tested = tuple(with_evidence(tests[number], base) for number in holding)
    together, stated = _by_tests(base, options, parts, tested)
    doubts = [doubt_in_seconds(together, option) for option in stated]
    known = [doubt for doubt in doubts if doubt is not None]
    to_pay = [option for option in options if not option.upkeep.owned]
    prices = [option.price for option in to_pay if option.price is not None]
    return SetValue(
        names=tuple(option.name for option in options),
        tested=tuple(test.name for test in tested),
        wholly_tested=len(stated) == len(tested) > 0,
        saved_s=base.time - together.time,
        by_parts_s=base.time - by_parts.time,
        sum_of_single_s=sum(base.time - base.changed(part).time for part in parts),
        doubt_s=math.hypot(*known) if len(known) == len(stated) else None,
        mass_kg=sum(option.mass for option in options),
        price=_total(prices) if len(prices) == len(to_pay) else None,
    )


def _by_tests(
    base: Ridden, options: tuple[Option, ...], parts: list[Change], tested: tuple[Option, ...]
) -> tuple[Ridden, tuple[Option, ...]]:
    """The set by its tests, and what states the doubts then."""
    inside = {name for test in tested for name in test.set_of}
    loose = tuple(option for option in options if option.name not in inside)
    changes = [
        # A test tells what the set does to the air; weight and legs are not in it.
        Change(mass=part.mass, power=part.power) if option.name in inside else part
        for option, part in zip(options, parts, strict=True)
    ]
    changes += [total_change(test, base) for test in tested]
    return _set_changed(base, options, changes), (*tested, *loose)


def _set_changed(base: Ridden, options: tuple[Option, ...], changes: list[Change]) -> Ridden:
    try:
        return base.changed(Change.sum(changes))
    except InputError as error:
        raise error.at(" + ".join(option.name for option in options)) from error


def _total(prices: list[Money]) -> Money | None:
    total = None
    for price in prices:
        total = price if total is None else total + price
    return total
