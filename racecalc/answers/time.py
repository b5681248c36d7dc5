"""``racecalc time``: how long it will take."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from racecalc.answers.along import along_curves, landmarks
from racecalc.answers.basis import Basis, chain_blocks
from racecalc.answers.cells import Cell
from racecalc.answers.columns import Clock, Number, Quantity, Share, Words, clock_text
from racecalc.answers.sheet import Block, Depth, Line, Lines, Sheet, Table
from racecalc.decisions.doubt import TimeBand
from racecalc.decisions.explain import ExplainedStep
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import Along, PowerShares, SlowedStretch, Timing
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show
from racecalc.written import HIDDEN, SPREAD, WHERE_ANY

MOST_CAUSES = 3
LEAST_SHARE = 0.01
"""Causes of doubt that are named, and the share of the variance from which on they are."""

NOTHING = 0.05
"""Watts that are shown as none."""

SPENT_ON = {
    "air_w": "air",
    "rolling_w": "rolling",
    "drivetrain_w": "drivetrain",
    "bearings_w": "wheel bearings",
    "climbing_w": "climbing, net",
    "speed_gained_w": "speed gained, start to finish",
    "braking_w": "brakes",
}
"""What the watts go into, by the fields of `PowerShares`."""


@dataclass(frozen=True)
class TimeAnswer:
    """How long the race takes."""

    ridden: Annotated[Ridden, HIDDEN]
    """The race, solved."""
    timed: Annotated[Timing, SPREAD]
    """Time, splits and where the watts go."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""
    band: Annotated[TimeBand | None, WHERE_ANY] = None
    """How sure it is, all doubts together; None where none is stated."""
    explanation: Annotated[tuple[ExplainedStep, ...], WHERE_ANY] = ()
    """How the time arises, where that was asked for."""


def time_sheet(answer: TimeAnswer, units: System, *, chart: bool = True) -> Sheet:
    """The time and its doubt, then splits, where the watts go, and what it rests on."""
    return Sheet(
        (f"{answer.basis.title}: ", _time(answer)),
        [
            Lines(time_lines(answer, units)),
            Lines(answer.basis.warnings, "Mind"),
            Table("Splits", SPLITS, answer.timed.splits, depth=Depth.ANSWER, most=9, path="splits"),
            *time_details(answer, units, chart=chart),
            Table("Where the watts go", SPENT, spent(answer.timed.shares)),
            *time_basis(answer, units),
        ],
        units,
    )


def time_lines(answer: TimeAnswer, units: System) -> list[Line]:
    """How sure the time is, and what it is the time of."""
    return [_how_sure(answer), *_conditions(answer, units), _limits(answer.timed)]


def time_details(answer: TimeAnswer, units: System, *, chart: bool = True) -> Iterator[Block]:
    """The ride along the course, and where it is held up."""
    if chart:
        along = Along(answer.ridden)
        yield along_curves(along, ("elevation_m", "speed_m_s"), units, landmarks(along))
    yield Table(
        "Where a limit decides, not the power",
        SLOWED,
        _slowest(answer.timed),
        path="slowed",
        among=answer.timed.slowed,
    )


def time_basis(answer: TimeAnswer, units: System) -> Iterator[Block]:
    """What the time rests on."""
    yield Lines(_method(answer.band), "How sure", Depth.BASIS)
    yield from answer.basis.blocks(units)
    yield from chain_blocks({"the time": answer.explanation} if answer.explanation else {})


SPLITS = [
    Quantity("to", "to_m", what="course_distance"),
    Clock("split", "time_s"),
    Clock("elapsed", "elapsed_s"),
    Quantity("", "speed_m_s", what="speed"),
    Quantity("", "power_w", what="power"),
    Quantity("grade", "grade", what="grade", signed=True),
    Quantity("head wind", "head_wind_m_s", what="wind_speed", signed=True),
]
SPENT = [Words("", "on"), Number("W", "watts"), Share("%", "percent", unknown="-")]
SLOWED = [
    Quantity("from", "from_m", what="course_distance"),
    Quantity("to", "to_m", what="course_distance"),
    Quantity("down to", "speed_m_s", what="speed"),
    Words("by", "cause"),
]


