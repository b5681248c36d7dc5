"""A card in the making, within limits or for a wanted time."""

from dataclasses import dataclass, replace

import numpy as np

from racecalc.decisions.doubt import time_band
from racecalc.decisions.pacing.levels import RiddenSections, by_rank, rounded_levels
from racecalc.decisions.pacing.limits import FOURTH, Limits
from racecalc.decisions.pacing.optimal import constant_within, cut, ideal_within, levels_near
from racecalc.decisions.pacing.plans import PacingPlan, Sections
from racecalc.decisions.riding import STANDSTILL, Ridden, power_worth
from racecalc.decisions.timing import model_error
from racecalc.decisions.verdicts import chance_faster
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration
from racecalc.quantities.reading import HIGHEST

# --- A card within limits ------------------------------------------------------------------------

SHORTEST = 500.0
"""Shortest section unless the course itself is short [m]; our choice of what can be followed."""

LEAST_SHARE = 1.0 / 40.0
"""Shortest section as a share of the course, if that is more."""

CRITICAL_CUTS = (FOURTH, 2.0)
"""Orders by which a course is cut within a critical power, the quicker card being taken: which
departure from the ideal costs most depends on what is left at the time, and no order tells."""

WORTH_EASING = 0.5
"""Seconds that easing over a short last section must save to be on the card; our choice."""


@dataclass(frozen=True)
class Made:
    """A card in the making, and the ideal that it comes from."""

    card: RiddenSections
    ideal: PacingPlan
    easing_s: float | None = None
    """Seconds saved by easing over a short last section [s]; None where the card does not."""

    @property
    def time(self) -> float:
        """With the card [s]."""
        return self.card.plan.time


def card_within(base: Ridden, limit: Limits, most_sections: int) -> Made:
    """Find the quickest card of so many sections within limits; see `pace` for errors."""
    even = constant_within(base, limit)
    _refuse_standstill(base, even)
    ideal = ideal_within(base, limit, even)
    shortest = max(SHORTEST, LEAST_SHARE * float(ideal.nodes[-1]))
    weighed = CRITICAL_CUTS if limit.above else (limit.order,)
    cuts = [cut(ideal, most_sections, shortest, one, limit.highest(base)) for one in weighed]
    found = min((_card_of(base, limit, one, ideal, even) for one in cuts), key=by_rank)
    return _steady_to_the_finish(Made(found, ideal), even, 1.5 * shortest)


def _refuse_standstill(base: Ridden, even: PacingPlan) -> None:
    speed = even.nodes[-1] / even.time
    if speed < STANDSTILL:
        raise InputError(
            base.race.name,
            f"the limits allow {even.mean():.2g} W, at which the course takes"
            f" {show_duration(even.time)}: at {speed:.1f} m/s nobody stays upright",
            "check critical power, the work above it and the limits",
        )


def _card_of(
    base: Ridden, limit: Limits, sections: Sections, near: PacingPlan, even: PacingPlan
) -> RiddenSections:
    """The best whole watts of sections; neighbours that come to the same are one."""
    limit = limit.checked(sections.ends(near.nodes))
    rounded = (
        rounded_levels(base, sections, exact, even.time, near)
        for exact in levels_near(base, sections, limit, near, even)
    )
    return min(rounded, key=by_rank).merged()


def _steady_to_the_finish(made: Made, even: PacingPlan, short: float) -> Made:
    """The card without easing over a short last section, unless that costs what can be felt."""
    eased = made.card
    levels, ends = eased.levels, eased.sections.ends(eased.plan.nodes)
    if len(levels) < 2 or levels[-1] >= levels[-2] or ends[-1] - ends[-2] > short:
        return made
    fewer = Sections(np.delete(eased.sections.edges, -2))
    steady = _card_of(eased.base, eased.limit, fewer, eased.plan, even)
    (broken, eased_time), (steady_broken, time) = by_rank(eased), by_rank(steady)
    if steady_broken > broken:
        return made
    if steady_broken == broken and time - eased_time >= WORTH_EASING:
        return replace(made, easing_s=time - eased_time)
    return replace(made, card=steady)


# --- The power that a wanted time needs, and how sure that is ------------------------------------


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


NEAR = 0.5
"""Seconds by which the card of a goal may be quicker than it [s]: its whole watts leave no less."""

ALIKE = 1e-3
"""Factors on a limit so near that no card lies between them that differs."""

BOUND = (0.005, 0.05)
"""Shares of a mean and of the work above critical power that whole watts may leave; our choice."""

TRIES = 10
"""Most cards that are tried after that of the stated limits."""


def card_for(base: Ridden, asked: Limits, most_sections: int, wanted: float) -> tuple[Made, Goal]:
    """The card of the lowest limit that was found to take no longer than wanted.

    All of the limit is raised or lowered by one factor, found by secants within a bracket.
    """
    constant = _constant(base, wanted)
    stated = card_within(base, asked, most_sections)
    tried = [(1.0, stated)]
    while True:
        slower = max((one for one, made in tried if made.time > wanted), default=0.0)
        factor, best = min(
            (one for one in tried if one[1].time <= wanted), default=(np.inf, None), key=_first
        )
        near = best and (best.time > wanted - NEAR or factor - slower < ALIKE)
        if near or len(tried) > TRIES:
            break
        following = _next_factor(tried, wanted - 0.4 * NEAR)
        if not slower < following < factor:
            following = 0.5 * (slower + factor)
        tried.append((following, _card_at_goal(base, asked.scaled(following), most_sections)))
    if best is None:
        missed = f"no level of the limit was found at which a card takes {show_duration(wanted)}"
        raise InputError("--goal", missed, "give a time nearer to that of the card")
    means, above = asked.means, asked.above
    mean = max(means, key=lambda one: one.held(best.card.plan) / one.level, default=None)
    doubt, cause = _doubt(base)
    return best, Goal(
        time_s=wanted,
        constant_w=constant,
        mean_w=factor * mean.level if mean else None,
        critical_w=factor * above.critical if above else None,
        mean_order=mean.order if mean else None,
        binds=_binding(asked.scaled(factor), best.card.plan),
        stated_mean_w=mean.level if mean else None,
        stated_critical_w=above.critical if above else None,
        stated_time_s=stated.time,
        held=all(one.held for one in asked.each_kept(best.card.plan)),
        doubt_s=doubt,
        doubt_w=doubt / abs(base.time_by_power),
        doubt_from=cause,
        chance=chance_faster(wanted - stated.time, doubt) or 0.0,
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


def _next_factor(tried: list[tuple[float, Made]], wanted: float) -> float:
    """The factor on a limit that is tried next, by the last two and their times."""
    (now, made), *before = tried[::-1]
    time = made.time
    # The time falls with about the third root of the power.
    slope = -time / (3.0 * now)
    if before:
        other, then = before[0]
        slope = min((time - then.time) / (now - other), 0.3 * slope)
    return float(np.clip(now + (wanted - time) / slope, 0.5 * now, 2.0 * now))


def _card_at_goal(base: Ridden, limit: Limits, most_sections: int) -> Made:
    try:
        return card_within(base, limit, most_sections)
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
