"""Every input of a race file as it can be written, for whoever wants to repeat an answer."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from racecalc.errors import InputError
from racecalc.files.opening import read_bytes
from racecalc.files.race_changes import find_table, split_change
from racecalc.files.race_file import RaceFile, parse_toml

SHOWN_OF_DIGEST = 16
"""Hexadecimal digits of a digest that are kept: enough to tell two files apart."""


@dataclass(frozen=True)
class Given:
    """A value of a race file.

    Parameters
    ----------
    table : str
        Where it stands, with its number for a listed table, as "option 3".
    key : str
        Its key.
    written : str
        Its value as TOML.
    """

    table: str
    key: str
    written: str


@dataclass(frozen=True)
class Source:
    """A file that an answer rests on.

    Parameters
    ----------
    name : str
        Without its folder.
    digest : str
        First digits of the SHA-256 of its content; empty where it cannot be read any more.
    """

    name: str
    digest: str


def inputs_of(text: str, name: str, changes: Iterable[str] = ()) -> tuple[Given, ...]:
    """Every value that a race file gives, changes included, as it can be written again.

    Parameters
    ----------
    text : str
        The race file, which has been read without fault.
    name : str
        Its name, for messages.
    changes : iterable of str
        As `racecalc.files.race_file.read_race_file` takes them.
    """
    content = parse_toml(text, name)
    for change in changes:
        keys, value = split_change(change)
        table, _, _ = find_table(content, keys, change)
        table[keys[-1]] = value
    return tuple(_given(content, ""))


def _given(content: Mapping[str, Any], before: str) -> Iterator[Given]:
    """Tables by their names; a listed one has its number behind it."""
    from tomlkit import item

    for name, table in content.items():
        place = f"{before}{name}"
        if isinstance(table, dict):
            values = {key: one for key, one in table.items() if not _is_list_of_tables(one)}
            yield from (Given(place, key, item(one).as_string()) for key, one in values.items())
            yield from _given({key: table[key] for key in table.keys() - values}, f"{place}.")
        elif _is_list_of_tables(table):
            numbered = {f"{name} {number}": one for number, one in enumerate(table, 1)}
            yield from _given(numbered, before)


def _is_list_of_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def sources_of(file: RaceFile, content: bytes) -> tuple[Source, ...]:
    """The race file, its course and the tables of its tests, each with what tells it apart.

    Parameters
    ----------
    file : RaceFile
        As it was read.
    content : bytes
        From this, which need not be saved.
    """
    course, folder = file.tables["course"], file.path.parent
    named = [course.word("file"), *(option.word("trial") for option in file.options)]
    paths = [folder / name for name in dict.fromkeys(named) if name]
    return (
        Source(file.path.name, _digest(content)),
        *(Source(path.name, _digest_of_file(path)) for path in paths),
    )


def _digest_of_file(path: Path) -> str:
    try:
        return _digest(read_bytes(path))
    except InputError:
        return ""


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHOWN_OF_DIGEST]
