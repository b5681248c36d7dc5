"""Two versions of a race beside each other, as text and as JSON."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from racecalc.answers.rates import rate_shown
from racecalc.answers.time import NOTHING, SPENT_ON
from racecalc.decisions.comparison import Comparison, Pair, RatePair
from racecalc.files.draft import Draft
from racecalc.files.race_writing import as_typed
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import DISPLAYS, System, What, show_number, shown_unit
from racecalc.views.tables import paragraph, signed, table

FIGURE_NAMES: dict[str, tuple[str, What]] = {
    "mean_speed_m_s": ("mean speed", "speed"),
    "mean_power_w": ("mean power", "power"),
    "air_density_kg_m3": ("air density", "density"),
    "wind_at_rider_m_s": ("wind at the rider", "wind_speed"),
    "distance_m": ("length", "course_distance"),
    "ascent_m": ("climbing", "elevation"),
}


@dataclass(frozen=True)
class InputChange:
    """A value of the race file that two versions give differently, as they write it."""

    where: str
    before: str
    after: str


def input_changes(before: str, after: Draft) -> list[InputChange]:
    """What a race file gives otherwise than another text of it."""
    return [
        InputChange(one.words, as_typed(one.before) or "-", as_typed(one.after) or "-")
        for one in after.differences(before)
    ]


def compare_text(
    names: tuple[str, str], inputs: Sequence[InputChange], found: Comparison, units: System
) -> str:
    """What the two versions say differently, and what that does to the answers."""
    return (
        paragraph(time_words(names, found.time))
        + _inputs_text(names, inputs)
        + "\n"
        + table(("<", *names, "change"), _figure_rows(found, units))
        + "\nWhere the watts go [W]\n"
        + table(("<", *names, "change"), _share_rows(found))
        + "\nSeconds saved by one unit more\n"
        + table(("<", "<unit", *names), [_rate_row(pair, units) for pair in found.rates])
        + _gains_text(names, found.gains)
    )


def time_words(names: tuple[str, str], time: Pair) -> str:
    """The two times and which is faster, in a sentence."""
    before, after = (show_duration(one or 0.0, 1) for one in (time.before, time.after))
    return f"{names[1]}: {after}{time_against(time, names[0])} ({before})."


def time_against(time: Pair, called: str) -> str:
    """How the second time compares with the first, to follow the second time in a sentence."""
    change = time.change or 0.0
    if signed(change) == "0.0":
        return f", as {called}"
    return f", {abs(change):.1f} s {'less' if change < 0 else 'more'} than {called}"


def _inputs_text(names: tuple[str, str], inputs: Sequence[InputChange]) -> str:
    if not inputs:
        return "\nNo value of the race files differs.\n"
    rows = [(one.where, one.before, one.after) for one in inputs]
    return "\n" + table(("<what differs", *(f"<{name}" for name in names)), rows, wrapped=1)


def _figure_rows(found: Comparison, units: System) -> list[tuple[str, ...]]:
    time = found.time
    rows = [
        (
            "time",
            *(show_duration(one or 0.0, 1) for one in (time.before, time.after)),
            f"{signed(time.change or 0.0)} s",
        )
    ]
    for pair in found.figures:
        name, what = FIGURE_NAMES[pair.name]
        rows.append((f"{name} [{shown_unit(what, units)}]", *_shown(pair, what, units)))
    return rows


def _shown(pair: Pair, what: What, units: System) -> tuple[str, str, str]:
    numbers = [show_number(one or 0.0, what, units) for one in (pair.before, pair.after)]
    # One decimal more, so that a change of what is rounded alike is still seen.
    finer = DISPLAYS[what].decimals(units) + 1
    return numbers[0], numbers[1], show_number(pair.change or 0.0, what, units, finer, signed=True)


def _share_rows(found: Comparison) -> list[tuple[str, ...]]:
    both = [(pair, pair.before or 0.0, pair.after or 0.0) for pair in found.shares]
    return [
        (SPENT_ON[pair.name], f"{before:.1f}", f"{after:.1f}", signed(pair.change or 0.0))
        for pair, before, after in both
        if max(abs(before), abs(after)) >= NOTHING
    ]


def _rate_row(pair: RatePair, units: System) -> tuple[str, ...]:
    unit, _ = rate_shown(pair.rate, pair.rate.seconds_per_unit, units)
    seconds = [
        "-" if one is None else f"{rate_shown(pair.rate, one, units)[1]:+.2f}"
        for one in (pair.before, pair.after)
    ]
    return pair.rate.meaning, unit, *seconds


def _gains_text(names: tuple[str, str], gains: Sequence[Pair]) -> str:
    if not gains:
        return ""
    rows = [
        (
            pair.name,
            *("-" if one is None else signed(one) for one in (pair.before, pair.after)),
            "-" if pair.change is None else signed(pair.change),
        )
        for pair in gains
    ]
    return "\nSeconds that each option saves\n" + table(("<option", *names, "change"), rows)


def compare_json(
    names: tuple[str, str], inputs: Sequence[InputChange], found: Comparison
) -> dict[str, Any]:
    """Answer of ``racecalc compare``."""
    return {
        "names": list(names),
        "inputs": [
            {"where": one.where, "before": one.before, "after": one.after} for one in inputs
        ],
        "time_s": _pair_json(found.time),
        **{pair.name: _pair_json(pair) for pair in found.figures},
        "shares": {pair.name: _pair_json(pair) for pair in found.shares},
        "rates": [
            {
                "quantity": pair.rate.quantity,
                "unit": pair.rate.unit,
                "before": pair.before,
                "after": pair.after,
            }
            for pair in found.rates
        ],
        "options": [{"name": pair.name, **_pair_json(pair)} for pair in found.gains],
    }


def _pair_json(pair: Pair) -> dict[str, float | None]:
    return {"before": pair.before, "after": pair.after, "change": pair.change}
