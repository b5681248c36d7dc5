"""What a course file holds, before anything is cleaned or measured."""

from dataclasses import dataclass

from racecalc.arrays import FloatArray

LOWEST, HIGHEST = -500.0, 9000.0
"""Heights between which every road lies [m]; files mark missing ones by values outside."""


@dataclass(frozen=True, eq=False)
class Track:
    """Raw points of one course file, in the order of the file.

    Each array has shape (n,); NaN stands where a point lacks the value and None where the
    whole file does.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    form : str
        "gpx", "fit", "tcx" or "csv".
    distance : FloatArray, optional
        Distance along the course [m]; CSV only, other forms give positions.
    latitude, longitude : FloatArray, optional
        Position on WGS84 [deg].
    elevation : FloatArray, optional
        Height above sea level [m].
    time : FloatArray, optional
        Time since the first point of a recording [s].
    bearing : FloatArray, optional
        Direction of travel from this point on, clockwise from north [rad].
    crr : FloatArray, optional
        Rolling-resistance coefficient from this point on.
    shelter : FloatArray, optional
        Share of the open wind that the rider feels from this point on, 0 to 1.
    max_speed : FloatArray, optional
        Speed ceiling from this point on [m/s].
    notes : tuple of str
        What the reader chose or left out, one sentence each.
    """

    source: str
    form: str
    distance: FloatArray | None = None
    latitude: FloatArray | None = None
    longitude: FloatArray | None = None
    elevation: FloatArray | None = None
    time: FloatArray | None = None
    bearing: FloatArray | None = None
    crr: FloatArray | None = None
    shelter: FloatArray | None = None
    max_speed: FloatArray | None = None
    notes: tuple[str, ...] = ()
