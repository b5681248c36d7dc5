"""A copy of unsaved changes beside a race file, so that a crash or a kill loses next to nothing."""

from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.opening import read_text
from racecalc.files.race_writing import replace_file

FIRST_LINE = (
    "# Unsaved changes, kept by racecalc for the next start; made from a file with SHA-256 "
)


@dataclass(frozen=True)
class Kept:
    """What a recovery copy holds.

    Parameters
    ----------
    text : str
        The race file as it was edited.
    at : datetime
        When it was kept, in local time.
    file_changed : bool
        Whether the race file itself was changed since by something else.
    """

    text: str
    at: datetime
    file_changed: bool


def copy_path(path: Path) -> Path:
    """Where the copy of a race file is kept: beside it, so that its course is found from there."""
    return path.with_name(f".{path.name}.unsaved")


def keep_copy(path: Path, text: str, saved: str) -> None:
    """Keep the unsaved text of a race file, in one step.

    Parameters
    ----------
    path : Path
        The race file.
    text, saved : str
        As edited, and as it was on disk.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """
    replace_file(copy_path(path), f"{FIRST_LINE}{_mark(saved)}\n{text}")


def drop_copy(path: Path) -> None:
    """Remove the copy, as after saving; none is fine.

    Raises
    ------
    InputError
        If it cannot be removed.
    """
    try:
        copy_path(path).unlink(missing_ok=True)
    except OSError as error:
        raise InputError(
            str(copy_path(path)), f"cannot be removed: {error.strerror}", "remove it yourself"
        ) from error


def kept_copy(path: Path, saved: str) -> Kept | None:
    """What was left unsaved at a race file; None where nothing was.

    Parameters
    ----------
    path : Path
        The race file.
    saved : str
        What it holds now.

    Raises
    ------
    InputError
        If there is a copy and it cannot be read.
    """
    copy = copy_path(path)
    if not copy.is_file():
        return None
    first, _, text = read_text(copy).partition("\n")
    if not first.startswith(FIRST_LINE) or text == saved:
        return None
    at = datetime.fromtimestamp(copy.stat().st_mtime, UTC).astimezone()
    return Kept(text, at, first.removeprefix(FIRST_LINE) != _mark(saved))


def _mark(text: str) -> str:
    return sha256(text.encode()).hexdigest()
