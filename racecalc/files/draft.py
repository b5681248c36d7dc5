"""A race file while it is worked on: its steps, what is wrong with it, what is remembered."""

import json
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from racecalc.errors import InputError
from racecalc.files.opening import read_text
from racecalc.files.race_file import (
    key_lines,
    parse_toml,
    read_race_file,
    refuse_unknown_key,
)
from racecalc.files.race_keys import LISTS, RACE_KEYS
from racecalc.files.race_values import nearest, read_checked
from racecalc.files.race_writing import replace_file

# --- A race file while it is edited --------------------------------------------------------------

MOST_STEPS = 500
"""Steps back that are kept; our choice, a long evening of work."""


@dataclass(frozen=True)
class Spot:
    """Where a value stands in a race file."""

    table: str
    """Key of `RACE_KEYS`."""
    key: str
    """Key in that table."""
    number: int = 0
    """Number of the table among those of its name, from 0."""

    def __str__(self) -> str:
        where = f"{self.table} {self.number + 1}" if self.table in LISTS else self.table
        return f"{where}, {self.key.replace('_', ' ')}"


@dataclass(frozen=True)
class ChangedValue:
    """A value that two texts of a race give differently."""

    words: str
    """Where it stands, in words."""
    spot: Spot | None
    """The same in the text in hand; None for a whole table that was added or taken out."""
    before: object
    after: object
    """As TOML gives it; None where there is nothing."""


