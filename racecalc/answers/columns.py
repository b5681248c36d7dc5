"""Columns that know what they hold: how to read it, how many digits its doubt allows, its tone.

The key of a column is the path of its value from the row, which is its path in the JSON as well.
Where the ends of an interval are known they stand beside it, as "saved_s_low" and "saved_s_high".
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from operator import attrgetter
from typing import Any

from racecalc.answers.cells import Cell, chance_text, quoted, verdict
from racecalc.answers.fields import key_of
from racecalc.decisions.verdicts import give_or_take, interval
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import Money, amount_text
from racecalc.quantities.showing import System, What, show_number, shown_unit


@dataclass(frozen=True)
class Column:
    r"""A column of values."""

    heading: str
    """In the words of the reader; "\n" where it may break."""
    key: str
    """Path of the value from the row."""
    unknown: str = field(default="?", kw_only=True)
    """What is shown where the value is None."""
    left: bool = field(default=False, kw_only=True)
    """Whether it is set to the left, and may be broken over lines."""
    text: Callable[[Any], Cell | str] = field(default=str, kw_only=True)
    """How a value is written."""

    def title(self, units: System) -> str:  # noqa: ARG002 - some headings name a unit
        """The heading, with the unit of the reader."""
        return self.heading

    def cell(self, row: Any, units: System) -> Cell:
        """The cell of a row."""
        value = attrgetter(self.key)(row)
        if value is None:
            return Cell(self.unknown, "open" if self.unknown == "?" else "")
        return _behind(self._made(value, row, units), value, key_of(row, self.key))

    def _made(self, value: Any, row: Any, units: System) -> Cell | str:  # noqa: ARG002
        """The text of a value that is known, where it hangs on more than the value."""
        return self.text(value)


Words = partial(Column, text=lambda value: quoted(str(value)), left=True)
Verdict = partial(Column, text=verdict, left=True)
Chance = partial(Column, text=chance_text)
Share = partial(Column, text="{:.1f}".format)
Clock = partial(Column, text=show_duration)
"""Columns of words, which may come from a file, of the word for a difference, of a chance, of a
share in percent, the value being one already, and of a time on the clock."""


@dataclass(frozen=True)
class SplitClock(Column):
    """The time on a stretch: what lies between the elapsed times that are shown at its ends."""

    elapsed: str = "elapsed_s"
    """Name of the elapsed time at its end, next to the value."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        path = self.key.rpartition(".")[0]
        elapsed: float = attrgetter(f"{path}.{self.elapsed}" if path else self.elapsed)(row)
        return show_duration(shown_apart(elapsed - value, elapsed))


@dataclass(frozen=True)
class Seconds(Column):
    """Seconds saved with their sign, and their 95 % interval where it is known."""

    by: str = ""
    """Of what has no interval of its own: the value whose interval sets the digits."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        low, high = ends(row, self.by or self.key)
        return seconds_like(value, low, high) if self.by else seconds_between(value, low, high)


@dataclass(frozen=True)
class Quantity(Column):
    """A quantity in the units of the reader, which the heading names."""

    what: What = "length"
    """A key of `racecalc.quantities.showing.DISPLAYS`."""
    signed: bool = False
    """Whether it is a change."""
    zero: str | None = field(default="0", kw_only=True)
    """What nothing is shown as; None for the same digits as any value."""

    def title(self, units: System) -> str:
        """The heading, with the unit of the reader."""
        return f"{self.heading} {shown_unit(self.what, units)}".lstrip()

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        if not value and self.zero is not None:
            return self.zero
        return show_number(value, self.what, units, signed=self.signed)


@dataclass(frozen=True)
class Number(Column):
    """A plain number."""

    form: str = ".1f"
    """As of `format`."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        text = f"{value:{self.form}}"
        return text if float(text) else "0"


def _amount(value: float | Money) -> str:
    """Its currency goes with it where the value is `Money`."""
    return str(value) if isinstance(value, Money) else amount_text(value)


Amount = partial(Column, text=_amount)
"""An amount of money."""


