"""Take out of a recording what is not road: jumps, pauses and spikes."""

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.surveying.geodesy import along
from racecalc.domain.surveying.placed_points import FASTEST, Account, Mask, Points

Indices: TypeAlias = NDArray[np.intp]

UNTIMED_JUMP = 500.0
"""Least step out and back that is a jump where times are missing [m]."""

STANDING_WINDOW = 10.0
"""Time over which standing still is looked for [s]."""

STANDING_REACH = 5.0
"""Distance within which a rider stands still over the window [m]: 0.5 m/s, and room for jitter."""

STEEPEST = 0.45
"""Grade that no road has; steeper ones up and down again are spikes of the elevation."""

LONGEST_EXCURSION = 5
"""Most points in a row that a jump or spike may hold."""


def excursions(
    count: int,
    leaves: Callable[[Indices, Indices], Mask],
    returns: Callable[[Indices, Indices], Mask],
) -> Mask:
    """Mark short runs of points that leave the line and come back to it.

    Parameters
    ----------
    count : int
        Number of points.
    leaves : Callable
        For arrays of neighbours, whether the step between them is too large.
    returns : Callable
        For arrays of points before and after a run, whether these two agree.

    Returns
    -------
    array of bool, shape (count,)
        True for the points of runs of at most `LONGEST_EXCURSION`.
    """
    marked = np.zeros(count, dtype=bool)
    for length in range(1, LONGEST_EXCURSION + 1):
        before = np.arange(max(count - length - 1, 0))
        after = before + length + 1
        starts = before[leaves(before, before + 1) & leaves(after - 1, after)]
        starts = starts[returns(starts, starts + length + 1)]
        free = starts[~marked[starts] & ~marked[starts + length + 1]]
        for offset in range(1, length + 1):
            marked[free + offset] = True
    return marked


def _apart(plane: FloatArray, first: Indices, second: Indices) -> FloatArray:
    return np.asarray(np.hypot(*(plane[second] - plane[first]).T))


def drop_jumps(points: Points, account: Account) -> Points:
    """Drop points to which and from which the rider would have had to fly.

    With times, a step faster than `FASTEST` leaves the line; without, one that is both longer
    than `UNTIMED_JUMP` and than fifty usual steps, and the return must come to a tenth of that.

    Parameters
    ----------
    points : Points
        Before.
    account : Account
        Takes the count of those dropped.

    Returns
    -------
    Points
        After.
    """
    if len(points) < 3:
        return points
    plane, time = points.plane, points.time
    usual = float(np.median(np.hypot(*np.diff(plane, axis=0).T)))

    def limit(first: Indices, second: Indices) -> FloatArray:
        if time is None:
            return np.full(len(first), max(UNTIMED_JUMP, 50.0 * usual))
        return FASTEST * np.maximum(time[second] - time[first], 1.0)

    nearness = 0.1 if time is None else 1.0
    jumps = excursions(
        len(points),
        lambda first, second: _apart(plane, first, second) > limit(first, second),
        lambda first, second: _apart(plane, first, second) <= nearness * limit(first, second),
    )
    account.drop("jump away from the road and back", int(np.count_nonzero(jumps)))
    return points.keep(~jumps)


def _standing(plane: FloatArray, time: FloatArray) -> Mask:
    """Whether each point stays within reach over the window before it or after it."""
    stays = np.zeros(len(time), dtype=bool)
    for window in (-STANDING_WINDOW, STANDING_WINDOW):
        other = time + window
        moved = np.hypot(*(along(time, plane, other) - plane).T)
        stays |= (moved < STANDING_REACH) & (other >= time[0]) & (other <= time[-1])
    index = np.arange(len(time))
    before = np.maximum.accumulate(np.where(stays, index, 0))
    after = np.minimum.accumulate(np.where(stays, index, len(time) - 1)[::-1])[::-1]
    bridged = stays[before] & stays[after] & (time[after] - time[before] <= STANDING_WINDOW)
    return np.asarray(stays | bridged)


def collapse_pauses(points: Points, account: Account) -> Points:
    """Keep one point of each stretch of time in which the rider stood still.

    Standing means staying within `STANDING_REACH` over `STANDING_WINDOW`, before or after; a
    turn at a cone is none, because both its sides move away. Where a stretch creeps farther
    than that reach, its last point is kept as well.

    Parameters
    ----------
    points : Points
        Before.
    account : Account
        Takes the pauses and the count of points dropped.

    Returns
    -------
    Points
        After; the same where there are no times.
    """
    time = points.time
    if time is None or len(points) < 3 or time[-1] - time[0] < STANDING_WINDOW:
        return points
    plane = points.plane
    edges = np.diff(np.concatenate([[False], _standing(plane, time), [False]]).astype(int))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    keep = np.ones(len(points), dtype=bool)
    for start, end in zip(starts, ends, strict=True):
        crept = np.hypot(*(plane[end] - plane[start])) > STANDING_REACH
        keep[start + 1 : end if crept else end + 1] = False
    lasting = (time[ends] - time[starts])[time[ends] - time[starts] >= STANDING_WINDOW / 2.0]
    account.pauses += len(lasting)
    account.paused_time += float(np.sum(lasting))
    account.drop("standing still", int(np.count_nonzero(~keep)))
    return points.keep(keep)


def without_spikes(
    distance: FloatArray, elevation: FloatArray, noise: float, account: Account
) -> FloatArray:
    """Elevations with short spikes replaced by the line across them.

    A spike is steeper than `STEEPEST` up and down again, or down and up, within
    `LONGEST_EXCURSION` points, and stands out by 2 m and by five times the noise.

    Parameters
    ----------
    distance, elevation : FloatArray, shape (n,)
        The road [m].
    noise : float
        Standard deviation of the elevation noise [m].
    account : Account
        Takes the note.

    Returns
    -------
    FloatArray, shape (n,)
        Elevations [m].
    """
    least = max(2.0, 5.0 * noise)

    def beyond(first: Indices, second: Indices) -> Mask:
        run, rise = distance[second] - distance[first], elevation[second] - elevation[first]
        return np.asarray(np.abs(rise) > np.maximum(STEEPEST * run, least))

    spikes = excursions(len(distance), beyond, lambda first, second: ~beyond(first, second))
    count = int(np.count_nonzero(spikes))
    if not count or count > len(distance) - 2:
        return elevation
    first = distance[np.argmax(spikes)] / 1000.0
    account.notes.append(
        f"Spikes of the elevation were removed, {count} in all, the first at km {first:.2f}."
    )
    return np.interp(distance, distance[~spikes], elevation[~spikes])
