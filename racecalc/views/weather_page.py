"""``racecalc weather`` as text."""

from collections.abc import Mapping, Sequence
from itertools import groupby

import numpy as np

from racecalc.answers.basis import RIDE_SAFELY as CAUTION
from racecalc.decisions.riding import Ridden
from racecalc.decisions.weather import (
    NOTHING_NEW,
    OptionOverDays,
    RaceDay,
    SlotOverDays,
    Start,
    weather_doubts,
)
from racecalc.decisions.weather_options import BasketOnDays
from racecalc.quantities.clock import show_duration
from racecalc.quantities.reading import show_direction
from racecalc.quantities.showing import System, show_number, shown_unit
from racecalc.views.basis import basis_text
from racecalc.views.chart import starts_chart
from racecalc.views.tables import bullets, paragraph, table
from racecalc.views.weather_tables import baskets_text, option_chance, options_text, share_text
from racecalc.views.weather_words import day_words, doubts_words, wind_height_words


def weather_text(
    base: Ridden, found: RaceDay, baskets: Sequence[BasketOnDays], seed: int, units: System
) -> str:
    """Time over the days, starts, options, and the choices that depend on the weather."""
    return (
        _times_text(base, found, seed, units)
        + _starts_text(found, units)
        + bullets("Before any second", found.cautions)
        + options_text(found)
        + _slots_text(found, units)
        + baskets_text(baskets, found.days, units)
        + basis_text(base.race, units)
        + "\n"
        + paragraph(CAUTION)
    )


def _times_text(base: Ridden, found: RaceDay, seed: int, units: System) -> str:
    alone = [("In the forecast", found.fastest)] if found.days == 1 else []
    ends = alone or (("Fastest", found.fastest), ("Slowest", found.slowest))
    return (
        paragraph(f"{base.race.name}: {_days_words(found)}")
        + "\n"
        + paragraph(
            f"{show_duration(found.stated_s)} in the weather of the race file, without any option."
            + _spread_words(found)
        )
        + "".join(
            paragraph(
                f"{word}: {show_duration(one.time_s)}, {one.day.name}: {day_words(one.day, units)}",
                indent="  ",
            )
            for word, one in ends
        )
        + "\n"
        + paragraph(_drawn_words(base, found, seed, units))
        + paragraph(
            wind_height_words(base.race.air.wind, units, bool(found.starts))
            + " One weather holds for a whole ride, and the rider's power is the same on every"
            " day."
        )
    )


def _days_words(found: RaceDay) -> str:
    if found.share_error is not None:
        return f"{found.days} days of weather"
    return f"{found.days} row{'s' if found.days > 1 else ''} of a forecast"


def _spread_words(found: RaceDay) -> str:
    """Shares of the days; the few rows of a forecast alone have none worth stating."""
    if found.share_error is None:
        return ""
    low, middle, high = (
        show_duration(one)
        for one in (found.spread.low_80_s, found.spread.median_s, found.spread.high_80_s)
    )
    return f" Half of the days are faster than {middle}, 80 of 100 lie within {low} to {high}."


def _drawn_words(base: Ridden, found: RaceDay, seed: int, units: System) -> str:
    doubts = doubts_words(weather_doubts(base.race), units)
    if not doubts:
        return (
            "Each row of the forecast is a day; how sure it is the race file does not say, so no"
            ' band can be shown: state air.wind_doubt = "1.5 m/s" or the like.'
        )
    if not found.starts:
        return (
            f"Drawn about the race file's weather, seed {seed}, standard uncertainties: {doubts}."
        )
    return (
        f"{found.days // len(found.starts)} days drawn about each row of the forecast, seed {seed},"
        f" standard uncertainties: {doubts}. A forecast is taken to err alike at every hour; where"
        " it does not, the differences between starts are less sure than shown."
    )


def _starts_text(found: RaceDay, units: System) -> str:
    if not found.starts:
        return ""
    windy, warm = shown_unit("wind_speed", units), shown_unit("temperature", units)
    gusty = any(start.day.gust is not None for start in found.starts)
    dense = any(start.day.air.density is not None for start in found.starts)
    columns = ("<start", f"wind {windy}", "<from", "gust", warm, "time", "against the first")
    left_out = {3: gusty, 4: not dense}
    kept = [number for number in range(len(columns)) if left_out.get(number, True)]
    rows = [_start_row(start, units) for start in found.starts]
    named = "the wind as forecast, the gust at the rider" if gusty else "the wind as forecast"
    band = " In brackets the 80 % range." if found.starts[0].later else ""
    times = np.array([start.time_s for start in found.starts])
    names = [start.day.name for start in found.starts]
    return (
        "\nEarly or late start\n"
        + table([columns[one] for one in kept], [[row[one] for one in kept] for row in rows])
        + "\n"
        + paragraph(f"Seconds against the first start, more is slower; {named}.{band}")
        + (starts_chart(names, times) if len(times) > 2 else "")
    )


