"""``racecalc time`` and ``rates``, and the race along its course."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Annotated, Any

import numpy as np

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, quoted
from racecalc.answers.columns import (
    Clock,
    Column,
    Made,
    Number,
    Quantity,
    Share,
    SplitClock,
    Words,
    seconds_text,
    time_cell,
    time_span,
    within_95,
)
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table, grounds
from racecalc.answers.squad import RACE
from racecalc.arrays import FloatArray
from racecalc.decisions.assumed import Tried
from racecalc.decisions.doubt import TimeBand
from racecalc.decisions.explain import explain_time, explained
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import (
    Along,
    CoursePoint,
    PowerShares,
    Rate,
    SlowedStretch,
    Stretch,
    Timing,
)
from racecalc.decisions.verdicts import interval_of
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import (
    System,
    What,
    show,
    show_number,
    shown_unit,
    to_shown,
    unit_size,
)
from racecalc.written import HIDDEN, SPREAD, WHERE_ANY, As

# --- The ride along its course -------------------------------------------------------------------

GETTING_UNDER_WAY = 100.0
"""Distance from the start within which the worth of a watt falls steeply [m]; our choice."""

HIGHEST_SHOWN = 99.0
"""Percentile above which the worth of a watt is cut off in its chart."""

CURVES: dict[str, tuple[str, What | None]] = {
    "elevation_m": ("elevation", "elevation"),
    "speed_m_s": ("speed", "speed"),
    "power_w": ("power", "power"),
    "head_wind_m_s": ("head wind, negative from behind", "wind_speed"),
    "worth_s_per_w_km": ("where a watt counts: seconds that one watt more saves on each", None),
}
"""What may be drawn along the course, by the fields of `CoursePoint`."""

STRETCHES = [
    Quantity("from", "split.from_m", what="course_distance"),
    Quantity("to", "split.to_m", what="course_distance"),
    SplitClock("time", "split.time_s"),
    Quantity("", "split.speed_m_s", what="speed"),
    Quantity("", "split.power_w", what="power"),
    Quantity("grade", "split.grade", what="grade", signed=True),
    Quantity("head", "split.head_wind_m_s", what="wind_speed", signed=True),
    Number("s/W", "seconds_per_watt", form=".2f"),
    Made("stretch", "", lambda one: quoted(one.name) if one.name else "", left=True),
]


def along_curves(
    along: Along,
    names: Sequence[str],
    units: System,
    marks: Sequence[tuple[float, str]] = (),
    points: int = 400,
) -> Curves:
    """Curves along the course, by keys of `CURVES`, with marks at distances [m]."""
    at, km = np.linspace(0.0, along.length_m, points), unit_size("course_distance", units)
    race = along.ridden.race
    return Curves(
        at / km,
        {_title(name, units): _values(along, name, at, units) for name in names},
        f"{show(race.course.ascent, 'elevation', units)} of climbing over"
        f" {show(along.length_m, 'course_distance', units)}.",
        across=shown_unit("course_distance", units),
        marks=[(place / km, name) for place, name in marks],
    )


def landmarks(along: Along) -> list[tuple[float, str]]:
    """The landmarks of the course and where they are [m]."""
    marks = along.ridden.race.landmarks
    return [(one.at, one_line(one.name, most=24)) for one in marks]


def _values(along: Along, name: str, at: FloatArray, units: System) -> FloatArray:
    what = CURVES[name][1]
    values = along.curve(name, at)
    if what is not None:
        return to_shown(values, what, units)
    # Off the line a watt is worth ten times as much as anywhere else, which would flatten the rest.
    return _by_unit(1.0, units) * np.minimum(values, np.percentile(values, HIGHEST_SHOWN))


def _by_unit(per_km: float, units: System) -> float:
    """What holds for a kilometre, for the unit in which distances are shown."""
    return per_km * unit_size("course_distance", units) / 1000.0


def _title(name: str, units: System) -> str:
    words, what = CURVES[name]
    if what is None:
        return f"{words} {shown_unit('course_distance', units)}, the start cut off"
    return f"{words} [{shown_unit(what, units)}]"


def point_value(point: CoursePoint, name: str, units: System) -> str:
    """One value of a point with its unit, by a key of `CURVES`."""
    what, value = CURVES[name][1], getattr(point, name)
    if what is None:
        return f"{_by_unit(value, units):.2f} s/{shown_unit('course_distance', units)}"
    return show(value, what, units, signed=what == "wind_speed")


def point_lines(point: CoursePoint, units: System) -> list[Line]:
    """Everything at one point of the course, in three lines."""
    side = "right" if point.cross_wind_m_s > 0 else "left"
    wind = "ahead" if point.head_wind_m_s > 0 else "behind"
    winds = point.head_wind_m_s, point.cross_wind_m_s
    head, cross = (show(abs(one), "wind_speed", units) for one in winds)
    return [
        f"at {show(point.at_m, 'course_distance', units)}"
        f"  {show_duration(point.elapsed_s)}"
        f"  {show(point.elevation_m, 'elevation', units)}"
        f"  {show(point.grade, 'grade', units, signed=True)}",
        f"{show(point.speed_m_s, 'speed', units)}  {show(point.power_w, 'power', units)}"
        f"  wind {head} from {wind}, {cross} from the {side}, yaw {abs(point.yaw_deg):.0f} deg",
        f"one watt more here saves {_by_unit(point.worth_s_per_w_km, units):.2f} s on each"
        f" {shown_unit('course_distance', units)}"
        + (", while the rider still speeds up" if point.at_m < GETTING_UNDER_WAY else ""),
    ]


def counts_line(stretches: Sequence[Stretch], units: System) -> Line:
    """Where along the course a watt counts most and where least, by its round stretches."""
    per_km = {
        one: one.seconds_per_watt / (one.split.to_m - one.split.from_m)
        for one in stretches
        if not one.name
    }
    whole = stretches[0].seconds_per_watt
    if len(per_km) < 2:
        return Cell(f"One watt more all the way saves {whole:.2f} s", "strong"), "."
    most, least = max(per_km, key=per_km.__getitem__), min(per_km, key=per_km.__getitem__)
    kilometre = shown_unit("course_distance", units)

    def words(one: Stretch) -> str:
        ends = (
            show_number(at, "course_distance", units, 0)
            for at in (one.split.from_m, one.split.to_m)
        )
        return f"from {' to '.join(ends)}"

    each = [_by_unit(1000.0 * per_km[one], units) for one in (most, least)]
    return (
        Cell(f"A watt counts most {words(most)} {kilometre}", "strong"),
        f": {each[0]:.2f} s a {kilometre}; least {words(least)}: {each[1]:.2f}.",
    )


def stretch_line(stretch: Stretch, units: System) -> Line:
    """A stretch from a mark to the point, in a line."""
    split = stretch.split
    return (
        f"from the mark: {show(split.to_m - split.from_m, 'course_distance', units)} in"
        f" {show_duration(split.time_s)}, {show(split.speed_m_s, 'speed', units)},"
        f" {show(split.grade, 'grade', units, signed=True)};"
        f" one watt more on it saves {stretch.seconds_per_watt:.2f} s"
    )


# --- ``racecalc time`` ---------------------------------------------------------------------------

MOST_CAUSES = 3
LEAST_SHARE = 0.01
"""Causes of doubt that are named, and the share of the variance from which on they are."""

LEAST_BELOW = 0.5
"""Watts by which the mean power must lie below the set one to be shown."""

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
    tried: Annotated[tuple[Tried, ...], As(assumptions_tried="")] = ()
    """What the assumptions mean in seconds, the one that means most first."""


def time_sheet(answer: TimeAnswer, units: System, *, chart: bool = True) -> Sheet:
    """The time and its doubt, then splits, where the watts go, and what it rests on."""
    return Sheet(
        (f"{answer.basis.title}: ", time_cell(answer.timed.time_s, "time_s")),
        [
            Lines(time_lines(answer, units)),
            Lines(answer.basis.warnings, "Mind"),
            Table("Splits", SPLITS, answer.timed.splits, depth=Depth.ANSWER, most=9, path="splits"),
            *time_details(answer, units, chart=chart),
            Table("Where the watts go", SPENT, spent(answer.timed.shares)),
            *time_basis(answer, units),
        ],
        units,
        explained=lambda: explain_time(answer.ridden, answer.timed),
    )


def time_lines(answer: TimeAnswer, units: System) -> list[Line]:
    """How sure the time is, and what it is the time of."""
    conditions = _conditions(answer, units)
    assumed = _wheels(answer.tried), assumed_line(answer.tried)
    return [_how_sure(answer), *conditions, _limits(answer.timed), *assumed]


def time_details(answer: TimeAnswer, units: System, *, chart: bool = True) -> Iterator[Block]:
    """The ride along the course, and where it is held up."""
    if chart:
        along = Along(answer.ridden)
        yield along_curves(along, ("elevation_m", "speed_m_s"), units, landmarks(along))
    title, slowed = "Where bends and speed limits slow the ride", answer.timed.slowed
    yield Table(title, SLOWED, _slowest(slowed), path="slowed", among=slowed)


def time_basis(answer: TimeAnswer, units: System) -> Iterator[Block]:
    """What the time rests on."""
    yield grounds(_method(answer.band), "How sure")
    yield from answer.basis.blocks(units)
    yield tried_table(answer.tried)


def tried_table(tried: Sequence[Tried]) -> Table:
    """Other values in place of what is assumed."""
    title, at = "Another value in place of what is assumed", "assumptions_tried"
    return Table(title, TRIED, tried, TRIED_NOTE, Depth.BASIS, path=at)


SPLITS = [
    Quantity("to", "to_m", what="course_distance"),
    SplitClock("split", "time_s"),
    Clock("elapsed", "elapsed_s"),
    Quantity("", "speed_m_s", what="speed"),
    Quantity("", "power_w", what="power"),
    Quantity("grade", "grade", what="grade", signed=True),
    Quantity("head wind", "head_wind_m_s", what="wind_speed", signed=True),
]
SPENT = [Words("", "on"), Number("W", "watts"), Share("%", "percent", unknown="-")]
TRIED = [Words("assumed", "words"), Words("instead", "instead"), Number("s", "more_s", form="+.1f")]
TRIED_NOTE = "Seconds more that the race takes then; each value alone, all others as they are."
SLOWED = [
    Quantity("from", "from_m", what="course_distance"),
    Quantity("to", "to_m", what="course_distance"),
    Quantity("down to", "speed_m_s", what="speed"),
    Words("by", "cause"),
]


def _how_sure(answer: TimeAnswer) -> str:
    if answer.band is None:
        within = within_95(*interval_of(answer.timed.time_s, answer.timed.model_error_s))
        more = "state their doubts (rider.power_doubt, bike.cda_doubt ...) for the true range."
        if answer.ridden.race.doubts.stated:
            more = "the stated doubts are being worked out."
        return f"How sure: {within} if the inputs are exact; {more}"
    spread = answer.band.spread
    causes = ", ".join(
        f"{one.words} {100 * one.share:.0f} %"
        for one in answer.band.causes[:MOST_CAUSES]
        if one.share >= LEAST_SHARE
    )
    return (
        f"How sure: {within_95(spread.low_95_s, spread.high_95_s)}. The doubt comes from {causes}."
    )


def _conditions(answer: TimeAnswer, units: System) -> Iterator[str]:
    timed, race, watt = answer.timed, answer.ridden.race, -answer.ridden.time_by_power
    at = "" if race.bike.cda.is_constant else " at no yaw"
    eased = _interrupted(timed, race.rider.power, units)
    yield (
        f"Power {show(race.rider.power, 'power', units)} at the {race.bike.power_at}{eased}, CdA"
        f" {race.bike.cda.at_zero_yaw:.3f} m^2{at}, Crr {race.bike.crr:.4g},"
        f" {show(race.total_mass, 'mass', units)} in all; one watt more saves {watt:.1f} s."
    )
    wind = "no wind"
    if timed.wind_at_rider_m_s:
        wind = f"wind at the rider {show(timed.wind_at_rider_m_s, 'wind_speed', units)}"
    if timed.yaw_90_deg >= LEAST_YAW:
        wind += f", yaw below {timed.yaw_90_deg:.0f} deg for 90 % of the time"
    yield (
        f"{show(timed.distance_m, 'course_distance', units)} at"
        f" {show(timed.mean_speed_m_s, 'speed', units)},"
        f" {show(timed.ascent_m, 'elevation', units)} of climbing;"
        f" air {show(timed.air_density_kg_m3, 'density', units)}, {wind}."
    )


LEAST_YAW = 0.5
"""Yaw from which on it is told [deg]: none in still air, or with the wind dead ahead."""


def _interrupted(timed: Timing, power: float, units: System) -> str:
    """The mean power, where bends and limits keep it below the power that is set."""
    if not timed.slowed or power - timed.mean_power_w < LEAST_BELOW:
        return ""
    mean = show(timed.mean_power_w, "power", units)
    return f" ({mean} on average, with easing at bends and limits)"


def _limits(timed: Timing) -> str:
    if not timed.slowed:
        return ""
    places = f"{len(timed.slowed)} place{'s' if len(timed.slowed) > 1 else ''}"
    return f"Limits of speed and bends cost {timed.lost_to_limits_s:.0f} s at {places}."


WHEELS = "bike.spoke_drag"


def _wheels(tried: Sequence[Tried]) -> str:
    """Whether the CdA holds the turning wheels, which only its owner knows."""
    for one in tried:
        if one.key == WHEELS:
            seconds = seconds_text(one.more_s, None, "")
            return (
                f"Your CdA is taken to hold the turning wheels; if it does not, set {WHEELS} to"
                f" {one.instead}: {seconds} s here."
            )
    return ""


LEAST_TRIED = 1.0
"""Seconds from which on what is assumed is named."""


def assumed_line(tried: Sequence[Tried]) -> str:
    """What else is assumed, and what another value would mean, as much of it as fits two lines."""
    told = [one for one in tried if abs(one.more_s) >= LEAST_TRIED and one.key != WHEELS]
    parts = [f"{one.words} ({one.instead}: {seconds_text(one.more_s)} s)" for one in told]
    for count in range(len(parts), 0, -1):
        rest = f" and {len(parts) - count} more: --basis" if count < len(parts) else ""
        line = f"Assumed: {', '.join(parts[:count])}{rest}."
        if len(wrap(line, 80)) <= 2:
            return line
    return ""


def _slowest(slowed: Sequence[SlowedStretch], most: int = 6) -> list[SlowedStretch]:
    slowest = sorted(slowed, key=lambda one: one.speed_m_s)[:most]
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
        return ["The standard uncertainty of the published model is 2.7 W (Martin et al. 1998)."]
    error = band.surrogate_error_s
    return [
        f"Half of the cases are faster than {show_duration(band.spread.median_s)}. The percentages"
        " of the doubts are shares of the variance.",
        f"{band.draws} random draws with seed {band.seed}, their times from a quadratic fit. At"
        f" {error.solves} draws solved in full the fit is off by {error.rms:.2g} s, at most by"
        f" {error.largest:.2g} s.",
    ]


# --- ``racecalc rates`` --------------------------------------------------------------------------

IMPERIAL: dict[str, What] = {
    "mass": "small_mass",
    "temperature": "temperature_change",
    "pressure": "pressure",
    "head_wind": "wind_speed",
    "wind_speed": "wind_speed",
}
"""Quantities whose rate is shown for another unit; the others keep the units of the trade."""

HOLDS_FOR = (
    "Positive saves time. Valid for small changes to this race, not for another course, weather or"
    " power."
)

EXACT = (
    "Each is the exact derivative of the time (adjoint of the solved ride): ten times the change is"
    " not quite ten times the seconds."
)


@dataclass(frozen=True)
class RatesAnswer:
    """What one more unit of each quantity is worth."""

    time_s: float
    """Time of the race [s]."""
    rates: tuple[Rate, ...]
    """One for each quantity."""
    basis: Annotated[Basis, SPREAD]
    """What they rest on."""


def rates_sheet(answer: RatesAnswer, units: System) -> Sheet:
    """What one more unit of each quantity is worth."""
    number, watt = next(
        (number, rate.seconds_per_unit)
        for number, rate in enumerate(answer.rates)
        if rate.quantity == "power"
    )

    def as_good_as_watt(rate: Rate) -> str:
        unit, times = unit_for(rate, units)
        number, _, name = unit.partition(" ")
        per_unit = rate.seconds_per_unit * times
        if not per_unit:
            return "-"
        amount = float(f"{watt / per_unit * float(number):.2g}")
        return f"{amount:+.6g} {name}".rstrip()

    columns = [
        Words("a change of", "meaning"),
        Made("by", "", lambda rate: unit_for(rate, units)[0], left=True),
        PerUnit("seconds\nsaved", "seconds_per_unit"),
        Made("same as\n1 W more", "", as_good_as_watt),
    ]
    return Sheet(
        (
            f"{answer.basis.title}, {show_duration(answer.time_s)}: one watt more saves ",
            Cell(f"{watt:.1f} s", "strong", watt, f"rates/{number}/seconds_per_unit"),
        ),
        [
            Table("", columns, answer.rates, HOLDS_FOR, Depth.ANSWER, path="rates"),
            Lines(answer.basis.warnings, "Mind"),
            grounds([EXACT]),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: explained("rates", answer.basis.ride, watt=watt),
    )


# --- units of the reader -------------------------------------------------------------------------


def unit_for(rate: Rate, units: System) -> tuple[str, float]:
    """The unit that a rate is shown for, and how many of its own units that is."""
    what = IMPERIAL.get(rate.quantity)
    if units == "imperial" and what:
        return f"1 {shown_unit(what, units)}", unit_size(what, units) / rate.size
    return f"1 {rate.unit}" if rate.unit[0].isalpha() else rate.unit, 1.0


class PerUnit(Column):
    """Seconds saved by one unit more."""

    def _made(self, value: Any, row: Any, units: System) -> str:
        seconds = value * unit_for(getattr(row, "rate", row), units)[1]
        return f"{seconds:+.{0 if abs(seconds) >= 100 else 1 if abs(seconds) >= 10 else 2}f}"


# --- The times of several races ------------------------------------------------------------------


def _within(one: TimeAnswer) -> str:
    ends = interval_of(one.timed.time_s, one.timed.model_error_s)
    if one.band is not None:
        ends = one.band.spread.low_95_s, one.band.spread.high_95_s
    return time_span(*ends)


TOGETHER = [
    RACE,
    Clock("time", "timed.time_s"),
    Made("likely\nbetween", "", _within),
    Quantity("", "timed.mean_speed_m_s", what="speed"),
    Number("W", "timed.mean_power_w", form=".0f"),
    Made("s/W", "", lambda one: f"{-one.ridden.time_by_power:.1f}"),
]


def times_together(found: Sequence[TimeAnswer]) -> tuple[str, Table]:
    """The times of several races: between which they lie, and a row for each."""
    times = [one.timed.time_s for one in found]
    note = (
        "Likely between: in 95 of 100 cases, by the doubt of the model alone where a race file"
        " states no other."
    )
    table = Table("", TOGETHER, found, note, Depth.ANSWER, path="races")
    return time_span(min(times), max(times)), table
