"""``racecalc rates`` as text."""

from collections.abc import Sequence

from racecalc.decisions.rates import Rate
from racecalc.decisions.riding import Ridden
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System
from racecalc.views.basis import basis_text
from racecalc.views.tables import paragraph, table


def rates_text(ridden: Ridden, found: Sequence[Rate], units: System) -> str:
    """What one more unit of each quantity is worth."""
    rows = [
        (
            rate.meaning,
            f"1 {rate.unit}" if rate.unit[0].isalpha() else rate.unit,
            f"{rate.seconds_per_unit:+.2f}",
        )
        for rate in found
    ]
    return (
        f"{ridden.race.name}: {show_duration(ridden.time, 1)}\n\n"
        + table(("<one unit more", "<unit", "seconds saved"), rows)
        + "\n"
        + paragraph(
            "Positive saves time, negative costs it. These are slopes at this race's own"
            " conditions: they hold for small changes, and not for another course, weather or"
            " power."
        )
        + basis_text(ridden.race, units)
    )
