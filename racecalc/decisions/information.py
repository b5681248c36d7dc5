"""What a test is worth before one buys.

The worth of each action is normal: known by its mean and standard deviation, independent of the
others. A test tells it with a normal error. Before the test the mean that will be believed after it
is itself normal, about the present mean, with the preposterior standard deviation; the best of
these means is on average more than the present best, and the difference is what the test is worth
before its cost. One more action, to do nothing, is worth zero and always there.

References
----------
.. [1] Raiffa H, Schlaifer R. Applied Statistical Decision Theory. Harvard 1961 (from memory).
.. [2] Schlaifer R. Probability and Statistics for Business Decisions. McGraw-Hill 1959 (from
   memory).
"""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import NO_DOUBT, sorted_out
from racecalc.decisions.evidence.chances import LEVEL, t_point
from racecalc.decisions.evidence.days import COUNTED_DAYS, USUAL_SHARE, combined_df
from racecalc.decisions.evidence.for_option import further_day_of
from racecalc.decisions.evidence.judging import MOST_EXPERIENCE
from racecalc.decisions.money import Way, amount_of, cost_with
from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import Worth, amount_in_seconds
from racecalc.domain.option import FORMS_OF, TEST_DENSITY, Option, Saving
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, As, written

# --- What it is worth to learn something before choosing; pure mathematics on arrays -------------

ROOT_TWO = math.sqrt(2.0)
ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True)
class LearningGain:
    """What learning is worth before its cost."""

    worth: float
    """Mean of what the better choice brings more, in the unit of the means; never negative."""
    monte_carlo_error: float
    """Standard error of `worth` by the number of draws; 0 where a closed form was used."""
    chance_of_change: float
    """Chance that another action than the present one is chosen."""
    per_second: Annotated[float, HIDDEN] = 1.0
    """What a second is worth, in the same unit."""

    @written
    def worth_s(self) -> float:
        """Seconds that are worth as much [s]."""
        return self.worth / self.per_second


NO_GAIN = LearningGain(0.0, 0.0, 0.0)


def unit_normal_loss(z: float) -> float:
    """Mean of how far a standard normal number lies above `z`, counted 0 where it lies below.

    ``L(z) = phi(z) - z (1 - Phi(z))``.

    References
    ----------
    Raiffa H, Schlaifer R. Applied Statistical Decision Theory. Harvard 1961 (from memory).

    Examples
    --------
    >>> unit_normal_loss(0.5)
    0.1977966
    """
    density = math.exp(-0.5 * z * z) / ROOT_TWO_PI
    return max(0.0, density - z * chance_above(z))


def chance_above(z: float) -> float:
    """Chance that a standard normal number is more than `z`."""
    return 0.5 * math.erfc(z / ROOT_TWO)


def preposterior_sd(doubt: float, error: float) -> float:
    """Standard deviation of the mean that a test will leave: ``s^2 / sqrt(s^2 + e^2)``."""
    return doubt * doubt / math.hypot(doubt, error) if doubt else 0.0


def gain_for_two(mean: float, sd: float) -> LearningGain:
    """Worth of learning for two actions: one of uncertain worth, the other worth 0.

    ``sd L(|mean| / sd)``: with the whole doubt as `sd` the worth of perfect knowledge, with the
    preposterior standard deviation that of a test (Raiffa and Schlaifer, as `unit_normal_loss`).

    >>> gain_for_two(-0.5, 1.0).worth
    0.1977966
    """
    if sd == 0:
        return NO_GAIN
    z = abs(mean) / sd
    return LearningGain(sd * unit_normal_loss(z), 0.0, chance_above(z))


