"""``racecalc rates`` as text."""

from collections.abc import Sequence

from racecalc.decisions.rates import Rate
from racecalc.decisions.riding import Ridden
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, What, shown_unit, unit_size
from racecalc.views.basis import basis_text
from racecalc.views.tables import paragraph, table


def rates_text(ridden: Ridden, found: Sequence[Rate], units: System) -> str:
    """What one more unit of each quantity is worth."""
    rows = [_row(rate, units) for rate in found]
    return (
        paragraph(f"{ridden.race.name}: {show_duration(ridden.time, 1)}")
        + "\n"
        + table(("<one unit more", "<unit", "seconds saved"), rows)
        + "\n"
        + paragraph(
            "Positive saves time, negative costs it. These are slopes at this race's own"
            " conditions: they hold for small changes, and not for another course, weather or"
            " power."
        )
        + basis_text(ridden.race, units)
    )


IMPERIAL: dict[str, What] = {
    "mass": "small_mass",
    "temperature": "temperature_change",
    "pressure": "pressure",
    "head_wind": "wind_speed",
    "wind_speed": "wind_speed",
}
"""Quantities whose rate is shown for another unit; the others keep the units of the trade."""


def _row(rate: Rate, units: System) -> tuple[str, str, str]:
    unit, seconds = rate_shown(rate, rate.seconds_per_unit, units)
    return rate.meaning, unit, f"{seconds:+.2f}"


def rate_shown(rate: Rate, seconds: float, units: System) -> tuple[str, float]:
    """The unit that a rate is shown for, and seconds for one unit of the rate turned into it."""
    unit, what = rate.unit, IMPERIAL.get(rate.quantity)
    if units == "imperial" and what:
        unit = shown_unit(what, units)
        seconds *= unit_size(what, units) / rate.size
    return f"1 {unit}" if unit[0].isalpha() else unit, seconds
