"""The first sheet: what to do and not to do, how long it takes, the card, and the cautions."""

from collections.abc import Sequence

from racecalc.decisions.advice.answer import Advice
from racecalc.decisions.advice.shopping import Do, Shopping
from racecalc.decisions.bands import TimeBand
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.verdicts import give_or_take
from racecalc.quantities.showing import System
from racecalc.views.advice.card_part import card_blocks
from racecalc.views.advice.numbers import about, between, clock, powers
from racecalc.views.advice.sheet import (
    Items,
    Line,
    Number,
    Section,
    Words,
    joined,
    listed,
)
from racecalc.views.card_page import ADVICE, NO_SPEED_TARGETS

NAMED = 3
"""Names of a list that are told on the first sheet; all stand in the table below."""

AS_GOOD = 0.5
"""Seconds that a card must gain to be worth a word [s]."""

PAID: tuple[Do, ...] = ("buy", "hire")

LISTED = 6
"""The same in the lists of what to do."""


def headline(advice: Advice, units: System) -> Line:
    """What to ride, to buy, to leave and to test first, and how sure that is, in one sentence."""
    return (*joined([_ride(advice, units), *_shop(advice)], between="; "), ".")


def front_sections(advice: Advice, units: System) -> tuple[Section, ...]:
    """All that the athlete needs, for one sheet of paper."""
    return (
        Section("do", "Do", (Items(_do(advice)),)),
        Section("not", "Do not", (Items(_do_not(advice)),)),
        Section("time", "How long, and how sure", (Items(_how_long(advice)),)),
        Section("card", "The card", card_blocks(advice, units)),
        Section("heed", "Before you follow it", (Items(_heed(advice)),)),
    )


def _ride(advice: Advice, units: System) -> Line:
    half = advice.half_of_time_s
    if advice.pacing is None:
        power = advice.race.rider.power
        at = clock(advice.timing.time_s, half, "time/time_s")
        return f"Ride {power:.0f} W all along, for a time of about ", at, *_sure(advice)
    card = advice.pacing.card
    at = clock(card.time_s, half, "pace/time_s")
    watts = powers(card.targets, units)
    return "Ride ", *watts, " by the card, for a time of about ", at, *_sure(advice)


def _sure(advice: Advice) -> Line:
    """How sure the time is, as the end of a sentence."""
    model = advice.timing.model_error_s
    if advice.band is None:
        found = Number(f"{model:.0f}", model, "time/model_error_s")
        return ", give or take ", found, " s by the model alone"
    return " (at an even effort ", *_band(advice, advice.band), ")"


def _band(advice: Advice, band: TimeBand) -> Line:
    half = advice.half_of_time_s
    low = clock(band.spread.low_95_s, half, "time/band/low_95_s")
    high = clock(band.spread.high_95_s, half, "time/band/high_95_s")
    return "between ", low, " and ", high, " in 95 of 100 cases"


def _shop(advice: Advice) -> list[Line]:
    shopping = advice.shopping
    parts: list[Line] = []
    paid, free = shopping.to(*PAID), shopping.to("use")
    if paid:
        parts.append((*_pay(shopping, NAMED), f", {shopping.price} in all"))
    if free:
        parts.append(("use ", *listed(free, most=NAMED), ", at no cost"))
    if paid or free:
        parts.append(("together ", *_together(advice)))
    if weighed := shopping.to("weigh"):
        parts.append(("weigh ", *listed(weighed, most=NAMED), ", faster at a price"))
    elif shopping.advised and not paid and not free:
        parts.append(("buy nothing",))
    if left := shopping.to("leave"):
        parts.append(("leave ", *listed(left, most=NAMED)))
    if tested := shopping.to("test"):
        parts.append(("test ", *listed(tested, most=NAMED), " before you pay"))
    return parts


def _together(advice: Advice) -> Line:
    """What the set saves, and how sure that is."""
    basket = advice.shopping.basket
    if basket is None:
        return ()
    half = give_or_take(basket.saved_s_low, basket.saved_s_high)
    faster: Line = (about(basket.saved_s, half, "basket/saved_s"), " faster")
    if half is None or basket.saved_s_low is None or basket.saved_s_high is None:
        return (*faster, " by what is claimed: how sure, nobody can say")
    ends = ("basket/saved_s_low", "basket/saved_s_high")
    sure = between(basket.saved_s_low, basket.saved_s_high, half, ends)
    return (*faster, ", ", *sure, " in 95 of 100 cases")


