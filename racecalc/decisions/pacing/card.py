"""The pacing card, and the power that a goal needs."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.doubt import time_band
from racecalc.decisions.pacing.levels import best_levels, rounded_levels
from racecalc.decisions.pacing.limits import FOURTH, HeldLimit, LimitKept, Limits
from racecalc.decisions.pacing.optimal import (
    FINE,
    STRAIGHT,
    constant_within,
    cut,
    ideal_within,
    levels_near,
)
from racecalc.decisions.pacing.plans import PacingPlan, Sections, coarser, ridden_at
from racecalc.decisions.riding import Ridden, power_worth
from racecalc.decisions.timing import model_error
from racecalc.decisions.verdicts import chance_faster
from racecalc.decisions.weather import HEAT, is_hot
from racecalc.domain.course import grade_of
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration
from racecalc.quantities.reading import HIGHEST
from racecalc.written import HIDDEN, SPREAD, As, written, written_once

# --- The card ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Target:
    """One section of the card."""

    from_m: float
    to_m: float
    """Where it begins and ends [m]."""
    power_w: float
    """What to ride, at the power meter [W]."""
    speed_m_s: float
    """Mean speed that is expected [m/s]; an estimate and no target."""
    time_s: float
    elapsed_s: float
    """Time on it, and since the start at its end [s]."""
    grade: float
    """Rise over run from its beginning to its end."""
    head_wind_m_s: float
    """Mean head wind at the rider [m/s]; negative from behind."""
    entered_head_wind_m_s: float
    """Head wind at the rider 100 m into it [m/s]."""
    seconds_per_watt: float
    """Seconds saved by one watt more on the whole stretch [s/W]."""
    ideal_w: float
    """Mean over time of the ideal power on it [W]."""
    coasting_s: float
    """Time on it at which a bend or speed limit decides and less is pedalled [s]."""

    @property
    def pedalled(self) -> bool:
        """Whether the target decides on most of it, and not a bend or speed limit."""
        return self.coasting_s <= 0.5 * self.time_s


@dataclass(frozen=True)
class Passage:
    """A landmark, and when to pass it."""

    at_m: float
    """Where it is [m]."""
    name: str
    """In the user's words."""
    elapsed_s: float
    """Time since the start [s]."""
    note: str
    """The user's own words; empty for none."""


@dataclass(frozen=True)
class Card:
    """What the rider takes along."""

    race: Annotated[str, HIDDEN]
    """Name of the race."""
    targets: tuple[Target, ...]
    """From start to finish."""
    passages: Annotated[tuple[Passage, ...], As(landmarks="")]
    """Landmarks in their order."""
    time_s: float
    """With the card [s]."""
    constant_power_w: float
    constant_power_mean_w: float
    constant_power_time_s: float
    """Constant power that is as hard within the same limit, its power mean of the order of the card
    [W], and the time at it [s].
    """
    ideal_time_s: float
    """At the ideal power [s]."""
    ideal_sections: int | None
    """Sections of the ideal; None where it is found at every metre."""
    mean_power_w: float
    """Mean over time of the power pedalled [W]."""
    power_mean_w: float
    power_mean_order: float
    """Power mean over time of the power pedalled [W], and its order."""
    distance_mean_w: float
    """Mean over distance of the power pedalled [W]: no measure of effort."""
    critical_power_w: float | None
    work_above_critical_j: float | None
    """Critical power [W] and the work above it [J], stated or fitted; None where they do not count.
    """
    limit: str
    """What is held, in words; for a goal beyond it, that it is not."""
    within_limits: bool
    """Whether all that the race file states is held: not by every card that is made for a goal."""
    least_reserve_j: float | None
    least_reserve_unrefilled_j: float | None
    """Least work above critical power that is left along the way, as it comes back by the model and
    if nothing came back [J]; below 0 where a goal asks for more than there is; None without a
    critical power.
    """
    least_reserve_at_m: float | None
    """Where the first of them is reached [m]."""
    easing_s: float | None
    """Seconds saved by easing over the short last section [s]; None where the card does not."""
    warnings: Annotated[tuple[str, ...], As(doubtful="")]
    """What makes the targets doubtful."""
    cautions: tuple[str, ...]
    """What the rider must know before following it."""

    @written
    def saved_s(self) -> float:
        """Seconds gained over constant power [s]."""
        return self.constant_power_time_s - self.time_s

    @written
    def given_away_s(self) -> float:
        """Seconds lost to the ideal by cutting and rounding [s]."""
        return self.time_s - self.ideal_time_s


