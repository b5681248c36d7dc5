"""Behind the first sheet of the advice: options, tests, frontier, assumptions, inputs, commands."""

import json
import shlex
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import get_args

import numpy as np

from racecalc import __version__
from racecalc.answers.basis import Basis, costs_line, course_lines, overlap_line
from racecalc.answers.basket import ladder_blocks, price_alone_line, spent
from racecalc.answers.cells import Cell, file_name, joined, naming, quoted, several
from racecalc.answers.columns import Chance, Column, Made, Seconds, Verdict, about, faster, parted
from racecalc.answers.pace import card_tables, mean_words
from racecalc.answers.sheet import (
    Block,
    Curves,
    Depth,
    Drawn,
    Group,
    Intervals,
    Line,
    Table,
    details,
    grounds,
)
from racecalc.answers.trial import left_out_lines
from racecalc.answers.value import cost_text
from racecalc.decisions.advice.advice import LIMITS, SECTIONS, Advice
from racecalc.decisions.advice.shopping import USED, Advised, Shopping, Spending
from racecalc.decisions.basket.basket import Basket, Other, Rung
from racecalc.decisions.evidence.judging import ItemResult
from racecalc.decisions.evidence.sweep import Sweep, SweepAnswer
from racecalc.decisions.evidence.trial import OneRider, TrialAnswer
from racecalc.decisions.money import PAID, CostOfUse
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import give_or_take
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.files.race_file import RaceInput, SourceFile
from racecalc.quantities.money import amount_text, exact_text
from racecalc.quantities.plain_text import one_line, shortened
from racecalc.quantities.showing import System, show

SHORT = 60
"""Characters of a name in a table; it is in full among the evidence."""


def details_blocks(advice: Advice, units: System) -> Iterator[Block]:
    """All that is behind the first sheet, but for the basis."""
    if advice.values or advice.refused:
        yield from _options(advice)
    if advice.shopping.basket is not None:
        yield from _money(advice, advice.shopping.basket)
    if advice.values:
        yield from _evidence(advice)
    yield from _card_made(advice, units)


# --- the card ------------------------------------------------------------------------------------


def _card_made(advice: Advice, units: System) -> Iterator[Block]:
    """How the card was made and for which weather, and the landmarks with their notes."""
    card, timed = advice.card, advice.timing
    if card is None:
        return
    power, slower = card.constant_power_w, not advice.card_pays and len(card.targets) > 1
    wind, air = timed.wind_at_rider_m_s, timed.air_density_kg_m3
    held: Line = (
        "Limit: ",
        quoted(card.limit),
        ". As hard as the card",
        ", which is slower than what the limit allows all along," if slower else "",
        " is ",
        Cell(show(power, "power", units), value=power, key="pace/constant_power_w"),
        " throughout",
        *_means(card),
        ".",
    )
    weather: Line = (
        "Made for a mean wind of ",
        Cell(show(wind, "wind_speed", units), value=wind, key="time/wind_at_rider_m_s"),
        " at the rider and air of ",
        Cell(show(air, "density", units), value=air, key="time/air_density_kg_m3"),
        "; other weather needs other targets: see racecalc pace.",
    )
    yield details([held, *_as_hard(advice), weather], "How the card was made")
    landmarks = card_tables(card, "pace/")[1]
    yield landmarks if advice.card_pays else replace(landmarks, rows=advice.plan.passages, path="")


def _as_hard(advice: Advice) -> Iterator[Line]:
    """The mean that today's ride and the card come to, in one number where it is one."""
    if advice.card is None or not advice.card_pays or advice.set_stays:
        return
    card, name, today = advice.card, mean_words(advice.card), advice.plan.today
    own, theirs = today.mean(card.power_mean_order), card.power_mean_w
    more = round(own) - round(theirs)
    watts = Cell(f"{today.power[0]:.0f} W", value=float(today.power[0]), key="advice/as_you_are_w")
    why = f" ({name} {own:.0f} W for both)."
    if more:
        does = f"the set {'costs' if more > 0 else 'gives'} {abs(more)} W"
        why = f", since {does} ({name} {own:.0f} and {theirs:.0f} W)."
    yield "As you are today, ", watts, " throughout is as hard as the card", why


