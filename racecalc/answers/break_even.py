"""``racecalc breakeven``: from which saving on an option pays."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, quoted
from racecalc.answers.columns import (
    Chance,
    Column,
    Made,
    Number,
    Words,
    seconds_between,
)
from racecalc.answers.sheet import Curves, Depth, Line, Lines, Sheet, Table
from racecalc.answers.value import USE_SAFELY, Needed, rules_lines, test_conditions
from racecalc.decisions.break_even import BreakEven, BreakEvens
from racecalc.quantities.showing import System
from racecalc.written import SPREAD


@dataclass(frozen=True)
class BreakEvenAnswer:
    """From which saving on an option pays."""

    baseline_time_s: float
    """Time without it [s]."""
    found: Annotated[BreakEvens, SPREAD]
    """What it must save, for each reason, and the curve of net seconds."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""


def break_even_sheet(answer: BreakEvenAnswer, units: System) -> Sheet:
    """From which saving on it pays, for each reason, and the curve of net seconds over watts."""
    found = answer.found
    at = f"at {test_conditions(found, units)}"
    rules = rules_lines([found.option]) if found.claim_w is not None else ()
    return Sheet(
        (quoted(found.option.name), f", {answer.basis.title}: ", *_first(found.break_evens[0], at)),
        [
            Lines([_claim(found, at), *rules]),
            Lines(answer.basis.warnings, "Mind"),
            Table(
                "",
                _columns(found),
                found.break_evens,
                f"Watts {at}. To spare: what it states beyond that, and its 95 % interval; chance:"
                " that it saves as much, by its own doubt alone; ? where that is not stated.",
                Depth.ANSWER,
                path="break_evens",
            ),
            _curve(found, at),
            Lines(found.assumptions_of_test, "About its test", Depth.BASIS),
            *answer.basis.blocks(units, USE_SAFELY),
        ],
        units,
    )


def _first(row: BreakEven, at: str) -> Iterator[str | Cell]:
    if row.watts_w is None:
        yield Cell(f"no saving makes up for {row.reason}", "strong")
    elif row.watts_w <= 0:
        yield Cell("pays with any saving", "strong")
    else:
        watts = f"{row.watts_w:.2f} W {at}"
        yield "pays from "
        yield Cell(watts, "strong", row.watts_w, "break_evens/0/watts_w")
        yield f", for {row.reason}"


def _claim(found: BreakEvens, at: str) -> Line:
    if found.claim_w is None or found.saved_s is None:
        return "It states no saving; the watts below are what it would need."
    claim = f"{found.claim_w:.1f} W (doubt not stated)"
    if found.band_w:
        claim = f"{seconds_between(found.claim_w, *found.band_w, '-')} W"
    held = "" if found.option.holding.always else " and the time in which it is held"
    seconds = seconds_between(found.saved_s, found.saved_s_low, found.saved_s_high)
    return (
        f"It states {claim} {at}; with its weight{held} that is ",
        Cell(f"{seconds} s", "strong", found.saved_s, "saved_s"),
        " here.",
    )


def _columns(found: BreakEvens) -> list[Column | None]:
    reach = 0.5 * (found.band_w[1] - found.band_w[0]) if found.band_w else None

    def to_spare(row: BreakEven) -> str:
        margin = row.margin_w
        if margin is None or reach is None:
            return "?" if margin is None else f"{margin:+.1f}"
        return seconds_between(margin, margin - reach, margin + reach)

    return [
        Words("to make up for", "reason"),
        Number("seconds", "to_gain_s"),
        Needed("pays\nfrom W", "watts_w"),
        Made("which is", "", lambda row: _amount(row, found.option.acts_on)),
        Made("to spare W", "", to_spare),
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

    def on_curve(letter: str, *stated: float) -> Iterator[tuple[float, float, str]]:
        for one in stated:
            yield one, float(np.interp(one, watts, seconds)), letter

    points = [*on_curve("o", *(found.band_w or ()))]
    if found.claim_w is not None:
        points += on_curve("X", found.claim_w)
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
        return "It loses time with any saving."
    return f"It loses time below {max(first.watts_w, 0.0):.2f} W {at}, and saves time above."
