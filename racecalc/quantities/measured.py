"""Numbers and units as people write them, through the one registry of pint.

The comma rule, the same for every quantity and for money:

- a point alone is a decimal point: "1.200" is 1.2;
- one comma followed by other than three digits is a decimal comma: "1,5" is 1.5;
- one comma followed by exactly three digits is refused, because "1,200" may be meant as
  1200 or as 1.2; it is accepted only where no thousands could be written so: "0,245", "1234,567";
- "1,234.5", "1.234,5", "1,234,567" and "1 234.5" can be read in one way only, and are.
"""

import json
import math
import os
import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from difflib import get_close_matches
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from racecalc import __version__
from racecalc.arrays import FloatArray
from racecalc.quantities.kinds import ANGLE, GRADE, KINDS, Kind

# --- Numbers as people type them, before any unit is looked at -----------------------------------

NUMBER = r"(?:[0-9]{1,3}(?: [0-9]{3})+(?![0-9])(?:[.,][0-9]+)?|[0-9.,]*[0-9])(?:[eE][+-]?[0-9]+)?"
"""Pattern of an unsigned number; whether its commas make sense is decided afterwards."""

_UNIT = r"(?:(?:[^\W\d_]|[°℃℉%‰])[\w°%‰ /^*·⋅()-]*)?"
_NUMBER_UNIT = re.compile(rf"(?P<sign>[+-]?) ?(?P<number>{NUMBER}) ?(?P<unit>{_UNIT})")
_PLAIN = re.compile(r"[0-9]*\.?[0-9]+")
_COMMA_IS_DECIMAL = re.compile(r"[0-9]*,[0-9]+")
_COMMA_MAY_BE_EITHER = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_COMMA_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_POINT_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+(?:,[0-9]+)?")
_MINUS_SIGNS = str.maketrans(dict.fromkeys("\u2212\u2013\ufe63\uff0d", "-"))
_DOUBT = re.compile(r"±|\+ ?/? ?-")
_SHOWN_LENGTH = 40


class QuantityError(ValueError):
    """A text that cannot be read as the quantity wanted, and what would do instead.

    The caller adds where it stands.
    """

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem}; {remedy}")

    def __reduce__(self) -> tuple[type["QuantityError"], tuple[str, str]]:
        return type(self), (self.problem, self.remedy)


