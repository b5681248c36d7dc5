"""Writing files: changes of a race file, a new folder to start from, tables."""

import csv
import io
import os
import re
import stat
import tempfile
import time
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from importlib.resources import files
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.opening import read_bytes, read_text
from racecalc.files.race_file import make_changes, parse_toml, read_race_file
from racecalc.files.race_keys import Key
from racecalc.files.tables import marked_as_text, read_table_text, separator
from racecalc.files.tracks import read_track

# --- Writing to a race file without losing its owner's comments, order or words ------------------

WHERE_TO_LOOK = "check the permissions and the space of its folder"


def write_changes(path: Path, changes: Iterable[str]) -> None:
    """Write changes into a race file and leave all else as it stands.

    The new text is checked as a race file before the old one is replaced, and it replaces the
    old one in a single step, so that the file is whole at every moment; one with several names or
    of another owner is written over, so that it keeps them. Of two who write at once
    the second starts from what the first wrote.
    """
    import tomlkit

    changes = list(changes)
    with alone_in(path.resolve().parent):
        read_race_file(path, changes)
        text = read_text(path)
        parse_toml(text, str(path))
        document = tomlkit.parse(text)
        make_changes(document, changes, "")
        _replace(path, tomlkit.dumps(document))


def write_new_file(path: Path, content: str | bytes) -> None:
    """Write a file that is not there yet; text in UTF-8."""
    refuse_to_write(path)
    replace_file(path, content)


def refuse_to_write(path: Path) -> None:
    """Refuse a file that is there already, or whose folder is not."""
    if path.exists() or path.is_symlink():
        raise InputError(str(path), "this exists already", "name another file")
    refuse_without_folder(path)


def refuse_without_folder(path: Path) -> None:
    """Refuse a file whose folder is not there."""
    if not path.parent.is_dir():
        raise InputError(str(path), f"there is no folder '{path.parent}'", "make it first")


def replace_file(path: Path, content: str | bytes) -> None:
    """Replace a file in one step: a temporary file next to it, flushed, then renamed.

    Raises
    ------
    InputError
        If it is read-only or not an ordinary file, or it cannot be written.
    """
    with alone_in(path.resolve().parent):
        _replace(path, content)


def _replace(path: Path, content: str | bytes) -> None:
    target, temporary = path.resolve(), None
    try:
        data = content.encode() if isinstance(content, str) else content
    except UnicodeEncodeError as error:
        problem = "the name of a file in it is not UTF-8"
        raise InputError(str(path), problem, "rename that file") from error
    try:
        before = target.stat() if target.exists() else None
        if before and not stat.S_ISREG(before.st_mode):
            raise InputError(str(path), "this is not an ordinary file", "name another file")
        if before and not before.st_mode & 0o222:
            raise InputError(str(path), "is read-only", "allow writing to it, or name another file")
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=NEW)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(before.st_mode if before else 0o666 & ~_MASK)
        if before and not _takes_the_place(temporary, before):
            _make_room(target, len(data))
            # From here on it is the only whole copy, until all is written over.
            temporary = None
            _write_over(target, data)
        else:
            temporary.replace(target)
        _clear(target)
    except OSError as error:
        problem = f"cannot be written: {error.strerror}"
        raise InputError(str(path), problem, WHERE_TO_LOOK) from error
    finally:
        if temporary:
            temporary.unlink(missing_ok=True)


NEW = ".new"
"""Ending of a file that is being written."""


def _left_of(target: Path) -> list[Path]:
    """What writers that were killed left of a file; who is alone meets no other's."""
    start = f".{target.name}."
    with suppress(OSError):
        return [
            one
            for one in target.parent.iterdir()
            if one.name.startswith(start) and one.name.endswith(NEW)
        ]
    return []


def _clear(target: Path) -> None:
    for one in _left_of(target):
        # Those of others may have to stay, as in a folder where each removes only their own.
        with suppress(OSError):
            one.unlink(missing_ok=True)


