"""``racecalc advice``: what to ride, buy, use, test and leave, for the athlete to take home."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.answers.advice_details import Provenance, basis_blocks, details_blocks
from racecalc.answers.basis import Basis, costs_line, overlap_line
from racecalc.answers.basket import BasketAnswer, price_alone_line, spent
from racecalc.answers.cells import Cell, chance_text, joined, naming, quoted, several
from racecalc.answers.columns import (
    Clock,
    Made,
    Quantity,
    about,
    between,
    faster,
    seconds_text,
    shown_apart,
    step_for,
)
from racecalc.answers.decide import DecideAnswer, from_result
from racecalc.answers.pace import PaceAnswer, mean_words
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table
from racecalc.answers.time import TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.arrays import FloatArray
from racecalc.decisions.advice.advice import Advice
from racecalc.decisions.advice.shopping import PAID, Shopping
from racecalc.decisions.basket.basket import Basket
from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.decisions.timing import Along
from racecalc.decisions.verdicts import give_or_take
from racecalc.decisions.weather import care_from, gust_limit, speed_words
from racecalc.quantities.clock import show_duration
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
    """The race with what is advised, at constant power."""
    pace: PaceAnswer | None
    """The card for what is advised."""
    value: ValueAnswer | None
    """What each option is worth, against what is in use today."""
    basket: BasketAnswer | None
    """The set to buy and use, against what is in use today."""
    decide: DecideAnswer | None
    """Whether to test first, against what is in use today."""
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

    @written
    def advised_set_s(self) -> float:
        """Time with what is advised, ridden as advised: by the card where it pays [s]."""
        return self.advice.plan.ridden.time

    @written
    def advised_set_s_low(self) -> float:
        """Lower end of its 95 % interval: the model, what the set saves, the stated doubts [s]."""
        return self.advice.between_s[0]

    @written
    def advised_set_s_high(self) -> float:
        """Upper end of that interval [s]."""
        return self.advice.between_s[1]

    @written
    def as_you_are_s(self) -> float:
        """Time with what is in use today, at constant power that is as hard as the plan [s]."""
        return self.advice.plan.today.time

    @written
    def as_you_are_w(self) -> float:
        """That constant power [W]."""
        return float(self.advice.plan.today.power[0])


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
    card, then = advice.card, f"with {_what(advice)}, for "
    how: tuple[str | Cell, ...] = (f"{advice.plan.first_w:.0f} W throughout {then}",)
    if card is not None and advice.card_pays:
        how = (*_powers(card.targets, units), f"by the card {then}")
    return "Ride ", *how, _finish(advice), ", ", *_sure(advice)


def _what(advice: Advice) -> str:
    if advice.set_stays:
        return "what you have now"
    return "this set" if advice.plan.even.race.use else "no option in use"


def _finish(advice: Advice) -> Cell:
    """The time of the plan."""
    return _clock(advice.plan.ridden.time, "advice/advised_set_s")


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


def _clock(seconds: float, key: str) -> Cell:
    return Cell(show_duration(seconds), value=seconds, key=key)


def _sure(advice: Advice) -> tuple[str | Cell, ...]:
    """How sure the time is, and by which doubts if not all are stated."""
    low, high = advice.between_s
    ends = _clock(low, "advice/advised_set_s_low"), _clock(high, "advice/advised_set_s_high")
    known = "model and set" if advice.set_doubt_s else "the model"
    alone = f" (doubt of {known} alone)" if advice.band is None else ""
    return ends[0], " to ", ends[1], f" in 95 of 100 cases{alone}"


def _shop(advice: Advice) -> Iterator[tuple[str | Cell, ...]]:
    shopping = advice.shopping
    if shopping.to(*PAID):
        yield *_pay(shopping, NAMED), *_price(advice)
    yield from naming("use ", shopping.to("use"), NAMED, ", at no cost")
    if shopping.basket and not advice.set_stays:
        yield _gain(advice, shopping.basket)
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


def _gain(advice: Advice, basket: Basket) -> tuple[str | Cell, ...]:
    """What the set saves, and how sure that is."""
    low, high = basket.saved_s_low, basket.saved_s_high
    half = give_or_take(low, high)
    together = ("together ",) if len(basket.items) > 1 else ()
    shown = shown_apart(advice.plan.ridden.time, advice.plan.today.time)
    if _by_set_alone(advice) and step_for(half) == 1.0:
        saved = *together, *faster(shown, half, "")
    else:
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
        if tested := option.other_size:
            size = quoted(tested, 12), ", not in your ", quoted(option.size, 12)
            told += [" Tested in size ", *size, ": try it first."]
        if loss := option.holding.power_loss:
            told += [f" It costs {loss.words} while held, which the targets allow for."]
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
    how = "by the card" if advice.card_pays else "at constant power"
    yield _finish(advice), f" {how}, with {_what(advice)}.", *_today(advice)
    if advice.band is None:
        yield "Doubts of power, drag and weather are not stated: the true range is wider."
    elif advice.set_doubt_s:
        yield "The interval holds the stated doubts, those of the set, and that of the model."
    if advice.shopping.basket:
        yield from overlap_line(advice.shopping.basket)


def _today(advice: Advice) -> tuple[str | Cell, ...]:
    """Today's bike at constant power that is as hard as the plan."""
    if advice.set_stays and not advice.card_pays:
        return ()
    today = advice.plan.today
    watts = Cell(f"{today.power[0]:.0f} W", value=float(today.power[0]), key="advice/as_you_are_w")
    begin = " At constant power: " if advice.set_stays else " As you are today: "
    at = _clock(today.time, "advice/as_you_are_s")
    return begin, at, " at ", watts, f" throughout{_as_hard(advice)}.", *_split(advice)


