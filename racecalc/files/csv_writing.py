"""Tables as CSV, never over a file that is there."""

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.race_writing import replace_file


def write_csv(path: Path, rows: Iterable[Sequence[str]]) -> None:
    """Write rows, the heading first, as CSV in UTF-8.

    Raises
    ------
    InputError
        If the file is there already or cannot be written.
    """
    if path.exists():
        raise InputError(str(path), "is there already", "name another file")
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    replace_file(path, text.getvalue())
