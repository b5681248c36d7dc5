"""Weather in which seconds are not what decides: gusts and heat."""

from collections.abc import Callable, Sequence

from racecalc.decisions.days import Day
from racecalc.domain.air import Air
from racecalc.domain.option import Option

GUST_CAUTION = 11.0
"""Gust at the height of the rider from which what catches the wind needs care [m/s]; a
conservative judgement, not a measured limit, and too high for a light rider."""

GUST_TOO_STRONG = 14.0
"""Gust at the height of the rider from which the shallower choice is advised whatever the
seconds say [m/s]; a conservative judgement, not a measured limit, and too high for a light
rider."""

HOT = 301.15
"""Air temperature above which power falls and drinking decides, 28 degC [K]; common practice,
no source."""

MILE_AN_HOUR = 0.44704
"""[m/s], exact."""

JUDGED = "a conservative judgement, not a measured limit; lighter riders sooner"


def ruled_out(option: Option, day: Day) -> bool:
    """Whether gusts forbid an option on a day, as far as they are known."""
    return option.ties.catches_wind and day.least_gust >= GUST_TOO_STRONG


def weather_cautions(options: Sequence[Option], days: Sequence[Day]) -> tuple[str, ...]:
    """What to heed before any second, in sentences.

    Parameters
    ----------
    options : sequence of Option
        What may be used.
    days : sequence of Day
        All days that count.

    Returns
    -------
    tuple of str
        Empty where nothing is to be said.
    """
    catching = [option.name for option in options if option.ties.catches_wind]
    return (*_gust_cautions(catching, days), *_heat_cautions(days))


def _gust_cautions(catching: Sequence[str], days: Sequence[Day]) -> list[str]:
    names = ", ".join(catching) or "deep wheels and full shrouds"
    too_strong = _which(days, lambda day: day.least_gust >= GUST_TOO_STRONG)
    strong = _which(days, lambda day: GUST_CAUTION <= day.least_gust < GUST_TOO_STRONG)
    unknown = _which(days, lambda day: day.gust is None)
    found = []
    if too_strong and catching:
        found.append(
            f"Gusts of {speed_words(GUST_TOO_STRONG)} or more at the rider {too_strong}: {names}"
            f" cannot win then, whatever the seconds say; ride the shallower choice ({JUDGED})."
        )
    elif too_strong:
        found.append(
            f"Gusts of {speed_words(GUST_TOO_STRONG)} or more at the rider {too_strong}: leave"
            f" {names} at home ({JUDGED})."
        )
    if strong:
        found.append(
            f"Gusts of {speed_words(GUST_CAUTION)} or more at the rider {strong}: take care with"
            f" {names}, most of all where side wind comes through gaps in hedges and after"
            f" lorries ({JUDGED})."
        )
    if (too_strong or strong) and not catching:
        found.append(
            "No option is marked catches_wind = true, so gusts keep none from winning; mark those"
            " that a side wind pushes about."
        )
    if unknown and catching:
        found.append(
            f"No gust is known {unknown}, so gusts are not in the numbers, but {names}"
            f" {'catches' if len(catching) == 1 else 'catch'} the wind: give --gust, or a forecast"
            " with a column 'gust [m/s]'."
        )
    return found


def speed_words(speed: float) -> str:
    """A limit in the units that forecasts use, so that nobody has to convert it."""
    return f"{speed:.0f} m/s ({3.6 * speed:.0f} km/h, {speed / MILE_AN_HOUR:.0f} mph)"


def is_hot(air: Air) -> bool:
    """Whether heat decides more than seconds do; unknown where the density itself is given."""
    return air.density is None and air.temperature > HOT


def _heat_cautions(days: Sequence[Day]) -> list[str]:
    hot = _which(days, lambda day: is_hot(day.air))
    if not hot:
        return []
    return [
        f"Warmer than 28 degC (82 degF) {hot}: power falls and more must be drunk, neither of"
        " which is in the numbers; prefer vented clothing, and stop for confusion or chills."
    ]


def _which(days: Sequence[Day], so: Callable[[Day], bool]) -> str:
    """On which days something is so, in words; empty for none."""
    found = [day for day in days if so(day)]
    if not found:
        return ""
    if found[0].row is None or any(day.drawn for day in days):
        some = f"on {len(found)} of {len(days)} days"
    else:
        some = f"in {len(found)} of {len(days)} rows"
    if found[0].row is None:
        return some
    return f"{some} ({', '.join(dict.fromkeys(day.name for day in found))})"
