"""A ride held against its plan: what was off, and why that is said."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate, chain, combinations
from statistics import median
from typing import Annotated, NamedTuple

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.review.fit import (
    SPARE,
    Blame,
    InputFit,
    KnownError,
    Replay,
    believable,
    blame,
    felt,
    fit,
    separable,
    slopes_at,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.decisions.verdicts import interval_of
from racecalc.errors import InputError
from racecalc.files.table_kinds import RiddenTable
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import listed
from racecalc.written import HIDDEN, As, written, written_once

# --- What an after-race review says --------------------------------------------------------------


class Input(NamedTuple):
    """An input that may have been off."""

    words: str
    """What it is called."""
    short: str
    """The same in a few letters."""
    unit: str
    """SI unit of its values; "1" for none."""
    form: str
    """Digits of a value, as of `format`."""

    def text(self, value: float) -> str:
        """A value with its unit, as in a race file."""
        return f"{value:{self.form}}{'' if self.unit == '1' else f' {self.unit}'}"

    def within(self, best: float, doubt: float) -> str:
        """The 95 % interval of a value."""
        low, high = interval_of(best, doubt)
        return f"{low:{self.form}} to {self.text(high)}"


INPUTS = {
    "cda": Input("air resistance (CdA)", "CdA", "m^2", ".4f"),
    "crr": Input("rolling resistance (Crr)", "Crr", "1", ".5f"),
    "mass": Input("mass of rider and bike", "mass", "kg", ".1f"),
    "wind": Input("wind", "wind", "m/s", ".2f"),
    "power": Input("power", "power", "W", ".1f"),
}
"""What may have been off, by its key."""


@dataclass(frozen=True)
class ReviewedSplit:
    """One split, as planned and as ridden."""

    from_m: float
    to_m: float
    """Where it begins and ends [m]."""
    planned_s: float
    ridden_s: float
    """Time on it by the plan and by the clock [s]."""
    planned_so_far_s: float
    ridden_so_far_s: float
    """The same from the start to its end [s]."""
    difference_s: float
    difference_so_far_s: float
    """Ridden less planned, on it and from the start to its end [s]; positive is slower."""
    planned_w: float
    """Mean power of the plan, as a meter would show it [W]."""
    ridden_w: float | None
    """Mean power ridden [W]; None where none was given."""
    power_s: float | None
    """What the ridden power explains of the difference [s]; None where none was given."""
    rest_s: float
    rest_so_far_s: float
    """What is left of the difference then [s]."""


@dataclass(frozen=True)
class Explanation:
    """One input moved until the race ridden again meets the clock best, all others as stated."""

    quantity: str
    """Which input; one of "cda", "crr", "mass", "wind", "power"."""
    stated: float
    value: float
    """In the race file or plan, and where it explains the rest best: drag area at zero yaw [m^2],
    rolling-resistance coefficient, mass of rider, bike and all they carry [kg], wind where the race
    file states it (negative from the other side) [m/s], or mean power of the plan [W].
    """
    doubt: float | None
    """Standard uncertainty of the value, from the scatter of the splits; None where too few show
    any.
    """
    model_doubt: float | None
    """What the standard error of the model, the same on every split, means in it; None where the
    splits tell nothing of it.
    """
    left_s: float
    """What is left of a split, root mean square [s]."""
    explained: float
    """Share of the rest that it explains, in squares of seconds; 0 to 1."""
    believable: bool
    """Whether it did not have to be moved further than can be believed."""

    @written
    def unit(self) -> str:
        """SI unit of the values."""
        return INPUTS[self.quantity].unit

    @property
    def words(self) -> str:
        """What the input is called."""
        return INPUTS[self.quantity].words


@dataclass(frozen=True)
class InputPair:
    """Two inputs moved together."""

    explanations: tuple[Explanation, ...]
    """What each comes to; share and rest are those of both together."""
    correlation: float | None
    """Of their errors, -1 to 1; None where the splits tell nothing of one of them."""
    apart: bool
    """Whether the splits separate the two."""


@dataclass(frozen=True)
class Refined:
    """A value of the race file that the splits support."""

    key: str
    """Of the race file."""
    value: float
    """In SI."""
    text: str
    """As in a race file."""
    stated: float
    """What is there now, in SI."""
    doubt: float
    """Standard uncertainty, the scatter of the splits and the error of the model together."""


@dataclass(frozen=True)
class Review:
    """A race after it was ridden."""

    source: Annotated[str, As(ridden="")]
    """File of the splits as the user gave it."""
    plan: str
    """What was planned, in words."""
    to_m: float
    distance_m: float
    """End of the last split, and length of the course [m]."""
    planned_s: float
    ridden_s: float
    difference_s: float
    """To the end of the last split, without stops [s]."""
    stopped_s: float
    """What stops cost by the clock of the race, which is in none of the other times [s]."""
    power_s: float | None
    """What the ridden power explains of the difference [s]."""
    rest_s: float
    """What is left [s]."""
    resolution_s: float
    """Step that the clock was read to [s]."""
    model_error_s: float
    """What the standard error of the model means over all splits [s]."""
    splits: tuple[ReviewedSplit, ...]
    """From the start."""
    alone: tuple[Explanation, ...]
    """Every input alone."""
    pair: InputPair | None
    """Drag area and wind together; None where there is no wind, or too few splits."""
    blamed: Annotated[Blame, As(finding="finding")]
    """What the splits say of the rest."""
    named: Annotated[tuple[Explanation, ...], HIDDEN]
    """The inputs that the splits name, moved together; empty where they cannot tell."""
    untold: tuple[str, ...]
    """Inputs of which the splits tell nothing, in words: near the best fit a little more or less
    of them changes no time.
    """
    wrong: tuple[str, ...]
    """Which inputs were off, in words; empty where none was or the splits cannot show it."""
    refined: tuple[Refined, ...]
    """Values that the splits support."""
    unmet: Annotated[tuple[int, ...], HIDDEN]
    """Splits, from 1, on which speed ceilings keep the ridden power from being ridden."""
    meter_area_m2: Annotated[float | None, HIDDEN]
    """Drag area for which a power meter that reads 1 % high passes [m^2]; None without power."""
    of_recording: Annotated[tuple[str, ...], HIDDEN]
    """What was left out of a recording."""

    @property
    def finished(self) -> bool:
        """Whether the splits reach the finish."""
        return self.to_m >= self.distance_m

    @property
    def wind_tried(self) -> bool:
        """Whether the race file states a wind, so that it may have been off."""
        return INPUTS["wind"].words in self.untold or any(
            one.quantity == "wind" for one in self.alone
        )

    @written_once
    def reasons(self) -> tuple[str, ...]:
        """Why this is said."""
        return (self.known_error, *_why_named(self), *_apart_or_not(self))

    @property
    def known_error(self) -> str:
        """What is off without any input being off."""
        low, high = map(show_duration, interval_of(self.planned_s, self.model_error_s))
        return (
            f"Known doubt: the clock, read to {self.resolution_s:g} s, and the model: {low} to"
            f" {high} (95 %)."
        )

    @written_once
    def next_race(self) -> tuple[str, ...]:
        """What it means for the next race."""
        return tuple(_next_race(self))

    @property
    def notes(self) -> tuple[str, ...]:
        """What to look at before believing anything."""
        return tuple(_notes(self))

    @written_once
    def cautions(self) -> tuple[str, ...]:
        """What is in it and what is not."""
        return tuple(_cautions(self))


# --- Reasons, and what to do ---------------------------------------------------------------------

UNNAMED = "Other inputs may be off too, by less than these splits can show."

NO_TARGETS = "Planned times are estimates, not targets: chase no seconds in bends or descents."

ODD_S = 10.0
"""Seconds by which a split must stand out before it is noted; our choice."""

ODD_TIMES = 6.0
"""How many times the usual spread (median) it must stand out; our choice."""


LIKELY = (0.5, 2.0)
"""Times over that of the plan between which no slip is suspected; our choice."""


def _why_named(found: Review) -> Iterator[str]:
    if not found.named:
        return
    other = "pair" if len(found.named) > 1 else "alone"
    yield (
        f"With {listed(one.words for one in found.named)} changed, the other inputs explain no more"
        f" than chance would (5 % level), and no other {other} fits as well."
    )
    yield UNNAMED
    yield from (_doubt_words(one, one.doubt) for one in found.named if one.doubt is not None)


def _doubt_words(one: Explanation, doubt: float) -> str:
    by_clock, by_model = (
        INPUTS[one.quantity].within(one.value, part) for part in (doubt, one.model_doubt or 0.0)
    )
    return (
        f"{one.words[0].upper()}{one.words[1:]}: in 95 of 100 cases {by_clock} by the scatter of"
        f" the splits, and {by_model} by the doubt of the model."
    )


def _apart_or_not(found: Review) -> Iterator[str]:
    pair, finding = found.pair, found.blamed.finding
    if pair is None or finding == "nothing":
        return
    if pair.correlation is None:
        return
    words = f"CdA from wind: the correlation of their errors is {pair.correlation:+.2f}"
    if not pair.apart:
        yield f"The splits cannot separate {words}, so more of one and less of the other fits too."
    elif finding not in ("no power", "too few", "no pattern"):
        yield f"The splits separate {words}."


def _next_race(found: Review) -> Iterator[str]:
    finding, named = found.blamed.finding, found.blamed.named
    if finding == "nothing":
        yield "Keep the values of the race file: this race does not contradict them."
        return
    if finding != "named":
        yield "Change nothing in the race file because of this race."
        yield from _what_would_show(found)
        return
    if "wind" in named:
        yield "The wind was that of the day: it says nothing about the next race."
    if "mass" in named:
        yield "Weigh rider, bike and all they carry, and state what the scales show."
    if "power" in named:
        yield "Give the power of each split to separate what power explains from the rest."
    if "cda" in named and not any(one.key == "bike.cda" for one in found.refined):
        yield "The drag area is a table by yaw: no single value can be set."
    for one in found.refined:
        low, high = interval_of(one.value, one.doubt)
        within = INPUTS[one.key.removeprefix("bike.")].within(one.value, one.doubt)
        weak = ", which holds the stated value" if low <= one.stated <= high else ""
        yield (
            f"{one.key}: one race is one run. In 95 of 100 cases it is {within}, model"
            f" included{weak}. Test it, or compare it with another race."
        )


def _what_would_show(found: Review) -> Iterator[str]:
    inputs = set(chain.from_iterable(found.blamed.rivals))
    if found.power_s is None:
        yield (
            "Give the power of each split; if the rider held the planned power, write that in every"
            " row."
        )
    if not found.wind_tried:
        yield (
            "State the wind of the day, as with --set air.wind_speed and air.wind_from, and run"
            " it again."
        )
    if found.blamed.finding == "too few":
        yield "Give more splits, at places where slope or wind changes."
    if found.blamed.finding in ("no pattern", "none fits"):
        yield (
            "Look for other causes: a stop, shelter, or wind from another direction (try it with"
            " --set air.wind_from)."
        )
    if {"cda", "wind"} <= inputs:
        yield "Drag and wind can be separated where the course turns in the wind, as out and back."
    if {"crr", "mass"} <= inputs:
        yield "Weigh rider and bike: on a scale mass is told from rolling at once."
    if {"cda", "crr"} <= inputs:
        yield "Drag and rolling can be separated where speeds differ much, as on climbs and flats."


def _notes(found: Review) -> Iterator[str]:
    yield from found.of_recording
    if not all(LIKELY[0] < one.ridden_s / one.planned_s < LIKELY[1] for one in found.splits):
        yield (
            "Plan and ride do not match on some split: are hours and minutes mixed up, are"
            " distances wrong, or is it the file of another course?"
        )
    if not found.finished:
        yield "The last split ends before the finish: only the ridden part is reviewed."
    if odd := _odd(found):
        yield (
            f"Split {odd} differs from all others: a stop, traffic, or an error of clock or"
            " distance? It affects everything below."
        )
    if found.unmet:
        yield (
            "Speed limits and bends of the race file do not allow the ridden power on split"
            f" {listed(map(str, found.unmet))}: the rider went faster there than the file allows."
        )


def _odd(found: Review) -> int:
    """The split, from 1, whose rest differs from all others; 0 for none."""
    if len(found.splits) < 4:
        return 0
    pace = [one.rest_s / one.planned_s for one in found.splits]
    usual = median(pace)
    off = [abs(one - usual) for one in pace]
    spread = median(off)
    at = max(range(len(off)), key=lambda row: off[row] * found.splits[row].planned_s)
    far = off[at] * found.splits[at].planned_s > ODD_S and off[at] > ODD_TIMES * spread
    return at + 1 if far else 0


def _cautions(found: Review) -> Iterator[str]:
    yield (
        "Each value makes the model match the clock if all else is as stated. Traffic, shelter from"
        " other riders, a stop, gusts, wind from another direction, a wet or rough road and the"
        " line ridden would look the same."
    )
    ten_metres = 10.0 * found.ridden_s / found.to_m
    yield f"If a split ends 10 m (33 ft) from where you say, it is {ten_metres:.1f} s off."
    yield NO_TARGETS
    if found.meter_area_m2 is None:
        yield "No power is given, so power is one of the inputs that may have been off."
    else:
        yield (
            "The ridden power is taken as constant over each split, except where bends and speed"
            " limits hold the rider back. A power meter that reads 1 % high looks like"
            f" {found.meter_area_m2:.4f} m^2 more CdA."
        )
    if not found.wind_tried:
        yield "The race file states no wind, so wind was not tried."


# --- After the race ------------------------------------------------------------------------------

NEAR_FINISH = 10.0
"""A split that ends so near the finish ends there [m]: kilometres are shown with two decimals."""

PAST_FINISH = 0.001
"""Share of the course by which the last split may end past it; our choice: two ways to measure a
road seldom agree better."""

UNMET = 1.0
"""Power that speed ceilings keep from being ridden again before it is noted [W]; our choice."""


@dataclass(frozen=True)
class Case:
    """A ride compared with its race."""

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
    def known(self) -> KnownError:
        """What is off without any input being off."""
        return KnownError(self.table.resolution, MODEL_ERROR * self.watts)

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        """What may have been off and shows on the clock; a power that was measured is taken."""
        slopes = slopes_at(self.replay, self.stated_inputs, [0.0] * len(self.stated_inputs))
        pairs = zip(self.stated_inputs, felt(slopes), strict=True)
        return tuple(name for name, one in pairs if one)

    @property
    def stated_inputs(self) -> tuple[str, ...]:
        """What may have been off, whether or not it shows on the clock."""
        wind = ("wind",) if self.replay.base.race.air.wind.speed else ()
        power = ("power",) if self.table.power is None else ()
        return ("cda", "crr", "mass", *wind, *power)

    @property
    def untold(self) -> tuple[str, ...]:
        """What the splits tell nothing of, as it is stated or where it would fit best."""
        lost = {name for one in self.fits.values() for name in one.untold}
        return tuple(name for name in self.stated_inputs if name in lost or name not in self.inputs)

    @cached_property
    def fits(self) -> dict[tuple[str, ...], InputFit]:
        """Every input alone, and every pair where there are enough splits for two."""
        alone: dict[tuple[str, ...], InputFit] = {
            (name,): self._fit((name,)) for name in self.inputs
        }
        pairs = combinations(self.inputs, 2) if len(self.ridden) >= 2 + SPARE else ()
        return {**alone, **{names: self._pair(names, alone) for names in pairs}}

    def _fit(self, names: tuple[str, ...], start: InputFit | None = None) -> InputFit:
        shift = dict(zip(start.names, start.share.tolist(), strict=True)) if start else {}
        return fit(self.replay, self.ridden, names, self.known.clock_s, shift)

    def _pair(self, names: tuple[str, ...], alone: Mapping[tuple[str, ...], InputFit]) -> InputFit:
        """Two inputs moved together, which leave no more than the better of them alone.

        Where one of them loses its effect on the way, the search from what is stated stops short.
        """
        better = min((alone[name,] for name in names), key=lambda one: one.square_sum)
        found = self._fit(names)
        return found if found.square_sum <= better.square_sum else self._fit(names, better)

    def blame(self) -> Blame:
        """Which input was off."""
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
        again = np.array([split.power_w for split in self.replay.again()])
        return tuple((1 + np.flatnonzero(np.abs(again - self.table.power) > UNMET)).tolist())

    def meter_area(self) -> float | None:
        """Drag area for which a power meter that reads 1 % high would pass [m^2]."""
        if self.table.power is None or ("cda",) not in self.fits:
            return None
        area = self.fits["cda",].slopes[:, 0]
        power = 0.01 * slopes_at(self.replay, ("power",), (0.0,))[:, 0]
        # What the meter reads too much is missing from the ride.
        size = float(area @ area)
        return -self.stated("cda") * float(area @ power) / size if size else None

    def stated(self, name: str) -> float:
        """An input as the race file or the plan has it."""
        race = self.replay.base.race
        return {
            "cda": race.bike.cda.at_zero_yaw,
            "crr": race.bike.crr,
            "mass": race.total_mass,
            "wind": race.air.wind.speed,
            "power": self.planned_power,
        }[name]

    @cached_property
    def planned_power(self) -> float:
        """Mean over time of the power planned up to the end of the last split [W]."""
        plan = self.replay.planned_ride
        inside = plan.nodes[:-1] < self.replay.limits[-1]
        return float(np.average(plan.power[inside], weights=plan.step_time[inside]))

    def explained(self, one: InputFit) -> float:
        """Share of the rest that a fit explains."""
        before = float(self.rest @ self.rest)
        return max(1.0 - one.square_sum / before, 0.0) if before else 0.0


def reviewed(
    base: Ridden, table: RiddenTable, card: FloatArray | None = None
) -> tuple[Case, Review]:
    """Hold a ride against the plan; with the case by which several races are read together."""
    even = np.full(len(base.solution.ride.middle), base.race.rider.power)
    limits = _limits(base.race.course.length, table)
    case = Case(Replay(base, limits, even if card is None else card, table.power), table)
    try:
        _refuse_lapses(case)
        blamed = case.blame()
    except InputError as error:
        raise error.at(table.source) from error
    plan = f"{base.race.rider.power:.0f} W constant" if card is None else "the card of pace"
    return case, _found(case, blamed, plan)


def _refuse_lapses(case: Case) -> None:
    """Refuse a power too low for its split, as where a meter fell silent."""
    power = case.table.power
    if power is None:
        return
    for row, (again, ridden) in enumerate(zip(case.replay.times(), case.ridden, strict=True)):
        if not 0.5 < again / ridden < 2.0:
            raise InputError(
                case.table.row_name(row),
                f"with {power[row]:.0f} W the split would take {show_duration(again)} where it took"
                f" {show_duration(ridden)}",
                "mend the power of that split, leave the column out, or see whether the splits are"
                " of this course",
            )


def _limits(length: float, table: RiddenTable) -> FloatArray:
    """Start and ends of the splits [m], the finish where the last ends next to it."""
    past = table.to > length + max(NEAR_FINISH, PAST_FINISH * length)
    if np.any(past):
        row = int(np.argmax(past))
        ends = f"{table.to[row] / 1000:.2f} km, and the course at {length / 1000:.2f} km"
        remedy = "give distances along the course of the race file, as racecalc time shows them"
        raise InputError(table.place(row), f"the split ends at {ends}", remedy)
    limits = np.concatenate(([0.0], table.to))
    if limits[-1] > length - NEAR_FINISH:
        limits[-1] = length
    if limits[-1] <= limits[-2]:
        problem = "two splits end at the finish or past it"
        raise InputError(table.place(len(table.to) - 1), problem, "leave one of them out")
    return limits


def _found(case: Case, blamed: Blame, plan: str) -> Review:
    """All numbers."""
    splits = _splits(case)
    whole, table = splits[-1], case.table
    power = None if table.power is None else sum(one.power_s or 0.0 for one in splits)
    model = float(case.known.model_s.sum())
    named = tuple(_explanation(case, case.fits[blamed.named], name) for name in blamed.named)
    wrong = [one.words for one in named]
    if power is not None and abs(power) > abs(model) and power * whole.difference_so_far_s > 0:
        wrong.insert(0, INPUTS["power"].words)
    pair = case.fits.get(("cda", "wind"))
    return Review(
        source=table.source,
        plan=plan,
        to_m=whole.to_m,
        distance_m=case.replay.base.race.course.length,
        planned_s=sum(one.planned_s for one in splits),
        ridden_s=float(table.elapsed[-1]),
        difference_s=whole.difference_so_far_s,
        stopped_s=table.stopped,
        power_s=power,
        rest_s=whole.rest_so_far_s,
        resolution_s=table.resolution,
        model_error_s=abs(model),
        splits=splits,
        alone=tuple(_explanation(case, case.fits[name,], name) for name in case.inputs),
        pair=None if pair is None else _pair(case, pair),
        blamed=blamed,
        named=named,
        untold=tuple(INPUTS[name].words for name in case.untold),
        wrong=tuple(wrong),
        refined=tuple(_refined(case, named)),
        unmet=case.unmet(),
        meter_area_m2=case.meter_area(),
        of_recording=table.notes,
    )


def _splits(case: Case) -> tuple[ReviewedSplit, ...]:
    plan, ridden, rest = case.replay.plan, case.ridden.tolist(), case.rest.tolist()
    power = [None] * len(plan) if case.table.power is None else case.table.power.tolist()
    difference = [time - one.time_s for time, one in zip(ridden, plan, strict=True)]
    clock, so_far, rest_so_far = (list(accumulate(one)) for one in (ridden, difference, rest))
    return tuple(
        ReviewedSplit(
            from_m=one.from_m,
            to_m=one.to_m,
            planned_s=one.time_s,
            ridden_s=ridden[row],
            planned_so_far_s=one.elapsed_s,
            ridden_so_far_s=clock[row],
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


def _explanation(case: Case, one: InputFit, name: str) -> Explanation:
    """What a fit says of one of its inputs."""
    place = one.names.index(name)
    stated, slope = case.stated(name), one.slopes[:, place]
    told = name not in one.untold
    model = abs(float(slope @ case.known.model_s) / float(slope @ slope)) if told else None
    return Explanation(
        quantity=name,
        stated=stated,
        value=stated * (1.0 + float(one.share[place])),
        doubt=None if one.doubt is None else stated * float(one.doubt[place]),
        model_doubt=None if model is None else stated * model,
        left_s=one.left_s,
        explained=case.explained(one),
        believable=believable(one),
    )


def _pair(case: Case, one: InputFit) -> InputPair:
    both = tuple(_explanation(case, one, name) for name in one.names)
    return InputPair(both, one.correlation, separable(one))


def _refined(case: Case, named: Sequence[Explanation]) -> Iterator[Refined]:
    """Values of the bike that were named; a table by yaw has no single one."""
    race = case.replay.base.race
    single = len(race.bike.cda.yaw) == 1
    for one in named:
        if one.quantity == "crr" or (one.quantity == "cda" and single):
            # The file states the bike without what is in use.
            used = getattr(race.used, one.quantity) if race.used else 0.0
            text = INPUTS[one.quantity].text(one.value - used)
            doubt = math.hypot(one.doubt or 0.0, one.model_doubt or 0.0)
            key = f"bike.{one.quantity}"
            yield Refined(key, one.value - used, text, one.stated - used, doubt)
