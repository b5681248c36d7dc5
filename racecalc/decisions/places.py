"""Seconds as places of a results list.

The own time and those of the rivals are taken as normal and independent of each other. Given the
own time, the number of rivals ahead then is a sum of independent yes-or-no events (a
Poisson-binomial count), worked out exactly by adding one rival after the other; what is left is an
integral over the own time. No random numbers are drawn.

References
----------
.. [1] Chen SX, Liu JS. Statistical applications of the Poisson-binomial and conditional Bernoulli
   distributions. Statistica Sinica 1997;7:875-892 (the count by recursion; from memory).
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated

import numpy as np
import scipy

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import lacking_needs, unwished
from racecalc.decisions.doubt import time_band
from racecalc.decisions.riding import Ridden, power_worth
from racecalc.decisions.timing import MODEL_ERROR, model_error
from racecalc.decisions.value import value_of_set
from racecalc.decisions.verdicts import interval, interval_of
from racecalc.decisions.weather import unsafe_now
from racecalc.decisions.worth import worth_of
from racecalc.domain.option import Option
from racecalc.errors import InputError
from racecalc.files.race_values import nearest
from racecalc.files.table_kinds import ResultsTable, Unplaced
from racecalc.quantities.clock import show_duration
from racecalc.quantities.measured import in_quotes
from racecalc.quantities.reading import HIGHEST
from racecalc.written import HIDDEN, SPREAD, As, written

# --- Who rides against whom ----------------------------------------------------------------------

PODIUM = 3


@dataclass(frozen=True)
class Rivals:
    """The rivals."""

    source: Annotated[str, As(results="")]
    """The list that they are in."""
    names: Annotated[tuple[str, ...], HIDDEN]
    """One for each time."""
    times: Annotated[tuple[float, ...], HIDDEN]
    """Ascending [s]."""
    spread: Annotated[float, As(rivals_spread_s="")] = 0.0
    """Standard deviation of each rival's time from day to day [s]; 0 keeps the times of the list.
    """
    category: str | None = None
    """The category that they ride in; None where all count."""
    unplaced: Mapping[str, int] = field(default_factory=dict)
    """How many have no place, by reason."""
    notes: Annotated[tuple[str, ...], HIDDEN] = ()
    """What looks like a slip in the list."""

    @written
    def of(self) -> int:
        """How many have a place, the athlete included."""
        return len(self.times) + 1

    def named(self, time: float) -> tuple[str, ...]:
        """Names of the rivals with that very time."""
        both = zip(self.names, self.times, strict=True)
        return tuple(name for name, other in both if other == time)


@dataclass(frozen=True)
class Own:
    """The athlete without any option."""

    time: Annotated[float, As(own_time_s="")]
    """[s]."""
    doubt: Annotated[float, As(own_time_doubt_s="")] = 0.0
    """Standard uncertainty of that time [s]."""
    listed_as: Annotated[str | None, As(me="")] = None
    """Name in the list; None where the time is that predicted for the race file."""
    doubt_from: Annotated[tuple[str, ...], HIDDEN] = ()
    """What the doubt comes from, in plain words."""

    @property
    def between(self) -> tuple[float, float]:
        """The 95 % interval of `time` [s]."""
        return interval_of(self.time, self.doubt)


@dataclass(frozen=True)
class Goals:
    """What the athlete may aim at."""

    podium: int = PODIUM
    """How many places count as the podium."""
    target_s: float | None = None
    """A time that is to be reached [s]."""


def predicted(base: Ridden) -> Own:
    """The time predicted for a race, in doubt by the model and by what the race file states."""
    if not base.race.doubts.stated:
        return Own(base.time, model_error(base))
    band = time_band(base)
    causes = tuple(cause.words for cause in band.causes if cause.name != "model")
    return Own(base.time, band.spread.standard_deviation_s, doubt_from=causes)


def listed(results: ResultsTable, name: str, category: str = "") -> Own:
    """The athlete's own time in a list; what was ridden is in no doubt."""
    me = next((one for one in results.riders if one.name == name), None)
    if me is None:
        names = [one.name for one in results.riders]
        remedy = nearest(name, names, "write the name as in the list")
        raise InputError("--me", f"{in_quotes(name)} is not in {results.source}", remedy)
    if isinstance(me, Unplaced):
        problem = f"{in_quotes(name)} has no time in {results.source} ({me.why})"
        remedy = "leave --me out to place the time predicted for the race file"
        raise InputError("--me", problem, remedy)
    if category and me.category != category:
        other, asked = in_quotes(me.category), in_quotes(category)
        problem = f"{in_quotes(name)} rides in {other}, not in {asked}"
        raise InputError("--category", problem, "name that category, or leave --category out")
    return Own(me.time, listed_as=name)