def _as_hard(advice: Advice) -> str:
    """The mean that today's ride and the card come to, in one number where it is one."""
    if advice.card is None or not advice.card_pays:
        return ""
    card, name = advice.card, mean_words(advice.card)
    own, theirs = advice.plan.today.mean(card.power_mean_order), card.power_mean_w
    more = round(own) - round(theirs)
    if not more:
        return f", as hard as the card ({name} {own:.0f} W for both)"
    does = f"the set {'costs' if more > 0 else 'gives'} {abs(more)} W"
    return f", as hard as the card, since {does} ({name} {own:.0f} and {theirs:.0f} W)"


def _by_set_alone(advice: Advice) -> bool:
    """Whether what is between the plan and today's ride is the set, but for the last second."""
    basket, plan = advice.shopping.basket, advice.plan
    apart = shown_apart(plan.ridden.time, plan.today.time)
    return basket is not None and abs(apart - basket.saved_s) < SEEN


SEEN = 1.5
"""Seconds from which on the gain of the card can be told from the rounding of two times."""


def _split(advice: Advice) -> tuple[str | Cell, ...]:
    """What of the time between is the set's, and what the card's."""
    basket = advice.shopping.basket
    if basket is None or advice.set_stays or basket.saved_s <= 0 or _by_set_alone(advice):
        return ()
    half = give_or_take(basket.saved_s_low, basket.saved_s_high)
    saved = about(basket.saved_s, half, "basket/saved_s")
    return " Of the difference the set saves ", saved, ", the card the rest."


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
        return (Lines([("There is no card: ", quoted(advice.plan.no_card))], "The card"),)
    card = advice.pacing.card
    profile = _profile(advice, card, units)
    if not advice.card_pays:
        length, passages = advice.timing.distance_m, advice.plan.passages
        finish = Passage(length, "Finish", advice.plan.ridden.time, "")
        shown = passages if len(passages) < CARD_ROWS else ()
        return Table("The card", CARD, [*shown, finish], depth=Depth.ANSWER), profile
    passages = card.passages if len(card.targets) + len(card.passages) <= CARD_ROWS else ()
    rows: list[Target | Passage] = [*card.targets, *passages]
    lists = {"pace/targets": card.targets, "pace/landmarks": card.passages}
    table = Table("The card", CARD, sorted(rows, key=_at), depth=Depth.ANSWER, path=lists)
    return table, profile


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


def _profile(advice: Advice, card: Card, units: System) -> Curves:
    """Elevation, power and speed over the course."""
    along = Along(advice.plan.ridden)
    at = np.linspace(0.0, along.length_m, POINTS)
    curves: dict[str, tuple[What, FloatArray]] = {
        "elevation": ("elevation", along.curve("elevation_m", at)),
        "power to ride": ("power", _planned(advice, card, at)),
        "expected speed": ("speed", along.curve("speed_m_s", at)),
    }
    unit = unit_size("course_distance", units)
    return Curves(
        at / unit,
        {
            f"{name} [{shown_unit(what, units)}]": to_shown(values, what, units)
            for name, (what, values) in curves.items()
        },
        _profile_words(advice, card, units),
        across=f"distance [{shown_unit('course_distance', units)}]",
        marks=[(one.at / unit, one.name) for one in advice.race.landmarks],
        note="Landmarks are dotted; the speed is expected and no target.",
    )


def _planned(advice: Advice, card: Card, at: FloatArray) -> FloatArray:
    """Power to ride at distances [m], in W."""
    if not advice.card_pays:
        return np.full(len(at), advice.plan.first_w)
    section = np.searchsorted([one.to_m for one in card.targets[:-1]], at, side="right")
    return np.array([one.power_w for one in card.targets])[section]


def _profile_words(advice: Advice, card: Card, units: System) -> str:
    timed = advice.timing
    distance = show(timed.distance_m, "course_distance", units, 1)
    ascent = show(timed.ascent_m, "elevation", units)
    whole = f"Elevation, power and speed over {distance} with {ascent} of ascent"
    if not advice.card_pays:
        return f"{whole}: {show(advice.plan.first_w, 'power', units)} throughout."
    sections = "; ".join(
        f"to {show(target.to_m, 'course_distance', units, 1)}"
        f" {show(target.power_w, 'power', units)} at about"
        f" {show(target.speed_m_s, 'speed', units, 0)}"
        for target in card.targets
    )
    return f"{whole}: {sections}."