# --- Pacing targets for a race -------------------------------------------------------------------

SECTIONS, MOST_SECTIONS = 12, 60
"""Most sections of a card unless others are asked for, and the most that may be; our choice."""

SHORTEST = 500.0
"""Shortest section unless the course itself is short [m]; our choice of what can be followed."""

LEAST_SHARE = 1.0 / 40.0
"""Shortest section as a share of the course, if that is more."""

CRITICAL_CUTS = (FOURTH, 2.0)
"""Orders by which a course is cut within a critical power, the quicker card being taken: which
departure from the ideal costs most depends on what is left at the time, and no order tells."""

ASTRAY = 0.03
"""Error of a rider's power from section to section [share]; common practice, no source."""

WORTH_EASING = 0.5
"""Seconds that easing over a short last section must save to be on the card; our choice."""

ENTERED = 100.0
"""Distance from the start of a section by which its wind is felt [m]; our choice."""

STANDSTILL = 1.0
"""Mean speed on a section below which nobody stays upright [m/s]; our choice."""

CAUTIONS = (
    "Targets are advice for a healthy, trained rider, not medical advice; stop when something"
    " hurts, at chest pain or breathlessness, and do not ride them when ill.",
    "Road law, traffic, weather, surface and your skill limit the speed on descents and in bends;"
    " computed speeds are not targets.",
    "On the day, ride by how it feels: the plan knows neither your legs nor the traffic.",
)


@dataclass(frozen=True)
class WhatIf:
    """The card in another weather."""

    words: str
    """What is different."""
    time_s: float | None
    """Time with the same targets [s]; None where they all but stop the rider on a section."""
    remade_s: float | None
    """Time with targets made for that weather, in the same sections [s]; None as above."""
    constant_s: float | None
    """Time at constant power that takes as much effort as the same targets [s]; None where
    they do not hold the limit, so that there is nothing to compare.
    """
    held: bool
    """Whether the same targets hold the limit there."""
    effort: float | None
    """What they come to: the mean of the limit [W], or the least reserve [J]; None as for the time.
    """

    @property
    def remaking_saves_s(self) -> float | None:
        """Seconds that targets made for that weather would save; below 0 where these are softer."""
        return None if self.time_s is None or self.remade_s is None else self.time_s - self.remade_s

    @property
    def saved_s(self) -> float | None:
        """Seconds gained there over constant power that takes as much effort."""
        if self.time_s is None or self.constant_s is None:
            return None
        return self.constant_s - self.time_s


@dataclass(frozen=True)
class Goal:
    """What a wanted time takes."""

    time_s: float
    """The time that is wanted [s]."""
    constant_w: float
    """Constant power that takes as long [W]."""
    mean_w: float | None
    critical_w: float | None
    """The mean and the critical power of the limit at which the card takes as long [W], all raised
    by one factor, the work above critical power as it is; of several means the one that leaves
    least; None where not held.
    """
    mean_order: float | None
    """Order of that mean."""
    binds: str
    """The limits that leave nothing to speak of, in words; empty where there is one alone."""
    stated_mean_w: float | None
    stated_critical_w: float | None
    """The same of the race file [W]."""
    stated_time_s: float
    """With the card that the stated limits allow [s]."""
    held: bool
    """Whether the stated limits hold the card of the goal."""
    doubt_s: float
    doubt_w: float
    """Standard uncertainty of the time at a given power [s], and what that is in power [W]."""
    doubt_from: str
    """What the doubt comes from."""
    chance: float
    """Chance that the card of the stated limits takes no longer than wanted."""


