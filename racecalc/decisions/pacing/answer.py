"""Pacing targets for a race: the card, what it rests on, and what the weather does to it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.asking import Asked
from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.decisions.pacing.critical_fit import CriticalFit
from racecalc.decisions.pacing.holding_on import constant_within, ideal_within
from racecalc.decisions.pacing.levels import best_levels, rounded_levels
from racecalc.decisions.pacing.limits import (
    FOURTH,
    PacingLimit,
    critical_of,
    mean_of,
    with_checks,
)
from racecalc.decisions.pacing.plan import Plan, ridden_at
from racecalc.decisions.pacing.sections import Sections, cut
from racecalc.decisions.riding import Ridden
from racecalc.domain.course import grade_of
from racecalc.domain.race import Race

SHORTEST = 500.0
"""Shortest section unless the course itself is short [m]; our choice of what can be followed."""

LEAST_SHARE = 1.0 / 40.0
"""Shortest section as a share of the course, if that is more."""

CRITICAL_CUTS = (FOURTH, 2.0)
"""Orders by which a course is cut within a critical power, the quicker card being taken: which
departure from the ideal costs most depends on what is left at the time, and no order tells."""

ASTRAY = 0.03
"""Error of a rider's power from section to section [share]; common practice, no source."""

CAUTIONS = (
    "Targets are advice for a healthy, trained rider, not medical advice; stop when something"
    " hurts, at chest pain or breathlessness, and do not ride them when ill.",
    "Road law, traffic, weather, surface and your skill limit the speed on descents and in bends;"
    " computed speeds there are no targets.",
    "On the day ride by how it feels: the plan knows neither your legs nor the traffic.",
)


@dataclass(frozen=True)
class WhatIf:
    """The card in another weather.

    Parameters
    ----------
    words : str
        What is different.
    time_s : float
        Time with the same targets [s].
    remade_s : float
        Time with targets made for that weather, in the same sections [s].
    constant_s : float
        Time at one power all along within the limit [s].
    held : bool
        Whether the same targets hold the limit there.
    effort : float
        What they come to: the mean of the limit [W], or the least reserve [J].
    """

    words: str
    time_s: float
    remade_s: float
    constant_s: float
    held: bool
    effort: float


@dataclass(frozen=True)
class Pacing:
    """Answer to how hard to ride where.

    Parameters
    ----------
    card : Card
        The targets.
    ideal, ridden : Plan
        The ideal, and the race ridden by the card.
    order : float
        Order of the mean that is held or stated beside a critical power.
    limit : PowerMean, CriticalPower or Both
        What is held.
    effort : float
        What the card comes to: the mean of the limit [W], or the least reserve [J].
    astray_s : float
        Seconds lost by a rider who is `ASTRAY` too hard and too soft by turns, the limit held.
    reserve_unrefilled_j : float or None
        Least reserve if nothing came back below critical power [J]; None without one.
    critical_left_j : float or None
        Least reserve above critical power along the way [J]; None without one.
    what_ifs : tuple of WhatIf
        The card in other winds.
    demand : str
        What the race power all along takes of the work above critical power; empty without one.
    fit : CriticalFit or None
        Where critical power comes from, if it was fitted.
    warnings : tuple of str
        What makes the targets doubtful.
    """

    card: Card
    ideal: Plan
    ridden: Plan
    order: float
    limit: PacingLimit
    effort: float
    astray_s: float
    reserve_unrefilled_j: float | None
    critical_left_j: float | None
    what_ifs: tuple[WhatIf, ...]
    demand: str
    fit: CriticalFit | None
    warnings: tuple[str, ...]


def pace(
    base: Ridden,
    asked: Asked,
    most_sections: int,
    others: Iterable[tuple[str, Race]] = (),
) -> Pacing:
    """Make a card for a race.

    Parameters
    ----------
    base : Ridden
        The race.
    asked : Asked
        What the rider can hold, and what speaks against it.
    most_sections : int
        Sections of the card at most.
    others : iterable of (str, Race)
        The same race in other weathers, each in words.

    Returns
    -------
    Pacing
        The card holds the limit at every node.

    Raises
    ------
    InputError
        If the limit leaves nothing to choose.
    """
    limit = asked.limit
    order = _order(limit)
    ideal = ideal_within(base, limit)
    shortest = max(SHORTEST, LEAST_SHARE * float(ideal.nodes[-1]))
    weighed = CRITICAL_CUTS if critical_of(limit) else (order,)
    cuts = [cut(ideal, most_sections, shortest, one) for one in weighed]
    made = [(one, *_card_levels(base, one, _checked(limit, ideal, one), ideal)) for one in cuts]
    sections, levels, plan = min(made, key=lambda one: one[2].time)
    checked = _checked(limit, ideal, sections)
    return Pacing(
        card=_card(base, sections, checked, levels, (plan, ideal)),
        ideal=ideal,
        ridden=plan,
        order=order,
        limit=checked,
        effort=effort_of(checked, plan),
        astray_s=_astray(base, sections, checked, levels, plan),
        reserve_unrefilled_j=_unrefilled(checked, plan),
        critical_left_j=_left(checked, plan),
        what_ifs=tuple(
            _what_if(base.variant(race), sections, checked, levels, words) for words, race in others
        ),
        demand=asked.demand,
        fit=asked.fit,
        warnings=asked.warnings,
    )


