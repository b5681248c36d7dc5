"""Options that no set may hold: unsafe in this weather, or not known well enough yet."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from racecalc.decisions.advice.advised import Advised
from racecalc.decisions.advice.spending import Spending
from racecalc.decisions.allowed import clash
from racecalc.decisions.basket.shelf import Item, Shelf
from racecalc.decisions.days import stated_day
from racecalc.decisions.handling import GUST_CAUTION, JUDGED, ruled_out, speed_words
from racecalc.decisions.riding import Ridden
from racecalc.decisions.testing_first import Decision
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option

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
    day = stated_day(base.race)
    wind = day.wind_at_rider
    words = f"the wind of {speed_words(wind)} at the rider is too strong for it ({JUDGED})"
    return {
        option.name: Advised(option.name, "unsafe", words)
        for option in options
        if ruled_out(option, day) or (option.ties.catches_wind and wind >= GUST_CAUTION)
    }


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
            because = f"wait for the test of {rival}, which takes its place"
            found[name] = Advised(name, "wait", because)
    return found


def _unproved(known: Known, trusted: frozenset[str]) -> Iterator[tuple[str, Advised]]:
    for item in known.shelf.items:
        value = known.values[item.option.name]
        name = value.option.name
        if value.saved_s <= 0 or name in trusted:
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
    """What is to be tested, may turn out better, and cannot be used beside an item; else empty.

    A bare claim keeps nobody from buying what is proved.
    """
    for other in known.shelf.items:
        test = found.get(other.option.name)
        if test is None or test.do != "test" or other.worth.doubt_s is None:
            continue
        promising = test.because == DECIDED or other.worth.saved_s > item.worth.saved_s
        if promising and clash(item.option, other.option):
            return test.name
    return ""