def _start_row(start: Start, units: System) -> tuple[str, ...]:
    air, band = start.day.air, start.later
    first = start.later_s == 0 and (band is None or band.standard_deviation_s == 0)
    within = f" ({band.low_80_s:+.0f} to {band.high_80_s:+.0f})" if band else ""
    gust = start.day.gust
    return (
        start.day.name,
        show_number(air.wind.speed, "wind_speed", units, 1),
        show_direction(air.wind.direction).partition(" ")[0],
        "?" if gust is None else show_number(gust, "wind_speed", units, 1),
        show_number(air.temperature, "temperature", units, 0),
        show_duration(start.time_s),
        "-" if first else f"{start.later_s:+.0f}{within}",
    )


def _slots_text(found: RaceDay, units: System) -> str:
    known = {option.name: option for option in found.options}
    settled = [
        f"{slot.name}: {_with_chance(slot.least_mean, known)}"
        for slot in found.slots
        if slot.settled
    ]
    open_slots = [slot for slot in found.slots if not slot.settled]
    return bullets("The same choice is the best on every day", settled) + (
        _open_text(open_slots, found, known, units) if open_slots else ""
    )


def _open_text(
    slots: Sequence[SlotOverDays],
    found: RaceDay,
    known: Mapping[str, OptionOverDays],
    units: System,
) -> str:
    rows = [
        (
            choice.name if number else f"{slot.name}: {choice.name}",
            share_text(choice.share_best, found.days),
            f"{choice.mean_regret_s:.1f}",
            f"{choice.worst_regret_s:.1f}",
        )
        for slot in slots
        for number, choice in enumerate(slot.choices)
    ]
    lines = [line for slot in slots for line in _slot_lines(slot, known, found, units)]
    return (
        "\nWhere the weather decides\n"
        + table(("<slot and choice", "best", "mean s lost", "worst s lost"), rows)
        + "\n"
        + paragraph(
            "Lost against the best choice of each day by keeping to one; where gusts rule it out,"
            " nothing new is ridden in its place."
        )
        + bullets("So", lines)
    )


def _slot_lines(
    slot: SlotOverDays, known: Mapping[str, OptionOverDays], found: RaceDay, units: System
) -> list[str]:
    choices = {choice.name: choice for choice in slot.choices}
    mean, worst = choices[slot.least_mean], choices[slot.least_worst]
    spared = (
        mean.worst_regret_s == 0 and mean.name in known and known[mean.name].share_ruled_out > 0
    )
    text = f"{slot.name}: {_with_chance(mean.name, known)}" + (
        " is the best whenever gusts allow it."
        if spared
        else f" loses the least on average, at worst {mean.worst_regret_s:.1f} s"
        f" ({day_words(mean.worst_day, units)})."
    )
    if worst.name != mean.name:
        text += (
            f" {_with_chance(worst.name, known)} loses the least at worst"
            f" ({worst.worst_regret_s:.1f} s)."
        )
    if slot.most_at_stake_s < found.watt_s:
        text += (
            f" No choice ever loses what a watt is worth here ({found.watt_s:.1f} s): let other"
            " things decide."
        )
    if len(set(slot.by_start)) > 1:
        return [text, f"{slot.name}, by start: {_by_start(slot, found.starts)}."]
    return [text]


def _by_start(slot: SlotOverDays, starts: Sequence[Start]) -> str:
    """Runs of starts with one best choice, as forecast."""
    pairs = zip(slot.by_start, (start.day.name for start in starts), strict=True)
    runs = [(name, [start for _, start in run]) for name, run in groupby(pairs, key=lambda p: p[0])]
    return ", ".join(
        f"{name} {run[0]}" + (f" to {run[-1]}" if len(run) > 1 else "") for name, run in runs
    )


def _with_chance(name: str, known: Mapping[str, OptionOverDays]) -> str:
    """A choice with the chance, by its own doubt, that it is faster than nothing new."""
    if name == NOTHING_NEW:
        return name
    return f"{name} (chance {option_chance(known[name])})"
