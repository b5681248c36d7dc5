"""Recordings and courses in FIT."""

import io
import struct
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from racecalc.errors import InputError
from racecalc.files.opening import read_bytes
from racecalc.files.points import Point, track_of
from racecalc.files.track import Track

if TYPE_CHECKING:
    from fitdecode import FitDataMessage

DEGREES = 180.0 / 2**31
"""One semicircle [deg], the unit of positions in the public FIT protocol."""

DECODER_SLIPS = (AssertionError, LookupError, OverflowError, TypeError, ValueError, struct.error)
"""What the decoder itself stumbles over in damaged files that have a right checksum."""


def _number(record: "FitDataMessage", name: str) -> float | None:
    """Value of a field, one that was sent before one that is derived from another field."""
    fields = sorted(record.get_fields(name), key=lambda field: field.field_def is None)
    values = (field.value for field in fields)
    return next((float(value) for value in values if isinstance(value, int | float)), None)


def _degrees(record: "FitDataMessage", name: str) -> float | None:
    value = _number(record, name)
    return None if value is None else value * DEGREES


def _point(record: "FitDataMessage") -> Point:
    elevation = _number(record, "enhanced_altitude")
    time = record.get_value("timestamp", fallback=None)
    return Point(
        _degrees(record, "position_lat"),
        _degrees(record, "position_long"),
        _number(record, "altitude") if elevation is None else elevation,
        time if isinstance(time, datetime) else None,
    )


def read_fit(path: Path) -> Track:
    """Read a course from the record messages of a FIT file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Track
        Positions, with elevation (the enhanced one if given) and time.

    Raises
    ------
    InputError
        If the file is broken off, its checksum is wrong or it holds fewer than two points.
    """
    import fitdecode

    content = read_bytes(path)
    try:
        with fitdecode.FitReader(
            io.BytesIO(content),
            check_crc=fitdecode.CrcCheck.RAISE,
            error_handling=fitdecode.ErrorHandling.IGNORE,
        ) as reader:
            points = [
                _point(frame)
                for frame in reader
                if isinstance(frame, fitdecode.FitDataMessage) and frame.name == "record"
            ]
    except fitdecode.FitCRCError as error:
        raise InputError(
            str(path), "the checksum is wrong, so the file is damaged", "copy it again"
        ) from error
    except (fitdecode.FitError, *DECODER_SLIPS) as error:
        raise InputError(
            str(path),
            f"this is not FIT, or the file breaks off ({str(error) or 'lengths disagree'})",
            "copy it again from the device",
        ) from error
    return track_of(path, "fit", points)
