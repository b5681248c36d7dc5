"""Changes to a race file in the form ``table.key=value``, for trying or for keeping."""

import tomllib
from typing import Any

from racecalc.errors import InputError
from racecalc.files.race_keys import LISTS
from racecalc.files.race_values import nearest


def split_change(change: str) -> tuple[list[str], object]:
    """Split ``table.key=value`` into the path and the value.

    The value is read as TOML where it is TOML ("0.004", "true", a quoted text) and as text
    where it is not ("280 W").

    Raises
    ------
    InputError
        If there is no equals sign or no table.
    """
    name, equals, value = change.partition("=")
    path = [part.strip() for part in _split_path(name)]
    if not equals or len(path) < 2 or not all(path):
        raise InputError(
            f"--set {change}", "is not table.key=value", 'write for example rider.power="280 W"'
        )
    try:
        return path, tomllib.loads(f"value = {value}")["value"]
    except tomllib.TOMLDecodeError:
        return path, value.strip()


def _split_path(name: str) -> list[str]:
    for listed in LISTS:
        before, _, rest = name.partition(f"{listed}.")
        if rest and not before.strip():
            # The name of an option or a landmark may hold points itself.
            return [*listed.split("."), *rest.rsplit(".", 1)]
    return name.split(".")


def make_change(content: Any, change: str, place: str) -> tuple[str, int, str]:
    """Put the value of a change into a race file that is read.

    Parameters
    ----------
    content : mapping
        What TOML was read to, with or without its layout.
    change : str
        As `split_change` takes it.
    place : str
        Where the change comes from, for messages.

    Returns
    -------
    name, number, key
        The table as `find_table` tells it, and the key.

    Raises
    ------
    InputError
        As `split_change` and `find_table`.
    """
    path, value = split_change(change)
    table, name, number = find_table(content, path, place)
    table[path[-1]] = value
    return name, number, path[-1]


def find_table(content: dict[str, Any], path: list[str], place: str) -> tuple[Any, str, int]:
    """Find, or make, the table that a path of `split_change` leads to.

    Returns
    -------
    table, name, number
        The mapping itself, its key in `RACE_KEYS`, and its number among those of the name.

    Raises
    ------
    InputError
        If there is no such table, option or section.
    """
    if path[0] == "option" and len(path) == 3:
        return _find_listed(content.get("option", []), path[1], "option", place)
    if len(path) == 4 and ".".join(path[:2]) in LISTS:
        listed = content.get(path[0], {}).get(path[1], [])
        return _find_listed(listed, path[2], ".".join(path[:2]), place)
    if len(path) != 2 or path[0] in LISTS:
        raise InputError(place, "does not lead to a value", "write table.key or option.NAME.key")
    return content.setdefault(path[0], {}), path[0], 0


def _find_listed(tables: list[Any], wanted: str, name: str, place: str) -> tuple[Any, str, int]:
    titles = [str(table.get("name", "")) for table in tables]
    if wanted in titles:
        number = titles.index(wanted)
    elif wanted.isdecimal() and 1 <= int(wanted) <= len(tables):
        number = int(wanted) - 1
    else:
        raise InputError(place, f"there is no {name} '{wanted}'", nearest(wanted, titles))
    return tables[number], name, number
