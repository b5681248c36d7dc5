"""``racecalc advice``: what to ride, buy, use, test and leave, for the athlete to take home."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.answers.advice_details import (
    Provenance,
    basis_blocks,
    details_blocks,
    do_words,
    group_of,
    option_columns,
    option_table,
    range_text,
    times_paid,
)
from racecalc.answers.basis import Basis
from racecalc.answers.basket import BasketAnswer
from racecalc.answers.cells import Cell, chance_text, joined, quoted, several
from racecalc.answers.columns import Made, seconds_text, shown_apart, step_for, time_cell
from racecalc.answers.decide import DecideAnswer, from_result
from racecalc.answers.pace import PaceAnswer, card_steps
from racecalc.answers.sheet import (
    Block,
    Depth,
    Figure,
    Figures,
    Group,
    Line,
    Lines,
    Road,
    Sheet,
    Step,
)
from racecalc.answers.time import TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.decisions.advice.advice import RULES, Advice, Caution
from racecalc.decisions.basket.basket import Basket
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.pacing.card import Passage, Target
from racecalc.decisions.timing import Along
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import give_or_take
from racecalc.decisions.weather import care_from, gust_limit, speed_words
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text, exact_text
from racecalc.quantities.plain_text import one_line, shortened
from racecalc.quantities.reading import show_direction
from racecalc.quantities.showing import System, show, show_number, shown_unit, to_shown, unit_size
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

    @written
    def as_you_are_by_card_s(self) -> float | None:
        """Time with what is in use today by the same card, as hard [s]; None without one."""
        alike = self.advice.plan.by_card_today
        return None if alike is None else alike.time


def advice_sheet(answer: AdviceAnswer, units: System) -> Sheet:
    """What to do and not to do on the first sheet of paper, what it rests on after it."""
    advice = answer.advice
    return Sheet(
        headline(advice),
        [
            Lines([*_doubtful(advice)], "Doubtful"),
            Figures([*_figures(advice, units)]),
            Lines([*_sure(advice)]),
            road(advice, units),
            Lines([("There is no card: ", quoted(one)) for one in [advice.plan.no_card] if one]),
            *rows_blocks(advice),
            Lines([*heeded(advice)], "Before you follow it"),
            *details_blocks(advice, units),
            *basis_blocks(advice, answer.basis, answer.provenance, units),
        ],
        units,
        (quoted(advice.race.name, 60),),
        [*_about(advice, units)],
        lambda: _explained(answer),
    )


def _explained(answer: AdviceAnswer) -> Iterator[ExplainedStep]:
    used, judged = len(answer.advice.used), len(answer.advice.values)
    return explained("advice", answer.basis.ride, used=used, judged=judged)


def _about(advice: Advice, units: System) -> Iterator[Line]:
    """What the race is made of, in a few words each."""
    timed, air = advice.timing, advice.race.air
    yield show(timed.distance_m, "course_distance", units, 1)
    yield f"{show(timed.ascent_m, 'elevation', units)} of climbing"
    if air.wind.speed:
        blows = show_direction(air.wind.direction).partition(" ")[0]
        yield f"wind {show(air.wind.speed, 'wind_speed', units)} from {blows}"
    if air.known_temperature is not None:
        yield show(air.known_temperature, "temperature", units, 0)


# --- all of it in one sentence -------------------------------------------------------------------

COUNTED = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
"""Small numbers in words."""


def counted(number: int) -> str:
    """A number in words, where it is small."""
    return COUNTED[number] if number < len(COUNTED) else str(number)


def headline(advice: Advice) -> Line:
    """What to ride, buy, use and test: a sentence of twelve words at most."""
    first = "Ride the plan" if advice.card_pays else "Ride one even power"
    return ", ".join([first, *_doing(advice)]) + "."


def options_line(advice: Advice) -> Line:
    """What to buy, use and test, and what that gives for which money."""
    does, basket = ", ".join(_doing(advice)), advice.shopping.basket
    told = f"{does[:1].upper()}{does[1:]}"
    if basket is None or advice.set_stays or not advice.changed:
        return f"{told}."
    return told, ": ", *_gain(advice, basket), *_paid(advice, basket), "."


def _doing(advice: Advice) -> list[str]:
    """What to do about the options, with how many of them."""
    shopping = advice.shopping
    bought, hired = len(shopping.to("buy")), len(shopping.to("hire"))
    paid = "buy" if not hired else "hire" if not bought else "get"
    parts = [
        (paid, bought + hired),
        ("use", len(advice.changed) - bought - hired),
        ("weigh", len(shopping.to("weigh"))),
        ("test", len(shopping.to("test"))),
    ]
    told = [(verb, count) for verb, count in parts if count]
    words = ["buy nothing"] if advice.values and not bought + hired else []
    for number, (verb, count) in enumerate(told):
        things = "" if number else " things" if count > 1 else " thing"
        words.append(f"{verb} {counted(count)}{things}")
    return words


# --- how long, how hard, and how sure ------------------------------------------------------------


def _doubtful(advice: Advice) -> Iterator[Line]:
    """What makes all below it doubtful."""
    if advice.stated_power_w is not None:
        stated, held = advice.stated_power_w, advice.race.rider.power
        yield (
            f"The race file states {stated:.0f} W, which its own data of the rider do not allow."
            f" This page is for {held:.0f} W, which they do."
        )
    yield from ((quoted(one),) for one in advice.doubtful)


def _figures(advice: Advice, units: System) -> Iterator[Figure]:
    """Today's bike at one power, the same by the plan, and both with what is advised."""
    plan, changes = advice.plan, not advice.set_stays
    even = float(plan.today.power[0])
    watts = Cell(f"{even:.0f} W", value=even, key="advice/as_you_are_w")
    if changes or advice.card_pays:
        today = "as you are, one even power, " if changes else "one even power, "
        yield Figure(time_cell(plan.today.time, "advice/as_you_are_s"), (today, watts))
    planned = advice.card is not None and advice.card_pays
    how = "ride the plan" if planned else f"one even power, {plan.first_w:.0f} W"
    same = changes and not planned and round(plan.first_w) == round(even)
    ride: Line = () if same else (how,)
    if advice.card is not None and planned:
        ride = (how, *_powers(advice.card.targets, units))
    if (alike := plan.by_card_today) is not None and changes:
        gained = shown_apart(alike.time, plan.today.time)
        yield Figure(
            time_cell(alike.time, "advice/as_you_are_by_card_s"),
            # Its powers are not those of the card, which is for the changed bike.
            (f"{how}: {abs(gained)} s {'faster' if gained >= 0 else 'slower'}, same effort",),
        )
        ride = ()
    finish = time_cell(plan.ridden.time, "advice/advised_set_s")
    yield Figure(finish, tuple(joined([one for one in (ride, _set(advice)) if one])), chief=True)