def _pay(shopping: Shopping, most: int) -> Line:
    """What to buy and what to hire."""
    kinds = [(do, shopping.to(do)) for do in PAID]
    return joined([(f"{do} ", *listed(names, most=most)) for do, names in kinds if names], "and")


def _do(advice: Advice) -> tuple[Line, ...]:
    shopping = advice.shopping
    lines: list[Line] = []
    if advice.pacing is not None:
        lines.append(("Ride by the card: even effort, not even speed. ", ADVICE))
    if shopping.to(*PAID):
        lines.append(("Pay for this: ", *_pay(shopping, LISTED), f", {shopping.price} in all."))
    if free := shopping.to("use"):
        lines.append(("Use ", *_named(free), ", which cost nothing more."))
    if weighed := shopping.to("weigh"):
        lines.append(("Weigh what a second is worth to you: ", *_named(weighed), "."))
    if tested := shopping.to("test"):
        lines.append(("Test first ", *_named(tested), *_runs(advice), "."))
    if advice.unchecked:
        ask = "Ask the organiser first: nobody has checked the rules for "
        lines.append((ask, *_named(advice.unchecked), "."))
    return tuple(lines)


def _named(names: Sequence[str]) -> Line:
    return listed(names, most=LISTED)


def _runs(advice: Advice) -> Line:
    """How much testing pays, where that is known."""
    decision = advice.decision
    test = decision.next_test if decision else None
    if decision is None or test is None or decision.question.whole_test:
        return ()
    number = Number(f"{test.pairs}", float(test.pairs), "decide/next_test/pairs")
    return " (", *listed(test.names), ": ", number, " pairs of runs, item and baseline by turns)"


def _do_not(advice: Advice) -> tuple[Line, ...]:
    shopping = advice.shopping
    lines: list[Line] = []
    if left := shopping.to("leave"):
        lines.append(("Do not buy ", *listed(left, most=LISTED, last="or"), "; why stands below."))
    if shopping.to("test"):
        lines.append(("Do not pay for a promise: what is to be tested first may save nothing.",))
    lines.append((f"Do not chase a speed. {NO_SPEED_TARGETS}",))
    return tuple(lines)


def _how_long(advice: Advice) -> tuple[Line, ...]:
    half, pacing = advice.half_of_time_s, advice.pacing
    even: Line = (
        f"At {advice.race.rider.power:.0f} W all along about ",
        clock(advice.timing.time_s, half, "time/time_s"),
        ", with what you have now",
    )
    if advice.band is not None:
        even = (*even, "; ", *_band(advice, advice.band), ".")
    else:
        even = (
            *even,
            *_sure(advice),
            " (one standard error). How sure power, drag and weather are, the race file does not"
            " say, so the true doubt is wider.",
        )
    return (even, *([_by_card(pacing.card, half)] if pacing else []), *_with_the_set(advice))


def _by_card(card: Card, half: float) -> Line:
    gains: Line = (
        "the same effort, spent where it counts, gains ",
        about(card.saved_s, None, "pace/saved_s"),
    )
    return (
        "By the card about ",
        clock(card.time_s, half, "pace/time_s"),
        ": ",
        *(gains if card.saved_s >= AS_GOOD else ("one power all along is as good on this course",)),
        ". Held: ",
        Words(card.limit),
        ".",
    )


def _with_the_set(advice: Advice) -> tuple[Line, ...]:
    basket = advice.shopping.basket
    if basket is None or not basket.items:
        return ()
    saved = about(basket.saved_s, None, "basket/saved_s")
    return (("What is to be bought and used takes ", saved, " off that."),)


def _heed(advice: Advice) -> tuple[Line, ...]:
    doubtful = advice.pacing.card.warnings if advice.pacing else ()
    return (
        *(("Doubtful: ", Words(warning)) for warning in doubtful),
        *((f"{one.about}. ", Words(one.words)) for one in advice.cautions),
    )
