"""What to buy, what to use, what to leave and what to test first, as one set.

The options are looked at as one set and not slot by slot, since parts can spoil each other. What
nobody knows enough about is held back until a test tells; of the rest, the set is taken that is
worth most after its price, or saves most within the budget.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from racecalc.decisions.advice.advised import Advised, Do
from racecalc.decisions.advice.choosing import HARDLY, Choice, best_choice
from racecalc.decisions.advice.held_back import Known, held_back, unsafe
from racecalc.decisions.advice.spending import TOSS_UP, Spending
from racecalc.decisions.allowed import FORBIDDEN
from racecalc.decisions.basket.answer import Basket, basket_of
from racecalc.decisions.basket.ladder import Rung, rungs
from racecalc.decisions.basket.shelf import Shelf, shelf_of
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.riding import Ridden
from racecalc.decisions.testing_first import Decision
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option
from racecalc.quantities.money import Money

NO_PRICE = "nothing in the race file says what a second is worth to you, nor a budget"

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
    held_back : tuple of str
        Options that no set may hold.
    """

    advised: tuple[Advised, ...]
    basket: Basket | None
    steps: tuple[Rung, ...]
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
    whole = shelf_of(base, options, base.race.tested_sets, spending.races)
    known = Known(whole, {value.option.name: value for value in values}, decision, spending)
    dangerous = unsafe(base, options)
    trusted = _parts_of_tests(whole)
    while True:
        held = {**held_back(known, trusted), **dangerous}
        found = _chosen(base, options, held, known)
        bare = set(found.basket.unsure) & set(trusted) if found.basket else set()
        if not bare:
            return found
        # Their set is not worth having, so that they would be there as bare claims.
        trusted -= bare


def _parts_of_tests(shelf: Shelf) -> set[str]:
    """Items that are part of a set whose test states a doubt."""
    tested = (test.members for test in shelf.tested if test.doubt_s is not None)
    return set(shelf.names_of(frozenset[int]().union(*tested)))


def _chosen(
    base: Ridden, options: Sequence[Option], held: Mapping[str, Advised], known: Known
) -> Shopping:
    spending = known.spending
    shelf = shelf_of(base, options, base.race.tested_sets, spending.races, tuple(held))
    out = {**_left_out(shelf.left_out), **held}
    most = sorted(known.values.values(), key=lambda value: -value.saved_s)
    names = [value.option.name for value in most]
    if not shelf.items:
        return Shopping(tuple(out[name] for name in names), None, (), tuple(held))
    slopes = Slopes(shelf)
    choice, sets = best_choice(slopes, spending)
    basket = basket_of(slopes, Money(choice.cost, spending.currency(options)), races=spending.races)
    choice = Choice(slopes, basket.chosen, spending)
    advised = tuple(out[name] if name in out else _advised(name, choice) for name in names)
    return Shopping(advised, basket, rungs(slopes, [*sets, basket.chosen]), tuple(held))


def _left_out(reasons: Iterable[tuple[str, str]]) -> dict[str, Advised]:
    """What rules and wishes keep out."""
    return {
        name: Advised(name, "forbidden" if because == FORBIDDEN else "leave", because)
        for name, because in reasons
    }


def _advised(name: str, choice: Choice) -> Advised:
    number = choice.slopes.shelf.number_of(name)
    if number is None:
        raise KeyError(name)
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
    return f"in this set a second of it costs {each}{_worth(choice)}"


def _left(name: str, number: int, choice: Choice) -> Advised:
    if choice.slopes.shelf.items[number].worth.saved_s <= 0:
        return Advised(name, "leave", "it saves nothing here")
    other = choice.beside(number)
    more, cost = choice.change(other)
    kept = " and ".join(choice.slopes.shelf.names_of(choice.numbers - other))
    instead = f"in the place of {kept}" if kept else "beside the rest"
    if not choice.numbers:
        instead = "by itself"
    if more < HARDLY:
        return Advised(name, "leave", f"{instead} it saves nothing more")
    each, spending = f"a second of it would cost {choice.price_of(more, cost)}", choice.spending
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
