"""From text to SI numbers: quantities, directions, a power held for a time."""

import math
import re

from racecalc.quantities.clock import read_duration
from racecalc.quantities.kinds import ANGLE, GRADE, LENGTH, POWER, TIME, Kind
from racecalc.quantities.measured import (
    NUMBER,
    QuantityError,
    finite,
    in_quotes,
    measure,
    plain_number,
    tidy,
)

# --- Text with a unit to a plain SI number -------------------------------------------------------

_ONE_IN = re.compile(rf"([+-]?) ?({NUMBER}) ?(?:in|:) ?({NUMBER})", re.IGNORECASE)


def read(text: object, kind: Kind) -> float:
    """Read a quantity as people write it.

    Commas are read as `quantities.measured` says. A plain number will do only where the kind takes
    bare ones; a time may also be on the clock ("58:30"), a grade "1 in 14" or "297 m over 4.2 km".

    Raises `QuantityError` if the text cannot be read, its unit will not do, or the value is too
    large.

    >>> from racecalc.quantities.kinds import RATIO, SPEED
    >>> read("45 km/h", SPEED), read("2.4 %", RATIO), read("1 in 8", GRADE)
    (12.5, 0.024, 0.125)
    """
    if isinstance(text, int | float) and not isinstance(text, bool):
        return _read_number(text, kind)
    if not isinstance(text, str):
        raise QuantityError(
            f"{in_quotes(str(text))} does not state {kind.named}",
            f"write for example '{kind.example}'",
        )
    if kind is TIME:
        return read_duration(text)
    if kind is GRADE:
        whole = tidy(text)
        if ratio := _ONE_IN.fullmatch(whole):
            return _one_in(ratio, text)
        if rise := _RISE.fullmatch(whole):
            return _risen(measure(rise[1], LENGTH), measure(rise[2], LENGTH), text)
    return measure(text, kind)


def _read_number(number: float, kind: Kind) -> float:
    try:
        value = float(number)
    except OverflowError:
        value = float("inf")
    if not math.isfinite(value):
        raise QuantityError(
            f"{value} is not a finite number, {kind.named} is needed",
            f"write for example '{kind.example}'",
        )
    return measure(repr(number), kind)


_RISE = re.compile(r"(.+) (?:over|in|on) (.+)", re.IGNORECASE)


def _risen(rise: float, run: float, text: str) -> float:
    if not 0.0 < run > abs(rise):
        problem = f"{in_quotes(text)} rises by more than its length"
        raise QuantityError(problem, "write for example '297 m over 4.2 km'")
    return rise / run


def _one_in(found: re.Match[str], text: str) -> float:
    rise, run = (float(plain_number(number, text)) for number in found.group(2, 3))
    if not run:
        raise QuantityError(f"{in_quotes(text)} is vertical", "write for example '1 in 14'")
    grade = finite(rise / run, text)
    return -grade if found[1] == "-" else grade


# --- Directions such as the one the wind comes from ----------------------------------------------

_ROSE = (
    "N NbE NNE NEbN NE NEbE ENE EbN E EbS ESE SEbE SE SEbS SSE SbE "
    "S SbW SSW SWbS SW SWbW WSW WbS W WbN WNW NWbW NW NWbN NNW NbW"
)
_POINTS = _ROSE.split()
_TURN = 2 * math.pi
_BEARINGS = {point.lower(): i * _TURN / len(_POINTS) for i, point in enumerate(_POINTS)}
_SHOWN_POINTS = _POINTS[::2]
_WORD = re.compile(r"north|east|south|west|by|[- ]")
_LETTERS = {"north": "n", "east": "e", "south": "s", "west": "w", "by": "b", "-": "", " ": ""}
_DIRECTION_REMEDY = "write for example '250 deg', 'WSW' or 'west-south-west'"


def read_direction(text: str) -> float:
    """Read a direction over ground [rad], from 0 up to but not including 2 pi.

    An angle with its unit, clockwise from north, 0 to 360 deg; or one of the 32 points of the
    compass as letters or in words, capital or small.

    Raises `QuantityError` if the text is neither, the unit is missing or the angle is more than one
    turn.

    >>> round(math.degrees(read_direction("west-south-west")), 1)
    247.5
    """
    whole = tidy(text)
    letters = _WORD.sub(lambda word: _LETTERS[word[0]], whole.lower())
    if letters in _BEARINGS:
        return _BEARINGS[letters]
    if re.fullmatch("[0-9.,]+", whole):
        raise QuantityError(
            f"{in_quotes(whole)} has no unit, a direction is needed",
            f"write {in_quotes(f'{whole} deg')}, or a point of the compass such as 'WSW'",
        )
    if not whole:
        raise QuantityError("it is empty", _DIRECTION_REMEDY)
    if not re.search("[0-9]", whole):
        raise QuantityError(f"{in_quotes(whole)} is not a point of the compass", _DIRECTION_REMEDY)
    angle = measure(whole, ANGLE)
    if not 0 <= angle <= _TURN:
        problem = f"{in_quotes(whole)} is more than one turn"
        raise QuantityError(problem, "write an angle from 0 to 360 deg")
    return angle % _TURN


def show_direction(radians: float) -> str:
    """Show a direction as the nearest of 16 compass points and in whole degrees.

    >>> show_direction(math.radians(250)), show_direction(math.radians(359.8))
    ('WSW (250°)', 'N (0°)')
    """
    degrees = math.degrees(radians)
    point = round(degrees / 360 * len(_SHOWN_POINTS)) % len(_SHOWN_POINTS)
    return f"{_SHOWN_POINTS[point]} ({round(degrees) % 360}°)"


# --- A power and how long it was held ------------------------------------------------------------

_POINT = re.compile(rf"(?P<time>\S.*?)(?: at |, ?| )(?P<power>{NUMBER} ?[a-z/]*)", re.IGNORECASE)
_POINT_REMEDY = "write the duration, then the power, as in '3 min 385 W' or '3:00 at 385 W'"

LONGEST = 86_400.0
"""Longest duration that a power is stated for [s]; our choice."""

HIGHEST = 2500.0
"""Highest power that is possible [W]; above what sprinters reach for seconds; common practice."""


def read_power_point(text: object) -> tuple[float, float]:
    """Read how long a power was held [s], and the power [W], both with their units.

    Raises `QuantityError` if the text is something else, or a value is not possible.

    >>> read_power_point("3 min 385 W"), read_power_point("1:02:30 at 0.27 kW")
    ((180.0, 385.0), (3750.0, 270.0))
    """
    found = _POINT.fullmatch(tidy(text)) if isinstance(text, str) else None
    if not found:
        raise QuantityError(
            f"{in_quotes(str(text))} is not a power with its duration", _POINT_REMEDY
        )
    time, power = read(found["time"], TIME), read(found["power"], POWER)
    wrong = f"in {in_quotes(str(text))} is not possible"
    if not 1.0 <= time <= LONGEST:
        raise QuantityError(f"the duration {wrong}", "give 1 s to 24 h")
    if not 1.0 <= power <= HIGHEST:
        raise QuantityError(f"the power {wrong}", f"give 1 W to {HIGHEST:.0f} W")
    return time, power
