"""Buy now, or test first, and which test: the worth of information, slot by slot."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from racecalc.decisions.allowed import by_slot
from racecalc.decisions.costs import refuse_mixed_currencies
from racecalc.decisions.edges import Edges, edges_of
from racecalc.decisions.information import Gain
from racecalc.decisions.proposals import (
    SHOWN_AS_NONE,
    Action,
    Case,
    Proposal,
    advice,
    best_test,
    by_pairs,
    case_of,
    pays,
    perfect_knowledge,
    untested,
)
from racecalc.decisions.prospects import NotJudged, Prospect, Question, prospects_of
from racecalc.decisions.riding import Ridden
from racecalc.decisions.together import Together, advised_together
from racecalc.domain.option import Option
from racecalc.errors import InputError


@dataclass(frozen=True)
class SlotAnswer:
    """The advice on one slot.

    Money is in the currency of the question.

    Parameters
    ----------
    slot : str
        Its name; that of the option where it has none.
    prospects : tuple of Prospect
        What was judged; one of them at most is bought.
    untested : Action
        What to do if nothing is tested.
    worth : float
        Expected worth of that, after the price; 0 for nothing.
    saved_s : float
        Seconds that it saves; 0 for nothing.
    chance_wrong : float
        Chance that another choice, or none, is in truth the better one.
    perfect : Gain
        What it is worth to know every saving of the slot exactly.
    test : Proposal or None
        The best test, whether or not it pays; None where nothing can be tested.
    by_pairs : tuple of Proposal
        The same items at every number of pairs.
    action : Action
        The advice.
    edges : Edges
        Where it changes.
    """

    slot: str
    prospects: tuple[Prospect, ...]
    untested: Action
    worth: float
    saved_s: float
    chance_wrong: float
    perfect: Gain
    test: Proposal | None
    by_pairs: tuple[Proposal, ...]
    action: Action
    edges: Edges


@dataclass(frozen=True)
class Session:
    """One session that tests items of several slots and pays its fee once.

    Parameters
    ----------
    tests : tuple of Proposal
        What is tested in it; their costs are those of the runs alone.
    worth : float
        What it is worth before its cost.
    cost : float
        Fees of the session and of all runs.
    """

    tests: tuple[Proposal, ...]
    worth: float
    cost: float

    @property
    def net(self) -> float:
        """Worth after its cost."""
        return self.worth - self.cost

    @property
    def runs(self) -> int:
        """Runs in all."""
        return sum(one.runs for one in self.tests)


@dataclass(frozen=True)
class Decision:
    """What to buy, and what to test first.

    Parameters
    ----------
    question : Question
        What was asked.
    slots : tuple of SlotAnswer
        Those with most to gain from a test first.
    next_test : Proposal or None
        The test that is worth most after its cost; None where none pays.
    session : Session or None
        One session for all slots where that is worth more than the best test of one of them;
        None where it is not.
    together : Together
        All that is to be bought or used now, looked at as one.
    not_judged : tuple of NotJudged
        Options of which too little is known, with reasons.
    notes : tuple of str
        What one should know, in sentences.
    """

    question: Question
    slots: tuple[SlotAnswer, ...]
    next_test: Proposal | None
    session: Session | None
    together: Together
    not_judged: tuple[NotJudged, ...]
    notes: tuple[str, ...]


def decide(
    base: Ridden,
    options: Iterable[Option],
    question: Question,
    track: Callable[[tuple[Case, ...]], Iterable[Case]] = iter,
) -> Decision:
    """Say for each slot whether to buy, to test first or to leave it.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    options : iterable of Option
        What may be bought.
    question : Question
        What a second and a test cost, and how well a test tells.
    track : callable, optional
        Passes the slots on one by one, as a progress bar does.

    Returns
    -------
    Decision
        The advice.

    Raises
    ------
    InputError
        If amounts stand in different currencies, nothing tells how far a test is off, or no
        option can be judged.
    """
    options = tuple(options)
    fees = {"the fee of a session": question.session_fee, "the fee of a pair": question.pair_fee}
    refuse_mixed_currencies(options, {"the price per second": question.per_second, **fees})
    prospects, not_judged = prospects_of(base, options, question)
    if not prospects:
        reasons = "; ".join(f"{one.name}: {one.reason}" for one in not_judged)
        raise InputError(
            base.race.name,
            f"has no option that can be judged ({reasons or 'it has none at all'})",
            "give each a price, saves and doubt",
        )
    cases = _cases(prospects, question)
    slots = sorted((_answer(case) for case in track(cases)), key=_rank)
    now = [name for one in slots if one.action.kind in ("buy", "use") for name in one.action.names]
    next_test = next((one.test for one in slots if one.action.kind == "test"), None)
    return Decision(
        question,
        tuple(slots),
        next_test,
        _session(cases, next_test),
        advised_together(base, options, now, float(question.per_second.amount)),
        not_judged,
        _notes(question, prospects),
    )


def _cases(prospects: tuple[Prospect, ...], question: Question) -> tuple[Case, ...]:
    return tuple(
        case_of(slot, tuple(prospects[member] for member in members), question)
        for slot, members in by_slot(prospects)
    )


def _rank(answer: SlotAnswer) -> tuple[float, float]:
    """The best test first; where nothing can be tested, what is worth most."""
    return (-answer.test.net if answer.test else float("inf"), -answer.worth)


def _answer(case: Case) -> SlotAnswer:
    test, perfect, best = best_test(case), perfect_knowledge(case), case.best
    action = advice(case, test)
    return SlotAnswer(
        slot=case.slot,
        prospects=case.prospects,
        untested=untested(case),
        worth=0.0 if best is None else float(case.worths[best]),
        saved_s=0.0 if best is None else case.prospects[best].saved_s,
        chance_wrong=perfect.chance_of_change,
        perfect=perfect,
        test=test,
        by_pairs=by_pairs(case, test) if test else (),
        action=action,
        edges=edges_of(case, action),
    )


def _session(cases: tuple[Case, ...], alone: Proposal | None) -> Session | None:
    """Test several slots in one session, for the slots stand for themselves and share its fee."""
    tests = []
    for case in cases:
        without_fee = replace(case, question=replace(case.question, session_fee=None))
        test = best_test(without_fee)
        if test is not None and pays(without_fee, test):
            tests.append(test)
    if len(tests) < 2:
        return None
    question = cases[0].question
    fee = float(question.session_fee.amount) if question.session_fee else 0.0
    found = Session(
        tuple(sorted(tests, key=lambda one: -one.net)),
        sum(one.gain.worth for one in tests),
        fee + sum(one.cost for one in tests),
    )
    least = SHOWN_AS_NONE * float(question.per_second.amount)
    return found if found.net > (alone.net if alone else 0.0) + least else None


def _notes(question: Question, prospects: tuple[Prospect, ...]) -> tuple[str, ...]:
    notes = [
        "What is known of each saving is taken as normal, and the savings as independent of each"
        " other. Slots are judged one by one: savings of different slots nearly add, but for sets"
        " whose test says otherwise.",
        "A second is worth the same however many there are; a place won or lost is a step that"
        " no worth of a second shows.",
        "A test on one day does not tell whether another day is the same, nor what is wrong in"
        " every run alike; no number of pairs takes that away.",
    ]
    if question.whole_test:
        notes.append("The fee is taken to be that of a test as sure as stated.")
    else:
        notes.append("Each tested item has baseline runs of its own: a pair is one run of either.")
        if question.pair_fee is None:
            notes.append(
                "Runs cost nothing here, so the most that are allowed are always best; say with"
                " --fee-per-pair what two of them cost."
            )
    if any(one.doubt_s and one.error_s is None for one in prospects):
        flag = "--test-doubt" if question.whole_test else "--repeatability"
        notes.append(
            f"Some options have no test to judge: a further {flag} in a form that fits their loss,"
            ' or in seconds of this course, as "5 s", would give them one.'
        )
    if question.session_fee is None:
        notes.append("A session costs nothing here; say with --fee what it costs.")
    return tuple(notes)
