"""``racecalc basket`` as text."""

from collections.abc import Sequence

from racecalc.answers.option_rows import rules_lines
from racecalc.decisions.basket.basket import Basket, Other, Rung
from racecalc.decisions.basket.candidates import Item
from racecalc.decisions.riding import Ridden
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import Money, amount_text
from racecalc.quantities.showing import System
from racecalc.views.basis import basis_text
from racecalc.views.ladder_page import ladder_text
from racecalc.views.tables import bullets, chance_text, paragraph, signed, table


def basket_text(base: Ridden, found: Basket, steps: Sequence[Rung], units: System) -> str:
    """The chosen set, how sure it is, what comes near, and what more money buys."""
    options = [item.option for item in found.items]
    return (
        paragraph(f"{base.race.name}: {show_duration(base.time, 1)} without any option")
        + "\n"
        + paragraph(_headline(found))
        + (_items_text(found) + "\n" + paragraph(_together(found)) if found.items else "")
        + "".join("\n" + paragraph(text) for text in _comparisons(found) if text)
        + ladder_text(steps, found.budget.currency)
        + bullets("Left out", [f"{name}: {reason}" for name, reason in found.left_out])
        + bullets("Rules of the event", map(str, rules_lines(options)))
        + basis_text(base.race, units)
        + "\n"
        + paragraph(
            "Only buy what fits, is certified for its use and allowed by the rules of the event;"
            " ask before you pay whether it may be returned, and what a deposit covers."
        )
    )


def _headline(found: Basket) -> str:
    if not found.items:
        return f"For at most {found.budget} nothing is worth having: buy nothing."
    if found.target_s is None:
        return f"Saves most for at most {found.budget}: {_saves(found)}, for {found.price}."
    chance = "unknown" if found.chance_of_target is None else chance_text(found.chance_of_target)
    return (
        f"Most likely to save at least {found.target_s:.0f} s for at most {found.budget}: a chance"
        f" of {chance}. Best estimate {_saves(found)}, for {found.price}."
    )


def _saves(found: Basket) -> str:
    if found.saved_s_low is None or found.saved_s_high is None:
        return f"{signed(found.saved_s)} s, how sure is not known"
    low, high = signed(found.saved_s_low), signed(found.saved_s_high)
    return f"{signed(found.saved_s)} s ({low} to {high} in 95 of 100 cases)"


def _items_text(found: Basket) -> str:
    ranked = sorted(found.items, key=lambda item: -item.worth.saved_s)
    return "\n" + table(
        ("<option", "alone", "cost", "<how", "a second"),
        [_item_row(item, found.budget.currency, found.races) for item in ranked],
    )


def _item_row(item: Item, currency: str, races: int) -> tuple[str, ...]:
    doubt, saved = item.worth.doubt_s, item.worth.saved_s
    give = "?" if doubt is None else f"{doubt:.1f}"
    hired = f"hired for {races} race{'s' if races > 1 else ''}"
    cost = float(item.cost)
    return (
        item.option.name,
        f"{signed(saved)} +- {give} s",
        str(Money(item.cost, currency)),
        hired if item.by == "hired" else item.by,
        amount_text(cost / saved) if saved > 0 and cost else "-",
    )


def _together(found: Basket) -> str:
    tests = f" Tested as one, which counts instead of its parts: {', '.join(found.tests)}."
    return (
        f"Alone they would add up to {signed(found.singles_s)} s; solved as one they save"
        f" {signed(found.saved_s)} s.{tests if found.tests else ''} +- is one standard"
        f" uncertainty. {_proof(found)}"
    )


def _proof(found: Basket) -> str:
    if found.target_s is not None:
        return (
            f"The chance was compared among {found.sets_compared} sets that trade seconds against"
            " doubt, the doubts of options taken as independent."
        )
    if found.proved_optimal:
        return "Proved: no other set for that money saves more."
    if found.gap_s is None:
        return "The best set found; that no other saves more is not proved."
    return f"The best set found; another could save up to {found.gap_s:.1f} s more."


def _comparisons(found: Basket) -> tuple[str, ...]:
    return (_runner_up(found), _claims(found))


def _runner_up(found: Basket) -> str:
    other = found.runner_up
    if other is None:
        return ""
    chance = other.chance_chosen_better
    if chance is None:
        sure = "Nobody can say which is better, as one of them states no doubt."
    elif other.near:
        sure = (
            f"The chosen set is the better one with a chance of {chance_text(chance)}: no clear"
            " winner, so let price, comfort and rules decide."
        )
    else:
        sure = f"The chosen set is the better one with a chance of {chance_text(chance)}."
    title = "Runner-up" if found.target_s is None else "Saves most"
    return f"{title}: {signed(other.saved_s)} s for {other.price}, {_difference(other)}. {sure}"


def _difference(other: Other) -> str:
    if not other.instead:
        return f"the same without {' and '.join(other.lacking)}"
    if not other.lacking:
        return f"the same and {' and '.join(other.instead)}"
    return f"with {' and '.join(other.instead)} instead of {' and '.join(other.lacking)}"


def _claims(found: Basket) -> str:
    if not found.unsure:
        return ""
    one = len(found.unsure) == 1
    text = (
        f"{' and '.join(found.unsure)} {'states' if one else 'state'} no doubt and"
        f" {'counts' if one else 'count'} at the maker's word."
    )
    other = found.doubted_only
    if other is None:
        return text
    return (
        f"{text} Without such claims: {signed(other.saved_s)} s for {other.price},"
        f" {_difference(other)}."
    )
