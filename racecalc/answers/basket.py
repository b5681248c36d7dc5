"""``racecalc basket``: which options to buy under a budget, and what more money buys."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Annotated

import numpy as np

from racecalc.answers.basis import Basis, costs_line, overlap_line
from racecalc.answers.cells import Cell, chance_text, naming, quoted
from racecalc.answers.columns import (
    Amount,
    Chance,
    Column,
    Made,
    Number,
    Seconds,
    Words,
    saved_cell,
    seconds_text,
)
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table, details, grounds
from racecalc.answers.value import OVERLAP, cost_text, rules_lines, size_lines, weather_lines
from racecalc.decisions.allowed import NO_DOUBT
from racecalc.decisions.basket.basket import Basket, Other, Rung
from racecalc.decisions.basket.candidates import Item
from racecalc.decisions.explain import ExplainedStep, explained, within_words
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import give_or_take
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import Money, amount_text, exact_text
from racecalc.quantities.showing import System
from racecalc.written import SPREAD

BUY_SAFELY = (
    "Only buy what fits, is certified for its use and allowed by the rules of the event; ask"
    " before you pay whether it may be returned, and what a deposit covers."
)

CHARTED = 4
"""Steps of the ladder from which it is drawn as well."""


Point = tuple[float, float, str]
"""Money, seconds saved and the letter for it."""


@dataclass(frozen=True)
class BasketAnswer:
    """The best set of options under a budget."""

    baseline_time_s: float
    """Time with what is in use; without any option where nothing is [s]."""
    found: Annotated[Basket, SPREAD]
    """The set, and what comes near it."""
    ladder: tuple[Rung, ...]
    """The best set for every amount of money; empty where that was not asked for."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""


def basket_sheet(answer: BasketAnswer, units: System) -> Sheet:
    """The set, how sure it is, what could overturn it, what comes near, and what more buys."""
    found = answer.found
    ranked = sorted(found.items, key=lambda item: -item.worth.saved_s)
    options = [item.option for item in found.items]
    overlaps = found.saved_s < OVERLAP * found.sum_of_single_s
    return Sheet(
        _headline(answer),
        [
            Lines([_best(answer), _cost(found), *price_alone_line(found), *_cautions(found)]),
            Lines([*_together(found)], depth=Depth.ANSWER if overlaps else Depth.DETAILS),
            Table("", _items(found), ranked, "", Depth.ANSWER, 9, "options", found.items),
            Lines([costs_line(item.use for item in found.items)]),
            Lines(
                [
                    _more_money(answer),
                    *rules_lines(options),
                    *size_lines(options),
                    *_weather(answer),
                ]
            ),
            Lines([*_next_best(found)]),
            Table("What comes near it", _others(found), _rivals(found), _who_wins(found)),
            *ladder_blocks(answer.ladder, found.price.currency),
            Table("Left out", LEFT_OUT, found.left_out, path="left_out"),
            details(rules_lines(options, len(options)), "Rules of the event"),
            grounds(_method(found), "How sure"),
            *answer.basis.blocks(units, BUY_SAFELY),
        ],
        units,
        explained=lambda: _explained(answer),
    )


SOUGHT = {
    "net worth": "largest sum of (seconds times the worth of one) less cost, within the budget",
    "seconds": "most seconds within the budget",
    "chance": "best chance of the wanted seconds, of sets on the hull of mean and variance",
}


def _explained(answer: BasketAnswer) -> Iterator[ExplainedStep]:
    found = answer.found
    return explained(
        "basket",
        answer.basis.ride,
        count=len(found.items),
        sought=SOUGHT[found.objective],
        budget=found.budget or "none",
        worth=f", {found.per_second} for a second" if found.per_second else "",
        left_out=len(found.left_out),
        sure="proved by branch and cut" if found.proved_optimal else "no proof that it is best",
        saved=found.saved_s,
        without=show_duration(answer.baseline_time_s),
        alone=found.sum_of_single_s,
        within=within_words(found.saved_s_low, found.saved_s_high),
        **_doubts(found),
        cost=found.cost,
    )


