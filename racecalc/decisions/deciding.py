"""Buy now or test first, slot by slot and all together."""

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import combinations
from typing import Annotated, Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import by_slot, conflicts, waiting
from racecalc.decisions.basket.candidates import Slopes, candidates_of, unproved_sets
from racecalc.decisions.basket.search import Programme, best_set, range_of
from racecalc.decisions.evidence.days import USUAL_SHARE
from racecalc.decisions.information import (
    LearningGain,
    NotJudged,
    PricedQuestion,
    Prospect,
    common_normals,
    gain_of_learning,
    preposterior_sd,
    prospects_of,
)
from racecalc.decisions.money import PAID, CostOfUse, amount_of, cost_on
from racecalc.decisions.riding import Ridden
from racecalc.decisions.value import value_of_set
from racecalc.domain.option import Option, Saving, refuse_mixed_currencies
from racecalc.errors import InputError
from racecalc.written import HIDDEN, SPREAD, As, written

# --- The choice within one slot ------------------------------------------------------------------

SHOWN_AS_NONE = 0.05
"""Seconds below which a gain counts as none, for they would be shown as 0.0 s; our choice."""

MOST_TESTED = 4
"""Items of a slot that one test compares at most; our choice."""


@dataclass(frozen=True)
class Action:
    """What to do about a slot."""

    kind: Annotated[Literal["buy", "hire", "use", "nothing", "test"], As(action="")]
    """What to do; "use" is for what costs nothing."""
    names: tuple[str, ...] = ()
    """The options; empty for nothing."""

    @written
    def words(self) -> str:
        """The same in words."""
        names = " and ".join(self.names)
        return {
            "buy": f"buy {names} now",
            "hire": f"hire {names}",
            "use": f"use {names} now",
            "nothing": "buy none of them",
            "test": f"test {names} first",
        }[self.kind]


@dataclass(frozen=True)
class Proposal:
    """A test that could be made before buying."""

    slot: str
    """What it is about."""
    names: tuple[str, ...]
    """The items; the baseline is always ridden too."""
    pairs: int
    """Pairs of runs of each, one of the item and one of the baseline."""
    cost: float
    """Fees of session and runs."""
    gain: Annotated[LearningGain, SPREAD]
    """What it is worth before its cost, in money."""
    buy_from_s: float | None
    """Saving shown by the test alone from which its item is the one to buy [s]; None where several
    items are tested.
    """
    buy_from: Annotated[Saving | None, HIDDEN]
    """The same as the test states it; None where it states seconds."""

    @written
    def net(self) -> float:
        """Worth after its cost."""
        return self.gain.worth - self.cost

    @written
    def net_s(self) -> float:
        """Seconds that are worth as much [s]."""
        return float(self.net / self.gain.per_second)

    @written
    def runs(self) -> int:
        """Runs in all."""
        return 2 * self.pairs * len(self.names)


@dataclass(frozen=True)
class Case:
    """One slot and what is asked about it."""

    slot: str
    """Its name; that of the option where it has none."""
    prospects: tuple[Prospect, ...]
    """What may be bought, one of them at most."""
    question: PricedQuestion
    """Costs and what a second is worth."""
    per_second: float
    """What a second is worth, in the currency of the question."""
    normals: FloatArray
    """Standard normal numbers for all tests of the slot; shape (draws, k)."""

    @property
    def worths(self) -> FloatArray:
        """Worth of having each, after its cost; shape (k,)."""
        return np.array([self.per_second * one.saved_s - one.cost for one in self.prospects])

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

    def learning(self, seconds: Mapping[int, float]) -> LearningGain:
        """Worth in money of learning so many seconds, as standard deviations, about some."""
        sds = [self.per_second * seconds.get(at, 0.0) for at in range(len(self.prospects))]
        found = gain_of_learning(self.worths, np.array(sds), self.normals)
        return replace(found, per_second=self.per_second)


