"""Values of a race file: read by the form of their key and held to its ranges."""

import difflib
import math
import re
from collections.abc import Callable
from itertools import pairwise
from typing import cast

from racecalc.errors import InputError, Notice
from racecalc.files.race_keys import RACE_KEYS, Key
from racecalc.quantities.kinds import ANGLE, AREA, RATIO, Kind
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import read_money
from racecalc.quantities.reading import read, read_direction, read_power_point

Areas = tuple[tuple[float, ...], tuple[float, ...]]
"""Drag areas [m^2], and the yaw of each [rad]."""


def read_checked(key: Key, raw: object, place: str, notices: list[Notice]) -> object:
    """Read a value, refuse the impossible and note the implausible."""
    try:
        value = read_value(key, raw)
    except QuantityError as error:
        raise InputError(place, error.problem, error.remedy) from error
    check_range(key, value, f"'{raw}'", place, notices)
    return value


def bike_default(name: str) -> float:
    """A number of the bike where a race file states none, in SI."""
    key = RACE_KEYS["bike"][name]
    return cast(float, read_value(key, key.default))


def read_value(key: Key, raw: object) -> object:
    """Read one value of a race file."""
    if isinstance(raw, str) and raw.casefold() in key.words:
        return raw.casefold()
    if isinstance(key.form, Kind):
        return read(raw, key.form)
    return _READERS[key.form](key, raw)


def _read_text(key: Key, raw: object) -> str:
    bare = isinstance(raw, int | float) and not isinstance(raw, bool)
    if bare and key.example.strip('"')[:1].isdecimal():
        raise QuantityError(f"'{raw}' has no unit", f"write for example {key.example}")
    if not isinstance(raw, str) or not raw.strip():
        raise QuantityError(f"'{raw}' is not a text", 'write a text between quotes: "..."')
    return raw


def _read_flag(_: Key, raw: object) -> bool:
    if raw in (True, "true", False, "false"):
        return raw in (True, "true")
    raise QuantityError(f"'{raw}' is neither true nor false", "write true or false, without quotes")


def _read_count(_: Key, raw: object) -> float:
    if isinstance(raw, str) and raw.isdecimal():
        return float(raw)
    if not isinstance(raw, int) or isinstance(raw, bool):
        raise QuantityError(f"'{raw}' is not a whole number", "write for example 2")
    return float(raw)


def _read_as_text(reader: Callable[[str], object]) -> Callable[[Key, object], object]:
    def read_one(key: Key, raw: object) -> object:
        # A bare number goes to the reader too, which knows the unit that is missing.
        is_number = isinstance(raw, int | float) and not isinstance(raw, bool)
        try:
            return reader(str(raw) if is_number else _read_text(key, raw))
        except QuantityError as error:
            words = f", or {', '.join(key.words)}" if key.words else ""
            raise QuantityError(error.problem, error.remedy + words) from error

    return read_one


def _read_word(key: Key, raw: object) -> str:
    raise QuantityError(f"'{raw}' is not known", nearest(str(raw), list(key.words)))


def _read_drag_area(_: Key, raw: object) -> Areas:
    if not isinstance(raw, dict):
        return (read(raw, AREA),), (0.0,)
    if set(raw) != {"yaw", "area"} or not all(isinstance(raw[name], list) for name in raw):
        raise QuantityError(
            "a table of drag areas needs the lists yaw and area and nothing else",
            'write { yaw = ["0 deg", "10 deg"], area = ["0.236 m^2", "0.229 m^2"] }',
        )
    yaw = tuple(read(one, ANGLE) for one in raw["yaw"])
    area = tuple(read(one, AREA) for one in raw["area"])
    if len(yaw) != len(area) or not yaw:
        counts = f"the table has {len(yaw)} yaws and {len(area)} areas"
        raise QuantityError(counts, "give one area for each yaw")
    if any(later <= earlier for earlier, later in pairwise(yaw)):
        raise QuantityError("the yaws of the table do not increase", "sort them from low to high")
    return area, yaw


def _read_names(_: Key, raw: object) -> tuple[str, ...]:
    if isinstance(raw, list) and all(isinstance(name, str) for name in raw):
        return tuple(raw)
    raise QuantityError(f"'{raw}' is not a list of names", 'write ["One option", "Another option"]')