def _takes_the_place(temporary: Path, before: os.stat_result) -> bool:
    """Whether a new file can have the owner and all the names of the old one."""
    if before.st_nlink > 1:
        return False
    if _of_another(before):
        try:
            os.chown(temporary, before.st_uid, before.st_gid)
        except PermissionError:
            return False
    return True


def _of_another(before: os.stat_result) -> bool:
    return os.name == "posix" and (before.st_uid, before.st_gid) != (os.getuid(), os.getgid())


def _make_room(target: Path, size: int) -> None:
    """Take the room before a byte of the old file goes; where there is none it stays as it was."""
    before = target.stat().st_size
    try:
        with target.open("ab") as file:
            file.write(bytes(max(size - before, 0)))
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        os.truncate(target, before)
        raise


def _write_over(target: Path, data: bytes) -> None:
    """Write into a file that keeps its names."""
    with target.open("r+b") as file:
        file.write(data)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())


def clear_leftovers(*targets: Path) -> None:
    """Remove what writers that were killed left of race files, as far as it can be done now.

    It stays where it may be the only whole copy, until the next writer is done.
    """
    for one in targets:
        with suppress(OSError, InputError), alone_in(one.resolve().parent):
            target = one.resolve()
            if _left_of(target) and not _may_be_torn(target):
                _clear(target)


def _may_be_torn(target: Path) -> bool:
    """Whether a writer may have been killed while it wrote over a race file."""
    if not target.exists():
        return False
    before = target.stat()
    if before.st_nlink > 1 or _of_another(before):
        return True
    try:
        parse_toml(read_text(target), str(target))
    except InputError:
        return True
    return False


PATIENCE = 2.0
"""How long to wait for another program that writes [s]; writing takes a hundredth of it."""


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Let no other racecalc write into a folder meanwhile; where folders have no locks, go on.

    Raises
    ------
    InputError
        If another is still writing after two seconds.
    """
    with ExitStack() as stack:
        # Systems without such locks, or a folder that is not there: told when it is written to.
        with suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            stack.callback(os.close, handle)
            _wait_for(handle, folder)
        yield


def _wait_for(handle: int, folder: Path) -> None:
    end = time.monotonic() + PATIENCE
    while not lock(handle):
        if time.monotonic() > end:
            raise InputError(str(folder), "another program is writing there", "try again")
        time.sleep(0.02)


def lock(handle: int) -> bool:
    """Lock an open file or folder until it is closed; false where another has it.

    Raises
    ------
    OSError
        If it cannot be locked on this system.
    """
    try:
        import fcntl
    except ImportError as error:
        raise OSError(str(error)) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


_MASK = os.umask(0)
os.umask(_MASK)  # it can only be read by setting it: once, before there are threads


# --- A commented race file and a course to start from --------------------------------------------

NAMES = ("race.toml", "course.csv")


def write_starting_files(folder: Path, course: Path | None = None) -> tuple[Path, ...]:
    """Write the starting files into a folder, which is made if it is not there.

    A course of one's own is copied into it in the place of the made-up one.
    """
    if course is not None:
        read_track(course)
    names = (NAMES[0], course.name if course else NAMES[1])
    paths = tuple(folder / name for name in names)
    for path in paths:
        if path.exists():
            raise InputError(str(path), "this exists already", "name another folder")
    templates = files("racecalc.files") / "templates"
    race, own = ((templates / name).read_text(encoding="utf-8") for name in NAMES)
    race = race.replace(f'file = "{NAMES[1]}"', f'file = "{names[1]}"')
    with folder_for(folder):
        try:
            replace_file(paths[0], race)
            replace_file(paths[1], read_bytes(course) if course else own)
        except InputError:
            paths[0].unlink(missing_ok=True)
            raise
    return paths


@contextmanager
def folder_for(folder: Path) -> Iterator[None]:
    """Make a folder, and those above it, for what is written inside; an empty one goes again."""
    new = [one for one in (folder, *folder.parents) if not one.exists()]
    try:
        _make(folder)
        yield
    finally:
        with suppress(OSError):
            for one in new:
                one.rmdir()


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        problem = f"cannot be a folder: {error.strerror}"
        raise InputError(str(folder), problem, "name another one") from error


# --- Values of a race file as they are typed into a field, and back ------------------------------


def as_typed(value: object) -> str:
    """A value as it is shown in a field: texts without quotes, all else as TOML writes it.

    Examples
    --------
    >>> as_typed("262 W"), as_typed(0.0042), as_typed(True), as_typed(["95 %", "85 %"])
    ('262 W', '0.0042', 'true', '["95 %", "85 %"]')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return str(value)
    import tomlkit

    return tomlkit.item(value).as_string()