def case_of(slot: str, prospects: tuple[Prospect, ...], question: PricedQuestion) -> Case:
    """Set up the choice within a slot."""
    normals = common_normals(question.draws, len(prospects), question.seed)
    return Case(slot, prospects, question, float(question.per_second.amount), normals)


def perfect_knowledge(case: Case, numbers: tuple[int, ...] | None = None) -> LearningGain:
    """Worth in money of knowing the savings of some options exactly, by default of all."""
    known = range(len(case.prospects)) if numbers is None else numbers
    return case.learning({number: case.prospects[number].doubt_s for number in known})


def proposal(case: Case, numbers: tuple[int, ...], pairs: int) -> Proposal:
    """Work out one test: these options, so many pairs of runs of each.

    The errors of the items are independent, as each has baseline runs of its own.
    """
    tested = {number: case.prospects[number] for number in numbers}
    buy_from_s = _buy_from(case, numbers[0], pairs) if len(numbers) == 1 else None
    scale = case.prospects[numbers[0]].scale
    return Proposal(
        slot=case.slot,
        names=tuple(one.name for one in tested.values()),
        pairs=pairs,
        cost=case.question.cost(pairs * len(numbers)),
        gain=case.learning(
            {at: preposterior_sd(one.doubt_s, one.error_of(pairs)) for at, one in tested.items()}
        ),
        buy_from_s=buy_from_s,
        buy_from=scale.showing(buy_from_s) if scale and buy_from_s is not None else None,
    )


def _buy_from(case: Case, number: int, pairs: int) -> float:
    """Result of a test from which the belief after it favours the tested option [s].

    That belief is the mean of the result and of what was known, each weighted by the inverse of
    its variance.
    """
    one = case.prospects[number]
    rest = max([0.0, *np.delete(case.worths, number).tolist()])
    needed = (rest + one.cost) / case.per_second
    weight = one.doubt_s**2 / (one.doubt_s**2 + one.error_of(pairs) ** 2)
    return one.saved_s + (needed - one.saved_s) / weight


def _subsets(case: Case) -> Iterator[tuple[int, ...]]:
    known = enumerate(case.prospects)
    able = [number for number, one in known if one.doubt_s > 0 and one.testable]
    for size in range(1, min(len(able), MOST_TESTED) + 1):
        yield from combinations(able, size)


