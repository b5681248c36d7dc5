"""The kinds of quantity people type, and the spellings of units each accepts.

Spellings are compared after `fold`: "m²", "m^2" and "m2" are one spelling, as are "N s/m",
"N*s/m" and "N·s/m". What each unit is worth is in pint alone. The kinds themselves are in
kinds.txt.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

_FOLDED = str.maketrans(
    {"²": "2", "³": "3", "^": None, "*": " ", "·": " ", "⋅": " ", "º": "°", "℃": "°C", "℉": "°F"}
)
_CASE_MATTERS = frozenset({"mm", "mN", "mbar", "mb", "mN s/m", "mNs/m", "mN/(m/s)"})
"""Spellings that a capital M would turn from a thousandth into a million."""


def fold(spelling: str) -> str:
    """Return the form in which spellings of units are compared.

    >>> fold("kg·m²"), fold("lb / ft**3")
    ('kg m2', 'lb/ft3')
    """
    translated = spelling.replace("**", "^").translate(_FOLDED)
    return " ".join(re.sub(r" ?/ ?", "/", translated).split())


def _pick(table: Mapping[str, str], spelling: str) -> str | None:
    wanted = fold(spelling)
    folded = {fold(known): value for known, value in table.items()}
    if wanted in folded:
        return folded[wanted]
    alike = {
        value
        for known, value in folded.items()
        if known.casefold() == wanted.casefold() and known not in _CASE_MATTERS
    }
    return alike.pop() if len(alike) == 1 else None


@dataclass(frozen=True, eq=False)
class Kind:
    """One kind of quantity."""

    name: str
    """In plain words, as in "mass"."""
    unit: str
    """The SI unit that values of this kind are held in; "" for a plain number."""
    units: Mapping[str, str]
    """pint's name of the unit for each accepted spelling; the first spelling of a unit is the one
    shown in lists. The spelling "" accepts a bare number.
    """
    example: str
    """A text that can be read."""
    hints: Mapping[str, str] = field(default_factory=dict)
    """For spellings that are refused although people write them: what would do."""
    step: str = ""
    """By how much a value goes up or down at a key; empty for one in its second digit."""
    in_parts: bool = False
    """Whether larger and smaller units may be combined, as in "10 st 8 lb"."""

    @property
    def bare(self) -> bool:
        """Whether a number without a unit is accepted."""
        return "" in self.units

    @property
    def si(self) -> str:
        """The name pint has for the SI unit."""
        return self.units[self.unit]

    @property
    def named(self) -> str:
        """The name with its article, as in "an area"."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    def find(self, spelling: str) -> str | None:
        """Return pint's name of a unit by any accepted spelling, or None.

        Capital and small letters are told apart only where they part two units.

        >>> MASS.find("KG"), FORCE.find("mN"), FORCE.find("MN")
        ('kilogram', 'millinewton', None)
        """
        return _pick(self.units, spelling)

    def hint(self, spelling: str) -> str | None:
        """Return what to write instead of a spelling that is known and refused, or None."""
        return _pick(self.hints, spelling)

    def choices(self) -> list[str]:
        """Return one spelling of every unit.

        >>> ENERGY.choices()
        ['J', 'kJ', 'kcal', 'Wh', 'kWh']
        """
        first: dict[str, str] = {}
        for spelling, name in self.units.items():
            if spelling:
                first.setdefault(name, spelling)
        return list(first.values())


def _read_kinds(text: str) -> dict[str, Kind]:
    """The kinds of kinds.txt, which says how it is written, by name."""
    kinds = {}
    for block in text.split("\n\n")[1:]:
        head, *lines = block.splitlines()
        name, unit, example = (part.replace("(none)", "") for part in head.split(" | "))
        units: dict[str, str] = {}
        hints: dict[str, str] = {}
        step = ""
        for left, colon, right in (line.strip().partition(": ") for line in lines):
            if left.startswith("not "):
                hints[left.removeprefix("not ")] = right
            elif left == "step":
                step = right
            elif colon:
                units |= dict.fromkeys(right.replace("(none)", "").split(", "), left)
        kinds[name] = Kind(name, unit, units, example, hints, step, "    in parts" in lines)
    return kinds


_KINDS = _read_kinds(Path(__file__).with_name("kinds.txt").read_text(encoding="utf-8"))

MASS = _KINDS["mass"]
POWER = _KINDS["power"]
SPEED = _KINDS["speed"]
LENGTH = _KINDS["length"]
AREA = _KINDS["area"]
FORCE = _KINDS["force"]
ANGLE = _KINDS["angle"]
TEMPERATURE = _KINDS["temperature"]
TEMPERATURE_CHANGE = _KINDS["temperature difference"]
PRESSURE = _KINDS["pressure"]
DENSITY = _KINDS["density"]
RATIO = _KINDS["ratio"]
GRADE = _KINDS["grade"]
TIME = _KINDS["time"]
ENERGY = _KINDS["energy"]

KINDS = tuple(_KINDS.values())
"""Every kind; where a unit belongs to two, the plainer kind comes first."""