def from_typed(key: Key, text: str) -> object:
    """What to write into the file for a text typed into the field of a key; None for nothing.

    Examples
    --------
    >>> from racecalc.files.race_keys import RACE_KEYS
    >>> from_typed(RACE_KEYS["bike"]["crr"], "0.0042"), from_typed(RACE_KEYS["race"]["name"], "7")
    (0.0042, '7')
    """
    bare = text.strip()
    if not bare:
        return None
    if key.form in ("text", "word", "money"):
        return bare
    try:
        value: object = tomllib.loads(f"value = {bare}")["value"]
    except (ValueError, RecursionError):
        # What is no TOML, or more digits or brackets than Python reads, stays the text it is.
        return bare
    return value if isinstance(value, int | float | list | dict) else bare


# --- Tables as CSV, never over a file that is there ----------------------------------------------


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    r"""Rows as CSV, each line ended; what a spreadsheet would reckon out is marked as text.

    Examples
    --------
    >>> csv_text([["=1+1", "-0.5", "Suit"]])
    "'=1+1,-0.5,Suit\n"
    """
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(
        [marked_as_text(cell) for cell in row] for row in rows
    )
    return text.getvalue()


def write_csv(path: Path, rows: Iterable[Sequence[str]]) -> None:
    """Write rows, the heading first, as CSV in UTF-8."""
    write_new_file(path, csv_text(rows))


def write_cells(path: Path, name: str, cells: Mapping[int, str]) -> None:
    """Set cells of a column of a CSV table by their line, from 1; all else stays as it is.

    A column that the table lacks is added.

    Raises
    ------
    InputError
        If a row goes over several lines, or the file cannot be written.
    """
    with alone_in(path.resolve().parent):
        text, encoding = read_table_text(path)
        text = _with_cells(path, text, name, cells)
        try:
            content = text.encode(encoding)
        except UnicodeEncodeError:
            content = text.encode("utf-8-sig")
        _replace(path, content)


def _with_cells(path: Path, text: str, name: str, cells: Mapping[int, str]) -> str:
    mark = separator(text)
    # What ends a line for a table; other characters that part lines may be within a cell.
    parts = re.split("(\r\n|\r|\n)", text)
    lines = parts[::2]
    rows = [at for at, line in enumerate(lines) if line.strip() and not line.startswith("#")]
    try:
        table = {at: next(csv.reader([lines[at]], delimiter=mark, strict=True)) for at in rows}
    except csv.Error as error:
        problem = "a row of it goes over several lines"
        raise InputError(str(path), problem, "write each row on a line of its own") from error
    heading = [one.strip().lower() for one in table[rows[0]]]
    if name not in heading:
        lines[rows[0]] += f"{mark}{name}"
        heading.append(name)
    place = heading.index(name)
    for line, cell in cells.items():
        row = table[line - 1]
        row += [""] * (place + 1 - len(row))
        row[place] = cell
        lines[line - 1] = _csv_line(row, mark)
    parts[::2] = lines
    return "".join(parts)


def _csv_line(cells: Sequence[str], mark: str) -> str:
    into = io.StringIO()
    csv.writer(into, delimiter=mark, lineterminator="").writerow(cells)
    return into.getvalue()
