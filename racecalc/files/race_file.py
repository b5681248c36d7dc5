"""Race files: TOML text to checked values in SI, each with the place it stands at."""

import hashlib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from racecalc.errors import InputError, Notice
from racecalc.files.opening import CUT, course_path, read_bytes, read_text
from racecalc.files.race_keys import LISTS, RACE_KEYS
from racecalc.files.race_values import example, known_name, nearest, read_checked, read_value
from racecalc.quantities.kinds import Kind
from racecalc.quantities.measured import plain_number

# --- On which line of a TOML text each key stands ------------------------------------------------

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=""")
_QUOTES = re.compile(r'"""|\'\'\'|"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*')


def key_lines(text: str) -> dict[tuple[str, int, str], int]:
    """Find the line of every key."""
    lines: dict[tuple[str, int, str], int] = {}
    counts: dict[str, int] = {}
    table, open_brackets, open_quotes = "", 0, ""
    for number, line in enumerate(text.splitlines(), 1):
        if not open_brackets and not open_quotes:
            if header := _HEADER.match(line):
                table = _unquoted(header[2])
                counts[table] = counts.get(table, -1) + (1 if header[1] == "[[" else 0)
                counts[table] = max(counts[table], 0)
                lines.setdefault((table, counts[table], ""), number)
                continue
            if key := _KEY.match(line):
                lines.setdefault((table, counts.get(table, 0), _unquoted(key[1])), number)
        open_brackets, open_quotes = _still_open(line, open_brackets, open_quotes)
    return lines


def _unquoted(name: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in name.split("."))


def _still_open(line: str, brackets: int, quotes: str) -> tuple[int, str]:
    """Brackets and triple quotes that stay open after a line."""
    if quotes:
        _, closed, line = line.partition(quotes)
        if not closed:
            return brackets, quotes
    bare, position = "", 0
    for found in _QUOTES.finditer(line):
        if found.start() < position:
            continue
        bare += line[position : found.start()]
        position = found.end()
        if found[0] in ('"""', "'''"):
            end = line.find(found[0], found.end())
            if end < 0:
                return max(brackets + _net(bare), 0), found[0]
            position = end + 3
    bare += line[position:]
    return max(brackets + _net(bare), 0), ""


def _net(bare: str) -> int:
    return sum(bare.count(sign) for sign in "[{") - sum(bare.count(sign) for sign in "]}")


# --- Changes to a race file in the form ``table.key=value``, for trying or for keeping -----------


def split_change(change: str) -> tuple[list[str], object]:
    """Split ``table.key=value`` into the path and the value.

    The value is read as TOML where it is TOML ("0.004", "true", a quoted text) and as text
    where it is not ("280 W").
    """
    name, equals, value = change.partition("=")
    path = [part.strip() for part in _split_path(name)]
    if not equals or len(path) < 2 or not all(path):
        tables = [
            table for table, keys in RACE_KEYS.items() if path[0] in keys and table not in LISTS
        ]
        meant = [f"{table}.{path[0]}" for table in tables] if equals and len(path) == 1 else []
        remedy = f"write {' or '.join(f'{one}={value}' for one in meant)}"
        remedy = remedy if meant else 'write for example rider.power="280 W"'
        raise InputError(f"--set {change}", "this is not table.key=value", remedy)
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


Spot = tuple[str, int, str]
"""Table, number in its list, and key."""


INSTEAD_OF = {
    ("course", "file"): ("distance", "grade", "bearing"),
    ("course", "distance"): ("file",),
    ("course.section", "crr"): ("surface",),
    ("course.section", "surface"): ("crr",),
    ("rider", "critical_power"): ("power_points",),
    ("rider", "work_above_critical"): ("power_points",),
    ("rider", "power_points"): ("critical_power", "work_above_critical"),
    ("air", "density"): ("pressure", "sea_level_pressure", "humidity", "dew_point"),
    ("air", "pressure"): ("sea_level_pressure", "density"),
    ("air", "sea_level_pressure"): ("pressure", "density"),
    ("air", "humidity"): ("dew_point", "density"),
    ("air", "dew_point"): ("humidity", "density"),
    ("air", "wind_speed"): ("wind_at_rider",),
    ("air", "wind_at_rider"): ("wind_speed",),
}
"""Keys that a changed key takes the place of, as both cannot be given."""