@dataclass(frozen=True)
class Made(Column):
    """A column whose text hangs on more than one value of its row; the exception to the rule."""

    make: Callable[[Any], Cell | str] = str
    """Text or cell of a row."""

    def cell(self, row: Any, units: System) -> Cell:  # noqa: ARG002
        """What is made of the row."""
        value = attrgetter(self.key)(row) if self.key else None
        return _behind(self.make(row), value, key_of(row, self.key) if self.key else "")


def _behind(made: Cell | str, value: Any, key: str) -> Cell:
    """A text with the number behind it, if it is one."""
    cell = made if isinstance(made, Cell) else Cell(made)
    known = isinstance(value, float | int) and not isinstance(value, bool)
    return replace(cell, value=float(value), key=key) if known else cell


def ends(row: Any, key: str) -> tuple[float | None, float | None]:
    """The ends of the 95 % interval of a value, by the names of what is next to it.

    These are "key_low" and "key_high", or "low" and "high"; or what the standard uncertainty
    "doubt_s" makes of it.
    """
    path, _, name = key.rpartition(".")
    owner = attrgetter(path)(row) if path else row
    if not hasattr(owner, f"{name}_low") and hasattr(owner, "doubt_s"):
        return interval(getattr(owner, name), owner.doubt_s)
    prefix = f"{name}_" if hasattr(owner, f"{name}_low") else ""
    return getattr(owner, f"{prefix}low", None), getattr(owner, f"{prefix}high", None)


# --- digits by doubt -----------------------------------------------------------------------------

TENTHS = 1.0
"""Half of a 95 % interval below which tenths of a second are shown [s]; our choice: such a tenth
is no smaller than a fifth of the standard uncertainty."""

TENS = 60.0
"""Half of a 95 % interval from which a saving is shown to 10 s [s]; our choice: a step is then no
more than two thirds of the standard uncertainty."""


def step_for(half: float | None) -> float:
    """Step of seconds whose 95 % interval has such a half [s]; None where it is not known.

    Examples
    --------
    >>> step_for(0.4), step_for(3.0), step_for(200.0), step_for(None)
    (0.1, 1.0, 10.0, 1.0)
    """
    if half is None:
        return 1.0
    return 0.1 if half < TENTHS else 1.0 if half < TENS else 10.0


def seconds_text(seconds: float, half: float | None = None, sign: str = "+") -> str:
    """Seconds to the digits that half of their 95 % interval allows [s].

    Examples
    --------
    >>> seconds_text(9.23, 4.0), seconds_text(-9.23, 0.3), seconds_text(0.2, 4.0)
    ('+9', '-9.2', '0')
    """
    step = step_for(half)
    text = f"{step * round(seconds / step):{sign}.{1 if step < 1.0 else 0}f}"
    return text if float(text) else "0"


def saved_text(row: Any, key: str = "saved_s") -> str:
    """Seconds saved with their 95 % interval, of whatever has both."""
    return seconds_between(attrgetter(key)(row), *ends(row, key))


def saved_cell(row: Any, key: str = "") -> Cell:
    """The same in a sentence; their key in the JSON makes them known to machines."""
    return Cell(f"{saved_text(row)} s", "strong", row.saved_s, key)


def seconds_like(seconds: float, low: float | None, high: float | None) -> str:
    """Seconds to the digits of others whose 95 % interval is known [s]."""
    return seconds_text(seconds, give_or_take(low, high))


def seconds_between(at: float, low: float | None, high: float | None, sign: str = "+") -> str:
    """Seconds with their 95 % interval.

    Examples
    --------
    >>> seconds_between(24.6, 14.1, 35.0), seconds_between(19.0, None, None)
    ('+25 (14 to 35)', '+19 (?)')
    >>> seconds_between(16.0, 0.2, 33.0), seconds_between(16.0, -0.2, 33.0)
    ('+16 (0.2 to 33)', '+16 (0 to 33)')
    """
    if low is None or high is None:
        return f"{seconds_text(at, None, sign)} (?)"
    half = 0.5 * (high - low)
    first, last = (seconds_text(one, half, "-") for one in (low, high))
    if low * high > 0:
        # An interval without zero shows none: it would contradict its verdict.
        first, last = (
            f"{one:.1g}" if text == "0" else text for one, text in ((low, first), (high, last))
        )
    return f"{seconds_text(at, half, sign)} ({first} to {last})"


