"""``racecalc rates``: what a watt, a gram or a thousandth of CdA is worth."""

from dataclasses import dataclass, field
from typing import Annotated, Any

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell
from racecalc.answers.columns import Column, Words
from racecalc.answers.sheet import Depth, Lines, Sheet, Table
from racecalc.decisions.comparison import RatePair
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

HOLDS_FOR = (
    "Positive saves time. For small changes at this race's own conditions; not for another course,"
    " weather or power."
)


@dataclass(frozen=True)
class RatesAnswer:
    """What one more unit of each quantity is worth."""

    time_s: float
    """Time of the race [s]."""
    rates: tuple[Rate, ...]
    """One for each quantity."""
    basis: Annotated[Basis, SPREAD]
    """What they rest on."""


def rates_sheet(answer: RatesAnswer, units: System) -> Sheet:
    """What one more unit of each quantity is worth."""
    number, watt = next(
        (number, rate.seconds_per_unit)
        for number, rate in enumerate(answer.rates)
        if rate.quantity == "power"
    )
    return Sheet(
        (
            f"{answer.basis.title}, {show_duration(answer.time_s)}: one watt more saves ",
            Cell(f"{watt:.1f} s", "strong", watt, f"rates/{number}/seconds_per_unit"),
        ),
        [
            Table(
                "",
                [
                    Words("one unit more", "meaning"),
                    PerUnitOf("unit", "unit"),
                    PerUnit("seconds\nsaved", "seconds_per_unit"),
                    AsGoodAs("as good\nas 1 W", "seconds_per_unit", seconds=watt),
                ],
                answer.rates,
                HOLDS_FOR,
                Depth.ANSWER,
                path="rates",
            ),
            Lines(answer.basis.warnings, "Mind"),
            Lines(
                [
                    "Each is the exact derivative of the time, by the adjoint of the solved ride:"
                    " ten times the change is not quite ten times the seconds."
                ],
                "",
                Depth.BASIS,
            ),
            *answer.basis.blocks(units),
        ],
        units,
    )


# --- units of the reader -------------------------------------------------------------------------


def unit_for(rate: Rate, units: System) -> tuple[str, float]:
    """The unit that a rate is shown for, and how many of its own units that is."""
    what = IMPERIAL.get(rate.quantity)
    if units == "imperial" and what:
        return f"1 {shown_unit(what, units)}", unit_size(what, units) / rate.size
    return f"1 {rate.unit}" if rate.unit[0].isalpha() else rate.unit, 1.0


def _rate_of(row: Rate | RatePair) -> Rate:
    return row.rate if isinstance(row, RatePair) else row


class PerUnitOf(Words):
    """The unit that a rate is shown for; with what is meant after it, if the key is "rate"."""

    def _made(self, value: Any, row: Any, units: System) -> Cell:
        unit, _ = unit_for(_rate_of(row), units)
        return Cell(f"{unit} {value.meaning}" if isinstance(value, Rate) else unit)


class PerUnit(Column):
    """Seconds saved by one unit more."""

    def _made(self, value: Any, row: Any, units: System) -> str:
        seconds = value * unit_for(_rate_of(row), units)[1]
        return f"{seconds:+.{0 if abs(seconds) >= 100 else 1 if abs(seconds) >= 10 else 2}f}"


@dataclass(frozen=True)
class AsGoodAs(Column):
    """The change that saves so many seconds."""

    seconds: float = field(default=0.0, kw_only=True)

    def cell(self, row: Any, units: System) -> Cell:
        """The change, to two digits."""
        unit, times = unit_for(_rate_of(row), units)
        number, _, name = unit.partition(" ")
        per_unit = row.seconds_per_unit * times
        if not per_unit:
            return Cell("-")
        amount = float(f"{self.seconds / per_unit * float(number):.2g}")
        return Cell(f"{amount:+.6g} {name}".rstrip())
