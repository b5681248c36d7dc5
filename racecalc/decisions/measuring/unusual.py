"""Laps that are left out: faults of the record, and what differs from the same place elsewhere."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.balance import Sums, between
from racecalc.decisions.measuring.crossing import Leg
from racecalc.decisions.measuring.cutting import CutRun
from racecalc.decisions.measuring.signals import Signals

MOST_BRIDGED = 10.0
"""Seconds of a lap that may be bridged where power or speed is missing, and longest gap between
two points [s]; our choice: 20 s bridged in a run of 9 min hardly change it in simulated rides."""

STOPPED = 2.0
"""Speed below which a lap is no lap at speed [m/s]; our choice."""

SPIKE_TIMES, SPIKE_OVER, SPIKE_AROUND = 3.0, 300.0, 15
"""A power is a spike where it is so many times the median of so many points either side, and so
far above it [W]; our choice: in simulated and recorded steady riding none is."""

PLACE = 50.0
"""Length of a place [m]; our choice."""

LEAST_LAPS = 4
"""Laps from which places are compared; our choice."""

TIMES_SPREAD, LEAST_ENERGY = 4.5, 500.0
"""How far two places in a row must differ from the same ones of the other laps: so many times the
spread (1.48 median deviations), and so much at least [J]; our choice: in simulated rides in a light
wind every touch of the brakes of 1.5 m/s was found so, and one run in 150 was left out wrongly."""

MAD = 1.4826
"""Standard deviation over median absolute deviation, of a normal distribution."""


@dataclass(frozen=True)
class Fault:
    """Why a lap is left out."""

    run: int
    lap: int
    """Position of the run, and of the lap in it, from 0."""
    because: str
    """A clause."""


# --- Faults of the record ------------------------------------------------------------------------


def faults_of(number: int, run: CutRun) -> Iterator[Fault]:
    """What makes laps of a run useless by themselves; one fault a lap."""
    for lap, legs in enumerate(run.laps):
        because = next(filter(None, (_fault(run, leg) for leg in legs)), "")
        bridged = sum(run.signals.bridged(*leg) for leg in legs)
        if not because and bridged > MOST_BRIDGED:
            because = f"power or speed is missing for {bridged:.0f} s"
        if because:
            yield Fault(number, lap, because)


def _fault(run: CutRun, leg: Leg) -> str:
    signals = run.signals
    inside = signals.within(*leg)
    times = np.concatenate(([leg[0]], signals.time[inside], [leg[1]]))
    gap = float(np.max(np.diff(times)))
    if gap > MOST_BRIDGED:
        return f"the recording has a gap of {gap:.0f} s"
    if inside.start == inside.stop:
        return "the recording has no points in it"
    slowest = float(np.min(signals.speed[inside]))
    if slowest < STOPPED:
        return f"stopped, or down to {3.6 * slowest:.0f} km/h"
    spike = _spike(signals.power[inside])
    return f"the power jumps to {spike:.0f} W for a moment" if spike else ""


def _spike(power: FloatArray) -> float:
    """A power far above those around it [W]; 0 for none."""
    edge = np.pad(power, SPIKE_AROUND, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(edge, 2 * SPIKE_AROUND + 1)
    usual = np.median(around, axis=1)
    high = (power > SPIKE_TIMES * usual) & (power > usual + SPIKE_OVER)
    return float(np.max(power[high])) if np.any(high) else 0.0


# --- The same place in every lap -----------------------------------------------------------------


@dataclass(frozen=True)
class Places:
    """What the places of all laps of one course say."""

    faults: tuple[Fault, ...]
    scatter: float | None
    """Standard deviation of the work at one place that nothing explains, for 100 m [J]; None with
    too few laps.
    """


def _direction(signals: Signals, leg: Leg) -> int:
    """Which way round a loop is ridden, by the sign of its area; 0 without positions."""
    north, east = signals.recording.latitude, signals.recording.longitude
    if north is None or east is None:
        return 0
    inside = signals.within(*leg)
    known = np.isfinite(north[inside]) & np.isfinite(east[inside])
    y, x = (one[inside][known] - one[inside][known][:1] for one in (north, east))
    return int(np.sign(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])))


def compare_places(
    runs: Sequence[CutRun], sums: Sequence[Sums], cda: Mapping[tuple[int, int], float]
) -> Places:
    """Compare the same place over all laps of a course.

    Only the laps that have a drag area [m^2] in `cda`, by run and lap, are compared.
    """
    groups: dict[tuple[int, int, int], list[tuple[int, int, Leg]]] = {}
    for number, lap in cda:
        legs = runs[number].laps[lap]
        for order, leg in enumerate(legs):
            way = _direction(runs[number].signals, leg) if len(legs) == 1 else 0
            groups.setdefault((len(legs), order, way), []).append((number, lap, leg))
    faults: dict[tuple[int, int], Fault] = {}
    squares: list[FloatArray] = []
    for group in groups.values():
        if len(group) >= LEAST_LAPS:
            rest = _unexplained(group, sums, cda)
            squares.append(np.ravel(_two(rest)) ** 2)
            for fault in _unlike(group, rest, runs):
                faults.setdefault((fault.run, fault.lap), fault)
    scatter = float(np.sqrt(np.median(np.concatenate(squares)))) * MAD if squares else None
    return Places(tuple(faults.values()), scatter)


def _unexplained(
    group: Sequence[tuple[int, int, Leg]],
    sums: Sequence[Sums],
    cda: Mapping[tuple[int, int], float],
) -> FloatArray:
    """Energy at each place of each lap less the median of all laps there [J]; (laps, places)."""
    first = sums[group[0][0]].signals
    count = max(2, round(first.way(*group[0][2]) / PLACE))
    rows = []
    for number, lap, leg in group:
        signals = sums[number].signals
        ends = signals.at(np.array(leg), signals.distance)
        along = np.linspace(ends[0], ends[1], count + 1)
        times = np.interp(along, signals.distance, signals.time)
        parts = between(sums[number], times)
        rows.append([one.against_air - cda[number, lap] * one.push for one in parts])
    work = np.array(rows)
    return np.asarray(work - np.median(work, axis=0))


def _two(rest: FloatArray) -> FloatArray:
    """Two places in a row together, which are 100 m."""
    return np.asarray(rest[:, :-1] + rest[:, 1:])


def _unlike(
    group: Sequence[tuple[int, int, Leg]], rest: FloatArray, runs: Sequence[CutRun]
) -> Iterator[Fault]:
    pairs = _two(rest)
    spread = MAD * float(np.median(np.abs(pairs)))
    for row, (number, lap, leg) in enumerate(group):
        at = int(np.argmax(np.abs(pairs[row])))
        energy = float(pairs[row, at])
        if abs(energy) > max(TIMES_SPREAD * spread, LEAST_ENERGY):
            where = (at + 1) * runs[number].signals.way(*leg) / rest.shape[1]
            cause = (
                "as by braking or a gust"
                if energy > 0
                else "as in the shelter of a vehicle or rider, or by lost power"
            )
            more = "more" if energy > 0 else "less"
            yield Fault(
                number,
                lap,
                f"{abs(energy) / 1000:.1f} kJ {more} than in the other laps {where:.0f} m after"
                f" its line, {cause}",
            )
