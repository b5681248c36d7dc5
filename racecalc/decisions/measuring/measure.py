"""A test day: the drag area of each run, its errors, and what to distrust."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import t_point
from racecalc.decisions.measuring.balance import (
    CrrFit,
    Energy,
    Setup,
    Sums,
    between,
    fit_crr,
    sums_of,
)
from racecalc.decisions.measuring.crossing import Leg, Loop, find_loop
from racecalc.decisions.measuring.cutting import CLOSED, CutRun, cut_runs
from racecalc.decisions.measuring.signals import AROUND_RUNS, SHOWN, Signals, signals_of, trace
from racecalc.decisions.measuring.unusual import (
    MAD,
    Fault,
    bridged_seconds,
    compare_places,
    faults_of,
)
from racecalc.decisions.verdicts import NORMAL_95
from racecalc.domain.race import Air, Wind
from racecalc.domain.run_sheet import RunSheet, SheetRun, Span
from racecalc.errors import InputError
from racecalc.files.recordings import Wanted, read_recording
from racecalc.physics.air import density_along, rider_wind_speed, wind_components, yaw_angle
from racecalc.quantities.measured import printable
from racecalc.written import HIDDEN

# --- What is asked, and what is found ------------------------------------------------------------


@dataclass(frozen=True)
class Doubts:
    """Standard uncertainties that all runs share; the defaults are our choice where no source."""

    power: float = 0.032
    """Share of the power: between 54 meters, Maier et al. 2017, Int J Sports Med 38:456-461."""
    speed: float = 0.003
    """Share of the speed, from the wheel size set."""
    density: float = 0.005
    """Share of the air density: 1 K and 3 hPa."""
    crr: float = 0.10
    """Share of the rolling resistance."""
    efficiency: float = 0.005
    """Of the share of power that reaches the road."""
    mass: float = 0.5
    """Of all that rolls [kg]."""
    lap: float = 0.001
    """Share of the length of a lap: the line ridden is not the one measured."""


@dataclass(frozen=True)
class Asked:
    """What a test day is measured with."""

    sheet: RunSheet
    setup: Setup
    air: Air | None = None
    """Where the sheet states none; at its own altitude."""
    wanted: Wanted = field(default_factory=Wanted)
    """Fields of the sensors."""
    ahead: float | None = None
    """How far the clock of the sheet is ahead of that of the recordings [s]."""
    lap_length: float | None = None
    """Length of a lap, or of a way there and back, as measured on the road [m]."""
    keep: bool = False
    """Whether laps stay in that differ from the others at one place."""
    doubts: Doubts = Doubts()
    find_crr: bool = False
    """Whether Crr is found together with the drag areas."""
    fit_wheel: bool = False
    """Whether the wheel size is found from the length of a lap."""
    loop: Loop | None = None
    """Of an ordinary ride, not of a test."""


@dataclass(frozen=True)
class MeasuredLap:
    """One lap, or one way there and back."""

    lap: int
    """In its run, from 1."""
    cda_m2: float
    """Drag area of the lap alone [m^2]."""
    duration_s: float
    power_w: float
    """Its length [s] and mean power at the meter [W]."""
    left_out: str
    """Why it does not count; empty where it does."""


@dataclass(frozen=True)
class MeasuredRun:
    """One run."""

    item: str
    session: str
    order: str
    rider: str
    day: str
    """As in the sheet."""
    recording: str
    """Its file."""
    cda_m2: float
    """Drag area: work against the air over that for 1 m^2, of all laps that count [m^2]."""
    standard_error_m2: float | None
    """By the scatter of laps within the runs of its session, or by that of the runs where it is
    more and either proved so or told by a sensor of the air speed [m^2]; None where neither is
    known.
    """
    power_w: float
    """Mean power at the meter [W]."""
    speed_m_s: float
    """Cube root of the mean cube of the speed [m/s]."""
    density_kg_m3: float
    """Of the air [kg/m^3]."""
    wind_m_s: float | None
    """At the rider, as stated [m/s]; None where not stated."""
    yaw_deg: float | None
    """Mean size of the yaw, by the stated wind or the sensor [deg]; None where not known."""
    left_out_s: float
    """Riding time of the laps left out [s]."""
    bridged_s: float
    """Seconds without power or speed that were bridged from those next to them [s]."""
    air_share: float
    rolling_share: float
    """Shares of the work at the road that went against the air and into tyres and bearings."""
    laps: tuple[MeasuredLap, ...]
    """In order."""
    excluded: str
    """Why the run does not count; empty where it does."""
    note: str
    """The tester's own words."""
    distrust: tuple[str, ...]
    """What may make it wrong, in sentences."""
    energy: Annotated[Energy, HIDDEN]
    place: Annotated[str, HIDDEN]
    line: Annotated[int, HIDDEN]
    """Of the sheet."""

    @property
    def sitting(self) -> str:
        """Session and day."""
        return ", ".join(filter(None, (self.day, self.session)))

    @property
    def counted(self) -> int:
        """Laps that count."""
        return sum(not lap.left_out for lap in self.laps)

    def within_95_m2(self, sessions: Iterable["SessionScatter"]) -> tuple[float, float] | None:
        """The 95 % interval of the drag area by the scatter of its session [m^2]; None if unknown.

        By Student's t; what all runs share is not in it.
        """
        half = self._half(sessions)
        return None if half is None else (self.cda_m2 - half, self.cda_m2 + half)

    def absolute_95_m2(self, day: "TestDay") -> tuple[float, float] | None:
        """The same with what all runs share added in square [m^2]."""
        half = self._half(day.sessions)
        if half is None:
            return None
        whole = float(np.hypot(half, NORMAL_95 * day.shared_share * self.cda_m2))
        return self.cda_m2 - whole, self.cda_m2 + whole

    def _half(self, sessions: Iterable["SessionScatter"]) -> float | None:
        own = next(
            (one for one in sessions if (one.session, one.rider) == (self.sitting, self.rider)),
            None,
        )
        if own is None or not own.df or self.standard_error_m2 is None:
            return None
        return t_point(own.df, 0.975) * self.standard_error_m2