def _checked(limit: PacingLimit, ideal: Plan, sections: Sections) -> PacingLimit:
    """A reserve is looked at in every section."""
    return with_checks(limit, tuple(ideal.nodes[sections.edges].tolist()))


def _order(limit: PacingLimit) -> float:
    mean = mean_of(limit)
    return mean.order if mean else FOURTH


def _card_levels(
    base: Ridden, sections: Sections, limit: PacingLimit, near: Plan
) -> tuple[FloatArray, Plan]:
    start = sections.total(near.power * near.step_time) / sections.total(near.step_time)
    levels, _ = best_levels(base, sections, limit, start)
    return rounded_levels(base, sections, limit, levels)


def effort_of(limit: PacingLimit, plan: Plan) -> float:
    """The mean of the limit [W]; without one the least reserve along the way [J]."""
    mean = mean_of(limit)
    return mean.held(plan) if mean else _left(limit, plan) or 0.0


def _left(limit: PacingLimit, plan: Plan) -> float | None:
    above = critical_of(limit)
    return None if above is None else float(np.min(above.reserve(plan)))


def _unrefilled(limit: PacingLimit, plan: Plan) -> float | None:
    above = critical_of(limit)
    return None if above is None else float(np.min(replace(above, refill=0.0).reserve(plan)))


def _astray(
    base: Ridden, sections: Sections, limit: PacingLimit, levels: FloatArray, plan: Plan
) -> float:
    """Seconds lost by errors that change sign from section to section, at the same effort."""
    mean = mean_of(limit)
    if mean is None or sections.count < 2:
        return 0.0
    astray = levels * (1.0 + ASTRAY * (-1.0) ** np.arange(sections.count))
    ridden = ridden_at(base, sections.spread(astray), plan)
    fair = astray * (mean.held(plan) / mean.held(ridden))
    return ridden_at(base, sections.spread(fair), plan).time - plan.time


def _what_if(
    base: Ridden, sections: Sections, limit: PacingLimit, levels: FloatArray, words: str
) -> WhatIf:
    same = ridden_at(base, sections.spread(levels))
    remade, _ = best_levels(base, sections, limit, levels)
    _, new = rounded_levels(base, sections, limit, remade)
    return WhatIf(
        words=words,
        time_s=same.time,
        remade_s=new.time,
        constant_s=constant_within(base, limit).time,
        held=bool(np.all(limit.room(same) >= -1e-9)),
        effort=effort_of(limit, same),
    )


def _card(
    base: Ridden,
    sections: Sections,
    limit: PacingLimit,
    levels: FloatArray,
    plans: tuple[Plan, Plan],
) -> Card:
    plan, ideal = plans
    order = _order(limit)
    return Card(
        race=base.race.name,
        targets=_targets(base, sections, levels, plan, ideal),
        passages=tuple(
            Passage(one.at, one.name, float(np.interp(one.at, plan.nodes, plan.elapsed)), one.note)
            for one in base.race.landmarks
        ),
        time_s=plan.time,
        constant_power_time_s=constant_within(base, limit).time,
        ideal_time_s=ideal.time,
        mean_power_w=plan.mean(),
        power_mean_w=plan.mean(order),
        distance_mean_w=plan.distance_mean(),
        limit=limit.words(),
        cautions=CAUTIONS,
    )


def _targets(
    base: Ridden, sections: Sections, levels: FloatArray, plan: Plan, ideal: Plan
) -> tuple[Target, ...]:
    total, time = sections.total, sections.total(plan.step_time)
    ends = plan.nodes[sections.edges]
    length = np.diff(ends)
    rise = np.diff(base.race.course.elevation_at(ends))
    head = total(plan.ridden.solution.ride.head * plan.step_time) / time
    per_watt = -total(plan.by_power(np.ones_like(plan.power)))
    ideal_w = total(ideal.pedalled * ideal.step_time) / total(ideal.step_time)
    eased = total(np.where(plan.pedalled < plan.power - 1.0, plan.step_time, 0.0))
    columns = np.column_stack(
        (
            ends[:-1],
            ends[1:],
            levels,
            length / time,
            time,
            np.cumsum(time),
            grade_of(rise / length),
            head,
            per_watt,
            ideal_w,
            eased,
        )
    )
    return tuple(Target(*(float(one) for one in row)) for row in columns)