def rivals(results: ResultsTable, me: str = "", category: str = "", spread: float = 0.0) -> Rivals:
    """Everybody in a list but the athlete."""
    known = list(dict.fromkeys(one.category for one in results.riders if one.category))
    if category and category not in known:
        problem = f"{in_quotes(category)} is not a category of {results.source}"
        remedy = f"known: {', '.join(known)}" if known else "the list states none; leave it out"
        raise InputError("--category", problem, remedy)
    within = (category,) if category else ("", *known)
    others = [one for one in results.finishers if one.name != me and one.category in within]
    if not others:
        where = f" in the category {in_quotes(category)}" if category else ""
        problem = f"nobody else has a time{where}"
        raise InputError(results.source, problem, "give a list with rivals in it")
    return Rivals(
        source=results.source,
        names=tuple(one.name for one in others),
        times=tuple(one.time for one in others),
        spread=spread,
        category=category or None,
        unplaced=Counter(one.why for one in results.unplaced if one.category in within),
        notes=results.notes,
    )


# --- Places among rivals, and the chance of each where times are not sure ------------------------

REACH = 8.0
"""Standard deviations either way beyond which nothing happens; that leaves out some 1e-15."""

MOST_NODES = 4000
"""Most own times at which the count is worked out; our choice. Enough for spreads of rivals down to
some hundredth of the own one; below, chances are off by 0.002 at most."""


def place_of(time: float, rivals: FloatArray) -> int:
    """Place of a time; who shares a time shares the place, and the places after it fall out.

    Examples
    --------
    >>> place_of(1408.0, np.array([1391.0, 1402.0, 1408.0])), place_of(9.0, np.array([8.0, 8.0]))
    (3, 3)
    """
    return 1 + int(np.count_nonzero(rivals < time))


def place_chances(time: float, doubt: float, rivals: FloatArray, spread: float) -> FloatArray:
    """Chance of each place.

    Examples
    --------
    >>> place_chances(10.0, 1.0, np.array([10.0]), 1.0)
    array([0.5, 0.5])
    """
    if spread == 0:
        return _among_fixed(time, doubt, np.sort(rivals))
    # Whoever is out of reach is surely ahead or behind, and not worth counting.
    reach = REACH * (doubt + spread)
    near = rivals[np.abs(rivals - time) <= reach]
    ahead = int(np.count_nonzero(rivals < time - reach))
    chances = np.zeros(len(rivals) + 1)
    chances[ahead : ahead + len(near) + 1] = _among_spread(time, doubt, near, spread)
    return chances


def _among_spread(time: float, doubt: float, rivals: FloatArray, spread: float) -> FloatArray:
    deviation = np.zeros(1)
    if doubt:
        deviation = np.linspace(-REACH, REACH, _nodes(doubt, spread, len(rivals)))
    own, weight = time + doubt * deviation, np.exp(-0.5 * deviation**2)
    ahead = scipy.special.ndtr((own[:, None] - rivals) / spread)
    return np.asarray((weight / weight.sum()) @ counts(ahead))


def _among_fixed(time: float, doubt: float, rivals: FloatArray) -> FloatArray:
    if doubt == 0:
        return np.asarray(np.arange(1, len(rivals) + 2) == place_of(time, rivals), dtype=float)
    below = scipy.special.ndtr((rivals - time) / doubt)
    return np.diff(np.concatenate(([0.0], below, [1.0])))


def _nodes(doubt: float, spread: float, rivals: int) -> int:
    """How many own times resolve the integrand.

    The chance of a place changes over about `spread` / sqrt(n) where n rivals lie together. The
    trapezoidal rule on smooth functions that vanish at both ends converges faster than any power
    of its step, so that half of that width is small enough.
    """
    width = min(doubt, spread / math.sqrt(max(rivals, 1)))
    return min(2 * math.ceil(2.0 * REACH * doubt / width) + 1, MOST_NODES)


