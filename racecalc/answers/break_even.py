"""``racecalc breakeven``: what an option must save to pay off."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from racecalc.answers.basis import Basis, costs_line
from racecalc.answers.cells import Cell, chance_text, quoted
from racecalc.answers.columns import (
    Chance,
    Column,
    Made,
    Number,
    Words,
    saved_cell,
    seconds_between,
)
from racecalc.answers.sheet import Curves, Depth, Line, Lines, Sheet, Table, grounds
from racecalc.answers.value import (
    USE_SAFELY,
    Needed,
    rules_lines,
    size_lines,
    test_conditions,
    weather_lines,
)
from racecalc.decisions.break_even import BreakEven, BreakEvens
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.quantities.showing import System
from racecalc.written import SPREAD


@dataclass(frozen=True)
class BreakEvenAnswer:
    """What an option must save to pay off."""

    baseline_time_s: float
    """Time without it [s]."""
    found: Annotated[BreakEvens, SPREAD]
    """What it must save, for each reason, and the curve of net seconds."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""


MARGINS_NOTE = (
    "Margin: its stated saving less what it must save, with the 95 % interval. Chance: that it"
    " saves as much, by its own doubt alone. ?: not stated."
)


def break_even_sheet(answer: BreakEvenAnswer, units: System) -> Sheet:
    """What it must save, for each reason, and the curve of net seconds over watts."""
    found = answer.found
    at = f"at {test_conditions(found, units)}"
    option = [found.option]
    heed = (*rules_lines(option), *size_lines(option), *weather_lines(option, answer.basis.day))
    note = f"Watts {at}. {MARGINS_NOTE}"
    pays, columns, rows = _first(found.break_evens, at), _columns(found), found.break_evens
    return Sheet(
        (quoted(found.option.name), f", {answer.basis.title}: ", *pays),
        [
            Lines([_claim(found, at), costs_line([found.use]), *heed]),
            Lines(answer.basis.warnings, "Mind"),
            Table("", columns, rows, note, Depth.ANSWER, path="break_evens"),
            _curve(found, at),
            grounds(found.assumptions_of_test, "About its test"),
            *answer.basis.blocks(units, USE_SAFELY),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: BreakEvenAnswer) -> Iterator[ExplainedStep]:
    found, asked = answer.found, answer.found.break_evens[:3]
    at = f"at {test_conditions(found, 'metric')}"
    yield answer.basis.ride
    for one in asked:
        yield from explained(
            "break even",
            reason=one.reason,
            watts="none does" if one.watts_w is None else f"{one.watts_w:.2f} W {at}",
            gain=one.to_gain_s,
            parts=_parts(one, asked[0]),
        )
    stated = f"stated {found.claim_w or 0.0:.2f} W, u {found.doubt_w or 0.0:.2f} W"
    chances = ("?" if one.chance is None else chance_text(one.chance) for one in asked)
    stated = "no saving is stated" if found.claim_w is None else stated
    yield from explained("break even chance", chances=", ".join(chances), stated=stated)


def _parts(row: BreakEven, first: BreakEven) -> str:
    """What the seconds of a cost are made of; the first row is that of the weight alone."""
    if not row.of_cost:
        return ""
    own, cost = first.to_gain_s, row.to_gain_s - first.to_gain_s
    return f" = {own:.1f} ({first.reason}) + {cost:.1f} (cost / worth of a second)"


def _first(rows: Sequence[BreakEven], at: str) -> tuple[str | Cell, ...]:
    row = rows[0]
    if row.watts_w is None:
        return (Cell(f"no saving makes up for {row.reason}", "strong"),)
    if row.watts_w <= 0:
        return (Cell("any saving makes up for its weight", "strong"), *_for_cost(rows))
    watts = Cell(f"{row.watts_w:.2f} W {at}", "strong", row.watts_w, "break_evens/0/watts_w")
    return "must save ", watts, f" to make up for {row.reason}", *_for_cost(rows)


def _for_cost(rows: Sequence[BreakEven]) -> Iterator[str | Cell]:
    """What it must save to be worth its cost as well, where that is known."""
    for number, row in enumerate(rows):
        if row.of_cost:
            watts = "" if row.watts_w is None else f"{row.watts_w:.2f} W"
            key = f"break_evens/{number}/watts_w"
            amount = Cell(watts, "strong", row.watts_w, key) if watts else "no saving"
            yield from (", ", amount, " for the cost too" if watts else " makes up for the cost")


def _claim(found: BreakEvens, at: str) -> Line:
    if found.claim_w is None or found.saved_s is None:
        return "It states no saving; the watts are what it would need."
    claim = f"{found.claim_w:.1f} W (doubt not stated)"
    if found.band_w:
        claim = f"{seconds_between(found.claim_w, *found.band_w, '-')} W"
    held = "" if found.option.holding.always else " and the time it is held"
    stated = f"Stated saving: {claim} {at}. Here that is "
    return stated, saved_cell(found, "saved_s"), f", its weight{held} included."


def _columns(found: BreakEvens) -> list[Column | None]:
    reach = 0.5 * (found.band_w[1] - found.band_w[0]) if found.band_w else None

    def margin_text(row: BreakEven) -> str:
        margin = row.margin_w
        if margin is None or reach is None:
            return "?" if margin is None else f"{margin:+.1f}"
        return seconds_between(margin, margin - reach, margin + reach)

    return [
        Words("to make up for", "reason"),
        Number("seconds", "to_gain_s"),
        Needed("must\nsave W", "watts_w"),
        Made("same as", "", lambda row: _amount(row, found.option.acts_on)),
        Made("margin W", "", margin_text),
        Chance("chance", "chance"),
    ]


def _amount(row: BreakEven, acts_on: str) -> str:
    saving = row.saving
    if saving is None or row.watts_w is None or row.watts_w <= 0:
        return "-"
    return {
        "air": f"{saving.cda:.4f} m^2",
        "tyres": f"{saving.crr:.5f} of Crr",
        "drivetrain": f"{100 * saving.drivetrain_loss:.2f} % of power",
    }[acts_on]


def _curve(found: BreakEvens, at: str) -> Curves:
    watts, seconds = np.array([(one.watts_w, one.saved_s) for one in found.curve]).T
    stated = [(end, "o") for end in found.band_w or ()]
    if found.claim_w is not None:
        stated.append((found.claim_w, "X"))
    points = [(one, float(np.interp(one, watts, seconds)), mark) for one, mark in stated]
    letters = "; X as stated" if points else ""
    return Curves(
        watts,
        {f"net seconds saved{letters}{', o its 95 % interval' if found.band_w else ''}": seconds},
        _in_words(found.break_evens[0], at),
        across=f"W saved {at}",
        points=points,
    )


def _in_words(first: BreakEven, at: str) -> str:
    if first.watts_w is None:
        return "It loses time whatever it saves."
    return f"It loses time below {max(first.watts_w, 0.0):.2f} W {at}, and saves time above."
