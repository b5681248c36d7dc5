"""The pacing card, and the same card in other weathers."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.levels import RiddenSections, best_roughly, rounded_levels
from racecalc.decisions.pacing.limits import HeldLimit, LimitKept, Limits
from racecalc.decisions.pacing.making import Goal, Made, card_for, card_within
from racecalc.decisions.pacing.optimal import FINE, STRAIGHT, constant_within
from racecalc.decisions.pacing.plans import PacingPlan, Sections, coarser, ridden_at
from racecalc.decisions.riding import STANDSTILL, Ridden
from racecalc.decisions.timing import model_error
from racecalc.decisions.weather import HEAT, is_hot
from racecalc.domain.course import grade_of
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration
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

ASTRAY = 0.03
"""Error of a rider's power from section to section [share]; common practice, no source."""

ENTERED = 100.0
"""Distance from the start of a section by which its wind is felt [m]; our choice."""

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
        made, goal = card_within(base, asked.limit, most_sections), None
    else:
        made, goal = card_for(base, asked.limit, most_sections, wanted)
    card = made.card
    stated = asked.limit.checked(card.sections.ends(card.plan.nodes))
    kept = stated.each_kept(card.plan)
    doubtful = _doubtful(goal, stated, kept, made)
    found = Pacing(
        card=_card(made, stated, all(one.held for one in kept), (*doubtful, *asked.warnings)),
        goal=goal,
        ideal=made.ideal,
        ridden=card.plan,
        limit=card.limit,
        effort=card.limit.effort(card.plan),
        astray_s=_astray(card),
        sections=card.sections,
        what_ifs=(),
        limits=kept,
        asked=asked,
    )
    return replace(found, what_ifs=tuple(in_other_weathers(base, found, others)))


def _doubtful(
    goal: Goal | None, stated: Limits, kept: Iterable[LimitKept], made: Made
) -> Iterator[str]:
    if goal and not goal.held:
        wanted, allowed = show_duration(goal.time_s), show_duration(goal.stated_time_s)
        yield (
            f"Made for {wanted} and not for your limits, which allow {allowed}: do not start with"
            " it before training has shown that you can hold it."
        )
    if goal and stated.most_broken(made.card.plan):
        pushed = float(np.max(made.card.plan.power))
        yield f"It asks for up to {pushed:.0f} W, more than the {stated.most:.0f} W of pedal_most."
    for one in kept:
        if not goal and not one.held:
            yield f"No card was found that holds this limit: {one.limit}. Ride softer."
    if not made.ideal.settled:
        yield "The search for the ideal ride did not come to its end: a quicker card may exist."


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
    for words, race in others:
        yield _what_if(base.variant(race), found, words)


def _astray(card: RiddenSections) -> float | None:
    """Seconds lost by errors that change sign from section to section, at the same mean."""
    mean, count = card.limit.mean, card.sections.count
    if mean is None or count < 2:
        return None
    lost = []
    for error in (ASTRAY, -ASTRAY):
        astray = card.levels * (1.0 + error * (-1.0) ** np.arange(count))
        ridden = card.at(astray).plan
        fair = card.at(astray * (mean.held(card.plan) / mean.held(ridden)))
        lost.append(fair.plan.time - card.plan.time)
    return float(np.mean(lost))


def _still_riding(base: Ridden, sections: Sections, levels: FloatArray) -> PacingPlan | None:
    """The race at the levels; None where they all but stop the rider on a section."""
    try:
        plan = ridden_at(base, sections.spread(levels))
    except InputError:
        return None
    return plan if np.min(sections.speed(plan)) >= STANDSTILL else None


def _what_if(base: Ridden, found: Pacing, words: str) -> WhatIf:
    sections, limit = found.sections, found.limit
    levels = np.array([target.power_w for target in found.card.targets])
    same = _still_riding(base, sections, levels)
    if same is None:
        return WhatIf(words, None, None, None, held=False, effort=None)
    remade = best_roughly(coarser(base, sections), limit, levels)
    even = constant_within(base, limit)
    new = rounded_levels(base, sections, remade, even.time, same).plan
    held = limit.hold(same)
    if held and limit.mean:
        even = constant_within(base, replace(limit.at_means_of(same), above=None))
    return WhatIf(
        words=words,
        time_s=same.time,
        remade_s=min(new, same, key=limit.rank).time,
        constant_s=even.time if held else None,
        held=held,
        effort=limit.effort(same),
    )


def _card(made: Made, stated: Limits, held: bool, warnings: tuple[str, ...]) -> Card:
    base, plan, ideal, order = made.card.base, made.card.plan, made.ideal, stated.order
    # Rounding leaves the means below those of the limit.
    even = constant_within(base, made.card.limit.at_means_of(plan))
    above = stated.above
    reserve = above.reserve(plan) if above else np.zeros(1)
    unrefilled = replace(above, refill=0.0).reserve(plan) if above else reserve
    thinnest = int(np.argmin(reserve))
    coarse = ideal.stretches <= FINE and (above is not None or order < STRAIGHT)
    return Card(
        race=base.race.name,
        targets=_targets(made.card, ideal),
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


def _targets(card: RiddenSections, ideal: PacingPlan) -> tuple[Target, ...]:
    plan, sections = card.plan, card.sections
    total, time = sections.total, sections.total(plan.step_time)
    ends = sections.ends(plan.nodes)
    length = np.diff(ends)
    rise = np.diff(card.base.race.course.elevation_at(ends))
    head = plan.ridden.solution.ride.head
    felt = np.searchsorted(plan.nodes, np.minimum(ends[:-1] + ENTERED, ends[1:])) - 1
    per_watt = -total(plan.time_by_power)
    ideal_w = sections.mean(ideal.pedalled, ideal.step_time)
    eased = total(np.where(plan.pedalled < plan.power - 1.0, plan.step_time, 0.0))
    grade, elapsed = grade_of(rise / length), np.cumsum(time)
    winds = sections.mean(head, plan.step_time), head[felt]
    expected = (length / time, time, elapsed, grade, *winds, per_watt, ideal_w, eased)
    rows = zip(ends[:-1], ends[1:], card.levels, *expected, strict=True)
    return tuple(Target(*map(float, row)) for row in rows)
