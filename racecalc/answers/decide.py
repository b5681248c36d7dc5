"""``racecalc decide``: buy now or test first, slot by slot, and which test is worth most."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated

from racecalc.answers.basis import Basis, costs_line
from racecalc.answers.basket import BUY_SAFELY
from racecalc.answers.cells import Cell, chance_text, joined, naming, quoted, several
from racecalc.answers.columns import (
    Amount,
    Chance,
    Column,
    Made,
    Number,
    Seconds,
    Words,
    seconds_text,
)
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table, details, grounds
from racecalc.answers.value import rules_lines, size_lines, weather_lines
from racecalc.decisions.deciding import SHOWN_AS_NONE, Decision, JointResult, Proposal, SlotAnswer
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.information import PricedQuestion, Prospect
from racecalc.decisions.money import PAID
from racecalc.decisions.verdicts import NORMAL_95
from racecalc.decisions.weather import unsafe
from racecalc.domain.option import Option, SavingForm
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System, What, show
from racecalc.written import HIDDEN, SPREAD

HARDLY = 0.01
"""Chance below which a test is said hardly to change a choice; our choice, shown as "< 1 %"."""

DO = {
    "buy": Cell("buy now", "good"),
    "hire": Cell("hire", "good"),
    "use": Cell("use now", "good"),
    "nothing": Cell("leave"),
    "test": Cell("test first", "open"),
}


@dataclass(frozen=True)
class DecideAnswer:
    """What to buy, and what to test first."""

    found: Annotated[Decision, SPREAD]
    """Slot by slot, and all together."""
    options: Annotated[tuple[Option, ...], HIDDEN]
    """Everything that was judged or left out."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""

    def money(self, value: float) -> str:
        """An amount with its currency."""
        return amount_text(value, self.found.question.per_second.currency)


