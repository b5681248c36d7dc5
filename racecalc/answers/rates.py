"""``racecalc rates``: what a watt, a gram or a thousandth of CdA is worth."""

from dataclasses import dataclass, replace
from typing import Annotated

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell
from racecalc.answers.columns import Number, Words
from racecalc.answers.sheet import Depth, Sheet, Table
from racecalc.decisions.rates import Rate
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, What, shown_unit, unit_size
from racecalc.written import SPREAD

IMPERIAL: dict[str, What] = {
    "mass": "small_mass",
    "temperature": "temperature_change",
    "pressure": "pressure",
    "head_wind": "wind_speed",
    "wind_speed": "wind_speed",
}
"""Quantities whose rate is shown for another unit; the others keep the units of the trade."""


@dataclass(frozen=True)
class RatesAnswer:
    """What one more unit of each quantity is worth."""

    time_s: float
    """Time of the race [s]."""
    rates: tuple[Rate, ...]
    """One for each quantity."""
    basis: Annotated[Basis, SPREAD]
    """What they rest on."""


RATES = [
    Words("one unit more", "meaning"),
    Words("unit", "unit"),
    Number("seconds saved", "seconds_per_unit", form="+.2f"),
]


def rates_sheet(answer: RatesAnswer, units: System) -> Sheet:
    """What one more unit of each quantity is worth."""
    watt = next(rate for rate in answer.rates if rate.quantity == "power")
    seconds = watt.seconds_per_unit
    return Sheet(
        (
            f"{answer.basis.title}, {show_duration(answer.time_s)}: one watt more saves ",
            Cell(f"{seconds:.1f} s", "strong", seconds, "rates/0/seconds_per_unit"),
        ),
        [
            Table(
                "",
                RATES,
                [in_units(rate, units) for rate in answer.rates],
                "Positive saves time. For small changes at this race's own conditions; not for"
                " another course, weather or power.",
                Depth.ANSWER,
            ),
            *answer.basis.blocks(units),
        ],
        units,
    )


def in_units(rate: Rate, units: System) -> Rate:
    """The rate for the unit of the reader."""
    unit, what = rate.unit, IMPERIAL.get(rate.quantity)
    seconds = rate.seconds_per_unit
    if units == "imperial" and what:
        unit, seconds = shown_unit(what, units), seconds * unit_size(what, units) / rate.size
    return replace(rate, unit=f"1 {unit}" if unit[0].isalpha() else unit, seconds_per_unit=seconds)


def rate_shown(rate: Rate, seconds: float, units: System) -> tuple[str, float]:
    """The unit that a rate is shown for, and seconds for one unit of the rate turned into it."""
    shown = in_units(replace(rate, seconds_per_unit=seconds), units)
    return shown.unit, shown.seconds_per_unit
