"""Durations on the clock, as "58:30", "1:02:30", "1 h 2 min" or "3750 s", and the day."""

import operator
import re
from datetime import UTC, date, datetime

from racecalc.quantities.kinds import TIME
from racecalc.quantities.measured import QuantityError, finite, in_quotes, measure, tidy

_CLOCK = re.compile(
    r"(?P<first>[0-9]+):(?P<rest>[0-9]{2}(?::[0-9]{2})?)(?:[.,](?P<decimals>[0-9]+))?"
    r"(?: ?(?P<label>[a-z]+(?::[a-z]+)+))?",
    re.IGNORECASE,
)
_MIN_S = (60, 1)
_H_MIN_S = (3600, 60, 1)
_H_MIN = (3600, 60)
_LABELS = {
    **dict.fromkeys(("min:s", "m:s", "mm:ss"), _MIN_S),
    **dict.fromkeys(("h:m:s", "h:min:s", "hh:mm:ss"), _H_MIN_S),
    **dict.fromkeys(("h:m", "h:min", "hh:mm"), _H_MIN),
}
_REMEDY = "write for example '58:30', '1:02:30', '3750 s' or '1 h 2 min'"


def read_duration(text: str) -> float:
    """Read a duration.

    Two numbers on the clock are minutes and seconds unless a label after them says "h:min";
    three are hours, minutes and seconds.

    >>> read_duration("12:34"), read_duration("1:02:30 h:m:s"), read_duration("1h 2min 30s")
    (754.0, 3750.0, 3750.0)
    """
    whole = tidy(text)
    seconds = _on_the_clock(whole) if ":" in whole else measure(whole, TIME)
    if seconds < 0:
        raise QuantityError(f"{in_quotes(whole)} is negative", _REMEDY)
    return seconds


def _on_the_clock(whole: str) -> float:
    found = _CLOCK.fullmatch(whole)
    if not found:
        raise QuantityError(f"{in_quotes(whole)} is not a time on the clock", _REMEDY)
    numbers = [found["first"], *found["rest"].split(":")]
    if any(int(number) >= 60 for number in numbers[1:]):
        raise QuantityError(f"in {in_quotes(whole)} a number after a colon is 60 or more", _REMEDY)
    weights = _weights(found["label"], len(numbers), whole)
    last = f"{numbers.pop()}.{found['decimals'] or 0}"
    values = [float(number) for number in (*numbers, last)]
    return finite(sum(map(operator.mul, values, weights)), whole)


def _weights(label: str | None, count: int, whole: str) -> tuple[int, ...]:
    if label is None:
        return _MIN_S if count == len(_MIN_S) else _H_MIN_S
    weights = _LABELS.get(label.lower())
    if weights is None:
        raise QuantityError(
            f"{in_quotes(label)} in {in_quotes(whole)} does not say which units are meant",
            f"write one of {', '.join(_LABELS)}, or none",
        )
    if len(weights) != count:
        raise QuantityError(
            f"{in_quotes(whole)} has {count} numbers, but its label names {len(weights)} units",
            _REMEDY,
        )
    return weights


def show_duration(seconds: float, decimals: int = 0) -> str:
    """Show a duration as minutes and seconds, from one hour on with hours.

    >>> show_duration(1417), show_duration(3750), show_duration(59.96, decimals=1)
    ('23:37', '1:02:30', '1:00.0')
    """
    # Rounding comes first, in whole ticks, so that 59.96 carries into the minutes.
    ticks = round(abs(seconds) * 10**decimals)
    whole, rest = divmod(ticks, 10**decimals)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    sign = "-" if seconds < 0 < ticks else ""
    fraction = f".{rest:0{decimals}d}" if decimals else ""
    clock = f"{hours}:{minute:02d}" if hours else f"{minute}"
    return f"{sign}{clock}:{second:02d}{fraction}"


def today() -> date:
    """The day it is here."""
    return datetime.now(UTC).astimezone().date()