@dataclass(frozen=True)
class Pacing:
    """Answer to how hard to ride where."""

    card: Annotated[Card, SPREAD]
    """The targets."""
    goal: Goal | None
    """What a wanted time takes; the targets are then made for it. None where none was given."""
    ideal: Annotated[PacingPlan, HIDDEN]
    ridden: Annotated[PacingPlan, HIDDEN]
    """The ideal, and the race ridden by the card."""
    limit: Annotated[Limits, HIDDEN]
    """What is held."""
    effort: Annotated[float, HIDDEN]
    """What the card comes to: the mean of the limit [W], or the least reserve [J]."""
    astray_s: float | None
    """Seconds lost by a rider who is alternately `ASTRAY` over and under the targets at the same
    mean, the mean of both ways to start; None for one section or without a mean.
    """
    sections: Annotated[Sections, HIDDEN]
    """The sections of the card, in steps."""
    what_ifs: Annotated[tuple[WhatIf, ...], As(what_if="")]
    """The card in other winds."""
    limits: tuple[LimitKept, ...]
    """Each limit, and what the card comes to."""
    asked: Annotated[
        HeldLimit, As(demand_all_along="demand", critical_power_fit="fit", assumed="assumed")
    ]
    """Where the limit comes from."""

    @written
    def mean_held_w(self) -> float | None:
        """The mean of the limit that the card comes to [W]; None where no mean is held."""
        return self.effort if self.limit.mean else None

    @written_once
    def model_error_s(self) -> float:
        """What the standard error of the model means in the time [s]."""
        return model_error(self.ridden.ridden)


def pace(
    base: Ridden,
    asked: HeldLimit,
    most_sections: int,
    others: Iterable[tuple[str, Race]] = (),
    wanted: float | None = None,
) -> Pacing:
    """Make a card for a race.

    Parameters
    ----------
    base : Ridden
        The race.
    asked : HeldLimit
        What the rider can hold, and what speaks against it.
    most_sections : int
        Most sections of the card.
    others : iterable of (str, Race)
        The same race in other weathers, each in words.
    wanted : float, optional
        Goal time [s]: the card takes no longer, whether the limit holds it or not.

    Returns
    -------
    Pacing
        The card holds the limit at every node, or that of the goal.

    Raises
    ------
    InputError
        If the limit leaves nothing to choose, or no power reaches the goal or the least takes less.
    """
    if wanted is None:
        made, goal = _made(base, asked.limit, most_sections), None
    else:
        made, goal = _made_for(base, asked.limit, most_sections, wanted)
    stated = _checked(asked.limit, made.sections, made.plan)
    kept = stated.each_kept(made.plan)
    doubtful = _doubtful(goal, stated, kept, made)
    found = Pacing(
        card=_card(base, made, stated, all(one.held for one in kept), (*doubtful, *asked.warnings)),
        goal=goal,
        ideal=made.ideal,
        ridden=made.plan,
        limit=made.limit,
        effort=_effort(made.limit, made.plan),
        astray_s=_astray(base, made.sections, made.limit, made.levels, made.plan),
        sections=made.sections,
        what_ifs=(),
        limits=kept,
        asked=asked,
    )
    return replace(found, what_ifs=tuple(in_other_weathers(base, found, others)))


def _doubtful(
    goal: Goal | None, stated: Limits, kept: Iterable[LimitKept], made: "_Made"
) -> Iterator[str]:
    if goal and not goal.held:
        wanted, allowed = show_duration(goal.time_s), show_duration(goal.stated_time_s)
        yield (
            f"Made for {wanted} and not for your limits, which allow {allowed}: do not start with"
            " it before training has shown that you can hold it."
        )
    if goal and stated.most_broken(made.plan):
        pushed = float(np.max(made.plan.power))
        yield f"It asks for up to {pushed:.0f} W, more than the {stated.most:.0f} W of pedal_most."
    for one in kept:
        if not goal and not one.held:
            yield f"No card was found that holds this limit: {one.limit}. Ride softer."
    if not made.ideal.settled:
        yield "The search for the ideal ride did not come to its end: a quicker card may exist."


@dataclass(frozen=True)
class _Made:
    """A card in the making: sections, the power of each, and the rides by it and at its best."""

    sections: Sections
    levels: FloatArray
    plan: PacingPlan
    ideal: PacingPlan
    limit: Limits
    easing_s: float | None = None


def _made(base: Ridden, limit: Limits, most_sections: int) -> _Made:
    even = constant_within(base, limit)
    ideal = ideal_within(base, limit, even)
    shortest = max(SHORTEST, LEAST_SHARE * float(ideal.nodes[-1]))
    weighed = CRITICAL_CUTS if limit.above else (_order(limit),)
    cuts = [cut(ideal, most_sections, shortest, one, limit.highest(base)) for one in weighed]
    found = min((_card_of(base, limit, one, ideal, even) for one in cuts), key=_rank)
    return _steady_to_the_finish(base, replace(found, ideal=ideal), even, 1.5 * shortest)


def _rank(made: _Made) -> tuple[bool, float]:
    return made.limit.rank(made.plan)