@dataclass(frozen=True)
class SessionScatter:
    """How far runs of one item differ in a session, next to what their laps foretell."""

    session: str
    """With its day where the sheet names both."""
    rider: str
    lap_error_m2: float | None
    """Root mean square of the standard errors by laps [m^2]."""
    lap_df: int
    """Laps behind it, less one for each run."""
    run_sd_m2: float | None
    """Standard deviation of runs of one item [m^2]; None without two of any."""
    run_df: int
    """Runs behind it, less one for each item."""
    more_than_laps: bool
    """Whether runs differ more than their laps foretell (F test at 5 %)."""
    place_scatter_j: float | None
    """Energy at the same 100 m of road that differs from lap to lap [J]; None with few laps."""
    air_speed_factor: float | None
    """What a sensor of the air speed reads over the true air speed; None without one."""
    sensed_wind_m_s: float | None = None
    """Wind that it met: root mean square of the head wind, for all directions alike [m/s]."""

    @property
    def df(self) -> int:
        """Degrees of freedom of the standard errors of its runs."""
        sensed = self.air_speed_factor is not None
        return self.run_df if self.more_than_laps or (sensed and self.run_df) else self.lap_df


@dataclass(frozen=True)
class Shared:
    """A doubt that all runs share."""

    what: str
    """Of what."""
    doubt: str
    """How much of it is taken, in words."""
    share: float
    """Share of the drag area that it means, one standard uncertainty."""


@dataclass(frozen=True)
class Marked:
    """A run or a lap in a picture."""

    order: str
    start_min: float
    end_min: float
    """[min]."""
    left_out: bool


@dataclass(frozen=True, eq=False)
class Picture:
    """The recordings of a session end to end, with their runs marked; arrays of shape (n,)."""

    session: str
    minutes: FloatArray
    """Since the beginning, without what lies between two recordings [min]."""
    power: FloatArray
    """[W]."""
    speed: FloatArray
    """[m/s]."""
    runs: tuple[Marked, ...]
    laps_out: tuple[Marked, ...]
    """Laps that are left out."""


@dataclass(frozen=True)
class TestDay:
    """All runs of a test day."""

    __test__ = False
    source: str
    """The sheet, as the user gave it."""
    runs: tuple[MeasuredRun, ...]
    """In the order of the sheet."""
    sessions: tuple[SessionScatter, ...]
    """Scatter by session and rider."""
    shared: tuple[Shared, ...]
    """What all runs share: it moves every drag area alike, and hardly a difference of two items."""
    shared_share: float
    """Root of the sum of their squares."""
    distrust: tuple[str, ...]
    """What may make the day wrong, in sentences."""
    heading: Annotated[tuple[str, ...], HIDDEN]
    pictures: Annotated[tuple[Picture, ...], HIDDEN] = ()
    """One a session."""
    crr: CrrFit | None = None
    """Where it was asked for."""
    wheel: float | None = None
    """How often the true wheel size goes into the one that was set, where it was asked for."""
    loop: Annotated[Loop | None, HIDDEN] = None
    """Of an ordinary ride, not of a test."""


# --- From a sheet to its runs --------------------------------------------------------------------

POSSIBLE = (0.1, 0.8)
"""Drag areas that a rider on a bicycle can have [m^2]; common practice, no source."""

LEAST_SPEED = 7.0
"""Speed above which an air speed is compared with that over the ground [m/s]; our choice."""


def measure(asked: Asked, rides: Mapping[Path, Signals]) -> TestDay:
    """Measure all runs of a sheet in its recordings.

    Raises
    ------
    InputError
        If a run cannot be measured; it names the run.
    """
    wheel = _wheel(asked, _measured(asked, rides)) if asked.fit_wheel else None
    if wheel is not None:
        rides = {path: ride.slowed(wheel) for path, ride in rides.items()}
        asked = replace(asked, doubts=replace(asked.doubts, speed=asked.doubts.lap))
    crr = _crr(asked, _measured(asked, rides)) if asked.find_crr else None
    if crr is not None:
        share = crr.standard_error / crr.crr
        doubts = replace(asked.doubts, crr=share)
        asked = replace(asked, setup=replace(asked.setup, crr=crr.crr), doubts=doubts)
    return replace(_measured(asked, rides), crr=crr, wheel=wheel)


