"""``racecalc against``: which of two options or sets is faster, and what the seconds cost."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from racecalc.answers.basis import Basis, costs_line
from racecalc.answers.cells import Cell, chance_text, naming, quoted, several, verdict
from racecalc.answers.columns import (
    Column,
    Made,
    Number,
    Seconds,
    Verdict,
    Words,
    saved_cell,
    seconds_like,
    seconds_text,
    size_text,
)
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table, details, grounds
from racecalc.answers.value import (
    USE_SAFELY,
    exchange_line,
    rate_text,
    rules_lines,
    set_cost,
    size_lines,
    weather_lines,
)
from racecalc.decisions.against import Gain, Rivals, Side
from racecalc.decisions.explain import DRAWN, FIRST_ORDER, ExplainedStep, explained, within_words
from racecalc.decisions.verdicts import give_or_take
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text, exact_text
from racecalc.quantities.showing import System
from racecalc.written import SPREAD


@dataclass(frozen=True)
class AgainstAnswer:
    """Two options or sets, one against the other."""

    baseline_time_s: float
    """Time with what is in use; without any option where nothing is [s]."""
    found: Annotated[Rivals, SPREAD]
    """What the first saves over the second, and what each costs."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""


def against_sheet(answer: AgainstAnswer, units: System) -> Sheet:
    """Which is faster, how sure that is, and what its seconds cost."""
    found, basis = answer.found, answer.basis
    options = list({one.name: one for side in found.sides for one in side.options}.values())
    rows = [*found.sides, *found.together]
    path = {"sides": found.sides, "together": found.together}
    uses = [use for side in rows for use in side.costs]
    return Sheet(
        _headline(found),
        [
            Lines([_verdict(found, basis.title), *_exchanges(found)]),
            Lines(
                [*weather_lines(options, basis.day), *rules_lines(options), *size_lines(options)]
            ),
            Lines([*_money(found)]),
            Lines(basis.warnings, "Mind"),
            Table("", _columns(found), rows, SIDES_NOTE, Depth.ANSWER, path=path),
            Lines([costs_line(uses), *_together(found), USE_SAFELY]),
            Table("Where the difference comes from", PARTS, [found], PARTS_NOTE),
            Table("What its doubt comes from", DOUBTS, found.doubts, DOUBTS_NOTE, path="doubts"),
            details(_reasons(found)),
            grounds([METHOD], "Method"),
            *basis.blocks(units),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: AgainstAnswer) -> Iterator[ExplainedStep]:
    found = answer.found
    quick, slow, gain = found.leading
    known = [one for one in found.doubts[:3] if one.doubt_s is not None]
    return explained(
        "against",
        answer.basis.ride,
        saved=gain.saved_s,
        slow=show_duration(slow.time_s),
        quick=show_duration(quick.time_s),
        neither=show_duration(answer.baseline_time_s),
        within=within_words(gain.saved_s_low, gain.saved_s_high),
        doubts=", ".join(f"{one.name} {one.doubt_s:.1f} s" for one in known) or "not stated",
        source=FIRST_ORDER if found.band is None else DRAWN,
        verdict=gain.verdict,
        because=gain.because,
    )


METHOD = (
    "The race is ridden with each side, put into what else is in use in the place of what cannot"
    " stay with it; the difference is that of these two rides. What both share, as rider, road,"
    " weather and options on both sides, cancels. Options of one table of runs are compared by"
    " that table, where the runs of the baseline cancel, with Student's t of this one difference;"
    " other doubts are independent. A tie lies within what one watt is worth on this course."
)

# --- what to do ----------------------------------------------------------------------------------


def _headline(found: Rivals) -> Line:
    quick, slow, gain = found.leading
    half = give_or_take(gain.saved_s_low, gain.saved_s_high)
    size = f"{size_text(gain.saved_s, half)} faster than" if gain.saved_s else "as fast as"
    cell = Cell(size, "strong", found.gain.saved_s, "gain/saved_s")
    return quoted(quick.name), " is ", cell, " ", quoted(slow.name), *_sure(found, gain)


def _sure(found: Rivals, gain: Gain) -> tuple[str | Cell, ...]:
    """How sure the difference is."""
    low, high, chance = gain.saved_s_low, gain.saved_s_high, gain.chance_faster
    if low is None or high is None or chance is None:
        names = [one.name for one in found.doubts if one.doubt_s is None]
        unknown = " by what is claimed; no chance is known, as no doubt is stated for "
        return unknown, *several(names)
    half = 0.5 * (high - low)
    ends = " and ".join(seconds_text(end, half, "-") for end in (low, high))
    return (f", between {ends} s in 95 of 100 cases; chance {chance_text(chance)}",)


def _verdict(found: Rivals, title: str) -> Line:
    gain = found.leading[2]
    because = "" if gain.doubt_s is None else f", because {gain.because}"
    return f"{title}: ", verdict(gain.verdict), f"{because}."


def _exchanges(found: Rivals) -> Iterator[Line]:
    for side in found.sides:
        if side.replaces or side.brings:
            yield exchange_line(side.name, side.replaces, side.brings)


def _money(found: Rivals) -> Iterator[Line]:
    """Which costs less, or what the seconds of the dearer one cost."""
    quick, slow, gain = found.leading
    further, currency = found.further_cost, quick.currency or slow.currency
    if gain.verdict == "tie":
        yield "Too little to matter: choose by price or comfort."
    if further is None:
        yield "Price unknown: ", *several([*quick.unpriced, *slow.unpriced]), "."
    elif further > 0:
        more = Cell(amount_text(further, currency), "strong", further, "further_cost")
        yield quoted(quick.name), " costs ", more, " more", *_rate(found, currency), "."
    elif further < 0:
        costs = f"{set_cost(quick.costs)}, against {set_cost(slow.costs)}"
        yield quoted(quick.name), f" also costs less: {costs}."
    else:
        yield "Neither costs more than the other."


def _rate(found: Rivals, currency: str) -> Iterator[str | Cell]:
    """What each further second costs, and whether that is more than it is worth."""
    rate, wanted = found.further, found.wanted
    if rate.at is None:
        return
    yield ": "
    yield Cell(amount_text(rate.at, currency), "strong", rate.at, "cost_per_further_second")
    yield " for each further second"
    if wanted:
        word = "more" if rate.at > float(wanted.amount) else "no more"
        yield f", {word} than the {wanted} that one is worth to you"
    if rate.high is None:
        yield ", if it is faster at all"


def _together(found: Rivals) -> Iterator[Line]:
    for both in found.together:
        first, second = found.sides
        alone = first.gain.saved_s + second.gain.saved_s
        like = seconds_like(alone, both.gain.saved_s_low, both.gain.saved_s_high)
        apart = not {*first.names} & {*second.names}
        words = f"; the sum of each alone is {like} s." if apart else "."
        saved = saved_cell(both.gain, "together/0/saved_s")
        yield "Both can be used together and then save ", saved, words


# --- the tables ----------------------------------------------------------------------------------


def _columns(found: Rivals) -> list[Column | None]:
    currency = next((one.currency for one in found.sides if one.currency), "")

    def name(side: Side) -> Cell | str:
        return "both" if side in found.together else quoted(side.name)

    def per_second(side: Side) -> str:
        return rate_text(side.gain, side.use, set_cost(side.costs))

    return [
        Made("", "", name, left=True),
        Seconds("saves s (95 %)", "gain.saved_s"),
        Made("cash", "cash", lambda one: "?" if one.cash is None else exact_text(one.cash)),
        Made("cost", "cost", lambda one: set_cost(one.costs)),
        Made(f"{currency}/s" if currency else "per second", "", per_second),
        Verdict("verdict", "gain.verdict"),
    ]


def _part(heading: str, key: str) -> Column:
    def seconds(found: Rivals) -> str:
        part, gain = getattr(found.parts, key), found.leading[2]
        return seconds_like(part if gain is found.gain else -part, *gain.saving[1:])

    return Made(heading, "", seconds)


SIDES_NOTE = "Saved against the race with neither of them."
PARTS = [
    Made("saved by", "", lambda found: quoted(found.faster), left=True),
    _part("air", "aero_s"),
    _part("rolling", "rolling_s"),
    _part("chain", "drivetrain_s"),
    _part("mass", "mass_s"),
    _part("power", "power_s"),
]
PARTS_NOTE = "Seconds saved over the other, by what is changed."
DOUBTS = [Words("option", "name"), Number("doubt s", "doubt_s")]
DOUBTS_NOTE = (
    "One standard uncertainty of each, in seconds on this course; what is in use on both sides"
    " has none here."
)


def _reasons(found: Rivals) -> Iterator[Line]:
    """Why it is so sure or unsure, and what the weather forbids."""
    yield from naming("Measured in one table, so that its baseline cancels: ", found.tests)
    if found.band:
        shares = (f"{one.words} {100 * one.share:.0f} %" for one in found.band.causes)
        yield f"Parts of the doubt of the difference: {', '.join(shares)}."
    for side in found.sides:
        for name, why in side.unsafe.items():
            yield quoted(name), f": {why}."
