"""Everything at once: what to ride, buy, use, test and leave, with its cautions."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated

import numpy as np

from racecalc.decisions.advice.shopping import USED, Advised, Shopping, Spending, shop
from racecalc.decisions.comparison import Failed, workable
from racecalc.decisions.deciding import Decision, Proposal, decide
from racecalc.decisions.doubt import DEFAULT_DRAWS, DEFAULT_SEED, TimeBand, time_band
from racecalc.decisions.evidence.for_option import test_behind
from racecalc.decisions.evidence.planning import TEST_SAFELY
from racecalc.decisions.evidence.sweep import SweepAnswer
from racecalc.decisions.evidence.trial import TrialAnswer
from racecalc.decisions.information import PricedQuestion, Scatter
from racecalc.decisions.pacing.card import Card, Pacing, Passage, pace
from racecalc.decisions.pacing.limits import Limits, asked_limit
from racecalc.decisions.pacing.optimal import constant_within
from racecalc.decisions.pacing.plans import PacingPlan, ridden_at
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import Timing, timing
from racecalc.decisions.value import OptionValue, values_of
from racecalc.decisions.verdicts import interval_of
from racecalc.decisions.weather import (
    DEEP,
    GUST_CAUTION,
    GUST_TOO_STRONG,
    HEAT,
    JUDGED,
    care_from,
    gust_limit,
    is_hot,
    speed_words,
    stated_day,
    too_windy,
)
from racecalc.decisions.worth import doubt_in_use, ride_in_use, ride_using
from racecalc.domain.option import ALWAYS, Option, put_in, refuse_mixed_currencies
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN

# --- What comes before any second, in the weather and with the options of a race -----------------

COLD = 281.15
"""Air temperature below which hands and brakes suffer, 8 degC [K]; our choice."""


@dataclass(frozen=True)
class Caution:
    """Something to heed before any second."""

    about: str
    """What it is about, in a word or two."""
    words: str
    """What to do, in sentences."""
    short: Annotated[str, HIDDEN] = ""
    """The same in a line, for the first sheet; empty for what is general."""
    of: Annotated[tuple[str, ...] | None, HIDDEN] = None
    """Options that it is about; None where it is about the ride itself."""


ROAD = Caution(
    "Road",
    "Law, traffic, weather and surface come first. A wet road has less grip and needs longer to"
    " brake. Computed speeds are not targets, least of all on descents and in bends. No position"
    " that rules or handling forbid, no aero bars close to others, no drafting where forbidden.",
    "Law, traffic and how you feel come first. Speeds are not targets, least of all in bends.",
)
BODY = Caution(
    "Power",
    "Targets are for a healthy, trained rider and are not medical advice; do not follow them when"
    " ill or just recovered. Stop at chest pain, breathlessness, dizziness, confusion or chills."
    " Nothing here is a reason to lose body mass.",
    "Not when ill. Stop at chest pain, breathlessness or dizziness. A run after the ride is not in"
    " the plan.",
)
FIT = Caution(
    "Equipment",
    "It must fit, be certified for its use and stay as its maker sold it: no taping of vents, no"
    " sanding, drilling or cutting, no loosened straps. Never use a helmet that is damaged,"
    " altered or the wrong size; check that you see and hear the traffic.",
    "Must fit, be certified and unaltered; no second is worth a crash.",
)
TYRES = Caution(
    "Tyres and wheels",
    "Keep pressure within the limits of tyre and rim, lower on wide and hookless rims; check wear"
    " and seating before each race, and the mass limit of light parts.",
    "Pressure within the limits of tyre and rim; check wear.",
)
POSITION = Caution(
    "Position",
    "Decide it with a qualified fitter. The lower you are, the less you see ahead: look up. Build"
    " it up in training; stop with numb hands or feet or a sore neck.",
    "With a fitter; look up; stop with numbness or a sore neck.",
)
RULES = Caution(
    "Rules",
    "The rules of the event decide what may be used: ask the organiser before you pay. A gain that"
    " is not allowed is worth nothing.",
)
MONEY = Caution(
    "Money",
    "Savings are uncertain and there is no hurry: ask first about returns, deposits and warranty.",
)
TESTS = Caution("Tests", TEST_SAFELY, "On a quiet road or a track, with a lookout; look up.")


def cautions_for(race: Race, options: Sequence[Option], *, testing: bool) -> tuple[Caution, ...]:
    """What to heed in this race."""
    of_day = (*_of_wind(race, options), *_of_temperature(race))
    tyres = tuple(one.name for one in options if one.acts_on == "tyres")
    held = tuple(one.name for one in options if one.holding != ALWAYS or one.slot == "position")
    equipment = (
        replace(FIT, of=tuple(one.name for one in options)),
        replace(TYRES, of=tyres),
        replace(POSITION, of=held),
    )
    return (*of_day, ROAD, BODY, RULES, *equipment, MONEY, *([TESTS] if testing else []))


def _of_wind(race: Race, options: Sequence[Option]) -> Iterator[Caution]:
    day = stated_day(race)
    wind, gusts = day.wind_at_rider_m_s, day.least_gust
    reasons = {option.name: too_windy(option, day) for option in options}
    dangerous = [name for name, why in reasons.items() if why]
    if dangerous or gusts >= GUST_TOO_STRONG:
        blows = "The mean wind alone is" if wind == gusts else "Gusts reach"
        leave = " and ".join(dangerous) or DEEP
        yield Caution(
            "Wind",
            f"{blows} {speed_words(gusts)} at the rider: ride the shallower choice and leave"
            f" {leave} at home ({JUDGED}).",
            f"{blows} {speed_words(gusts)} at the rider: leave {leave} at home.",
        )
    catching = {
        option.name: limit
        for option in options
        if (limit := gust_limit(option)) is not None and option.name not in dangerous
    }
    if catching or (not dangerous and GUST_CAUTION <= gusts < GUST_TOO_STRONG):
        limit = min(catching.values(), default=GUST_TOO_STRONG)
        yield Caution(
            "Wind",
            f"These numbers leave gusts out, and side wind pushes {' and '.join(catching) or DEEP}:"
            f" take care in gusts of {speed_words(care_from(limit))} or more at the rider, after"
            f" lorries and at gaps in hedges; from {speed_words(limit)} on, ride the shallower"
            f" choice, whatever it costs ({JUDGED}). Practise in wind first.",
            f"Side wind pushes {' and '.join(catching) or DEEP}: take care in gusts of"
            f" {speed_words(care_from(limit))} or more at the rider, and leave it at home from"
            f" {speed_words(limit)} on. Practise in wind first.",
            None if gusts >= GUST_CAUTION else tuple(catching),
        )


def _of_temperature(race: Race) -> Iterator[Caution]:
    if is_hot(race.air):
        yield Caution("Heat", HEAT, HEAT)
    elif (race.air.known_temperature or COLD) < COLD:
        cold = (
            "Below 8 degC (46 degF) hands, brakes and tyres need more care, and muscles need more"
            " time."
        )
        yield Caution("Cold", cold, cold)


# --- Everything that an athlete should know before a race, worked out in one go ------------------

SHORT = 0.97
"""Share of the race power below which what the limit lets be held throughout counts as less; our
choice, well beyond what the fourth power of a start takes."""

AS_GOOD = 0.5
"""Seconds by which constant power must be faster than a card to be advised instead [s]."""

OVER = 0.001
"""Share of the limit by which today's bike may break it by the card: rounding; our choice."""

