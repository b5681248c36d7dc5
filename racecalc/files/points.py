"""Points with positions, as GPX, TCX and FIT files give them, to a track."""

from collections.abc import Sequence, Sized
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.track import Track


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a recording or route; None where the file gives no value.

    Parameters
    ----------
    latitude, longitude : float or None
        Position on WGS84 [deg].
    elevation : float or None
        Height above sea level [m].
    time : datetime or None
        When the point was passed; universal time unless it says otherwise.
    """

    latitude: float | None
    longitude: float | None
    elevation: float | None
    time: datetime | None


Line = TypeVar("Line", bound=Sized)


def first_filled(lines: Sequence[Line], called: str) -> tuple[Line | None, tuple[str, ...]]:
    """Pick the first line of points that has any.

    Parameters
    ----------
    lines : sequence of Line
        Lines of points in the order of the file.
    called : str
        What the file calls them, in the plural.

    Returns
    -------
    line : Line or None
        The first that is not empty.
    notes : tuple of str
        A sentence if others were left out.
    """
    filled = [line for line in lines if len(line)]
    others = f"Of {len(filled)} {called} in the file, the first was read."
    return (filled[0] if filled else None), ((others,) if len(filled) > 1 else ())


def _column(values: list[float | None]) -> FloatArray:
    column = np.array(values, dtype=float)
    column[~np.isfinite(column)] = np.nan
    return column


def _present(column: FloatArray) -> FloatArray | None:
    return None if np.all(np.isnan(column)) else column


def _seconds(times: Sequence[datetime | None]) -> FloatArray:
    stamps = [
        None if time is None else (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
        for time in times
    ]
    first = next((stamp for stamp in stamps if stamp is not None), 0.0)
    return _column([None if stamp is None else stamp - first for stamp in stamps])


def _check_range(path: Path, name: str, values: FloatArray, most: float) -> None:
    wrong = np.abs(values) > most
    if np.any(wrong):
        index = int(np.argmax(wrong))
        raise InputError(
            f"{path}, point {index + 1}",
            f"the {name} {values[index]:g} deg lies off the globe",
            f"it must lie between -{most:g} and {most:g}",
        )


def track_of(path: Path, form: str, points: Sequence[Point], notes: tuple[str, ...] = ()) -> Track:
    """Make a track of points.

    Parameters
    ----------
    path : Path
        File they came from.
    form : str
        "gpx", "fit" or "tcx".
    points : sequence of Point
        In the order of the file.
    notes : tuple of str
        What the reader left out or chose.

    Returns
    -------
    Track
        With positions, at least two.

    Raises
    ------
    InputError
        If fewer than two points have a position, or one lies off the globe.
    """
    latitude = _column([point.latitude for point in points])
    longitude = _column([point.longitude for point in points])
    placed = int(np.count_nonzero(np.isfinite(latitude) & np.isfinite(longitude)))
    if placed < 2:
        held = {0: "no point", 1: "only one point"}[placed]
        raise InputError(
            str(path),
            f"the file holds {held} with a position, of {len(points)} in all",
            "a course needs at least a start and a finish",
        )
    _check_range(path, "latitude", latitude, 90.0)
    _check_range(path, "longitude", longitude, 180.0)
    return Track(
        source=str(path),
        form=form,
        latitude=latitude,
        longitude=longitude,
        elevation=_present(_column([point.elevation for point in points])),
        time=_present(_seconds([point.time for point in points])),
        notes=notes,
    )
