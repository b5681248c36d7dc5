"""The first sheet: what to do and not to do, how long it takes, the card, and the cautions."""

from collections.abc import Iterator, Sequence

from racecalc.answers.columns import clock_text
from racecalc.answers.pace import ADVICE, NO_SPEED_TARGETS
from racecalc.decisions.advice.advice import AS_GOOD, Advice
from racecalc.decisions.advice.shopping import PAID, Shopping
from racecalc.decisions.basket.basket import Basket
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.verdicts import give_or_take
from racecalc.decisions.weather import GUST_CAUTION, speed_words
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System
from racecalc.views.advice.card_part import card_blocks
from racecalc.views.advice.numbers import (
    about,
    between,
    chance,
    clock,
    faster,
    powers,
    seconds_text,
    signed_seconds,
)
from racecalc.views.advice.sheet import Items, Line, Number, Section, Words, joined, listed

NAMED = 3
"""Names of a list that the headline tells; all stand in the table below."""

LISTED = 6
"""The same in the lists of what to do."""

NOTED = 70
"""Signs of a note on the first sheet; it stands in full behind."""


def headline(advice: Advice, units: System) -> Line:
    """What to ride, to buy, to leave and to test first, and how sure that is, in one sentence."""
    return (*joined([_ride(advice, units), *_shop(advice)], between="; "), ".")


def front_sections(advice: Advice, units: System) -> tuple[Section, ...]:
    """All that the athlete needs, for one sheet of paper."""
    doubtful = tuple(_doubtful(advice))
    first = (Section("doubtful", "Doubtful", (Items(doubtful),)),) if doubtful else ()
    heed: tuple[Line, ...] = tuple((f"{one.about}. ", Words(one.words)) for one in advice.cautions)
    return (
        *first,
        Section("do", "Do", (Items(tuple(_do(advice))),)),
        Section("not", "Do not", (Items(tuple(_do_not(advice))),)),
        Section("time", "How long, and how sure", (Items(tuple(_how_long(advice))),)),
        Section("card", "The card", card_blocks(advice, units)),
        Section("heed", "Before you follow it", (Items(heed),)),
    )


def _doubtful(advice: Advice) -> Iterator[Line]:
    """What makes all below it doubtful."""
    if advice.stated_power_w is not None:
        stated, held = advice.stated_power_w, advice.race.rider.power
        yield (
            f"The race file states {stated:.0f} W, which by what it says of the rider cannot be"
            f" held. All of this page is for {held:.0f} W, which can.",
        )
    yield from ((Words(one),) for one in advice.doubtful)


def _ride(advice: Advice, units: System) -> Line:
    card, half = advice.card, advice.half_of_time_s
    now = "with what you have now in about "
    if card is None:
        at = clock(advice.timing.time_s, half, "time/time_s")
        return f"Ride {advice.race.rider.power:.0f} W all along, {now}", at, *_sure(advice)
    if not advice.card_pays:
        at = clock(card.constant_power_time_s, half, "pace/constant_power_time_s")
        return "Ride ", _even_power(card), f" all along, {now}", at, *_sure(advice)
    at = clock(card.time_s, half, "pace/time_s")
    watts = powers(card.targets, units)
    return "Ride ", *((*watts, " ") if watts else ()), f"by the card, {now}", at, *_sure(advice)


def _even_power(card: Card) -> Number:
    power = card.constant_power_w
    return Number(f"{power:.0f} W", power, "pace/constant_power_w")


def _sure(advice: Advice) -> Line:
    """How sure the time is, as the end of a sentence."""
    half = seconds_text(advice.half_of_time_s, advice.half_of_time_s)
    alone = " by the error of the model alone" if advice.band is None else ""
    return (f", give or take {half} in 95 of 100 cases{alone}",)


