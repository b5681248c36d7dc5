"""Columns that know what they hold: how to read it, how many digits its doubt allows, its tone.

The key of a column is the path of its value from the row, which is its path in the JSON as well.
Where the ends of an interval are known they stand beside it, as "saved_s_low" and "saved_s_high".
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Any

from racecalc.answers.cells import Cell, chance_text, quoted, verdict
from racecalc.answers.fields import key_of
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import Money, amount_text
from racecalc.quantities.showing import System, What, show_number, shown_unit


@dataclass(frozen=True)
class Column:
    r"""A column of numbers."""

    heading: str
    """In the words of the reader; "\n" where it may break."""
    key: str
    """Path of the value from the row."""
    unknown: str = field(default="?", kw_only=True)
    """What stands where the value is None."""
    left: bool = field(default=False, kw_only=True)
    """Whether it is set to the left, and may be broken over lines."""

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
        """The text of a value that is known."""
        return str(value)


@dataclass(frozen=True)
class Words(Column):
    """Words, which may come from a file."""

    left: bool = field(default=True, kw_only=True)

    def _made(self, value: Any, row: Any, units: System) -> Cell:  # noqa: ARG002
        return quoted(str(value))


class Verdict(Words):
    """The word for a difference."""

    def _made(self, value: Any, row: Any, units: System) -> Cell:  # noqa: ARG002
        return verdict(value)


class Chance(Column):
    """A chance."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        return chance_text(value)


class Share(Column):
    """A share in percent, the value being one already."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        return f"{value:.1f}"


class Clock(Column):
    """A time on the clock."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        return show_duration(value)


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


class Amount(Column):
    """An amount of money; its currency stands with it where the value is `Money`."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        return str(value) if isinstance(value, Money) else amount_text(value)


@dataclass(frozen=True)
class Made(Column):
    """A column whose text hangs on more than one value of its row; the exception to the rule."""

    make: Callable[[Any], Cell | str] = str
    """Text or cell of a row."""

    def cell(self, row: Any, units: System) -> Cell:  # noqa: ARG002
        """What is made of the row."""
        if not self.key:
            made = self.make(row)
            return made if isinstance(made, Cell) else Cell(made)
        return _behind(self.make(row), attrgetter(self.key)(row), key_of(row, self.key))


@dataclass(frozen=True)
class ByKind(Column):
    """A column over rows of several kinds, each with a column of its own."""

    kinds: Mapping[type, Column] = field(default_factory=dict)
    """By the class of the row; blank for the others."""

    def title(self, units: System) -> str:
        """The heading of the first."""
        return self.heading or next(iter(self.kinds.values())).title(units)

    def cell(self, row: Any, units: System) -> Cell:
        """What the column of its kind shows."""
        column = self.kinds.get(type(row))
        return column.cell(row, units) if column else Cell("")


def _behind(made: Cell | str, value: Any, key: str) -> Cell:
    """A text with the number behind it, if it is one."""
    cell = made if isinstance(made, Cell) else Cell(made)
    known = isinstance(value, float | int) and not isinstance(value, bool)
    return replace(cell, value=float(value), key=key) if known else cell


def ends(row: Any, key: str) -> tuple[float | None, float | None]:
    """The ends of the interval of a value: "key_low" and "key_high" beside it, or "low", "high"."""
    path, _, name = key.rpartition(".")
    owner = attrgetter(path)(row) if path else row
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


def seconds_like(seconds: float, low: float | None, high: float | None) -> str:
    """Seconds to the digits of others whose 95 % interval is known [s]."""
    return seconds_text(seconds, None if low is None or high is None else 0.5 * (high - low))


def seconds_between(at: float, low: float | None, high: float | None, sign: str = "+") -> str:
    """Seconds with their 95 % interval.

    Examples
    --------
    >>> seconds_between(24.6, 14.1, 35.0), seconds_between(19.0, None, None)
    ('+25 (14 to 35)', '+19 (?)')
    """
    if low is None or high is None:
        return f"{seconds_text(at, None, sign)} (?)"
    half = 0.5 * (high - low)
    first, last = (seconds_text(one, half, "-") for one in (low, high))
    return f"{seconds_text(at, half, sign)} ({first} to {last})"


def clock_text(seconds: float, half: float) -> str:
    """A time on the clock, to 10 s or a minute where half its 95 % interval is that wide [s].

    Examples
    --------
    >>> clock_text(3503.0, 16.0), clock_text(3503.0, 32.0), clock_text(3503.0, 300.0)
    ('58:23', '58:20', '58:00')
    """
    step = 60 if half >= 300.0 else 10 if half >= 30.0 else 1
    return show_duration(step * round(seconds / step))


LONG = 600.0
"""Seconds from which whole minutes are told; our choice."""


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
