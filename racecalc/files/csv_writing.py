"""Tables as CSV, never over a file that is there."""

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from racecalc.files.race_writing import write_new_file


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Rows as CSV, each line ended."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def write_csv(path: Path, rows: Iterable[Sequence[str]]) -> None:
    """Write rows, the heading first, as CSV in UTF-8.

    Raises
    ------
    InputError
        If the file is there already or cannot be written.
    """
    write_new_file(path, csv_text(rows))