def gain_of_learning(means: FloatArray, learnt: FloatArray, normals: FloatArray) -> LearningGain:
    """Worth of learning before choosing one of several actions or none.

    Where one action is learnt about, the closed form of two actions holds against the best of
    the rest. Where several are, their mean is taken draw by draw, and only the difference to the
    present choice is averaged, which is zero wherever the choice stays.

    By the mean worth of each action, shape (k,), one more being worth 0; their independent
    preposterior standard deviations, 0 where nothing is learnt; and standard normal numbers, shape
    (draws, k), the same for all tests that are compared.
    """
    tested = np.flatnonzero(learnt > 0)
    rest = max([0.0, *means[learnt <= 0].tolist()])
    if len(tested) == 0:
        return NO_GAIN
    if len(tested) == 1:
        return gain_for_two(float(means[tested[0]]) - rest, float(learnt[tested[0]]))
    present = int(np.argmax(means))
    after = np.full(len(normals), rest)
    for one in tested:
        np.maximum(after, means[one] + learnt[one] * normals[:, one], out=after)
    now = means[present] + learnt[present] * normals[:, present] if means[present] > 0 else 0.0
    gained = after - now
    error = float(np.std(gained, ddof=1)) / math.sqrt(len(gained))
    return LearningGain(float(gained.mean()), error, float(np.mean(gained > 0)))


def common_normals(draws: int, actions: int, seed: int) -> FloatArray:
    """Standard normal numbers of shape (draws, actions), repeatable by their seed."""
    # Those of one action lie side by side in memory, for they are read action by action.
    return np.random.default_rng(seed).standard_normal((actions, draws)).T


# --- What is known of each option before it is bought, and what a test of it would show ----------

NUMBERS_OF_PAIRS = (1, 2, 3, 4, 6, 8, 12)
"""Numbers of pairs that are tried, next to the most that is allowed; our choice."""

EXAMPLE = 'as --repeatability "0.003 m^2", "3 W at 45 km/h" or "5 s"'


@dataclass(frozen=True)
class Scatter:
    """How far one run, or one whole test, is off."""

    amount: Saving | None
    """In any form that means a saving; None where it is given in seconds."""
    seconds: float
    """On this course [s]; only where `amount` is None."""
    words: str
    """As it was stated."""


@dataclass(frozen=True)
class PricedQuestion:
    """What testing and a second cost, and how sure a test would be."""

    per_second: Annotated[Money, As(per_second="amount", currency="currency")]
    """What a second is worth to the athlete, more than zero, and the currency of all money."""
    fee: Annotated[Money | None, HIDDEN] = None
    """What a session costs, however many items it tests; None where that is not given."""
    pair_fee: Annotated[Money | None, HIDDEN] = None
    """What a pair of runs costs, one of the item and one of the baseline; None likewise."""
    scatters: Annotated[tuple[Scatter, ...], HIDDEN] = ()
    """Standard deviation of one run, or of the result of a whole test; the first whose form fits an
    option counts for it. Empty to take that of the options' own tests.
    """
    budget: Annotated[Money | None, As(budget="amount")] = None
    """Most cash that may be paid for all that is bought or hired now; None for no limit."""
    whole_test: bool = False
    """Whether `scatters` are those of whole tests, so that no number of runs is sought."""
    most_pairs: Annotated[int, HIDDEN] = 12
    """Most pairs of runs of an item."""
    draws: int = 20_000
    seed: int = 1
    """Of the Monte Carlo where several items are tested."""

    @written
    def session_fee(self) -> float:
        """What a session costs, however many items it tests."""
        return float(self.fee.amount) if self.fee else 0.0

    @written
    def fee_per_pair(self) -> float:
        """What a pair of runs costs, one of the item and one of the baseline."""
        return float(self.pair_fee.amount) if self.pair_fee else 0.0

    def cost(self, pairs: int) -> float:
        """What a session with so many pairs costs."""
        return float(self.session_fee + self.fee_per_pair * pairs)

    @property
    def pairs(self) -> tuple[int, ...]:
        """Numbers of pairs to try; one whole test is counted as one."""
        if self.whole_test:
            return (1,)
        fewer = (pairs for pairs in NUMBERS_OF_PAIRS if pairs < self.most_pairs)
        return (*fewer, self.most_pairs)


