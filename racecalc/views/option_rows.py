"""The options of a race as rows that can be sorted and switched on, in the cells of the pages."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from racecalc.decisions.gain import Gain
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option
from racecalc.quantities.money import amount_text
from racecalc.views.tables import chance_text, give_or_take_text, signed


@dataclass(frozen=True)
class OptionRow:
    """What one option gives, as far as it is worked out by now.

    Parameters
    ----------
    option : Option
        The option.
    saved_s : float
        Seconds saved.
    give_or_take_s : float or None
        Half its 95 % interval [s]; None where no doubt is stated.
    verdict : str
        What to call it.
    chance : float or None
        Chance that it is faster at all.
    per_second : float or None
        Price over seconds saved.
    per_second_sure : bool
        Whether the seconds are more than nothing at the low end too.
    weight_s : float or None
        Seconds saved by its mass alone; None while that is not worked out.
    """

    option: Option
    saved_s: float
    give_or_take_s: float | None
    verdict: str
    chance: float | None
    per_second: float | None
    per_second_sure: bool
    weight_s: float | None


def row_of_gain(gain: Gain) -> OptionRow:
    """What is known at first sight."""
    price = gain.price_per_second
    return OptionRow(
        gain.option,
        gain.saved_s,
        gain.give_or_take_s,
        gain.verdict,
        gain.chance_faster,
        price.at,
        price.high is not None,
        None,
    )


def row_of_value(value: OptionValue) -> OptionRow:
    """What is known once all is worked out."""
    return OptionRow(
        value.option,
        value.saved_s,
        value.give_or_take_s,
        value.verdict,
        value.chance_faster,
        value.price_per_second,
        value.price_per_second_high is not None,
        value.weight_s,
    )


def _missing_last(value: float | None) -> float:
    return float("inf") if value is None else value


ORDERS: dict[str, Callable[[OptionRow], float | str]] = {
    "seconds": lambda row: -row.saved_s,
    "money a second": lambda row: _missing_last(row.per_second),
    "price": lambda row: _missing_last(row.option.to_pay),
    "chance": lambda row: 1.0 if row.chance is None else -row.chance,
    "weight": lambda row: row.option.mass,
    "name": lambda row: row.option.name.casefold(),
    "slot": lambda row: row.option.slot.casefold(),
}
"""Orders of the rows, by what is best or first in each."""


def in_order(rows: Iterable[OptionRow], order: str) -> list[OptionRow]:
    """The rows by one of `ORDERS`.

    Raises
    ------
    KeyError
        If there is no such order.
    """
    return sorted(rows, key=ORDERS[order])


def currency_of(rows: Iterable[OptionRow]) -> str:
    """The currency of all prices; empty where there is none, or more than one."""
    found = {row.option.price.currency for row in rows if row.option.price}
    return found.pop() if len(found) == 1 else ""


def option_headings(currency: str) -> tuple[str, ...]:
    """Headings over the cells of `option_cells`."""
    return (
        "<",
        "<option",
        "s",
        "95 % +-",
        "<verdict",
        "chance",
        f"{currency}/s" if currency else "a second",
        currency or "price",
        "weight s",
    )


def option_cells(row: OptionRow, *, used: bool, currency: str, room: int = 0) -> tuple[str, ...]:
    """One row; "x" marks what is switched on, "~" a price for seconds that may be none.

    A name longer than `room` is cut, unless that is 0.
    """
    name = row.option.name
    return (
        "x" if used else " ",
        f"{name[: room - 1]}\u2026" if room and len(name) > room else name,
        signed(row.saved_s),
        give_or_take_text(row.give_or_take_s),
        row.verdict,
        "?" if row.chance is None else chance_text(row.chance),
        _per_second(row, currency),
        _price(row.option, currency),
        _weight(row),
    )


def _per_second(row: OptionRow, currency: str) -> str:
    if row.per_second is None:
        return "-"
    if not row.per_second:
        return "free"
    if row.chance is None:
        return "?"
    code = "" if currency or row.option.price is None else row.option.price.currency
    return f"{'' if row.per_second_sure else '~'}{amount_text(row.per_second, code)}"


def _price(option: Option, currency: str) -> str:
    if option.upkeep.owned:
        return "yours"
    if option.price is None:
        return "-"
    return amount_text(float(option.price.amount)) if currency else str(option.price)


def _weight(row: OptionRow) -> str:
    if not row.option.mass:
        return "0"
    return "..." if row.weight_s is None else signed(row.weight_s)
