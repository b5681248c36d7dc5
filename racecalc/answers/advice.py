"""``racecalc advice``: what to ride, buy, use, test and leave, for the athlete to take home."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.answers.advice_details import Provenance, basis_blocks, details_blocks
from racecalc.answers.basis import Basis, costs_line
from racecalc.answers.basket import BasketAnswer, price_alone_line, spent
from racecalc.answers.cells import Cell, chance_text, joined, naming, quoted, several
from racecalc.answers.columns import (
    Clock,
    Made,
    Quantity,
    about,
    between,
    clock_text,
    faster,
    seconds_text,
    size_text,
)
from racecalc.answers.decide import DecideAnswer, from_result
from racecalc.answers.pace import PaceAnswer
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table
from racecalc.answers.time import TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.arrays import FloatArray
from racecalc.decisions.advice.advice import AS_GOOD, Advice
from racecalc.decisions.advice.shopping import PAID, Shopping
from racecalc.decisions.basket.basket import Basket
from racecalc.decisions.pacing.card import Card, Pacing, Passage, Target
from racecalc.decisions.timing import Along
from racecalc.decisions.verdicts import give_or_take
from racecalc.decisions.weather import care_from, gust_limit, speed_words
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import (
    System,
    What,
    show,
    show_number,
    shown_unit,
    to_shown,
    unit_size,
)
from racecalc.written import HIDDEN, SPREAD, As, written


@dataclass(frozen=True)
class AdviceAnswer:
    """What is advised, and the answers of the commands behind it; a part without one is null."""

    headline: str
    """All of the advice in one sentence."""
    advice: Annotated[
        Advice,
        As(
            doubtful="doubtful",
            advised="shopping.advised",
            held_back="shopping.excluded",
            not_worked_out="refused",
            cautions="cautions",
        ),
    ]
    """What to do about the race."""
    time: TimeAnswer
    """At constant power."""
    pace: PaceAnswer | None
    """The card."""
    value: ValueAnswer | None
    """What each option is worth."""
    basket: BasketAnswer | None
    """The set to buy and use."""
    decide: DecideAnswer | None
    """Whether to test first."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""
    provenance: Annotated[Provenance, HIDDEN]
    """What it was made from, and when."""

    @written
    def power_w(self) -> float:
        """Power that the page is made for [W]."""
        return self.advice.race.rider.power

    @written
    def stated_power_w(self) -> float:
        """Power of the race file [W]; more than `power_w` where it cannot be held."""
        return self.advice.stated_power_w or self.power_w


def advice_sheet(answer: AdviceAnswer, units: System) -> Sheet:
    """What to do and not to do on the first sheet of paper, what it rests on after it."""
    advice = answer.advice
    return Sheet(
        headline(advice, units),
        [
            Lines([*_doubtful(advice)], "Doubtful"),
            Lines([*_do(advice)], "Do"),
            Lines([*_do_not(advice)], "Do not"),
            Lines([*_how_long(advice)], "How long, and how sure"),
            *_card_blocks(advice, units),
            _cautions(advice),
            *details_blocks(advice, units),
            *basis_blocks(advice, answer.basis, answer.provenance, units),
        ],
        units,
        (quoted(advice.race.name, 60),),
    )


# --- all of it in one sentence -------------------------------------------------------------------

NAMED = 4
"""Names of a list in the headline from which only their number is given."""

BY_PRICE = "By price alone, without life and resale: "

LISTED = 5
"""The same in the lists of what to do."""

NOTED = 70
"""Characters of a note on the first sheet; it is in full among the evidence."""


def headline(advice: Advice, units: System) -> Line:
    """What to ride, to buy, to leave and to test first, and how sure that is, in one sentence."""
    return (*joined([_ride(advice, units), *_shop(advice)], "; "), ".")


def _ride(advice: Advice, units: System) -> tuple[str | Cell, ...]:
    card = advice.card
    now = "with what you have now, for about "
    if card is None:
        at = _clock(advice, advice.timing.time_s, "time/time_s")
        return f"Ride {advice.race.rider.power:.0f} W throughout, {now}", at, _sure(advice)
    if not advice.card_pays:
        at = _clock(advice, card.constant_power_time_s, "pace/constant_power_time_s")
        return "Ride ", _even_power(card), f" throughout, {now}", at, _sure(advice)
    at = _clock(advice, card.time_s, "pace/time_s")
    return "Ride ", *_powers(card.targets, units), f"by the card, {now}", at, _sure(advice)


