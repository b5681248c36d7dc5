"""A course file of any form to a track."""

from collections.abc import Callable, Mapping
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.course_csv import read_course_csv
from racecalc.files.fit import read_fit
from racecalc.files.gpx import read_gpx
from racecalc.files.opening import remembered
from racecalc.files.tcx import read_tcx
from racecalc.files.track import Track

READERS: Mapping[str, Callable[[Path], Track]] = {
    ".gpx": read_gpx,
    ".fit": read_fit,
    ".tcx": read_tcx,
    ".csv": read_course_csv,
}
"""Reader for each file name ending, in small letters."""


@remembered
def read_track(path: Path) -> Track:
    """Read the points of a course file.

    Parameters
    ----------
    path : Path
        File whose name ends in one of `READERS`, in small or capital letters.

    Returns
    -------
    Track
        At least two points, nothing cleaned yet.

    Raises
    ------
    InputError
        If the ending is another, or the file will not do; names file, line or point, value and
        what would do.
    """
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        ending = f"the ending '{path.suffix}' is" if path.suffix else "a name without ending is"
        raise InputError(
            str(path), f"{ending} not that of a course file", "read are " + ", ".join(READERS)
        )
    return reader(path)
