"""A race file that many tests start from, and what becomes of it after a change."""

from pathlib import Path

import pytest

from racecalc.domain.loading import load_race
from racecalc.errors import InputError

RACE = """\
# The league on the shore
[rider]
mass = "67 kg"      # before breakfast
power = "262 W"

[bike]
mass = "19.6 lb"
cda = "0.236 m^2"
crr = 0.0042

[air]
temperature = "17 degC"
pressure = "1011 hPa"
humidity = "70 %"
wind_at_rider = "2 m/s"
wind_from = "WSW"

[course]
distance = "40 km"
bearing = "90 deg"

[[course.section]]
from = "2 km"
to = "4 km"
crr = 0.0084

[[option]]
name = "Long-sleeve suit"
slot = "suit"
price = "240 EUR"
mass = "+40 g"
saves = "4.5 W at 45 km/h"
doubt = "1.2 W at 45 km/h"

[[option]]
name = "Tyres v2.0"
saves = "0.0004 of Crr"
"""


def race_file(folder: Path, text: str) -> Path:
    """A race file of that text."""
    path = folder / "race.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(path: Path, text: str, old: str, new: str) -> InputError:
    """The error after one change of the text."""
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as error:
        load_race(path)
    return error.value
