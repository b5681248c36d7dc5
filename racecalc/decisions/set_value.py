"""Several options used together: solved as one, for savings do not simply add."""

import math
from dataclasses import dataclass

from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import doubt_in_seconds, total_change
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.quantities.money import Money


@dataclass(frozen=True)
class SetValue:
    """Several options used together, solved as one.

    Parameters
    ----------
    names : tuple of str
        The options.
    tested : str
        Name of the test of the whole set; empty where only its parts were tested.
    saved_s : float
        Seconds saved together: by the test of the set if there is one, else by its parts.
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
        Total price; None if one has no price.
    """

    names: tuple[str, ...]
    tested: str
    saved_s: float
    by_parts_s: float
    sum_of_single_s: float
    doubt_s: float | None
    mass_kg: float
    price: Money | None


def value_of_set(
    base: Ridden, options: tuple[Option, ...], tested: Option | None = None
) -> SetValue:
    """Solve the race with several options at once; savings do not simply add.

    Parameters
    ----------
    base : Ridden
        The race without them.
    options : tuple of Option
        At most one of each slot.
    tested : Option, optional
        Test of the whole set, which then counts instead of its parts.

    Returns
    -------
    SetValue
        The set as one.
    """
    options = tuple(with_evidence(option, base) for option in options)
    parts = [total_change(option, base) for option in options]
    by_parts = _set_changed(base, options, parts)
    together, stated = by_parts, options
    if tested is not None:
        stated = (with_evidence(tested, base),)
        # The test tells what the set does to the air; weight and legs are not in it.
        carried = [Change(mass=part.mass, power=part.power) for part in parts]
        together = _set_changed(base, stated, [*carried, total_change(stated[0], base)])
    doubts = [doubt_in_seconds(together, option) for option in stated]
    known = [doubt for doubt in doubts if doubt is not None]
    prices = [option.price for option in options if option.price is not None]
    return SetValue(
        names=tuple(option.name for option in options),
        tested=tested.name if tested else "",
        saved_s=base.time - together.time,
        by_parts_s=base.time - by_parts.time,
        sum_of_single_s=sum(base.time - base.changed(part).time for part in parts),
        doubt_s=math.hypot(*known) if len(known) == len(stated) else None,
        mass_kg=sum(option.mass for option in options),
        price=_total(prices) if len(prices) == len(options) else None,
    )


def _set_changed(base: Ridden, options: tuple[Option, ...], changes: list[Change]) -> Ridden:
    whole = Change()
    for change in changes:
        whole = whole.plus(change)
    try:
        return base.changed(whole)
    except InputError as error:
        raise error.at(" + ".join(option.name for option in options)) from error


def _total(prices: list[Money]) -> Money | None:
    total = None
    for price in prices:
        total = price if total is None else total + price
    return total