def _means(card: Card) -> tuple[str | Cell, ...]:
    """What the card and constant power come to, by the mean that counts."""
    keys = "power_mean_w", "constant_power_mean_w"
    own, other = (
        Cell(f"{watts:.0f} W", value=watts, key=f"pace/{key}")
        for key in keys
        for watts in [getattr(card, key)]
    )
    if own.text == other.text:
        return f" ({mean_words(card)} ", own, " for both)"
    return f" ({mean_words(card)} ", other, ", the card's ", own, ")"


# --- the options ---------------------------------------------------------------------------------

GROUPS: dict[str, Group] = {
    **dict.fromkeys(USED, "do"),
    **dict.fromkeys(("test", "wait", "weigh", "unpriced"), "test"),
}
"""What a row is about; all others are left."""


def group_of(one: Advised) -> Group:
    """Whether to do something about an option, to settle something first, or to leave it."""
    return GROUPS.get(one.do, "leave")


DO_WORDS: dict[str, str] = {
    "unpriced": "ask the price",
    "forbidden": "leave: rules",
    "unsafe": "not in this weather",
}


def do_words(one: Advised, following: Sequence[str] = (), unchecked: Collection[str] = ()) -> Cell:
    """What to do about an option, and why in two or three words where it is left.

    What nobody has checked against the rules is done only if it is allowed.
    """
    words = DO_WORDS.get(one.do, one.do)
    if one.name in unchecked:
        words = f"{words} if ok"
    if one.do == "test" and one.name in following:
        words = "test first"
    elif one.do == "test" and following:
        words = "test later"
    return Cell(f"{words}: {one.short}" if one.short else words)


def range_text(at: float, low: float | None, high: float | None) -> str:
    """The 95 % interval of seconds saved, without their best value."""
    return "not stated" if low is None else parted(at, low, high)[1]


def price_words(value: OptionValue, one: Advised, basket: Basket | None) -> Cell:
    """Price of an option without its currency, its hire, or the one word for it.

    Of what is advised and paid more than once for the races counted, how often.
    """
    ownership, price = value.option.ownership, value.price
    if ownership.owned:
        return Cell("owned")
    for item in basket.items if basket else ():
        if item.option.name == one.name and (often := times_paid(item.use)) > 1:
            return Cell(f"{often} x {exact_text(item.cash / often)}")
    if ownership.hire and (one.do == "hire" or price is None):
        return Cell(f"{ownership.hire} a race")
    if price is None:
        return Cell("?")
    if not price.amount:
        return Cell("free")
    return Cell(exact_text(price.amount), "", float(price.amount), "price")


def times_paid(use: CostOfUse) -> int:
    """How often something is paid for the races counted."""
    if use.by == "hired":
        return use.races_counted
    return round(use.cash / use.price) if use.cash and use.price else 1


def option_columns(advice: Advice, do: Column, most: int, gap: str) -> tuple[list[Column], Column]:
    """What to do about an option, how many seconds it saves, and its price; headings of a gap."""
    currency, basket = advice.currency, advice.shopping.basket

    def price(value: OptionValue) -> Cell:
        return price_words(value, advice.about(value), basket)

    seconds = [
        Made("option", "", lambda value: quoted(value.option.name, most), left=True),
        do,
        Seconds(f"saves{gap}s", "saved_s", by="saved_s"),
        Made(f"95 %{gap}range", "", lambda value: range_text(*value.saving)),
    ]
    return seconds, Made(f"price{gap}{currency}", "", price)


def option_table(advice: Advice) -> "partial[Table]":
    """A table of options, in groups, each with a bar."""
    return partial(
        Table,
        path="value/options",
        among=advice.values,
        bar=lambda value: Drawn(value.option.name, *value.saving),
        group=lambda value: group_of(advice.about(value)),
    )


