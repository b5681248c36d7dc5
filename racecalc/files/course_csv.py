"""Courses typed or exported as a CSV table."""

from pathlib import Path

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.table import Table, read_table
from racecalc.files.track import HIGHEST, LOWEST, Track
from racecalc.quantities.kinds import ANGLE, LENGTH, RATIO, SPEED, Kind

FARTHEST = 5e6
"""Distance beyond any race [m]."""


def _optional(table: Table, name: str, kind: Kind) -> FloatArray | None:
    return table.numbers(name, kind, gaps=True) if table.has(name) else None


def _check(table: Table, track: Track) -> None:
    if len(table.rows) < 2:
        raise InputError(
            f"{table.source}, line {table.lines[0]}",
            "this is the only point",
            "a course needs at least a start and a finish",
        )
    if track.elevation is not None:
        wrong = (track.elevation < LOWEST) | (track.elevation > HIGHEST)
        table.refuse(
            "elevation", wrong, "is no height of a road", f"give {LOWEST:g} m to {HIGHEST:g} m"
        )
    if track.distance is not None:
        far = np.abs(track.distance) > FARTHEST
        table.refuse("distance", far, "is farther than any race", "check the unit of the heading")
        back = np.concatenate([[False], np.diff(track.distance) < 0])
        table.refuse(
            "distance", back, "is less than the line before", "distances must go up line by line"
        )
    if track.crr is not None:
        wrong = (track.crr <= 0) | (track.crr > 0.1)
        table.refuse("crr", wrong, "cannot be a rolling resistance", "write one as 0.004")
    if track.shelter is not None:
        wrong = (track.shelter < 0) | (track.shelter > 1)
        table.refuse("shelter", wrong, "is not a share", "write 0 (no wind) to 1 (open)")
    if track.max_speed is not None:
        table.refuse(
            "max_speed", track.max_speed <= 0, "is not above zero", "leave the cell empty for none"
        )


def read_course_csv(path: Path) -> Track:
    """Read a course table: distance and elevation, and what the road is like from there on.

    Parameters
    ----------
    path : Path
        CSV file with the columns `distance [m]` and `elevation [m]`, and optionally
        `bearing [deg]`, `crr`, `shelter` and `max_speed [km/h]`, in which cells may be empty.
        Any unit of length, angle or speed will do.

    Returns
    -------
    Track
        Points with distances, at least two.

    Raises
    ------
    InputError
        With line and column, if a cell, heading or order will not do.
    """
    table = read_table(path)
    track = Track(
        source=table.source,
        form="csv",
        distance=table.numbers("distance", LENGTH),
        elevation=table.numbers("elevation", LENGTH),
        bearing=_optional(table, "bearing", ANGLE),
        crr=_optional(table, "crr", RATIO),
        shelter=_optional(table, "shelter", RATIO),
        max_speed=_optional(table, "max_speed", SPEED),
    )
    _check(table, track)
    return track