def _wheel(asked: Asked, day: TestDay) -> float:
    """Wheel size set over the true one."""
    if asked.lap_length is None:
        problem = "the length of a lap is not stated"
        raise InputError("--fit-wheel", problem, "add --lap-length")
    good = [run for run in day.runs if not run.excluded] or day.runs
    laps = sum(run.counted for run in good)
    return sum(run.energy.distance for run in good) / laps / asked.lap_length


LEAST_EFFORTS = 1.5
"""Ratio of the squared speeds of the fastest and slowest run of an item from which rolling and air
can be told apart; our choice: in simulated rides in a light wind Crr is then good to a seventh."""

CRR_RANGE = (0.0015, 0.015)
"""Of a bicycle on a road or track; common practice, no source."""

CRR_PER_WIND = 7e-5
"""What still air taken for a wind does to a fitted Crr, for its square [s^2/m^2]; from simulated
rides."""


def _crr(asked: Asked, day: TestDay) -> CrrFit:
    """Crr by all runs that count, its error with that of the wind."""
    good = [run for run in day.runs if not run.excluded]
    by_item: dict[tuple[str, str], list[float]] = {}
    for run in good:
        by_item.setdefault((run.rider, run.item), []).append(run.speed_m_s**2)
    ratio = max((max(one) / min(one) for one in by_item.values()), default=1.0)
    if ratio < LEAST_EFFORTS:
        problem = (
            f"Crr cannot be told from CdA: the fastest run of an item has {ratio:.2f} times the"
            f" squared speed of its slowest, {LEAST_EFFORTS} are needed"
        )
        raise InputError("--find-crr", problem, "ride each item at two efforts, as 130 and 300 W")
    found = fit_crr(
        [run.energy for run in good], [(run.rider, run.item) for run in good], asked.setup.crr
    )
    if found is None:
        problem = f"{len(good)} runs are too few for Crr and {len(by_item)} drag areas"
        raise InputError("--find-crr", problem, "ride each item twice at each effort")
    if not CRR_RANGE[0] <= found.crr <= CRR_RANGE[1]:
        problem = f"Crr comes out as {found.crr:.4f}, which no tyre has"
        raise InputError("--find-crr", problem, "ride when it is calmer, at efforts further apart")
    wind = max((wind_told_by(one.place_scatter_j) or 0.0 for one in day.sessions), default=0.0)
    return replace(
        found, standard_error=float(np.hypot(found.standard_error, CRR_PER_WIND * wind**2))
    )


def _measured(asked: Asked, rides: Mapping[Path, Signals]) -> TestDay:
    cuts = cut_runs(asked.sheet, rides, asked.ahead)
    groups: dict[tuple[str, str], list[int]] = {}
    for number, run in enumerate(cuts):
        groups.setdefault((run.row.sitting, run.row.rider), []).append(number)
    found: dict[int, MeasuredRun] = {}
    sessions = []
    for (session, rider), numbers in groups.items():
        runs, scatter = _session(asked, [cuts[number] for number in numbers])
        found |= dict(zip(numbers, runs, strict=True))
        sessions.append(replace(scatter, session=session, rider=rider))
    every = tuple(found[number] for number in range(len(cuts)))
    if asked.loop and every[0].excluded:
        raise InputError(asked.sheet.source, every[0].excluded, "a ride without that is needed")
    shared = tuple(_shared(asked, every, sessions))
    return TestDay(
        source=asked.sheet.source,
        runs=every,
        sessions=tuple(sessions),
        shared=shared,
        shared_share=float(np.sqrt(sum(one.share**2 for one in shared))),
        distrust=tuple(_day_notes(asked, every, sessions, rides)),
        heading=asked.sheet.heading,
        pictures=tuple(_pictures(cuts, every, rides)),
        loop=asked.loop,
    )


def _pictures(
    cuts: Sequence[CutRun], runs: Sequence[MeasuredRun], rides: Mapping[Path, Signals]
) -> Iterator[Picture]:
    for session in dict.fromkeys(run.sitting for run in runs):
        own = [pair for pair in zip(cuts, runs, strict=True) if pair[1].sitting == session]
        begun, parts, marks = 0.0, [], []
        for path in dict.fromkeys(cut.row.recording for cut, _ in own):
            here = [pair for pair in own if pair[0].row.recording == path]
            ride = rides[path]
            start = max(min(cut.start for cut, _ in here) - AROUND_RUNS, float(ride.time[0]))
            end = min(max(cut.end for cut, _ in here) + AROUND_RUNS, float(ride.time[-1]))
            parts.append((ride, start, end))
            marks += [(cut, run, begun - start) for cut, run in here]
            begun += end - start
        each = [max(2, round(SHOWN * (end - start) / begun)) for _, start, end in parts]
        steps = [(end - start) / n for (_, start, end), n in zip(parts, each, strict=True)]
        drawn = [trace(*part, n) for part, n in zip(parts, each, strict=True)]
        yield Picture(
            session,
            np.cumsum(np.repeat(steps, each)) / 60.0,
            np.concatenate([power for power, _ in drawn]),
            np.concatenate([speed for _, speed in drawn]),
            tuple(
                _marked(run.order, cut.start, cut.end, off, bool(run.excluded))
                for cut, run, off in marks
            ),
            tuple(
                _marked(run.order, legs[0][0], legs[-1][1], off, True)
                for cut, run, off in marks
                for legs, lap in zip(cut.laps, run.laps, strict=True)
                if lap.left_out or run.excluded
            ),
        )