def printable(text: str) -> str:
    """Return the text with a question mark for every sign that might steer a terminal."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def in_quotes(text: str) -> str:
    """Return the text in quotes, shortened and without control characters, for a message."""
    shown = printable(text[:_SHOWN_LENGTH])
    return f"'{shown}...'" if len(text) > _SHOWN_LENGTH else f"'{shown}'"


LONGEST = 200
"""Characters of the longest text that is read as a value, which bounds the work; our choice."""


def tidy(text: str) -> str:
    """Return the text with plain minus signs and single plain spaces, none at its ends.

    Raises `QuantityError` if it is longer than `LONGEST`.

    >>> tidy(" \u22125\u00a0degC ")
    '-5 degC'
    """
    if len(text) > LONGEST:
        raise QuantityError(
            f"{in_quotes(text)} has {len(text)} characters, too many for a value",
            "write one number and its unit",
        )
    return " ".join(text.translate(_MINUS_SIGNS).split())


def plain_number(number: str, text: str) -> str:
    """Return digits with at most one decimal point for a number that may hold commas.

    >>> plain_number("1.234,5", "1.234,5 W"), plain_number("0,245", "0,245 m^2")
    ('1234.5', '0.245')
    """
    mantissa, *exponent = re.split("[eE]", number)
    digits = _plain_digits(mantissa, text)
    return "e".join([digits, *exponent])


def _plain_digits(mantissa: str, text: str) -> str:
    digits = mantissa.replace(" ", "")
    if _PLAIN.fullmatch(digits):
        return digits
    if _COMMA_MAY_BE_EITHER.fullmatch(mantissa):
        raise QuantityError(
            f"{in_quotes(text)} can be read in two ways, its comma may separate thousands or"
            " decimals",
            f"write {in_quotes(text.replace(',', ''))} or {in_quotes(text.replace(',', '.'))}",
        )
    if _COMMA_IS_DECIMAL.fullmatch(digits):
        return digits.replace(",", ".")
    if _COMMA_GROUPS.fullmatch(digits):
        return digits.replace(",", "")
    if _POINT_GROUPS.fullmatch(digits):
        return digits.replace(".", "").replace(",", ".")
    raise QuantityError(
        f"the points and commas in {in_quotes(text)} are not a number",
        "write it as '1234.5', with a point before the decimals",
    )


def comma_may_be_either(number: str) -> bool:
    """Whether the comma of a number may part thousands or decimals."""
    return bool(_COMMA_MAY_BE_EITHER.fullmatch(number))


def commas_part_decimals(cells: Iterable[str]) -> bool:
    """Whether some of these cells show that commas part decimals, and none that they do not.

    >>> commas_part_decimals(["1,204", "3,5"]), commas_part_decimals(["1,204", "3"])
    (True, False)
    """
    numbers = [cell.lstrip("+-") for cell in cells if "," in cell]
    decimal = [_COMMA_IS_DECIMAL.fullmatch(one) for one in numbers if not comma_may_be_either(one)]
    parted = any(_COMMA_GROUPS.fullmatch(one) and not comma_may_be_either(one) for one in numbers)
    return any(decimal) and not parted


def split_digits(text: str, wanted: str, example: str) -> tuple[str, str]:
    """Split a text into its number, still as digits, and its unit.

    >>> split_digits("1 234.50 EUR", "a price", "240 EUR")
    ('1234.50', 'EUR')
    """
    whole = tidy(text)
    if _DOUBT.search(whole):
        raise QuantityError(f"{in_quotes(whole)} states a doubt with a value", _apart(whole))
    if between := _BETWEEN.fullmatch(whole):
        problem = f"{in_quotes(whole)} is a range, not a value"
        raise QuantityError(problem, _middle(*between.groups()))
    found = _NUMBER_UNIT.fullmatch(whole)
    if not found:
        problem = f"{_unsplit(whole)}, {wanted} is needed"
        raise QuantityError(problem, f"write for example '{example}'")
    return found["sign"] + plain_number(found["number"], whole), found["unit"]


_BETWEEN = re.compile(r"([0-9.]+)(?: ?- ?| to )([0-9.]+) ?([^0-9]*)")
_WITH_DOUBT = re.compile(r"(.*?)(?:±|\+ ?/? ?-) ?([0-9.]+) ?([^0-9]*)")


def _apart(whole: str) -> str:
    """How to write a value and its doubt, in both meanings that the doubt may have."""
    found = _WITH_DOUBT.fullmatch(whole)
    if not found or found[2].count(".") > 1:
        return "write only the value here, and its doubt in its own key"
    value, unit = found[1].strip(), found[3].strip()
    value = value if not value or re.search(r"[^0-9.,]$", value) else f"{value} {unit}"
    doubt, half = (f"{times * float(found[2]):.3g} {unit}".strip() for times in (1.0, 0.5))
    return (
        f"write {in_quotes(value or 'the value')}, and as its doubt {in_quotes(doubt)} if that is a"
        f" standard deviation, or {in_quotes(half)} if it holds 95 of 100"
    )


def _middle(low: str, high: str, unit: str) -> str:
    """How to write a range that holds 95 of 100, which is four standard deviations wide."""
    try:
        ends = float(low), float(high)
    except ValueError:
        return "write one number and its unit"
    middle, doubt = 0.5 * sum(ends), abs(ends[1] - ends[0]) / 4.0
    return (
        f"write '{f'{middle:.4g} {unit}'.strip()}', and if the range holds 95 of 100, as its doubt"
        f" '{f'{doubt:.3g} {unit}'.strip()}'"
    )


def _unsplit(whole: str) -> str:
    if not whole:
        return "it is empty"
    if not re.search("[0-9]", whole):
        return f"{in_quotes(whole)} has no number"
    return f"{in_quotes(whole)} is not one number with one unit"


def split_number_unit(
    text: str, wanted: str = "a quantity", example: str = "45 km/h"
) -> tuple[float, str]:
    """Split a text into its number and its unit.

    >>> split_number_unit("-4,5 km/h")
    (-4.5, 'km/h')
    """
    digits, unit = split_digits(text, wanted, example)
    return finite(float(digits), text), unit


def finite(value: float, text: str) -> float:
    """Return the value, or refuse one that is infinite or not a number."""
    if not math.isfinite(value):
        problem = f"{in_quotes(tidy(text))} is too large to calculate with"
        raise QuantityError(problem, "write a smaller number")
    return value


# --- What units are worth: asked of pint, and kept on disk between runs --------------------------

Scales = dict[str, tuple[float, float]]
"""Factor and offset of each conversion, by the names of both units in pint."""

BEAUFORT = "beaufort"
"""A force of the wind, which pint does not know: 0.836 m/s times its power of 1.5 (the empirical
formula behind the scale of the World Meteorological Organization; from memory)."""

_NAMES = {(kind.si, name) for kind in KINDS for name in kind.units.values() if name != BEAUFORT}
PAIRS = frozenset((*_NAMES, *((name, si) for si, name in _NAMES)))
"""Every conversion from or to SI."""

FAR = 2.0**20
"""Amount next to which the offset of a scale is small."""


def kept_scales() -> Path:
    """The file of the user's cache directory that keeps what pint says."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("racecalc", appauthor=False)) / "units.json"


