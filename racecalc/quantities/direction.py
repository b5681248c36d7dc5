"""Directions such as the one the wind comes from: "250 deg", "WSW", "west-south-west"."""

import math
import re

from racecalc.quantities.kinds import ANGLE
from racecalc.quantities.measured import measure
from racecalc.quantities.numerals import QuantityError, quoted, tidy

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
_REMEDY = "write for example '250 deg', 'WSW' or 'west-south-west'"


def read_direction(text: str) -> float:
    """Read a direction over ground.

    Parameters
    ----------
    text : str
        An angle with its unit, clockwise from north, 0 to 360 deg; or one of the 32 points of
        the compass as letters or in words, capital or small.

    Returns
    -------
    float
        Direction [rad], from 0 up to but not including 2 pi.

    Raises
    ------
    QuantityError
        If the text is neither, the unit is missing or the angle is outside one turn.

    Examples
    --------
    >>> round(math.degrees(read_direction("west-south-west")), 1)
    247.5
    """
    whole = tidy(text)
    letters = _WORD.sub(lambda word: _LETTERS[word[0]], whole.lower())
    if letters in _BEARINGS:
        return _BEARINGS[letters]
    if re.fullmatch("[0-9.,]+", whole):
        raise QuantityError(
            f"{quoted(whole)} has no unit, a direction is needed",
            f"write {quoted(f'{whole} deg')}, or a point of the compass such as 'WSW'",
        )
    if not re.search("[0-9]", whole):
        problem = f"{quoted(whole)} is no point of the compass" if whole else "nothing stands here"
        raise QuantityError(problem, _REMEDY)
    angle = measure(whole, ANGLE)
    if not 0 <= angle <= _TURN:
        raise QuantityError(
            f"{quoted(whole)} is outside one turn", "write an angle from 0 to 360 deg"
        )
    return angle % _TURN


def show_direction(radians: float) -> str:
    """Show a direction as the nearest of 16 compass points and in whole degrees.

    Parameters
    ----------
    radians : float
        Direction [rad], clockwise from north, finite; any number of turns.

    Returns
    -------
    str
        As in "WSW (250°)".

    Examples
    --------
    >>> show_direction(math.radians(250)), show_direction(math.radians(359.8))
    ('WSW (250°)', 'N (0°)')
    """
    degrees = math.degrees(radians)
    point = round(degrees / 360 * len(_SHOWN_POINTS)) % len(_SHOWN_POINTS)
    return f"{_SHOWN_POINTS[point]} ({round(degrees) % 360}°)"