def _powers(targets: Sequence[Target], units: System) -> tuple[str | Cell, ...]:
    """The least and the most of the targets that are pedalled, not those where a limit decides."""
    numbered = [(target.power_w, at) for at, target in enumerate(targets) if target.pedalled]
    if not numbered:
        return ()
    least, most = (
        Cell(show_number(watts, "power", units), value=watts, key=f"pace/targets/{at}/power_w")
        for watts, at in (min(numbered), max(numbered))
    )
    return (least, " W ") if least.text == most.text else (least, " to ", most, " W ")


def _clock(advice: Advice, seconds: float, key: str) -> Cell:
    return Cell(clock_text(seconds, advice.half_of_time_s), value=seconds, key=key)


def _even_power(card: Card) -> Cell:
    watts = card.constant_power_w
    return Cell(f"{watts:.0f} W", value=watts, key="pace/constant_power_w")


def _sure(advice: Advice) -> str:
    """How sure the time is, as the end of a sentence."""
    half = size_text(advice.half_of_time_s, advice.half_of_time_s)
    alone = " (doubt of the model alone)" if advice.band is None else ""
    return f", give or take {half} in 95 of 100 cases{alone}"


def _shop(advice: Advice) -> Iterator[tuple[str | Cell, ...]]:
    shopping = advice.shopping
    if shopping.to(*PAID):
        yield *_pay(shopping, NAMED), *_price(advice)
    yield from naming("use ", shopping.to("use"), NAMED, ", at no cost")
    if shopping.basket and shopping.basket.items:
        yield _gain(shopping.basket)
    weighed, left = shopping.to("weigh"), shopping.to("leave", "wait", "forbidden", "unsafe")
    yield from naming("weigh ", weighed, NAMED, ", faster at a price", "or")
    if shopping.advised and not weighed and not shopping.to(*PAID):
        yield ("buy nothing",)
    yield from naming("leave ", left, NAMED, "")
    yield from naming("test ", shopping.to("test"), NAMED, " first")


def _pay(
    shopping: Shopping, most: int, begin: Callable[[str], str] = str
) -> tuple[str | Cell, ...]:
    """What to buy and what to hire, the first word of it as it begins."""
    kinds = [(do, names) for do in PAID if (names := shopping.to(do))]
    return joined(
        [
            (f"{do if number else begin(do)} ", *several(names, most))
            for number, (do, names) in enumerate(kinds)
        ],
        last="and",
    )


def _price(advice: Advice) -> tuple[str, ...]:
    """What is paid for the set, of how much, and what it costs."""
    basket, budget = advice.shopping.basket, advice.spending.budget
    if basket is None:
        return ()
    of = f" (budget {budget})" if budget and budget.amount != basket.cash else ""
    return (f" for {spent(basket)}{of}",)


def _gain(basket: Basket) -> tuple[str | Cell, ...]:
    """What the set saves, and how sure that is."""
    low, high = basket.saved_s_low, basket.saved_s_high
    half = give_or_take(low, high)
    together = ("together ",) if len(basket.items) > 1 else ()
    saved = *together, *faster(basket.saved_s, half, "basket/saved_s")
    if half == 0.0:
        return *saved, " by weight alone"
    if half is None or low is None or high is None:
        return *saved, " as claimed, with unknown doubt"
    return *saved, ", ", *between(low, high, half, "basket/saved_s"), " in 95 of 100 cases"


# --- what to do, and what not to -----------------------------------------------------------------


def _doubtful(advice: Advice) -> Iterator[Line]:
    """What makes all below it doubtful."""
    if advice.stated_power_w is not None:
        stated, held = advice.stated_power_w, advice.race.rider.power
        yield (
            f"The race file states {stated:.0f} W, which its own data of the rider do not allow."
            f" This page is for {held:.0f} W, which they do."
        )
    yield from ((quoted(one),) for one in advice.doubtful)


def _do(advice: Advice) -> Iterator[Line]:
    shopping = advice.shopping
    first = "Road, traffic, law and how you feel come first."
    if advice.card_pays:
        yield f"Ride by watts, not by speed. {first}"
    elif advice.pacing is not None:
        yield f"Ride at constant power, which is faster here than the card. {first}"
    if shopping.to(*PAID):
        yield *_pay(shopping, LISTED, str.capitalize), ". ", *_counted(advice)
    yield from naming("Use ", shopping.to("use"), LISTED, ", at no extra cost.")
    for names in advice.only_together:
        yield from naming("Only together, as they were tested: ", names, LISTED)
    yield from _mind(advice)
    weighed, worth = shopping.to("weigh"), "Decide what a second is worth to you: "
    yield from naming(worth, weighed, LISTED, last="or")
    yield from naming("Test first: ", shopping.to("test"), LISTED)
    yield from _next_test(advice)
    ask = "Ask the organiser first, as the rules are not checked yet: "
    yield from naming(ask, advice.unchecked, LISTED)


