"""What all runs of a day share, and what may make a run or the day wrong."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.balance import total
from racecalc.decisions.measuring.crossing import Leg
from racecalc.decisions.measuring.cutting import CLOSED, CutRun
from racecalc.decisions.measuring.measured import Asked, MeasuredRun, SessionScatter, Shared
from racecalc.decisions.measuring.signals import Signals
from racecalc.decisions.measuring.unusual import MAD
from racecalc.errors import InputError
from racecalc.quantities.measured import printable

# --- What all runs share -------------------------------------------------------------------------

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


def shared_doubts(
    asked: Asked, runs: Sequence[MeasuredRun], sessions: Sequence[SessionScatter]
) -> Iterator[Shared]:
    """Doubts that move all runs alike, each by what a change of it does to the energy balance."""
    doubts, setup = asked.doubts, asked.setup
    good = [run.energy for run in runs if not run.excluded] or [run.energy for run in runs]
    whole = total(good)
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


def run_notes(run: CutRun, legs: Sequence[Leg], kept: int) -> Iterator[str]:
    """What may make a run wrong, by its legs that count and the number of laps in them."""
    signals = run.signals
    bridged = sum(signals.bridged(*leg) for leg in legs)
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
    if signals.recording.air_speed is not None:
        still = sum(float(np.sum(steps[row][~signals.sensed[row]])) for row in rows)
        if still:
            yield f"The air speed is missing for {still:.0f} s, which are taken as still air."
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


def day_notes(
    asked: Asked,
    runs: Sequence[MeasuredRun],
    sessions: Sequence[SessionScatter],
    rides: Mapping[Path, Signals],
) -> Iterator[str]:
    """What may make all runs of a day, or their comparison, wrong."""
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