@dataclass(frozen=True)
class ResultScale:
    """What the result of a test of an option means on this course, first order."""

    run: Saving
    """Scatter of one run, in the form in which the test states a saving."""
    seconds_per_unit: float
    """Seconds of one SI unit of that form [s]."""
    nothing_s: float
    """What the option saves where its test shows nothing: what its mass does [s]."""

    def showing(self, seconds: float) -> Saving:
        """The result of a test that means so many seconds on this course."""
        return replace(self.run, amount=(seconds - self.nothing_s) / self.seconds_per_unit)


@dataclass(frozen=True)
class Prospect:
    """An option that may be bought, tested first, or left."""

    name: str
    slot: str
    """Of the option."""
    saved_s: float
    doubt_s: float
    """What is known of its saving on this course, taken as normal [s]."""
    cost: float
    """What it costs for the races counted, with what it brings."""
    by: Annotated[Way, As(cost_basis="")]
    """How it is had at that cost: bought, hired, owned or free."""
    error_s: float | None
    """Standard error of one pair of runs on one day, or of the whole test, on this course [s]; None
    where nothing says it.
    """
    scatter: str
    """Where that comes from; empty where nothing says it."""
    basis: str
    """What the saving rests on, in the words of its claim or test."""
    scale: Annotated[ResultScale | None, HIDDEN] = None
    """What a result of its test means; None where it is only known in seconds, or not at all."""
    payable: Annotated[bool, HIDDEN] = True
    """Whether the budget holds out for it by itself."""
    price: float = 0.0
    """Its purchase price, or its hire for the races counted; 0 where it is owned."""
    day_to_day_s: float = 0.0
    """Standard deviation by which the difference changes from day to day [s]; 0 where `error_s` is
    that of a whole test.
    """
    error_df: Annotated[float, HIDDEN] = math.inf
    day_df: Annotated[float, HIDDEN] = math.inf
    """Degrees of freedom of the two."""

    @written
    def owned(self) -> bool:
        """Whether the athlete has it."""
        return self.by == "owned"

    @property
    def testable(self) -> bool:
        """Whether a test of it can lead to a choice, and it is known how sure one is."""
        return self.payable and self.error_s is not None

    def error_of(self, pairs: int) -> float:
        """Doubt of a further day with so many pairs [s]; infinite where nothing says it.

        The standard uncertainty whose normal 95 % interval is that of Student's t, of this one
        difference.
        """
        if self.error_s is None:
            return math.inf
        error = math.hypot(self.day_to_day_s, self.error_s / math.sqrt(pairs))
        share = (self.day_to_day_s / error) ** 2 if error else 0.0
        return error * beyond_normal(combined_df(self.error_df, share, self.day_df))


@lru_cache(maxsize=4096)
def beyond_normal(df: float) -> float:
    """How many times as wide the 95 % interval of Student's t is as the normal one."""
    return t_point(df, 1.0 - LEVEL / 2) / t_point(math.inf, 1.0 - LEVEL / 2)


@dataclass(frozen=True)
class NotJudged:
    """An option that is left out, and why."""

    name: str
    """Which."""
    reason: str
    """Why."""


def prospects_of(
    base: Ridden, options: Iterable[Option], question: PricedQuestion
) -> tuple[tuple[Prospect, ...], tuple[NotJudged, ...]]:
    """What is known of each option, and the options of which too little is, in their order.

    Raises `InputError` if nothing says for any of them how far a run is off, though a doubt could
    be tested.
    """
    prospects, options = [], tuple(options)
    worths, excluded = sorted_out(base, (one for one in options if not one.is_set))
    reasons = {one.name: one.because for one in excluded}
    reasons |= {one.name: OF_A_SET for one in options if one.is_set}
    for worth in worths:
        if because := _why_not(worth, base.race.use):
            reasons[worth.option.name] = because
        else:
            prospects.append(_judged(base, worth, question))
    doubtful = [one for one in prospects if one.doubt_s]
    if doubtful and all(one.error_s is None for one in doubtful):
        stated = " and ".join(f'"{scatter.words}"' for scatter in question.scatters)
        lacking = f"{stated} fits no option"
        problem = lacking if stated else "the scatter of runs is not stated"
        raise InputError("--repeatability or --test-doubt", problem, f"give it, {EXAMPLE}")
    not_judged = (NotJudged(one.name, reasons[one.name]) for one in options if one.name in reasons)
    return tuple(prospects), tuple(not_judged)