def _counted(advice: Advice) -> Line:
    """For which races costs are counted, and how the set would differ without."""
    basket = advice.shopping.basket
    other = price_alone_line(basket, BY_PRICE) if basket else ()
    costs = costs_line(item.use for item in basket.items) if basket else ""
    return costs, *(part for line in other for part in (" ", *line))


def _mind(advice: Advice) -> Iterator[Line]:
    """What is not proved of what is to be used, what it costs, and what its owner says of it."""
    numbers = {value.option.name: at for at, value in enumerate(advice.values)}
    free = set(advice.shopping.to("use"))
    for value in advice.used:
        option, sure = value.option, value.chance_faster
        told: list[str | Cell] = []
        if value.verdict == "undecided" and sure is not None:
            key = f"value/options/{numbers[option.name]}/chance_faster"
            chance = Cell(chance_text(sure), value=sure, key=key)
            told += [" not proved, faster with a chance of ", chance, "."]
        if noted := option.comfort or (option.note if option.name in free else ""):
            told += [" ", quoted(noted.rstrip("."), NOTED), "."]
        if loss := option.holding.power_loss:
            told += [f" It costs {loss.words} while held, which is not in the card."]
        if (limit := gust_limit(option)) is not None:
            gust = speed_words(care_from(limit))
            told += [f" Only if gusts stay below {gust} at the rider: bring the other one too."]
        if told:
            yield quoted(option.name, NOTED), ":", *told


def _next_test(advice: Advice) -> Iterator[Line]:
    """The test that is worth most, what it takes, and what to make of it."""
    decision, test = advice.decision, advice.next_test
    if decision is None or test is None or decision.question.whole_test:
        return
    currency = decision.question.per_second.currency
    cost = f", {amount_text(test.cost, currency)}" if test.cost else ""
    pairs = Cell(f"{test.pairs}", value=float(test.pairs), key="decide/next_test/pairs")
    runs = f" pairs of runs alternating with the baseline{cost}"
    line: Line = ("Test next: ", *several(test.names), ", ", pairs, runs)
    if test.buy_from_s is not None:
        shown = f"{seconds_text(test.buy_from_s)} s"
        least = Cell(shown, value=test.buy_from_s, key="decide/next_test/buy_from_s")
        result = from_result(test)
        shows = (f"{result} or more (", least, " here)") if result else (least, " or more")
        line = (*line, "; choose it if it shows ", *shows)
    yield (*line, ".")


def _do_not(advice: Advice) -> Iterator[Line]:
    shopping, kept = advice.shopping, advice.kept
    yield from naming("Not in this weather, whatever they save: ", shopping.to("unsafe"), LISTED)
    yield from naming("Not allowed by the rules: ", shopping.to("forbidden"), LISTED)
    left = [name for name in shopping.to("leave") if name not in kept]
    yield from naming("Do not buy ", left, LISTED, " (why: see the evidence).", "or")
    unpriced = "Not judged, as no price is stated (state 0 for what is free): "
    yield from naming(unpriced, shopping.to("unpriced"), LISTED)
    yield from naming("Do not use, although it costs nothing: ", kept, LISTED)
    settled = " (what must be settled first: below, with the evidence)."
    yield from naming("Do not buy yet: ", shopping.to("wait"), LISTED, settled)
    if shopping.to("test"):
        yield "Do not rely on claims: what is to be tested first may save nothing."
    yield "Do not chase speeds: they are estimates, not targets, least of all in bends."


def _how_long(advice: Advice) -> Iterator[Line]:
    power = f"{advice.race.rider.power:.0f} W throughout"
    at = _clock(advice, advice.timing.time_s, "time/time_s")
    yield f"With what you have now, at {power}: about ", at, *_even_band(advice), "."
    if advice.card is not None:
        yield _by_card(advice, advice.card)
    if advice.with_set_s is not None:
        with_all = clock_text(advice.with_set_s, advice.half_of_time_s)
        yield f"With all that is to be bought and used as well: about {with_all}."
    if advice.band is None:
        yield "Doubts of power, drag and weather are not stated: the true range is wider."


def _even_band(advice: Advice) -> tuple[str | Cell, ...]:
    if advice.band is None:
        return ()
    spread = advice.band.spread
    low = _clock(advice, spread.low_95_s, "time/band/low_95_s")
    high = _clock(advice, spread.high_95_s, "time/band/high_95_s")
    return ", between ", low, " and ", high, " in 95 of 100 cases"