def counts(chances: FloatArray) -> FloatArray:
    """Chance of each number of events among independent ones.

    Examples
    --------
    >>> counts(np.array([[0.5, 0.5]]))
    array([[0.25, 0.5 , 0.25]])
    """
    cases, events = chances.shape
    found = np.zeros((cases, events + 1))
    found[:, 0] = 1.0
    for event in range(events):
        happens = chances[:, event, None]
        until = found[:, : event + 1].copy()
        found[:, : event + 1] *= 1.0 - happens
        found[:, 1 : event + 2] += happens * until
    return found


def chance_within(time: float, doubt: float, limit: float) -> float:
    """Chance that a time is no more than a limit [s]."""
    return float(scipy.special.ndtr((limit - time) / doubt) if doubt else time <= limit)


# --- What is tried on the course -----------------------------------------------------------------


@dataclass(frozen=True)
class Tried:
    """An option or set and what it saves."""

    name: str
    """Of the option, or of all of a set."""
    saved_s: float
    """Seconds saved; negative where it costs time."""
    doubt_s: float | None
    """Standard uncertainty of `saved_s`; None where none is stated."""
    forbidden: bool = False
    """Whether the race file says that the rules forbid it or a part of it."""
    unwished: Annotated[str, HIDDEN] = ""
    """Why its owner would not use it here, or what it lacks; empty where neither is so."""
    unsafe: str = ""
    """Why it, or a part of it, is not to be used in the weather of the race file; empty where it
    may be.
    """
    untested_set: Annotated[bool, HIDDEN] = False
    """Whether it is a set of which only the parts were tested."""

    @property
    def between(self) -> tuple[float | None, float | None]:
        """The 95 % interval of `saved_s` [s]."""
        return interval(self.saved_s, self.doubt_s)

    @property
    def suggested(self) -> bool:
        """Whether it may be suggested to close a gap."""
        return not (self.forbidden or self.unwished or self.unsafe)


NOTHING = Tried("no option", 0.0, 0.0)


def tried_option(base: Ridden, option: Option) -> Tried:
    """Try one option on the course of the race file."""
    worth = worth_of(base, option)
    why_not = unwished(worth), unsafe_now(base, option)
    return Tried(option.name, worth.saved_s, worth.doubt_s, option.forbidden, *why_not)


def tried_options(base: Ridden, options: Sequence[Option]) -> dict[str, Tried]:
    """Try each option on the course, and say which would lack what it needs."""
    found = {option.name: tried_option(base, option) for option in options}
    lacking = lacking_needs([one for one in options if found[one.name].suggested])
    return found | {name: replace(found[name], unwished=why) for name, why in lacking.items()}


def tried_set(base: Ridden, options: tuple[Option, ...], tests: Sequence[Option]) -> Tried:
    """Try several options at once; of the tests of sets those that hold count."""
    value = value_of_set(base, options, tests)
    return Tried(
        name=" + ".join(value.names),
        saved_s=value.saved_s,
        doubt_s=value.doubt_s,
        forbidden=any(option.forbidden for option in options),
        unsafe=next((why for one in options if (why := unsafe_now(base, one))), ""),
        untested_set=not value.wholly_tested,
    )


# --- What seconds mean in places of a results list, and how far the next place is away -----------

STEPS = 5
"""Places up that the ladder shows; our choice."""


@dataclass(frozen=True)
class PlaceChance:
    """The chance of one place."""

    place: int
    """From 1."""
    chance: float
    """Of this very place."""


@dataclass(frozen=True)
class PlaceChances:
    """What may come of a time in doubt; None throughout where its doubt is not stated."""

    expected_place: float | None = None
    """Mean of the places, each weighted by its chance."""
    chance_place_or_better: float | None = None
    """Chance of the place of the best estimate, or a better one."""
    chance_podium: float | None = None
    """Chance to be among the first."""
    chance_target: float | None = None
    """Chance of a time no longer than the target; None without a target too."""
    chance_of_place: tuple[PlaceChance, ...] | None = None
    """Of every place, however unlikely; they add up to 1."""


@dataclass(frozen=True)
class Standing:
    """Where an option or set puts the athlete."""

    tried: Annotated[Tried, SPREAD]
    """What is used."""
    time_s: float
    """Time with it at the best estimate [s]."""
    place: int
    """Its place, from 1; equal times share one."""
    gained: int
    """Places better than without any option."""
    shared_with: tuple[str, ...]
    """Rivals with the same time."""
    certain: Annotated[bool, HIDDEN]
    """Whether neither the own time nor those of the rivals are in doubt."""
    chances: Annotated[PlaceChances, SPREAD]
    """What may come of it."""


