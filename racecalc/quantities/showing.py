"""How numbers are shown in the two systems of units; the factors are those of the reading."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.quantities import kinds
from racecalc.quantities.kinds import Kind
from racecalc.quantities.measured import convert_units

System = Literal["metric", "imperial"]

What = Literal[
    "speed",
    "wind_speed",
    "course_distance",
    "elevation",
    "length",
    "mass",
    "small_mass",
    "power",
    "energy",
    "temperature",
    "temperature_change",
    "pressure",
    "density",
    "area",
    "force",
    "grade",
    "percent",
]


@dataclass(frozen=True)
class Shown:
    """How one sort of number is shown."""

    kind: Kind
    metric_unit: str
    imperial_unit: str
    """Spellings of units of that kind."""
    metric_decimals: int
    imperial_decimals: int
    """Decimals shown unless the caller wants others."""

    def unit(self, system: System) -> str:
        """Return the spelling of the unit."""
        return self.metric_unit if system == "metric" else self.imperial_unit

    def decimals(self, system: System) -> int:
        """Return the decimals shown."""
        return self.metric_decimals if system == "metric" else self.imperial_decimals


DISPLAYS: dict[What, Shown] = {
    "speed": Shown(kinds.SPEED, "km/h", "mph", 1, 1),
    "wind_speed": Shown(kinds.SPEED, "m/s", "mph", 1, 1),
    "course_distance": Shown(kinds.LENGTH, "km", "mi", 2, 2),
    "elevation": Shown(kinds.LENGTH, "m", "ft", 0, 0),
    "length": Shown(kinds.LENGTH, "m", "ft", 1, 1),
    "mass": Shown(kinds.MASS, "kg", "lb", 1, 1),
    "small_mass": Shown(kinds.MASS, "g", "oz", 0, 1),
    "power": Shown(kinds.POWER, "W", "W", 0, 0),
    "energy": Shown(kinds.ENERGY, "kJ", "kJ", 1, 1),
    "temperature": Shown(kinds.TEMPERATURE, "degC", "degF", 1, 1),
    "temperature_change": Shown(kinds.TEMPERATURE_CHANGE, "degC", "degF", 1, 1),
    "pressure": Shown(kinds.PRESSURE, "hPa", "inHg", 0, 2),
    # Testers who ride by miles still state drag area in m^2, and air density in kg/m^3 beside it
    # (common practice), so both stay comparable with what they were told.
    "density": Shown(kinds.DENSITY, "kg/m^3", "kg/m^3", 3, 3),
    "area": Shown(kinds.AREA, "m^2", "m^2", 4, 4),
    "force": Shown(kinds.FORCE, "N", "lbf", 2, 3),
    "grade": Shown(kinds.GRADE, "%", "%", 1, 1),
    "percent": Shown(kinds.RATIO, "%", "%", 1, 1),
}


def shown_unit(what: What, system: System) -> str:
    """Return the unit that a sort of number is shown in, as it can be typed.

    >>> shown_unit("course_distance", "imperial")
    'mi'
    """
    return DISPLAYS[what].unit(system)


def to_shown(values: FloatArray, what: What, system: System) -> FloatArray:
    """Convert SI values to the unit they are shown in, as for a table or a chart.

    >>> to_shown(np.array([10.0, 12.5]), "speed", "metric")
    array([36., 45.])
    """
    kind = DISPLAYS[what].kind
    return convert_units(values, kind.si, kind.units[shown_unit(what, system)])


def unit_size(what: What, system: System) -> float:
    """Return one unit of a sort of number in SI, as for round steps of a scale.

    >>> unit_size("course_distance", "imperial")
    1609.344
    """
    kind = DISPLAYS[what].kind
    return float(convert_units(np.asarray(1.0), kind.units[shown_unit(what, system)], kind.si))


def show_number(
    value: float, what: What, system: System, decimals: int | None = None, *, signed: bool = False
) -> str:
    """Show one SI value as `show` does but without its unit, as under a heading that has it.

    >>> show_number(12.5, "speed", "metric"), show_number(-0.0001, "grade", "metric")
    ('45.0', '0.0')
    """
    places = DISPLAYS[what].decimals(system) if decimals is None else decimals
    number = float(to_shown(np.asarray(value), what, system))
    rounded = f"{number:.{places}f}"
    if float(rounded) == 0.0:
        return rounded.removeprefix("-")
    return f"+{rounded}" if signed and number > 0 else rounded


def show(
    value: float, what: What, system: System, decimals: int | None = None, *, signed: bool = False
) -> str:
    """Show one SI value with its unit; `racecalc.quantities.reading.read` reads it back.

    >>> show(12.5, "speed", "metric"), show(0.04, "small_mass", "metric", signed=True)
    ('45.0 km/h', '+40 g')
    """
    number = show_number(value, what, system, decimals, signed=signed)
    return f"{number} {shown_unit(what, system)}"