def _read_texts(key: Key, raw: object) -> tuple[str, ...]:
    if isinstance(raw, list) and raw and all(isinstance(one, str) for one in raw):
        return tuple(raw)
    raise QuantityError(f"'{raw}' is not a list of texts", f"write {key.example}")


def _read_shares(_: Key, raw: object) -> tuple[float, ...]:
    shares = tuple(read(one, RATIO) for one in (raw if isinstance(raw, list) else [raw]))
    if not shares or not all(0.0 <= share <= 1.0 for share in shares):
        raise QuantityError(f"'{raw}' is not a share of the time", 'write from "0 %" to "100 %"')
    return shares


def _read_power_points(_: Key, raw: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(raw, list) or not raw:
        raise QuantityError(
            f"'{raw}' is not a list of powers and durations",
            'write ["3 min 385 W", "12 min 318 W", "25 min 296 W"]',
        )
    points = tuple(read_power_point(one) for one in raw)
    if len({time for time, _ in points}) < 2:
        raise QuantityError(
            "powers over one duration do not show what can be held over another",
            "add one held much longer or shorter, such as 3 and 12 min",
        )
    return points


_READERS: dict[str, Callable[[Key, object], object]] = {
    "text": _read_text,
    "flag": _read_flag,
    "count": _read_count,
    "money": _read_as_text(read_money),
    "direction": _read_as_text(read_direction),
    "drag area": _read_drag_area,
    "word": _read_word,
    "names": _read_names,
    "texts": _read_texts,
    "shares": _read_shares,
    "power points": _read_power_points,
}


def check_range(key: Key, value: object, words: str, place: str, notices: list[Notice]) -> None:
    """Refuse a value [SI] outside what is possible, and note one outside what is plausible."""
    of_table = isinstance(value, tuple) and key.form == "drag area"
    for number in value[0] if of_table else (value,):  # type: ignore[index]
        if not isinstance(number, float):
            continue
        if key.possible and not _within(key, number, key.possible):
            raise InputError(
                place,
                f"{words} is not possible, it must be within {key.possible}",
                _meant(key, number, "%" in words)
                or (f"plausible is {key.plausible}" if key.plausible else "give one in that range"),
            )
        if key.plausible and not _within(key, number, key.plausible):
            said = f"{words} is unusual: plausible is {key.plausible}; is it a mistake?"
            notices.append(Notice(place, said))


def _meant(key: Key, number: float, percent: bool) -> str:
    """What a share was perhaps meant to be: a percentage, or what is left of it."""
    if key.form is not RATIO or not key.plausible:
        return ""
    words, meant = ("what is left", 1.0 - number) if percent else ("a percentage", 0.01 * number)
    within = _within(key, meant, key.plausible)
    return f"if that is {words}, write '{100.0 * meant:.4g} %'" if within else ""


def _within(key: Key, number: float, limits: str) -> bool:
    kind = AREA if key.form == "drag area" else key.form
    bounds = limits.split(" to ")
    low, high = (read(one, kind) if isinstance(kind, Kind) else float(one) for one in bounds)
    # A bound typed in another unit must not fall outside by rounding; zero is zero in all.
    return low - 1e-9 * abs(low) <= number <= high + 1e-9 * abs(high)


ROOM = 110
"""Characters of the names that an error lists; our choice."""


def nearest(name: str, known: list[str], otherwise: str = "") -> str:
    """The remedy for a name that is not known: the nearest one, else what is given, else all."""
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    if near:
        return f"did you mean '{near[0]}'?"
    shown = known
    while len(", ".join(shown)) > ROOM:
        shown = shown[:-1]
    more = f" and {len(known) - len(shown)} more" if len(shown) < len(known) else ""
    return otherwise or f"known: {', '.join(shown) or 'none'}{more}"


def known_name(wanted: str, known: list[str], place: str, what: str = "option") -> str:
    """The known name that is meant: by its number from 1, or by a part of it that no other has.

    Capital and small letters are one.

    Raises
    ------
    InputError
        If no name is meant, or several are.

    Examples
    --------
    >>> both = ["Ripple suit", "Wheel"]
    >>> known_name("suit", both, "--option"), known_name("2", both, "--option")
    ('Ripple suit', 'Wheel')
    """
    if wanted in known:
        return wanted
    if wanted.isdecimal() and 0 < int(wanted) <= len(known):
        return known[int(wanted) - 1]
    folded = wanted.casefold().strip()
    parts = [name for name in known if folded and folded in name.casefold()]
    meant = [name for name in parts if name.casefold() == folded] or parts
    if len(meant) == 1 and not wanted.isdecimal():
        return meant[0]
    if parts:
        shown = ", ".join(parts[:4])
        more = f" and {len(parts) - 4} more" if len(parts) > 4 else ""
        raise InputError(place, f"'{wanted}' is a part of {shown}{more}", "write more of the name")
    raise InputError(place, f"there is no {what} '{wanted}'", nearest(wanted, known))


def example(key: Key) -> str:
    """A value that would do, as it is written in the file."""
    if key.example:
        return key.example
    return f'"{key.form.example}"' if isinstance(key.form, Kind) else '"..."'


# --- Values up and down by steps -----------------------------------------------------------------

_NUMBER_FIRST = re.compile(r"([+-]?)(\d+(?:\.\d+)?)(\s*)(.*)", re.DOTALL)

MONEY_STEP = 10.0
"""Of an amount, in its currency; our choice."""


def stepped(key: Key, text: str, steps: int) -> str:
    """A value as it is typed, so many steps up or down; it keeps its unit.

    Words and flags go to the next one. What is empty begins with its default.

    Raises
    ------
    InputError
        If the value does not begin with a number, or is not possible there.

    Examples
    --------
    >>> from racecalc.files.race_keys import RACE_KEYS
    >>> stepped(RACE_KEYS["air"]["temperature"], "17 degC", 10)
    '27 degC'
    >>> stepped(RACE_KEYS["rider"]["mass"], "148.5 lb", -1)
    '148.3 lb'
    """
    text = text.strip()
    words = key.words if key.form == "word" else ("false", "true") if key.form == "flag" else ()
    if words:
        at = words.index(text) if text in words else words.index(key.default or words[0])
        return words[(at + (1 if steps > 0 else -1)) % len(words)]
    if not text and not key.default:
        return example(key).strip('"')
    found = _NUMBER_FIRST.fullmatch(text or key.default)
    kind = _kind_of(key)
    if not found or (kind and kind.find(found[4]) is None):
        raise InputError("", f"'{text}' has no number that goes up or down", "type a value")
    sign, number, gap, unit = found.groups()
    step = _step_in(key, number, unit)
    value = float(f"{sign}{number}") + steps * step
    if key.form == "direction":
        value %= 360.0
    digits = max(_decimals(number), _decimals(f"{step:.9f}".rstrip("0")))
    plus = "+" if sign == "+" else ""
    result = f"{value:{plus}.{digits}f}{gap}{unit}"
    bare: object = result if unit or key.form in ("text", "count") else float(result)
    read_checked(key, bare, "", [])
    return result


def _kind_of(key: Key) -> Kind | None:
    named = {"drag area": AREA, "direction": ANGLE}
    return key.form if isinstance(key.form, Kind) else named.get(key.form)


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])


def _step_in(key: Key, number: str, unit: str) -> float:
    """The step in the unit that a value has."""
    kind = _kind_of(key)
    if key.form in ("money", "count"):
        return MONEY_STEP if key.form == "money" else 1.0
    stated = key.step or (kind.step if kind else "")
    if not stated or not kind:
        size = abs(float(number)) or 1.0
        return 10.0 ** (math.floor(math.log10(size)) - 1)
    one = read(f"1 {unit}".strip(), kind) - read(f"0 {unit}".strip(), kind)
    step = read(stated, kind) - read(f"0 {stated.partition(' ')[2]}".strip(), kind)
    return _round_step(step / one)


def _round_step(step: float) -> float:
    """The nearest step that one can count in: 1, 2 or 5 with zeros."""
    size = 10.0 ** math.floor(math.log10(step) + 1e-9)
    return float(min((1, 2, 5, 10), key=lambda one: abs(one - step / size)) * size)
