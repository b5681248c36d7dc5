"""Every input of a race file as it was written, for whoever wants to repeat an answer."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.opening import read_bytes
from racecalc.files.race_file import RaceFile, Table

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
        As it was written.
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


def inputs_of(file: RaceFile) -> tuple[Given, ...]:
    """Every value that a race file gives, changes included, in its order."""
    tables = [
        *((name, table) for name, table in file.tables.items()),
        *_numbered("course.section", file.sections),
        *_numbered("course.landmark", file.landmarks),
        *_numbered("option", file.options),
    ]
    return tuple(
        Given(name, key, written) for name, table in tables for key, written in table.given.items()
    )


def _numbered(name: str, tables: tuple[Table, ...]) -> Iterator[tuple[str, Table]]:
    return ((f"{name} {number}", table) for number, table in enumerate(tables, 1))


def sources_of(file: RaceFile, text: str) -> tuple[Source, ...]:
    """The race file, its course and the tables of its tests, each with what tells it apart.

    Parameters
    ----------
    file : RaceFile
        As it was read.
    text : str
        From this text, which need not be saved.
    """
    course, folder = file.tables["course"], file.path.parent
    named = [course.word("file"), *(option.word("trial") for option in file.options)]
    paths = [folder / name for name in dict.fromkeys(named) if name]
    return (
        Source(file.path.name, _digest(text.encode())),
        *(Source(path.name, _digest_of_file(path)) for path in paths),
    )


def _digest_of_file(path: Path) -> str:
    try:
        return _digest(read_bytes(path))
    except InputError:
        return ""


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHOWN_OF_DIGEST]