OUTDATED_BY = {("air", "temperature"): ("density",), ("air", "altitude"): ("density",)}
"""Keys that no longer hold where another is changed; a file may give both."""


def make_changes(
    content: Any, changes: Iterable[str], flag: str = "--set "
) -> tuple[dict[Spot, str], list[Notice]]:
    """Put changes into a race file that is read; an empty value takes its key out.

    Returns
    -------
    places : dict
        The change that gave each key.
    notices : list
        Keys that had to go, since they cannot be given with a changed one.
    """
    places: dict[Spot, str] = {}
    notices, changed = [], []
    for change in changes:
        place, (path, value) = f"{flag}{change}", split_change(change)
        table, name, number = find_table(content, path, place)
        if value == "":
            table.pop(path[-1], None)
            continue
        table[path[-1]] = value
        places[name, number, path[-1]] = place
        changed.append((table, (name, number, path[-1])))
    for table, (name, number, key) in changed:
        place = places[name, number, key]
        for other in INSTEAD_OF.get((name, key), ()) + OUTDATED_BY.get((name, key), ()):
            if other in table and (name, number, other) not in places:
                table.pop(other)
                words = f"takes the place of {name}.{other} in the file"
                notices.append(Notice(place, words, warning=False))
    return places, notices


def find_table(content: dict[str, Any], path: list[str], place: str) -> tuple[Any, str, int]:
    """Find, or make, the table that a path of `split_change` leads to."""
    if path[0] == "option" and len(path) == 3:
        return _find_listed(content.get("option", []), path[1], "option", place)
    if len(path) == 4 and ".".join(path[:2]) in LISTS:
        listed = content.get(path[0], {}).get(path[1], [])
        return _find_listed(listed, path[2], ".".join(path[:2]), place)
    if len(path) != 2 or path[0] in LISTS:
        raise InputError(
            place, "this does not lead to a value", "write table.key or option.NAME.key"
        )
    return content.setdefault(path[0], {}), path[0], 0


def _find_listed(tables: list[Any], wanted: str, name: str, place: str) -> tuple[Any, str, int]:
    titles = [str(table.get("name", "")) for table in tables]
    if wanted.isdecimal() and wanted not in titles and 1 <= int(wanted) <= len(tables):
        number = int(wanted) - 1
    else:
        number = titles.index(known_name(wanted, titles, place, name))
    return tables[number], name, number


# --- Race files ----------------------------------------------------------------------------------


_ABSENT: dict[object, object] = {
    **dict.fromkeys(("text", "word"), ""),
    **dict.fromkeys(("names", "texts", "shares", "power points"), ()),
}


