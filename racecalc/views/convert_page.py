"""``racecalc convert`` as text."""

import math
from collections.abc import Sequence

from racecalc.decisions.savings import Conversion, Lacking, by_need
from racecalc.views.tables import bullets, paragraph, table

MOST_DECIMALS = 8


def convert_text(words: str, found: Sequence[Conversion | Lacking], bearings_given: bool) -> str:
    """The statement in other forms, with the range that its rounding leaves."""
    done = [one for one in found if isinstance(one, Conversion)]
    rows = [(_number(one), one.unit, _at(one), _range(one)) for one in done]
    needs = by_need([one for one in found if isinstance(one, Lacking)])
    lacking = [f"{', '.join(units)}: {need}" for need, units in needs.items()]
    headings = ("saved", "<", "<at", "<between, by its rounding")
    return (
        f"{words} is the same as\n\n"
        + table(headings, rows)
        + bullets("Not without more", lacking)
        + "\n"
        + paragraph(
            "In one air on both sides; watts and shares of power counted at the wheel; a speed"
            " from a power, and seconds, on a flat, calm road at steady power"
            + ("." if bearings_given else ", with wheel bearings of Martin et al. 1998.")
        )
    )


def sensible(value: float, low: float, high: float) -> str:
    """Digits that the range supports: none finer than half of it, and two that count at least.

    Examples
    --------
    >>> sensible(250.03, 242.9, 257.4), sensible(3.7196, 3.708, 3.731)
    ('250', '3.72')
    """
    half = 0.5 * abs(high - low) or 1e-4 * abs(value) or 1.0
    decimals = max(0, -math.floor(math.log10(half)))
    if value:
        decimals = max(decimals, 1 - math.floor(math.log10(abs(value))))
    decimals = min(decimals, MOST_DECIMALS)
    return f"{value:.{decimals}f}"


def _number(one: Conversion) -> str:
    return sensible(one.value, one.low, one.high)


def _range(one: Conversion) -> str:
    if one.low == one.high:
        return "-"
    ends = (sensible(end, one.low, one.high) for end in (one.low, one.high))
    return " and ".join(ends)


def _at(one: Conversion) -> str:
    speed = None if one.at_speed_m_s is None else f"{3.6 * one.at_speed_m_s:.1f} km/h"
    power = None if one.at_power_w is None else f"{one.at_power_w:.0f} W"
    return ", ".join(part for part in (speed, power) if part) or "-"
