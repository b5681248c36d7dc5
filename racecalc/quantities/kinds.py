"""The kinds of quantity people type, and the spellings of units each accepts.

Spellings are compared after `fold`: "m²", "m^2" and "m2" are one spelling, as are "N s/m",
"N*s/m" and "N·s/m". What each unit is worth stands in pint alone.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

_FOLDED = str.maketrans(
    {"²": "2", "³": "3", "^": None, "*": " ", "·": " ", "⋅": " ", "º": "°", "℃": "°C", "℉": "°F"}
)
_CASE_MATTERS = frozenset({"mm", "mN", "mbar", "mb", "mN s/m", "mNs/m", "mN/(m/s)"})
"""Spellings that a capital M would turn from a thousandth into a million."""


def fold(spelling: str) -> str:
    """Return the form in which spellings of units are compared.

    Examples
    --------
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

        Examples
        --------
        >>> MASS.find("KG"), FORCE.find("mN"), FORCE.find("MN")
        ('kilogram', 'millinewton', None)
        """
        return _pick(self.units, spelling)

    def hint(self, spelling: str) -> str | None:
        """Return what to write instead of a spelling that is known and refused, or None."""
        return _pick(self.hints, spelling)

    def choices(self) -> list[str]:
        """Return one spelling of every unit.

        Examples
        --------
        >>> ENERGY.choices()
        ['J', 'kJ', 'kcal', 'Wh', 'kWh']
        """
        first: dict[str, str] = {}
        for spelling, name in self.units.items():
            if spelling:
                first.setdefault(name, spelling)
        return list(first.values())


def _spelled(**units: str) -> dict[str, str]:
    """Map each spelling, parted by commas in the values, to the pint unit that is the key."""
    return {text.strip(): name for name, texts in units.items() for text in texts.split(",")}


MASS = Kind(
    "mass",
    "kg",
    _spelled(
        kilogram="kg,kilo,kilos,kilogram,kilograms",
        gram="g,gram,grams",
        ounce="oz,ounce,ounces",
        pound="lb,lbs,pound,pounds",
        stone="st,stone,stones",
    ),
    "67 kg",
    in_parts=True,
)
POWER = Kind(
    "power",
    "W",
    _spelled(watt="W,watt,watts", kilowatt="kW,kilowatt,kilowatts"),
    "262 W",
    hints={"W/kg": "write the power in W, and the mass in its own place"},
)
_AS_SPEED = "write it as a speed, as in '4 m/s'"
SPEED = Kind(
    "speed",
    "m/s",
    _spelled(
        meter_per_second="m/s,mps",
        kilometer_per_hour="km/h,kmh,kph,kmph,km/hr",
        mile_per_hour="mph,mi/h",
        knot="kn,kt,kts,knot,knots",
        foot_per_second="ft/s,fps",
    ),
    "45 km/h",
    hints={"bft": _AS_SPEED, "beaufort": _AS_SPEED},
)
LENGTH = Kind(
    "length",
    "m",
    _spelled(
        meter="m,metre,metres,meter,meters",
        kilometer="km,kilometre,kilometres,kilometer,kilometers",
        centimeter="cm",
        millimeter="mm",
        mile="mi,mile,miles",
        foot="ft,foot,feet",
        yard="yd,yard,yards",
        inch="in,inch,inches",
    ),
    "40 km",
    in_parts=True,
)
AREA = Kind(
    "area",
    "m^2",
    {"m^2": "meter**2", "cm^2": "centimeter**2", "ft^2": "foot**2", "in^2": "inch**2"},
    "0.236 m^2",
)
FORCE = Kind(
    "force",
    "N",
    _spelled(
        newton="N,newton,newtons",
        millinewton="mN",
        gram_force="gf,gram-force,grams-force,gram force",
        kilogram_force="kgf,kilogram-force",
        pound_force="lbf,pound-force",
    ),
    "0.38 N",
    hints={
        "g": "write gf or gram-force for grams of drag",
        "gram": "write gf or gram-force for grams of drag",
        "grams": "write gf or gram-force for grams of drag",
        "lb": "write lbf for pounds of drag",
        "kg": "write kgf for kilograms of drag",
    },
)
ANGLE = Kind(
    "angle",
    "rad",
    _spelled(radian="rad,radian,radians", degree="deg,°,degs,degree,degrees"),
    "10 deg",
)
TEMPERATURE = Kind(
    "temperature",
    "K",
    _spelled(
        kelvin="K,kelvin",
        degree_Celsius="degC,°C,° C,deg C,celsius",
        degree_Fahrenheit="degF,°F,° F,deg F,fahrenheit",
    ),
    "17 degC",
    hints={
        "C": "write degC",
        "F": "write degF",
        "deg": "write degC or degF",
        "°": "write degC or degF",
    },
)
TEMPERATURE_CHANGE = Kind(
    "temperature difference",
    "K",
    _spelled(
        kelvin="K,kelvin",
        delta_degree_Celsius="degC,°C,° C,deg C,celsius",
        delta_degree_Fahrenheit="degF,°F,° F,deg F,fahrenheit",
    ),
    "2 degC",
    hints=TEMPERATURE.hints,
)
PRESSURE = Kind(
    "pressure",
    "Pa",
    _spelled(
        pascal="Pa",
        hectopascal="hPa",
        millibar="mbar,mb",
        kilopascal="kPa",
        inch_Hg="inHg,in Hg",
        millimeter_Hg="mmHg,mm Hg",
        bar="bar",
        psi="psi",
        standard_atmosphere="atm",
    ),
    "1011 hPa",
)
DENSITY = Kind(
    "density",
    "kg/m^3",
    {"kg/m^3": "kilogram/meter**3", "g/L": "gram/liter", "lb/ft^3": "pound/foot**3"},
    "1.19 kg/m^3",
)
_PLAIN_AND_PERCENT = {"": "dimensionless", **_spelled(percent="%,percent", permille="‰")}
RATIO = Kind("ratio", "", _PLAIN_AND_PERCENT, "2.4 %")
GRADE = Kind(
    "grade",
    "",
    {
        **_PLAIN_AND_PERCENT,
        "m/km": "meter/kilometer",
        "ft/mi": "foot/mile",
        **_spelled(degree="deg,°,degree,degrees"),
    },
    "4 %",
)
TIME = Kind(
    "time",
    "s",
    _spelled(
        second="s,sec,secs,second,seconds",
        minute="min,mins,minute,minutes",
        hour="h,hr,hrs,hour,hours",
    ),
    "58:30",
    hints={"m": "write min for minutes"},
    in_parts=True,
)
ENERGY = Kind(
    "energy",
    "J",
    _spelled(
        joule="J,joule,joules",
        kilojoule="kJ,kilojoule,kilojoules",
        kilocalorie="kcal",
        watt_hour="Wh",
        kilowatt_hour="kWh",
    ),
    "17 kJ",
)
ACCELERATION = Kind(
    "acceleration",
    "m/s^2",
    {"m/s^2": "meter/second**2", "ft/s^2": "foot/second**2"},
    "2.5 m/s^2",
)
INERTIA = Kind(
    "moment of inertia",
    "kg m^2",
    {
        "kg m^2": "kilogram*meter**2",
        "kgm^2": "kilogram*meter**2",
        "kg cm^2": "kilogram*centimeter**2",
        "g m^2": "gram*meter**2",
    },
    "0.14 kg m^2",
)
DAMPING = Kind(
    "force per speed",
    "N s/m",
    {
        "N s/m": "newton*second/meter",
        "Ns/m": "newton*second/meter",
        "N/(m/s)": "newton*second/meter",
        "mN s/m": "millinewton*second/meter",
        "mNs/m": "millinewton*second/meter",
        "mN/(m/s)": "millinewton*second/meter",
    },
    "8.7 mN s/m",
)

KINDS = (
    MASS,
    POWER,
    SPEED,
    LENGTH,
    AREA,
    FORCE,
    ANGLE,
    TEMPERATURE,
    TEMPERATURE_CHANGE,
    PRESSURE,
    DENSITY,
    RATIO,
    GRADE,
    TIME,
    ENERGY,
    ACCELERATION,
    INERTIA,
    DAMPING,
)
"""Every kind; where a unit belongs to two, the plainer kind stands first."""
