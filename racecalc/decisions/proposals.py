"""The choice within one slot: buy now, test first, or leave it, and the best test of it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.information import (
    Gain,
    common_normals,
    gain_of_learning,
    preposterior_sd,
)
from racecalc.decisions.prospects import Prospect, Question

SHOWN_AS_NONE = 0.05
"""Seconds below which a gain counts as none, for they would be shown as 0.0 s; our choice."""

MOST_TESTED = 4
"""Items of a slot that one test compares at most; our choice."""


@dataclass(frozen=True)
class Action:
    """What to do about a slot.

    Parameters
    ----------
    kind : {"buy", "use", "nothing", "test"}
        "use" is to buy what costs nothing.
    names : tuple of str
        The options; empty for nothing.
    """

    kind: Literal["buy", "use", "nothing", "test"]
    names: tuple[str, ...] = ()

    def __str__(self) -> str:
        names = " and ".join(self.names)
        return {
            "buy": f"buy {names} now",
            "use": f"use {names} now",
            "nothing": "buy nothing of this",
            "test": f"test {names} first",
        }[self.kind]


@dataclass(frozen=True)
class Proposal:
    """A test that could be made before buying.

    Parameters
    ----------
    slot : str
        What it is about.
    names : tuple of str
        The items, beside the baseline.
    pairs : int
        Pairs of runs of each, one of the item and one of the baseline.
    cost : float
        Fees of session and runs.
    gain : Gain
        What it is worth before its cost, in money.
    buy_from_s : float or None
        Saving shown by the test alone from which its item is the one to buy [s]; None where
        several items are tested.
    """

    slot: str
    names: tuple[str, ...]
    pairs: int
    cost: float
    gain: Gain
    buy_from_s: float | None

    @property
    def net(self) -> float:
        """Worth after its cost."""
        return self.gain.worth - self.cost

    @property
    def runs(self) -> int:
        """Runs in all."""
        return 2 * self.pairs * len(self.names)


@dataclass(frozen=True)
class Case:
    """One slot and what is asked about it.

    Parameters
    ----------
    slot : str
        Its name; that of the option where it has none.
    prospects : tuple of Prospect
        What may be bought, one of them at most.
    question : Question
        Costs and what a second is worth.
    per_second : float
        What a second is worth, in the currency of the question.
    normals : array of shape (draws, k)
        Standard normal numbers for all tests of the slot.
    """

    slot: str
    prospects: tuple[Prospect, ...]
    question: Question
    per_second: float
    normals: FloatArray

    @property
    def worths(self) -> FloatArray:
        """Worth of buying each, after its price; shape (k,)."""
        return np.array([self.per_second * one.saved_s - one.price for one in self.prospects])

    @property
    def best(self) -> int | None:
        """Number of the one to buy if nothing is tested; None for nothing."""
        best = int(np.argmax(self.worths))
        return best if self.worths[best] > 0 else None

    def at(self, per_second: float) -> "Case":
        """The same where a second is worth something else."""
        return replace(self, per_second=per_second)

    def shifted(self, number: int, seconds: float) -> "Case":
        """The same where one option is known to save more or less [s]."""
        moved = list(self.prospects)
        moved[number] = replace(moved[number], saved_s=moved[number].saved_s + seconds)
        return replace(self, prospects=tuple(moved))


def case_of(slot: str, prospects: tuple[Prospect, ...], question: Question) -> Case:
    """Set up the choice within a slot."""
    normals = common_normals(question.draws, len(prospects), question.seed)
    return Case(slot, prospects, question, float(question.per_second.amount), normals)


def perfect_knowledge(case: Case, numbers: tuple[int, ...] | None = None) -> Gain:
    """Worth in money of knowing the savings of some options exactly, by default of all."""
    known = range(len(case.prospects)) if numbers is None else numbers
    sds = np.zeros(len(case.prospects))
    for number in known:
        sds[number] = case.per_second * case.prospects[number].doubt_s
    return gain_of_learning(case.worths, sds, case.normals)


def proposal(case: Case, numbers: tuple[int, ...], pairs: int) -> Proposal:
    """Work out one test: these options, so many pairs of runs of each.

    The errors of the items are independent, as each has baseline runs of its own.
    """
    sds = np.zeros(len(case.prospects))
    for number in numbers:
        one = case.prospects[number]
        sds[number] = case.per_second * preposterior_sd(one.doubt_s, one.error_of(pairs))
    return Proposal(
        slot=case.slot,
        names=tuple(case.prospects[number].name for number in numbers),
        pairs=pairs,
        cost=_cost(case.question, pairs * len(numbers)),
        gain=gain_of_learning(case.worths, sds, case.normals),
        buy_from_s=_buy_from(case, numbers[0], pairs) if len(numbers) == 1 else None,
    )


def _cost(question: Question, pairs: int) -> float:
    session = float(question.session_fee.amount) if question.session_fee else 0.0
    return session + (float(question.pair_fee.amount) * pairs if question.pair_fee else 0.0)


def _buy_from(case: Case, number: int, pairs: int) -> float:
    """Result of a test from which the belief after it favours the tested option [s].

    That belief is the mean of the result and of what was known, each weighted by the inverse of
    its variance.
    """
    one = case.prospects[number]
    rest = max([0.0, *np.delete(case.worths, number).tolist()])
    needed = (rest + one.price) / case.per_second
    weight = one.doubt_s**2 / (one.doubt_s**2 + one.error_of(pairs) ** 2)
    return one.saved_s + (needed - one.saved_s) / weight


def _subsets(case: Case) -> Iterator[tuple[int, ...]]:
    able = [
        number
        for number, one in enumerate(case.prospects)
        if one.doubt_s > 0 and one.error_s is not None
    ]
    for size in range(1, min(len(able), MOST_TESTED) + 1):
        yield from combinations(able, size)


def best_test(case: Case) -> Proposal | None:
    """Return the test of this slot that is worth most after its cost.

    A further item joins only where it adds as much as `SHOWN_AS_NONE` seconds.

    Parameters
    ----------
    case : Case
        The choice.

    Returns
    -------
    Proposal or None
        Worth less than nothing where no test pays; None where nothing can be tested.
    """
    found: Proposal | None = None
    least = SHOWN_AS_NONE * case.per_second
    # Where pairs cost nothing, no number of them is better than the most.
    counts = case.question.pairs if case.question.pair_fee else case.question.pairs[-1:]
    for numbers in _subsets(case):
        most = perfect_knowledge(case, numbers).worth
        more = least if found is not None and len(numbers) > len(found.names) else 0.0
        for pairs in counts:
            # No test of these items is worth more than to know them exactly.
            bound = most - _cost(case.question, pairs * len(numbers))
            if found is not None and bound <= found.net + more:
                break
            tried = proposal(case, numbers, pairs)
            if found is None or tried.net > found.net + more:
                found, more = tried, 0.0
    return found


def by_pairs(case: Case, found: Proposal) -> tuple[Proposal, ...]:
    """The same items at every number of pairs that was tried."""
    names = [one.name for one in case.prospects]
    numbers = tuple(names.index(name) for name in found.names)
    return tuple(proposal(case, numbers, pairs) for pairs in case.question.pairs)


def pays(case: Case, found: Proposal | None) -> bool:
    """Whether a test is worth more than it costs, by what can be seen in tenths of a second."""
    return found is not None and found.net > SHOWN_AS_NONE * case.per_second


def action_of(case: Case) -> Action:
    """What to do: test first where that pays, else buy the best, else nothing."""
    return advice(case, best_test(case))


def advice(case: Case, found: Proposal | None) -> Action:
    """The same where the best test is known."""
    if found is not None and pays(case, found):
        return Action("test", found.names)
    return untested(case)


def untested(case: Case) -> Action:
    """What to do where nothing is tested."""
    if case.best is None:
        return Action("nothing")
    one = case.prospects[case.best]
    return Action("buy" if one.price else "use", (one.name,))