def parted(at: float, low: float | None, high: float | None) -> tuple[str, str]:
    """The seconds, and their 95 % interval; "?" where that is not known."""
    seconds, _, ends = seconds_between(at, low, high).partition(" (")
    return seconds, ends.removesuffix(")")


def shown_apart(one: float, other: float) -> int:
    """Whole seconds from one time on the clock to another, as both are shown [s].

    Examples
    --------
    >>> shown_apart(534.6, 960.4), shown_apart(3548.5, 3502.6)
    (425, -45)
    """
    return round(other) - round(one)


def time_cell(seconds: float, key: str) -> Cell:
    """A time on the clock that answers the question."""
    return Cell(show_duration(seconds), "strong", seconds, key)


def time_span(low: float, high: float) -> str:
    """From one time on the clock to another."""
    return f"{show_duration(low)} to {show_duration(high)}"


def within_95(low: float, high: float) -> str:
    """A 95 % interval of times on the clock.

    Examples
    --------
    >>> within_95(3516.1, 3581.0)
    '58:36 to 59:41 in 95 of 100 cases'
    """
    return f"{time_span(low, high)} in 95 of 100 cases"


LONG = 600.0
"""Seconds from which minutes are shown; our choice."""


def size_text(seconds: float, half: float | None) -> str:
    """The size of a number of seconds; what rounds to nothing is less than a unit.

    Examples
    --------
    >>> size_text(9.23, 4.0), size_text(-9.23, 0.3), size_text(0.2, 4.0), size_text(1064.0, None)
    ('9 s', '9.2 s', 'less than 1 s', '18 min')
    """
    if abs(seconds) >= LONG:
        return f"{abs(seconds) / 60.0:.0f} min"
    shown = seconds_text(abs(seconds), half, "")
    return f"{shown} s" if float(shown) else f"less than {step_for(half):.3g} s"


def about(seconds: float, half: float | None, key: str) -> Cell:
    """The size of a number of seconds, for a sentence that says of what."""
    text = size_text(seconds, half)
    return Cell(text if text.startswith("less") else f"about {text}", value=seconds, key=key)


def faster(seconds: float, half: float | None, key: str) -> tuple[str | Cell, ...]:
    """Seconds saved, in a sentence."""
    return about(seconds, half, key), " faster" if seconds >= 0 else " slower"


def between(low: float, high: float, half: float, key: str) -> tuple[str | Cell, ...]:
    """The interval of seconds saved that have a key, in a sentence on what is won and lost."""
    minutes = max(abs(low), abs(high)) >= LONG
    unit = " min" if minutes else " s"

    def end(value: float, name: str) -> Cell:
        size = f"{abs(value) / 60.0:.0f}" if minutes else seconds_text(abs(value), half, "")
        return Cell(size, value=value, key=f"{key}_{name}")

    one, other = end(low, "low"), end(high, "high")
    if low >= 0:
        return "between ", one, " and ", other, unit
    if high <= 0:
        return "between ", other, " and ", one, f"{unit} slower"
    return "between ", one, f"{unit} slower and ", other, f"{unit} faster"


def interval_text(at: float, low: float | None, high: float | None) -> str:
    """Any best value with its 95 % interval, to two digits of half of it (as GUM 7.2.6 has it).

    Examples
    --------
    >>> interval_text(0.00531, 0.0021, 0.0085), interval_text(24.6, 14.1, 35.0)
    ('+0.0053 (+0.0021 to +0.0085)', '+25 (+14 to +35)')
    """
    if low is None or high is None:
        return f"{at:+.3g} (?)"
    half = 0.5 * (high - low)
    places = max(0, 1 - math.floor(math.log10(half))) if half > 0 else 4
    best, *ends = (f"{one:+.{places}f}" for one in (at, low, high))
    return f"{best} ({' to '.join(ends)})"
