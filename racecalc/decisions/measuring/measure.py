"""A test day: the drag area of each run, its errors, and what to distrust."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import f_chance
from racecalc.decisions.measuring.balance import (
    CrrFit,
    Energy,
    Setup,
    Sums,
    between,
    fit_crr,
    setup_of,
    sums_of,
    total,
)
from racecalc.decisions.measuring.crossing import Loop, find_loop
from racecalc.decisions.measuring.cutting import CutRun, cut_runs
from racecalc.decisions.measuring.distrust import day_notes, run_notes, shared_doubts, wind_told_by
from racecalc.decisions.measuring.measured import (
    Asked,
    Marked,
    MeasuredLap,
    MeasuredRun,
    Picture,
    SessionScatter,
    TestDay,
    runs_of,
)
from racecalc.decisions.measuring.signals import (
    AROUND_RUNS,
    LEAST_SPEED,
    SHOWN,
    Signals,
    signals_of,
    trace,
)
from racecalc.decisions.measuring.unusual import Fault, compare_places, faults_of
from racecalc.domain.race import Race, Wind
from racecalc.domain.run_sheet import RunSheet, SheetRun, Span, load_sheet
from racecalc.domain.trial import Runs
from racecalc.errors import InputError
from racecalc.files.recordings import read_recording
from racecalc.physics.air import density_along, rider_wind_speed, wind_components, yaw_angle

# --- From a sheet to its runs --------------------------------------------------------------------

POSSIBLE = (0.1, 0.8)
"""Drag areas that a rider on a bicycle can have [m^2]; common practice, no source."""


def measure(asked: Asked, rides: Mapping[Path, Signals]) -> TestDay:
    """Measure all runs of a sheet in its recordings.

    Raises `InputError` if a run cannot be measured; it names the run.
    """
    wheel = _wheel(asked, rides) if asked.fit_wheel else None
    if wheel is not None:
        rides = {path: ride.slowed(wheel) for path, ride in rides.items()}
        asked = replace(asked, doubts=replace(asked.doubts, speed=asked.doubts.lap))
    crr = _crr(asked, _measured(asked, rides)) if asked.find_crr else None
    if crr is not None:
        share = crr.standard_error / crr.crr
        doubts = replace(asked.doubts, crr=share)
        asked = replace(asked, setup=replace(asked.setup, crr=crr.crr), doubts=doubts)
    return replace(_measured(asked, rides), crr=crr, wheel=wheel)


def _wheel(asked: Asked, rides: Mapping[Path, Signals]) -> float:
    """Wheel size set over the true one."""
    if asked.lap_length is None:
        problem = "the length of a lap is not stated"
        raise InputError("--fit-wheel", problem, "add --lap-length")
    for ride in rides.values():
        if ride.speed_from == "positions":
            problem = f"the speed of {ride.recording.source} is taken from positions"
            raise InputError("--fit-wheel", problem, "leave it out: there is no wheel to find")
    day = _measured(asked, rides)
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
    for numbers in groups.values():
        runs, scatter = _session(asked, [cuts[number] for number in numbers])
        found |= dict(zip(numbers, runs, strict=True))
        sessions.append(scatter)
    every = tuple(found[number] for number in range(len(cuts)))
    if asked.loop and every[0].excluded:
        raise InputError(asked.sheet.source, every[0].excluded, "a ride without that is needed")
    shared = tuple(shared_doubts(asked, every, sessions))
    return TestDay(
        source=asked.sheet.source,
        runs=every,
        sessions=tuple(sessions),
        shared=shared,
        shared_share=float(np.sqrt(sum(one.share**2 for one in shared))),
        distrust=tuple(day_notes(asked, every, sessions, rides)),
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

    Raises `InputError` if no loop can be used, with the reason.
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
    path = Path(one.source)
    run = SheetRun(item="the ride", order="1", line=1, recording=path, laps=spans, wind=wind)
    return RunSheet(one.source, (run,)), loop


def rides_of(asked: Asked) -> dict[Path, Signals]:
    """Read the recordings of a sheet.

    Raises `InputError` if one cannot be read or lacks what is needed; it names the first run in it.
    """
    found: dict[Path, Signals] = {}
    for row in asked.sheet.runs:
        if row.recording not in found:
            try:
                found[row.recording] = signals_of(read_recording(row.recording, asked.wanted))
            except InputError as error:
                raise error.at(asked.sheet.place(row)) from error
    return found


def runs_of_sheet(path: Path, race: Race) -> Runs:
    """The runs of a sheet with the rider and bike of a race and the air of the sheet."""
    return runs_of(day_of_sheet(path, race))


def day_of_sheet(path: Path, race: Race) -> TestDay:
    """The test day of a sheet with the rider and bike of a race.

    It is measured once for as long as the sheet, its recordings and the setup stay as they are.
    """
    sheet = load_sheet(path)
    files = {run.recording for run in sheet.runs}
    stamps = sorted((str(one), one.stat().st_mtime_ns) for one in files if one.is_file())
    return _remembered(Asked(sheet, setup_of(race)), *stamps)


def days_behind(race: Race) -> list[TestDay]:
    """The test days that options of a race name as their trials, each once."""
    sheets = dict.fromkeys(one.trial_sheet for one in race.options if one.trial_sheet)
    return [day_of_sheet(sheet, race) for sheet in sheets]


@lru_cache(maxsize=16)
def _remembered(asked: Asked, *_: tuple[str, int]) -> TestDay:
    return measure(asked, rides_of(asked))


@dataclass(frozen=True)
class _Balanced:
    """A run with the balance of its laps."""

    cut: CutRun
    density: float
    """Of the air [kg/m^3]."""
    sums: Sums
    laps: list[Energy]
    why: dict[int, str] = field(default_factory=dict)
    """Why laps are left out, by their position."""

    @property
    def kept(self) -> list[int]:
        """Laps that count; all where none does, as the run is left out then."""
        every = range(len(self.laps))
        return [lap for lap in every if lap not in self.why] or [*every]


def _session(asked: Asked, cuts: Sequence[CutRun]) -> tuple[list[MeasuredRun], SessionScatter]:
    factor = _air_speed_factor(cuts)
    balanced = [_balanced(asked, run, factor) for run in cuts]
    faults = [fault for number, run in enumerate(cuts) for fault in faults_of(number, run)]
    bad = {(one.run, one.lap) for one in faults}
    sound = {
        (number, lap): one.cda
        for number, run in enumerate(balanced)
        for lap, one in enumerate(run.laps)
        if (number, lap) not in bad
    }
    places = compare_places(cuts, [run.sums for run in balanced], sound)
    unlike, kept = ([], places.faults) if asked.keep else (places.faults, ())
    balanced = [
        replace(run, why={one.lap: one.because for one in (*unlike, *faults) if one.run == number})
        for number, run in enumerate(balanced)
    ]
    variance, lap_df = _lap_variance(balanced)
    runs = [
        _run(run, variance, [one for one in kept if one.run == number])
        for number, run in enumerate(balanced)
    ]
    wind = None if factor is None else _sensed_wind(cuts, factor)
    scatter = _scatter(runs, lap_df, places.scatter, factor, wind)
    if factor is not None or scatter.more_than_laps:
        runs = [replace(run, standard_error_m2=_larger(run, scatter)) for run in runs]
    return runs, scatter


def _balanced(asked: Asked, run: CutRun, factor: float | None) -> _Balanced:
    density, setup = _density(asked, run), asked.setup
    if run.row.mass is not None:
        setup = replace(setup, mass=run.row.mass)
    sums = sums_of(run.signals, setup, density, *_air_at(run, factor))
    rise = run.row.rise or 0.0
    laps = [total([between(sums, np.array(leg), rise)[0] for leg in legs]) for legs in run.laps]
    return _Balanced(run, density, sums, laps)


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


def _air_at(run: CutRun, factor: float | None) -> tuple[FloatArray, FloatArray]:
    """Head and cross wind at each point [m/s]: by the sensor, as stated, or none."""
    signals, one = run.signals, run.signals.recording
    calm = np.zeros_like(signals.speed)
    if factor is not None and one.air_speed is not None:
        reading = np.where(signals.sensed, one.air_speed, factor * signals.speed)
        ahead = reading / factor
        yaw = calm if one.yaw is None else np.nan_to_num(one.yaw)
        return ahead - signals.speed, ahead * np.tan(np.clip(yaw, -1.0, 1.0))
    return _stated_wind(run) or (calm, calm)


def _stated_wind(run: CutRun) -> tuple[FloatArray, FloatArray] | None:
    """The same by the sheet; None where wind, its direction or that of travel is not known."""
    wind, travel = run.row.wind, run.signals.travel
    if wind is None or not run.row.wind_from_known or travel is None:
        return None
    return wind_components(rider_wind_speed(wind), wind.direction, travel)


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
            fast = (speed > LEAST_SPEED) & signals.sensed[inside]
            read += float(np.sum(air[fast] * speed[fast]))
            ridden += float(np.sum(speed[fast] ** 2))
    if not read > 0:
        place = cuts[0].place
        raise InputError(place, "the air speed is missing or 0 throughout", "check --air-speed")
    return read / ridden


def _lap_variance(runs: Sequence[_Balanced]) -> tuple[float | None, int]:
    """Variance of the work of a lap that its run leaves, for 1 J/m^2, and its degrees of freedom.

    That of a sum over more road grows with the road, so the square of what is left is taken over
    the work for 1 m^2; all runs of a session tell of one variance, as all had the same air.
    """
    square, df = 0.0, 0
    for run in runs:
        laps = [run.laps[lap] for lap in run.kept]
        cda = total(laps).cda
        left = ((one.against_air - cda * one.push) ** 2 / one.push for one in laps if one.push > 0)
        square, df = square + sum(left), df + len(laps) - 1
    return (square / df if df else None), df


def _run(run: _Balanced, variance: float | None, unlike: Sequence[Fault]) -> MeasuredRun:
    """A run as measured; laps that are unlike the others are only told of."""
    cut, laps, why, row = run.cut, run.laps, run.why, run.cut.row
    whole = total([laps[lap] for lap in run.kept])
    _refuse_impossible(cut, whole, run.sums.setup)
    legs = [leg for lap in run.kept for leg in cut.laps[lap]]
    speed = np.concatenate([cut.signals.speed[cut.signals.within(*leg)] for leg in legs])
    excluded = row.excluded
    if len(why) == len(laps):
        excluded = excluded or f"every lap is left out: {why[0]}"
    said = (f"Lap {one.lap + 1} is kept: {one.because}." for one in unlike)
    return MeasuredRun(
        **row.words,
        recording=cut.signals.recording.source,
        cda_m2=whole.cda,
        standard_error_m2=None if variance is None else float(np.sqrt(variance / whole.push)),
        power_w=whole.work / whole.seconds,
        speed_m_s=float(np.cbrt(np.mean(speed**3))),
        density_kg_m3=run.density,
        wind_m_s=None if row.wind is None else rider_wind_speed(row.wind),
        yaw_deg=_yaw(cut),
        left_out_s=sum(laps[lap].seconds for lap in why),
        bridged_s=sum(cut.signals.bridged(*leg) for leg in legs),
        air_share=whole.against_air / whole.driven,
        rolling_share=(whole.rolling + whole.bearings) / whole.driven,
        laps=tuple(
            MeasuredLap(lap + 1, one.cda, one.seconds, one.work / one.seconds, why.get(lap, ""))
            for lap, one in enumerate(laps)
        ),
        excluded=excluded,
        note=row.note,
        distrust=(*run_notes(cut, legs, len(run.kept)), *said),
        energy=whole,
        place=cut.place,
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


def _yaw(run: CutRun) -> float | None:
    """Mean size of the yaw [deg], by the sensor or else by the stated wind; None where unknown."""
    inside, sensor = run.signals.within(run.start, run.end), run.signals.recording.yaw
    if sensor is not None:
        return float(np.degrees(np.nanmean(np.abs(sensor[inside]))))
    stated = _stated_wind(run)
    if stated is None:
        return None
    yaw = yaw_angle(run.signals.speed, *stated)
    return float(np.degrees(np.mean(np.abs(yaw[inside]))))


# --- Scatter, and what all runs share ------------------------------------------------------------


CLEAR = 0.05
"""Level of the one-sided F test by which runs differ more than their laps; common practice."""


def _scatter(
    runs: Sequence[MeasuredRun],
    lap_df: int,
    places: float | None,
    factor: float | None,
    wind: float | None,
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
    more = bool(lap_df and df) and f_chance(against / df, df, 1.0, lap_df) < CLEAR
    return SessionScatter(
        session=runs[0].sitting,
        rider=runs[0].rider,
        lap_error_m2=float(np.sqrt(np.mean(np.square(errors)))) if errors else None,
        lap_df=lap_df,
        run_sd_m2=float(np.sqrt(square / df)) if df else None,
        run_df=df,
        more_than_laps=more,
        place_scatter_j=places,
        air_speed_factor=factor,
        sensed_wind_m_s=wind,
    )