def _doubts(found: Basket) -> dict[str, str]:
    """What the interval of a set is made of, in seconds that give it."""
    if found.doubt_s is None:
        return {"squares": "sum of u_i^2", "parts": "a doubt is not stated"}
    share = found.overlap.share if found.overlap else 0.0
    own = math.sqrt(max(found.doubt_s**2 - found.overlap_s**2, 0.0))
    parts = f"{own:.1f} s: doubts of what it changes"
    if not found.overlap_s:
        return {"squares": f"{own:.1f}^2", "parts": parts}
    loose = f"{share:.2g} of the {found.overlap_s / share:.0f} s of what was not tested together"
    squares = f"{own:.1f}^2 + {found.overlap_s:.1f}^2"
    return {"squares": squares, "parts": f"{parts}; {found.overlap_s:.1f} s: {loose}"}


# --- the set, and what could overturn it ---------------------------------------------------------


def _headline(answer: BasketAnswer) -> Line:
    found, title = answer.found, answer.basis.title
    if not found.items:
        return f"{title}: ", Cell("buy nothing", "strong"), *_limit(found, ", ")
    cash = Money(found.cash, found.price.currency)
    return f"{title}: saves ", saved_cell(found, "saved_s"), f" for {cash}"


def spent(found: Basket | Other) -> str:
    """What is paid first for a set, and what it costs where that is something else."""
    cash = Money(found.cash, found.price.currency)
    if abs(float(found.cash) - found.cost) < ROUNDED:
        return str(cash)
    return f"{cash}, cost {amount_text(found.cost, cash.currency)}"


ROUNDED = 0.005
"""Half a cent."""


def price_alone_line(found: Basket) -> Iterator[Line]:
    """How the set would differ if purchase prices counted alone."""
    other = found.at_price_alone
    if other is not None:
        yield "If only prices counted, not life and resale: ", _exchange(other), "."


def _cost(found: Basket) -> str:
    currency, worth = found.price.currency, found.net_worth
    net = "" if worth is None else f", net worth {amount_text(worth, currency)}"
    same = abs(float(found.cash) - found.cost) < ROUNDED
    return "" if same and not net else f"Cost {amount_text(found.cost, currency)}{net}."


def _limit(found: Basket, before: str = " ") -> Iterator[str]:
    if found.budget is not None:
        yield f"{before}for at most {found.budget}"


def _best(answer: BasketAnswer) -> Line:
    return f"{_proof(answer.found)} {show_duration(answer.baseline_time_s)} now."


def _proof(found: Basket) -> str:
    limit = "".join(_limit(found))
    if found.target_s is not None:
        chance = found.chance_of_target
        sure = "unknown" if chance is None else chance_text(chance)
        return f"Best chance found of saving at least {found.target_s:.0f} s{limit}: {sure}."
    worth = found.net_worth is not None
    more = "is worth more" if worth else "saves more"
    if found.proved_optimal:
        return f"By these estimates no set{limit} {more} (proved)."
    if found.gap_s is None:
        return f"The best set found{limit}; not proved that no other {more}."
    could = f"be worth up to {found.gap_s:.1f} s" if worth else f"save up to {found.gap_s:.1f} s"
    return f"The best set found{limit}; another could {could} more."


def _cautions(found: Basket) -> Iterator[Line]:
    for claimed in naming(", counted as the maker claims: ", found.without_doubt_stated):
        yield Cell("No doubt stated", "open"), *claimed
    out = [one.name for one in found.left_out if one.because == NO_DOUBT]
    yield from naming("Left out, as no doubt is stated: ", out)
    yield from overlap_line(found.untested_together, found.overlap)


def _weather(answer: BasketAnswer) -> Iterator[Line]:
    """What the weather keeps out, and what in the set is sensitive to it."""
    unsafe = [one.name for one in answer.found.left_out if one.unsafe]
    yield from naming("Not in this weather, whatever they save: ", unsafe)
    options = [item.option for item in answer.found.items]
    yield from weather_lines(options, answer.basis.day)


def _together(found: Basket) -> Iterator[Line]:
    half = give_or_take(found.saved_s_low, found.saved_s_high)
    if len(found.items) > 1:
        alone, one = (seconds_text(s, half) for s in (found.sum_of_single_s, found.saved_s))
        yield f"The sum of each alone is {alone} s; together they save {one} s."
    yield from naming(
        "Tested together, so the test counts instead of the parts: ", found.tests_of_sets
    )


