"""The line of a course: from positions or typed distances to lengths, bearings and a plane."""

from dataclasses import dataclass, field, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.course import Positions
from racecalc.domain.surveying.cleaning import collapse_pauses, drop_jumps
from racecalc.domain.surveying.geodesy import from_plane, geodesic_steps
from racecalc.domain.surveying.placed_points import (
    Account,
    Points,
    column_or_missing,
    far_enough,
    placed_points,
)
from racecalc.domain.surveying.smoothing import smooth_line
from racecalc.errors import InputError
from racecalc.files.track import Track

GAP = 200.0
"""Distance between points from which the report calls it a gap [m]."""

CLOSEST = 1.0
"""Least distance between points with positions [m]; nearer ones hold more error than road."""

CLOSEST_TYPED = 0.01
"""Least distance between points of a table, and between smoothed positions [m]."""


@dataclass(frozen=True)
class Road:
    """The line of a track before its elevations are looked at.

    Parameters
    ----------
    distance : FloatArray, shape (n,)
        Horizontal distance [m], or along the road where the file gives distances.
    elevation : FloatArray, shape (n,)
        As in the file [m]; NaN where missing.
    plane : FloatArray or None, shape (n, 2)
        Metres east and north; None where the file gives no positions.
    bearing : FloatArray, shape (n - 1,)
        Direction of travel of each piece [rad]; NaN where not known.
    gaps : tuple of (float, float)
        Start and length of stretches without points [m].
    points_read : int
        Points of the file.
    pieces : dict of str to FloatArray
        Further columns of the file, one value a piece; NaN where a cell was empty.
    positions : Positions or None
        Of the n points, cleaned as the plane is; None where the file gives none.
    """

    distance: FloatArray
    elevation: FloatArray
    plane: FloatArray | None
    bearing: FloatArray
    gaps: tuple[tuple[float, float], ...] = ()
    points_read: int = 2
    pieces: dict[str, FloatArray] = field(default_factory=dict)
    positions: Positions | None = None


def _clean(track: Track, account: Account) -> Points:
    points = placed_points(track, account)
    if len(points) >= 2:
        points = collapse_pauses(drop_jumps(points, account), account)
        apart = far_enough(points.plane, CLOSEST)
        account.drop("same place as the point before", int(np.count_nonzero(~apart)))
        points = points.keep(apart)
    return _enough(track, points)


def _enough(track: Track, points: Points) -> Points:
    if len(points) < 2:
        raise InputError(
            track.source,
            "all points lie at one place once errors are dropped",
            "export the course again",
        )
    return points


def _straightened(points: Points, account: Account) -> Points:
    """Positions without the jitter of the receiver."""
    plane = points.plane
    steps = np.hypot(*np.diff(plane, axis=0).T)
    smoothed, noise = smooth_line(np.concatenate([[0.0], np.cumsum(steps)]), plane)
    if noise == 0.0:
        return points
    latitude, longitude = from_plane(smoothed, points.latitude)
    before = float(np.sum(geodesic_steps(points.latitude, points.longitude)[0]))
    after = float(np.sum(geodesic_steps(latitude, longitude)[0]))
    account.notes.append(
        f"Jitter of the positions from point to point, {noise:.2f} m, was smoothed away, "
        f"which took the length from {before / 1000:.3f} to {after / 1000:.3f} km."
    )
    return replace(points, latitude=latitude, longitude=longitude)


def placed_road(track: Track, account: Account) -> Road:
    """Line of a track that gives positions.

    Parameters
    ----------
    track : Track
        With latitude and longitude.
    account : Account
        Takes what is done to the points.

    Returns
    -------
    Road
        Cleaned of jumps, pauses and jitter, with geodesic lengths and bearings.

    Raises
    ------
    InputError
        If fewer than two points are left.
    """
    points = _straightened(_clean(track, account), account)
    steps, _ = geodesic_steps(points.latitude, points.longitude)
    merged = np.append(False, steps <= CLOSEST_TYPED)
    account.drop("same place as the point before", int(np.count_nonzero(merged)))
    points = _enough(track, points.keep(~merged))
    steps, bearing = geodesic_steps(points.latitude, points.longitude)
    distance = np.concatenate([[0.0], np.cumsum(steps)])
    wide = np.flatnonzero(steps > GAP)
    gaps = tuple((float(distance[index]), float(steps[index])) for index in wide)
    read = len(column_or_missing(track.latitude, 0))
    return Road(
        distance,
        points.elevation,
        points.plane,
        bearing,
        gaps,
        read,
        positions=Positions(points.latitude, np.unwrap(points.longitude, period=360.0)),
    )


def measured_road(track: Track, account: Account) -> Road:
    """Line of a track that gives distances.

    Parameters
    ----------
    track : Track
        Columns of a table, its distances never going back.
    account : Account
        Takes what is done to the points.

    Returns
    -------
    Road
        From distance 0. It says where the road turns if the table does, but not how tightly.

    Raises
    ------
    InputError
        If fewer than two points are left.
    """
    distance = column_or_missing(track.distance, 0)
    read = len(distance)
    keep = far_enough(distance[:, None], CLOSEST_TYPED)
    account.drop("same place as the point before", int(np.count_nonzero(~keep)))
    distance = distance[keep]
    if len(distance) < 2:
        raise InputError(track.source, "all points lie at one place", "give their distances")
    if distance[0] != 0.0:
        account.notes.append(f"Distances were counted from the first point, {distance[0]:g} m.")
    distance = distance - distance[0]
    pieces = {
        name: values[keep][:-1]
        for name in ("bearing", "crr", "shelter", "max_speed")
        if (values := getattr(track, name)) is not None
    }
    bearing = np.mod(pieces.pop("bearing", np.full(len(distance) - 1, np.nan)), 2.0 * np.pi)
    elevation = column_or_missing(track.elevation, read)[keep]
    return Road(distance, elevation, None, bearing, points_read=read, pieces=pieces)