def _time(answer: TimeAnswer) -> Cell:
    spread = answer.band.spread if answer.band else None
    half = 0.5 * (spread.high_95_s - spread.low_95_s) if spread else 0.0
    return Cell(clock_text(answer.timed.time_s, half), "strong", answer.timed.time_s, "time_s")


def _how_sure(answer: TimeAnswer) -> str:
    if answer.band is None:
        model = f"the model alone errs by {answer.timed.model_error_s:.0f} s either way (one"
        if answer.ridden.race.doubts.stated:
            return f"How sure: {model} standard error); the stated doubts are being worked out."
        return (
            f"How sure: {model} standard error). State your doubts (rider.power_doubt,"
            " bike.cda_doubt ...) for a band of all."
        )
    spread = answer.band.spread
    low, high, *ends = map(
        show_duration, (spread.low_80_s, spread.high_80_s, spread.low_95_s, spread.high_95_s)
    )
    causes = ", ".join(
        f"{one.words} {100 * one.share:.0f} %"
        for one in answer.band.causes[:MOST_CAUSES]
        if one.share >= LEAST_SHARE
    )
    return (
        f"How sure: {low} to {high} in 80 of 100 cases, {' to '.join(ends)} in 95. The doubt comes"
        f" from {causes}."
    )


def _conditions(answer: TimeAnswer, units: System) -> Iterator[str]:
    timed, race, watt = answer.timed, answer.ridden.race, -answer.ridden.time_by_power
    at = "" if race.bike.cda.is_constant else " at no yaw"
    yield (
        f"Held {show(race.rider.power, 'power', units)} at the {race.bike.power_at}, CdA"
        f" {race.bike.cda.at_zero_yaw:.3f} m^2{at}, Crr {race.bike.crr:.4g},"
        f" {show(race.total_mass, 'mass', units)} in all; one watt more saves {watt:.1f} s."
    )
    wind = (
        f"wind at the rider {show(timed.wind_at_rider_m_s, 'wind_speed', units)}, yaw below"
        f" {timed.yaw_90_deg:.0f} deg for 90 % of the time"
        if timed.wind_at_rider_m_s
        else "no wind"
    )
    yield (
        f"{show(timed.distance_m, 'course_distance', units)} at"
        f" {show(timed.mean_speed_m_s, 'speed', units)} with"
        f" {show(timed.mean_power_w, 'power', units)} in the mean,"
        f" {show(timed.ascent_m, 'elevation', units)} of climbing;"
        f" air {show(timed.air_density_kg_m3, 'density', units)}, {wind}."
    )


def _limits(timed: Timing) -> str:
    if not timed.slowed:
        return ""
    places = f"{len(timed.slowed)} place{'s' if len(timed.slowed) > 1 else ''}"
    return f"Speed limits and bends cost {timed.lost_to_limits_s:.0f} s at {places}."


def _slowest(timed: Timing, most: int = 6) -> list[SlowedStretch]:
    slowest = sorted(timed.slowed, key=lambda one: one.speed_m_s)[:most]
    return sorted(slowest, key=lambda one: one.from_m)


@dataclass(frozen=True)
class Spent:
    """What a part of the watts goes into."""

    on: str
    watts: float
    percent: float | None
    before: float
    """Watts of the version that it is compared with."""

    @property
    def change(self) -> float:
        """Watts more than before."""
        return self.watts - self.before


def spent(shares: PowerShares, before: PowerShares | None = None) -> list[Spent]:
    """What the watts go into, without what is next to nothing now and before."""
    rows = [
        Spent(words, now, shares.percent(now), float(getattr(before or shares, field)))
        for field, words in SPENT_ON.items()
        for now in [float(getattr(shares, field))]
    ]
    return [one for one in rows if max(abs(one.watts), abs(one.before)) >= NOTHING]


def _method(band: TimeBand | None) -> list[str]:
    if band is None:
        return ["The standard error of the published model is 2.7 W (Martin et al. 1998)."]
    error = band.surrogate_error_s
    return [
        f"Half of the cases are faster than {show_duration(band.spread.median_s)}. What each"
        " doubt contributes is its share of the variance.",
        f"{band.draws} draws, seed {band.seed}, through a quadratic fit of the course time,"
        f" off by {error.rms:.2g} s ({error.largest:.2g} s at most) at {error.solves} draws solved"
        " in full.",
    ]
