"""What to buy, what to use, what to leave and what to test first, as one set.

The options are looked at as one set and not slot by slot, since parts can spoil each other. What
nobody knows enough about is held back until a test tells; of the rest, the set is taken that is
worth most after its price, or saves most within the budget.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from racecalc.decisions.basket.answer import Basket, basket_of
from racecalc.decisions.basket.ladder import Rung, budgets, climbed, rungs
from racecalc.decisions.basket.programme import Programme
from racecalc.decisions.basket.shelf import Item, Shelf, shelf_of
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.days import stated_day
from racecalc.decisions.handling import JUDGED, ruled_out, speed_words
from racecalc.decisions.proposals import SHOWN_AS_NONE
from racecalc.decisions.riding import Ridden
from racecalc.decisions.testing_first import Decision
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option
from racecalc.quantities.money import Money, amount_text

Do = Literal["buy", "hire", "use", "test", "weigh", "leave"]

CLAIM = "it states no doubt, so nobody can say whether it saves anything: ask how it was tested, or"
BEFORE_MONEY, BEFORE_TRUST = " test it before you pay", " test it before you count on it"
NO_PRICE = "nothing in the race file says what a second is worth to you, nor a budget"

BY: Mapping[str, Do] = {"bought": "buy", "hired": "hire", "owned": "use", "free": "use"}


@dataclass(frozen=True)
class Advised:
    """What to do about one option.

    Parameters
    ----------
    name : str
        The option.
    do : {"buy", "hire", "use", "test", "weigh", "leave"}
        "use" is for what costs nothing more; "test" is to test before paying; "weigh" is for what
        is proved faster, where nothing says what a second may cost.
    because : str
        Why, in words that go on after a colon.
    """

    name: str
    do: Do
    because: str


@dataclass(frozen=True)
class Spending:
    """What may be spent.

    Parameters
    ----------
    per_second : Money or None
        Most that a second is worth to the athlete.
    budget : Money or None
        Most to spend in all.
    races : int
        Races for which hired things are hired.
    """

    per_second: Money | None
    budget: Money | None
    races: int

    @property
    def stated(self) -> bool:
        """Whether anything says what may be bought."""
        return self.per_second is not None or self.budget is not None

    def worth(self, saved_s: float, cost: Decimal) -> float:
        """What a set is worth after its price; its seconds where no price of a second is stated."""
        if self.per_second is None:
            return saved_s
        return float(self.per_second.amount) * saved_s - float(cost)

    def pays(self, seconds: float, cost: Decimal) -> bool:
        """Whether seconds are worth their price; unknown counts as yes."""
        return self.per_second is None or float(cost) <= float(self.per_second.amount) * seconds

    def allows(self, cost: Decimal) -> bool:
        """Whether a set may cost so much; nothing, where nothing says what it may."""
        if not self.stated:
            return not cost
        return self.budget is None or cost <= self.budget.amount


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
        Options that no set may hold until more is known of them.
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
    tests = base.race.tested_sets
    shelf = shelf_of(base, options, tests, spending.races)
    back = _held_back(shelf, {value.option.name: value for value in values}, decision)
    unsafe = _unsafe(base, options)
    if back or unsafe:
        shelf = shelf_of(base, options, tests, spending.races, (*back, *unsafe))
    reasons = {**dict(shelf.left_out), **back, **unsafe}
    most, to_test = _most_first(values), back.keys() - unsafe.keys()
    held = (*back, *(unsafe.keys() - back.keys()))
    if not shelf.items:
        left = [_barred(option.name, reasons, to_test) for option in most]
        return Shopping(tuple(left), None, (), held)
    slopes = Slopes(shelf)
    programme = Programme(shelf)
    sets = list(climbed(slopes, programme, budgets(slopes, programme)))
    fitting = [step for step in rungs(slopes, sets) if spending.allows(step.cost)]
    best = max(fitting, key=lambda step: spending.worth(step.saved_s, step.cost), default=None)
    cost = best.cost if best else Decimal(0)
    basket = basket_of(slopes, Money(cost, _currency(options, spending)), races=spending.races)
    chosen = _Chosen(slopes, basket.chosen, spending)
    advised = [_advised(option.name, chosen, reasons, to_test) for option in most]
    steps = rungs(slopes, [*sets, basket.chosen])
    return Shopping(tuple(advised), basket, steps, held)


def _most_first(values: Sequence[OptionValue]) -> list[Option]:
    return [value.option for value in sorted(values, key=lambda one: -one.saved_s)]


def _unsafe(base: Ridden, options: Iterable[Option]) -> dict[str, str]:
    """Options that this weather forbids whatever they save, with the reason."""
    day = stated_day(base.race)
    wind = speed_words(day.wind_at_rider)
    return {
        option.name: f"the wind of {wind} at the rider is too strong for it ({JUDGED})"
        for option in options
        if ruled_out(option, day)
    }


def _currency(options: Iterable[Option], spending: Spending) -> str:
    amounts = (spending.budget, spending.per_second, *_prices(options))
    return next((amount.currency for amount in amounts if amount), "EUR")


def _prices(options: Iterable[Option]) -> Iterator[Money | None]:
    for option in options:
        yield option.price
        yield option.upkeep.hire


def _held_back(
    shelf: Shelf, values: Mapping[str, OptionValue], decision: Decision | None
) -> dict[str, str]:
    """Options of which too little is known to pay for them or to count on them, with the reason."""
    found = {}
    for item in shelf.items:
        value = values[item.option.name]
        if value.saved_s <= 0:
            continue
        if item.worth.doubt_s is None:
            found[value.option.name] = CLAIM + (BEFORE_MONEY if item.cost else BEFORE_TRUST)
        elif item.cost and (because := _test_first(value, decision)):
            found[value.option.name] = because
    return found


def _test_first(value: OptionValue, decision: Decision | None) -> str:
    """Why a test should come before the money; empty where none need."""
    name = value.option.name
    if decision is None:
        unproved = value.verdict == "undecided"
        return f"not proved: {value.because}" if unproved else ""
    for slot in decision.slots:
        if name not in [prospect.name for prospect in slot.prospects]:
            continue
        if slot.action.kind != "test":
            return ""
        if name in slot.action.names:
            return "a test first is worth more than it costs"
        tested = " and ".join(slot.action.names)
        return f"wait for the test of {tested}, which goes into the same slot"
    return ""


@dataclass(frozen=True)
class _Chosen:
    """The set, beside which every other option is looked at."""

    slopes: Slopes
    numbers: frozenset[int]
    spending: Spending

    def beside(self, number: int) -> frozenset[int]:
        """The set with one more item, and what it needs, in the place of what cannot stay."""
        items = self.slopes.shelf.items
        named = {item.option.name: at for at, item in enumerate(items)}
        added = {number, *(named[name] for name in items[number].option.ties.needs)}
        kept = {
            at
            for at in self.numbers
            if not any(_rivals(items[at].option, items[one].option) for one in added)
        }
        return frozenset(kept | added)

    @property
    def where_one_is_worth(self) -> str:
        """What a second is worth, as the end of a sentence; empty where nobody says."""
        worth = self.spending.per_second
        return f", where one is worth {worth} to you" if worth else ""

    def price_of(self, seconds: float, cost: Decimal) -> str:
        """Money for each second, in words."""
        options = [item.option for item in self.slopes.shelf.items]
        if seconds < SHOWN_AS_NONE:
            return "more than can be told"
        return amount_text(float(cost) / seconds, _currency(options, self.spending))

    def change(self, other: frozenset[int]) -> tuple[float, Decimal]:
        """Seconds and money that another set has over this one."""
        slopes = self.slopes
        return (
            slopes.saved(other) - slopes.saved(self.numbers),
            slopes.shelf.cost_of(other) - slopes.shelf.cost_of(self.numbers),
        )


def _rivals(one: Option, other: Option) -> bool:
    """Whether two options cannot be used together."""
    return (
        bool(one.slot and one.slot == other.slot)
        or other.name in one.ties.excludes
        or one.name in other.ties.excludes
        or not (one.holding.always or other.holding.always)
    )


def _advised(name: str, chosen: _Chosen, reasons: Mapping[str, str], to_test: Set[str]) -> Advised:
    number = chosen.slopes.shelf.number_of(name)
    if number is None:
        return _barred(name, reasons, to_test)
    item = chosen.slopes.shelf.items[number]
    if number in chosen.numbers:
        return Advised(name, BY[item.by], _why(item, number, chosen))
    return _left(item, number, chosen)


def _why(item: Item, number: int, chosen: _Chosen) -> str:
    if not item.cost:
        return "you have it" if item.by == "owned" else "it costs nothing"
    less, saving = chosen.change(chosen.numbers - {number})
    each = chosen.price_of(-less, -saving)
    return f"in this set a second of it costs {each}{chosen.where_one_is_worth}"


def _barred(name: str, reasons: Mapping[str, str], to_test: Set[str]) -> Advised:
    return Advised(name, "test" if name in to_test else "leave", reasons[name])


def _left(item: Item, number: int, chosen: _Chosen) -> Advised:
    name = item.option.name
    if item.worth.saved_s <= 0:
        return Advised(name, "leave", "it saves nothing here")
    other = chosen.beside(number)
    more, cost = chosen.change(other)
    kept = " and ".join(chosen.slopes.shelf.names_of(chosen.numbers - other))
    instead = f" in the place of {kept}" if kept else " beside the rest"
    if more < SHOWN_AS_NONE:
        return Advised(name, "leave", f"it saves nothing more{instead}")
    each, spending = f"a second of it would cost {chosen.price_of(more, cost)}", chosen.spending
    if not spending.stated:
        return Advised(name, "weigh", f"{each}; {NO_PRICE}")
    if not spending.pays(more, cost):
        return Advised(name, "leave", f"{instead.lstrip()} {each}{chosen.where_one_is_worth}")
    return Advised(name, "leave", f"it does not fit into the budget{instead}")
