"""Directions in degrees, letters and words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.quantities.measured import QuantityError
from racecalc.quantities.reading import read_direction, show_direction

REMEDY = "write for example '250 deg', 'WSW' or 'west-south-west'"


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("250 deg", 250.0),
        ("250°", 250.0),
        ("247,5 deg", 247.5),
        ("0 deg", 0.0),
        ("360 deg", 0.0),
        ("N", 0.0),
        ("e", 90.0),
        ("WSW", 247.5),
        ("wsw", 247.5),
        ("west-south-west", 247.5),
        ("West South West", 247.5),
        ("northeast", 45.0),
        ("south by west", 191.25),
        ("NbW", 348.75),
    ],
)
def test_reads(text: str, degrees: float):
    assert math.degrees(read_direction(text)) == pytest.approx(degrees, abs=1e-10)


def test_sixteen_points_stand_in_order():
    points = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW"
    bearings = [math.degrees(read_direction(point)) for point in points.split()]
    assert bearings == pytest.approx([22.5 * i for i in range(16)])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "250",
            "'250' has no unit, a direction is needed; "
            "write '250 deg', or a point of the compass such as 'WSW'",
        ),
        ("", f"it is empty; {REMEDY}"),
        ("left", f"'left' is not a point of the compass; {REMEDY}"),
        ("north-north", f"'north-north' is not a point of the compass; {REMEDY}"),
        ("370 deg", "'370 deg' is more than one turn; write an angle from 0 to 360 deg"),
        ("-10 deg", "'-10 deg' is more than one turn; write an angle from 0 to 360 deg"),
        (
            "10 km",
            "'km' is a unit of length, an angle is needed; write one of rad, deg",
        ),
    ],
)
def test_refuses(text: str, message: str):
    with pytest.raises(QuantityError) as caught:
        read_direction(text)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("degrees", "text"),
    [(250.0, "WSW (250°)"), (0.0, "N (0°)"), (359.7, "N (0°)"), (-90.0, "W (270°)")],
)
def test_shows(degrees: float, text: str):
    assert show_direction(math.radians(degrees)) == text


@given(st.floats(0, 360))
def test_direction_is_within_one_turn(degrees: float):
    direction = read_direction(f"{degrees!r} deg")
    assert 0 <= direction < 2 * math.pi
    assert math.cos(direction) == pytest.approx(math.cos(math.radians(degrees)), abs=1e-12)