OF_A_SET = "a test of a whole set: its parts are judged one by one"
IN_USE = "it is in use: the others are judged against it"


def _why_not(worth: Worth, use: Collection[str]) -> str:
    if worth.option.name in use:
        return IN_USE
    if worth.doubt_s is not None:
        return ""
    stated = worth.option.saves is None or worth.option.doubt is not None
    lacking = worth.option.unproved or NO_DOUBT
    return "what comes or goes with it states no doubt" if stated else lacking


def _judged(base: Ridden, worth: Worth, question: PricedQuestion) -> Prospect:
    option = worth.option
    known = (option.name, option.slot, worth.saved_s, worth.doubt_s or 0.0)
    basis = option.saves.words if option.saves else "its mass alone"
    use = cost_with(base, option, worth.exchange.brings)
    test, source, scale = _error(worth, question)
    pair_s, day_s, df, day_df = test or (None, 0.0, math.inf, math.inf)
    limit = amount_of(question.budget)
    return Prospect(
        *known,
        cost=use.cost or 0.0,
        by=use.by,
        error_s=pair_s,
        scatter=source,
        basis=basis,
        scale=scale,
        payable=limit is None or use.cash is None or use.cash <= limit,
        price=float(use.price or 0),
        day_to_day_s=day_s,
        error_df=df,
        day_df=day_df,
    )


_Test = tuple[float, float, float, float]
"""Standard error of a pair [s], change from day to day [s], and the degrees of freedom of both."""


def _error(worth: Worth, question: PricedQuestion) -> tuple[_Test | None, str, ResultScale | None]:
    """How sure a test is, where that comes from, and what a result means."""
    option = worth.option
    if not question.scatters and (day := further_day_of(option, worth.base)):
        scale = _scale(worth, option, day.run)
        run = scale.seconds_per_unit * day.run.amount
        test = (ROOT_TWO * run, day.from_day_to_day * run, day.df, day.day_df)
        return test, day.run.words, scale
    plain = replace(option, test_density=TEST_DENSITY, test_power_at="wheel")
    for scatter in question.scatters:
        if scatter.amount is None:
            return _stated(scatter.seconds, question), scatter.words, None
        if scatter.amount.form in FORMS_OF[option.acts_on]:
            scale = _scale(worth, plain, scatter.amount)
            seconds = scale.seconds_per_unit * scatter.amount.amount
            return _stated(seconds, question), scatter.words, scale
    return None, "", None


def _stated(seconds: float, question: PricedQuestion) -> _Test:
    """A test whose runs scatter as stated, or that is as sure as stated on the whole [s]."""
    if question.whole_test:
        return seconds, 0.0, math.inf, math.inf
    # The difference of two runs scatters by the root of two more than one of them.
    return ROOT_TWO * seconds, USUAL_SHARE * seconds, MOST_EXPERIENCE, COUNTED_DAYS


def _scale(worth: Worth, tested: Option, run: Saving) -> ResultScale:
    """What a result means that a test of an option states as the scatter of its runs is stated."""
    saves, stated_s = worth.option.saves, 0.0
    if saves is not None:
        size = amount_in_seconds(worth.changed, worth.option, saves)
        stated_s = math.copysign(size, saves.amount)
    per_unit = amount_in_seconds(worth.changed, tested, run) / run.amount
    return ResultScale(run, per_unit, worth.saved_s - stated_s)