@dataclass(frozen=True)
class RaceTable:
    """One table of a race file with its values read and checked."""

    name: str
    """Key of `RACE_KEYS`."""
    values: Mapping[str, object]
    """Values in SI, words, money and yaw tables, by key; only those that were given."""
    given: Mapping[str, str]
    """The same as they were written."""
    places: Mapping[str, str]
    """File, line and key of each; the empty key stands for the table itself."""

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def place(self, key: str) -> str:
        """Where a key stands, or where its table does."""
        return self.places.get(key) or f"{self.places['']}, {self.name}.{key}"

    def __getitem__(self, key: str) -> Any:
        """Value in SI or its default; where there is neither None, or "" or () by the form."""
        about = RACE_KEYS[self.name][key]
        if key in self.values:
            value = self.values[key]
        elif about.default:
            value = read_value(about, about.default)
        elif about.needed:
            raise self.missing(key)
        else:
            value = _ABSENT.get(about.form)
        # A word instead of a quantity, such as "none", stands for no value.
        return None if isinstance(about.form, Kind) and isinstance(value, str) else value

    def take(self, *keys: str) -> dict[str, Any]:
        """Values of some keys, by key."""
        return {key: self[key] for key in keys}

    def missing(self, key: str) -> InputError:
        """The error for a key that must be there."""
        about = RACE_KEYS[self.name][key]
        problem = f"[{self.name}] has no {key} ({about.meaning})"
        return InputError(self.places[""], problem, f"add for example {key} = {example(about)}")

    def refuse_both(self) -> None:
        """Refuse two keys of which one takes the place of the other."""
        for (table, one), others in INSTEAD_OF.items():
            for other in others if table == self.name and one in self else ():
                if other in self:
                    problem = f"both {one} and {other} are given"
                    column = ": a CSV course has its bearings in a column 'bearing [deg]'"
                    more = column if {one, other} == {"file", "bearing"} else ""
                    raise self.wrong(other, problem, f"keep one of them{more}")

    def wrong(self, key: str, problem: str, remedy: str = "") -> InputError:
        """An error about the value of a key."""
        return InputError(self.place(key), problem, remedy)

    def refuse(self, key: str, wrong: bool, problem: str, remedy: str) -> None:
        """Refuse a value that is wrong, as it was written."""
        if wrong:
            raise self.wrong(key, f"'{self.given.get(key)}' {problem}", remedy)


@dataclass(frozen=True)
class Assumption:
    """A default in force because the race file does not say."""

    key: str
    value: str
    """Such as "air.terrain" and "open fields"."""
    source: str
    """Where the value comes from."""

    def __str__(self) -> str:
        return f"{self.key}: {self.value} ({self.source})"


@dataclass(frozen=True)
class RaceFile:
    """A race file whose every value has been read and checked."""

    path: Path
    """Where it lies; course files are looked for beside it."""
    tables: Mapping[str, RaceTable]
    """Single tables by name; absent ones are there and empty."""
    sections: tuple[RaceTable, ...]
    landmarks: tuple[RaceTable, ...]
    options: tuple[RaceTable, ...]
    """The ``[[course.section]]``, ``[[course.landmark]]`` and ``[[option]]`` tables."""
    notices: tuple[Notice, ...]
    """Values that are possible but not plausible."""
    assumptions: tuple[Assumption, ...]
    """Defaults in force."""


def read_race_file(path: Path, changes: Iterable[str] = (), text: str | None = None) -> RaceFile:
    """Read a race file."""
    if text is None and path.suffix.lower() in (".gpx", ".fit", ".tcx", ".csv"):
        problem = f"this is a '{path.suffix.lower()}' file, no race file"
        raise InputError(str(path), problem, f"'racecalc new FOLDER --course {path}' makes one")
    text = read_text(path) if text is None else text
    content = parse_toml(text, str(path))
    changed, notices = make_changes(content, changes)
    _refuse_large(content, str(path))
    return _checked(path, content, _Places(str(path), key_lines(text), changed), notices)


MOST_PARTS = 100
"""Parts of a dotted key; our choice. The time to read one grows with their square."""


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """Parse TOML, with an `InputError` that names the line."""
    for number, line in enumerate(text.split("\n"), 1):
        if re.split("[=#]", line, maxsplit=1)[0].count(".") >= MOST_PARTS:
            problem = f"a key has more than {MOST_PARTS} parts"
            raise InputError(f"{name}, line {number}", problem, "write it as table and key")
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise InputError(name, "brackets are nested too deeply", "close them") from error
    except tomllib.TOMLDecodeError as error:
        problem, _, place = str(error).partition(" (at ")
        where = place.rstrip(")") or "the end"
        raise InputError(
            f"{name}, {where}",
            f"this is not valid TOML: {problem.lower()}",
            'a line is written key = "value with unit"',
        ) from error