def _card_of(
    base: Ridden, limit: Limits, sections: Sections, near: PacingPlan, even: PacingPlan
) -> _Made:
    """The best whole watts of sections; neighbours that come to the same are one."""
    limit = _checked(limit, sections, near)
    rounded = [
        rounded_levels(base, sections, limit, exact, even.time)
        for exact in levels_near(base, sections, limit, near, even)
    ]
    levels, plan = min(rounded, key=lambda one: limit.rank(one[1]))
    first = np.concatenate(([True], np.diff(levels) != 0))
    merged = Sections(np.append(sections.edges[:-1][first], sections.edges[-1]))
    return _Made(merged, levels[first], plan, near, _checked(limit, merged, near))


def _steady_to_the_finish(base: Ridden, made: _Made, even: PacingPlan, short: float) -> _Made:
    """The card without easing over a short last section, unless that costs what can be felt."""
    edges, levels = made.sections.edges, made.levels
    ends = made.sections.ends(made.plan.nodes)
    if len(levels) < 2 or levels[-1] >= levels[-2] or ends[-1] - ends[-2] > short:
        return made
    steady = _card_of(base, made.limit, Sections(np.delete(edges, -2)), made.plan, even)
    (broken, eased_time), (steady_broken, time) = _rank(made), _rank(steady)
    if steady_broken > broken:
        return made
    if steady_broken == broken and time - eased_time >= WORTH_EASING:
        return replace(made, easing_s=time - eased_time)
    return replace(steady, ideal=made.ideal)


def other_winds(race: Race) -> tuple[tuple[str, Race], ...]:
    """The race in winds other than the stated one; calm air has none to turn or drop."""
    wind = race.air.wind
    if not wind.speed:
        return ()

    others = (
        ("no wind", 0.0, 0.0),
        ("half as much wind", 0.5, 0.0),
        ("half as much wind again", 1.5, 0.0),
        ("wind turned 45 deg to the right", 1.0, 45.0),
        ("wind turned 45 deg to the left", 1.0, -45.0),
        ("wind from the opposite side", 1.0, 180.0),
    )
    turned = {
        words: replace(wind, speed=factor * wind.speed, direction=wind.direction + np.radians(turn))
        for words, factor, turn in others
    }
    return tuple(
        (words, replace(race, air=replace(race.air, wind=one))) for words, one in turned.items()
    )


def in_other_weathers(
    base: Ridden, found: Pacing, others: Iterable[tuple[str, Race]]
) -> Iterator[WhatIf]:
    """Ride a card that was made in other weathers."""
    levels = np.array([target.power_w for target in found.card.targets])
    for words, race in others:
        yield _what_if(base.variant(race), found.sections, found.limit, levels, words)


def _checked(limit: Limits, sections: Sections, plan: PacingPlan) -> Limits:
    """A reserve is looked at in every section."""
    return limit.checked(sections.ends(plan.nodes))


def _order(limit: Limits) -> float:
    return limit.mean.order if limit.mean else FOURTH


def _effort(limit: Limits, plan: PacingPlan) -> float:
    """The mean of the limit [W]; without one the least reserve along the way [J]."""
    if limit.mean:
        return limit.mean.held(plan)
    return float(np.min(limit.above.reserve(plan))) if limit.above else 0.0


def _as_hard(base: Ridden, limit: Limits, plan: PacingPlan) -> PacingPlan:
    """Constant power at the means that a plan comes to, which rounding leaves below the limit's."""
    return constant_within(base, limit.at_means_of(plan))


def _astray(
    base: Ridden, sections: Sections, limit: Limits, levels: FloatArray, plan: PacingPlan
) -> float | None:
    """Seconds lost by errors that change sign from section to section, at the same mean."""
    mean = limit.mean
    if mean is None or sections.count < 2:
        return None
    signs = (-1.0) ** np.arange(sections.count)
    lost = []
    for error in (ASTRAY, -ASTRAY):
        astray = levels * (1.0 + error * signs)
        ridden = ridden_at(base, sections.spread(astray), plan)
        fair = astray * (mean.held(plan) / mean.held(ridden))
        lost.append(ridden_at(base, sections.spread(fair), plan).time - plan.time)
    return float(np.mean(lost))


