"""From the rows of a sheet to times in recordings; what cannot be meant is refused."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.crossing import (
    OTHER_LAP,
    PAUSE,
    LapLegs,
    Leg,
    laps_between,
    length,
    paused,
    told,
)
from racecalc.decisions.measuring.signals import Signals
from racecalc.domain.run_sheet import Position, RunSheet, SheetRun, Span
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration

A_DAY = 86_400.0
"""[s]"""

CLOSED = 30.0
"""Distance between the ends of a closed lap from which it is said [m]; our choice: a position is
good to some metres, and two late presses of a lap button make twenty."""

FAR = 0.02
"""Share of its length, and at least `CLOSED`, from which a lap does not close; our choice."""

SLACK = 2.0
"""Seconds by which a run may begin before the first point, or end after the last [s]: a lap begins
before its first point is written."""


@dataclass(frozen=True, eq=False)
class CutRun:
    """A run and its laps."""

    row: SheetRun
    place: str
    """File and line, for messages."""
    signals: Signals
    """Of its recording, around it."""
    laps: tuple[tuple[Leg, ...], ...]
    """Each closed lap as one leg, each way there and back as two."""
    gaps: tuple[float | None, ...] = ()
    """Distance between the ends of each lap [m]; None without positions."""

    @property
    def start(self) -> float:
        """Where it begins [s]."""
        return self.laps[0][0][0]

    @property
    def end(self) -> float:
        """Where it ends [s]."""
        return self.laps[-1][-1][1]

    @property
    def legs(self) -> list[Leg]:
        """All legs in order."""
        return [leg for lap in self.laps for leg in lap]


def cut_runs(
    sheet: RunSheet, rides: Mapping[Path, Signals], ahead: float | None
) -> tuple[CutRun, ...]:
    """The runs of a sheet in their recordings, whose clock the sheet is `ahead` of [s].

    Raises `InputError` if a lap is not there or does not close, or two runs overlap.
    """
    by_line = _by_line(sheet, rides)
    runs = tuple(
        _cut(sheet, row, rides[row.recording], ahead or 0.0, by_line.get(row.line))
        for row in sheet.runs
    )
    _refuse_overlaps(runs)
    _refuse_days(runs)
    _refuse_other_laps(runs)
    return runs


def _by_line(sheet: RunSheet, rides: Mapping[Path, Signals]) -> dict[int, list[LapLegs]]:
    """Laps of the rows that name none, by their line: the runs between lines, in their order."""
    wanted: dict[tuple[Path, tuple[Position, ...]], list[SheetRun]] = {}
    for row in sheet.runs:
        if not row.laps:
            if not row.lines:
                remedy = "give 'lap', 'from' and 'to', or the line that each lap crosses"
                raise InputError(sheet.place(row), "no lap is named", remedy)
            wanted.setdefault((row.recording, row.lines), []).append(row)
    found: dict[int, list[LapLegs]] = {}
    for (path, lines), rows in wanted.items():
        ride = rides[path]
        try:
            runs = laps_between(ride, lines)
        except InputError as error:
            raise error.at(sheet.place(rows[0])) from error
        if len(runs) != len(rows):
            problem = (
                f"{ride.recording.source} has {len(runs)} runs on its line, the sheet {len(rows)}"
                f" rows for it; by their beginning (laps): {told(ride, runs) or 'none'}"
            )
            remedy = "give each run a row, or 'from' and 'to'"
            raise InputError(sheet.place(rows[0]), problem, remedy)
        found |= {row.line: run for row, run in zip(rows, runs, strict=True)}
    return found


def _within_line(place: str, row: SheetRun, ride: Signals, window: Leg) -> list[LapLegs]:
    """The whole laps between crossings of its lines in a part of a recording."""
    try:
        [laps] = laps_between(ride, row.lines, window)
    except InputError as error:
        raise error.at(place) from error
    if not laps or row.parts not in (1, len(laps)):
        stated = f", the sheet states {row.parts}" if row.parts > 1 else ""
        problem = f"{len(laps)} whole laps from line to line are within the run{stated}"
        raise InputError(place, problem, "check the line, 'from' and 'to'")
    return laps


def _cut(
    sheet: RunSheet, row: SheetRun, ride: Signals, ahead: float, known: list[LapLegs] | None
) -> CutRun:
    place = sheet.place(row)
    laps = known or [tuple(_leg(place, row, ride, span, ahead) for span in lap) for lap in row.laps]
    spans = [span for lap in row.laps for span in lap]
    for number, (start, end) in enumerate(leg for lap in laps for leg in lap):
        if end <= start:
            problem = "the run ends before it begins"
            if spans and spans[number].how == "lap":
                problem = f"lap {spans[number].start:.0f} of {ride.recording.source} has no length"
            raise InputError(place, problem, "check its laps, or 'from' and 'to'")
    if row.by_line and known is None:
        laps = _within_line(place, row, ride, (laps[0][0][0], laps[-1][-1][1]))
    elif row.parts > 1:
        if len(laps[0]) > 1:
            problem = "a way there and back cannot be cut into laps"
            raise InputError(place, problem, "give each pair a row, or use the laps of the device")
        laps = [*_parts(ride, laps[0][0], row.parts)]
    legs = [leg for lap in laps for leg in lap]
    start, end = legs[0][0], legs[-1][1]
    whole: LapLegs = ((start, end),)
    try:
        _refuse_pause(place, row, ride, legs)
        near = ride.cut(start, end)
        pieces = laps if row.parts == 1 or row.by_line else [whole]
        gaps = tuple(_gap(place, row, near, lap) for lap in pieces)
    except InputError as error:
        if not row.laps or row.laps[0][0].how != "clock":
            raise
        raise InputError(error.place, error.problem, error.remedy + _hint(ride, whole)) from error
    return CutRun(row, place, near, tuple(laps), gaps)


def _refuse_pause(place: str, row: SheetRun, ride: Signals, legs: Iterable[Leg]) -> None:
    """Refuse a run stated by its ends with a pause in it; a lap of the device is left out alone."""
    if all(ride.within(*leg).start == ride.within(*leg).stop for leg in legs):
        problem = f"{ride.recording.source} has no points in the run"
        raise InputError(place, problem, "check its beginning and end")
    stated = row.laps and row.laps[0][0].how != "lap"
    if stated and any(paused(ride, *leg) for leg in legs):
        problem = f"the rider stands for {PAUSE:.0f} s or more within the run"
        raise InputError(place, problem, "check its beginning and end")


def _hint(ride: Signals, ends: Sequence[Leg]) -> str:
    """By how many hours the clock of the sheet seems to be off inside a long recording."""
    [(start, end)] = ends

    def fits(hours: float) -> bool:
        one, other = start - 3600.0 * hours, end - 3600.0 * hours
        first, last = ride.time[0] - SLACK, ride.time[-1] + SLACK
        if not first <= one < other <= last or paused(ride, one, other):
            return False
        apart = ride.apart(one, other)
        return apart is not None and apart <= CLOSED

    return _off_by([hours for hours in HOURS if hours and fits(hours)])


def _off_by(hours: Sequence[float]) -> str:
    """What to add to a remedy: the smallest of the hours that fit, ahead and behind."""
    least = [one for one in hours if abs(one) == abs(hours[0])]
    flags = " or ".join(f'--clock "{one:g} h"' for one in least)
    return f"; off by {abs(least[0]):g} h? then add {flags}" if least else ""


def _leg(place: str, row: SheetRun, ride: Signals, span: Span, ahead: float) -> Leg:
    one = ride.recording
    if span.how == "lap":
        number = int(span.start)
        if not 1 <= number <= len(one.laps):
            held = f"has {len(one.laps)} laps" if one.laps else "has no laps"
            remedy = "name laps that are there, or give 'from' and 'to'"
            raise InputError(place, f"{one.source} {held}, so there is no lap {number}", remedy)
        lap = one.laps[number - 1]
        return _within(place, ride, lap.start, lap.end, f"lap {number}")
    if span.how == "distance":
        if span.end > ride.distance[-1]:
            problem = f"{one.source} is {ride.distance[-1] / 1000:.2f} km long, the run goes beyond"
            raise InputError(place, problem, "give distances from the start of the recording")
        covered = np.array([span.start, span.end])
        start, end = np.interp(covered, ride.distance, ride.time)
        return float(start), float(end)
    words = f"the run of '{row.item}'"
    if span.how == "elapsed":
        return _within(place, ride, one.time[0] + span.start, one.time[0] + span.end, words)
    return _by_clock(place, ride, span, ahead)


def _by_clock(place: str, ride: Signals, span: Span, ahead: float) -> Leg:
    one = ride.recording
    if not one.has_clock:
        problem = f"{one.source} has no time of day"
        raise InputError(place, problem, "head the columns 'from [min:s]' and 'to [min:s]'")
    # A date comes with its zone, a time of day is that of the clock the recording is written in.
    offset = ahead + (0.0 if span.start >= A_DAY else one.ahead)
    first, last = one.time[0] + offset, one.time[-1] + offset
    start, end = (_on_the_day(clock, first, last) for clock in (span.start, span.end))
    if first - SLACK <= start < end <= last + SLACK:
        return max(start, first) - offset, min(end, last) - offset
    shown, wrong = (
        " to ".join(show_duration(at % A_DAY) for at in ends)
        for ends in ((first, last), (start, end))
    )
    problem = f"{wrong} is not within {one.source}, whose clock runs from {shown}"
    hours = _hours_off(start, end, first, last)
    raise InputError(place, problem, "check the time" + _off_by([hours] if hours else []))


def _on_the_day(clock: float, first: float, last: float) -> float:
    """A time of day on the day of the recording, or on the next where it ran on [s]."""
    if clock >= A_DAY:
        return clock
    here = clock + A_DAY * float(np.floor(first / A_DAY))
    return here + (A_DAY if here < first - SLACK and here + A_DAY <= last + SLACK else 0.0)


HOURS = sorted((0.5 * half for half in range(-28, 29)), key=lambda one: (one % 1.0, abs(one), -one))
"""By which clocks are off, whole hours first; zones end at 14 h (from memory)."""


def _hours_off(start: float, end: float, first: float, last: float) -> float:
    """The fewest hours after which the run fits, 0 for none."""
    for hours in HOURS:
        moved = 3600.0 * hours
        if first - SLACK <= start - moved < end - moved <= last + SLACK:
            return hours
    return 0.0


def _within(place: str, ride: Signals, start: float, end: float, words: str) -> Leg:
    first, last = ride.time[0], ride.time[-1]
    if start < first - SLACK or end > last + SLACK:
        long = show_duration(last - first)
        problem = f"{words} is not within {ride.recording.source}, which is {long} long"
        raise InputError(place, problem, "check its beginning and end")
    return max(start, first), min(end, last)


def _parts(ride: Signals, leg: Leg, parts: int) -> Iterator[LapLegs]:
    """A stretch cut into laps of equal length."""
    covered = ride.at(np.array(leg), ride.distance)
    cuts = np.linspace(covered[0], covered[1], parts + 1)[1:-1]
    inner: list[float] = np.interp(cuts, ride.distance, ride.time).tolist()
    edges = [leg[0], *inner, leg[1]]
    for start, end in pairwise(edges):
        yield ((start, end),)


def _gap(place: str, row: SheetRun, ride: Signals, lap: LapLegs) -> float | None:
    """Distance between the ends of a lap that should meet [m]."""
    if row.rise is not None:
        return None
    pairs = [lap[0]] if len(lap) == 1 else [(lap[0][0], lap[1][1]), (lap[0][1], lap[1][0])]
    apart = [ride.apart(*pair) for pair in pairs]
    known = [one for one in apart if one is not None]
    if known and max(known) > max(CLOSED, FAR * length(ride, lap)):
        what = "the lap" if len(lap) == 1 else "the way there and back"
        problem = f"{what} does not close: its ends are {max(known):.0f} m apart"
        remedy = "name whole laps, or state the surveyed height of its end in 'rise [m]'"
        raise InputError(place, problem, remedy)
    return max(known, default=None)


def _refuse_overlaps(runs: Sequence[CutRun]) -> None:
    for one, other in combinations(runs, 2):
        if one.row.recording == other.row.recording:
            if _overlap(one, other):
                problem = f"the run overlaps that of {one.place}"
                raise InputError(other.place, problem, "give each run its own laps or times")
            continue
        files = f"{one.signals.recording.source} and {other.signals.recording.source}"
        if _same(one, other):
            problem = f"the same ride as in {one.place}, from another file: {files}"
            raise InputError(other.place, problem, "delete one of the rows")
        clocks = one.signals.recording.has_clock and other.signals.recording.has_clock
        if one.row.rider == other.row.rider and clocks and _overlap(one, other):
            problem = f"ridden at the same time as the run of {one.place}, by their clocks: {files}"
            raise InputError(other.place, problem, "is it the same ride, or is a clock off?")


ONE_DAY = 43_200.0
"""Time between runs from which they are of two days [s]; our choice."""


def _refuse_days(runs: Sequence[CutRun]) -> None:
    """Refuse a session over two days: the air and what is mounted are no longer the same."""
    first: dict[tuple[str, str], CutRun] = {}
    for run in (one for one in runs if one.signals.recording.has_clock):
        begun = first.setdefault((run.row.sitting, run.row.rider), run)
        if abs(run.start - begun.start) > ONE_DAY:
            days = (
                datetime.fromtimestamp(one.start, UTC).strftime("%d %B %Y").lstrip("0")
                for one in (run, begun)
            )
            problem = "ridden on {}, the run of {place} on {}".format(*days, place=begun.place)
            remedy = "give each day its own 'session', or set the clock of the recording right"
            raise InputError(run.place, problem, remedy)


def _overlap(one: CutRun, other: CutRun) -> bool:
    # A button of the device ends one lap and begins the next.
    return any(a[0] < b[1] - 0.5 and b[0] < a[1] - 0.5 for a in one.legs for b in other.legs)


def _same(one: CutRun, other: CutRun) -> bool:
    """Whether two runs hold the same power, second by second."""
    first, second = (
        run.signals.power[run.signals.within(run.start, run.end)] for run in (one, other)
    )
    shorter = min(len(first), len(second))
    if shorter < 60:
        return False
    middle: FloatArray = first[:shorter][5:45]
    stretches = np.lib.stride_tricks.sliding_window_view(second, len(middle))
    return bool(np.any(np.all(stretches == middle, axis=1)))


def _refuse_other_laps(runs: Sequence[CutRun]) -> None:
    """Refuse a lap of another length than the laps of its session: mostly a wrong number."""
    lengths: dict[tuple[str, str, int], list[tuple[CutRun, int, float]]] = {}
    for run in runs:
        for number, lap in enumerate(run.laps, 1):
            for leg, times in enumerate(lap):
                key = run.row.sitting, run.row.rider, leg + 10 * len(lap)
                lengths.setdefault(key, []).append((run, number, run.signals.way(*times)))
    for group in lengths.values():
        usual = float(np.median([way for *_, way in group]))
        for run, number, way in group:
            if abs(way - usual) > OTHER_LAP * usual:
                problem = (
                    f"lap {number} of the run is {way / 1000:.2f} km long, the laps of its"
                    f" session {usual / 1000:.2f} km"
                )
                remedy = "is it another lap? laps of two courses need two sessions"
                raise InputError(run.place, problem, remedy)