def _refuse_large(value: object, place: str) -> None:
    """Refuse whole numbers beyond 64 bits, as TOML 1.0.0 asks."""
    if isinstance(value, dict):
        for key, inner in value.items():
            _refuse_large(inner, f"{place}, {key}")
    elif isinstance(value, list):
        for inner in value:
            _refuse_large(inner, place)
    elif isinstance(value, int) and not -(2**63) <= value < 2**63:
        raise InputError(place, "a number of this size is no value", "write one that is meant")


@dataclass(frozen=True)
class _Places:
    """Where each key stands: in the file, or on the command line."""

    name: str
    lines: dict[Spot, int]
    changed: dict[Spot, str]

    def of(self, table: str, number: int, key: str) -> str:
        if (table, number, key) in self.changed:
            return self.changed[table, number, key]
        line = self.lines.get((table, number, key))
        where = f"{self.name}, line {line}" if line else self.name
        return f"{where}, {table}.{key}" if key else where

    def of_table(self, name: str) -> str:
        """Where a name stands that should be that of a table."""
        line = self.lines.get((name, 0, "")) or self.lines.get(("", 0, name))
        return f"{self.name}, line {line}" if line else self.name


def _checked(
    path: Path, content: dict[str, Any], places: _Places, notices: list[Notice]
) -> RaceFile:
    known = [name for name in RACE_KEYS if "." not in name]
    for name in content:
        _refuse_unknown([name], known, places.of_table(name), "table")
    course = content.get("course", {})
    of_course = course if isinstance(course, dict) else {}
    listed = {f"course.{name}": of_course.pop(name, []) for name in ("section", "landmark")}
    listed["option"] = content.get("option", [])
    singles = {
        name: _table(name, 0, content.get(name, {}), places, notices)
        for name in RACE_KEYS
        if name not in LISTS
    }
    parts = (_listed(name, raw, places, notices) for name, raw in listed.items())
    sections, landmarks, options = parts
    assumed = tuple(_assumptions(singles))
    return RaceFile(path, singles, sections, landmarks, options, tuple(notices), assumed)


MOST_LISTED = 2000
"""Options, sections or landmarks of a race; their work grows with the square of their number."""


def _listed(
    name: str, raw: object, places: _Places, notices: list[Notice]
) -> tuple[RaceTable, ...]:
    if not isinstance(raw, list):
        raise InputError(
            places.of(name, 0, ""), f"[{name}] needs two brackets", f"write [[{name}]]"
        )
    if len(raw) > MOST_LISTED:
        problem = f"there are {len(raw)} of [[{name}]], more than {MOST_LISTED}"
        raise InputError(places.name, problem, CUT)
    return tuple(_table(name, number, one, places, notices) for number, one in enumerate(raw))


def _table(
    name: str, number: int, raw: object, places: _Places, notices: list[Notice]
) -> RaceTable:
    if not isinstance(raw, dict):
        raise InputError(places.of(name, number, ""), f"{name} is not a table", f"write [{name}]")
    keys = RACE_KEYS[name]
    for key in raw:
        refuse_unknown_key(key, name, places.of(name, number, key))
    if name == "rider":
        raw = _of_own_mass(raw, notices, places)
    table_places = {key: places.of(name, number, key) for key in ("", *raw)}
    values = {
        key: read_checked(keys[key], value, table_places[key], notices)
        for key, value in raw.items()
    }
    given = {key: str(value) for key, value in raw.items()}
    table = RaceTable(name, values, given, table_places)
    table.refuse_both()
    return table


def refuse_unknown_key(key: str, table: str, place: str) -> None:
    """Refuse a key that a table does not have, with the one that is meant."""
    keys = RACE_KEYS[table]
    meant = next((one for one, about in keys.items() if key.casefold() in about.also), "")
    if meant:
        raise InputError(place, f"there is no key '{key}'", f"write it as '{meant}'")
    _refuse_unknown([key], list(keys), place, "key")


