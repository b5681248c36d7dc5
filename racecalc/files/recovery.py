"""A copy of unsaved changes beside a race file, so that a crash or a kill loses next to nothing."""

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from itertools import count
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.draft import memory_path
from racecalc.files.opening import read_text
from racecalc.files.race_writing import clear_leftovers, lock, replace_file

FIRST_LINE = (
    "# Unsaved changes, kept by racecalc for the next start; made from a file with SHA-256 "
)

MOST_COPIES = 20
"""Copies of one file that are looked for; our choice, far more than anybody opens at once."""


@dataclass(frozen=True)
class KeptCopy:
    """What a recovery copy holds."""

    path: Path
    """Where it is."""
    text: str
    """The race file as it was edited."""
    at: datetime
    """When it was kept, in local time."""
    file_changed: bool
    """Whether the race file itself was changed since by something else."""


def copy_path(path: Path, number: int = 1) -> Path:
    """Where a copy of a race file is kept: beside it, so that its course is found from there."""
    return path.with_name(f".{path.name}.unsaved{'' if number == 1 else f'-{number}'}")


def drop_copy(copy: Path) -> None:
    """Remove a copy; none is fine."""
    try:
        copy.unlink(missing_ok=True)
    except OSError as error:
        problem = f"cannot be removed: {error.strerror}"
        raise InputError(str(copy), problem, "remove it yourself") from error


def read_copy(copy: Path, saved: str) -> KeptCopy | None:
    """What a copy holds; None where it cannot be read, or says the same as the file."""
    try:
        first, _, text = read_text(copy).partition("\n")
    except InputError:
        # Not there, or torn by a loss of power: it holds nothing, and keeps nobody from the race.
        return None
    if not first.startswith(FIRST_LINE) or text == saved:
        return None
    at = datetime.fromtimestamp(copy.stat().st_mtime, UTC).astimezone()
    return KeptCopy(copy, text, at, first.removeprefix(FIRST_LINE) != _mark(saved))


def _mark(text: str) -> str:
    return sha256(text.encode()).hexdigest()


class Recovery:
    """The copy that this program keeps of one race file; every other that is open has its own.

    Which are open is told by locks, which end with the program however it ends.
    """

    def __init__(self, path: Path) -> None:
        self._race_file = path
        self._number, self._lock = _claimed(path)
        clear_leftovers(path, self.path)

    @property
    def path(self) -> Path:
        """Where the copy is kept."""
        return copy_path(self._race_file, self._number)

    def keep(self, text: str, saved: str) -> None:
        """Keep the unsaved text of the race file, in one step."""
        replace_file(self.path, f"{FIRST_LINE}{_mark(saved)}\n{text}")

    def drop(self) -> None:
        """Remove the copy, as after saving."""
        drop_copy(self.path)

    def left_behind(self, saved: str) -> tuple[KeptCopy, ...]:
        """What was left unsaved by programs that have ended, one's own predecessor first."""
        others = [one for one in range(1, MOST_COPIES + 1) if one != self._number]
        found = [read_copy(self.path, saved)]
        for number in others:
            copy = copy_path(self._race_file, number)
            if copy.is_file() and _is_free(self._race_file, number):
                found.append(read_copy(copy, saved))
        return tuple(filter(None, found))

    def release(self) -> None:
        """Let another program have this copy."""
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None


def _claimed(path: Path) -> tuple[int, int | None]:
    """The first number that no other open program has, and its lock."""
    for number in count(1):
        try:
            handle = _locked(path, number)
        except OSError:
            # Where nothing can be locked, programs share a copy.
            return 1, None
        if handle is not None:
            return number, handle
    raise AssertionError


def _is_free(path: Path, number: int) -> bool:
    """Whether no open program has a number."""
    try:
        handle = _locked(path, number)
    except OSError:
        return False
    if handle is not None:
        os.close(handle)
    return handle is not None


def _locked(path: Path, number: int) -> int | None:
    """Lock a number of a race file; None where another program has it."""
    folder = memory_path().parent / "open"
    folder.mkdir(parents=True, exist_ok=True)
    name = sha256(str(path.resolve()).encode()).hexdigest()[:16]
    handle, claimed = os.open(folder / f"{name}-{number}", os.O_RDWR | os.O_CREAT, 0o600), False
    try:
        claimed = lock(handle)
    finally:
        if not claimed:
            os.close(handle)
    return handle if claimed else None
