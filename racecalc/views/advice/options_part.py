"""What each option gives, what to do about it, and what more money buys."""

from collections.abc import Sequence
from functools import partial

from racecalc.decisions.advice.advice import Advice
from racecalc.decisions.advice.shopping import Advised, Shopping, Spending
from racecalc.decisions.basket.basket import Basket, Other, Rung
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import give_or_take
from racecalc.views.advice.charts import Bar, Priced, draw_bars, draw_frontier
from racecalc.views.advice.numbers import about, chance, faster, money, signed_seconds
from racecalc.views.advice.sheet import (
    SHORT,
    Block,
    Figure,
    Grid,
    Line,
    Number,
    Paragraph,
    Section,
    Words,
    joined,
    listed,
)


def options_section(advice: Advice) -> tuple[Section, ...]:
    """Every option with its seconds, its money and what to do; nothing where there are none."""
    if not advice.values and not advice.refused:
        return ()
    blocks = [_options_grid(advice), _options_figure(advice), _refused(advice)]
    return (
        Section("options", "What each option gives", tuple(one for one in blocks if one)),
        *_money_section(advice),
    )


def ranked(advice: Advice) -> list[tuple[int, OptionValue, Advised]]:
    """Options with their number in the answer of ``value``, in the order of the advice."""
    known = {value.option.name: (at, value) for at, value in enumerate(advice.values)}
    return [(*known[one.name], one) for one in advice.shopping.advised]


def _options_grid(advice: Advice) -> Grid | None:
    if not advice.values:
        return None
    return Grid(
        "What each option gives alone",
        ("<option", "<do", "saves s", "in 95 of 100 cases", "faster", "price", "a second, alone"),
        tuple(_row(*one) for one in ranked(advice)),
    )


def _row(at: int, value: OptionValue, advised: Advised) -> tuple[Line, ...]:
    path, half = f"value/options/{at}", value.give_or_take_s
    saves = Number(signed_seconds(value.saved_s, half), value.saved_s, f"{path}/saved_s")
    faster = value.chance_faster
    each = value.price_per_second or None
    currency = value.price.currency if value.price else ""
    return (
        (Words(value.option.name, SHORT),),
        (advised.do,),
        (saves,),
        _interval(value, path),
        ("?",) if faster is None else (chance(faster, f"{path}/chance_faster"),),
        _price(value, path),
        ("-",) if each is None else (money(each, currency, f"{path}/price_per_second"),),
    )


def _interval(value: OptionValue, path: str) -> Line:
    low, high, half = value.saved_s_low, value.saved_s_high, value.give_or_take_s
    if low is None or high is None:
        return ("not known",)
    if low == high:
        return ("by weight alone",)
    return (
        Number(signed_seconds(low, half), low, f"{path}/saved_s_low"),
        " to ",
        Number(signed_seconds(high, half), high, f"{path}/saved_s_high"),
    )


def _price(value: OptionValue, path: str) -> Line:
    ownership, price = value.option.ownership, value.price
    hire = f"{ownership.hire} a race" if ownership.hire else ""
    if ownership.owned:
        return ("owned",)
    if price is None:
        return (hire or "?",)
    bought = Number(str(price), float(price.amount), f"{path}/price")
    return (bought, f" or {hire}") if hire else (bought,)


def _options_figure(advice: Advice) -> Figure | None:
    if not advice.values:
        return None
    bars = [
        Bar(
            value.option.name,
            value.saved_s,
            value.saved_s_low,
            value.saved_s_high,
            value.verdict in ("faster", "slower"),
        )
        for _, value, _ in ranked(advice)
    ]
    told = "; ".join(
        f"{Words(bar.name, SHORT)} {signed_seconds(bar.at, None)}"
        + (
            ", how sure is not known"
            if bar.low is None or bar.high is None
            else f" ({signed_seconds(bar.low, None)} to {signed_seconds(bar.high, None)})"
        )
        for bar in bars
    )
    return Figure(
        "savings",
        ("Seconds saved by each option alone, with the 95 % interval: ", Words(told), "."),
        (
            "Seconds that each option saves alone, to the right of the line, or costs, to its left."
            " The line through a dot is where the truth lies in 95 of 100 cases; a full dot is"
            " proved, an empty one is not, and a cross states no doubt at all.",
        ),
        partial(draw_bars, bars=bars, axis="seconds saved"),
    )


def _refused(advice: Advice) -> Paragraph | None:
    if not advice.refused:
        return None
    told = "; ".join(f"{one.name}: {one.problem}" for one in advice.refused)
    return Paragraph(("Not worked out, and so nowhere in the advice: ", Words(told)))