def _options(advice: Advice) -> Iterator[Block]:
    """Every option with its seconds, its money and what to do, and why."""
    do = Made("do", "", lambda value: advice.about(value).do, left=True)
    seconds, price = option_columns(advice, do, SHORT, "\n")
    found = Verdict("found", "verdict"), Chance("faster", "chance_faster")
    cost = Made(f"cost\n{advice.currency}", "", _cost)
    each = Made(f"{advice.currency}/s\nalone", "", _per_second)
    groups = [*get_args(Group)]
    yield option_table(advice)(
        "Every option",
        [*seconds, *found, price, cost, each],
        sorted(
            (value for value, _ in advice.ranked),
            key=lambda value: groups.index(group_of(advice.about(value))),
        ),
        "Seconds of each alone, with the 95 % interval; faster: the chance that it is.",
        reasons=lambda value: (quoted(advice.about(value).because),),
    )
    refused = joined([(quoted(f"{one.name}: {one.problem}"),) for one in advice.refused], "; ")
    if refused:
        yield details([("Could not be calculated, so not in the advice: ", *refused)])


def _cost(value: OptionValue) -> Cell:
    text, paid = cost_text(value.cost_of_use, bare=True), value.basis in PAID
    return Cell(text, "", value.cost, "cost") if paid else Cell(text)


def _per_second(value: OptionValue) -> Cell:
    each = value.cost_per_second
    return Cell(amount_text(each), "", each, "cost_per_second") if each else Cell("-")


# --- the money -----------------------------------------------------------------------------------


def _money(advice: Advice, basket: Basket) -> Iterator[Block]:
    """The set that is advised, what comes near it, and what more money buys."""
    shopping, other = advice.shopping, basket.runner_up
    useless = {*shopping.to("leave", "test", "wait", "forbidden", "unsafe")}
    near = other if other and other.near and useless.isdisjoint(other.names) else None
    excluded = shopping.excluded
    costs = costs_line(item.use for item in basket.items)
    yield details(
        [
            _set_words(shopping, basket, advice.spending),
            costs,
            *price_alone_line(basket),
            *overlap_line(basket.untested_together, basket.overlap),
            _other_words(near) if near else "",
            *naming("In none of these sets: ", excluded, len(excluded)),
        ],
        "Money and seconds",
    )
    chosen = (float(basket.cash), basket.saved_s, "X")
    budget = advice.spending.budget
    for block in ladder_blocks(shopping.steps, basket.price.currency, [chosen], "basket/ladder"):
        if isinstance(block, Curves):
            yield replace(
                block,
                note=FRONTIER_NOTE,
                names=[(float(one.cash), one.saved_s, _came_in(one)) for one in shopping.steps],
                marks=[(float(budget.amount), "")] if budget else (),
            )
        else:
            yield block


def _came_in(step: Rung) -> str:
    """What a step adds to the set before it."""
    return shortened(" + ".join(["", *step.added]).strip(), SET_NAMED)


SET_NAMED = 34
"""Characters of what a set adds, in the chart."""

FRONTIER_NOTE = (
    "The set that saves most for every amount of cash, each with what it adds; the diamond is what"
    " is advised, dotted the budget. Where the line is flat, more money buys little."
)


def _set_words(shopping: Shopping, basket: Basket, spending: Spending) -> Line:
    if not basket.items and shopping.to("weigh"):
        return (
            "The race file does not say what a second is worth to you (per_second or budget under"
            " [money]), so there is no advice to buy. What more money buys is below."
        )
    if not basket.items:
        return "No advice to buy or use anything; the evidence says why for each option."
    names = [item.option.name for item in basket.items]
    half = give_or_take(basket.saved_s_low, basket.saved_s_high)
    alone: Line = (
        " The sum of each alone is ",
        about(basket.sum_of_single_s, half, "basket/sum_of_single_s"),
        "; together they save ",
        about(basket.saved_s, half, "basket/saved_s"),
        " at one even power.",
    )
    tests = several(basket.tests_of_sets, len(basket.tests_of_sets))
    return (
        "Advised: ",
        *several(names, len(names)),
        f", for {spent(basket)}.",
        *(alone if len(names) > 1 else ()),
        *((" Tested together, so the test counts: ", *tests, ".") if tests else ()),
        f" Proved: no other set {'saves' if basket.net_worth is None else 'is worth'} more."
        if basket.proved_optimal
        else " The best set found.",
        _stop(spending),
    )