SECTIONS = 12
"""Sections of the card at most: what fits on a stem."""


@dataclass(frozen=True)
class AdviceRequest:
    """What is asked next to the race file, and instead of what it says."""

    budget: Money | None = None
    per_second: Money | None = None
    session_fee: Money | None = None
    """Most to spend in all, most for a second, and what a test session costs; None to take what the
    race file says.
    """
    scatters: tuple[Scatter, ...] = ()
    """How far one run of a test is off; empty to take that of the options' own tests."""
    draws: int = DEFAULT_DRAWS
    seed: int = DEFAULT_SEED
    """Of every Monte Carlo."""

    def spending(self, race: Race) -> Spending:
        """What may be spent on a race."""
        terms = race.money_terms
        most = self.per_second or terms.per_second, self.budget or terms.budget
        return Spending(*most)


@dataclass(frozen=True, eq=False)
class Plan:
    """How the race is to be ridden with what is advised, and today's bike for comparison."""

    even: Ridden
    """The race with what is advised, at the race power throughout; that of today where nothing else
    is advised than what is in use.
    """
    pacing: Pacing | None
    """The card; None where there is none."""
    no_card: str
    """Why there is none; empty where there is one."""
    ridden: Ridden
    """The race as it is advised to be ridden: by the card, or at constant power where that is
    faster.
    """
    today: PacingPlan
    """The race with what is in use today, at constant power that is as hard."""
    by_card_today: PacingPlan | None = None
    """That race ridden by the card, as hard; None where the card or the set changes nothing, or
    today's bike does not hold the limit by it.
    """

    @property
    def first_w(self) -> float:
        """Power at the start, which is held throughout where there is no card [W]."""
        return float(PacingPlan(self.ridden).power[0])

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The landmarks, and when they are passed."""
        along = self.ridden.solution
        at = np.array([one.at for one in self.even.race.landmarks])
        elapsed = np.interp(at, along.ride.nodes, along.elapsed).tolist()
        marks = zip(self.even.race.landmarks, elapsed, strict=True)
        return tuple(Passage(one.at, one.name, when, one.note) for one, when in marks)


@dataclass(frozen=True, eq=False)
class Advice:
    """What to ride, to buy, to leave and to test, and what it rests on."""

    base: Ridden
    """The race with what the athlete has."""
    plan: Plan
    """The race with what is advised."""
    timing: Timing
    """How long that takes at constant power."""
    band: TimeBand | None
    """How sure that is by all stated doubts; None where none is stated."""
    values: tuple[OptionValue, ...]
    """What each option is worth, in the order of the race file."""
    evidence: tuple[TrialAnswer | SweepAnswer | None, ...]
    """What the test of each says; None for one that names none."""
    refused: tuple[Failed, ...]
    """Options that cannot be worked out."""
    spending: Spending
    """What may be spent."""
    shopping: Shopping
    """What to do about the options."""
    decision: Decision | None
    """Whether to test first; None where it is not stated what a second is worth, or nothing can be
    judged.
    """
    no_decision: str
    """Why there is none; empty where there is one."""
    cautions: tuple[Caution, ...]
    """What comes before any second."""
    request: AdviceRequest
    """What was asked."""
    doubtful: tuple[str, ...]
    """What makes the power doubtful."""
    stated_power_w: float | None = None
    """The power of the race file where it cannot be held, so that all of this is for a lower one,
    that of `race` [W]; None where it can.
    """

    @property
    def race(self) -> Race:
        """The race itself."""
        return self.base.race

    @property
    def pacing(self) -> Pacing | None:
        """How to ride the race with what is advised; None where there is no card."""
        return self.plan.pacing

    @property
    def card(self) -> Card | None:
        """The card; None where there is none."""
        return self.pacing.card if self.pacing else None

    @property
    def set_stays(self) -> bool:
        """Whether nothing else is advised than what is in use."""
        return self.plan.even is self.base

    @property
    def used(self) -> tuple[OptionValue, ...]:
        """What is to be bought, hired or used, the greatest saving first."""
        return tuple(value for value, one in self.ranked if one.do in USED)

    @property
    def ranked(self) -> list[tuple[OptionValue, Advised]]:
        """Options with what to do about them, in the order of the advice."""
        known = {value.option.name: value for value in self.values}
        return [(known[one.name], one) for one in self.shopping.advised]

    def about(self, value: OptionValue) -> Advised:
        """What to do about an option."""
        return next(one for one in self.shopping.advised if one.name == value.option.name)

    @property
    def currency(self) -> str:
        """Of all prices."""
        return self.spending.currency(value.option for value in self.values)

    @property
    def changed(self) -> tuple[OptionValue, ...]:
        """What is to be bought, hired or used and is not in use today."""
        return tuple(value for value in self.used if not value.exchange.in_use)

    def applies(self, caution: Caution) -> bool:
        """Whether a caution is about the ride, or an option that is at hand or may be used."""
        kept = {*self.race.use, *self.shopping.to(*USED, "test", "wait", "weigh", "unpriced")}
        kept |= {one.name for one in self.race.options if one.ownership.owned}
        return caution.of is None or not kept.isdisjoint(caution.of)

    @property
    def unchecked(self) -> tuple[str, ...]:
        """Options to be bought, hired or used whose rules nobody has checked."""
        options, used = (value.option for value in self.values), self.shopping.to(*USED)
        unchecked = (one.name for one in options if one.restrictions.rules == "not checked")
        return tuple(name for name in unchecked if name in used)

    @property
    def only_together(self) -> tuple[tuple[str, ...], ...]:
        """Options to be used of which only a test as one tells, set by set."""
        tests = self.shopping.basket.tests_of_sets if self.shopping.basket else ()
        claims = {*self.shopping.required}
        sets = (test.set_of for test in self.race.tested_sets if test.name in tests)
        return tuple(names for names in sets if not claims.isdisjoint(names))

    def replaced_by(self, name: str) -> tuple[str, ...]:
        """Options that are advised and cannot stay with another one."""
        chosen = self.shopping.basket.chosen if self.shopping.basket else ()
        known = {one.name: one for one in self.race.options}
        after = put_in(chosen, [name], known)
        return tuple(one for one in chosen if one not in after)

    @property
    def next_test(self) -> Proposal | None:
        """The test that is worth most after its cost, of what may be bought or used at all."""
        test = self.decision.next_test if self.decision else None
        usable = {*self.shopping.to("test"), *self.shopping.to(*USED)}
        return test if test is not None and usable.issuperset(test.names) else None

    @property
    def card_pays(self) -> bool:
        """Whether the card is no slower than the constant power that the limit allows."""
        return self.pacing is not None and self.plan.ridden is self.pacing.ridden.ridden

    @cached_property
    def set_doubt_s(self) -> float:
        """Standard uncertainty of what the advised set saves, as far as it is stated [s]."""
        return doubt_in_use(self.plan.even)

    @property
    def between_s(self) -> tuple[float, float]:
        """95 % interval of the time as it is advised, as wide as at constant power [s].

        It holds the error of the model, the doubts of the set, and those that the file states.
        """
        time = self.plan.ridden.time
        if self.band is None:
            return interval_of(time, math.hypot(self.timing.model_error_s, self.set_doubt_s))
        spread, moved = self.band.spread, time - self.plan.even.time
        return spread.low_95_s + moved, spread.high_95_s + moved


NOTHING_ASKED = AdviceRequest()


def advise(race: Race, request: AdviceRequest = NOTHING_ASKED) -> Advice:
    """Work out all that an athlete should know.

    Parameters
    ----------
    race : Race
        What is ridden, and what may be changed for it.
    request : AdviceRequest
        What is asked with it.

    Returns
    -------
    Advice
        An option that cannot be worked out, though its files can be read, spoils nothing else.
        Where the stated power cannot be held by what the file says of the rider, all is worked out
        for what can.

    Raises
    ------
    InputError
        If the rider comes to a stop on the way, prices stand in several currencies, or a scatter
        fits no option.
    """
    spending = request.spending(race)
    amounts = {
        "the price per second": spending.per_second,
        "the budget": spending.budget,
        "the fee of a session": request.session_fee or race.money_terms.test_fee,
    }
    refuse_mixed_currencies(race.options, amounts)
    chosen = _chosen(race, request, spending)
    warnings, held = _held(race, chosen.even)
    if held is None:
        return _advised(chosen, request)
    lower = _chosen(race.with_power(held), request, spending)
    advice = _advised(lower, request)
    return replace(advice, doubtful=warnings, stated_power_w=race.rider.power)


def _held(race: Race, even: Ridden) -> tuple[tuple[str, ...], float | None]:
    """What makes a power doubtful, and the one that critical power lets be held instead [W].

    None where the stated one can be held. `even` is the race with what is advised. In whole watts.
    A power that fades is lower at the end by the wish of whoever states it.
    """
    try:
        asked = asked_limit(even)
        if asked.limit.above is None or race.rider.power_fade:
            return (), None
        share = constant_within(even, asked.limit).power[0] / even.race.rider.power
    except InputError:  # there is no card then, which says why
        return (), None
    held = float(int(share * race.rider.power))
    return asked.warnings, held if held >= 1.0 and share < SHORT else None


@dataclass(frozen=True, eq=False)
class _Chosen:
    """What is advised about the options of a race at its power."""

    base: Ridden
    even: Ridden
    """The race with what is in use, and with what is advised, at constant power."""
    values: tuple[OptionValue, ...]
    refused: tuple[Failed, ...]
    spending: Spending
    shopping: Shopping
    decision: Decision | None
    no_decision: str


def _chosen(race: Race, request: AdviceRequest, spending: Spending) -> _Chosen:
    base = ride_in_use(race)
    worths, refused = workable(base)
    options = tuple(worth.option for worth in worths)
    values = tuple(
        values_of(base, options, wanted=spending.per_second, draws=request.draws, seed=request.seed)
    )
    decision, no_decision = _decision(base, options, request, spending)
    shopping = shop(base, options, values, spending, decision)
    even = _with_set(base, shopping)
    return _Chosen(base, even, values, refused, spending, shopping, decision, no_decision)


def _with_set(base: Ridden, shopping: Shopping) -> Ridden:
    """Ride with the set that is advised, by the tests of sets that the advice believes."""
    use = shopping.basket.chosen if shopping.basket else ()
    if set(use) == set(base.race.use):
        return base
    tests = [one for one in base.race.tested_sets if one.name not in shopping.excluded]
    return ride_using(base.bare, use, tests)


def _advised(chosen: _Chosen, request: AdviceRequest) -> Advice:
    """All of it, with the card for what is advised."""
    base, even, shopping = chosen.base, chosen.even, chosen.shopping
    options, plan = tuple(value.option for value in chosen.values), _plan(base, even)
    stated = base.race.doubts.stated
    return Advice(
        base=base,
        plan=plan,
        timing=timing(even),
        band=time_band(even, request.draws, request.seed) if stated else None,
        values=chosen.values,
        evidence=tuple(test_behind(option, base) for option in options),
        refused=chosen.refused,
        spending=chosen.spending,
        shopping=shopping,
        decision=chosen.decision,
        no_decision=chosen.no_decision,
        cautions=cautions_for(base.race, options, testing=bool(shopping.to("test"))),
        request=request,
        doubtful=plan.pacing.card.warnings if plan.pacing else (),
    )


def _plan(base: Ridden, even: Ridden) -> Plan:
    """Make the card, and ride today's bike as hard at constant power."""
    try:
        limit, asked = asked_limit(base).limit, asked_limit(even)
        pacing = pace(even, asked, SECTIONS)
    except InputError as error:
        return Plan(even, None, str(error), even, PacingPlan(base))
    constant = constant_within(even, asked.limit)
    first, *others = pacing.card.targets
    even_card = first.pedalled and not others
    if even_card or pacing.card.time_s >= constant.time + AS_GOOD:
        return Plan(even, pacing, "", constant.ridden, constant_within(base, limit))
    level = pacing.effort * base.race.rider.power / even.race.rider.power
    today = constant_within(base, limit.at_level(level))
    alike = None if even is base else _by_card(base, pacing, limit, level)
    return Plan(even, pacing, "", pacing.ridden.ridden, today, alike)