@dataclass(frozen=True)
class GoalGap:
    """How far a goal is away without any option."""

    goal: str
    """What is reached; one of "place", "podium", "target"."""
    place: int
    """Place of that time."""
    rivals: tuple[str, ...]
    """Who has that time; empty for a target."""
    time_s: float
    """The time [s]: to equal it shares the place and meets the target, anything less beats it."""
    gap_s: float
    """Seconds to it; what is in hand is negative."""
    watts_w: float | None
    """Watts more, on the whole course of the race file, that save `gap_s`; negative for what is in
    hand; None where it takes more than `racecalc.quantities.reading.HIGHEST` in all.
    """
    options: tuple[str, ...]
    """Single options that save `gap_s` at their best estimate, largest saving first, without what
    is forbidden, not wished or not to be used in this weather.
    """
    options_without_doubt: tuple[str, ...]
    """Those of them whose doubt is not stated."""


@dataclass(frozen=True)
class Places:
    """Answer to what seconds mean in places."""

    field: Annotated[Rivals, SPREAD]
    """The rivals."""
    own: Annotated[Own, SPREAD]
    """Whose time it is and how sure."""
    goals: Annotated[Goals, SPREAD]
    """Podium and target."""
    predicted_time_s: float
    """Time of the race file without any option [s]."""
    without: Standing
    """Place without any option."""
    options: tuple[Standing, ...]
    """With each option or set, the largest saving first."""
    gaps: tuple[GoalGap, ...]
    """The next places up, then the podium and the target."""
    notes: Annotated[tuple[str, ...], HIDDEN]
    """What looks like a slip."""
    cautions: tuple[str, ...]
    """What the chances rest on and what is not in them."""


def places(
    base: Ridden,
    field: Rivals,
    own: Own,
    tried: Sequence[Tried],
    singles: Sequence[Tried],
    goals: Goals,
) -> Places:
    """Place the athlete among the rivals, with and without options."""
    allowed = [one for one in _by_saving(singles) if one.suggested]
    return Places(
        field=field,
        own=own,
        goals=goals,
        predicted_time_s=base.time,
        without=_standing(NOTHING, own, field, goals),
        options=tuple(_standing(one, own, field, goals) for one in _by_saving(tried)),
        gaps=tuple(_gap(base, own, field, allowed, goal) for goal in _goals(own, field, goals)),
        notes=(*field.notes, *_slips(base.time, own, field)),
        cautions=_cautions(base, own, field, tried, singles),
    )


def _by_saving(tried: Sequence[Tried]) -> list[Tried]:
    return sorted(tried, key=lambda one: -one.saved_s)


def _standing(tried: Tried, own: Own, field: Rivals, goals: Goals) -> Standing:
    time, rivals = own.time - tried.saved_s, np.array(field.times)
    place = place_of(time, rivals)
    doubt = None if tried.doubt_s is None else float(np.hypot(own.doubt, tried.doubt_s))
    return Standing(
        tried=tried,
        time_s=time,
        place=place,
        gained=place_of(own.time, rivals) - place,
        shared_with=field.named(time),
        certain=doubt == field.spread == 0,
        chances=PlaceChances() if doubt is None else _chances(time, doubt, place, field, goals),
    )


def _chances(time: float, doubt: float, place: int, field: Rivals, goals: Goals) -> PlaceChances:
    chances = place_chances(time, doubt, np.array(field.times), field.spread)
    target = goals.target_s
    return PlaceChances(
        expected_place=float(chances @ np.arange(1, len(chances) + 1)),
        chance_place_or_better=float(chances[:place].sum()),
        chance_podium=float(chances[: goals.podium].sum()),
        chance_target=None if target is None else chance_within(time, doubt, target),
        chance_of_place=tuple(map(PlaceChance, range(1, len(chances) + 1), chances.tolist())),
    )


def _goals(own: Own, field: Rivals, goals: Goals) -> list[tuple[str, float]]:
    """What can be aimed at and the time that reaches it; the nearest places first."""
    faster = sorted({time for time in field.times if time < own.time}, reverse=True)
    found = [("place", time) for time in faster[:STEPS]]
    if goals.podium <= len(field.times):
        found.append(("podium", field.times[goals.podium - 1]))
    if goals.target_s is not None:
        found.append(("target", goals.target_s))
    return found