def _still_riding(base: Ridden, sections: Sections, levels: FloatArray) -> PacingPlan | None:
    """The race at the levels; None where they all but stop the rider on a section."""
    try:
        plan = ridden_at(base, sections.spread(levels))
    except InputError:
        return None
    speed = sections.total(np.diff(plan.nodes)) / sections.total(plan.step_time)
    return plan if np.min(speed) >= STANDSTILL else None


def _what_if(
    base: Ridden, sections: Sections, limit: Limits, levels: FloatArray, words: str
) -> WhatIf:
    same = _still_riding(base, sections, levels)
    if same is None:
        return WhatIf(words, None, None, None, held=False, effort=None)
    remade, _ = best_levels(*coarser(base, sections), limit, levels)
    even = constant_within(base, limit)
    _, new = rounded_levels(base, sections, limit, remade, even.time)
    held = limit.hold(same)
    if held and limit.mean:
        even = constant_within(base, replace(limit.at_means_of(same), above=None))
    return WhatIf(
        words=words,
        time_s=same.time,
        remade_s=min(new, same, key=limit.rank).time,
        constant_s=even.time if held else None,
        held=held,
        effort=_effort(limit, same),
    )


def _card(base: Ridden, made: _Made, stated: Limits, held: bool, warnings: tuple[str, ...]) -> Card:
    plan, ideal, order = made.plan, made.ideal, _order(stated)
    even = _as_hard(base, made.limit, plan)
    above = stated.above
    reserve = above.reserve(plan) if above else np.zeros(1)
    unrefilled = replace(above, refill=0.0).reserve(plan) if above else reserve
    thinnest = int(np.argmin(reserve))
    coarse = ideal.stretches <= FINE and (above is not None or order < STRAIGHT)
    return Card(
        race=base.race.name,
        targets=_targets(base, made.sections, made.levels, plan, ideal),
        passages=tuple(
            Passage(one.at, one.name, float(np.interp(one.at, plan.nodes, plan.elapsed)), one.note)
            for one in base.race.landmarks
        ),
        time_s=plan.time,
        constant_power_w=float(np.max(even.power)),
        constant_power_mean_w=even.mean(order),
        constant_power_time_s=even.time,
        ideal_time_s=ideal.time,
        ideal_sections=ideal.stretches if coarse else None,
        mean_power_w=plan.mean(),
        power_mean_w=plan.mean(order),
        power_mean_order=order,
        distance_mean_w=plan.distance_mean(),
        critical_power_w=above.critical if above else None,
        work_above_critical_j=above.work if above else None,
        limit=stated.words() if held else f"beyond the stated {stated.words()}",
        within_limits=held,
        least_reserve_j=float(reserve[thinnest]) if above else None,
        least_reserve_unrefilled_j=float(np.min(unrefilled)) if above else None,
        least_reserve_at_m=float(plan.nodes[thinnest]) if above else None,
        easing_s=made.easing_s,
        warnings=warnings,
        cautions=(*([HEAT] if is_hot(base.race.air) else []), *CAUTIONS),
    )


def _targets(
    base: Ridden, sections: Sections, levels: FloatArray, plan: PacingPlan, ideal: PacingPlan
) -> tuple[Target, ...]:
    total, time = sections.total, sections.total(plan.step_time)
    ends = sections.ends(plan.nodes)
    length = np.diff(ends)
    rise = np.diff(base.race.course.elevation_at(ends))
    head = plan.ridden.solution.ride.head
    felt = np.searchsorted(plan.nodes, np.minimum(ends[:-1] + ENTERED, ends[1:])) - 1
    per_watt = -total(plan.time_by_power)
    ideal_w = sections.mean(ideal.pedalled, ideal.step_time)
    eased = total(np.where(plan.pedalled < plan.power - 1.0, plan.step_time, 0.0))
    grade, elapsed = grade_of(rise / length), np.cumsum(time)
    winds = sections.mean(head, plan.step_time), head[felt]
    expected = (length / time, time, elapsed, grade, *winds, per_watt, ideal_w, eased)
    rows = zip(ends[:-1], ends[1:], levels, *expected, strict=True)
    return tuple(Target(*map(float, row)) for row in rows)


# --- The power that a wanted time needs, and how sure that is ------------------------------------

NEAR = 0.5
"""Seconds by which the card of a goal may be quicker than it [s]: its whole watts leave no less."""

ALIKE = 1e-3
"""Factors on a limit so near that no card lies between them that differs."""

BOUND = (0.005, 0.05)
"""Shares of a mean and of the work above critical power that whole watts may leave; our choice."""