def _by_card(base: Ridden, pacing: Pacing, limit: Limits, mean: float) -> PacingPlan | None:
    """Today's bike by the card, its targets changed by one factor to come to a mean."""
    levels = np.array([target.power_w for target in pacing.card.targets])
    held = limit.mean
    if held is None:
        return None
    ridden = ridden_at(base, pacing.sections.spread(levels))
    factor = mean / held.held(ridden)
    ridden = ridden_at(base, pacing.sections.spread(factor * levels), ridden)
    return ridden if np.all(limit.room(ridden) >= -OVER) else None


def _decision(
    base: Ridden, options: tuple[Option, ...], request: AdviceRequest, spending: Spending
) -> tuple[Decision | None, str]:
    if not options:
        return None, "there is nothing to test"
    if spending.per_second is None:
        return None, "what a second is worth to you is not stated"
    fee = request.session_fee or base.race.money_terms.test_fee
    question = PricedQuestion(
        spending.per_second,
        fee,
        scatters=request.scatters,
        budget=spending.budget,
        draws=request.draws,
        seed=request.seed,
    )
    try:
        return decide(base, (*options, *base.race.tested_sets), question), ""
    except InputError:
        if request.scatters:
            # What is wrong then may be what was asked, which the file cannot mend.
            raise
        return None, "the scatter of a test of them is not stated"


# --- What is not modelled, in plain words --------------------------------------------------------

LIMITS = (
    "An estimate, not a promise: traffic, stops, road works, punctures and mechanical trouble are"
    " not included.",
    "The model was found to be off by about 2.7 W against power measured on the road (Martin et al."
    " 1998). Differences between two setups are surer than the finish time, since common errors"
    " cancel.",
    "Drafting, other riders and heat are not modelled; fatigue only as the limit of the card.",
    "Wind is a mean: gusts are not in the time. Unless the race file has a table by yaw, one drag"
    " area is used at every yaw.",
    "Savings are taken to add in drag area, unless a test of the whole set says otherwise.",
    "A test holds for its rider, fit, size, speed and yaw, and a test on one day may not hold for"
    " another day. An error that all runs share shows in no interval.",
    "The doubts of different options are taken as independent of each other.",
    "No number includes comfort, noise, looks, or what a place in the results is worth to you.",
)
"""Sentences for whoever acts on an advice."""