_PER_MASS = re.compile(r"([0-9.,]+) ?W/kg", re.IGNORECASE)


def _of_own_mass(raw: dict[str, Any], notices: list[Notice], places: _Places) -> dict[str, Any]:
    """Powers for each kilogram of the rider as powers."""
    found = {key: _PER_MASS.fullmatch(str(value).strip()) for key, value in raw.items()}
    per_mass = {key: number[1] for key, number in found.items() if number}
    if not per_mass or "mass" not in raw:
        return raw
    place = places.of("rider", 0, "mass")
    mass = read_checked(RACE_KEYS["rider"]["mass"], raw["mass"], place, [])
    changed = dict(raw)
    for key, number in per_mass.items():
        watts = float(plain_number(number, number)) * float(str(mass))
        changed[key] = f"{watts:.6g} W"
        words = f"{raw[key]} of {raw['mass']} is {watts:.0f} W"
        notices.append(Notice(places.of("rider", 0, key), words, warning=False))
    return changed


def _refuse_unknown(names: Iterable[str], known: list[str], place: str, what: str) -> None:
    for name in names:
        if name not in known:
            raise InputError(place, f"there is no {what} '{name}'", nearest(name, known))


def _assumptions(tables: Mapping[str, RaceTable]) -> Iterable[Assumption]:
    for name, table in tables.items():
        for key, about in RACE_KEYS[name].items():
            if about.source and key not in table and not _replaced(table, key):
                yield Assumption(f"{name}.{key}", about.default, about.source)


_OF_WIND = ("wind_height", "terrain", "wind_law")
_REPLACED_BY = {
    **dict.fromkeys(("altitude", "temperature"), ("density",)),
    **dict.fromkeys(("wind_speed", *_OF_WIND), ("wind_at_rider",)),
    "sea_level_pressure": ("density", "pressure"),
    "humidity": ("density", "dew_point"),
}


def _replaced(table: RaceTable, key: str) -> bool:
    if any(other in table for other in _REPLACED_BY.get(key, ())):
        return True
    if key in _OF_WIND:
        return not table["wind_speed"]
    return key == "drivetrain_loss" and table["power_at"] == "hub"


# --- Every input of a race file as it can be written, for whoever wants to repeat an answer ------

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
    make_changes(content, changes, "")
    return tuple(_given(content, ""))


def _given(content: Mapping[str, Any], before: str) -> Iterator[RaceInput]:
    """Tables by their names; a listed one has its number behind it."""
    for name, table in content.items():
        place = f"{before}{name}"
        if isinstance(table, dict):
            values = {key: one for key, one in table.items() if not _is_list_of_tables(one)}
            yield from (RaceInput(place, key, one) for key, one in values.items())
            lists = {key: one for key, one in table.items() if key not in values}
            yield from _given(lists, f"{place}.")
        elif _is_list_of_tables(table):
            numbered = {f"{name} {number}": one for number, one in enumerate(table, 1)}
            yield from _given(numbered, before)


def _is_list_of_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def sources_of(path: Path, content: bytes, inputs: Iterable[RaceInput]) -> tuple[SourceFile, ...]:
    """The race file, its course and the tables of its tests, each with what tells it apart."""
    named = [str(one.value) for one in inputs if one.key == FILES_OF.get(one.table.split(" ")[0])]
    paths = [course_path(name, path.parent) for name in dict.fromkeys(named)]
    own = SourceFile(path.name, _digest(content))
    return (own, *(SourceFile(one.name, _digest_of_file(one)) for one in paths))


def _digest_of_file(path: Path) -> str:
    try:
        return _digest(read_bytes(path))
    except InputError:
        return ""


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHOWN_OF_DIGEST]