TRIES = 10
"""Most cards that are tried after that of the stated limits."""


def _made_for(base: Ridden, asked: Limits, most_sections: int, wanted: float) -> tuple[_Made, Goal]:
    """The card of the lowest limit that was found to take no longer than wanted.

    All of the limit is raised or lowered by one factor, found by secants within a bracket.
    """
    constant = _constant(base, wanted)
    stated = _made(base, asked, most_sections)
    tried = [(1.0, stated)]
    while True:
        slower = max((one for one, made in tried if made.plan.time > wanted), default=0.0)
        factor, best = min(
            (one for one in tried if one[1].plan.time <= wanted), default=(np.inf, None), key=_first
        )
        near = best and (best.plan.time > wanted - NEAR or factor - slower < ALIKE)
        if near or len(tried) > TRIES:
            break
        following = _next_factor(tried, wanted - 0.4 * NEAR)
        if not slower < following < factor:
            following = 0.5 * (slower + factor)
        tried.append((following, _made_with(base, asked.scaled(following), most_sections)))
    if best is None:
        missed = f"no level of the limit was found at which a card takes {show_duration(wanted)}"
        raise InputError("--goal", missed, "give a time nearer to that of the card")
    means, above = asked.means, asked.above
    mean = max(means, key=lambda one: one.held(best.plan) / one.level, default=None)
    doubt, cause = _doubt(base)
    return best, Goal(
        time_s=wanted,
        constant_w=constant,
        mean_w=factor * mean.level if mean else None,
        critical_w=factor * above.critical if above else None,
        mean_order=mean.order if mean else None,
        binds=_binding(asked.scaled(factor), best.plan),
        stated_mean_w=mean.level if mean else None,
        stated_critical_w=above.critical if above else None,
        stated_time_s=stated.plan.time,
        held=all(one.held for one in asked.each_kept(best.plan)),
        doubt_s=doubt,
        doubt_w=doubt / abs(base.time_by_power),
        doubt_from=cause,
        chance=chance_faster(wanted - stated.plan.time, doubt) or 0.0,
    )


def _binding(limit: Limits, plan: PacingPlan) -> str:
    """What leaves nothing to speak of among several limits, in words."""
    left = {f"the {one.name}": float(one.room(plan)[0]) / BOUND[0] for one in limit.means}
    if limit.above:
        left["critical power"] = float(np.min(limit.above.room(plan))) / BOUND[1]
    bound = [name for name, room in left.items() if room < max(1.0, 1e-9 + min(left.values()))]
    return " and ".join(bound) if len(left) > 1 else ""


def _first(one: tuple[float, object]) -> float:
    return one[0]


def _next_factor(tried: list[tuple[float, _Made]], wanted: float) -> float:
    """The factor on a limit that is tried next, by the last two and their times."""
    (now, made), *before = tried[::-1]
    time = made.plan.time
    # The time falls with about the third root of the power.
    slope = -time / (3.0 * now)
    if before:
        other, then = before[0]
        slope = min((time - then.plan.time) / (now - other), 0.3 * slope)
    return float(np.clip(now + (wanted - time) / slope, 0.5 * now, 2.0 * now))


def _made_with(base: Ridden, limit: Limits, most_sections: int) -> _Made:
    try:
        return _made(base, limit, most_sections)
    except InputError as error:
        raise error.at("--goal") from error


def _constant(base: Ridden, wanted: float) -> float:
    """The constant power that takes a time [W]."""
    power = base.race.rider.power
    more = power_worth(base, wanted)
    if more is not None and power + more <= HIGHEST:
        return power + more
    fastest = base.variant(base.race.with_power(HIGHEST)).time
    if wanted > fastest:
        least = "the least power that still rides the course takes"
        problem = f"{show_duration(wanted)} is slower than {least}"
        raise InputError("--goal", problem, "give a shorter time")
    raise InputError(
        "--goal",
        f"no power that anybody pedals takes {show_duration(wanted)} here: even"
        f" {HIGHEST:.0f} W would take {show_duration(fastest)}",
        "bends and speed limits decide; give a longer time",
    )


def _doubt(base: Ridden) -> tuple[float, str]:
    if not base.race.doubts.stated:
        return model_error(base), "the error of the model alone; your doubts are not stated"
    band = time_band(base)
    causes = ", ".join(cause.words for cause in band.causes)
    return band.spread.standard_deviation_s, causes