def _powers(targets: Sequence[Target], units: System) -> tuple[str | Cell, ...]:
    """The least and the most of the targets that are pedalled, not those where a limit decides."""
    numbered = [(target.power_w, at) for at, target in enumerate(targets) if target.pedalled]
    if not numbered:
        return ()
    least, most = (
        Cell(show_number(watts, "power", units), value=watts, key=f"pace/targets/{at}/power_w")
        for watts, at in (min(numbered), max(numbered))
    )
    return (", ", least, " W") if least.text == most.text else (", ", least, " to ", most, " W")


def _set(advice: Advice) -> tuple[str | Cell, ...]:
    """What the advised set gives, and what is paid for it."""
    basket = advice.shopping.basket
    if advice.set_stays:
        return ()
    changed = advice.changed
    what = f"with the {counted(len(changed))} change{'s' if len(changed) > 1 else ''}"
    if not changed or basket is None:
        return ("without what is left" if advice.plan.even.race.use else "no option in use",)
    plan = advice.plan
    if advice.card_pays and plan.by_card_today is None:
        # Plan and set are one step then, of which the set is a part.
        both = shown_apart(plan.ridden.time, plan.today.time)
        what += f": {abs(both)} s {'faster' if both >= 0 else 'slower'} in all, the changes alone"
    return (f"{what}: ", *_gain(advice, basket), *_paid(advice, basket))


def _paid(advice: Advice, basket: Basket) -> Iterator[str]:
    if basket.cash:
        budget = advice.spending.budget
        most = f" (budget {exact_text(budget.amount)})" if budget else ""
        yield f", for {exact_text(basket.cash)} {basket.price.currency}{most}"


def _saved(advice: Advice, basket: Basket) -> Cell:
    """Seconds that the set saves: as far as the times shown are apart, if they tell it."""
    plan, half = advice.plan, give_or_take(basket.saved_s_low, basket.saved_s_high)
    before = plan.by_card_today if advice.card_pays else plan.today
    if before is None or step_for(half) < 1.0:
        text = seconds_text(basket.saved_s, half)
        return Cell(text, "strong", basket.saved_s, "basket/saved_s")
    return Cell(seconds_text(shown_apart(plan.ridden.time, before.time)), "strong")


def _gain(advice: Advice, basket: Basket) -> tuple[str | Cell, ...]:
    """What the set saves; its interval is in the table."""
    saved, low = _saved(advice, basket), basket.saved_s_low
    half = give_or_take(low, basket.saved_s_high)
    told = " s slower" if saved.text.startswith("-") else " s faster"
    if half is None or low is None:
        told += " as claimed, doubt unknown"
    elif half == 0.0:
        told += " by weight alone"
    elif low < 0:
        told += ", not sure"
    return replace(saved, text=saved.text.lstrip("+-"), tone=""), told