def _marked(order: str, start: float, end: float, off: float, out: bool) -> Marked:
    return Marked(order, (start + off) / 60.0, (end + off) / 60.0, out)


def sheet_of_ride(ride: Signals, wind: Wind) -> tuple[RunSheet, Loop]:
    """An ordinary ride as a sheet of one run: the laps of the loop in it.

    Raises
    ------
    InputError
        If no loop can be used, with the reason.
    """
    one = ride.recording
    loop = find_loop(ride)
    if loop is None:
        problem = "no closed loop is ridden twice in it, so slopes do not cancel"
        raise InputError(one.source, problem, "ride laps, or there and back with a sheet")
    if len(loop.laps) < 2:
        problem = (
            f"of its {loop.ridden} laps of {loop.length / 1000:.1f} km {len(loop.laps)} can be"
            f" used, two are needed: {loop.because}"
        )
        raise InputError(one.source, problem, "ride a loop without brakes and stops")
    first = float(ride.time[0])
    spans = tuple((Span("elapsed", a - first, b - first),) for a, b in loop.laps)
    run = SheetRun(
        line=1, item="the ride", session="", order="1", rider="", day="",
        recording=Path(one.source), laps=spans, parts=1, rise=None, mass=None, air=None,
        temperature=None, wind=wind, wind_from_known=False, note="", excluded="",
    )  # fmt: skip
    return RunSheet(one.source, (run,)), loop


def rides_of(asked: Asked) -> dict[Path, Signals]:
    """Read the recordings of a sheet.

    Raises
    ------
    InputError
        If one cannot be read or lacks what is needed; it names the first run in it.
    """
    found: dict[Path, Signals] = {}
    for row in asked.sheet.runs:
        if row.recording not in found:
            try:
                found[row.recording] = signals_of(read_recording(row.recording, asked.wanted))
            except InputError as error:
                raise error.at(asked.sheet.place(row)) from error
    return found


def _session(asked: Asked, cuts: Sequence[CutRun]) -> tuple[list[MeasuredRun], SessionScatter]:
    factor = _air_speed_factor(cuts)
    densities = [_density(asked, run) for run in cuts]
    sums = [
        _sums(asked, run, density, factor) for run, density in zip(cuts, densities, strict=True)
    ]
    laps = [
        [_lap(total, run, lap) for lap in range(len(run.laps))]
        for run, total in zip(cuts, sums, strict=True)
    ]
    faults = [fault for number, run in enumerate(cuts) for fault in faults_of(number, run)]
    bad = {(one.run, one.lap) for one in faults}
    sound = {
        (number, lap): one.cda
        for number, row in enumerate(laps)
        for lap, one in enumerate(row)
        if (number, lap) not in bad
    }
    places = compare_places(cuts, sums, sound)
    unlike = [] if asked.keep else [*places.faults]
    known = {(one.run, one.lap): one for one in (*unlike, *faults)}
    counted = _counted(laps, known)
    variance, df = _lap_variance(laps, counted)
    runs = [
        _run(run, density, total, laps[number], _why(known, number), counted[number], variance)
        for number, (run, density, total) in enumerate(zip(cuts, densities, sums, strict=True))
    ]
    if asked.keep:
        runs = [_with_kept(run, number, places.faults) for number, run in enumerate(runs)]
    scatter = _scatter(runs, df, places.scatter, factor)
    if factor is not None:
        scatter = replace(scatter, sensed_wind_m_s=_sensed_wind(cuts, factor))
    if factor is not None or scatter.more_than_laps:
        runs = [replace(run, standard_error_m2=_larger(run, scatter)) for run in runs]
    return runs, scatter


def _larger(run: MeasuredRun, scatter: SessionScatter) -> float | None:
    """Standard error of a run whose laps may tell too little of it [m^2]."""
    known = [run.standard_error_m2, scatter.run_sd_m2]
    return max((one for one in known if one is not None), default=None)


def _sensed_wind(cuts: Sequence[CutRun], factor: float) -> float:
    """Wind whose head wind, from every direction alike, has the mean square that was met [m/s]."""
    squares = [
        np.square(_air_at(run, factor)[0][run.signals.within(run.start, run.end)]) for run in cuts
    ]
    return float(np.sqrt(2.0 * np.mean(np.concatenate(squares))))


def _counted(
    laps: Sequence[Sequence[Energy]], faults: Mapping[tuple[int, int], Fault]
) -> list[list[int]]:
    """Laps that count, of each run; all where none does, as the run is left out then."""
    good = [
        [lap for lap in range(len(row)) if (number, lap) not in faults]
        for number, row in enumerate(laps)
    ]
    return [one or [*range(len(row))] for one, row in zip(good, laps, strict=True)]


def _density(asked: Asked, run: CutRun) -> float:
    air, stated = run.row.air, run.row.temperature
    if air is None and asked.air is not None:
        air = asked.air
        if stated is not None and air.density is None:
            humid = air.dew_point is None or air.dew_point <= stated
            air = replace(air, temperature=stated, dew_point=air.dew_point if humid else stated)
    if air is None:
        problem = "the air of the run is not known"
        remedy = "add 'temperature [degC]' and 'pressure [hPa]', or name a race file with its air"
        raise InputError(run.place, problem, remedy)
    return float(density_along(air, np.asarray(air.altitude)))