def _stop(spending: Spending) -> str:
    """Why not more is spent."""
    if spending.per_second is None:
        return ""
    budget = f" and {spending.budget} of cash in all" if spending.budget else ""
    return (
        f" The limit is {spending.per_second} per second{budget}: nothing is bought where a further"
        " second costs more."
    )


def _other_words(other: Other) -> Line:
    """Another set that comes so near that price, comfort and rules should decide."""
    lacking = (" without ", *several(other.lacking)) if other.lacking else ()
    instead = (" with ", *several(other.instead)) if other.instead else ()
    saved = faster(other.saved_s, None, "basket/runner_up/saved_s")
    told = f"Nearly as good, for {spent(other)}: the same"
    return (told, *lacking, *instead, ", ", *saved, ". Let price, comfort and rules decide.")


# --- the evidence --------------------------------------------------------------------------------


def _evidence(advice: Advice) -> Iterator[Block]:
    """Behind each verdict, what is known and from what."""
    reasons = [(*_reasons(*one), *_replaces(advice, one[1])) for one in advice.ranked]
    yield details([*reasons, *_sets(advice), *_sure(advice)], "Why: the evidence")
    # Each test once, whatever the number of options that rest on it.
    found = {one.source: one for one in advice.evidence if one is not None}
    for test in found.values():
        if isinstance(test, SweepAnswer):
            yield from _swept(test)
            continue
        yield from _tried(test)
        yield details(left_out_lines(test), f"Left out of {file_name(test.source).text}")
    if any(one.trial_sheet for one in advice.race.options):
        # What reads recordings takes long to load.
        from racecalc.answers.measure import rides_behind

        yield from rides_behind(advice.race)
    title = "Where the advice changes with what a second is worth"
    yield details(_edges(advice), title)


def _reasons(value: OptionValue, advised: Advised) -> Line:
    """All that speaks for what is advised about an option, and what to mind."""
    option = value.option
    rests = option.saves.words if option.saves else "nothing but its weight"
    if option.trial is not None:
        rests = rests.replace(option.trial.source, file_name(option.trial.source).text)
    doubt = option.doubt.words if option.doubt else "none stated"
    rules = {"not checked": "the rules are not checked yet", "forbidden": "the rules forbid it"}
    rule = rules.get(option.restrictions.rules, "")
    loss = option.holding.power_loss
    held = f"it costs {loss.words} while held, which the targets allow for" if loss else ""
    mind = [rule, *value.assumptions, option.note, option.comfort, held]
    told = "; ".join(one.rstrip(".") for one in mind if one)
    return (
        quoted(option.name),
        f": {advised.do}, because ",
        quoted(advised.because),
        ". It rests on ",
        quoted(rests),
        ", doubt (one standard uncertainty) ",
        quoted(doubt),
        f". Verdict: {value.verdict}, because ",
        quoted(value.because),
        *((". Mind: ", quoted(told)) if told else ()),
        ".",
    )


def _replaces(advice: Advice, advised: Advised) -> Line:
    """What is advised and has to go for what is to be tested."""
    gone = advice.replaced_by(advised.name) if advised.do == "test" else ()
    return (" Would replace ", *several(gone), ".") if gone else ()


def _sets(advice: Advice) -> Iterator[Line]:
    """Tests of several options as one, which count instead of their parts."""
    for test in advice.race.tested_sets:
        yield (
            quoted(" and ".join(test.set_of)),
            ", tested together: saves ",
            quoted(test.saves.words if test.saves else "what its runs say"),
            ", doubt (one standard uncertainty) ",
            quoted(test.doubt.words) if test.doubt else "none stated",
            ".",
        )


def _sure(advice: Advice) -> Iterator[Line]:
    """What the doubts of the race do, and why tests are not judged if they are not."""
    if advice.band is not None:
        causes = (f"{cause.words} {100 * cause.share:.0f} %" for cause in advice.band.causes[:5])
        yield f"The doubt of the finish time comes from: {', '.join(causes)}."
    if advice.decision is None and advice.no_decision:
        yield "Whether a test pays was not calculated: ", quoted(advice.no_decision)