def _sure(advice: Advice) -> Iterator[Line]:
    """How sure the time is, and by which doubts if not all are stated."""
    low, high = advice.between_s
    ends = time_cell(low, "advice/advised_set_s_low"), time_cell(high, "advice/advised_set_s_high")
    known = "model and options" if advice.set_doubt_s else "the model"
    if advice.band is None:
        by = f", by the doubt of {known}; power, drag and weather add more."
    elif advice.set_doubt_s:
        by = ", by the stated doubts and those of options and model."
    else:
        by = ", by the stated doubts and that of the model."
    yield "How sure: ", ends[0], " to ", ends[1], " in 95 of 100 cases", by


# --- what to buy, use, test and leave ------------------------------------------------------------

MOST: dict[Group, int] = {"do": 8, "test": 3, "leave": 6}
MOST_ROWS = 14
"""Rows of each group on the first sheet, and of all; every option is on the next."""

SHORT = 46
"""Characters of a name in a row."""


def rows_blocks(advice: Advice) -> Iterator[Block]:
    """What to do about each option, the most important first; then what to know about it."""
    ranked = advice.ranked
    sorted_out: dict[Group, list[OptionValue]] = {"do": [], "test": [], "leave": []}
    for value, one in ranked:
        sorted_out[group_of(one)].append(value)
    following = advice.next_test.names if advice.next_test else ()
    sorted_out["test"].sort(key=lambda value: value.option.name not in following)
    rows = [value for group, values in sorted_out.items() for value in values[: MOST[group]]]
    first, rows = len(rows) - len(sorted_out["leave"][: MOST["leave"]]), rows[:MOST_ROWS]
    hidden = len(ranked) - len(rows)
    do = Made(
        "", "", lambda value: do_words(advice.about(value), following, advice.unchecked), left=True
    )
    seconds, price = option_columns(advice, do, SHORT, " ")
    yield option_table(advice)(
        "What to do",
        [*seconds, price],
        rows,
        f"And {counted(hidden)} more on the next sheet." if hidden else "",
        Depth.ANSWER,
        most=first,
        foot=_foot(advice),
    )
    yield Lines([*_next_test(advice)])


def _foot(advice: Advice) -> tuple[Cell, ...]:
    """The advised set in a row."""
    basket = advice.shopping.basket
    if basket is None or len(basket.items) < 2:
        return ()
    low, high = basket.saved_s_low, basket.saved_s_high
    half = give_or_take(low, high)
    saved = _saved(advice, basket)
    less = float(saved.text) < round(basket.sum_of_single_s) and step_for(half) >= 1.0
    number = counted(len(basket.items))
    name = f"{number} together, less than their sum" if less else f"all {number} together"
    return (
        Cell(name, "strong"),
        Cell(""),
        saved,
        Cell(range_text(basket.saved_s, low, high)),
        Cell(exact_text(basket.cash) if basket.cash else "free"),
    )


def _next_test(advice: Advice) -> Iterator[Line]:
    """The test that is worth most, what it takes, and what to make of it."""
    decision, test = advice.decision, advice.next_test
    if decision is None or test is None or decision.question.whole_test:
        return
    currency = decision.question.per_second.currency
    cost = f", fee {amount_text(test.cost, currency)}" if test.cost else ""
    pairs = Cell(f"{test.pairs}", value=float(test.pairs), key="decide/next_test/pairs")
    # The row of what is to be tested says that it is the first.
    named = () if set(test.names) <= {*advice.shopping.to("test")} else several(test.names)
    begin = ("Test first: ", *named, ", ") if named else ("Test first: ",)
    each = " each" if len(test.names) > 1 else ""
    line: Line = (*begin, pairs, f" runs with{each}, ", pairs, f" without{cost}")
    if test.buy_from_s is not None:
        shown = f"{seconds_text(test.buy_from_s, sign='-')} s"
        least = Cell(shown, value=test.buy_from_s, key="decide/next_test/buy_from_s")
        result = from_result(test)
        line = (*line, "; buy from ", least, f" ({result})" if result else "")
    yield (*line, ".")


# --- what to heed --------------------------------------------------------------------------------


def in_short(advice: Advice) -> Iterator[Caution]:
    """What this plan, this weather and these options ask for, each in a line."""
    for one in advice.cautions:
        if one is RULES and advice.unchecked:
            words = 'Where nobody has checked them ("if ok"), ask the organiser before you pay.'
            yield Caution(one.about, words)
        if one.short and advice.applies(one):
            yield Caution(one.about, one.short)