def best_test(case: Case) -> Proposal | None:
    """Return the test of this slot that is worth most after its cost.

    A further item joins only where it adds as much as `SHOWN_AS_NONE` seconds.
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
            bound = most - case.question.cost(pairs * len(numbers))
            if found is not None and bound <= found.net + more:
                break
            tried = proposal(case, numbers, pairs)
            if found is None or tried.net > found.net + more:
                found, more = tried, 0.0
    return found


def by_pairs(case: Case, found: Proposal) -> tuple[Proposal, ...]:
    """The same items at every number of pairs that was tried."""
    numbers = tuple(at for at, one in enumerate(case.prospects) if one.name in found.names)
    return tuple(proposal(case, numbers, pairs) for pairs in case.question.pairs)


def pays(case: Case, found: Proposal | None) -> bool:
    """Whether a test is worth more than it costs, by what can be seen in tenths of a second."""
    return found is not None and found.net > SHOWN_AS_NONE * case.per_second


def action_of(case: Case, best: Proposal | None = None) -> Action:
    """What to do: test first where the best test pays, else buy the best, else nothing."""
    best = best or best_test(case)
    return Action("test", best.names) if best is not None and pays(case, best) else untested(case)


ACTIONS: Mapping[str, Literal["buy", "hire"]] = {"bought": "buy", "hired": "hire"}
"""What to do, by how a thing is had."""


def untested(case: Case) -> Action:
    """What to do where nothing is tested."""
    return _having(None if case.best is None else case.prospects[case.best])


def _having(one: Prospect | None) -> Action:
    return Action("nothing") if one is None else Action(ACTIONS.get(one.by, "use"), (one.name,))


# --- How far the advice on a slot is from another one ---------------------------------------------

WIDEST = 10.0
"""What a second is worth is varied up to so many times either way."""

NEAR = 1.5
"""Factor of it within which another advice is near; our choice: few people know it better."""

STEPS = 24
"""Steps from the present value to the widest; narrower windows of another advice are missed."""

HALVINGS = 8
"""Halvings of the last step, to within 0.04 %: three digits are shown."""

HALF = 0.5
"""Part of the doubt by which what is known is moved."""


@dataclass(frozen=True)
class Edge:
    """A worth of a second at which the advice changes."""

    per_second: float
    """In the currency of the question."""
    becomes: Action
    """The advice beyond it."""


@dataclass(frozen=True)
class Shift:
    """A small change of what is known that changes the advice."""

    name: str
    """The option."""
    saved_s: float
    """What it saves instead [s]: half its doubt more or less."""
    becomes: Action
    """The advice then."""


@dataclass(frozen=True)
class Edges:
    """Where the advice on a slot changes."""

    below: Edge | None
    above: Edge | None
    """The nearest lower and higher price per second at which it changes; None where it does not up
    to `WIDEST` times either way.
    """
    shifts: tuple[Shift, ...]
    """Options whose saving, half its doubt higher or lower, would change it."""
    near: bool
    """Whether it changes within a factor of `NEAR` or by such a shift."""


def edges_of(case: Case, now: Action) -> Edges:
    """Find where the advice on a slot changes."""
    below, above = _edge(case, now, 1.0 / WIDEST), _edge(case, now, WIDEST)
    shifts = _shifts(case, now)
    ends = [edge.per_second / case.per_second for edge in (below, above) if edge is not None]
    near = bool(shifts) or any(1.0 / NEAR < end < NEAR for end in ends)
    return Edges(below, above, shifts, near)


def _edge(case: Case, now: Action, furthest: float) -> Edge | None:
    step = math.log(furthest) / STEPS
    for number in range(1, STEPS + 1):
        there = action_of(case.at(case.per_second * math.exp(number * step)))
        if there != now:
            break
    else:
        return None
    same, other = (number - 1) * step, number * step
    for _ in range(HALVINGS):
        middle = 0.5 * (same + other)
        action = action_of(case.at(case.per_second * math.exp(middle)))
        if action == now:
            same = middle
        else:
            other, there = middle, action
    return Edge(case.per_second * math.exp(other), there)


def _shifts(case: Case, now: Action) -> tuple[Shift, ...]:
    return tuple(
        Shift(one.name, one.saved_s + seconds, becomes)
        for number, one in enumerate(case.prospects)
        for seconds in (-HALF * one.doubt_s, HALF * one.doubt_s)
        if (becomes := action_of(case.shifted(number, seconds))) != now
    )


# --- What is advised slot by slot, looked at as one ----------------------------------------------


@dataclass(frozen=True)
class JointResult:
    """Options that are advised one by one although their test as a set says something else.

    Money is in the currency of the question.
    """

    name: str
    """Of the test."""
    names: tuple[str, ...]
    """The options."""
    saved_s: float
    """What the test of the set says that they save [s]."""
    singles_s: float
    """What the advice counts: the sum of what each saves alone [s]."""
    gap_worth: float
    """What the difference is worth; negative where the set saves less."""
    worth: float
    """Of all of them by the test, after their costs."""
    leave: str
    """The one without which the rest is worth more; empty where there is none."""
    worth_without: float
    """Of the rest, after their costs; `worth` where nothing is better left."""


@dataclass(frozen=True)
class Together:
    """What holds for all that would be bought or used now, each slot taken alone."""

    sets: tuple[JointResult, ...]
    """The tests of sets within it."""
    conflicts: tuple[str, ...]
    """What keeps it from being used together, in sentences."""


def advised_together(
    base: Ridden,
    options: Sequence[Option],
    advised: Sequence[str],
    there: Collection[str],
    per_second: float,
) -> Together:
    """Look at what is advised slot by slot as one; others are there for its needs."""
    known, names = {option.name: option for option in options}, set(advised)
    tests = [option for option in options if option.is_set]
    sets = tuple(
        _as_tested(base, test, known, tests, per_second)
        for test in tests
        if names.issuperset(test.set_of)
    )
    return Together(sets, conflicts([known[name] for name in advised], known, there))


def _as_tested(
    base: Ridden,
    test: Option,
    known: Mapping[str, Option],
    tests: Sequence[Option],
    per_second: float,
) -> JointResult:
    parts = tuple(known[name] for name in test.set_of)
    whole = value_of_set(base, parts, tests)

    def worth_of_set(saved: float, used: tuple[Option, ...]) -> float:
        return per_second * saved - sum(cost_on(base, option).cost or 0.0 for option in used)

    worth = worth_of_set(whole.saved_s, parts)
    leave, worth_without = "", worth
    for part in parts:
        rest = tuple(one for one in parts if one is not part)
        if not any(part.name in one.restrictions.needs for one in rest):
            left = worth_of_set(value_of_set(base, rest, tests).saved_s, rest)
            if left > worth_without:
                leave, worth_without = part.name, left
    return JointResult(
        name=test.name,
        names=whole.names,
        saved_s=whole.saved_s,
        singles_s=whole.sum_of_single_s,
        gap_worth=per_second * (whole.saved_s - whole.sum_of_single_s),
        worth=worth,
        leave=leave,
        worth_without=worth_without,
    )


# --- Buy now, or test first, and which test ------------------------------------------------------


@dataclass(frozen=True)
class Untested:
    """What to do about a slot if nothing is tested.

    Money is in the currency of the question.
    """

    action: Annotated[Action, SPREAD]
    """To buy or use the best, or nothing."""
    worth: float
    """Expected worth of that, after its cost; 0 for nothing."""
    worth_s: float
    """Seconds that are worth as much [s]."""
    saved_s: float
    """Seconds that it saves; 0 for nothing."""
    chance_wrong: float
    """Chance that another choice, or none, is in truth the better one."""


@dataclass(frozen=True)
class SlotAnswer:
    """The advice on one slot."""

    slot: str
    """Its name; that of the option where it has none."""
    prospects: Annotated[tuple[Prospect, ...], As(options="")]
    """What was judged; one of them at most is bought."""
    untested: Untested
    """What to do if nothing is tested."""
    perfect: Annotated[LearningGain, As(perfect_knowledge="")]
    """What it is worth to know every saving of the slot exactly."""
    test: Proposal | None
    """The best test, whether or not it pays; None where nothing can be tested."""
    by_pairs: tuple[Proposal, ...]
    """The same items at every number of pairs."""
    action: Annotated[Action, As(advice="")]
    """The advice."""
    edges: Edges
    """Where it changes."""
    set_aside: tuple[str, ...] = ()
    """What would be bought or used now if there were no other slot: the budget does not hold out,
    or it does not go with the rest.
    """
    waits: str = ""
    """Which test that waits for; empty where it waits for none."""


@dataclass(frozen=True)
class SharedSession:
    """One session that tests items of several slots and pays its fee once."""

    tests: tuple[Proposal, ...]
    """What is tested in it; their costs are those of the runs alone."""
    worth: float
    """What it is worth before its cost."""
    cost: float
    """Fees of the session and of all runs."""

    @written
    def net(self) -> float:
        """Worth after its cost."""
        return self.worth - self.cost

    @written
    def net_s(self) -> float:
        """Seconds that are worth as much [s]."""
        return float(self.net / self.tests[0].gain.per_second)

    @written
    def runs(self) -> int:
        """Runs in all."""
        return sum(one.runs for one in self.tests)


@dataclass(frozen=True)
class Decision:
    """What to buy, and what to test first."""

    question: Annotated[PricedQuestion, SPREAD]
    """What was asked."""
    slots: tuple[SlotAnswer, ...]
    """Those with most to gain from a test first."""
    next_test: Proposal | None
    """The test that is worth most after its cost; None where none pays."""
    session: SharedSession | None
    """One session for all slots where that is worth more than the best test of one of them; None
    where it is not.
    """
    together: Together
    """All that would be bought or used now, each slot taken alone, looked at as one."""
    beyond_budget: bool
    """Whether the cash for that is more than the budget."""
    not_judged: tuple[NotJudged, ...]
    """Options of which too little is known, with reasons."""
    notes: tuple[str, ...]
    """What one should know, in sentences."""
    costs: Annotated[tuple[CostOfUse, ...], HIDDEN] = ()
    """What each option that is judged costs."""

    @written
    def races_counted(self) -> int | None:
        """Races for which costs are counted."""
        return self.costs[0].races_counted if self.costs else None


NOW = ("buy", "hire", "use")
"""Kinds of action that test nothing."""


def decide(
    base: Ridden,
    options: Iterable[Option],
    question: PricedQuestion,
    track: Callable[[tuple[Case, ...]], Iterable[Case]] = iter,
) -> Decision:
    """Say for each slot whether to buy, to test first or to leave it."""
    options = tuple(options)
    fees = {"the fee of a session": question.fee, "the fee of a pair": question.pair_fee}
    refuse_mixed_currencies(
        options,
        {"the price per second": question.per_second, "the budget": question.budget, **fees},
    )
    prospects, not_judged = prospects_of(base, options, question)
    if not prospects:
        reasons = "; ".join(f"{one.name}: {one.reason}" for one in not_judged)
        problem = f"has no option that can be judged ({reasons or 'it has none at all'})"
        raise InputError(base.race.name, problem, "give each a price, saves and doubt")
    cases = tuple(
        case_of(slot, tuple(prospects[member] for member in members), question)
        for slot, members in by_slot((one.slot, one.name) for one in prospects)
    )
    known = {option.name: option for option in options}
    slots = sorted((_answer(case) for case in track(cases)), key=_rank)
    now = [name for one in slots if one.action.kind in NOW for name in one.action.names]
    costs = {one.name: cost_on(base, known[one.name]) for one in prospects}
    slots, there = _as_a_set(base, options, slots, question)
    together = advised_together(base, options, now, there, float(question.per_second.amount))
    next_test = next((one.test for one in slots if one.action.kind == "test"), None)
    return Decision(
        question,
        tuple(slots),
        next_test,
        _session(cases, next_test),
        together,
        _beyond_budget(now, costs, question),
        not_judged,
        _notes(question, prospects),
        tuple(costs.values()),
    )


def _beyond_budget(
    now: Iterable[str], costs: Mapping[str, CostOfUse], question: PricedQuestion
) -> bool:
    cash = sum((costs[name].cash or Decimal(0) for name in now), Decimal(0))
    return question.budget is not None and cash > question.budget.amount


def _as_a_set(
    base: Ridden, options: Sequence[Option], slots: Sequence[SlotAnswer], question: PricedQuestion
) -> tuple[list[SlotAnswer], tuple[str, ...]]:
    """The slots with what the best set of all that is settled holds of them, and that set."""
    judged = {one.name for slot in slots for one in slot.prospects}
    known = [one for one in options if one.name in {*judged, *base.race.use}]
    tested = [name for one in slots if one.action.kind == "test" for name in one.action.names]
    paid = [one.name for slot in slots for one in slot.prospects if one.by in PAID]
    waits = waiting(known, paid, tested, tested)
    whole = candidates_of(base, known, base.race.tested_sets)
    candidates = candidates_of(
        base, known, base.race.tested_sets, without={*tested, *waits, *unproved_sets(whole)}
    )
    programme = Programme(candidates, frozenset(), amount_of(question.per_second))
    slopes = Slopes(candidates)
    with suppress(InputError):
        # Of all options, so that whoever asks next needs not work them out again.
        slopes.learn_directions(range_of(Slopes(whole), Programme(whole)))
    best = best_set(slopes, programme, amount_of(question.budget))
    kept = candidates.names_of(best.chosen)
    held = [one if one.action.kind == "test" else _held_to(one, kept, waits) for one in slots]
    return held, kept


def _held_to(slot: SlotAnswer, kept: Collection[str], waits: Mapping[str, str]) -> SlotAnswer:
    found = next((one for one in slot.prospects if one.name in kept), None)
    aside = tuple(name for name in slot.action.names if name not in kept)
    why = next((waits[name] for name in aside if name in waits), "")
    return replace(slot, action=_having(found), set_aside=aside, waits=why)


def _rank(answer: SlotAnswer) -> tuple[float, float]:
    """The best test first; where nothing can be tested, what is worth most."""
    return (-answer.test.net if answer.test else float("inf"), -answer.untested.worth)


def _answer(case: Case) -> SlotAnswer:
    test, perfect, best = best_test(case), perfect_knowledge(case), case.best
    action, worth = action_of(case, test), 0.0 if best is None else float(case.worths[best])
    return SlotAnswer(
        slot=case.slot,
        prospects=case.prospects,
        untested=Untested(
            action=untested(case),
            worth=worth,
            worth_s=worth / case.per_second,
            saved_s=0.0 if best is None else case.prospects[best].saved_s,
            chance_wrong=perfect.chance_of_change,
        ),
        perfect=perfect,
        test=test,
        by_pairs=by_pairs(case, test) if test else (),
        action=action,
        edges=edges_of(case, action),
    )


def _session(cases: tuple[Case, ...], alone: Proposal | None) -> SharedSession | None:
    """Test several slots in one session, as slots do not depend on each other and share its fee."""
    free = [replace(case, question=replace(case.question, fee=None)) for case in cases]
    tests = [test for case in free if (test := best_test(case)) is not None and pays(case, test)]
    if len(tests) < 2:
        return None
    found = SharedSession(
        tuple(sorted(tests, key=lambda one: -one.net)),
        sum(one.gain.worth for one in tests),
        cases[0].question.session_fee + sum(one.cost for one in tests),
    )
    least = SHOWN_AS_NONE * cases[0].per_second
    return found if found.net > (alone.net if alone else 0.0) + least else None


def _notes(question: PricedQuestion, prospects: tuple[Prospect, ...]) -> tuple[str, ...]:
    notes = [
        "The doubt of each saving is taken as normally distributed, and the savings as independent"
        " of each other. Slots are judged one by one: savings of different slots nearly add, except"
        " in sets whose test says otherwise.",
        "Every second is taken to be worth the same; a place won or lost is a step that no price"
        " per second shows.",
        "An error that all runs of a test share is not in its doubt, and no number of pairs removes"
        " it.",
    ]
    if not question.whole_test:
        notes.append(
            "A test is one more day. Its doubt counts how a difference changes from day to day, by"
            f" the option's own test or else by {USUAL_SHARE:g} of what one run scatters, and how"
            " little is known of both."
        )
    if question.whole_test:
        notes.append("The fee is taken to be that of a test with the stated doubt.")
    else:
        notes.append("Each tested item has baseline runs of its own: a pair is one run of each.")
        if question.pair_fee is None:
            notes.append(
                "Runs cost nothing here, so the most that are allowed are always best; state with"
                " --fee-per-pair what a pair costs."
            )
    if any(one.doubt_s and one.error_s is None for one in prospects):
        flag = "--test-doubt" if question.whole_test else "--repeatability"
        notes.append(
            f"Some options have no test to judge: a further {flag} in a form that fits their loss,"
            ' or in seconds of this course, as "5 s", would give them one.'
        )
    if question.fee is None:
        notes.append("A session costs nothing here; say with --fee what it costs.")
    return tuple(notes)
