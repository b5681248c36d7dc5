"""Writing to a race file without losing its owner's comments, order or words."""

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.opening import read_text
from racecalc.files.race_changes import make_change
from racecalc.files.race_file import parse_toml, read_race_file

WHERE_TO_LOOK = "check the permissions and the space of its folder"


def write_changes(path: Path, changes: Iterable[str]) -> None:
    """Write changes into a race file and leave all else as it stands.

    The new text is checked as a race file before the old one is replaced, and it replaces the
    old one in a single step, so that the file is whole at every moment.

    Parameters
    ----------
    path : Path
        The race file.
    changes : iterable of str
        ``table.key=value``, as `read_race_file` takes them.

    Raises
    ------
    InputError
        If the file or a change will not do; nothing is written then.
    """
    import tomlkit

    changes = list(changes)
    read_race_file(path, changes)
    text = read_text(path)
    parse_toml(text, str(path))
    document = tomlkit.parse(text)
    for change in changes:
        make_change(document, change, change)
    replace_file(path, tomlkit.dumps(document))


def write_new_file(path: Path, content: str | bytes) -> None:
    """Write a file that is not there yet; text in UTF-8.

    Raises
    ------
    InputError
        If the file is there already or cannot be written.
    """
    refuse_to_write(path)
    replace_file(path, content)


def refuse_to_write(path: Path) -> None:
    """Refuse a file that is there already, or whose folder is not.

    Raises
    ------
    InputError
        As said.
    """
    if path.exists() or path.is_symlink():
        raise InputError(str(path), "is there already", "name another file")
    refuse_without_folder(path)


def refuse_without_folder(path: Path) -> None:
    """Refuse a file whose folder is not there.

    Raises
    ------
    InputError
        As said.
    """
    if not path.parent.is_dir():
        raise InputError(str(path), f"there is no folder '{path.parent}'", "make it first")


def replace_file(path: Path, content: str | bytes) -> None:
    """Replace a file in one step: a temporary file beside it, flushed, then renamed.

    Raises
    ------
    InputError
        If the folder or the file cannot be written; the old file stays.
    """
    target = path.resolve()
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".new")
    except OSError as error:
        raise InputError(
            str(path), f"cannot be written: {error.strerror}", WHERE_TO_LOOK
        ) from error
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(target.stat().st_mode if target.exists() else _usual_mode())
        temporary.replace(target)
    except OSError as error:
        raise InputError(
            str(path), f"cannot be written: {error.strerror}", WHERE_TO_LOOK
        ) from error
    finally:
        temporary.unlink(missing_ok=True)


def _usual_mode() -> int:
    """Permissions of a new file; a temporary one is for its owner alone."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