def _money_section(advice: Advice) -> tuple[Section, ...]:
    shopping, basket = advice.shopping, advice.shopping.basket
    if basket is None:
        return ()
    useless = {*shopping.to("leave", "test", "wait", "forbidden", "unsafe")}
    other = basket.runner_up
    told = (
        _set_words(shopping, basket, advice.spending),
        _other_words(other) if other and useless.isdisjoint(other.names) else (),
        _held_back(shopping),
    )
    blocks: list[Block] = [Paragraph(line) for line in told if line]
    if len(shopping.steps) > 1:
        blocks += [_frontier(advice, basket), _steps(shopping.steps, basket.price.currency)]
    return (Section("money", "Money and seconds", tuple(blocks)),)


def _set_words(shopping: Shopping, basket: Basket, spending: Spending) -> Line:
    if not basket.items and shopping.to("weigh"):
        return (
            "Nothing in the race file says what a second is worth to you (per_second or budget"
            " under [money]), so nothing is advised to be bought. What more money buys stands"
            " below.",
        )
    if not basket.items:
        return ("Nothing is advised to be bought or used; why stands below for each.",)
    names = listed([item.option.name for item in basket.items])
    tested = (
        (" Tested as one, which counts instead of its parts: ", *listed(basket.tests_of_sets), ".")
        if basket.tests_of_sets
        else ()
    )
    proved = (
        " Proved: no other set for that money saves more."
        if basket.proved_optimal
        else " The best set found for that money."
    )
    half = give_or_take(basket.saved_s_low, basket.saved_s_high)
    alone: Line = (
        " Alone they would add up to ",
        about(basket.sum_of_single_s, half, "basket/sum_of_single_s"),
        "; solved as one they save ",
        about(basket.saved_s, half, "basket/saved_s"),
        ".",
    )
    return (
        "Advised: ",
        *names,
        f", for {basket.price}.",
        *(alone if len(basket.items) > 1 else ()),
        *tested,
        proved,
        *_stop(spending),
    )


def _stop(spending: Spending) -> Line:
    """Why not more is spent."""
    if spending.per_second is None:
        return ()
    budget = f" and {spending.budget} in all" if spending.budget else ""
    return (
        f" Judged by {spending.per_second} a second{budget}: where a further second costs more,"
        " the money is kept.",
    )


def _other_words(other: Other) -> Line:
    """Another set where it comes so near that price, comfort and rules should decide."""
    if not other.near:
        return ()
    lacking = (" without ", *listed(other.lacking)) if other.lacking else ()
    instead = (" with ", *listed(other.instead)) if other.instead else ()
    saved = faster(other.saved_s, None, "basket/runner_up/saved_s")
    told = f"No clear loser, for {other.price}: the same"
    return (told, *lacking, *instead, ", ", *saved, ". Let price, comfort and rules decide.")


def _held_back(shopping: Shopping) -> Line:
    if not shopping.held_back:
        return ()
    return ("In none of these sets: ", *listed(shopping.held_back), ".")


def _frontier(advice: Advice, basket: Basket) -> Figure:
    alone = [
        Priced(value.option.name, price, value.saved_s)
        for value in advice.values
        if (price := value.option.to_pay) is not None
    ]
    steps = advice.shopping.steps
    told = "; ".join(f"{step.saved_s:.0f} s for {step.cost}" for step in steps)
    currency = basket.price.currency
    return Figure(
        "frontier",
        (f"What the best sets save for their price in {currency}: {told}.",),
        (
            "The best set for every amount of money (dots on the line), every option alone at its"
            " purchase price (plus signs), and what is advised (diamond). Where the line runs"
            " flat, more money buys little. Their doubts are not drawn, and steps of less than"
            " half a second are left out.",
        ),
        partial(
            draw_frontier,
            steps=steps,
            chosen=(float(basket.price.amount), basket.saved_s),
            alone=alone,
            currency=currency,
        ),
    )


def _steps(steps: Sequence[Rung], currency: str) -> Grid:
    return Grid(
        "What more money buys",
        (f"for {currency}", "saves s", "a second more", "<in and out"),
        tuple(_step(step, at) for at, step in enumerate(steps)),
    )


def _step(step: Rung, at: int) -> tuple[Line, ...]:
    path, more = f"basket/ladder/{at}", step.per_second_more
    added, dropped = listed(step.added, last=""), listed(step.dropped, last="")
    moved = joined(
        [(f"{sign} ", *names) for sign, names in (("+", added), ("-", dropped)) if names]
    )
    return (
        (Number(f"{step.cost:f}", float(step.cost), f"{path}/price"),),
        (Number(signed_seconds(step.saved_s, None), step.saved_s, f"{path}/saved_s"),),
        ("-",) if more is None else (money(more, "", f"{path}/price_per_second_more"),),
        moved or ("nothing",),
    )