def _sums(asked: Asked, run: CutRun, density: float, factor: float | None) -> Sums:
    setup = asked.setup
    if run.row.mass is not None:
        setup = replace(setup, mass=run.row.mass)
    return sums_of(run.signals, setup, density, *_air_at(run, factor))


def _air_at(run: CutRun, factor: float | None) -> tuple[FloatArray, FloatArray]:
    """Head and cross wind at each point [m/s]: by the sensor, as stated, or none."""
    signals, one = run.signals, run.signals.recording
    calm = np.zeros_like(signals.speed)
    if factor is not None and one.air_speed is not None:
        reading = np.where(np.isfinite(one.air_speed), one.air_speed, factor * signals.speed)
        ahead = reading / factor
        yaw = calm if one.yaw is None else np.nan_to_num(one.yaw)
        return ahead - signals.speed, ahead * np.tan(np.clip(yaw, -1.0, 1.0))
    if run.row.wind is None or not run.row.wind_from_known or signals.travel is None:
        return calm, calm
    return wind_components(rider_wind_speed(run.row.wind), run.row.wind.direction, signals.travel)


def _air_speed_factor(cuts: Sequence[CutRun]) -> float | None:
    """What the sensor reads over the speed, weighted by distance over all laps of a session.

    Over a way that closes a steady wind adds nothing to the air speed summed over the distance.
    """
    read = ridden = 0.0
    for run in cuts:
        signals, sensor = run.signals, run.signals.recording.air_speed
        if sensor is None:
            return None
        for leg in run.legs:
            inside = signals.within(*leg)
            speed, air = signals.speed[inside], sensor[inside]
            fast = (speed > LEAST_SPEED) & np.isfinite(air)
            read += float(np.sum(air[fast] * speed[fast]))
            ridden += float(np.sum(speed[fast] ** 2))
    if not read > 0:
        place = cuts[0].place
        raise InputError(place, "the air speed is missing or 0 throughout", "check --air-speed")
    return read / ridden


def _lap(sums: Sums, run: CutRun, lap: int) -> Energy:
    legs = run.laps[lap]
    first, *more = (between(sums, np.array(leg), run.row.rise or 0.0)[0] for leg in legs)
    return first.plus(more[0]) if more else first


def _lap_variance(
    laps: Sequence[Sequence[Energy]], counted: Sequence[Sequence[int]]
) -> tuple[float | None, int]:
    """Variance of the work of a lap that its run leaves, for 1 J/m^2, and its degrees of freedom.

    That of a sum over more road grows with the road, so the square of what is left is taken over
    the work for 1 m^2; all runs of a session tell of one variance, as all had the same air.
    """
    square, df = 0.0, 0
    for row, kept in zip(laps, counted, strict=True):
        cda = _total(row, kept).cda
        square += sum(
            (row[lap].against_air - cda * row[lap].push) ** 2 / row[lap].push
            for lap in kept
            if row[lap].push > 0
        )
        df += len(kept) - 1
    return (square / df if df else None), df


def _total(laps: Sequence[Energy], kept: Iterable[int]) -> Energy:
    first, *more = (laps[lap] for lap in kept)
    for one in more:
        first = first.plus(one)
    return first


def _why(faults: Mapping[tuple[int, int], Fault], number: int) -> dict[int, str]:
    """Why laps of a run are left out."""
    return {lap: one.because for (of, lap), one in faults.items() if of == number}


def _run(
    run: CutRun,
    density: float,
    sums: Sums,
    laps: Sequence[Energy],
    why: Mapping[int, str],
    kept: Sequence[int],
    variance: float | None,
) -> MeasuredRun:
    whole, row = _total(laps, kept), run.row
    _refuse_impossible(run, whole, sums.setup)
    legs = [leg for lap in kept for leg in run.laps[lap]]
    speed = np.concatenate([run.signals.speed[run.signals.within(*leg)] for leg in legs])
    excluded = row.excluded
    if len(why) == len(laps):
        excluded = excluded or f"every lap is left out: {why[0]}"
    wind = None if row.wind is None else rider_wind_speed(row.wind)
    return MeasuredRun(
        item=row.item,
        session=row.session,
        order=row.order,
        rider=row.rider,
        day=row.day,
        recording=run.signals.recording.source,
        cda_m2=whole.cda,
        standard_error_m2=None if variance is None else float(np.sqrt(variance / whole.push)),
        power_w=whole.work / whole.seconds,
        speed_m_s=float(np.cbrt(np.mean(speed**3))),
        density_kg_m3=density,
        wind_m_s=wind,
        yaw_deg=_yaw(run, sums),
        left_out_s=sum(laps[lap].seconds for lap in why),
        bridged_s=sum(bridged_seconds(run.signals, leg) for leg in legs),
        air_share=whole.against_air / whole.driven,
        rolling_share=(whole.rolling + whole.bearings) / whole.driven,
        laps=tuple(
            MeasuredLap(lap + 1, one.cda, one.seconds, one.work / one.seconds, why.get(lap, ""))
            for lap, one in enumerate(laps)
        ),
        excluded=excluded,
        note=row.note,
        distrust=tuple(_run_notes(run, legs, len(kept))),
        energy=whole,
        place=run.place,
        line=row.line,
    )


