"""A race at a glance, narrow enough for a part of a screen."""

from racecalc.answers.rates import rate_shown
from racecalc.answers.time import NOTHING, SPENT_ON
from racecalc.decisions.comparison import Comparison, Outlook, Pair, compared
from racecalc.decisions.doubt import TimeBand
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show
from racecalc.views.band_page import band_text
from racecalc.views.compare_page import time_against
from racecalc.views.tables import beside, bullets, give_or_take_text, paragraph, signed, table


def glance_text(
    outlook: Outlook,
    before: Outlook | None,
    called: str,
    units: System,
    band: TimeBand | None = None,
) -> str:
    """Time, rates, where the watts go and options of a race, each with what it was before."""
    found = compared(before, outlook) if before and before is not outlook else None
    return (
        _time_text(outlook, found, called, units, band)
        + beside(_rates_text(outlook, found, units), _shares_text(outlook, found))
        + _gains_text(outlook, found)
        + bullets("Mind", outlook.timing.warnings)
        + bullets("About the inputs", (str(notice) for notice in outlook.base.race.notices))
    )


def _time_text(
    outlook: Outlook,
    found: Comparison | None,
    called: str,
    units: System,
    band: TimeBand | None,
) -> str:
    timed = outlook.timing
    return (
        paragraph(
            f"{show_duration(timed.time_s, 1)}{time_against(found.time, called) if found else ''}"
        )
        + (band_text(band) if band else paragraph(_how_sure(outlook)))
        + paragraph(
            f"{show(timed.distance_m, 'course_distance', units)} at"
            f" {show(timed.mean_speed_m_s, 'speed', units)},"
            f" {show(timed.mean_power_w, 'power', units)},"
            f" {show(timed.ascent_m, 'elevation', units)} up"
        )
    )


def _how_sure(outlook: Outlook) -> str:
    model = f"give or take {outlook.timing.model_error_s:.0f} s by the model alone"
    if outlook.base.race.doubts.stated:
        return f"{model}; what the stated doubts add is being worked out"
    return f"{model}, what is doubtful of the inputs not counted"


def _shares_text(outlook: Outlook, found: Comparison | None) -> str:
    shares = outlook.timing.shares
    changes = {pair.name: pair for pair in found.shares} if found else {}
    rows = []
    for field, name in SPENT_ON.items():
        watts = float(getattr(shares, field))
        if abs(watts) < NOTHING:
            continue
        percent = shares.percent(watts)
        cells = [name, f"{watts:.1f}", "-" if percent is None else f"{percent:.0f}"]
        rows.append((*cells, *_change_cell(changes.get(field), found)))
    return "\n" + table(("<the watts go into", "W", "%", *_change_heading(found)), rows)


def _rates_text(outlook: Outlook, found: Comparison | None, units: System) -> str:
    earlier = {pair.rate.quantity: pair.before for pair in found.rates} if found else {}
    rows = []
    for rate in outlook.rates:
        unit, seconds = rate_shown(rate, rate.seconds_per_unit, units)
        was = earlier.get(rate.quantity)
        before = "-" if was is None else f"{rate_shown(rate, was, units)[1]:+.2f}"
        cells = (f"{unit} {rate.meaning}", f"{seconds:+.2f}")
        rows.append((*cells, before) if found else cells)
    return "\n" + table(("<one unit more", "saves s", *(["before"] if found else [])), rows)


def _gains_text(outlook: Outlook, found: Comparison | None) -> str:
    refused = bullets("Not worked out", (f"{one.name}: {one.problem}" for one in outlook.refused))
    if not outlook.gains:
        return refused
    changes = {pair.name: pair for pair in found.gains} if found else {}
    rows = [
        (
            gain.option.name,
            signed(gain.saved_s),
            give_or_take_text(gain.give_or_take_s),
            gain.verdict,
            *_change_cell(changes.get(gain.option.name), found),
        )
        for gain in outlook.gains
    ]
    return (
        "\n"
        + table(("<each alone saves", "s", "+-", "<verdict", *_change_heading(found)), rows)
        + paragraph("+-: 95 of 100 cases, by the doubt of its own test; ? where none is stated.")
        + refused
    )


def _change_heading(found: Comparison | None) -> list[str]:
    return ["change"] if found else []


def _change_cell(pair: Pair | None, found: Comparison | None) -> list[str]:
    if found is None:
        return []
    change = pair.change if pair else None
    return ["-" if change is None else signed(change)]