def _shop(advice: Advice) -> list[Line]:
    shopping = advice.shopping
    free = shopping.to("use")
    parts: list[Line] = []
    if shopping.to(*PAID):
        parts.append((*_pay(shopping, NAMED), *_price(advice)))
    if free:
        parts.append(("use ", *listed(free, most=NAMED), ", at no cost"))
    if shopping.basket and shopping.basket.items:
        parts.append(_gain(shopping.basket))
    if weighed := shopping.to("weigh"):
        parts.append(("weigh ", *listed(weighed, "or", most=NAMED), ", faster at a price"))
    elif shopping.advised and not shopping.to(*PAID):
        parts.append(("buy nothing",))
    if left := shopping.to("leave", "wait", "forbidden", "unsafe"):
        parts.append(("leave ", *listed(left, most=NAMED)))
    if tested := shopping.to("test"):
        parts.append(("test ", *listed(tested, most=NAMED), " first"))
    return parts


def _pay(shopping: Shopping, most: int) -> Line:
    """What to buy and what to hire."""
    kinds = [(do, shopping.to(do)) for do in PAID]
    return joined([(f"{do} ", *listed(names, most=most)) for do, names in kinds if names], "and")


def _price(advice: Advice) -> Line:
    """What the set costs, of how much, and for how many races hired things are hired."""
    basket, budget = advice.shopping.basket, advice.spending.budget
    if basket is None:
        return ()
    of = f" of a budget of {budget}" if budget and budget != basket.price else ""
    races = f", hire for {_races(basket.races_hired)}" if advice.shopping.to("hire") else ""
    return (f" for {basket.price}{of}{races}",)


def _races(count: int) -> str:
    return "one race" if count == 1 else f"{count} races"


def _gain(basket: Basket) -> Line:
    """What the set saves, and how sure that is."""
    low, high = basket.saved_s_low, basket.saved_s_high
    half = give_or_take(low, high)
    saved = faster(basket.saved_s, half, "basket/saved_s")
    together: Line = ("together ",) if len(basket.items) > 1 else ()
    if half == 0.0:
        return (*together, *saved, " by weight alone")
    if half is None or low is None or high is None:
        return (*together, *saved, " by what is claimed: how sure, nobody can say")
    ends = ("basket/saved_s_low", "basket/saved_s_high")
    return (*together, *saved, ", ", *between(low, high, half, ends), " in 95 of 100 cases")


def _do(advice: Advice) -> Iterator[Line]:
    shopping = advice.shopping
    if advice.card_pays:
        yield "Ride by the card: even effort, not even speed. ", ADVICE
    elif advice.pacing is not None:
        yield "Ride one power all along, which is faster here than the card. ", ADVICE
    if shopping.to(*PAID):
        yield "Pay for this: ", *_pay(shopping, LISTED), *_price(advice), "."
    if free := shopping.to("use"):
        yield "Use ", *_named(free), ", at no more cost."
    for names in advice.only_together:
        yield "Only together, as they were tested: ", *_named(names), "."
    yield from _mind(advice)
    if weighed := shopping.to("weigh"):
        yield "Weigh what a second is worth to you: ", *listed(weighed, "or", LISTED), "."
    if tested := shopping.to("test"):
        yield "Test first: ", *_named(tested), "."
    yield from _next_test(advice)
    if advice.unchecked:
        ask = "Ask the organiser first: nobody has checked the rules for "
        yield ask, *_named(advice.unchecked), "."


def _named(names: Sequence[str]) -> Line:
    return listed(names, most=LISTED)


def _mind(advice: Advice) -> Iterator[Line]:
    """What is not proved of what is to be used, what it costs, and what its owner says of it."""
    numbers = {value.option.name: at for at, value in enumerate(advice.values)}
    free = set(advice.shopping.to("use"))
    for value in advice.used:
        option, sure = value.option, value.chance_faster
        unproved: Line = ()
        if value.verdict == "undecided" and sure is not None:
            key = f"value/options/{numbers[option.name]}/chance_faster"
            unproved = (" not proved, faster with a chance of ", chance(sure, key), ".")
        noted = option.comfort or (option.note if option.name in free else "")
        loss = option.holding.power_loss
        words = f" It costs {loss.words} while held, which is not in the card." if loss else ""
        if option.restrictions.catches_wind:
            gust = speed_words(GUST_CAUTION)
            words += f" Only if gusts stay below {gust} at the rider: have the other one ready."
        told: Line = (" ", Words(noted.rstrip("."), NOTED), ".") if noted else ()
        if unproved or told or words:
            yield Words(option.name, NOTED), ":", *unproved, *told, words