def _refuse_impossible(run: CutRun, whole: Energy, setup: Setup) -> None:
    if POSSIBLE[0] <= whole.cda <= POSSIBLE[1]:
        return
    powers = [part / whole.seconds for part in (whole.work, whole.rolling, whole.against_air)]
    raise InputError(
        run.place,
        f"its drag area comes out as {whole.cda:.3f} m^2, which no rider has: of"
        f" {powers[0]:.0f} W at {3.6 * whole.distance / whole.seconds:.1f} km/h the tyres take"
        f" {powers[1]:.0f} W with {setup.mass:.4g} kg and Crr {setup.crr:g}, which leaves"
        f" {powers[2]:.0f} W for the air",
        "check mass, Crr, power and speed",
    )


def _yaw(run: CutRun, sums: Sums) -> float | None:
    one, row = run.signals.recording, run.row
    inside = run.signals.within(run.start, run.end)
    if one.yaw is not None:
        return float(np.degrees(np.nanmean(np.abs(one.yaw[inside]))))
    if row.wind is None or not row.wind_from_known or run.signals.travel is None:
        return None
    head, cross = wind_components(
        rider_wind_speed(row.wind), row.wind.direction, run.signals.travel
    )
    yaw = yaw_angle(sums.signals.speed, head, cross)
    return float(np.degrees(np.mean(np.abs(yaw[inside]))))


def _with_kept(run: MeasuredRun, number: int, faults: Iterable[Fault]) -> MeasuredRun:
    said = [f"Lap {one.lap + 1} is kept: {one.because}." for one in faults if one.run == number]
    return replace(run, distrust=(*run.distrust, *said))


# --- Scatter, and what all runs share ------------------------------------------------------------


def _scatter(
    runs: Sequence[MeasuredRun], lap_df: int, places: float | None, factor: float | None
) -> SessionScatter:
    good = [run for run in runs if not run.excluded]
    errors = [run.standard_error_m2 for run in good if run.standard_error_m2 is not None]
    by_item: dict[str, list[MeasuredRun]] = {}
    for run in good:
        by_item.setdefault(run.item, []).append(run)
    square, against, df = 0.0, 0.0, 0
    for same in by_item.values():
        middle = float(np.mean([run.cda_m2 for run in same]))
        square += sum((run.cda_m2 - middle) ** 2 for run in same)
        against += sum(
            ((run.cda_m2 - middle) / run.standard_error_m2) ** 2
            for run in same
            if run.standard_error_m2
        )
        df += len(same) - 1
    more = bool(lap_df and df) and _exceeds(against / max(df, 1), df, lap_df)
    return SessionScatter(
        session="",
        rider="",
        lap_error_m2=float(np.sqrt(np.mean(np.square(errors)))) if errors else None,
        lap_df=lap_df,
        run_sd_m2=float(np.sqrt(square / df)) if df else None,
        run_df=df,
        more_than_laps=more,
        place_scatter_j=places,
        air_speed_factor=factor,
    )


def _exceeds(ratio: float, df: int, other: int) -> bool:
    """Whether a ratio of variances is more than chance (F test, one-sided, 5 %)."""
    from scipy.special import fdtrc

    return bool(fdtrc(df, other, ratio) < 0.05)


WIND_BIAS = 0.3
"""Share of the squared ratio of wind to speed by which still air taken for a wind makes the drag
area of a closed way too large, on average over directions: the mean of (v + W cos)^2 + (W sin)^2 is
v^2 + W^2 at even speed, and less at even power, as the rider slows down against the wind. Our
choice, from simulated rides."""

PLACE_NOISE, PLACE_PER_WIND = 39.0, 90.0
"""Scatter of the energy at the same 100 m of road from lap to lap in still air [J], and what each
m/s of wind adds in squares [J s/m]; from simulated rides with gusts of 29 % of the wind."""


def wind_told_by(places: float | None) -> float | None:
    """Wind at the rider that the scatter at the same place tells of [m/s]; rough."""
    if places is None:
        return None
    return float(np.sqrt(max(places**2 - PLACE_NOISE**2, 0.0)) / PLACE_PER_WIND)


def _shared(
    asked: Asked, runs: Sequence[MeasuredRun], sessions: Sequence[SessionScatter]
) -> Iterator[Shared]:
    """Doubts that move all runs alike, each by what a change of it does to the energy balance."""
    doubts, setup = asked.doubts, asked.setup
    good = [run.energy for run in runs if not run.excluded] or [run.energy for run in runs]
    whole = _total(good, range(len(good)))
    driven, rolling = (part / whole.against_air for part in (whole.driven, whole.rolling))
    crr = Shared("Crr", f"{100 * doubts.crr:.0f} %", rolling * doubts.crr)
    mass = (whole.rolling + whole.kinetic + whole.height) / whole.against_air / setup.mass
    if asked.find_crr:  # a Crr that is found takes its share of what is wrong with the power
        driven, mass = driven - rolling, mass - rolling / setup.mass
        rolling = 0.0
    yield Shared("power", f"{100 * doubts.power:.1f} %", driven * doubts.power)
    loss = doubts.efficiency / setup.efficiency
    yield Shared("drivetrain loss", f"{100 * doubts.efficiency:.1f} points", driven * loss)
    yield Shared("wheel size", f"{100 * doubts.speed:.1f} %", (3.0 + rolling) * doubts.speed)
    yield crr
    yield Shared("air density", f"{100 * doubts.density:.1f} %", doubts.density)
    yield Shared("mass", f"{doubts.mass:g} kg", abs(mass) * doubts.mass)
    yield from _shared_wind(runs, sessions, whole.distance / whole.seconds)
    wind = max((run.wind_m_s or 0.0 for run in runs), default=0.0)
    if asked.loop and wind:
        yield Shared("shelter on the loop", f"in {wind:.1f} m/s of wind", SHELTER_PER_WIND * wind)


