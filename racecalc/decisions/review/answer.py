"""After the race: plan against ride, split by split, and who was wrong."""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.review.blame import (
    Blame,
    Known,
    alone_and_in_pairs,
    believable,
    blame,
    splits_needed,
    told_apart,
)
from racecalc.decisions.review.fit import Fit, fit, slopes_at
from racecalc.decisions.review.found import (
    INPUTS,
    Explanation,
    Pair,
    Refined,
    Review,
    ReviewedSplit,
)
from racecalc.decisions.review.replay import Replay
from racecalc.decisions.review.words import (
    cautions_of,
    headline_of,
    next_race_of,
    notes_of,
    reasons_of,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.errors import InputError
from racecalc.files.ridden_table import RiddenTable
from racecalc.quantities.clock import show_duration

NEAR_FINISH = 10.0
"""A split that ends so near the finish ends there [m]: kilometres are shown with two decimals."""

PAST_FINISH = 0.001
"""Share of the course by which the last split may end past it; our choice: two ways to measure a
road seldom agree better."""

UNMET = 1.0
"""Power that speed ceilings keep from being ridden again before it is noted [W]; our choice."""

LEAST_EFFECT = 1e-3
"""Time that all of an input must be worth over the splits to be tried [s]."""


@dataclass(frozen=True)
class _Case:
    """A ride held against its race."""

    replay: Replay
    table: RiddenTable

    @cached_property
    def ridden(self) -> FloatArray:
        """Time on each split by the clock [s]."""
        return np.diff(self.table.elapsed, prepend=0.0)

    @cached_property
    def rest(self) -> FloatArray:
        """Of each split, what the ridden power does not explain [s]."""
        return self.ridden - self.replay.times()

    @cached_property
    def watts(self) -> FloatArray:
        """Change of the split times by one watt more on all of them [s]."""
        more, less = self.replay.times({"watts": 0.5}), self.replay.times({"watts": -0.5})
        return more - less

    @property
    def known(self) -> Known:
        """What is off anyway."""
        return Known(self.table.resolution, MODEL_ERROR * self.watts)

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        """What may have been wrong and shows on the clock; a power that was measured is taken."""
        names = [
            name
            for name in INPUTS
            if not (name == "wind" and not self.replay.base.race.air.wind.speed)
            and not (name == "power" and self.replay.measured is not None)
        ]
        worth = np.abs(slopes_at(self.replay, names, [0.0] * len(names))).sum(axis=0)
        return tuple(name for name, one in zip(names, worth, strict=True) if one > LEAST_EFFECT)

    @cached_property
    def fits(self) -> dict[tuple[str, ...], Fit]:
        """Every input alone, and every pair where there are enough splits for two."""
        enough = len(self.ridden) >= splits_needed(2)
        return {
            names: fit(self.replay, self.ridden, names, self.known.clock_s)
            for names in alone_and_in_pairs(self.inputs)
            if enough or len(names) == 1
        }

    def blame(self) -> Blame:
        """Who was wrong."""
        if not self.fits:
            return Blame("nothing" if self.known.explains(self.rest) else "none fits")
        best = min(self.fits.values(), key=lambda one: one.square_sum)
        moved = dict(zip(best.names, best.share.tolist(), strict=True))
        share = [moved.get(name, 0.0) for name in self.inputs]
        slopes = slopes_at(self.replay, self.inputs, share)
        whole = replace(best, names=self.inputs, share=np.array(share), slopes=slopes)
        return blame(self.known, self.rest, self.fits, whole)

    def unmet(self) -> tuple[int, ...]:
        """Splits, from 1, on which speed ceilings keep the ridden power from being ridden."""
        if self.table.power is None:
            return ()
        again = self.replay.again()
        return tuple(
            number
            for number, (one, power) in enumerate(zip(again, self.table.power, strict=True), 1)
            if abs(one.power_w - power) > UNMET
        )

    def meter_area(self) -> float | None:
        """Drag area for which a power meter that reads 1 % high would pass [m^2]."""
        if self.table.power is None or ("cda",) not in self.fits:
            return None
        area = self.fits["cda",].slopes[:, 0]
        power = 0.01 * slopes_at(self.replay, ("power",), (0.0,))[:, 0]
        # What the meter reads too much is missing from the ride.
        return -self.stated("cda") * float(area @ power) / float(area @ area)

    def stated(self, name: str) -> float:
        """An input as the race file or the plan has it."""
        race = self.replay.base.race
        return {
            "cda": race.bike.cda.at_zero_yaw,
            "crr": race.bike.crr,
            "wind": race.air.wind.speed,
            "power": self.planned_power,
        }[name]

    @cached_property
    def planned_power(self) -> float:
        """Mean over time of the power planned up to the end of the last split [W]."""
        plan = self.replay.planned_ride
        inside = plan.nodes[:-1] < self.replay.limits[-1]
        return float(np.average(plan.power[inside], weights=plan.step_time[inside]))

    def explained(self, one: Fit) -> float:
        """Share of the rest that a fit explains."""
        before = float(self.rest @ self.rest)
        return max(1.0 - one.square_sum / before, 0.0) if before else 0.0


def review(base: Ridden, table: RiddenTable, card: FloatArray | None = None) -> Review:
    """Hold a ride against the plan.

    Parameters
    ----------
    base : Ridden
        The race as its file states it, at one power.
    table : RiddenTable
        When the rider came by where, and with which power.
    card : FloatArray, shape (k,), optional
        Power of a pacing card on every step of `base` [W]; the one power of the race otherwise.

    Returns
    -------
    Review
        With every sentence.

    Raises
    ------
    InputError
        If a split ends past the course, or the ridden power brings the rider to a stop.
    """
    even = np.full(len(base.solution.ride.middle), base.race.rider.power)
    limits = _limits(base.race.course.length, table)
    case = _Case(Replay(base, limits, even if card is None else card, table.power), table)
    try:
        _refuse_lapses(case)
        blamed = case.blame()
    except InputError as error:
        raise error.at(table.source) from error
    plan = f"{base.race.rider.power:.0f} W all along" if card is None else "the card of pace"
    found = _found(case, blamed, plan)
    named = [_explanation(case, case.fits[blamed.named], name) for name in blamed.named]
    return replace(
        found,
        headline=headline_of(found, blamed, named),
        reasons=reasons_of(found, blamed, named),
        next_race=next_race_of(found, blamed),
        notes=notes_of(found, case.unmet()),
        cautions=cautions_of(found, case.meter_area()),
    )


def _refuse_lapses(case: _Case) -> None:
    """Refuse a power with which a split cannot have been ridden so, as where a meter fell silent.

    Raises
    ------
    InputError
        If a split would take less than half or more than twice as long with it.
    """
    power = case.table.power
    if power is None:
        return
    for row, (again, ridden) in enumerate(zip(case.replay.times(), case.ridden, strict=True)):
        if not 0.5 < again / ridden < 2.0:
            raise InputError(
                f"line {case.table.line[row]}",
                f"with {power[row]:.0f} W the split would take {show_duration(again)} where it took"
                f" {show_duration(ridden)}",
                "mend the power of that split, leave the column out, or see whether the splits are"
                " of this course",
            )


def _limits(length: float, table: RiddenTable) -> FloatArray:
    """Start and ends of the splits [m], the finish where the last ends beside it."""
    past = table.to > length + max(NEAR_FINISH, PAST_FINISH * length)
    if np.any(past):
        row = int(np.argmax(past))
        raise InputError(
            table.place(row),
            f"the split ends at {table.to[row] / 1000:.2f} km, and the course at"
            f" {length / 1000:.2f} km",
            "give distances along the course of the race file, as racecalc time shows them",
        )
    ends = table.to.copy()
    if ends[-1] > length - NEAR_FINISH:
        ends[-1] = length
    limits = np.concatenate(([0.0], ends))
    if limits[-1] <= limits[-2]:
        raise InputError(
            table.place(len(ends) - 1),
            "two splits end at the finish or past it",
            "leave one of them out",
        )
    return limits


def _found(case: _Case, blamed: Blame, plan: str) -> Review:
    """All numbers, no sentences."""
    splits = _splits(case)
    whole, table = splits[-1], case.table
    power = None if table.power is None else sum(one.power_s or 0.0 for one in splits)
    model = float(case.known.model_s.sum())
    wrong = [INPUTS[name] for name in blamed.named]
    if power is not None and abs(power) > abs(model) and power * whole.difference_so_far_s > 0:
        wrong.insert(0, INPUTS["power"])
    planned = sum(one.planned_s for one in splits)
    pair = case.fits.get(("cda", "wind"))
    return Review(
        source=table.source,
        plan=plan,
        to_m=whole.to_m,
        distance_m=case.replay.base.race.course.length,
        planned_s=planned,
        ridden_s=float(table.elapsed[-1]),
        difference_s=whole.difference_so_far_s,
        power_s=power,
        rest_s=whole.rest_so_far_s,
        resolution_s=table.resolution,
        model_error_s=abs(model),
        splits=splits,
        alone=tuple(_explanation(case, case.fits[name,], name) for name in case.inputs),
        pair=None if pair is None else _pair(case, pair),
        finding=blamed.finding,
        wrong=tuple(wrong),
        refined=_refined(case, blamed),
    )


def _splits(case: _Case) -> tuple[ReviewedSplit, ...]:
    plan, ridden, rest = case.replay.plan, case.ridden.tolist(), case.rest.tolist()
    power = [None] * len(plan) if case.table.power is None else case.table.power.tolist()
    difference = [time - one.time_s for time, one in zip(ridden, plan, strict=True)]
    so_far, rest_so_far = list(accumulate(difference)), list(accumulate(rest))
    return tuple(
        ReviewedSplit(
            from_m=one.from_m,
            to_m=one.to_m,
            planned_s=one.time_s,
            ridden_s=ridden[row],
            difference_s=difference[row],
            difference_so_far_s=so_far[row],
            planned_w=one.power_w,
            ridden_w=power[row],
            power_s=None if power[row] is None else difference[row] - rest[row],
            rest_s=rest[row],
            rest_so_far_s=rest_so_far[row],
        )
        for row, one in enumerate(plan)
    )


def _explanation(case: _Case, one: Fit, name: str) -> Explanation:
    """What a fit says of one of its inputs."""
    place = one.names.index(name)
    stated, slope = case.stated(name), one.slopes[:, place]
    model = abs(float(slope @ case.known.model_s) / float(slope @ slope))
    return Explanation(
        quantity=name,
        stated=stated,
        value=stated * (1.0 + float(one.share[place])),
        doubt=None if one.doubt is None else stated * float(one.doubt[place]),
        model_doubt=stated * model,
        left_s=one.left_s,
        explained=case.explained(one),
        believable=believable(one),
    )


def _pair(case: _Case, one: Fit) -> Pair:
    first, second = (_explanation(case, one, name) for name in one.names)
    return Pair((first, second), one.correlation, told_apart(one))


def _refined(case: _Case, blamed: Blame) -> tuple[Refined, ...]:
    """Values of the bike that were named; a table by yaw has no single one."""
    found = []
    for name in blamed.named:
        table = name == "cda" and len(case.replay.base.race.bike.cda.yaw) > 1
        if name not in ("cda", "crr") or table:
            continue
        one = _explanation(case, case.fits[blamed.named], name)
        text = f"{one.value:.4f} m^2" if name == "cda" else f"{one.value:.5f}"
        doubt = math.hypot(one.doubt or 0.0, one.model_doubt)
        found.append(Refined(f"bike.{name}", one.value, text, one.stated, doubt))
    return tuple(found)
