"""What is remembered from one start of the terminal interface to the next."""

import json
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.race_writing import replace_file

MOST_RECENT = 12


def recent_files() -> tuple[Path, ...]:
    """Race files that were opened, the last one first, as far as they are still there."""
    listed = _read().get("recent")
    names = listed if isinstance(listed, list) else []
    paths = (Path(name) for name in names if isinstance(name, str))
    return tuple(path for path in paths if _is_there(path))


def remember_file(path: Path) -> None:
    """Put a race file at the head of those that were opened."""
    own = path.resolve()
    others = [one for one in recent_files() if one != own]
    _write({**_read(), "recent": [str(one) for one in (own, *others)][:MOST_RECENT]})


def remembered_word(name: str) -> str:
    """A choice of the user, such as the name of the theme; empty where none was made."""
    value = _read().get(name)
    return value if isinstance(value, str) else ""


def remember_word(name: str, value: str) -> None:
    """Keep a choice of the user."""
    if remembered_word(name) != value:
        _write({**_read(), name: value})


def memory_path() -> Path:
    """The file in the user's state directory that holds all this."""
    import platformdirs

    return Path(platformdirs.user_state_dir("racecalc", appauthor=False)) / "memory.json"


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:
        return False


def _read() -> dict[str, object]:
    # Whatever is wrong with it, it only spares the user some typing.
    try:
        found = json.loads(memory_path().read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _write(content: dict[str, object]) -> None:
    path = memory_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_file(path, json.dumps(content, indent=1))
    except (OSError, InputError):
        return