def _asked_of_pint() -> Scales:
    # To load pint takes a tenth of all that a command takes.
    import pint

    # Without the option, pint refuses to read "20 degC" at all.
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)

    def scale(source: str, target: str) -> tuple[float, float]:
        def at(amount: float) -> float:
            return float(registry.Quantity(amount, source).to(target).magnitude)

        offset = at(0.0)
        # The factor of a scale with an offset is the difference of two large numbers.
        return round((at(FAR) - offset) / FAR, 15) if offset else at(1.0), offset

    return {f"{source} {target}": scale(source, target) for source, target in PAIRS}


def _stamp() -> dict[str, object]:
    """What changes with the units of pint, and with what is asked of it."""
    found = find_spec("pint")
    table = Path(found.origin if found and found.origin else "").with_name("default_en.txt").stat()
    return {"racecalc": __version__, "pint": [table.st_size, table.st_mtime_ns]}


@cache
def _scales() -> Scales:
    # What is kept may fail in any way: no right to write, a full disk, a file cut short or made by
    # another version. It only saves time, so work goes on without it.
    stamp, file = dict[str, object](), None
    try:
        stamp, file = _stamp(), kept_scales()
        kept = json.loads(file.read_text("utf-8"))
        scales = {pair: (float(by), float(more)) for pair, (by, more) in kept["scales"].items()}
        if kept.items() >= stamp.items() and scales.keys() == {" ".join(pair) for pair in PAIRS}:
            return scales
    except Exception:  # noqa: S110
        pass
    scales = _asked_of_pint()
    if file is not None:
        with suppress(Exception):
            _keep(file, json.dumps(stamp | {"scales": scales}))
    return scales