def _items(found: Basket) -> list[Column]:
    currency = found.price.currency
    return [
        Words("option", "option.name"),
        Seconds("saves alone s (95 %)", "worth.saved_s"),
        Made("cash", "use.cash", lambda item: exact_text(item.cash)),
        Made("cost", "use.cost", lambda item: cost_text(item.use, bare=True)),
        Made("how", "use.by", lambda item: item.by, left=True),
        Made(f"{currency}/s", "", _per_second),
    ]


def _per_second(item: Item) -> str:
    saved, whole = item.worth.saved_s, item.cost_with_needs
    cost = item.cost if whole is None else whole
    return amount_text(cost / saved) if saved > 0 and cost else "-"


LEFT_OUT = [Words("option", "name"), Words("because", "because")]


def _method(found: Basket) -> list[Line]:
    doubts = (
        "In brackets: the 95 % interval. Doubts of options are taken as independent. Only a test of"
        " the set shows how parts disturb each other's air."
    )
    if found.target_s is None:
        return [doubts]
    compared = f"among {found.sets_compared} sets that trade seconds against doubt"
    chance = f"The chance of {found.target_s:.0f} s was compared {compared}"
    return [doubts, f"{chance}; that no other set is surer is not proved."]


# --- what comes near it --------------------------------------------------------------------------


def _rivals(found: Basket) -> list[Other]:
    """The runner-up, and the best set without bare claims where that is another one."""
    runner_up, doubted = found.runner_up, found.without_bare_claims
    same = runner_up is not None and doubted is not None and runner_up.names == doubted.names
    return [one for one in (runner_up, None if same else doubted) if one]


def _called(one: Other, found: Basket) -> str:
    second = "runner-up" if found.target_s is None else "saves most"
    return second if one is found.runner_up else "no claims"


def _next_best(found: Basket) -> Iterator[Line]:
    """The same in sentences."""
    for one in _rivals(found):
        chance = one.chance_chosen_better
        sure = "" if chance is None else f", chance that it is worse {chance_text(chance)}"
        saves = f"{seconds_text(one.saved_s)} s for {spent(one)}{sure}: "
        yield f"{_called(one, found).capitalize()}: ", saves, _exchange(one), "."
    yield " ".join(_what_decides(found))


def _others(found: Basket) -> list[Column]:
    return [
        Made("", "", lambda one: _called(one, found), left=True),
        Made("saves s", "saved_s", lambda other: seconds_text(other.saved_s)),
        Made(f"cash {found.price.currency}", "cash", lambda other: exact_text(other.cash)),
        Amount("cost", "cost"),
        Chance("chance\nworse", "chance_chosen_better"),
        Made("in (+) and out (-)", "", lambda one: _moves(one.instead, one.lacking), left=True),
    ]


def _who_wins(found: Basket) -> str:
    unknown = any(one.chance_chosen_better is None for one in _rivals(found))
    return " ".join(
        [*(["?: an option states no doubt."] if unknown else []), *_what_decides(found)]
    )


def _what_decides(found: Basket) -> list[str]:
    second, doubted, notes = found.runner_up, found.without_bare_claims, []
    if second and second.near and second.chance_chosen_better is not None:
        notes.append("No clear winner: let price, comfort and rules decide.")
    if second and doubted and second.names == doubted.names:
        notes.append("The runner-up counts no claim without a stated doubt.")
    return notes


def _exchange(other: Other) -> Cell:
    """What another set has instead of what the chosen one has."""
    came, went = ", ".join(other.instead), ", ".join(other.lacking)
    return quoted(f"{came} instead of {went}" if came and went else came or f"without {went}")


def _moves(added: Sequence[str], dropped: Sequence[str]) -> Cell:
    moves = [*(f"+ {name}" for name in added), *(f"- {name}" for name in dropped)]
    return quoted(", ".join(moves) or "nothing")


# --- what more money buys ------------------------------------------------------------------------