class Draft:
    """A race file in the making; comments, order and the owner's words stay.

    Parameters
    ----------
    path : Path
        Where it lies, or will.
    saved : str
        What is on disk.
    text : str, optional
        Where to go on from, such as a recovery copy; what is on disk unless given.

    Raises
    ------
    InputError
        If a text is no TOML.
    """

    def __init__(self, path: Path, saved: str, text: str | None = None) -> None:
        self.path = path
        self.saved = saved
        self._texts = [saved]
        self._now = 0
        self._about: object = None
        self._styled: Any = None
        self._parse(saved)
        if text is not None and text != saved:
            self._parse(text)
            self._step(text, None)

    @classmethod
    def opened(cls, path: Path) -> "Draft":
        """Read a race file to edit."""
        return cls(path, read_text(path))

    @property
    def text(self) -> str:
        """As it stands now."""
        return self._texts[self._now]

    @property
    def unsaved(self) -> bool:
        """Whether it differs from what is on disk."""
        return self.text != self.saved

    @property
    def can_undo(self) -> bool:
        """Whether there is a step back."""
        return self._now > 0

    @property
    def can_redo(self) -> bool:
        """Whether a step was taken back."""
        return self._now + 1 < len(self._texts)

    def undo(self) -> None:
        """Take the last step back, if there is one."""
        self._move(-1 if self.can_undo else 0)

    def redo(self) -> None:
        """Take the step forth again that was taken back, if there is one."""
        self._move(1 if self.can_redo else 0)

    def value(self, spot: Spot) -> object:
        """The value at a spot as TOML gives it, or None where there is none."""
        entries = self.entries(spot.table)
        return entries[spot.number].get(spot.key) if spot.number < len(entries) else None

    def entries(self, table: str) -> list[Mapping[str, Any]]:
        """The tables of a name: at most one, unless it is one of `LISTS`."""
        return entries_of(self._plain, table)

    def words(self, spot: Spot) -> str:
        """A spot in words, with the name of its table where a list has one."""
        entries = self.entries(spot.table)
        named = entries[spot.number].get("name") if spot.number < len(entries) else None
        key = spot.key.replace("_", " ")
        return f"{named}, {key}" if spot.table in LISTS and named else str(spot)

    def write(self, spot: Spot, value: object) -> None:
        """Write a value, or take its key out with None; typing on at one spot is one step."""
        with self._changing(spot):
            table = self._table(spot)
            if value is None:
                table.pop(spot.key, None)
            else:
                table[spot.key] = value

    def add(self, table: str, values: Mapping[str, object]) -> int:
        """Add a table to a list, and return its number."""
        import tomlkit

        with self._changing(None):
            added = tomlkit.table()
            for key, value in values.items():
                added.append(key, value)
            owner, name = self._owner(table)
            _part(owner, name, "aot").append(added)
        return len(self.entries(table)) - 1

    def remove(self, table: str, number: int) -> None:
        """Take a table out of a list."""
        with self._changing(None):
            owner, name = self._owner(table)
            del owner[name][number]
            if not owner[name]:
                del owner[name]

    @contextmanager
    def _changing(self, about: object) -> Iterator[None]:
        """Let the document be changed inside; the text follows, or all stays as it was."""
        from tomlkit.exceptions import TOMLKitError

        try:
            yield
            self._step(self._dumped(), about)
        except (TypeError, AttributeError, TOMLKitError, InputError) as error:
            self._parse(self.text)
            raise InputError(
                self.path.name,
                "writes this table in a way that cannot be changed here",
                "write it as [table] or [[table]] with a line for each key",
            ) from error

    def save(self, path: Path | None = None) -> None:
        """Write it to disk in one step, and to another file if one is named."""
        target = path or self.path
        replace_file(target, self.text)
        self.path, self.saved, self._about = target, self.text, None

    def changed_on_disk(self) -> bool:
        """Whether the file is no longer what was read or saved last; a missing one is not."""
        if not self.path.exists():
            return False
        try:
            return read_text(self.path) != self.saved
        except InputError:
            return True

    def differences(self, other: str) -> tuple[ChangedValue, ...]:
        """What another text of the race says otherwise, tables of a list known by their name."""
        theirs = _content(other)
        return tuple(one for table in RACE_KEYS for one in self._differing(table, theirs))

    def _differing(self, table: str, theirs: Mapping[str, Any]) -> Iterator[ChangedValue]:
        before, after = entries_of(theirs, table), self.entries(table)
        if table not in LISTS:
            yield from self._in_table(table, 0, *((one or [{}])[0] for one in (before, after)))
            return
        former = {_name_of(entry, number): entry for number, entry in enumerate(before)}
        for number, entry in enumerate(after):
            name = _name_of(entry, number)
            if name in former:
                yield from self._in_table(table, number, former.pop(name), entry)
            else:
                yield ChangedValue(f"{table} {name}", None, None, "added")
        for name in former:
            yield ChangedValue(f"{table} {name}", None, "present", None)

    def _in_table(
        self, table: str, number: int, before: Mapping[str, Any], after: Mapping[str, Any]
    ) -> Iterator[ChangedValue]:
        for key in dict.fromkeys((*before, *after)):
            if before.get(key) != after.get(key) and key in RACE_KEYS[table]:
                spot = Spot(table, key, number)
                yield ChangedValue(self.words(spot), spot, before.get(key), after.get(key))

    def _table(self, spot: Spot) -> Any:
        owner, name = self._owner(spot.table)
        if spot.table in LISTS:
            return owner.get(name, [])[spot.number]
        return _part(owner, name, "table")

    def _owner(self, table: str) -> tuple[Any, str]:
        """What holds a table, and its name there."""
        *above, name = table.split(".")
        owner: Any = self._document
        for one in above:
            owner = _part(owner, one, "table")
        return owner, name

    def _dumped(self) -> str:
        import tomlkit

        text = tomlkit.dumps(self._document)
        if "\r\n" in self.saved:
            # The owner's line ends, also where lines were added.
            text = text.replace("\r\n", "\n").replace("\n", "\r\n")
        return text

    def _step(self, text: str, about: object) -> None:
        if text == self.text:
            return
        self._plain = parse_toml(text, str(self.path))
        goes_on = about is not None and about == self._about and not self.can_redo
        kept = self._texts[: self._now if goes_on else self._now + 1]
        # Typing a value back leaves no step that does nothing.
        steps = kept if kept and kept[-1] == text else [*kept, text]
        self._texts = steps[-MOST_STEPS:]
        self._now, self._about = len(self._texts) - 1, about

    def take(self, text: str) -> None:
        """Go on with another text of the race, as a step that can be undone."""
        self._parse(text)
        self._step(text, None)

    def reload(self, text: str) -> None:
        """Take over what another program wrote to the file; the text until now is one step back."""
        self.take(text)
        self.saved = text

    def end_step(self) -> None:
        """Let what is written next at the same spot be a step of its own."""
        self._about = None

    def _move(self, by: int) -> None:
        self._now += by
        self._about = None
        self._parse(self.text)

    @property
    def _document(self) -> Any:
        """The text with its comments and layout, read when something is first written."""
        import tomlkit

        if self._styled is None:
            self._styled = tomlkit.parse(self.text)
        return self._styled

    def _parse(self, text: str) -> None:
        self._plain = parse_toml(text, str(self.path))
        self._styled = None