def _keep(file: Path, text: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    new = file.with_suffix(f".{os.getpid()}")
    try:
        new.write_text(text, "utf-8")
        new.replace(file)
    finally:
        new.unlink(missing_ok=True)


def convert_units(values: FloatArray, source: str, target: str) -> FloatArray:
    """Convert numbers from one unit to another.

    >>> convert_units(np.array([0.0, 20.0]), "degree_Celsius", "kelvin")
    array([273.15, 293.15])
    """
    factor, offset = _scales()[f"{source} {target}"]
    with np.errstate(over="ignore"):
        return np.asarray(np.asarray(values, dtype=np.float64) * factor + offset)


# --- One number with its unit, or a few such parts, to plain SI; and scales for table ------------

_PART = re.compile(r"([0-9.,]*[0-9]) ?(?![eE][0-9])([a-zA-Z]+) ?")
_IN_PARTS = re.compile(rf"([+-]?) ?((?:{_PART.pattern}){{2,}})")

_FORCE_FIRST = re.compile(r"^(beaufort|bft) ?([0-9.,]+)$", re.IGNORECASE)

ROUND_OFF = 1e-12
"""Share by which a part may miss one unit before it and still be as large: 3 ft are a yard."""


@lru_cache(maxsize=4096)
def measure(text: str, kind: Kind) -> float:
    """Read "number unit", or parts such as "10 st 8 lb" where the kind allows them.

    >>> from racecalc.quantities.kinds import MASS
    >>> measure("1,5 kg", MASS), measure("10 st 8 lb", MASS)
    (1.5, 67.13)
    """
    whole = tidy(text)
    parts = _IN_PARTS.fullmatch(whole) if kind.in_parts else None
    if parts:
        size = _sum_of_parts(parts[2], kind)
        return -size if parts[1] == "-" else size
    whole = _FORCE_FIRST.sub(r"\2 \1", whole)
    number, unit = split_number_unit(whole, kind.named, kind.example)
    if not unit and not kind.bare:
        remedy = f"write it with one of {_listed(kind)}, as in '{kind.example}'"
        raise QuantityError(f"{in_quotes(whole)} has no unit, {kind.named} is needed", remedy)
    return finite(float(unit_scale(unit, kind)(np.asarray(number))), whole)


def _sum_of_parts(parts: str, kind: Kind) -> float:
    total, room = 0.0, float("inf")
    for number, unit in _PART.findall(parts):
        one = float(unit_scale(unit, kind)(np.asarray(1.0)))
        size = float(plain_number(number, parts)) * one
        if size > room or math.isclose(size, room, rel_tol=ROUND_OFF):
            part = in_quotes(f"{number} {unit}")
            raise QuantityError(
                f"{part} in {in_quotes(parts)} is not less than one unit before it",
                "write larger units first, and less than one of them in each smaller unit",
            )
        total, room = total + size, one
    return finite(total, parts)


def unit_scale(unit: str, kind: Kind) -> Callable[[FloatArray], FloatArray]:
    """Return the function that turns numbers in a unit into SI, as for a table column.

    >>> from racecalc.quantities.kinds import TEMPERATURE
    >>> unit_scale("degC", TEMPERATURE)(np.array([0.0, 20.0]))
    array([273.15, 293.15])
    """
    name = _unit_name(unit, kind)
    if name == BEAUFORT:
        return lambda values: np.sign(values) * 0.836 * np.abs(values) ** 1.5
    if kind is GRADE and name in ANGLE.units.values():
        return lambda values: _grade_of_slope(convert_units(values, name, ANGLE.si))
    return lambda values: convert_units(values, name, kind.si)


def _grade_of_slope(angle: FloatArray) -> FloatArray:
    if np.any(np.abs(angle) >= np.pi / 2):
        raise QuantityError(
            "a slope cannot be as steep as a right angle", "write one below 90 deg, as in '4 deg'"
        )
    return np.tan(angle)


def _unit_name(unit: str, kind: Kind) -> str:
    name = kind.find(unit)
    if name is not None:
        return name
    hint = kind.hint(unit)
    if hint:
        raise QuantityError(f"{in_quotes(unit)} cannot be a unit of {kind.name}", hint)
    choices = f"write one of {_listed(kind)}"
    if not unit:
        raise QuantityError(f"no unit is given, {kind.named} is needed", choices)
    other = next((one for one in KINDS if one.find(unit)), None)
    if other:
        problem = f"{in_quotes(unit)} is a unit of {other.name}, {kind.named} is needed"
        raise QuantityError(problem, choices)
    near = get_close_matches(unit, [spelling for spelling in kind.units if spelling], n=1)
    raise QuantityError(
        f"{in_quotes(unit)} is not a known unit of {kind.name}",
        f"did you mean '{near[0]}'? {choices}" if near else choices,
    )


def _listed(kind: Kind) -> str:
    return ", ".join([*kind.choices(), *(["none"] if kind.bare else [])])