def _gap(
    base: Ridden, own: Own, field: Rivals, singles: Sequence[Tried], goal: tuple[str, float]
) -> GoalGap:
    name, time = goal
    gap = own.time - time
    enough = [one for one in singles if one.saved_s >= gap > 0]
    return GoalGap(
        goal=name,
        place=place_of(time, np.array(field.times)),
        rivals=field.named(time) if name != "target" else (),
        time_s=time,
        gap_s=gap,
        watts_w=_watts(base, gap),
        options=tuple(one.name for one in enough),
        options_without_doubt=tuple(one.name for one in enough if one.doubt_s is None),
    )


def _watts(base: Ridden, gap: float) -> float | None:
    watts = power_worth(base, base.time - gap) if gap < base.time else None
    return None if watts is None or base.race.rider.power + watts > HIGHEST else watts


# --- What places and their chances rest on, in sentences -----------------------------------------

UNTESTED_SET = "Parts of a set may disturb each other's air; only a test of the whole set shows it."

ALIKE = 0.1
"""Share by which the race file may be off the list before it looks like another course; our
choice."""


def _slips(predicted: float, own: Own, field: Rivals) -> tuple[str, ...]:
    """What looks as if the list and the race file were not of one course."""
    low, high = (own.time, own.time) if own.listed_as else (field.times[0], field.times[-1])
    if low * (1 - ALIKE) <= predicted <= high * (1 + ALIKE):
        return ()
    listed = show_duration(low) if low == high else f"{show_duration(low)} to {show_duration(high)}"
    whose = "your time in the list is" if own.listed_as else "the times in the list are"
    words = f"The race file predicts {show_duration(predicted)}, but {whose} {listed}"
    return (f"{words}: is it the same course?",)


def _cautions(
    base: Ridden, own: Own, field: Rivals, tried: Sequence[Tried], singles: Sequence[Tried]
) -> tuple[str, ...]:
    """What the places and chances rest on, and what is not in them."""
    forbidden = dict.fromkeys(one.name for one in (*tried, *singles) if one.forbidden)
    unwished = {one.name: one.unwished for one in singles if one.unwished}
    unsafe = {one.name: one.unsafe for one in (*tried, *singles) if one.unsafe}
    return (
        _about_own(base, own),
        _about_rivals(field),
        "No rival changes bike, clothes or effort because you do; nobody drafts, is held up in"
        " traffic or has a mechanical: places are those of a race against the clock.",
        *(
            [f"Forbidden by the rules, as the race file says: {', '.join(forbidden)}."]
            if forbidden
            else []
        ),
        *(f"{name} is not suggested to close a gap: {why}." for name, why in unwished.items()),
        *(f"{name} is not to be used in this weather: {why}." for name, why in unsafe.items()),
        *([UNTESTED_SET] if any(one.untested_set for one in tried) else []),
    )


def _about_own(base: Ridden, own: Own) -> str:
    predicted = show_duration(base.time)
    if own.listed_as:
        return (
            f"Your time of that day is taken as it was, {show_duration(own.time)}. The chances"
            " include only the doubt of the savings (normally distributed), not how good your next"
            " day will be. Seconds saved and watts are those for the course and weather of the race"
            f" file, where you need {predicted}, not for that day."
        )
    stated, (low, high) = ", ".join(own.doubt_from), own.between
    return (
        f"Your time is the {predicted} predicted for the race file, in 95 of 100 cases"
        f" {show_duration(low)} to {show_duration(high)} (normally distributed), by "
        + (f"your doubt of {stated}, and " if stated else "")
        + f"the {MODEL_ERROR} W of the model."
        + ("" if stated else " Doubts of power, CdA and weather are not stated, so not included.")
        + " The list is from another day with other weather:"
        f" 1 % in everybody else's time is {0.01 * base.time:.0f} s here."
    )


def _about_rivals(field: Rivals) -> str:
    if field.spread == 0:
        return (
            "The rivals are taken to repeat the times of that day. On another day form and wind"
            ' change each of them: state by how much with --rivals, as "6 s".'
        )
    return (
        "Each rival's time varies around that of the list with a standard deviation of"
        f" {field.spread:g} s (normal, independent of the others); wind or rain that slows"
        " everybody is not included."
    )