def _part(owner: Any, name: str, kind: Literal["table", "aot"]) -> Any:
    """A table, or list of tables, in what holds it; made where it is not there."""
    import tomlkit

    if name not in owner:
        owner.append(name, getattr(tomlkit, kind)())
    return owner[name]


@lru_cache(maxsize=8)
def _content(text: str) -> dict[str, Any]:
    """That of a text, which is compared with again and again while another is edited."""
    return parse_toml(text, "race file")


def entries_of(content: Mapping[str, Any], table: str) -> list[Mapping[str, Any]]:
    """The tables of a name: at most one, unless it is one of `LISTS`."""
    found: Any = content
    for name in table.split("."):
        found = found.get(name, {}) if isinstance(found, Mapping) else {}
    if isinstance(found, list):
        return [one for one in found if isinstance(one, Mapping)]
    return [found] if found and isinstance(found, Mapping) else []


# --- All that cannot be read in a text -----------------------------------------------------------

MOST_FAULTS = 9
"""Lines that are no TOML that are told at once; our choice."""


@dataclass(frozen=True)
class Fault:
    """Something in the text of a race that cannot be read."""

    line: int
    """Where, from 1; 0 where that cannot be said."""
    problem: str
    """What is wrong, and what would do."""
    spot: Spot | None = None
    """The key with a wrong value; None where it is more than a value that is wrong."""

    def __str__(self) -> str:
        return f"line {self.line}: {self.problem}" if self.line else self.problem


def faults_of(text: str) -> tuple[Fault, ...]:
    """All that cannot be read in the text of a race, in the order of its lines."""
    content, faults = _read_as_far_as_it_goes(text)
    if not faults:
        lines = key_lines(text)
        tables = [name for name in RACE_KEYS if "." not in name]
        faults = [
            Fault(lines.get((one, 0, ""), 0), f"there is no table '{one}'; {nearest(one, tables)}")
            for one in content
            if one not in tables
        ]
        for table in RACE_KEYS:
            for number, entry in enumerate(entries_of(content, table)):
                faults += _faults_in(Spot(table, "", number), entry, lines)
    if faults and all(fault.spot for fault in faults) and _can_be_read(text):
        # Such as a power for each kilogram, which the whole file makes one of watts.
        return ()
    return tuple(sorted(faults, key=lambda fault: fault.line))


def _can_be_read(text: str) -> bool:
    try:
        read_race_file(Path(), text=text)
    except InputError:
        return False
    return True


def _read_as_far_as_it_goes(text: str) -> tuple[dict[str, Any], list[Fault]]:
    """What TOML reads when each line that it stumbles over is passed over, and those lines."""
    lines, faults = text.splitlines(), list[Fault]()
    while True:
        try:
            return parse_toml("\n".join(lines), ""), faults
        except InputError as error:
            found = re.search(r"line (\d+)", error.place)
            number = int(found[1]) if found else len(lines)
            faults.append(Fault(number, _words(error)))
            passed = lines[number - 1 : number]
            # Without its title what follows a table would be told as wrong too.
            if len(faults) == MOST_FAULTS or not found or not passed or passed[0][:1] == "[":
                return {}, faults
            lines[number - 1 : number] = [""]


def _words(error: InputError) -> str:
    return "; ".join(filter(None, (error.problem, error.remedy)))


def _faults_in(
    spot: Spot, entry: Mapping[str, Any], lines: Mapping[tuple[str, int, str], int]
) -> Iterator[Fault]:
    keys = RACE_KEYS[spot.table]
    parts = {one.rpartition(".")[2] for one in RACE_KEYS if one.startswith(f"{spot.table}.")}
    for key, value in entry.items():
        line, known = lines.get((spot.table, spot.number, key), 0), key in keys
        try:
            if known:
                read_checked(keys[key], value, "", [])
            elif key not in parts:
                refuse_unknown_key(key, spot.table, "")
        except InputError as error:
            yield Fault(line, _words(error), replace(spot, key=key) if known else None)


def _name_of(entry: Mapping[str, Any], number: int) -> str:
    """By what a table of a list is known: its name, else its place."""
    return str(entry.get("name") or number + 1)


# --- What is remembered from one start of the terminal interface to the next ---------------------

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
