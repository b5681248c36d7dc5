"""``racecalc time``: how long it will take."""

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from racecalc.answers.basis import Basis, chain_blocks
from racecalc.answers.cells import Cell
from racecalc.answers.columns import Clock, Number, Quantity, Share, Words, clock_text
from racecalc.answers.sheet import Curves, Depth, Lines, Sheet, Table
from racecalc.decisions.doubt import TimeBand
from racecalc.decisions.explain import ExplainedStep
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import PowerShares, SlowedStretch, Timing
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show, shown_unit, to_shown
from racecalc.written import HIDDEN, SPREAD, WHERE_ANY

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
    timed = answer.timed
    return Sheet(
        (f"{answer.basis.title}: ", _time(answer)),
        [
            Lines([_how_sure(answer), _conditions(timed, units), _limits(timed)]),
            Lines(answer.basis.warnings, "Mind"),
            Table("Splits", SPLITS, timed.splits, depth=Depth.ANSWER, most=9),
            *([_curves(answer.ridden, timed, units)] if chart else []),
            Table("Where the watts go", SPENT, _spent(timed.shares)),
            Table("Where a limit decides, not the power", SLOWED, _slowest(timed)),
            Lines(_method(answer.band), "How sure", Depth.BASIS),
            *answer.basis.blocks(units),
            *chain_blocks({"the time": answer.explanation} if answer.explanation else {}),
        ],
        units,
    )


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
        return (
            f"How sure: the model alone errs by {answer.timed.model_error_s:.0f} s either way (one"
            " standard error). State your doubts (rider.power_doubt, bike.cda_doubt ...) for a"
            " band of all."
        )
    spread, most = answer.band.spread, answer.band.causes[0]
    low, high, *ends = map(
        show_duration, (spread.low_80_s, spread.high_80_s, spread.low_95_s, spread.high_95_s)
    )
    return (
        f"How sure: {low} to {high} in 80 of 100 cases, {' to '.join(ends)} in 95; most of it,"
        f" {100 * most.share:.0f} %, from {most.words}."
    )


def _conditions(timed: Timing, units: System) -> str:
    wind = (
        f"wind at the rider {show(timed.wind_at_rider_m_s, 'wind_speed', units)}, yaw below"
        f" {timed.yaw_90_deg:.0f} deg for 90 % of the time"
        if timed.wind_at_rider_m_s
        else "no wind"
    )
    return (
        f"{show(timed.distance_m, 'course_distance', units)} at"
        f" {show(timed.mean_speed_m_s, 'speed', units)} with"
        f" {show(timed.mean_power_w, 'power', units)},"
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


def _spent(shares: PowerShares) -> list[Spent]:
    """What the watts go into, without what is next to nothing."""
    named = ((name, float(getattr(shares, field))) for field, name in SPENT_ON.items())
    return [Spent(on, w, shares.percent(w)) for on, w in named if abs(w) >= NOTHING]


def _curves(ridden: Ridden, timed: Timing, units: System) -> Curves:
    nodes = ridden.solution.ride.nodes
    even = np.linspace(0.0, nodes[-1], 400)
    curves: dict[str, Any] = {
        "elevation": ridden.race.course.elevation_at(even),
        "speed": np.interp(even, nodes, ridden.solution.speed),
    }
    return Curves(
        to_shown(even, "course_distance", units),
        {
            f"{name} [{shown_unit(name, units)}]": to_shown(values, name, units)  # type: ignore[arg-type]
            for name, values in curves.items()
        },
        f"{show(timed.ascent_m, 'elevation', units)} of climbing over"
        f" {show(timed.distance_m, 'course_distance', units)}.",
    )


def _method(band: TimeBand | None) -> list[str]:
    if band is None:
        return ["The standard error of the published model is 2.7 W (Martin et al. 1998)."]
    shares = ", ".join(f"{one.words} {100 * one.share:.0f} %" for one in band.causes[:4])
    error = band.surrogate_error_s
    return [
        f"What drives the doubt, in shares of the variance: {shares}.",
        f"{band.draws} draws, seed {band.seed}, through a quadratic fit of the course time,"
        f" off by {error.rms:.2g} s ({error.largest:.2g} s at most) at {error.solves} draws solved"
        " in full.",
    ]
