"""``racecalc decide`` as text."""

from racecalc.decisions.deciding import (
    SHOWN_AS_NONE,
    Decision,
    JointResult,
    Proposal,
    Session,
    SlotAnswer,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.test_worth import Prospect
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System
from racecalc.views.basis import basis_text
from racecalc.views.tables import bullets, chance_text, paragraph, signed, table

HARDLY = 0.01
"""Chance below which a test is said hardly to change a choice; our choice, shown as "< 1 %"."""


def decide_text(base: Ridden, found: Decision, units: System) -> str:
    """What to do slot by slot, what a test is worth, and where the advice changes."""
    currency = found.question.per_second.currency
    return (
        paragraph(f"{base.race.name}: buy now, or test first?")
        + "\n"
        + paragraph(_next_test(found))
        + ("\n" + paragraph(_session(found.session, found)) if found.session else "")
        + bullets("What to do", [_advice(one, found) for one in found.slots])
        + bullets("Advised together, but", _together(found))
        + f"\nWhat is known, at {found.question.per_second} a second\n"
        + table(
            ("<option", "saves [s]", "price", f"worth now [{currency}]", f"{_unit(found)} [s]"),
            [
                _known_row(prospect, found)
                for one in found.slots
                for prospect in sorted(one.prospects, key=lambda prospect: -prospect.saved_s)
            ],
        )
        + "\n"
        + paragraph(_legend_of_known(found))
        + f"\nWhat a test is worth [{currency}]\n"
        + table(
            ("<slot", "now", "wrong", "perfect", "test", "pairs", "changes", "cost", "after cost"),
            [_worth_row(one, found) for one in found.slots],
        )
        + "\n"
        + paragraph(_legend_of_worth(found))
        + _by_pairs(found)
        + bullets("Where the advice changes", _edges(found))
        + bullets("Not judged", [f"{one.name}: {one.reason}" for one in found.not_judged])
        + bullets("What the savings rest on", _bases(found))
        + bullets("Mind", found.notes)
        + basis_text(base.race, units)
    )


def _money(value: float, found: Decision) -> str:
    return amount_text(value, found.question.per_second.currency)


def _unit(found: Decision) -> str:
    return "a test" if found.question.whole_test else "a pair"


def _seconds(value: float, found: Decision) -> str:
    """Seconds that are worth as much money."""
    return f"{value / float(found.question.per_second.amount):.1f} s"


def _pairs(proposal: Proposal, found: Decision) -> str:
    if found.question.whole_test:
        return ""
    each = " of each" if len(proposal.names) > 1 else ""
    return f", {proposal.pairs} pair{'s' if proposal.pairs > 1 else ''} of runs{each}"


def _next_test(found: Decision) -> str:
    test = found.next_test
    if test is None:
        return _no_test(found)
    return (
        f"Next best test: {' and '.join(test.names)}{_pairs(test, found)}. It is worth"
        f" {_money(test.gain.worth, found)} and {_costs(test, found)}: {_money(test.net, found)}"
        f" ({_seconds(test.net, found)}) to the good."
    )


def _costs(test: Proposal, found: Decision) -> str:
    if test.cost:
        return f"costs {_money(test.cost, found)}"
    asked = found.question
    given = asked.session_fee is not None or asked.pair_fee is not None
    return "costs nothing" + ("" if given else ", as no fee is given")


def _no_test(found: Decision) -> str:
    tests = [one.test for one in found.slots if one.test]
    best = max(tests, key=lambda one: one.net, default=None)
    if best is None or best.net >= 0:
        return "No test can change a choice by as much as would show in seconds."
    return (
        "No test of a slot is worth its cost. The one that loses least, of"
        f" {' and '.join(best.names)}{_pairs(best, found)}, is worth"
        f" {_money(best.gain.worth, found)} ({_seconds(best.gain.worth, found)}) and costs"
        f" {_money(best.cost, found)}."
    )


def _session(session: Session, found: Decision) -> str:
    items = "; ".join(f"{' and '.join(one.names)}{_pairs(one, found)}" for one in session.tests)
    runs = "" if found.question.whole_test else f" {session.runs} runs in all."
    return (
        f"All in one session, which pays its fee once: {items}.{runs} Worth"
        f" {_money(session.worth, found)}, cost {_money(session.cost, found)}:"
        f" {_money(session.net, found)} ({_seconds(session.net, found)}) to the good."
    )


def _advice(one: SlotAnswer, found: Decision) -> str:
    now = f"{one.untested}{_worth_now(one, found)}"
    near = ". Near the edge." if one.edges.near else "."
    if any(other.leave in one.action.names for other in found.together.sets):
        near += " Not beside the rest, see below."
    test = one.test
    if one.action.kind != "test" or test is None:
        return f"{one.slot}: {now}; {_why_no_test(one, found)}{near}"
    words = f"{one.slot}: {one.action}{_pairs(test, found)}"
    if test.buy_from_s is not None:
        words += f"; choose it if the test alone shows {test.buy_from_s:+.1f} s or more"
    return f"{words}. Without a test: {now}{near}"


def _together(found: Decision) -> list[str]:
    """What speaks against using all that is advised, or against the sum of its seconds."""
    told = [_tested_together(one, found) for one in found.together.sets]
    return [*told, *found.together.conflicts]


def _tested_together(one: JointResult, found: Decision) -> str:
    words = f"{' and '.join(one.names)}: tested together they save {signed(one.saved_s)} s"
    if abs(one.saved_s - one.singles_s) < SHOWN_AS_NONE:
        return f"{words}, as much as each alone adds up to."
    more = "more" if one.gap_worth > 0 else "less"
    words += (
        f", not the {signed(one.singles_s)} s that they add up to alone:"
        f" {_money(abs(one.gap_worth), found)} {more}. All are worth {_money(one.worth, found)}"
        " after their price"
    )
    if not one.leave:
        return f"{words}, and still more than without any one of them."
    return f"{words}, without {one.leave} {_money(one.worth_without, found)}: leave it."


def _worth_now(one: SlotAnswer, found: Decision) -> str:
    if one.untested.kind == "nothing":
        return ""
    price = " after its price" if one.untested.kind == "buy" else ""
    return f", worth {_money(one.worth, found)} ({_seconds(one.worth, found)}){price}"


def _why_no_test(one: SlotAnswer, found: Decision) -> str:
    if one.test is not None:
        hardly = one.chance_wrong < HARDLY or one.test.net >= 0
        return f"a test {'would hardly change that' if hardly else 'costs more than it is worth'}"
    if not any(prospect.doubt_s for prospect in one.prospects):
        return "nothing about it is in doubt"
    stated = " or ".join(scatter.words for scatter in found.question.scatters)
    told = (
        f"{stated} says nothing about its loss"
        if stated
        else "nothing says how far a run of it is off"
    )
    return f"no test is judged, as {told}"


def _known_row(one: Prospect, found: Decision) -> tuple[str, ...]:
    per_second = found.question.per_second
    doubt = f" +- {one.doubt_s:.1f}" if one.doubt_s else ""
    price = "owned" if one.owned else amount_text(one.price)
    worth = float(per_second.amount) * one.saved_s - one.price
    error = "?" if one.error_s is None else f"{one.error_s:.1f}"
    return (
        one.name,
        f"{one.saved_s:+.1f}{doubt}",
        price,
        amount_text(worth),
        error if one.doubt_s else "-",
    )


def _legend_of_known(found: Decision) -> str:
    told = "its result" if found.question.whole_test else "a difference of two runs"
    sources = dict.fromkeys(
        prospect.scatter for one in found.slots for prospect in one.prospects if prospect.scatter
    )
    scatter = f" It rests on {' and on '.join(sources)}." if sources else ""
    return (
        "+- is one standard uncertainty. Worth now: seconds times what one is worth, less the"
        f" price. {_unit(found).capitalize()}: standard error of {told}, on this course; ? where"
        " nothing tells it."
        f"{scatter}"
    )


def _worth_row(one: SlotAnswer, found: Decision) -> tuple[str, ...]:
    now = (
        one.slot,
        amount_text(one.worth),
        chance_text(one.chance_wrong),
        amount_text(one.perfect.worth),
    )
    test = one.test
    if test is None:
        return (*now, "-", "-", "-", "-", "-")
    return (
        *now,
        amount_text(test.gain.worth),
        "-" if found.question.whole_test else str(test.pairs),
        chance_text(test.gain.chance_of_change),
        amount_text(test.cost),
        amount_text(test.net),
    )


def _legend_of_worth(found: Decision) -> str:
    errors = [one.perfect.monte_carlo_error for one in found.slots]
    errors += [one.test.gain.monte_carlo_error for one in found.slots if one.test]
    drawn = (
        f" Where several options of a slot are compared, the worths are drawn and off by"
        f" {_money(max(errors), found)} at most (one standard error; {found.question.draws} draws,"
        f" seed {found.question.seed})."
        if any(errors)
        else ""
    )
    return (
        "Now: expected worth of the best choice without a test; wrong: chance that another one is"
        " in truth better. Perfect: what it is worth to know every saving of the slot exactly,"
        " more than which no test can be. Test: worth of the best test of the slot, the chance"
        f" that it changes the choice, and what is left after its cost; where none pays, the one"
        f" that loses least.{drawn}"
    )


def _by_pairs(found: Decision) -> str:
    best = found.next_test
    if found.question.whole_test or best is None:
        return ""
    tried = next(one.by_pairs for one in found.slots if one.test is best)
    rows = [
        (str(one.pairs), amount_text(one.gain.worth), amount_text(one.cost), amount_text(one.net))
        for one in tried
    ]
    each = " of each" if len(best.names) > 1 else ""
    title = f"{' and '.join(best.names)}, by the number of pairs of runs{each}"
    return "\n" + paragraph(title) + table(("pairs", "worth", "cost", "after cost"), rows)


def _edges(found: Decision) -> list[str]:
    """One line for each slot, and one for all whose advice stands firm."""
    lines = [(one, _changes(one, found)) for one in found.slots]
    firm = [f"{one.slot} ({one.action})" for one, changes in lines if not changes]
    told = [f"{one.slot} ({one.action}): {'; '.join(parts)}." for one, parts in lines if parts]
    if firm:
        told.append(
            "Nowhere from a tenth to ten times what a second is worth to you, nor by half a doubt:"
            f" {', '.join(firm)}."
        )
    return told


def _changes(one: SlotAnswer, found: Decision) -> list[str]:
    edges, currency = one.edges, found.question.per_second.currency
    saved = {prospect.name: prospect.saved_s for prospect in one.prospects}
    return [
        *(
            f"{word} {_rate(edge.per_second)} {currency} a second {edge.becomes}"
            for edge, word in ((edges.below, "below"), (edges.above, "above"))
            if edge
        ),
        *(
            f"if {shift.name} saved {shift.saved_s:+.1f} s, not {saved[shift.name]:+.1f} s,"
            f" {shift.becomes}"
            for shift in edges.shifts
        ),
    ]


def _rate(per_second: float) -> str:
    return f"{per_second:.3g}" if per_second < 1000 else f"{per_second:.0f}"


def _bases(found: Decision) -> list[str]:
    return [
        f"{prospect.name}: {prospect.basis}" for one in found.slots for prospect in one.prospects
    ]
