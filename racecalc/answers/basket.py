"""``racecalc basket``: which options to buy under a budget, and what more money buys."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from racecalc.answers.basis import Basis
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
from racecalc.answers.value import OVERLAP, rules_lines, weather_lines
from racecalc.decisions.basket.basket import NO_CHANCE, Basket, Other, Rung
from racecalc.decisions.basket.candidates import Item
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import give_or_take
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text, exact_text
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
            Lines([_best(answer), *_cautions(found)]),
            Lines([*_together(found)], depth=Depth.ANSWER if overlaps else Depth.DETAILS),
            Table("", _items(found), ranked, "", Depth.ANSWER, 9, "options", found.items),
            Lines([_more_money(answer), *rules_lines(options), *_weather(answer)]),
            Table("", _others(found), _rivals(found), _who_wins(found), Depth.ANSWER),
            *ladder_blocks(answer.ladder, found.price.currency),
            Table("Left out", LEFT_OUT, found.left_out, path="left_out"),
            details(rules_lines(options, len(options)), "Rules of the event"),
            grounds(_method(found), "How sure"),
            *answer.basis.blocks(units, BUY_SAFELY),
        ],
        units,
    )


# --- the set, and what could overturn it ---------------------------------------------------------


def _headline(answer: BasketAnswer) -> Line:
    found, title = answer.found, answer.basis.title
    if not found.items:
        return f"{title}: ", Cell("buy nothing", "strong"), f", for at most {found.budget}"
    return f"{title}: saves ", saved_cell(found, "saved_s"), f" for {found.price}"


def _best(answer: BasketAnswer) -> Line:
    return f"{_proof(answer.found)} {show_duration(answer.baseline_time_s)} without any option."


def _proof(found: Basket) -> str:
    limit = f"for at most {found.budget}"
    if found.target_s is not None:
        chance = found.chance_of_target
        sure = "unknown" if chance is None else chance_text(chance)
        return f"Best chance of saving at least {found.target_s:.0f} s {limit}: {sure}."
    if found.proved_optimal:
        return f"Proved: no {'other ' if found.items else ''}set {limit} saves more."
    if found.gap_s is None:
        return f"The best set found {limit}; not proved that no other saves more."
    return f"The best set found {limit}; another could save up to {found.gap_s:.1f} s more."


def _cautions(found: Basket) -> Iterator[Line]:
    for claimed in naming(", counted as the maker claims: ", found.without_doubt_stated):
        yield Cell("No doubt stated", "open"), *claimed
    out = [one.name for one in found.left_out if one.because == NO_CHANCE]
    yield from naming("Left out, as no doubt is stated: ", out)
    untested = found.untested_together if len(found.untested_together) > 1 else ()
    yield from naming("Not tested together, so their savings may overlap: ", untested, 2)


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
    races = f"hired for {found.races_hired} race{'s' if found.races_hired > 1 else ''}"
    return [
        Words("option", "option.name"),
        Seconds("saves alone s (95 %)", "worth.saved_s"),
        Made(f"cost {found.price.currency}", "cost", lambda item: exact_text(item.cost)),
        Made("how", "", lambda item: races if item.by == "hired" else item.by, left=True),
        Made("per second", "", _per_second),
    ]


def _per_second(item: Item) -> str:
    saved, cost = item.worth.saved_s, float(item.cost)
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
    return [doubts, f"The chance of {found.target_s:.0f} s was compared {compared}."]


# --- what comes near it --------------------------------------------------------------------------


def _rivals(found: Basket) -> list[Other]:
    """The runner-up, and the best set without bare claims where that is another one."""
    runner_up, doubted = found.runner_up, found.without_bare_claims
    same = runner_up is not None and doubted is not None and runner_up.names == doubted.names
    return [one for one in (runner_up, None if same else doubted) if one]


def _others(found: Basket) -> list[Column]:
    second = "runner-up" if found.target_s is None else "saves most"
    return [
        Made("", "", lambda one: second if one is found.runner_up else "no claims", left=True),
        Made("saves s", "saved_s", lambda other: seconds_text(other.saved_s)),
        Made(f"for {found.price.currency}", "", lambda other: exact_text(other.price.amount)),
        Chance("chance\nworse", "chance_chosen_better"),
        Made("in (+) and out (-)", "", lambda one: _moves(one.instead, one.lacking), left=True),
    ]


def _who_wins(found: Basket) -> str:
    second, doubted = found.runner_up, found.without_bare_claims
    notes = []
    if any(one.chance_chosen_better is None for one in _rivals(found)):
        notes.append("?: an option states no doubt.")
    if second and second.near and second.chance_chosen_better is not None:
        notes.append("No clear winner: let price, comfort and rules decide.")
    if second and doubted and second.names == doubted.names:
        notes.append("The runner-up is the best set without claims.")
    return " ".join(notes)


def _moves(added: Sequence[str], dropped: Sequence[str]) -> Cell:
    moves = [*(f"+ {name}" for name in added), *(f"- {name}" for name in dropped)]
    return quoted(", ".join(moves) or "nothing")


# --- what more money buys ------------------------------------------------------------------------

NO_SETS = "No sets with prices to compare: give the options prices."
LADDER_NOTE = (
    "Each line is the best set found for its money. Each further second: what it costs compared"
    " with the line above. Steps of less than half a second are left out. Doubts are not shown"
    " here."
)


def _more_money(answer: BasketAnswer) -> str:
    dearer = [step for step in answer.ladder if step.cost > answer.found.budget.amount]
    if not dearer or dearer[0].per_second_more is None:
        return ""
    step, currency = dearer[0], answer.found.price.currency
    each = amount_text(step.per_second_more, currency)
    saves, price = seconds_text(step.saved_s), exact_text(step.cost)
    return f"With more money: {saves} s for {price} {currency}, {each} for each further second."


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
    """Each option alone at its price, where that is known, for the frontier."""
    priced = ((value.option.to_pay, value.saved_s) for value in values)
    return [(price, saved, "*") for price, saved in priced if price is not None]


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
        Made(f"for {currency}", "cost", lambda step: exact_text(step.cost)),
        Number("saves s", "saved_s", "+.1f"),
        Amount("each further\nsecond", "per_second_more", unknown="-"),
        Made("in (+) and out (-)", "", lambda step: _moves(step.added, step.dropped), left=True),
    ]
    return Table("What more money buys", columns, steps, LADDER_NOTE, depth, path=path)


def _frontier(
    steps: Sequence[Rung], currency: str, points: Sequence[Point], depth: Depth
) -> Curves:
    corners = [(float(step.cost), step.saved_s) for step in steps]
    # Money beyond the last step buys no more.
    dearest = max([corners[-1][0], *(price for price, _, _ in points)])
    money, seconds = zip(*corners, (dearest, corners[-1][1]), strict=True)
    words = "; ".join(
        f"{seconds_text(step.saved_s)} s for {exact_text(step.cost)}" for step in steps
    )
    return Curves(
        np.array(money),
        {"seconds saved": np.array(seconds)},
        f"What the best sets save for their price in {currency}: {words}.",
        across=currency,
        steps=True,
        points=[*((at, saved, "o") for at, saved in corners), *points],
        depth=depth,
    )
