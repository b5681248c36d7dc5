"""The options of a race as rows that can be sorted and switched on: first sight and all alike."""

from collections.abc import Callable, Iterable, Sequence

from racecalc.answers.columns import Chance, Column, Made, Number, Verdict
from racecalc.decisions.money import PricePerSecond
from racecalc.decisions.value import Gain, OptionValue
from racecalc.quantities.money import amount_text

Row = Gain | OptionValue
"""What one option gives, at first sight or once all is worked out."""


def _missing_last(value: float | None) -> float:
    return float("inf") if value is None else value


ORDERS: dict[str, Callable[[Row], float | str]] = {
    "seconds": lambda row: -row.saved_s,
    "money a second": lambda row: _missing_last(_rate(row).at),
    "price": lambda row: _missing_last(row.option.to_pay),
    "chance": lambda row: 1.0 if row.chance_faster is None else -row.chance_faster,
    "weight": lambda row: row.option.mass,
    "name": lambda row: row.option.name.casefold(),
    "slot": lambda row: row.option.slot.casefold(),
}
"""Orders of the rows, by what is best or first in each."""


def currency_of(rows: Iterable[Row]) -> str:
    """The currency of all prices; empty where there is none, or more than one."""
    found = {row.option.price.currency for row in rows if row.option.price}
    return found.pop() if len(found) == 1 else ""


def option_columns(used: set[str], currency: str, room: int = 0) -> Sequence[Column]:
    """The columns; "x" marks what is switched on, and a name longer than `room` is cut."""
    return (
        Made("", "", lambda row: "x" if row.option.name in used else " ", left=True),
        Made("option", "", lambda row: _cut(row.option.name, room), left=True),
        Number("s", "saved_s", "+.1f"),
        Number("95 % +-", "give_or_take_s"),
        Verdict("verdict", "verdict"),
        Chance("chance", "chance_faster"),
        Made(f"{currency}/s" if currency else "a second", "", _per_second),
        Made(currency or "price", "", _price),
        Made("weight s", "", _weight),
    )


def _cut(name: str, room: int) -> str:
    return f"{name[: room - 1]}\u2026" if room and len(name) > room else name


def _rate(row: Row) -> PricePerSecond:
    if isinstance(row, Gain):
        return row.price_per_second
    return PricePerSecond(None, row.price_per_second, row.price_per_second_high)


def _per_second(row: Row) -> str:
    rate = _rate(row)
    if rate.at is None:
        return "-"
    if not rate.at or row.chance_faster is None:
        return "?" if rate.at else "free"
    return f"{'' if rate.high is not None else '~'}{amount_text(rate.at)}"


def _price(row: Row) -> str:
    if row.option.upkeep.owned:
        return "yours"
    return "-" if row.option.price is None else amount_text(float(row.option.price.amount))


def _weight(row: Row) -> str:
    if not row.option.mass:
        return "0"
    return "..." if isinstance(row, Gain) else f"{row.weight_s:+.1f}"