def _next_test(advice: Advice) -> Iterator[Line]:
    """The test that is worth most, what it takes, and what to make of it."""
    decision, test = advice.decision, advice.next_test
    if decision is None or test is None or decision.question.whole_test:
        return
    currency = decision.question.per_second.currency
    cost = f", {amount_text(test.cost, currency)} in all" if test.cost else ""
    pairs = Number(f"{test.pairs}", float(test.pairs), "decide/next_test/pairs")
    line: Line = (
        "Test next: ",
        *listed(test.names),
        " in ",
        pairs,
        f" pairs of runs, item and baseline by turns{cost}",
    )
    if test.buy_from_s is not None:
        shown = f"{signed_seconds(test.buy_from_s, None)} s"
        least = Number(shown, test.buy_from_s, "decide/next_test/buy_from_s")
        line = (*line, "; choose it if the test alone shows ", least, " or more")
    yield (*line, ".")


def _do_not(advice: Advice) -> Iterator[Line]:
    shopping, kept = advice.shopping, advice.kept
    if unsafe := shopping.to("unsafe"):
        yield "Not in this weather, whatever the seconds: ", *_named(unsafe), "."
    if forbidden := shopping.to("forbidden"):
        yield "Not allowed by the rules: ", *_named(forbidden), "."
    if left := [name for name in shopping.to("leave") if name not in kept]:
        yield "Do not buy ", *listed(left, "or", LISTED), "; why stands behind."
    if unpriced := shopping.to("unpriced"):
        yield "Not judged, as no price is stated (0 for what is free): ", *_named(unpriced), "."
    if kept:
        yield "Leave alone, though it would cost nothing: ", *_named(kept), "."
    if waiting := shopping.to("wait"):
        yield "Do not buy yet, before what stands behind is settled: ", *_named(waiting), "."
    if shopping.to("test"):
        yield ("Do not count on a promise: what is to be tested first may save nothing.",)
    yield (f"Do not chase a speed. {NO_SPEED_TARGETS}",)


def _how_long(advice: Advice) -> Iterator[Line]:
    half, band = advice.half_of_time_s, advice.band
    power = f"{advice.race.rider.power:.0f} W all along"
    at = clock(advice.timing.time_s, half, "time/time_s")
    yield f"With what you have now, at {power}: about ", at, *_even_band(advice), "."
    if advice.card is not None:
        yield from _by_card(advice, advice.card)
    if advice.with_set_s is not None:
        besides = clock_text(advice.with_set_s, half)
        yield (f"With all that is to be bought and used besides: about {besides}.",)
    if band is None:
        yield (
            "How sure power, drag and weather are, the race file does not say: the true doubt is"
            " wider.",
        )


def _even_band(advice: Advice) -> Line:
    band, half = advice.band, advice.half_of_time_s
    if band is None:
        return ()
    low = clock(band.spread.low_95_s, half, "time/band/low_95_s")
    high = clock(band.spread.high_95_s, half, "time/band/high_95_s")
    return ", between ", low, " and ", high, " in 95 of 100 cases"


def _by_card(advice: Advice, card: Card) -> Iterator[Line]:
    at = clock(card.time_s, advice.half_of_time_s, "pace/time_s")
    gain = about(card.saved_s, None, "pace/saved_s")
    even, told = _even_power(card), ("By the card: about ", at)
    if not advice.card_pays:
        yield *told, "; ", even, " all along takes ", gain, " less."
    elif card.saved_s < AS_GOOD:
        yield *told, "; one power all along is as good on this course."
    else:
        yield *told, ". The same strain all along, ", even, ", takes ", gain, " more."