def decide_sheet(answer: DecideAnswer, units: System) -> Sheet:
    """What to do slot by slot, what a test is worth, and where the advice changes."""
    found, slots = answer.found, answer.found.slots
    asked = found.question
    currency = asked.per_second.currency
    ranked = (sorted(slot.prospects, key=lambda one: -one.saved_s) for slot in slots)
    known = [one for prospects in ranked for one in prospects]
    worth, note = f"What a test is worth [{currency}]", WHAT_TO_DO_NOTE.format(currency=currency)
    what_is_known = f"What is known, at {asked.per_second} per second"
    rests = [(quoted(one.name), ": ", quoted(one.basis)) for one in known]
    worth_columns = [one for one in WORTH if one is not PAIRS or not asked.whole_test]
    return Sheet(
        (f"{answer.basis.title}: ", *_headline(found)),
        [
            Lines([_next_test(answer, units), _session(answer), *_cautions(answer)]),
            Table("", _what_to_do(found), slots, note, Depth.ANSWER, 6, "slots"),
            Lines([costs_line(found.costs)]),
            details([_advice(one, found, units) for one in slots], "What to do"),
            _tests_in_session(answer),
            Table(what_is_known, _known(asked), known, _known_note(asked, known)),
            Table(worth, worth_columns, slots, _worth_note(answer), path="slots"),
            *_by_pairs(found),
            details(_edges(found), "Where the advice changes"),
            Table("Not judged", NOT_JUDGED, found.not_judged, path="not_judged"),
            grounds(rests, "What the savings rest on"),
            grounds(found.notes, "Method"),
            *answer.basis.blocks(units, BUY_SAFELY),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: DecideAnswer) -> Iterator[ExplainedStep]:
    found, best = answer.found, answer.found.next_test
    asked = found.question
    return explained(
        "decide",
        answer.basis.ride,
        per_second=asked.per_second,
        races=found.races_counted,
        best=f"{answer.money(best.net)} net for {', '.join(best.names)}" if best else "none pays",
        scatter=", ".join(one.words for one in asked.scatters) or "of the options' own tests",
        fee=asked.fee or "none",
    )


# --- the test that is worth most -----------------------------------------------------------------


def _headline(found: Decision) -> Line:
    if found.next_test is not None:
        return Cell("test first", "strong"), " ", *several(found.next_test.names, length=32)
    if found.session:
        return (Cell("test several in one session", "strong"),)
    best = _best_test(found)
    loses = best is not None and best.net < 0
    return (Cell(f"no test {'is worth its cost' if loses else 'can change a choice'}", "strong"),)


def _best_test(found: Decision) -> Proposal | None:
    tests = [one.test for one in found.slots if one.test]
    return max(tests, key=lambda one: one.net, default=None)


def _next_test(answer: DecideAnswer, units: System) -> Line:
    found = answer.found
    test = found.next_test or _best_test(found)
    if test is None or (test is not found.next_test and test.net >= 0):
        return "" if found.session else "No test can change a choice by enough seconds to matter."
    worth = f"worth {answer.money(test.gain.worth)} ({test.gain.worth_s:.1f} s)"
    words = f"{_pairs(test, found)}{worth}, {_costs(test, answer)}"
    if found.next_test is None:
        return ("The test closest to paying, of ", *several(test.names), f": {words}.")
    shows = "" if test.buy_from_s is None else f" Choose it if the test shows {_from(test, units)}."
    return f"{words[0].upper()}{words[1:]}: net gain {answer.money(test.net)}.{shows}"


RESULTS: dict[SavingForm, tuple[float, str]] = {
    "power at speed": (1.0, "{:.1f} W"),
    "power at power": (1.0, "{:.1f} W"),
    "share of power": (100.0, "{:.2f} % of power"),
    "force": (1.0, "{:.3f} N"),
    "area": (1.0, "{:.4f} m^2"),
    "share of area": (100.0, "{:.2f} % of CdA"),
    "crr": (1.0, "{:.5f} of Crr"),
}
"""How the result of a test is written: what it is multiplied by, and its text."""

AT: dict[SavingForm, What] = {
    **dict.fromkeys(("power at speed", "force"), "speed"),
    **dict.fromkeys(("power at power", "share of power"), "power"),
}
"""What the result of a test needs to mean something, in the form of its condition."""


def from_result(test: Proposal, units: System = "metric") -> str:
    """The result of a test from which its item is chosen, as the test states it."""
    if test.buy_from is None:
        return ""
    factor, text = RESULTS[test.buy_from.form]
    result, at = text.format(factor * test.buy_from.amount), AT.get(test.buy_from.form)
    return f"{result} at {show(test.buy_from.condition, at, units)}" if at else result


def _from(test: Proposal, units: System) -> str:
    result, seconds = from_result(test, units), f"{seconds_text(test.buy_from_s or 0.0)} s"
    return f"{result} or more ({seconds} here)" if result else f"{seconds} or more"


def _pairs(test: Proposal, found: Decision) -> str:
    if found.question.whole_test:
        return ""
    each = " of each" if len(test.names) > 1 else ""
    return f"{test.pairs} pair{'s' if test.pairs > 1 else ''} of runs{each}, "


def _costs(test: Proposal, answer: DecideAnswer) -> str:
    asked = answer.found.question
    if test.cost:
        return f"costs {answer.money(test.cost)}"
    given = asked.fee is not None or asked.pair_fee is not None
    return "costs nothing" + ("" if given else ", as no fee is stated")


def _session(answer: DecideAnswer) -> Line:
    session, first = answer.found.session, answer.found.next_test
    if session is None:
        return ""
    names = [name for test in session.tests for name in test.names]
    others = [name for name in names if not first or name not in first.names]
    gain = f": net gain {answer.money(session.net)} ({session.net_s:.1f} s)."
    return f"In one session{' with' if first else ':'} ", *several(others), gain


def _tests_in_session(answer: DecideAnswer) -> Table:
    session = answer.found.session
    if session is None:
        return Table("", [], ())
    worth, cost = answer.money(session.worth), answer.money(session.cost)
    whole = answer.found.question.whole_test
    names = Made("test", "", lambda test: quoted(" and ".join(test.names)), left=True)
    return Table(
        f"All tested in one session, which pays the fee once: worth {worth}, costs {cost}",
        [names, *(BY_PAIRS[1:] if whole else BY_PAIRS)],
        session.tests,
        "" if whole else f"{session.runs} runs in all.",
        path="session/tests",
    )


# --- what could overturn it, and what to do ------------------------------------------------------


def _cautions(answer: DecideAnswer) -> Iterator[Line]:
    found = answer.found
    for one in found.together.sets:
        yield _overlap(one, answer)
    for conflict in found.together.conflicts:
        yield (quoted(conflict),)
    yield from _set_aside(found)
    near = [one.slot for one in found.slots if one.edges.near]
    yield from naming("Close calls, which a small change of the numbers would flip: ", near)
    yield from _not_judged(answer)
    advised = {name for slot in found.slots for name in slot.action.names}
    yield from rules_lines([one for one in answer.options if one.name in advised])
    day = answer.basis.day
    heeded = [one for one in answer.options if one.name in advised or unsafe(one, day)]
    yield from size_lines(heeded)
    yield from weather_lines([one for one in heeded if not one.is_set], day)


def _not_judged(answer: DecideAnswer) -> Iterator[Line]:
    """What this answer leaves out, and why; what the weather keeps out has lines of its own."""
    day, reasons = answer.basis.day, dict[str, list[str]]()
    apart = {one.name for one in answer.options if one.is_set or unsafe(one, day)}
    for one in answer.found.not_judged:
        if one.name not in apart:
            reasons.setdefault(one.reason, []).append(one.name)
    if reasons:
        each = ((*several(names), " (", quoted(why), ")") for why, names in reasons.items())
        yield "Not judged: ", *joined(each, "; "), "."


def _set_aside(found: Decision) -> Iterator[Line]:
    """What is left although it is worth its cost."""
    reasons: dict[str, list[str]] = {}
    for one in found.slots:
        if one.set_aside:
            reasons.setdefault(_why_aside(one, found), []).extend(one.set_aside)
    for why, names in reasons.items():
        yield "Worth its cost alone, but left: ", *several(names), " (", quoted(why), ")."


def _why_aside(one: SlotAnswer, found: Decision) -> str:
    if one.waits:
        return one.waits
    apart = {other.leave for other in found.together.sets}
    if found.beyond_budget and not apart & {*one.set_aside}:
        return f"not within {found.question.budget}"
    return "the rest is worth more without it"


def _overlap(one: JointResult, answer: DecideAnswer) -> Line:
    """What a test of options that are advised one by one says of them as a set."""
    tested, alone = seconds_text(one.saved_s), seconds_text(one.singles_s)
    saved = (*several(one.names), f" save {tested} s tested together, ")
    if abs(one.saved_s - one.singles_s) < SHOWN_AS_NONE:
        return (*saved, "as much as alone.")
    worth = answer.money(one.worth)
    if not one.leave:
        return (*saved, f"not {alone} s: worth {worth}, and less without any one of them.")
    without = f"not {alone} s: worth {worth}, but {answer.money(one.worth_without)} without "
    return *saved, without, quoted(one.leave), "."


def _named(one: SlotAnswer) -> str:
    """What is bought, used or tested; where it is tested, what the worth without a test is of."""
    names, now = (" and ".join(each.names) for each in (one.action, one.untested.action))
    if one.action.kind == "test":
        return f"{names} else {now or 'none'}"
    return names or " and ".join(one.set_aside) or "-"


def _what_to_do(found: Decision) -> list[Column]:
    return [
        Words("slot", "slot"),
        Made("do", "", lambda one: DO[one.action.kind], left=True),
        Made("option", "", lambda one: quoted(_named(one)), left=True),
        Amount(f"worth {found.question.per_second.currency}", "untested.worth"),
        Chance("wrong", "untested.chance_wrong"),
        _of_test("test", _net_in_short),
    ]


def _net_in_short(test: Proposal) -> str:
    """A net gain without cents, which the table below has."""
    return amount_text(test.net) if abs(test.net) < 1 else str(round(test.net))


WHAT_TO_DO_NOTE = (
    "Worth: seconds in {currency}, less the cost. Wrong: another is better. Test: net gain."
)


def _advice(one: SlotAnswer, found: Decision, units: System) -> Line:
    now, near = quoted(one.untested.action.words), ". A close call." if one.edges.near else "."
    if one.set_aside:
        left = f"{' and '.join(one.set_aside)} is left: {_why_aside(one, found)}"
        return quoted(one.slot), ": ", quoted(one.action.words), "; ", quoted(left), near
    test, slot = one.test, quoted(one.slot)
    if one.action.kind != "test" or test is None:
        return slot, ": ", now, "; ", quoted(_why_no_test(one, found)), near
    shows = "" if test.buy_from_s is None else f"choose it if the test shows {_from(test, units)}; "
    words = f", {_pairs(test, found).removesuffix(', ')}; {shows}without a test "
    return slot, ": ", quoted(one.action.words), words, now, near


def _why_no_test(one: SlotAnswer, found: Decision) -> str:
    if one.test is not None:
        hardly = one.untested.chance_wrong < HARDLY or one.test.net >= 0
        return f"a test {'would hardly change that' if hardly else 'costs more than it is worth'}"
    if not any(prospect.doubt_s for prospect in one.prospects):
        return "no doubt to be tested"
    if not all(prospect.payable for prospect in one.prospects if prospect.doubt_s):
        return f"no test, as it does not fit {found.question.budget}"
    stated = " or ".join(scatter.words for scatter in found.question.scatters)
    if stated:
        return f"no test, as {stated} does not fit what it saves"
    return "no test, as the scatter of its runs is not stated"


# --- the tables ----------------------------------------------------------------------------------


def _of_test(heading: str, make: Callable[[Proposal], str]) -> Column:
    return Made(heading, "", lambda one: make(one.test) if one.test else "-")


PAIRS = _of_test("pairs", lambda test: str(test.pairs))
WORTH = [
    Words("slot", "slot"),
    Amount("now", "untested.worth"),
    Chance("wrong", "untested.chance_wrong"),
    Amount("perfect", "perfect.worth"),
    _of_test("test", lambda test: amount_text(test.gain.worth)),
    PAIRS,
    _of_test("changes", lambda test: chance_text(test.gain.chance_of_change)),
    _of_test("cost", lambda test: amount_text(test.cost)),
    _of_test("net gain", lambda test: amount_text(test.net)),
]
BY_PAIRS = [
    Number("pairs", "pairs", form="d"),
    Amount("worth", "gain.worth"),
    Amount("cost", "cost"),
    Amount("net gain", "net"),
]
NOT_JUDGED = [Words("option", "name"), Words("because", "reason")]


def _known(asked: PricedQuestion) -> list[Column]:
    def worth(one: Prospect) -> str:
        return amount_text(float(asked.per_second.amount) * one.saved_s - one.cost)

    def error(one: Prospect) -> str:
        return "-" if not one.doubt_s else "?" if one.error_s is None else f"{one.error_of(1):.1f}"

    return [
        Words("option", "name"),
        Seconds("saves s (95 %)", "saved_s"),
        Made("cost", "cost", lambda one: amount_text(one.cost) if one.by in PAID else one.by),
        Made(f"worth now\n{asked.per_second.currency}", "", worth),
        Made(f"doubt of\n{_unit(asked)} s", "", error),
    ]


def _unit(asked: PricedQuestion) -> str:
    return "a test" if asked.whole_test else "a pair"


def _known_note(asked: PricedQuestion, known: Iterable[Prospect]) -> str:
    pair = "the difference of two runs of one more day, which may differ from others,"
    result = "the result of a test" if asked.whole_test else pair
    sources = dict.fromkeys(one.scatter for one in known if one.scatter)
    rests = f" It comes from {' and '.join(sources)}." if sources else ""
    return (
        f"Worth now: seconds times what one is worth, less the cost. Doubt of {_unit(asked)}: one"
        f" standard uncertainty of {result} on this course; ? where none is stated.{rests}"
    )


def _worth_note(answer: DecideAnswer) -> str:
    slots, asked = answer.found.slots, answer.found.question
    gains = [one.perfect for one in slots] + [one.test.gain for one in slots if one.test]
    error = max(one.monte_carlo_error for one in gains)
    drawn = (
        " Where several options of a slot are compared, the worths come from random draws, with a"
        f" standard error of {answer.money(error)} at most ({asked.draws} draws, seed"
        f" {asked.seed})."
    )
    return (
        "Now: expected worth of the best choice without a test. Wrong: chance that another choice"
        " is better. Perfect: worth of knowing every saving of the slot exactly, the upper limit"
        " for any test. Test: worth of the best test of the slot, or where none pays of the one"
        " closest to it. Changes: chance that it changes the choice. Net gain: its worth less its"
        f" cost.{drawn if error else ''}"
    )


def _by_pairs(found: Decision) -> Iterator[Table]:
    for at, slot in enumerate(found.slots):
        if slot.test and slot.test is found.next_test and not found.question.whole_test:
            each = " of each" if len(slot.test.names) > 1 else ""
            title = f"{' and '.join(slot.test.names)}, by the number of pairs of runs{each}"
            yield Table(title, BY_PAIRS, slot.by_pairs, path=f"slots/{at}/by_pairs")


# --- where the advice changes --------------------------------------------------------------------


def _edges(found: Decision) -> Iterator[Line]:
    """One line for each change, and one for all slots whose advice stays."""
    firm = []
    for one in found.slots:
        changes = [*_changes(one, found.question.per_second.currency)]
        slot = f"{one.slot} ({one.action.words})"
        yield from ((quoted(slot), ": ", *change) for change in changes)
        firm += [] if changes else [slot]
    if firm:
        range_of_worth = "from a tenth to ten times what a second is worth to you"
        slots = several(firm, len(firm), length=None)
        yield f"No change {range_of_worth}, nor by half a doubt: ", *slots, "."


def _changes(one: SlotAnswer, currency: str) -> Iterator[tuple[str | Cell, ...]]:
    for edge, word in ((one.edges.below, "below"), (one.edges.above, "above")):
        if edge:
            rate = f"{edge.per_second:.3g}" if edge.per_second < 1000 else f"{edge.per_second:.0f}"
            yield f"{word} {rate} {currency} per second ", quoted(edge.becomes.words)
    known = {prospect.name: prospect for prospect in one.prospects}
    for shift in one.edges.shifts:
        was = known[shift.name]
        then, now = (seconds_text(s, NORMAL_95 * was.doubt_s) for s in (shift.saved_s, was.saved_s))
        words = f" saved {then} s instead of {now} s, "
        yield "if ", quoted(shift.name), words, quoted(shift.becomes.words)