NO_SETS = "No sets with prices to compare: give the options prices."
LADDER_NOTE = (
    "Each line is the set found that saves most for its cash; a chosen set is a line too, even if"
    " one for less cash saves more. Each further second: what it costs for the races counted,"
    " compared with the line above, and beyond a chosen set compared with that. Steps of less than"
    " half a second are left out. Doubts are not shown here."
)


def _more_money(answer: BasketAnswer) -> str:
    found = answer.found
    at_least = found.cash if found.target_s is None or not found.budget else found.budget.amount
    dearer = [step for step in answer.ladder if step.cash > at_least]
    more = dearer[0].cost_more if dearer else None
    if more is None:
        return ""
    step, currency = dearer[0], found.price.currency
    each = f"{amount_text(more, currency)} for each further second"
    each = "at a lower cost" if more < 0 else each
    saves, cash = seconds_text(step.saved_s), f"{exact_text(step.cash)} {currency}"
    affordable = found.budget and step.cash <= found.budget.amount
    return f"{'Next dearer' if affordable else 'With more money'}: {saves} s for {cash}, {each}."


def ladder_sheet(
    steps: Sequence[Rung],
    gains: Sequence[OptionValue],
    used: tuple[float, float] | None,
    currency: str,
    units: System,
) -> Sheet:
    """The frontier with every single option and the set in use on it, then the steps."""
    if len(steps) < 2:
        return Sheet(NO_SETS, [], units)
    points = [*singles(gains), *([(*used, "X")] if used else [])]
    blocks = _frontier(steps, currency, points, Depth.ANSWER), _steps(steps, currency, Depth.ANSWER)
    last = ", X switched on" if used else ""
    title = f"What more money buys: o the best sets, * one option alone{last}"
    return Sheet(title, blocks, units)


def singles(values: Iterable[OptionValue]) -> list[Point]:
    """Each option alone at its cash, where that is known, for the frontier."""
    priced = ((value.cost_of_use.cash, value.saved_s) for value in values)
    return [(float(cash), saved, "*") for cash, saved in priced if cash is not None]


def ladder_blocks(
    steps: Sequence[Rung], currency: str, points: Sequence[Point] = (), path: str = "ladder"
) -> Iterator[Block]:
    """The best set for every amount of money, and from a few steps on their frontier."""
    if len(steps) > 1:
        yield _steps(steps, currency, Depth.DETAILS, path)
    if len(steps) >= CHARTED:
        yield _frontier(steps, currency, points, Depth.DETAILS)


def _steps(steps: Sequence[Rung], currency: str, depth: Depth, path: str = "ladder") -> Table:
    columns = [
        Made(f"cash {currency}", "cash", lambda step: exact_text(step.cash)),
        Amount("cost", "cost"),
        Number("saves s", "saved_s", "+.1f"),
        Made("each further\nsecond", "", _further),
        Made("in (+) and out (-)", "", lambda step: _moves(step.added, step.dropped), left=True),
    ]
    return Table("What more money buys", columns, steps, LADDER_NOTE, depth, path=path)


def _further(step: Rung) -> Cell:
    """What a further second costs; a set of more cash may wear less and cost less in all."""
    more = step.cost_more
    if more is None or more < 0:
        return Cell("-" if more is None else "cheaper")
    return Cell(amount_text(more), "", more, "cost_per_second_more")


def _frontier(
    steps: Sequence[Rung], currency: str, points: Sequence[Point], depth: Depth
) -> Curves:
    most = list(accumulate((step.saved_s for step in steps), max))
    # A chosen set may be worth most and save less than one for less cash.
    best = [step for step, saved in zip(steps, most, strict=True) if step.saved_s >= saved]
    corners = [(float(step.cash), step.saved_s) for step in best]
    # Money beyond the last step buys no more.
    dearest = max([corners[-1][0], *(price for price, _, _ in points)])
    money, seconds = zip(*corners, (dearest, corners[-1][1]), strict=True)
    words = "; ".join(
        f"{seconds_text(step.saved_s)} s for {exact_text(step.cash)}" for step in best
    )
    return Curves(
        np.array(money),
        {"seconds saved": np.array(seconds)},
        f"What the best sets save for their cash in {currency}: {words}.",
        across=currency,
        steps=True,
        points=[*((at, saved, "o") for at, saved in corners), *points],
        depth=depth,
    )
