"""A ride held against its plan: what was off, in numbers and words."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate
from statistics import median

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.review.fit import (
    Blame,
    Fit,
    Known,
    Replay,
    alone_and_in_pairs,
    believable,
    blame,
    fit,
    slopes_at,
    splits_needed,
    told_apart,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.errors import InputError
from racecalc.files.table_kinds import RiddenTable
from racecalc.quantities.clock import show_duration

# --- What an after-race review says --------------------------------------------------------------

INPUTS = {
    "cda": "air resistance (CdA)",
    "crr": "rolling resistance (Crr)",
    "wind": "wind",
    "power": "power",
}
"""What may have been wrong, by its key, in words."""


@dataclass(frozen=True)
class ReviewedSplit:
    """One split, as planned and as ridden."""

    from_m: float
    to_m: float
    """Where it begins and ends [m]."""
    planned_s: float
    ridden_s: float
    """Time on it by the plan and by the clock [s]."""
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
    """Which input; one of "cda", "crr", "wind", "power"."""
    stated: float
    value: float
    """In the race file or plan, and where it explains the rest best: drag area at zero yaw [m^2],
    rolling-resistance coefficient, wind where the race file states it (negative from the other
    side) [m/s], or mean power of the plan [W].
    """
    doubt: float | None
    """Standard uncertainty of the value, from the scatter of the splits; None where too few show
    any.
    """
    model_doubt: float
    """What the standard error of the model, the same on every split, means in it."""
    left_s: float
    """What is left of a split, root mean square [s]."""
    explained: float
    """Share of the rest that it explains, in squares of seconds; 0 to 1."""
    believable: bool
    """Whether it did not have to be moved further than can be believed."""


@dataclass(frozen=True)
class Pair:
    """Two inputs moved together."""

    explanations: tuple[Explanation, Explanation]
    """What each comes to; share and rest are those of both together."""
    correlation: float
    """Of their errors, -1 to 1."""
    apart: bool
    """Whether the splits tell the two apart."""


@dataclass(frozen=True)
class Refined:
    """A value of the race file that the splits support."""

    key: str
    """Of the race file."""
    value: float
    """In SI."""
    text: str
    """As it stands in a race file."""
    stated: float
    """What stands there now, in SI."""
    doubt: float
    """Standard uncertainty, the scatter of the splits and the error of the model together."""


@dataclass(frozen=True)
class Review:
    """A race after it was ridden."""

    source: str
    """File of the splits as the user gave it."""
    plan: str
    """What was planned, in words."""
    to_m: float
    distance_m: float
    """End of the last split, and length of the course [m]."""
    planned_s: float
    ridden_s: float
    difference_s: float
    """To the end of the last split [s]."""
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
    pair: Pair | None
    """Drag area and wind together; None where there is no wind, or too few splits."""
    finding: str
    """What the splits say of the rest, as in `racecalc.decisions.review.fit.Finding`."""
    wrong: tuple[str, ...]
    """Who was wrong, in the words of `INPUTS`; empty where nobody was or the splits cannot tell."""
    refined: tuple[Refined, ...]
    """Values that the splits support."""
    headline: str = ""
    """All of it in a sentence or three."""
    reasons: tuple[str, ...] = ()
    """Why this is said."""
    next_race: tuple[str, ...] = ()
    """What it means for the next race."""
    notes: tuple[str, ...] = ()
    """What to look at first."""
    cautions: tuple[str, ...] = ()
    """What is in it and what is not."""


# --- The sentences of an after-race review -------------------------------------------------------

ODD_S = 10.0
"""Seconds by which a split must stand out before it is noted; our choice."""

ODD_TIMES = 6.0
"""How many times the usual spread (median) it must stand out; our choice."""


LONG = 600.0
"""Seconds from which minutes are told; our choice."""

LIKELY = (0.5, 2.0)
"""Times over that of the plan between which no slip is suspected; our choice."""


def headline_of(found: Review, blamed: Blame, named: Sequence[Explanation]) -> str:
    """The answer in a few sentences."""
    where = "" if _finished(found) else " to the last split"
    first = (
        f"Ridden in {show_duration(found.ridden_s)}{where},"
        f" {_slower(found.difference_s)} than the plan of {show_duration(found.planned_s)}."
    )
    return " ".join((first, *_by_power(found), _verdict(found, blamed, named)))


def _by_power(found: Review) -> list[str]:
    if found.power_s is None:
        return []
    return [
        f"The ridden power makes it {_slower(found.power_s)}; what is left is"
        f" {_slower(found.rest_s)}."
    ]


def _slower(seconds: float) -> str:
    if round(abs(seconds)) == 0:
        return "0 s slower"
    size = f"{abs(seconds):.0f} s" if abs(seconds) < LONG else show_duration(abs(seconds))
    return f"{size} {'slower' if seconds > 0 else 'faster'}"


def _finished(found: Review) -> bool:
    return found.to_m >= found.distance_m


def _verdict(found: Review, blamed: Blame, named: Sequence[Explanation]) -> str:
    if blamed.finding == "nothing":
        within = "what is left is within the error of the model and the reading of the clock"
        if found.wrong:
            return f"Who was wrong: power; {within}."
        return f"Nothing was wrong beyond what is known: {within}."
    if blamed.finding == "named":
        values = " and ".join(map(_as_if, named))
        return f"Who was wrong: {_listed(found.wrong)}. It went as if {values}."
    cannot = f"cannot be told from these splits: {_why_not(blamed)}."
    if found.wrong:
        return f"Who was wrong: power; who else {cannot}"
    return f"Who was wrong {cannot}"


def _as_if(one: Explanation) -> str:
    if one.quantity == "wind":
        return f"the wind had been {_times(one)} as strong as stated"
    shown = {
        "cda": ("CdA", ".4f", " m^2"),
        "crr": ("Crr", ".5f", ""),
        "power": ("power", ".0f", " W"),
    }
    name, form, unit = shown[one.quantity]
    return f"{name} had been {one.value:{form}}{unit} instead of {one.stated:{form}}{unit}"


def _times(one: Explanation) -> str:
    return f"{one.value / one.stated:.2f} times"


def _listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _why_not(blamed: Blame) -> str:
    rivals = [" with ".join(INPUTS[name] for name in names) for names in blamed.rivals]
    if blamed.finding == "no power":
        return "without the power of each split, one that was ridden otherwise passes for anything"
    if blamed.finding == "several":
        return f"{' or '.join(rivals)} would explain what is left"
    if blamed.finding == "together":
        return f"on these splits the errors of {_listed(rivals)} go along with each other"
    return {
        "too few": f"they are too few, and it takes {blamed.needed}",
        "no pattern": "what is left scatters, and no input makes such a pattern",
        "none fits": "neither one input nor two together explain what is left",
    }[blamed.finding]


def reasons_of(found: Review, blamed: Blame, named: Sequence[Explanation]) -> tuple[str, ...]:
    """Why this is said."""
    return (
        f"Off anyway: the clock, read to {found.resolution_s:g} s, and the model, whose"
        f" standard error of {MODEL_ERROR} W means {found.model_error_s:.0f} s over all splits if"
        " it is the same on each.",
        *_told(blamed, named),
        *_pair_words(found),
    )


def _told(blamed: Blame, named: Sequence[Explanation]) -> list[str]:
    if blamed.finding != "named":
        return []
    who = _listed(INPUTS[one.quantity] for one in named)
    found = [
        f"With {who} moved, the other inputs explain no more than chance would (5 % level), and"
        f" {'no other pair' if len(named) > 1 else 'no other alone'} does as well."
    ]
    found.append("What is not named may be off as well, by less than these splits show.")
    return found + [_doubt_words(one) for one in named if one.doubt is not None]


def _doubt_words(one: Explanation) -> str:
    share = {"cda": (1.0, ".4f", " m^2"), "crr": (1.0, ".5f", ""), "power": (1.0, ".1f", " W")}
    scale, form, unit = share.get(one.quantity, (1.0 / one.stated, ".3f", " times the stated wind"))
    spread, model = (scale * part for part in (one.doubt or 0.0, one.model_doubt))
    return (
        f"{_capital(INPUTS[one.quantity])}: +- {spread:{form}}{unit} (one standard uncertainty)"
        f" by the scatter of the splits; {model:{form}}{unit} more or less would make up for the"
        " error of the model."
    )


def _pair_words(found: Review) -> list[str]:
    pair = found.pair
    if pair is None or found.finding == "nothing":
        return []
    if pair.apart and found.finding in ("no power", "too few", "no pattern"):
        return []
    if pair.apart:
        return [
            "The splits tell CdA and wind apart: the correlation of their errors is"
            f" {pair.correlation:+.2f}."
        ]
    return [
        "The splits cannot tell CdA and wind apart: the correlation of their errors is"
        f" {pair.correlation:+.2f}, so more of one and less of the other fit as well."
    ]


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def next_race_of(found: Review, blamed: Blame) -> tuple[str, ...]:
    """What it means for the next race."""
    if blamed.finding == "nothing":
        return ("Keep the values of the race file: this race does not speak against them.",)
    if blamed.finding != "named":
        return (
            "Change nothing in the race file on the strength of this race.",
            *_what_would_tell(found, blamed),
        )
    kept = {
        "wind": "The wind was that of the day: it says nothing about the next.",
        "power": "Give the power of each split to see how much of it was ridden and what is left.",
    }
    said = [kept[name] for name in blamed.named if name in kept]
    if "cda" in blamed.named and not any(one.key == "bike.cda" for one in found.refined):
        said.append("The drag area stands in a table by yaw: no single value can be set.")
    return (*said, *(_refined_words(one) for one in found.refined))


def _refined_words(one: Refined) -> str:
    times = abs(one.value - one.stated) / one.doubt
    weak = ", which is less than two: see it again before you believe it" if times < 2.0 else ""
    return (
        f"{one.key}: one race is one run. The change is {times:.1f} standard uncertainties, the"
        f" error of the model included{weak}. Test it, or hold it against another race."
    )


def _what_would_tell(found: Review, blamed: Blame) -> list[str]:
    inputs = {name for names in blamed.rivals for name in names}
    told = []
    if found.power_s is None:
        told.append(
            "Give the power of each split; where it is known to have been held, write that in"
            " every row."
        )
    if not any(one.quantity == "wind" for one in found.alone):
        told.append(
            "State the wind of the day, as with --set air.wind_speed and air.wind_from, and ask"
            " again."
        )
    if blamed.finding == "too few":
        told.append("Give more splits, where slope or wind changes.")
    if blamed.finding in ("no pattern", "none fits"):
        told.append(
            "Look for what is not tried here: a stop, shelter, or a wind from elsewhere, which"
            " --set air.wind_from tries."
        )
    if {"cda", "wind"} <= inputs:
        told.append("Air and wind part where the course turns in the wind, as out and back.")
    if {"cda", "crr"} <= inputs:
        told.append("Air and rolling part where speeds differ much, as on climbs and flats.")
    return told


def notes_of(found: Review, unmet: Sequence[int]) -> tuple[str, ...]:
    """What to look at before believing anything."""
    odd = _odd(found)
    likely = all(LIKELY[0] < one.ridden_s / one.planned_s < LIKELY[1] for one in found.splits)
    return (
        *(
            []
            if likely
            else [
                "Plan and ride are no match on some split: were hours and minutes mixed up, or"
                " distances, or is it the file of another course?"
            ]
        ),
        *(
            ["The last split ends before the finish: only the ridden part is reviewed."]
            if not _finished(found)
            else []
        ),
        *(
            [
                f"Split {odd} stands out by itself: a stop, traffic, or a slip in clock or"
                " distance? Its seconds pull at everything below."
            ]
            if odd
            else []
        ),
        *(
            [
                "Speed limits and bends of the race file keep the ridden power from being ridden"
                f" on split {_listed(map(str, unmet))}: the rider went faster there, or less"
                " carefully."
            ]
            if unmet
            else []
        ),
    )


def _odd(found: Review) -> int:
    """The split, from 1, whose rest stands out from all others; 0 for none."""
    if len(found.splits) < 4:
        return 0
    pace = [one.rest_s / one.planned_s for one in found.splits]
    usual = median(pace)
    off = [abs(one - usual) for one in pace]
    spread = median(off)
    at = max(range(len(off)), key=lambda row: off[row] * found.splits[row].planned_s)
    far = off[at] * found.splits[at].planned_s > ODD_S and off[at] > ODD_TIMES * spread
    return at + 1 if far else 0


def cautions_of(found: Review, meter_area: float | None) -> tuple[str, ...]:
    """What is in the answer and what is not."""
    ten_metres = 10.0 * found.ridden_s / found.to_m
    return (
        "Each value is what makes the model meet the clock if all else is as stated. Traffic,"
        " shelter of other riders, a stop, gusts, a wind from elsewhere, a wet or rough road and"
        " the lines ridden all pass for it.",
        f"A split that ends 10 m (33 ft) elsewhere is {ten_metres:.1f} s off.",
        "Times of the plan are estimates and no targets: do not look for lost seconds in bends and"
        " on descents.",
        *(
            [
                "The ridden power is spread evenly over each split, but for where bends and speed"
                " limits hold the rider back. A power meter that reads 1 % high passes for"
                f" {meter_area:.4f} m^2 more CdA."
            ]
            if meter_area is not None
            else ["No power is given, so power is one of those that may have been wrong."]
        ),
        *(
            []
            if any(one.quantity == "wind" for one in found.alone)
            else ["The race file states no wind, so none was tried."]
        ),
    )


# --- After the race ------------------------------------------------------------------------------

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
    """Hold a ride against the plan."""
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
    """Refuse a power too low for its split, as where a meter fell silent."""
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