def _edges(advice: Advice) -> Iterator[Line]:
    """Where the advice on tests would change with what a second is worth."""
    for slot in advice.decision.slots if advice.decision else ():
        for edge, more in ((slot.edges.below, "less"), (slot.edges.above, "more")):
            if edge and slot.edges.near and advice.decision:
                worth = f"{edge.per_second:.3g} {advice.decision.question.per_second.currency}"
                becomes = quoted(edge.becomes.words)
                yield quoted(slot.slot), f": {more} than {worth} to you: ", becomes, "."


# --- the tests drawn -----------------------------------------------------------------------------

MOST_SWEPT = 4
"""Items of a sweep that can be distinguished in black and white."""

MOST_DRAWN = 24
"""Rows of a chart at most; whoever wants more asks ``trial``."""


def _tried(found: TrialAnswer) -> Iterator[Intervals]:
    """What the runs of a test say of each item, or of each rider on an item."""
    file = file_name(found.source).text
    if isinstance(found, OneRider):
        lines = _savings((item.name, item) for item in found.trial.items)
        title = f"{file}, against {one_line(found.trial.baseline.name, 40)}"
        yield _drawn(title, lines, found.measure, found.trial.margin)
        return
    for over in found.items:
        lines = _savings(over.results.items())
        if (ahead := over.pooled.prediction) is not None:
            lines.append(Drawn("an untested rider", over.pooled.saving, ahead.low, ahead.high))
        title = f"{one_line(over.name, 40)} on each rider, {file}"
        yield _drawn(title, lines, found.measure, over.margin)


def _savings(results: Iterable[tuple[str, ItemResult]]) -> list[Drawn]:
    """Results as savings, to the right where they are faster."""
    return [Drawn(name, *one.saved) for name, one in results if one.saved]


def _drawn(title: str, lines: Sequence[Drawn], measure: Measure, margin: float | None) -> Intervals:
    left_out = f" The first {MOST_DRAWN} of {len(lines)}." if len(lines) > MOST_DRAWN else ""
    return Intervals(
        lines[:MOST_DRAWN],
        margin,
        "slower",
        "faster",
        f"saved [{SI_UNIT[measure]}]",
        title,
        "With the 95 % interval of the test: an interval clear of zero is proof. What lies within"
        f" the margin about zero does not matter either way.{left_out}",
    )


def _swept(found: SweepAnswer) -> Iterator[Curves]:
    """Drag area over yaw, in one chart for all items that were tried at the same yaws."""
    count = len(found.items)
    left_out = f" The first {MOST_SWEPT} of {count} items." if count > MOST_SWEPT else ""
    by_yaws: dict[tuple[float, ...], list[Sweep]] = {}
    for one in found.items[:MOST_SWEPT]:
        by_yaws.setdefault(tuple(point.yaw for point in one.points), []).append(one)
    for yaws, sweeps in by_yaws.items():
        areas = {one.name: np.array([point.area for point in one.points]) for one in sweeps}
        told = [
            (quoted(name, 40), f" from {min(area):.4f} to {max(area):.4f} m^2")
            for name, area in areas.items()
        ]
        yield Curves(
            np.degrees(yaws),
            areas,
            ("Drag area over yaw: ", *joined(told, "; "), "."),
            "yaw [deg]",
            together=True,
            errors={one.name: known for one in sweeps if (known := _errors(one)) is not None},
            title=f"{file_name(found.source)}, drag area [m^2] over yaw",
            note="With one standard uncertainty. What it is worth here depends on the yaw that this"
            f" wind makes on this course.{left_out}",
        )


def _errors(sweep: Sweep) -> np.ndarray | None:
    known = [error for error in sweep.standard_error if error is not None]
    return np.array(known) if len(known) == len(sweep.points) else None


# --- What an advice was made from, what is not in it, and how to repeat it -----------------------


@dataclass(frozen=True)
class Provenance:
    """What an advice was made from."""

    inputs: tuple[RaceInput, ...]
    """Every value of the race file."""
    sources: tuple[SourceFile, ...]
    """Files, with what tells them apart."""
    commands: Mapping[str, str]
    """What gives the numbers again, by the name of the command."""
    made_on: date
    """Day that is named."""