def _by_card(advice: Advice, card: Card) -> Line:
    at = _clock(advice, card.time_s, "pace/time_s")
    gain, even = about(card.saved_s, None, "pace/saved_s"), _even_power(card)
    if not advice.card_pays:
        return "By the card: about ", at, "; ", even, " throughout takes ", gain, " less."
    if card.saved_s < AS_GOOD:
        return "By the card: about ", at, "; constant power is as good on this course."
    return "By the card: about ", at, "; the same effort at ", even, " takes ", gain, " more."


def _cautions(advice: Advice) -> Lines:
    """Those of this weather in full wherever the advice is; all of them on a page."""
    weather = sum(one.about in OF_WEATHER for one in advice.cautions)
    every: list[Line] = [(f"{one.about}. ", quoted(one.words)) for one in advice.cautions]
    return Lines(every, "Before you follow it", most=max(1, weather))


OF_WEATHER = ("Wind", "Heat", "Cold")
"""What the cautions of a weather are about; they are the first."""


# --- the card ------------------------------------------------------------------------------------

CARD_ROWS = 14
"""Rows of the card on the first sheet; landmarks that make more are in a table of their own."""

ROLLED = "roll: a bend or limit decides"
"""What is said in the place of a target that is not pedalled on most of its section."""

SHORT_CUE = 30
"""Characters of a landmark on the card."""

POINTS = 500
"""Points of a curve along the course."""


def _card_blocks(advice: Advice, units: System) -> tuple[Block, ...]:
    """Targets and landmarks in the order in which the rider meets them, with a profile."""
    if advice.pacing is None:
        return (Lines([("There is no card: ", quoted(advice.no_card))], "The card"),)
    card = advice.pacing.card
    passages = card.passages if len(card.targets) + len(card.passages) <= CARD_ROWS else ()
    rows: list[Target | Passage] = [*card.targets, *passages]
    lists = {"pace/targets": card.targets, "pace/landmarks": card.passages}
    return (
        Table("The card", CARD, sorted(rows, key=_at), depth=Depth.ANSWER, path=lists),
        _profile(advice, advice.pacing, units),
    )


def _at(row: Target | Passage) -> float:
    return row.to_m if isinstance(row, Target) else row.at_m


class Reached(Quantity):
    """Where a target ends, or a landmark is."""

    def cell(self, row: Target | Passage, units: System) -> Cell:
        """The cell of a row."""
        here = replace(self, key="at_m") if isinstance(row, Passage) else self
        return Quantity.cell(here, row, units)


def _watts(row: Target | Passage) -> Cell:
    if isinstance(row, Passage):
        return Cell("")
    return Cell(f"{row.power_w:.0f}", "", row.power_w, "power_w") if row.pedalled else Cell("-")


def _cue(row: Target | Passage) -> Cell:
    if isinstance(row, Passage):
        return quoted(row.name, SHORT_CUE)
    return Cell("" if row.pedalled else ROLLED)


CARD = [
    Reached("to", "to_m", what="course_distance"),
    Made("W", "", _watts),
    Clock("elapsed", "elapsed_s"),
    Made("cue", "", _cue, left=True),
]


def _profile(advice: Advice, pacing: Pacing, units: System) -> Curves:
    """Elevation, power and speed over the course."""
    along, targets = Along(pacing.ridden.ridden), pacing.card.targets
    at = np.linspace(0.0, along.length_m, POINTS)
    section = np.searchsorted([one.to_m for one in targets[:-1]], at, side="right")
    watts = np.array([one.power_w for one in targets])[section]
    curves: dict[str, tuple[What, FloatArray]] = {
        "elevation": ("elevation", along.curve("elevation_m", at)),
        "power of the card": ("power", watts),
        "expected speed": ("speed", along.curve("speed_m_s", at)),
    }
    unit = unit_size("course_distance", units)
    return Curves(
        at / unit,
        {
            f"{name} [{shown_unit(what, units)}]": to_shown(values, what, units)
            for name, (what, values) in curves.items()
        },
        _profile_words(advice, pacing.card, units),
        across=f"distance [{shown_unit('course_distance', units)}]",
        marks=[(one.at / unit, one.name) for one in advice.race.landmarks],
        note="Times are with what you have now. Landmarks are dotted; the speed is expected and no"
        " target.",
    )


def _profile_words(advice: Advice, card: Card, units: System) -> str:
    timed = advice.timing
    distance = show(timed.distance_m, "course_distance", units, 1)
    ascent = show(timed.ascent_m, "elevation", units)
    sections = "; ".join(
        f"to {show(target.to_m, 'course_distance', units, 1)}"
        f" {show(target.power_w, 'power', units)} at about"
        f" {show(target.speed_m_s, 'speed', units, 0)}"
        for target in card.targets
    )
    return f"Elevation, power and speed over {distance} with {ascent} of ascent: {sections}."