SHELTER_PER_WIND = 0.027
"""Share by which a drag area is off on a loop of which a third has 60 % less wind, for each m/s
[s/m]; from simulated rides."""

SCALE_PER_WIND = 0.002
"""Share by which the scale of an air-speed sensor found over laps is off, for each m/s of wind
[s/m]; from simulated rides."""


def _shared_wind(
    runs: Sequence[MeasuredRun], sessions: Sequence[SessionScatter], speed: float
) -> Iterator[Shared]:
    """What the wind, stated, sensed or told by the scatter, may have moved in all runs."""
    sensed = [one.sensed_wind_m_s for one in sessions if one.sensed_wind_m_s is not None]
    told = [wind_told_by(one.place_scatter_j) for one in sessions if one.sensed_wind_m_s is None]
    stated = [run.wind_m_s for run in runs]
    wind = max((one for one in (*sensed, *told, *stated) if one), default=0.0)
    if wind:
        yield Shared("wind", f"{wind:.1f} m/s", WIND_BIAS * (wind / speed) ** 2)
    if sensed:
        scale = SCALE_PER_WIND * max(sensed)
        yield Shared("scale of the air speed", f"{100 * scale:.2f} %", 2.0 * scale)


# --- What to distrust ----------------------------------------------------------------------------


def _run_notes(run: CutRun, legs: Sequence[Leg], kept: int) -> Iterator[str]:
    signals = run.signals
    bridged = sum(bridged_seconds(signals, leg) for leg in legs)
    if bridged:
        yield f"{bridged:.0f} s without power or speed are bridged from the seconds next to them."
    inside = np.concatenate([np.arange(*signals.within(*leg).indices(10**9)) for leg in legs])
    still = float(np.mean(signals.power[inside] == 0))
    if still > 0.05:
        yield f"Freewheeling for {100 * still:.0f} % of the time: resting legs have another drag."
    step = float(np.median(np.diff(signals.time)))
    if step > 1.5:
        yield f"Recorded only every {step:.0f} s."
    yield from _signal_notes(signals, legs)
    yield from _speed_notes(signals, legs)
    yield from _closing_notes(run)
    if kept < 2:
        yield "One lap alone: laps cannot show its scatter."


def _speed_notes(signals: Signals, legs: Sequence[Leg]) -> Iterator[str]:
    if signals.speed_from == "positions":
        yield "The speed is taken from positions, which is coarse."
    other = signals.recording.distance
    if other is not None and signals.speed_from == "speed":
        by_speed, by_distance = (
            sum(float(np.diff(signals.at(np.array(leg), column))[0]) for leg in legs)
            for column in (signals.distance, other)
        )
        off = abs(by_speed / by_distance - 1.0) if by_distance > 0 else 1.0
        if off > 0.005:
            yield f"Speed and distance of the recording differ by {100 * off:.1f} %."
    ends = np.array([legs[0][0], legs[-1][1]])
    change = abs(float(np.diff(signals.at(ends, signals.speed))[0]))
    if change > 1.0:
        yield f"Its speed changes by {change:.1f} m/s from beginning to end."


HUNG = 10.0
"""Seconds for which a power or speed that does not change at all seems to hang; our choice."""

COARSE = 0.1
"""Noise of the speed from which it is coarse [m/s]; our choice: a wheel sensor has some 0.03, a
satellite receiver some 0.2."""


def _signal_notes(signals: Signals, legs: Sequence[Leg]) -> Iterator[str]:
    """What the signals of a run look like."""
    rows = [signals.within(*leg) for leg in legs]
    steps = np.diff(signals.time, prepend=signals.time[0])
    for name, values in (("power", signals.power), ("speed", signals.speed)):
        longest = max(_hanging(values[row], steps[row]) for row in rows)
        if longest > HUNG:
            yield f"Its {name} does not change for {longest:.0f} s: did the sensor hang?"
    bend = np.concatenate([np.diff(signals.speed[row], 2) for row in rows])
    noise = MAD * float(np.median(np.abs(bend))) / np.sqrt(6.0) if len(bend) else 0.0
    if noise > COARSE and signals.speed_from != "positions":
        yield f"Its speed jumps by {noise:.1f} m/s a point, as from satellites: use a wheel sensor."
    if signals.recording.cadence is None:
        lost = sum(_lost_seconds(signals, row) for row in rows)
        if lost:
            yield (
                f"Its power is 0 for {lost:.0f} s while the speed holds: lost power, or a descent;"
                " with a cadence it could be told."
            )


