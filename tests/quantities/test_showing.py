"""Numbers as shown in the two systems of units."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.quantities.measured import unit_scale
from racecalc.quantities.reading import read
from racecalc.quantities.showing import DISPLAYS, System, What, show, shown_unit, to_shown

SYSTEMS: tuple[System, ...] = ("metric", "imperial")


@pytest.mark.parametrize(
    ("value", "what", "metric", "imperial"),
    [
        (12.5, "speed", "45.0 km/h", "28.0 mph"),
        (4.0, "wind_speed", "4.0 m/s", "8.9 mph"),
        (40000.0, "course_distance", "40.00 km", "24.85 mi"),
        (123.4, "elevation", "123 m", "405 ft"),
        (10.0, "length", "10.0 m", "32.8 ft"),
        (67.0, "mass", "67.0 kg", "147.7 lb"),
        (0.04, "small_mass", "40 g", "1.4 oz"),
        (262.4, "power", "262 W", "262 W"),
        (17000.0, "energy", "17.0 kJ", "17.0 kJ"),
        (290.15, "temperature", "17.0 degC", "62.6 degF"),
        (2.0, "temperature_change", "2.0 degC", "3.6 degF"),
        (101100.0, "pressure", "1011 hPa", "29.85 inHg"),
        (1.19, "density", "1.190 kg/m^3", "1.190 kg/m^3"),
        (0.236, "area", "0.2360 m^2", "0.2360 m^2"),
        (0.38, "force", "0.38 N", "0.085 lbf"),
        (-0.04, "grade", "-4.0 %", "-4.0 %"),
        (0.024, "percent", "2.4 %", "2.4 %"),
    ],
)
def test_shows_in_both_systems(value: float, what: What, metric: str, imperial: str):
    # Worked out by hand from the exact definitions listed in test_reading.py.
    assert show(value, what, "metric") == metric
    assert show(value, what, "imperial") == imperial


def test_every_display_is_covered_above_and_its_unit_can_be_typed():
    marks = test_shows_in_both_systems.pytestmark  # type: ignore[attr-defined]
    assert {row[1] for row in marks[0].args[1]} == set(DISPLAYS)
    for what, shown in DISPLAYS.items():
        for system in SYSTEMS:
            assert shown_unit(what, system) in shown.kind.choices()


@pytest.mark.parametrize(
    ("value", "signed", "text"),
    [
        (0.04, True, "+40 g"),
        (-0.04, True, "-40 g"),
        (0.0, True, "0 g"),
        (-0.0001, False, "0 g"),
        (0.0001, True, "0 g"),
    ],
)
def test_sign(value: float, signed: bool, text: str):
    assert show(value, "small_mass", "metric", signed=signed) == text


def test_decimals_of_the_caller():
    assert show(12.3456, "speed", "metric", decimals=0) == "44 km/h"
    assert show(0.23456, "area", "metric", decimals=2) == "0.23 m^2"


def test_table_column_keeps_its_shape():
    shown = to_shown(np.array([[273.15, 283.15]]), "temperature", "imperial")
    assert shown.shape == (1, 2)
    assert shown == pytest.approx(np.array([[32.0, 50.0]]))


def test_unknown_display_is_an_error_of_ours():
    with pytest.raises(KeyError, match="sped"):
        show(1.0, "sped", "metric")  # type: ignore[arg-type]


@given(
    st.floats(-1e6, 1e6), st.sampled_from(sorted(DISPLAYS)), st.sampled_from(SYSTEMS), st.booleans()
)
def test_shown_value_reads_back(value: float, what: What, system: System, signed: bool):
    kind = DISPLAYS[what].kind
    text = show(value, what, system, decimals=6, signed=signed)
    to_si = unit_scale(shown_unit(what, system), kind)
    half_digit = float(to_si(np.array(5.1e-7)) - to_si(np.array(0.0)))
    assert read(text, kind) == pytest.approx(value, rel=1e-12, abs=half_digit)
