"""What to buy, what to use, what to leave and what to test first, as one set.

The options are looked at as one set and not slot by slot, since parts can spoil each other. What
nobody knows enough about is held back until a test tells; of the rest, the set is taken that is
worth most after its price, or saves most within the budget.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from racecalc.decisions.advice.advised import Advised, Do
from racecalc.decisions.advice.choosing import Choice, best_choice
from racecalc.decisions.advice.held_back import Known, held_back, unproved_sets, unsafe
from racecalc.decisions.advice.spending import TOSS_UP, Spending
from racecalc.decisions.allowed import FORBIDDEN
from racecalc.decisions.basket.answer import Basket, basket_of
from racecalc.decisions.basket.ladder import Rung, ladder
from racecalc.decisions.basket.shelf import NO_PRICE_STATED, Shelf, numbers_of, shelf_of
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.proposals import SHOWN_AS_NONE
from racecalc.decisions.riding import Ridden
from racecalc.decisions.testing_first import Decision
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option
from racecalc.quantities.money import Money

NO_PRICE = "nothing in the race file says what a second is worth to you, nor a budget"

WORDS: Mapping[str, Do] = {FORBIDDEN: "forbidden", NO_PRICE_STATED: "unpriced"}
"""What to do, by why an option is not on the shelf."""

BY: Mapping[str, Do] = {"bought": "buy", "hired": "hire", "owned": "use", "free": "use"}


@dataclass(frozen=True)
class Shopping:
    """What to do about every option.

    Parameters
    ----------
    advised : tuple of Advised
        One for each option that can be worked out, the greatest saving first.
    basket : Basket or None
        The set that is to be bought and used, best within what it costs; None where there is
        nothing that may be.
    steps : tuple of Rung
        What more money buys, of what is not held back.
    required : tuple of str
        Options that are in every set, as parts of tests that tell about bare claims.
    held_back : tuple of str
        Options that no set may hold, and tests of sets that do not count.
    """

    advised: tuple[Advised, ...]
    basket: Basket | None
    steps: tuple[Rung, ...]
    required: tuple[str, ...]
    held_back: tuple[str, ...]

    @property
    def price(self) -> Money | None:
        """What the set costs."""
        return self.basket.price if self.basket else None

    def to(self, *does: Do) -> tuple[str, ...]:
        """Names of the options with which to do so, in their order."""
        return tuple(one.name for one in self.advised if one.do in does)


def shop(
    base: Ridden,
    options: Sequence[Option],
    values: Sequence[OptionValue],
    spending: Spending,
    decision: Decision | None,
) -> Shopping:
    """Say of every option whether to buy, use, test or leave it.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    options : sequence of Option
        Single options that can be worked out, prices in one currency.
    values : sequence of OptionValue
        What each is worth, in the same order.
    spending : Spending
        What may be spent.
    decision : Decision or None
        Whether a test first is worth its cost, slot by slot; None where nobody can say.

    Returns
    -------
    Shopping
        What to do, and why.
    """

    def shelf_without(names: Collection[str]) -> Shelf:
        return shelf_of(base, options, base.race.tested_sets, spending.races, names)

    whole = shelf_without(())
    doubted, dangerous = unproved_sets(whole), unsafe(base, options)
    known = Known(whole, {value.option.name: value for value in values}, decision, spending)
    tested = (test for test in whole.tested if test.name not in doubted)
    parts = whole.names_of(frozenset[int]().union(*(test.members for test in tested)))
    held = {**held_back(known, parts), **dangerous}
    slopes = Slopes(shelf_without((*held, *doubted)))
    kept = slopes.shelf.names_of(best_choice(slopes, spending).numbers)
    # Bare claims that came in with a tested set stay with it; all others are out.
    final = {**held_back(known, [name for name in parts if name in kept]), **dangerous}
    without = (*final, *doubted)
    if final.keys() != held.keys():
        slopes = Slopes(shelf_without(without))
    return _described(slopes, known, without, final, kept)


def _described(
    slopes: Slopes,
    known: Known,
    without: tuple[str, ...],
    held: Mapping[str, Advised],
    kept: Sequence[str],
) -> Shopping:
    """The set by its names, proved, and what to do about every option beside it."""
    spending, shelf = known.spending, slopes.shelf
    out = {**_left_out(shelf.left_out), **held}
    most = sorted(known.values.values(), key=lambda value: -value.saved_s)
    names = [value.option.name for value in most]
    if not shelf.items:
        return Shopping(tuple(out[name] for name in names), None, (), (), without)
    numbers = numbers_of(shelf, kept, "the advice")
    claims = tuple(one for one in numbers if shelf.items[one].worth.doubt_s is None)
    required = _with_their_sets(shelf, numbers) if claims else frozenset[int]()
    price = Money(shelf.cost_of(numbers), spending.currency(value.option for value in most))
    basket = basket_of(slopes, price, required, races=spending.races)
    choice = Choice(slopes, basket.chosen, spending)
    advised = tuple(out[name] if name in out else _advised(name, choice) for name in names)
    steps = ladder(slopes, required, known=[basket.chosen])
    return Shopping(advised, basket, steps, shelf.names_of(required), without)


def _with_their_sets(shelf: Shelf, numbers: frozenset[int]) -> frozenset[int]:
    """Members of the tests that hold for a set and hold its bare claims."""
    tests, _ = shelf.told_by(numbers)
    return frozenset[int]().union(*(test.members for test in tests))


def _left_out(reasons: Iterable[tuple[str, str]]) -> dict[str, Advised]:
    """What rules and wishes keep out."""
    return {name: Advised(name, WORDS.get(because, "leave"), because) for name, because in reasons}


def _advised(name: str, choice: Choice) -> Advised:
    (number,) = numbers_of(choice.slopes.shelf, [name], "the advice")
    if number in choice.numbers:
        by = choice.slopes.shelf.items[number].by
        return Advised(name, BY[by], _why(number, choice))
    return _left(name, number, choice)


def _why(number: int, choice: Choice) -> str:
    item = choice.slopes.shelf.items[number]
    if not item.cost:
        return "you have it" if item.by == "owned" else "it costs nothing"
    if needed := choice.needed_by(number):
        return f"{' and '.join(needed)} cannot be used without it"
    less, saving = choice.change(choice.without(number))
    each = choice.price_of(-less, -saving)
    return f"in this set a second of it costs {each}{_hired(number, choice)}{_worth(choice)}"


def _left(name: str, number: int, choice: Choice) -> Advised:
    if choice.slopes.shelf.items[number].worth.saved_s <= 0:
        return Advised(name, "leave", "it saves nothing here")
    other = choice.beside(number)
    more, cost = choice.change(other)
    kept = " and ".join(choice.slopes.shelf.names_of(choice.numbers - other))
    instead = f"in the place of {kept}" if kept else "beside the rest"
    if not choice.numbers:
        instead = "by itself"
    if more < SHOWN_AS_NONE:
        return Advised(name, "leave", f"{instead} it saves nothing more")
    price, spending = choice.price_of(more, cost), choice.spending
    each = f"a second of it would cost {price}{_hired(number, choice)}"
    if not spending.stated:
        return Advised(name, "weigh", f"{each}; {NO_PRICE}")
    if not spending.pays(more, cost):
        close = ": a toss-up" if spending.pays(more, cost, TOSS_UP) else ""
        return Advised(name, "leave", f"{instead} {each}{_worth(choice)}{close}")
    if not spending.allows(choice.slopes.shelf.cost_of(other)):
        return Advised(name, "leave", f"it does not fit into the budget {instead}")
    return Advised(name, "leave", "another set is worth more")


def _worth(choice: Choice) -> str:
    """What a second is worth, as the end of a sentence; empty where nobody says."""
    worth = choice.spending.per_second
    return f", where one is worth {worth} to you" if worth else ""


def _hired(number: int, choice: Choice) -> str:
    """For how many races a price of hire is; empty for what is bought."""
    races = choice.spending.races
    hired = choice.slopes.shelf.items[number].by == "hired"
    return f" (hired for {races} race{'s' if races > 1 else ''})" if hired else ""
