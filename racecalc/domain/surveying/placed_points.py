"""The points of a recording or route while they are being cleaned, and the account of it."""

from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.course import CourseReport
from racecalc.domain.surveying.geodesy import to_plane
from racecalc.files.track import Track

Mask: TypeAlias = NDArray[np.bool_]

FASTEST = 40.0
"""Speed that no rider reaches [m/s]."""


@dataclass
class Account:
    """What has been done to the points so far; becomes the report.

    Parameters
    ----------
    dropped : dict of str to int
        Reason to number of points.
    notes : list of str
        One sentence each.
    pauses : int
        Times the recording stood still.
    paused_time : float
        Their total duration [s].
    """

    dropped: dict[str, int] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    pauses: int = 0
    paused_time: float = 0.0

    def drop(self, reason: str, count: int) -> None:
        """Add to the dropped points."""
        if count:
            self.dropped[reason] = self.dropped.get(reason, 0) + count

    def into(self, report: CourseReport) -> CourseReport:
        """Return the report with this account in it."""
        return replace(
            report,
            dropped=dict(self.dropped),
            notes=tuple(self.notes),
            pauses=self.pauses,
            paused_time=self.paused_time,
        )


@dataclass(frozen=True)
class Points:
    """Placed points of a track.

    Parameters
    ----------
    latitude, longitude : FloatArray, shape (n,)
        Positions [deg], all finite.
    elevation : FloatArray, shape (n,)
        Height above sea level [m]; NaN where missing.
    time : FloatArray or None, shape (n,)
        Time [s], never going back; None where it cannot be used.
    """

    latitude: FloatArray
    longitude: FloatArray
    elevation: FloatArray
    time: FloatArray | None

    def __len__(self) -> int:
        return len(self.latitude)

    @property
    def plane(self) -> FloatArray:
        """Metres east and north, shape (n, 2)."""
        return to_plane(self.latitude, self.longitude)

    def keep(self, mask: Mask) -> "Points":
        """Return the points where the mask is true."""
        time = None if self.time is None else self.time[mask]
        return Points(self.latitude[mask], self.longitude[mask], self.elevation[mask], time)


def _usable_time(time: FloatArray, plane: FloatArray, account: Account) -> FloatArray | None:
    known = np.isfinite(time)
    if np.count_nonzero(known) < 2:
        return None
    filled = np.interp(np.arange(len(time)), np.flatnonzero(known), time[known])
    if np.any(np.diff(filled) < 0):
        account.notes.append("The times of the points go back, so they were not used.")
        return None
    steps = np.hypot(*np.diff(plane, axis=0).T)
    duration = float(filled[-1] - filled[0])
    if np.median(steps) * len(steps) > FASTEST * duration:
        account.notes.append(
            f"The times of the points give {np.sum(steps) / 1000:.1f} km within {duration:.0f} s, "
            "so they were not used."
        )
        return None
    return filled


def column_or_missing(column: FloatArray | None, count: int) -> FloatArray:
    """Return the column, or as many NaN where the file has none."""
    return np.full(count, np.nan) if column is None else column


def placed_points(track: Track, account: Account) -> Points:
    """Points of a track that have a position.

    Parameters
    ----------
    track : Track
        With latitude and longitude.
    account : Account
        Takes the count of those dropped.

    Returns
    -------
    Points
        In the order of the file.
    """
    longitude = column_or_missing(track.longitude, 0)
    latitude = column_or_missing(track.latitude, len(longitude))
    nowhere = (latitude == 0.0) & (longitude == 0.0)
    placed = np.isfinite(latitude) & np.isfinite(longitude) & ~nowhere
    account.drop("no position", int(np.count_nonzero(~placed)))
    elevation = column_or_missing(track.elevation, len(latitude))[placed]
    points = Points(latitude[placed], longitude[placed], elevation, None)
    if track.time is None or len(points) < 2:
        return points
    return replace(points, time=_usable_time(track.time[placed], points.plane, account))


def far_enough(steps_from: FloatArray, least: float) -> Mask:
    """Mark points at least so far from the last one marked.

    Parameters
    ----------
    steps_from : FloatArray, shape (n, k)
        Coordinates [m].
    least : float
        Least distance [m].

    Returns
    -------
    array of bool, shape (n,)
        True for the first point and each that is far enough.
    """
    keep = np.zeros(len(steps_from), dtype=bool)
    keep[0] = True
    rows = steps_from.tolist()
    last = rows[0]
    for index, row in enumerate(rows):
        if sum((a - b) ** 2 for a, b in zip(row, last, strict=True)) >= least**2:
            keep[index] = True
            last = row
    return keep