def caution_line(caution: Caution) -> Line:
    """What it is about, and what to do."""
    return Cell(f"{caution.about}.", "strong"), " ", quoted(caution.words)


def heeded(advice: Advice) -> Iterator[Line]:
    """What to heed: the cautions, notes on options, and what goes only together."""
    yield from map(caution_line, in_short(advice))
    yield from _mind(advice)
    for names in advice.only_together:
        yield *several(names, len(names)), ": tested only together, so use all or none."


NOTED = 50
"""Characters of a note on the first sheet; it is in full among the evidence."""


def clause(words: str) -> str:
    """As many of the first clauses of a note as there is room for.

    Examples
    --------
    >>> clause("Wax again before each race, at home and at no cost to speak of; after rain anew.")
    'Wax again before each race'
    """
    line = one_line(words).rstrip(".")
    if len(line) <= NOTED:
        return line
    ends = [one.start() for one in re.finditer(r"[,;:.](?= )", line) if one.start() <= NOTED]
    return line[: ends[-1]] if ends else shortened(line, NOTED)


def _mind(advice: Advice) -> Iterator[Line]:
    """What may be slower, what its owner says of it, and how often it is paid."""
    numbers = {value.option.name: at for at, value in enumerate(advice.values)}
    basket = advice.shopping.basket
    uses = {item.option.name: item.use for item in basket.items} if basket else {}
    for value in advice.used:
        option, sure = value.option, value.chance_faster
        told: list[str | Cell] = []
        if value.verdict == "undecided" and sure is not None:
            key = f"value/options/{numbers[option.name]}/chance_faster"
            chance = Cell(chance_text(sure), value=sure, key=key)
            told += [" ", chance, " likely faster."]
        for noted in (option.comfort, option.note):
            told += [" ", quoted(clause(noted)), "."] if noted else []
        if tested := option.other_size:
            size = quoted(tested, 12), ", not in your ", quoted(option.size, 12)
            told += [" Tested in size ", *size, ": try it first."]
        use = uses[option.name]
        if use.by == "bought" and use.races and (often := times_paid(use)) > 1:
            told += [f" Lasts {use.races:.3g} races: {often} for {use.races_counted}."]
        if (limit := gust_limit(option)) is not None:
            gust = speed_words(care_from(limit))
            told += [f" Only if gusts stay below {gust} at the rider: bring the other one too."]
        if told:
            yield quoted(option.name, NOTED), ":", *told


# --- how hard where ------------------------------------------------------------------------------

POINTS = 300
"""Points of the profile."""


def road(advice: Advice, units: System) -> Road:
    """The plan over the profile of the course, with its landmarks."""
    along = Along(advice.plan.ridden)
    at = np.linspace(0.0, along.length_m, POINTS)
    what = "The plan" if advice.card_pays else "One even power"
    if changes := len(advice.changed):
        what += f" with the {counted(changes)} change{'s' if changes > 1 else ''}"
    card = advice.card
    if card is not None and advice.card_pays:
        steps = _no_two_clocks(card_steps(card, units, "pace/"))
    else:
        steps = _even_steps(advice, units)
    return Road(
        steps,
        at / unit_size("course_distance", units),
        to_shown(along.curve("elevation_m", at), "elevation", units),
        (f"from {shown_unit('course_distance', units)}", "W", "clock", ""),
        title=what,
    )


def _no_two_clocks(steps: list[Step]) -> list[Step]:
    """Steps without the clock of a landmark where a section begins, as far as the reader sees."""
    begun = {one.where.text for one in steps if one.effort}
    return [
        replace(one, clock=Cell("")) if not one.effort and one.where.text in begun else one
        for one in steps[:-1]
    ] + steps[-1:]


def _even_steps(advice: Advice, units: System) -> list[Step]:
    """One power from start to finish, and the landmarks."""
    plan, unit = advice.plan, unit_size("course_distance", units)
    end = advice.timing.distance_m, time_cell(plan.ridden.time, "advice/advised_set_s")

    def where(at: float) -> tuple[float, Cell]:
        return at / unit, Cell(show_number(at, "course_distance", units, 1))

    def mark(one: Passage) -> Step:
        note = quoted(one.note) if one_line(one.note) else None
        clock = Cell(show_duration(one.elapsed_s))
        return Step(*where(one.at_m), none, clock, quoted(one.name), None, note)

    power, none = Cell(f"{plan.first_w:.0f}", "strong"), Cell("")
    return [
        Step(*where(0.0), power, Cell("0:00"), none, "hold"),
        *map(mark, plan.passages),
        Step(*where(end[0]), none, end[1], Cell("Finish")),
    ]
