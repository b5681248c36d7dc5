"""Options that no set may hold: unsafe in this weather, or not known well enough yet."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from racecalc.decisions.advice.advised import Advised
from racecalc.decisions.advice.spending import Spending
from racecalc.decisions.allowed import clash
from racecalc.decisions.basket.shelf import Item, Shelf, TestedSet
from racecalc.decisions.days import Day, stated_day
from racecalc.decisions.handling import GUST_CAUTION, JUDGED, is_hot, ruled_out, speed_words
from racecalc.decisions.riding import Ridden
from racecalc.decisions.testing_first import Decision
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import interval
from racecalc.domain.air import Air
from racecalc.domain.option import Option
from racecalc.domain.race import Change

DRINK = ("bottle", "drink", "hydration", "water")
"""Words by which an option is known that carries less to drink where it is lighter."""

LIKELY = 0.75
"""Chance of being faster from which something free is used though it is not proved; our choice."""

DECIDED = "a test first is worth more than it costs"
CLAIM = "it states no doubt, so nobody can say whether it saves anything: ask how it was tested, or"
BEFORE_MONEY, BEFORE_TRUST = " test it before you pay", " test it before you count on it"


@dataclass(frozen=True)
class Known:
    """What is known of the options.

    Parameters
    ----------
    shelf : Shelf
        All that rules and wishes allow.
    values : mapping of str to OptionValue
        What each is worth.
    decision : Decision or None
        Whether a test first is worth its cost, slot by slot; None where nobody can say.
    spending : Spending
        What may be spent.
    """

    shelf: Shelf
    values: Mapping[str, OptionValue]
    decision: Decision | None
    spending: Spending


def unsafe(base: Ridden, options: Iterable[Option]) -> dict[str, Advised]:
    """Options that this weather forbids whatever they save.

    No race file states gusts, so a mean wind from which gusts would want care is enough.
    """
    day, found = stated_day(base.race), {}
    for option in options:
        because = _too_windy(day, option) or _too_hot(day.air, option)
        if because:
            found[option.name] = Advised(option.name, "unsafe", because)
    return found


def _too_windy(day: Day, option: Option) -> str:
    wind = day.wind_at_rider
    if not option.ties.catches_wind or wind < GUST_CAUTION:
        return ""
    words = f"the mean wind is {speed_words(wind)} at the rider"
    if ruled_out(option, day):
        return f"{words}, too strong for it ({JUDGED})"
    return f"{words}, and gusts, which nobody states, will be too strong for it ({JUDGED})"


def _too_hot(air: Air, option: Option) -> str:
    words = f"{option.name} {option.slot}".casefold()
    leaves_drink = option.mass < 0 and any(word in words for word in DRINK)
    return "in this heat drink comes before any second" if is_hot(air) and leaves_drink else ""


def unproved_sets(shelf: Shelf) -> tuple[str, ...]:
    """Tests of several options as one that promise more than their parts and do not prove it."""
    return tuple(test.name for test in shelf.tested if not _proved(shelf, test))


def _proved(shelf: Shelf, test: TestedSet) -> bool:
    base = shelf.base
    whole = base.time - base.changed(shelf.change_of(test.members)).time
    parts = Change.sum(shelf.items[number].worth.change for number in test.members)
    if whole <= base.time - base.changed(parts).time:
        return True
    low, _ = interval(whole, test.doubt_s)
    return low is not None and low > 0


def held_back(known: Known, trusted: Iterable[str] = ()) -> dict[str, Advised]:
    """Options of which too little is known to pay for them or to count on them.

    Parameters
    ----------
    known : Known
        What is known.
    trusted : iterable of str
        Bare claims that may stay as parts of a set that was tested.

    Returns
    -------
    dict of str to Advised
        What to do about them instead.
    """
    found = dict(_unproved(known, frozenset(trusted)))
    for item in known.shelf.items:
        name = item.option.name
        if name not in found and item.cost and (rival := _rival(item, known, found)):
            because = f"{rival}, which takes its place, is to be tested first"
            found[name] = Advised(name, "wait", because)
    return {**found, **_waiting(known.shelf, found)}


def _waiting(shelf: Shelf, held: Mapping[str, Advised]) -> dict[str, Advised]:
    """What needs something that is to be tested, or that waits itself."""
    found: dict[str, Advised] = {}
    for item in shelf.items:
        name = item.option.name
        wanted = [one for one in item.option.ties.needs if one in held or one in found]
        if name not in held and wanted:
            found[name] = Advised(name, "wait", f"it needs {wanted[0]}, which is not settled yet")
    return found


def _unproved(known: Known, trusted: frozenset[str]) -> Iterator[tuple[str, Advised]]:
    for item in known.shelf.items:
        value = known.values[item.option.name]
        name = value.option.name
        if value.saved_s <= 0 or name in trusted:
            continue
        if item.cost and value.verdict == "tie" and known.spending.per_second is None:
            yield name, Advised(name, "leave", f"too little to matter: {value.because}")
            continue
        if item.worth.doubt_s is None:
            because = CLAIM + (BEFORE_MONEY if item.cost else BEFORE_TRUST)
        else:
            because = _test_first(item, value, known)
        if because:
            yield name, _worth_testing(Advised(name, "test", because), item, value, known)


def _test_first(item: Item, value: OptionValue, known: Known) -> str:
    """Why a test should come first; empty where none need."""
    if not item.cost:
        unlikely = value.verdict == "undecided" and (value.chance_faster or 0.0) < LIKELY
        return f"not proved, and it may as well cost time: {value.because}" if unlikely else ""
    slots = known.decision.slots if known.decision else ()
    for slot in slots:
        if value.option.name in [prospect.name for prospect in slot.prospects]:
            tested = slot.action.kind == "test" and value.option.name in slot.action.names
            return DECIDED if tested else ""
    return f"not proved: {value.because}" if value.verdict == "undecided" else ""


def _worth_testing(test: Advised, item: Item, value: OptionValue, known: Known) -> Advised:
    """The advice to test, or to leave what is too dear at its very best."""
    best = value.saved_s if value.saved_s_high is None else value.saved_s_high
    spending = known.spending
    if item.cost and spending.stated and not spending.allows(item.cost):
        return Advised(test.name, "leave", "it does not fit into the budget, and is not proved")
    if item.cost and not spending.pays(best, item.cost):
        return Advised(test.name, "leave", "not even the most that it may save is worth its price")
    return test


def _rival(item: Item, known: Known, found: Mapping[str, Advised]) -> str:
    """What a test is known to pay for, and cannot be used beside an item; empty for none."""
    for other in known.shelf.items:
        test = found.get(other.option.name)
        if test and test.because == DECIDED and clash(item.option, other.option):
            return test.name
    return ""
