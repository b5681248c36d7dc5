"""Every input of a race file as it can be written, for whoever wants to repeat an answer."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from racecalc.errors import InputError
from racecalc.files.opening import read_bytes
from racecalc.files.race_file import make_change, parse_toml

SHOWN_OF_DIGEST = 16
"""Hexadecimal digits of a digest that are kept: enough to tell two files apart."""

FILES_OF = {"course": "file", "option": "trial"}
"""Key that names a file, by its table."""


@dataclass(frozen=True)
class RaceInput:
    """A value of a race file."""

    table: str
    """Where it stands, with its number for a listed table, as "option 3"."""
    key: str
    """Its key."""
    value: object
    """What TOML reads it to."""

    @property
    def written(self) -> str:
        """Its value as it can be written again."""
        from tomlkit import item

        return item(self.value).as_string()


@dataclass(frozen=True)
class SourceFile:
    """A file that an answer rests on."""

    name: str
    """Without its folder."""
    digest: str
    """First digits of the SHA-256 of its content; empty where it cannot be read any more."""


def inputs_of(text: str, name: str, changes: Iterable[str] = ()) -> tuple[RaceInput, ...]:
    """Every value that a race file gives, changes included, as it can be written again."""
    content = parse_toml(text, name)
    for change in changes:
        make_change(content, change, change)
    return tuple(_given(content, ""))


def _given(content: Mapping[str, Any], before: str) -> Iterator[RaceInput]:
    """Tables by their names; a listed one has its number behind it."""
    for name, table in content.items():
        place = f"{before}{name}"
        if isinstance(table, dict):
            values = {key: one for key, one in table.items() if not _is_list_of_tables(one)}
            yield from (RaceInput(place, key, one) for key, one in values.items())
            yield from _given({key: table[key] for key in table.keys() - values}, f"{place}.")
        elif _is_list_of_tables(table):
            numbered = {f"{name} {number}": one for number, one in enumerate(table, 1)}
            yield from _given(numbered, before)


def _is_list_of_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def sources_of(path: Path, content: bytes, inputs: Iterable[RaceInput]) -> tuple[SourceFile, ...]:
    """The race file, its course and the tables of its tests, each with what tells it apart."""
    named = [str(one.value) for one in inputs if one.key == FILES_OF.get(one.table.split(" ")[0])]
    paths = [path.parent / name for name in dict.fromkeys(named)]
    return (
        SourceFile(path.name, _digest(content)),
        *(SourceFile(one.name, _digest_of_file(one)) for one in paths),
    )


def _digest_of_file(path: Path) -> str:
    try:
        return _digest(read_bytes(path))
    except InputError:
        return ""


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHOWN_OF_DIGEST]