def basis_blocks(advice: Advice, basis: Basis, made: Provenance, units: System) -> Iterator[Block]:
    """Everything that another person needs to judge an advice and to repeat it."""
    mind = [*advice.timing.warnings, *map(str, advice.race.notices)]
    assumed = [*basis.by_source, *(advice.pacing.asked.assumed if advice.pacing else ())]
    for title, lines in (
        ("About the inputs", mind),
        ("The course file", map(str, course_lines(basis.course, units))),
        ("Assumed, because the race file does not say", assumed),
    ):
        yield grounds([(quoted(line),) for line in lines], title)
    yield grounds(LIMITS, "What this does not include")
    full = [(Cell(f"{one.about}.", "strong"), " ", quoted(one.words)) for one in advice.cautions]
    yield grounds(full, "Cautions in full")
    yield Table("Inputs", INPUTS, _tables(made.inputs), depth=Depth.BASIS)
    yield grounds(_repeat(advice, made), "To repeat it")
    version = f"Made with racecalc {__version__} on {made.made_on:%Y-%m-%d}."
    yield grounds([f"{version} An estimate, not a promise."])


INPUTS = [
    Made("table", "", lambda row: quoted(row[0]), left=True),
    Made("keys", "", lambda row: quoted("; ".join(row[1])), left=True),
]
"""Each table of a race file, and all of its keys with their values."""


def _tables(inputs: Sequence[RaceInput]) -> list[tuple[str, list[str]]]:
    tables: dict[str, list[str]] = {}
    for one in inputs:
        tables.setdefault(one.table, []).append(f"{one.key} = {one.written}")
    return [*tables.items()]


def _repeat(advice: Advice, made: Provenance) -> Iterator[Line]:
    files = "; ".join(
        f"{one.name} (SHA-256 {one.digest}...)" if one.digest else one.name for one in made.sources
    )
    yield "Files: ", quoted(files), "."
    yield (
        f"{advice.request.draws} draws with the seed {advice.request.seed}, where anything is"
        " drawn. Every number above is from one of these commands, which --json gives unrounded:"
    )
    yield from ((quoted(line),) for line in made.commands.values())


# --- the commands that give the numbers again ----------------------------------------------------


def repeating(
    advice: Advice, file: str, changes: Iterable[str], repeatability: Iterable[str]
) -> dict[str, str]:
    """A command for each part of an advice, by its name; the keys of numbers begin with it.

    Changes and repeatability are as ``--set`` and ``decide`` take them.
    """
    # A name that begins like a flag would be taken for one.
    given = [f"./{file}" if file.startswith("-") else file, *_flags("--set", changes)]
    asked = _asked(advice, _flags("--repeatability", repeatability))
    return {name: shlex.join(["racecalc", name, *given, *rest]) for name, rest in asked}


def _flags(flag: str, values: Iterable[object]) -> list[str]:
    return [word for value in values if value is not None for word in (flag, str(value))]


def _asked(advice: Advice, scatters: list[str]) -> Iterator[tuple[str, list[str]]]:
    request, shopping, basket = advice.request, advice.shopping, advice.shopping.basket
    drawing = ["--draws", str(request.draws), "--seed", str(request.seed)]
    drawn = drawing if advice.race.doubts.stated else []
    worth = _flags("--price-per-second", [request.per_second])
    fee = _flags("--fee", [request.session_fee])
    using = [] if advice.set_stays else _flags("--set", _using(advice))
    yield "advice", [*_flags("--budget", [request.budget]), *worth, *fee, *scatters, *drawing]
    yield "time", [*using, *drawn]
    if advice.pacing is not None:
        yield "pace", [*using, "--sections", str(SECTIONS)]
    if advice.values:
        yield "value", [*worth, *drawn]
    if basket is not None:
        spent = _flags("--budget", [basket.budget])
        required = _flags("--require", shopping.required)
        yield "basket", [*spent, *worth, *required, *_flags("--without", shopping.excluded)]
    if advice.decision is not None:
        yield "decide", [*worth, *fee, *scatters, *drawing]


def _using(advice: Advice) -> Iterator[str]:
    """The changes that put the advised set into use, without the tests that are not believed."""
    yield f"race.use={json.dumps(advice.plan.even.race.use, ensure_ascii=False)}"
    for number, option in enumerate(advice.race.options, 1):
        if option.is_set and option.name in advice.shopping.excluded:
            yield f"option.{number}.set_of=[]"
