"""Open files that a user names: every way in which that can fail, said in one line."""

import difflib
import os
import re
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache, wraps
from pathlib import Path
from typing import TypeVar
from xml.etree.ElementTree import Element, ParseError, fromstring

from racecalc.errors import InputError

Read = TypeVar("Read")

MOST_BYTES = 64 * 1024 * 1024
MOST_TEXT = 1024 * 1024
"""Largest file that is read, and largest race file [byte]; a day's recording at one point a second
is a tenth of the one, fifty options a hundredth of the other."""

MOST_VALUES = 5_000_000
"""Most cells of a table or fields of FIT in one file, an element of XML taking the room of four;
a day's recording at one point a second with forty fields each has fewer."""

CUT = "cut it down to the part that matters"

_ENTITIES = re.compile(r"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)


Stamp = tuple[int, ...] | None
"""What changes whenever a file is written; None where there is no file."""

_NOTES: ContextVar[dict[Path, Stamp] | None] = ContextVar("notes", default=None)


def stamp_of(path: Path) -> Stamp:
    """The stamp of a file as it is now."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


@contextmanager
def noting_files(notes: dict[Path, Stamp]) -> Iterator[None]:
    """Note every file that is read inside, as it was before; for the thread that reads."""
    token = _NOTES.set(notes)
    try:
        yield
    finally:
        _NOTES.reset(token)


def _noted(path: Path) -> Stamp:
    stamp, notes = stamp_of(path), _NOTES.get()
    if notes is not None:
        notes.setdefault(path, stamp)
    return stamp


def remembered(read: Callable[..., Read]) -> Callable[..., Read]:
    """Let a reader of a file give what it gave before for as long as the file stays as it is.

    The same file gives the very same object, which must not be changed.
    """

    @lru_cache(maxsize=32)
    def as_it_stands(path: Path, _: Stamp, *more: Hashable) -> Read:
        return read(path, *more)

    @wraps(read)
    def reader(path: Path, *more: Hashable) -> Read:
        stamp = _noted(path)
        return as_it_stands(path, stamp, *more) if stamp else read(path, *more)

    return reader


def reader_of(path: Path, readers: Mapping[str, Read], what: str) -> Read:
    """The reader for the ending of a name."""
    if reader := readers.get(path.suffix.lower()):
        return reader
    ending = f"the ending '{path.suffix}' is" if path.suffix else "a name without ending is"
    raise InputError(str(path), f"{ending} not that of {what}", "read are " + ", ".join(readers))


def _missing(path: Path) -> InputError:
    folder = path.parent
    try:
        names = [entry.name for entry in folder.iterdir()]
    except OSError:
        return InputError(str(path), "there is no such file", f"the folder {folder} is not there")
    kin = [name for name in names if Path(name).suffix.lower() == path.suffix.lower()]
    near = [one for one in difflib.get_close_matches(path.name, kin) if _fits(folder / one)]
    here = Path(path.name).exists() and folder.resolve() != Path.cwd()
    remedy = f"similar files there: {', '.join(near)}" if near else "check the name"
    remedy = f"a race file names files from its own folder, here {folder}" if here else remedy
    return InputError(str(path), "there is no such file", remedy)


def _fits(path: Path) -> bool:
    """Whether a file may be meant: of the TOML files only races."""
    if path.suffix.lower() != ".toml":
        return True
    try:
        return bool(re.search(r"(?m)^\s*(\[rider\]|rider\b)", read_text(path)))
    except InputError:
        return False


MOST_NAMED = 3
"""Race files that an error names; our choice."""


def folder_named(path: Path) -> InputError:
    """The error for a folder in the place of a file, with the race files in it."""
    files = sorted(path.glob("*.toml"), key=lambda one: (one.name != "race.toml", one.name))
    races = [str(one) for one in files if _fits(one)][:MOST_NAMED]
    named = f", such as {', '.join(races)}" if races else ""
    return InputError(str(path), "this is a folder", f"name a file in it{named}")


def _trail(path: Path) -> str:
    """Where a link leads, until it ends or comes back."""
    passed: list[Path] = []
    while path.is_symlink() and path not in passed:
        passed.append(path)
        path = path.parent / path.readlink()
    return " -> ".join(one.name for one in (*passed, path))


def _check_openable(path: Path, most: int) -> None:
    if path.is_dir():
        raise folder_named(path)
    if path.is_symlink() and not path.exists():
        raise InputError(str(path), f"this link leads nowhere: {_trail(path)}", "mend the link")
    if not path.exists():
        raise _missing(path)
    if not path.is_file():
        raise InputError(str(path), "this is not an ordinary file", "save it to one first")
    size = path.stat().st_size
    if size > most:
        held = f"the file has {size / 1024**2:.0f} MB, more than {most // 1024**2} MB"
        raise InputError(str(path), held, CUT)
    if size == 0:
        raise InputError(str(path), "the file is empty", "save it again from where it came")


def read_bytes(path: Path, most: int = MOST_BYTES) -> bytes:
    """Read a whole file, of so many bytes at most."""
    _noted(path)
    try:
        _check_openable(path, most)
        return path.read_bytes()
    except InputError:
        raise
    except (OSError, ValueError) as error:
        problem = f"the file cannot be read ({getattr(error, 'strerror', None) or error})"
        raise InputError(str(path), problem, "check its name and its permissions") from error


def read_text(path: Path) -> str:
    """Read a whole race file in UTF-8, with or without a byte-order mark."""
    return decoded(read_bytes(path, MOST_TEXT), path)


def refuse_many(path: Path, values: int) -> None:
    """Refuse a file that holds more values than can be worked through."""
    if values > MOST_VALUES:
        raise InputError(str(path), f"the file holds more than {MOST_VALUES:,} values", CUT)


def decoded(content: bytes, path: Path) -> str:
    """Text of a file in UTF-8, with or without a byte-order mark."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        problem = f"the byte {content[error.start]:#04x} is not text in UTF-8"
        remedy = "save the file with the encoding UTF-8"
        raise InputError(f"{path}, line {line}", problem, remedy) from error


def read_xml(path: Path) -> Element:
    """Read an XML file, refusing declarations that could blow up on parsing."""
    text = decoded(read_bytes(path), path)
    # An element has one or two of them, an attribute is a value too.
    refuse_many(path, max(2 * text.count("<"), text.count("=")))
    if found := _ENTITIES.search(text):
        line = text.count("\n", 0, found.start()) + 1
        problem = f"a {found[1].upper()} declaration is here, which could hide an entity bomb"
        raise InputError(f"{path}, line {line}", problem, "delete it; course files need none")
    if not text.lstrip().startswith("<"):
        problem = "this is not XML: it does not begin with '<'"
        raise InputError(f"{path}, line 1", problem, "check the file")
    try:
        return fromstring(text)  # noqa: S314 - without declarations there is nothing to blow up
    except (ParseError, ValueError) as error:
        line = error.position[0] if isinstance(error, ParseError) else 1
        problem = f"the XML breaks off or is malformed here ({str(error).split(':')[0]})"
        remedy = "save the file again from where it came"
        raise InputError(f"{path}, line {line}", problem, remedy) from error


COURSES = "RACECALC_COURSES"
"""Variable of the environment that names a folder of courses, such as those of a squad."""


def course_path(name: str, folder: Path) -> Path:
    """A file that a race file names: in its own folder, or in the one of shared courses."""
    own = folder / name
    shared = Path(os.environ.get(COURSES, "")) / name
    return shared if COURSES in os.environ and shared.exists() and not own.exists() else own


def typed_path(text: str, folder: Path) -> Path:
    """The path that somebody typed, from a folder where it is not whole; "~" is their home."""
    bare = text.strip()
    if not bare:
        raise InputError("path", "nothing is typed", "type the name of a file")
    try:
        path = folder / Path(bare).expanduser()
        path.lstat()
    except FileNotFoundError:
        pass
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError("path", f"{bare[:60]!r} cannot be a path", "check it") from error
    return path
