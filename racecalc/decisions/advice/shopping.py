"""One set to buy, hire and use, and what to do about every other option.

What to buy, what to use, what to leave and what to test first, as one set. The options are looked
at as one set and not slot by slot, since parts can spoil each other. What nobody knows enough about
is held back until a test tells; of the rest, the set is taken that `basket` would fill: the one
that is worth most after its cost, or saves most within the budget.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Literal

from racecalc.decisions.allowed import FORBIDDEN, NO_PRICE_STATED, waiting
from racecalc.decisions.basket.basket import Basket, Rung, basket_of, ladder
from racecalc.decisions.basket.candidates import (
    Candidates,
    Item,
    Slopes,
    candidates_of,
    numbers_of,
    unproved_sets,
)
from racecalc.decisions.basket.search import Programme, best_set
from racecalc.decisions.deciding import SHOWN_AS_NONE, Decision
from racecalc.decisions.money import amount_of
from racecalc.decisions.riding import Ridden
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option, able, put_in
from racecalc.quantities.money import Money, amount_text
from racecalc.written import HIDDEN

# --- What may be spent ---------------------------------------------------------------------------

TOSS_UP = 1.1
"""Price of a second over what one is worth up to which nobody can call it too dear; our choice."""


@dataclass(frozen=True)
class Spending:
    """What may be spent."""

    per_second: Money | None
    """Most that a second in each of the races counted is worth to the athlete in all."""
    budget: Money | None
    """Most cash to spend in all."""

    @property
    def stated(self) -> bool:
        """Whether anything says what may be bought."""
        return self.per_second is not None or self.budget is not None

    def pays(self, seconds: float, cost: float, within: float = 1.0) -> bool:
        """Whether seconds are worth so many times their cost; yes where it is not stated."""
        worth = self.per_second
        return worth is None or cost <= within * float(worth.amount) * seconds

    def allows(self, cash: Decimal) -> bool:
        """Whether so much may be paid for a set; nothing, where nothing says what may."""
        if not self.stated:
            return not cash
        return self.budget is None or cash <= self.budget.amount

    def currency(self, options: Iterable[Option]) -> str:
        """Currency of all prices; "EUR" where there are none."""
        prices = (money for one in options for money in (one.price, one.ownership.hire))
        amounts = (self.budget, self.per_second, *prices)
        return next((amount.currency for amount in amounts if amount), "EUR")

    @property
    def limit(self) -> Money | None:
        """Most cash that may be paid: none where nothing says what may, None for no limit."""
        return self.budget if self.stated else Money(Decimal(0), "EUR")


# --- The words for what to do about an option ----------------------------------------------------

Do = Literal[
    "buy", "hire", "use", "test", "wait", "weigh", "leave", "unpriced", "forbidden", "unsafe"
]

PAID: tuple[Do, ...] = ("buy", "hire")
USED: tuple[Do, ...] = (*PAID, "use")


@dataclass(frozen=True)
class Advised:
    """What to do about one option."""

    name: str
    """The option."""
    do: Do
    """One of `Do`: "use" is for what costs nothing more; "test" is to test before paying for it or
    counting on it; "wait" for the test of another one that takes its place or is needed; "weigh"
    is for what is faster where nothing says what a second may cost; "unpriced" states no price;
    "forbidden" is by the rules, and "unsafe" in this weather.
    """
    because: str
    """Why, in words that go on after a colon."""
    short: Annotated[str, HIDDEN] = ""
    """The same in two or three words; empty where "do" says it."""


# --- Options that no set may hold ----------------------------------------------------------------

LIKELY = 0.75
"""Chance of being faster from which something free is used though it is not proved; our choice."""

DECIDED = "a test first is worth more than it costs"
CLAIM = "no doubt is stated, so whether it saves anything is unknown: ask how it was tested, or"
DEAR, OVER, NOTHING = "poor value", "over budget", "no gain"
"""Why something is left, in short."""

BEFORE_MONEY, BEFORE_TRUST = " test it before you pay", " test it before you count on it"


@dataclass(frozen=True)
class KnownOptions:
    """What is known of the options."""

    candidates: Candidates
    """All that rules and wishes allow."""
    values: Mapping[str, OptionValue]
    """What each is worth."""
    decision: Decision | None
    """Whether a test first is worth its cost, slot by slot; None where that is unknown."""
    spending: Spending
    """What may be spent."""


def unsafe(candidates: Candidates) -> dict[str, Advised]:
    """Options that this weather forbids whatever they save."""
    return {
        one.name: Advised(one.name, "unsafe", one.because)
        for one in candidates.left_out
        if one.unsafe
    }


def unsettled(known: KnownOptions, trusted: Iterable[str] = ()) -> dict[str, Advised]:
    """Options of which too little is known to pay for them or to count on them."""
    found = dict(_unproved(known, frozenset(trusted)))
    items = known.candidates.items
    reasons = waiting(
        [item.option for item in items],
        [item.option.name for item in items if item.paid],
        found,
        [name for name, one in found.items() if one.because == DECIDED],
    )
    return found | {name: Advised(name, "wait", because) for name, because in reasons.items()}


def _unproved(known: KnownOptions, trusted: frozenset[str]) -> Iterator[tuple[str, Advised]]:
    for item in known.candidates.items:
        value = known.values[item.option.name]
        name = value.option.name
        if value.saved_s <= 0 or name in trusted or value.exchange.in_use:
            continue
        if item.paid and value.verdict == "tie" and known.spending.per_second is None:
            because = f"too little to matter: {value.because}"
            yield name, Advised(name, "leave", because, "too little")
        elif because := _test_first(item, value, known):
            yield name, _worth_testing(Advised(name, "test", because), item, value, known)


def _test_first(item: Item, value: OptionValue, known: KnownOptions) -> str:
    """Why a test should come first; empty where none need."""
    if item.worth.doubt_s is None:
        unproved = item.option.unproved
        claim = f"{unproved};" if unproved else CLAIM
        return claim + (BEFORE_MONEY if item.paid else BEFORE_TRUST)
    name = value.option.name
    for slot in known.decision.slots if known.decision else ():
        if name in [prospect.name for prospect in slot.prospects]:
            return DECIDED if slot.action.kind == "test" and name in slot.action.names else ""
    if not item.paid:
        unlikely = value.verdict == "undecided" and (value.chance_faster or 0.0) < LIKELY
        return f"not proved, and it may cost time: {value.because}" if unlikely else ""
    return f"not proved: {value.because}" if value.verdict == "undecided" else ""


def _worth_testing(test: Advised, item: Item, value: OptionValue, known: KnownOptions) -> Advised:
    """The advice to test, or to leave what is too dear at its very best."""
    best = value.saved_s if value.saved_s_high is None else value.saved_s_high
    spending = known.spending
    if item.paid and spending.stated and not spending.allows(item.cash):
        return Advised(test.name, "leave", "it does not fit the budget, and is not proved", OVER)
    if not spending.pays(best, value.cost or item.cost):
        because = "even the most that it may save is not worth its cost"
        return Advised(test.name, "leave", because, DEAR)
    return test


# --- A set next to those that differ by one option -----------------------------------------------


@dataclass(frozen=True)
class ComparedSet:
    """A set, and all that differ from it by one option."""

    slopes: Slopes
    """Solves every set."""
    numbers: frozenset[int]
    """Of the items in it."""
    spending: Spending
    """What may be spent."""

    @property
    def candidates(self) -> Candidates:
        """What it is chosen from."""
        return self.slopes.candidates

    def option(self, number: int) -> Option:
        """An item by its number."""
        return self.candidates.items[number].option

    def change(self, other: frozenset[int]) -> tuple[float, float]:
        """Seconds and costs that another set has over this one."""
        more = self.slopes.saved(other) - self.slopes.saved(self.numbers)
        return more, self.candidates.cost_of(other) - self.candidates.cost_of(self.numbers)

    @property
    def known(self) -> dict[str, Option]:
        """The options that it is chosen from, by name."""
        return {item.option.name: item.option for item in self.candidates.items}

    def adding(self, number: int) -> frozenset[int]:
        """The set with one more item, and what that needs, in the place of what cannot stay."""
        used = self.candidates.names_of(self.numbers)
        return self._numbers(put_in(used, [self.option(number).name], self.known))

    def without(self, number: int) -> frozenset[int]:
        """The set without an item, what needs it, and what serves nothing but it."""
        kept = self.candidates.names_of(self.numbers - {number})
        rest = self._numbers(able(kept, self.known))
        return frozenset(at for at in rest if not self._serves_only(at, number, rest))

    def needed_by(self, number: int) -> tuple[str, ...]:
        """Names of those in the set that need an item."""
        name, options = self.option(number).name, map(self.option, sorted(self.numbers))
        return tuple(one.name for one in options if name in one.restrictions.needs)

    def price_of(self, seconds: float, cost: float) -> str:
        """Money for each second, in words."""
        if seconds < SHOWN_AS_NONE:
            return "an unknown amount"
        options = [item.option for item in self.candidates.items]
        return amount_text(cost / seconds, self.spending.currency(options))

    def _numbers(self, names: Iterable[str]) -> frozenset[int]:
        return numbers_of(self.candidates, names, "the advice")

    def _serves_only(self, at: int, number: int, rest: frozenset[int]) -> bool:
        """Whether an item saves nothing itself and was there for another one alone."""
        name = self.option(at).name
        return (
            name in self.option(number).restrictions.needs
            and self.candidates.items[at].worth.saved_s < SHOWN_AS_NONE
            and not any(name in self.option(one).restrictions.needs for one in rest)
        )


# --- What to buy, what to use, what to leave and what to test first, as one set ------------------

NO_PRICE = "the race file states neither a budget nor what a second is worth to you"

WORDS: Mapping[str, Do] = {FORBIDDEN: "forbidden", NO_PRICE_STATED: "unpriced"}
"""What to do, by why an option is not among the candidates."""

BY: Mapping[str, Do] = {"bought": "buy", "hired": "hire", "owned": "use", "free": "use"}


@dataclass(frozen=True)
class Shopping:
    """What to do about every option."""

    advised: tuple[Advised, ...]
    """One for each option that can be worked out, the greatest saving first."""
    basket: Basket | None
    """The set that is to be bought and used, best within what it costs; None where there is nothing
    that may be.
    """
    steps: tuple[Rung, ...]
    """What more money buys, of what is not excluded."""
    required: tuple[str, ...]
    """Options that are in every set, as parts of tests that tell about bare claims."""
    excluded: tuple[str, ...]
    """Options that no set may hold, and tests of sets that do not count."""

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
    """Say of every option whether to buy, use, test or leave it."""

    def candidates_without(names: Collection[str]) -> Candidates:
        return candidates_of(base, options, base.race.tested_sets, without=names)

    whole = candidates_without(())
    doubted, dangerous = unproved_sets(whole), unsafe(whole)
    known = KnownOptions(whole, {value.option.name: value for value in values}, decision, spending)
    tested = (test for test in whole.tested if test.name not in doubted)
    parts = whole.names_of(frozenset[int]().union(*(test.members for test in tested)))
    held = {**unsettled(known, parts), **dangerous}
    slopes = Slopes(candidates_without((*held, *doubted)))
    kept = _worth_most(slopes, spending)
    # Bare claims that came in with a tested set stay with it; all others are out.
    final = {**unsettled(known, [name for name in parts if name in kept]), **dangerous}
    without = (*final, *doubted)
    if final.keys() != held.keys():
        slopes = Slopes(candidates_without(without))
    return _described(slopes, known, without, final, kept)


def _worth_most(slopes: Slopes, spending: Spending) -> tuple[str, ...]:
    """Names of the set that is worth most, bare claims in it only as parts of tested sets."""
    if not slopes.candidates.items:
        return ()
    programme = Programme(slopes.candidates, (), amount_of(spending.per_second))
    best = best_set(slopes, programme, amount_of(spending.limit), programme.sound())
    return slopes.candidates.names_of(best.chosen)


def _described(
    slopes: Slopes,
    known: KnownOptions,
    without: tuple[str, ...],
    held: Mapping[str, Advised],
    kept: Sequence[str],
) -> Shopping:
    """The set by its names, proved, and what to do about every other option."""
    spending, candidates = known.spending, slopes.candidates
    # What rules and wishes keep out, and what is held back.
    reasons = {one.name: one.because for one in candidates.left_out}
    out = {
        name: Advised(name, WORDS.get(why, "leave"), why, _in_short(why))
        for name, why in reasons.items()
    }
    out |= held
    most = sorted(known.values.values(), key=lambda value: -value.saved_s)
    names = [value.option.name for value in most]
    if not candidates.items:
        return Shopping(tuple(out[name] for name in names), None, (), (), without)
    known_numbers = map(candidates.number_of, kept)
    numbers, required = frozenset(at for at in known_numbers if at is not None), frozenset[int]()
    if not (numbers - candidates.used).isdisjoint(candidates.claims):
        # Bare claims are held by the tests of their sets.
        tests, _ = candidates.tests_and_rest(numbers)
        required = required.union(*(test.members for test in tests))
    basket = basket_of(slopes, spending.limit, required, per_second=spending.per_second)
    choice = ComparedSet(slopes, basket.numbers, spending)
    advised = tuple(out[name] if name in out else _advised(name, choice) for name in names)
    steps = ladder(slopes, required, chosen=basket.numbers)
    return Shopping(advised, basket, steps, candidates.names_of(required), without)


def _in_short(why: str) -> str:
    """Why an option cannot be chosen, in two or three words where "do" does not say it."""
    shorts = {"it is worth less": "too little", "it needs": "needs another"}
    return next((short for begin, short in shorts.items() if why.startswith(begin)), "")


def _advised(name: str, choice: ComparedSet) -> Advised:
    (number,) = numbers_of(choice.candidates, [name], "the advice")
    if number in choice.numbers:
        return Advised(name, BY[choice.candidates.items[number].by], _why(number, choice))
    return Advised(name, *_left(number, choice))


def _why(number: int, choice: ComparedSet) -> str:
    item = choice.candidates.items[number]
    if not item.paid:
        return "you have it" if item.by == "owned" else "it costs nothing"
    if needed := choice.needed_by(number):
        return f"{' and '.join(needed)} cannot be used without it"
    less, saving = choice.change(choice.without(number))
    each = choice.price_of(-less, -saving)
    costs = f"{each}{_hired(number, choice)}{_worth(choice)}"
    return f"in this set each second that it saves costs {costs}"


def _left(number: int, choice: ComparedSet) -> tuple[Do, str, str]:
    """Why an item is not in the set, or has to be weighed, at length and in short."""
    if choice.candidates.items[number].worth.saved_s <= 0:
        return "leave", "it saves nothing here", NOTHING
    other = choice.adding(number)
    more, cost = choice.change(other)
    kept = " and ".join(choice.candidates.names_of(choice.numbers - other))
    instead = f"instead of {kept}" if kept else "with the rest"
    if not choice.numbers:
        instead = "by itself"
    if more < SHOWN_AS_NONE:
        return "leave", f"{instead} it saves nothing more", NOTHING
    price, spending = choice.price_of(more, cost), choice.spending
    each = f"each second that it saves would cost {price}{_hired(number, choice)}"
    if not spending.stated:
        return "weigh", f"{each}; {NO_PRICE}", ""
    if not spending.pays(more, cost):
        close = ", a close call" if spending.pays(more, cost, TOSS_UP) else ""
        return "leave", f"{instead} {each}{_worth(choice)}{close}", DEAR
    if not spending.allows(choice.candidates.cash_of(other)):
        return "leave", f"it does not fit the budget {instead}", OVER
    return "leave", "another set is worth more", "worth less"


def _worth(choice: ComparedSet) -> str:
    """What a second is worth, as the end of a sentence; empty where it is not stated."""
    worth = choice.spending.per_second
    return f", and a second is worth {worth} to you" if worth else ""


def _hired(number: int, choice: ComparedSet) -> str:
    """For how many races a price of hire is; empty for what is bought."""
    races = choice.candidates.races
    hired = choice.candidates.items[number].by == "hired"
    return f" (hired for {races} race{'s' if races > 1 else ''})" if hired else ""
