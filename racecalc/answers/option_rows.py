"""The options of a race as rows, one of them in a sentence, and those in use as one set."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from racecalc.answers.cells import Cell, chance_text, quoted, several, verdict
from racecalc.answers.columns import (
    Chance,
    Column,
    Made,
    Seconds,
    Verdict,
    seconds_between,
    seconds_like,
    seconds_text,
)
from racecalc.answers.sheet import Line, Lines, Sheet
from racecalc.decisions.break_even import BreakEvens
from racecalc.decisions.comparison import Failed
from racecalc.decisions.money import PricePerSecond
from racecalc.decisions.switched_on import LastSpent, SwitchedOn
from racecalc.decisions.value import OptionValue, SetValue
from racecalc.domain.option import Option
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text, price_text
from racecalc.quantities.showing import System, show

USE_SAFELY = (
    "Only use what fits, is certified for its use, unaltered and allowed by the rules of the"
    " event; no second is worth a crash."
)

# --- What is known of an option ------------------------------------------------------------------


def gain_line(value: OptionValue) -> Line:
    """Seconds, their doubt and the verdict of an option."""
    chance = value.chance_faster
    sure = "no doubt is stated" if chance is None else f"chance of faster {chance_text(chance)}"
    return (
        quoted(value.option.name),
        ": ",
        saved_cell(value),
        f", {sure}; ",
        verdict(value.verdict),
        f", because {value.because}",
    )


def saved_cell(value: OptionValue) -> Cell:
    """Seconds saved, with their 95 % interval."""
    return Cell(f"{seconds_between(*value.saving)} s", "strong", value.saving[0])


OVERLAP = 0.95
"""Share of the sum of single savings below which they are said to overlap; our choice."""


def rules_lines(options: Sequence[Option], most: int = 2) -> Iterator[Line]:
    """What is known of the rules; nothing where all is allowed as far as the user knows."""
    for status, words in (("forbidden", "Forbidden"), ("not checked", "Rules not checked yet")):
        names = [option.name for option in options if option.restrictions.rules == status]
        if names:
            those = ("any of these",) if len(names) == len(options) > 1 else several(names, most)
            yield (f"{words}: ", *those, ".")


# --- Columns, and the order of rows by each ------------------------------------------------------


def test_conditions(row: OptionValue | BreakEvens, units: System) -> str:
    """The speed that watts at a test refer to, or where none is stated the power."""
    if row.test_speed_m_s:
        return show(row.test_speed_m_s, "speed", units)
    return show(row.test_power_w, "power", units)


@dataclass(frozen=True)
class Needed(Column):
    """Watts from which on something pays."""

    unknown: str = field(default="too many", kw_only=True)

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        return "none" if value <= 0 else f"{value:.2f}"


def rate_text(value: OptionValue, rate: PricePerSecond, nothing: str) -> str:
    """Money for each second, "~" where the seconds may be none; a word where nothing is to pay."""
    if value.saving[0] <= 0:
        return "no gain"
    if not rate.at or value.chance_faster is None:
        return "?" if rate.at else nothing
    return f"{'' if rate.high is not None else '~'}{amount_text(rate.at)}"


def price_columns(currency: str) -> tuple[Column, Column]:
    """Prices for each second and in all, in a currency that the heading names or each with its own.

    The one word for it is written where nothing is to pay, or where the price is not stated.
    """

    def price(value: OptionValue) -> str:
        return price_text(value.price, owned=value.option.ownership.owned, bare=bool(currency))

    def per_second(value: OptionValue) -> str:
        return rate_text(value, value.purchase, price(value))

    heading = f"{currency}/s" if currency else "per second"
    return Made(heading, "price_per_second", per_second), Made(currency or "price", "", price)


ORDERS: dict[str, Callable[[OptionValue], float | str]] = {
    "seconds": lambda row: -row.saved_s,
    "money per second": lambda row: _missing_last(row.price_per_second),
    "price": lambda row: _missing_last(row.option.to_pay),
    "chance": lambda row: 1.0 if row.chance_faster is None else -row.chance_faster,
    "weight": lambda row: row.option.mass,
    "name": lambda row: row.option.name.casefold(),
    "slot": lambda row: row.option.slot.casefold(),
}
"""Orders of the rows, by what is best or first in each."""


def _missing_last(value: float | None) -> float:
    return float("inf") if value is None else value


def currency_of(rows: Iterable[OptionValue]) -> str:
    """The currency of all prices; empty where there is none, or more than one."""
    found = {row.price.currency for row in rows if row.price}
    return found.pop() if len(found) == 1 else ""


def option_columns(used: set[str], currency: str, room: int = 0) -> list[tuple[str, Column]]:
    """The columns, each with the order that its heading asks for, empty for none.

    "x" marks what is in use, and a name longer than `room` is cut.
    """
    per_second, price = price_columns(currency)
    return [
        ("", Made("", "", lambda row: "x" if row.option.name in used else " ", left=True)),
        ("name", Made("option", "", lambda row: quoted(row.option.name, room or None), left=True)),
        ("seconds", Seconds("saves s", "saved_s")),
        ("", Verdict("verdict", "verdict")),
        ("chance", Chance("chance", "chance_faster")),
        ("money per second", per_second),
        ("price", price),
        ("weight", Made("mass s", "", _weight)),
    ]


def _weight(row: OptionValue) -> str:
    if not row.option.mass:
        return "0"
    return f"{row.weight_s:+.1f}" if row.weight_known else "..."


# --- The options in use, as one set --------------------------------------------------------------


def used_sheet(found: SwitchedOn | None, refused: Sequence[Failed] = ()) -> Sheet:
    """What the set saves together, what it costs, and what the dearest part of it buys."""
    odd: list[Line] = [f"! {one}" for one in found.conflicts] if found else []
    odd += [("! Not worked out: ", quoted(one.name), f": {one.problem}") for one in refused]
    if found is None:
        return Sheet("Space puts an option in use: the set is then solved as one.", [Lines(odd)])
    value = found.value
    low, high = value.saved_s_low, value.saved_s_high
    together = seconds_between(value.saved_s, low, high)
    return Sheet(
        (
            "Used together: ",
            *several(value.names, len(value.names)),
            ": ",
            Cell(f"{together} s", "strong", value.saved_s),
            "" if value.doubt_s is not None else ", doubt not known as one states none",
            f", so {show_duration(found.time_s)}, price {set_price(value)}",
            *((" (none stated for ", *several(value.unpriced), ")") if value.unpriced else ()),
            f"; alone they add up to {seconds_like(value.sum_of_single_s, low, high)} s",
            *(("; tested as one: ", *several(value.tested)) if value.tested else ()),
            ".",
        ),
        [Lines([*_last_line(found.last), *odd])],
    )


def set_price(value: SetValue) -> str:
    """What is to pay for a set."""
    return price_text(value.price, owned=not value.unpriced and value.price is None)


def _last_line(last: LastSpent | None) -> Iterator[Line]:
    if last is not None:
        each = last.per_second and amount_text(last.per_second, last.price.currency)
        yield (
            "The last money: ",
            quoted(last.name),
            f" adds {seconds_text(last.saved_s)} s to this set for {last.price},"
            f" {f'{each} per second' if each else 'so it buys nothing'}.",
        )
