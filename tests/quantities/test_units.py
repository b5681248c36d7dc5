"""Every spelling of every unit against published conversion factors.

Factors as in Thompson A, Taylor BN. Guide for the Use of the International System of Units. NIST
Special Publication 811, 2008, appendix B, and the SI Brochure, 9th ed. 2019 (both from memory).
All but mercury are exact by definition; derived ones stand as products of exact ones.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest

from racecalc.quantities.kinds import KINDS, Kind
from racecalc.quantities.measured import QuantityError, unit_scale
from racecalc.quantities.reading import read

POUND, FOOT, INCH, MILE = 0.45359237, 0.3048, 0.0254, 1609.344
GRAVITY = 9.80665
HOUR = 3600.0
DEGREE = 0.017453292519943295

FACTORS: dict[str, dict[str, float]] = {
    "mass": {
        "kg, kilo, kilos, kilogram, kilograms": 1.0,
        "g, gram, grams": 0.001,
        "oz, ounce, ounces": 0.028349523125,
        "lb, lbs, pound, pounds": POUND,
        "st, stone, stones": 6.35029318,
    },
    "power": {"W, watt, watts": 1.0, "kW, kilowatt, kilowatts": 1000.0},
    "speed": {
        "m/s, mps": 1.0,
        "km/h, kmh, kph, kmph, km/hr": 1000.0 / HOUR,
        "mph, mi/h": 0.44704,
        "kn, kt, kts, knot, knots": 1852.0 / HOUR,
        "ft/s, fps": FOOT,
    },
    "length": {
        "m, metre, metres, meter, meters": 1.0,
        "km, kilometre, kilometres, kilometer, kilometers": 1000.0,
        "cm": 0.01,
        "mm": 0.001,
        "mi, mile, miles": MILE,
        "ft, foot, feet": FOOT,
        "yd, yard, yards": 0.9144,
        "in, inch, inches": INCH,
    },
    "area": {"m^2": 1.0, "cm^2": 1e-4, "ft^2": 0.09290304, "in^2": 6.4516e-4},
    "force": {
        "N, newton, newtons": 1.0,
        "mN": 0.001,
        "gf, gram-force, grams-force, gram force": 0.00980665,
        "kgf, kilogram-force": GRAVITY,
        "lbf, pound-force": 4.4482216152605,
    },
    "angle": {"rad, radian, radians": 1.0, "deg, °, degs, degree, degrees": DEGREE},
    "temperature difference": {
        "K, kelvin, degC, °C, ° C, deg C, celsius, C": 1.0,
        "degF, °F, ° F, deg F, fahrenheit, F": 5.0 / 9.0,
    },
    "pressure": {
        "Pa": 1.0,
        "hPa, mbar, mb": 100.0,
        "kPa": 1000.0,
        "bar": 1e5,
        "atm": 101325.0,
        "psi": POUND * GRAVITY / INCH**2,
        # Conventional inch and millimetre of mercury.
        "inHg, in Hg": 3386.389,
        "mmHg, mm Hg": 133.3224,
    },
    "density": {"kg/m^3, g/L": 1.0, "lb/ft^3": POUND / FOOT**3},
    "ratio": {"(none)": 1.0, "%, percent": 0.01, "‰": 0.001},
    "grade": {"(none)": 1.0, "%, percent": 0.01, "‰, m/km": 0.001, "ft/mi": 1.0 / 5280.0},
    "time": {
        "s, sec, secs, second, seconds": 1.0,
        "min, mins, minute, minutes": 60.0,
        "h, hr, hrs, hour, hours": HOUR,
    },
    "energy": {
        "J, joule, joules": 1.0,
        "kJ, kilojoule, kilojoules": 1000.0,
        # The thermochemical calorie.
        "kcal": 4184.0,
        "Wh": HOUR,
        "kWh": 1000.0 * HOUR,
    },
    "acceleration": {"m/s^2": 1.0, "ft/s^2": FOOT},
    "moment of inertia": {"kg m^2, kgm^2": 1.0, "kg cm^2": 1e-4, "g m^2": 0.001},
    "force per speed": {
        "N s/m, Ns/m, N/(m/s)": 1.0,
        "mN s/m, mNs/m, mN/(m/s)": 0.001,
    },
}
"""Value of one unit in SI, by kind and spellings."""

OTHERS: dict[str, dict[str, Callable[[float], float]]] = {
    "temperature": {
        "K, kelvin": lambda kelvin: kelvin,
        "degC, °C, ° C, deg C, celsius, C": lambda degrees: degrees + 273.15,
        "degF, °F, ° F, deg F, fahrenheit, F": lambda degrees: (degrees + 459.67) / 1.8,
    },
    "speed": {"Bft, beaufort": lambda force: 0.836 * force**1.5},
    "grade": {"deg, °, degree, degrees": lambda degrees: math.tan(DEGREE * degrees)},
}
"""Units of which a value is no multiple."""


def _rows() -> dict[tuple[str, str], Callable[[float], float]]:
    rows: dict[tuple[str, str], Callable[[float], float]] = {}
    multiples = {
        kind: {names: (lambda value, by=by: by * value) for names, by in units.items()}
        for kind, units in FACTORS.items()
    }
    for table in (multiples, OTHERS):
        for kind, units in table.items():
            for names, value_of in units.items():
                for spelling in names.split(", "):
                    rows[kind, spelling.replace("(none)", "")] = value_of
    return rows


PUBLISHED = _rows()
SPELLED = [(kind, spelling) for kind in KINDS for spelling in kind.units]


@pytest.mark.parametrize(("kind", "spelling"), SPELLED, ids=lambda one: getattr(one, "name", one))
def test_a_spelling_is_worth_what_is_published(kind: Kind, spelling: str):
    assert (kind.name, spelling) in PUBLISHED, "a spelling without a published value here"
    expected = [PUBLISHED[kind.name, spelling](value) for value in (3.0, 12.5)]
    # Mercury is printed with seven digits.
    tolerance = 1e-6 if "Hg" in spelling else 1e-12
    assert unit_scale(spelling, kind)(np.array([3.0, 12.5])) == pytest.approx(
        expected, rel=tolerance
    )
    assert read(f"12.5 {spelling}", kind) == pytest.approx(expected[1], rel=tolerance)


def test_no_spelling_has_gone():
    assert set(PUBLISHED) == {(kind.name, spelling) for kind, spelling in SPELLED}


@pytest.mark.parametrize(
    ("force", "low", "high"),
    [(1, 0.3, 1.5), (2, 1.6, 3.3), (3, 3.4, 5.4), (4, 5.5, 7.9), (5, 8.0, 10.7), (6, 10.8, 13.8)],
)
def test_a_force_of_the_wind_is_within_its_speeds(force: int, low: float, high: float):
    """The Beaufort scale of WMO-No. 306, table 1100; from memory."""
    speed = next(kind for kind in KINDS if kind.name == "speed")
    for text in (f"{force} Bft", f"Beaufort {force}"):
        assert low <= read(text, speed) <= high


@pytest.mark.parametrize(
    ("kind", "whole", "part"),
    [
        ("mass", "1 lb", "16 oz"),
        ("mass", "10 st", "14 lb"),
        ("mass", "1 kg", "1000 g"),
        ("length", "5 ft", "12 in"),
        ("length", "1 yd", "3 ft"),
        ("length", "1 mi", "1760 yd"),
        ("length", "1 mi", "5280 ft"),
        ("length", "1 km", "1000 m"),
        ("time", "1 h", "60 min"),
        ("time", "1 min", "60 s"),
    ],
)
def test_a_part_that_makes_up_the_unit_before_it_is_refused(kind: str, whole: str, part: str):
    """Whoever writes 16 oz after pounds has slipped, as with 75 minutes after hours."""
    (asked,) = (one for one in KINDS if one.name == kind)
    with pytest.raises(QuantityError, match=f"'{part}' in .* is not less than one unit before it"):
        read(f"{whole} {part}", asked)


def test_a_part_just_below_the_unit_before_it_is_read():
    mass = KINDS[0]
    assert read("1 lb 15.999 oz", mass) == pytest.approx(31.999 * 0.028349523125, rel=1e-12)
    assert read("9 st 13.9 lb", mass) == pytest.approx(139.9 * POUND, rel=1e-12)