def _runs_of(flags: NDArray[np.bool_]) -> Iterator[slice]:
    """Where flags are true without a break."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False]))))
    yield from (slice(int(a), int(b)) for a, b in edges.reshape(-1, 2))


def _hanging(values: FloatArray, steps: FloatArray) -> float:
    """Longest time for which a value above zero does not change [s]."""
    same = (np.diff(values, prepend=np.nan) == 0) & (values > 0)
    return max((float(np.sum(steps[part])) for part in _runs_of(same)), default=0.0)


def _lost_seconds(signals: Signals, row: slice) -> float:
    """Time without power in which the speed hardly falls [s]; coasting takes more from it."""
    power, speed, time = (one[row] for one in (signals.power, signals.speed, signals.time))
    lost = 0.0
    for part in _runs_of(power == 0):
        seconds = float(time[part][-1] - time[part][0])
        if seconds >= LEAST_LOST and speed[part][0] - speed[part][-1] < COASTING * seconds:
            lost += seconds
    return lost


LEAST_LOST, COASTING = 3.0, 0.1
"""Shortest time without power that is looked at [s], and deceleration below which it is no coasting
on the level [m/s^2]; our choice: air and tyres slow a rider at 10 m/s by 0.25 m/s^2."""


def _closing_notes(run: CutRun) -> Iterator[str]:
    if run.row.rise is not None:
        yield "It rests on the stated rise."
        return
    known = [gap for gap in run.gaps if gap is not None]
    if not known:
        yield "Without positions it cannot be checked that its laps close."
    elif max(known) > CLOSED:
        yield f"The ends of a lap are {max(known):.0f} m apart."


def _day_notes(
    asked: Asked,
    runs: Sequence[MeasuredRun],
    sessions: Sequence[SessionScatter],
    rides: Mapping[Path, Signals],
) -> Iterator[str]:
    yield from _lap_length_notes(asked, runs)
    if asked.sheet.unused:
        yield f"Not used are the columns {', '.join(map(printable, asked.sheet.unused))}."
    if any(row.air is None for row in asked.sheet.runs):
        yield "The air of some runs is not that of the sheet but of the race file or flag."
    if any(one.wind is not None and not one.wind_from_known for one in asked.sheet.runs):
        yield "A wind without its direction is only counted among the doubts."
    for one in sessions:
        yield from _session_notes(one, [run for run in runs if _of(run, one)])
    for ride in rides.values():
        yield from (f"{ride.recording.source}: {note}" for note in ride.recording.notes)


def _of(run: MeasuredRun, session: SessionScatter) -> bool:
    return (run.sitting, run.rider) == (session.session, session.rider) and not run.excluded


OTHER_WHEEL, FITTED_WHEEL = 0.03, 0.10
"""Share by which a lap may be off the stated length, and where the wheel size is found from it; our
choice: tyres of one rim differ by 3 %, wheels of two kinds by 10 %."""


def _lap_length_notes(asked: Asked, runs: Sequence[MeasuredRun]) -> Iterator[str]:
    if asked.lap_length is None:
        return
    most = FITTED_WHEEL if asked.fit_wheel else OTHER_WHEEL
    for run in runs:
        ratio = run.energy.distance / run.counted / asked.lap_length if run.counted else 1.0
        if abs(ratio - 1.0) > most:
            problem = f"its laps are {100 * (ratio - 1):+.1f} % off the stated length"
            raise InputError(run.place, problem, "check --lap-length and the wheel size")
        if abs(ratio - 1.0) > 0.003:
            yield (
                f"Run {run.order} of {run.item}: by its speed a lap is {100 * (ratio - 1):+.1f} %"
                " longer than stated; each percent too long makes CdA some 3 % too small."
            )


def _session_notes(one: SessionScatter, runs: Sequence[MeasuredRun]) -> Iterator[str]:
    name = f"Session {one.session}: " if one.session else ""
    if one.more_than_laps:
        yield f"{name}runs differ more than their laps foretell: something changes from run to run."
    if one.place_scatter_j is not None and one.place_scatter_j > 150.0:
        wind = wind_told_by(one.place_scatter_j) or 0.0
        yield (
            f"{name}the same 100 m differ by {one.place_scatter_j:.0f} J from lap to lap, as in"
            f" {wind:.1f} m/s of wind at the rider or with a coarse speed: ride when it is calmer."
        )
    powers = {item: [r.power_w for r in runs if r.item == item] for item in _items(runs)}
    means = [float(np.mean(each)) for each in powers.values()]
    if means and max(means) > 1.05 * min(means):
        yield f"{name}items have different power, so a wrong Crr looks like a difference."
    if _unbalanced(runs):
        yield f"{name}the order does not balance the items: a drift looks like a difference."


def _items(runs: Sequence[MeasuredRun]) -> list[str]:
    return list(dict.fromkeys(run.item for run in runs))


def _unbalanced(runs: Sequence[MeasuredRun]) -> bool:
    """Whether an item is mostly early or late: its mean place a quarter of all runs off."""
    if len(runs) < 4:
        return False
    middle = (len(runs) - 1) / 2
    ridden = [run.item for run in runs]
    places = ([at for at, item in enumerate(ridden) if item == name] for name in _items(runs))
    return any(abs(float(np.mean(every)) - middle) >= len(runs) / 4 for every in places)
