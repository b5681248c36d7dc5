"""A race told in a few words, such as ``40km 250W 0.25m2 83kg``, as the text of a race file.

Quantities are told apart by their dimensions; what is not told is assumed.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from racecalc.errors import InputError
from racecalc.files.race_file import Assumption, split_change
from racecalc.files.race_keys import RACE_KEYS
from racecalc.quantities.kinds import (
    AREA,
    DENSITY,
    GRADE,
    LENGTH,
    MASS,
    POWER,
    PRESSURE,
    RATIO,
    SPEED,
    TEMPERATURE,
    Kind,
)
from racecalc.quantities.measured import QuantityError, in_quotes, tidy
from racecalc.quantities.reading import read, read_direction

OF_KIND: dict[str, Kind] = {
    "rider.power": POWER,
    "bike.cda": AREA,
    "course.distance": LENGTH,
    "air.wind_speed": SPEED,
    "air.temperature": TEMPERATURE,
    "air.density": DENSITY,
    "air.sea_level_pressure": PRESSURE,
    "course.grade": GRADE,
    "bike.crr": RATIO,
}
"""The key that a quantity is taken for, by its dimension; a mass is that of rider and bike, and a
length after "at" an altitude."""

ASSUMED = {
    "course.distance": ("40 km", ""),
    "rider.power": ("240 W", "250 W"),
    "bike.cda": ("0.26 m^2", "0.28 m^2"),
    "rider.mass": ("70 kg", "75 kg"),
    "bike.mass": ("9.5 kg", "8.5 kg"),
    "bike.crr": ("0.0045", "0.0055"),
    "course.grade": ("0 %", ""),
}
"""What is taken where it is not told, as in the race file to start from, and what it may well be;
our choice."""

HOW = "write for example '40km 250W 0.25m2 83kg'; wind as '3m/s ahead', height as 'at 1500m'"
RELATIVE = RACE_KEYS["air"]["wind_from"].words
NUMBER = re.compile(r"[+-]?[0-9.,]+")


@dataclass(frozen=True)
class QuickRace:
    """A race in keys of the race file."""

    told: Mapping[str, str]
    """Values as they were told, by key."""
    assumed: tuple[Assumption, ...]
    """What was not."""
    option: Mapping[str, str]
    """Keys and values of the option asked about; empty for none."""

    def text(self) -> str:
        """The race file that says the same."""
        return "\n\n".join("\n".join(lines) for lines in self._tables()) + "\n"

    @property
    def name(self) -> str:
        """How far, and how hard."""
        values = {**self._assumed, **self.told}
        return f"{values['course.distance']} at {values['rider.power']}"

    @property
    def _assumed(self) -> dict[str, str]:
        return {one.key: one.value for one in self.assumed}

    def _tables(self) -> Iterator[list[str]]:
        yield ["[race]", f"name = {_toml(self.name)}"]
        values = {key: f"{_toml(value)}  # assumed" for key, value in self._assumed.items()}
        values |= {key: _toml(value) for key, value in self.told.items()}
        for table in ("rider", "bike", "air", "course"):
            keys = [key for key in values if key.startswith(f"{table}.")]
            if keys:
                lines = (f"{key.partition('.')[2]} = {values[key]}" for key in keys)
                yield [f"[{table}]", *lines]
        if self.option:
            yield ["[[option]]", *(f"{key} = {_toml(told)}" for key, told in self.option.items())]


def quick_race(words: Sequence[str], option: Mapping[str, str]) -> QuickRace:
    """Read a race told in words.

    Raises
    ------
    InputError
        If a word cannot be told, or two say the same.

    Examples
    --------
    >>> quick_race(["40km", "250", "W", "3m/s", "behind"], {}).told["air.wind_from"]
    'behind'
    """
    told: dict[str, str] = {}
    masses: list[str] = []
    whole = [*_joined(words)]
    _refuse_bare(whole)
    for word in whole:
        key, value = _meant(word)
        if key == "mass":
            masses.append(value)
        elif key in told:
            problem = f"{in_quotes(told[key])} and {in_quotes(value)} both tell {key}"
            raise InputError("quick", problem, "keep one of them")
        else:
            told[key] = value
    told |= _masses(masses)
    _refuse_unplaced_wind(told)
    assumed = (
        Assumption(key, value, "assumed") for key, (value, _) in ASSUMED.items() if key not in told
    )
    return QuickRace(told, tuple(assumed), option)


def _refuse_unplaced_wind(told: Mapping[str, str]) -> None:
    speed, origin = (told.get(f"air.wind_{key}", "") for key in ("speed", "from"))
    remedy = f"write '{speed} ahead', 'behind', 'left' or 'right'"
    if speed and not origin:
        problem = f"{in_quotes(speed)} is a wind without a direction"
        raise InputError("quick", problem, f"{remedy}; the speed ridden is the answer")
    if speed and origin not in RELATIVE and "course.bearing" not in told:
        problem = f"for a wind from {in_quotes(origin)} the road needs a direction"
        raise InputError("quick", problem, f"{remedy}, or add 'course.bearing=90deg'")


def _joined(words: Sequence[str]) -> Iterator[str]:
    """The words, a bare number joined with the unit after it, "at" with the length after it."""
    words = [tidy(word) for word in words]
    begun = ""
    for word, after in pairwise([*words, ""]):
        whole = f"{begun} {word}".strip()
        unit = after[:1].isalpha() or after[:1] in ("%", "°")
        waits = NUMBER.fullmatch(word) and unit and after not in ("at", *RELATIVE)
        begun = whole if waits or word == "at" else ""
        if not begun:
            yield whole


def _is_direction(word: str) -> bool:
    if word in RELATIVE:
        return True
    try:
        read_direction(word)
    except QuantityError:
        return False
    return True


def _meant(word: str) -> tuple[str, str]:
    """The key and the value that a word tells."""
    if "=" in word:
        path, value = split_change(word)
        return ".".join(path), str(value)
    if _is_direction(word):
        return "air.wind_from", word
    height = word.removeprefix("at ")
    if height != word:
        return "air.altitude", _of_kind(height, LENGTH)
    for key, kind in [*OF_KIND.items(), ("mass", MASS)]:
        # A bare number is Crr, a percentage a grade.
        if kind is GRADE and NUMBER.fullmatch(word):
            continue
        try:
            found = _of_kind(word, kind)
        except QuantityError:
            continue
        if kind is LENGTH and abs(read(word, LENGTH)) < SHORTEST:
            problem = f"{in_quotes(word)} is a length, too short to race"
            raise InputError(
                "quick", problem, f"write '{word.removesuffix('m')}m2' for a drag area"
            )
        return key, found
    raise InputError("quick", f"{in_quotes(word)} is none of its quantities", HOW)


SHORTEST = 2.0
"""Length below which a drag area is meant [m]; our choice."""

BARE = (
    ("{}m2 as drag area", 0.1, 1.2),
    ("{}W as power", 60.0, 600.0),
    ("{}kg as rider and bike", 40.0, 180.0),
    ("{}km as distance", 1.0, 400.0),
    ("{}m as distance", 400.0, 400_000.0),
)
"""What a number without a unit may be meant as, between which values; our choice."""


def _refuse_bare(words: Sequence[str]) -> None:
    """Refuse numbers without a unit that cannot be Crr, with what may be meant."""
    highest = read(RACE_KEYS["bike"]["crr"].possible.split(" to ")[1], RATIO)
    numbers = {word: read(word, RATIO) for word in words if NUMBER.fullmatch(word)}
    bare = {word: number for word, number in numbers.items() if number >= highest}
    if not bare:
        return
    meant = (" or ".join(_meant_by(word, number)) for word, number in bare.items())
    lacks = "lacks its unit" if len(bare) == 1 else "lack their units"
    remedy = ", and ".join(filter(None, meant))
    problem = f"{' and '.join(map(in_quotes, bare))} {lacks}"
    raise InputError("quick", problem, f"write {remedy}" if remedy else HOW)


def _meant_by(word: str, number: float) -> list[str]:
    meant = [text.format(word) for text, low, high in BARE if low <= number <= high]
    return [*meant, f"{number / 100:.4g} as Crr"] if number < 1.0 else meant


def _of_kind(word: str, kind: Kind) -> str:
    read(word, kind)
    return word


def _masses(masses: Sequence[str]) -> dict[str, str]:
    """Rider and bike, from one mass of both or from each."""
    if not masses:
        return {}
    if len(masses) > 2:
        raise InputError("quick", "there are more than two masses", "give that of rider and bike")
    kilograms = sorted((read(one, MASS), one) for one in masses)
    if len(masses) == 2:
        return {"rider.mass": kilograms[1][1], "bike.mass": kilograms[0][1]}
    bike = ASSUMED["bike.mass"][0]
    rider = kilograms[0][0] - read(bike, MASS)
    if rider <= 0.0:
        problem = f"{in_quotes(masses[0])} is less than a bike weighs"
        raise InputError("quick", problem, "give rider and bike together, or '70kg 9kg'")
    return {"rider.mass": f"{rider:.6g} kg", "bike.mass": bike}


def _toml(value: str) -> str:
    return value if NUMBER.fullmatch(value) else f'"{value}"'
