"""What is assumed, in seconds: each by a solve of a race that states the other value."""

from dataclasses import replace
from pathlib import Path

import pytest

from racecalc.answers.basis import Basis
from racecalc.answers.time import TimeAnswer, time_lines
from racecalc.decisions.assumed import Tried, tried_instead
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import timing
from racecalc.domain.loading import load_race
from racecalc.domain.race import Change
from racecalc.files.race_file import Assumption
from racecalc.files.race_keys import RACE_KEYS
from tests.builders import race

SHORT = """\
rider = { mass = "70 kg", power = "250 W" }
bike = { mass = "9 kg", cda = "0.25 m^2", crr = 0.004 }

[course]
distance = "40 km"
step = "50 m"
"""
WINDY = """

[[course.section]]
from = "10 km"
to = "20 km"
surface = "chip road"

[air]
wind_speed = "4 m/s"
wind_from = "ahead"
"""

AS_TIME_GOES = 0.02
"""Seconds by which nodes laid for another race may move a difference here [s]."""


@pytest.fixture(scope="module")
def path(tmp_path_factory) -> Path:
    file = tmp_path_factory.mktemp("assumed") / "short.toml"
    file.write_text(SHORT, encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def windy(tmp_path_factory) -> Path:
    file = tmp_path_factory.mktemp("assumed") / "windy.toml"
    file.write_text(SHORT + WINDY, encoding="utf-8")
    return file


def _lines(base: Ridden, tried: tuple[Tried, ...]) -> str:
    answer = TimeAnswer(base, timing(base), Basis.of(base), tried=tried)
    return "\n".join(map(str, time_lines(answer, "metric")))


def _by_key(base: Ridden) -> dict[str, Tried]:
    return {one.key: one for one in tried_instead(base)}


def test_a_cda_holds_the_turning_wheels_unless_the_file_says_otherwise(path: Path) -> None:
    """Two solves from scratch, one without and one with the area of Martin et al. 1998."""
    base = ride(load_race(path))
    stated = ride(load_race(path, ["bike.spoke_drag=0 m^2"]))
    before = ride(load_race(path, ["bike.spoke_drag=0.0044 m^2"]))
    assert base.time == stated.time
    wheels = _by_key(base)["bike.spoke_drag"]
    assert wheels.more_s == pytest.approx(before.time - stated.time, abs=AS_TIME_GOES)
    told = f"bike.spoke_drag to 0.0044 m^2: {before.time - stated.time:.0f} s here."
    assert told in _lines(base, tried_instead(base))
    assert "wheels" not in _lines(stated, tried_instead(stated))


def test_yaw_is_told_only_where_there_is_any(path: Path) -> None:
    """A wind from dead ahead or behind has no part across the road: plain geometry."""
    windy = "air.wind_speed=4 m/s"
    said = {
        side: _lines(ride(load_race(path, [windy, f"air.wind_from={side}"])), ())
        for side in ("ahead", "left")
    }
    assert "wind at the rider" in said["ahead"]
    assert "yaw" not in said["ahead"]
    assert "yaw below" in said["left"]


@pytest.mark.parametrize(
    ("key", "instead"),
    [
        ("bike.drivetrain_loss", "3.302 %"),
        ("bike.power_at", "hub"),
        ("bike.start_speed", "30 km/h"),
        ("bike.bearing_drag", "182 mN"),
        ("bike.wheel_inertia", "0.07 kg m^2"),
        ("air.temperature", "25 degC"),
        ("air.sea_level_pressure", "1003.25 hPa"),
        ("air.altitude", "300 m"),
        ("air.humidity", "100 %"),
    ],
)
def test_the_seconds_are_those_of_a_race_file_that_states_it(path: Path, key, instead) -> None:
    base = ride(load_race(path))
    tried = _by_key(base)[key]
    stated = ride(load_race(path, [f"{key}={instead}"]))
    assert tried.instead == instead
    assert tried.more_s == pytest.approx(stated.time - base.time, abs=0.1)


@pytest.mark.parametrize(
    ("key", "instead"),
    [
        ("air.wind_height", "2 m"),
        ("air.terrain", "low hedges"),
        ("air.wind_law", "power"),
        ("bike.cda", '{ yaw = ["0 deg", "15 deg"], area = ["0.25 m^2", "0.2625 m^2"] }'),
    ],
)
def test_wind_and_yaw_too(windy: Path, key, instead) -> None:
    changes = ["air.wind_from=left"]
    base = ride(load_race(windy, changes))
    stated = ride(load_race(windy, [*changes, f"{key}={instead}"]))
    assert _by_key(base)[key].more_s == pytest.approx(stated.time - base.time, abs=0.05)


def test_a_calm_is_tried_with_a_head_wind(path: Path) -> None:
    base = ride(load_race(path))
    tried = _by_key(base)["air.wind_speed"]
    stated = ride(load_race(path, ["air.wind_speed=2 m/s", "air.wind_from=ahead"]))
    assert tried.more_s == pytest.approx(stated.time - base.time, abs=0.05)
    assert "wind speed 0 m/s (2 m/s from ahead: +" in _lines(base, tried_instead(base))


def test_a_surface_is_tried_rougher(windy: Path) -> None:
    """By the derivative of the time with the rolling resistance of the steps of that surface."""
    base = ride(load_race(windy))
    crr, d = base.solution.ride.crr, base.derivatives.crr
    rough = crr > 1.2 * base.race.bike.crr
    first_order = float((d * crr)[rough].sum()) * 0.15
    tried = _by_key(base)["course.chip road"]
    assert tried.more_s == pytest.approx(first_order, rel=0.02)


def test_what_an_option_in_use_changes_is_kept() -> None:
    """A chain in use that saves half a point: the assumed loss is off by one point all the same."""
    assumed = Assumption("bike.drivetrain_loss", "2.302 %", "Martin et al. 1998")
    base = race(drivetrain_loss=0.02302, assumptions=(assumed,))
    used = ride(base.changed(Change(drivetrain_loss=-0.005)))
    (tried,) = tried_instead(used)
    again = ride(used.race.changed(Change(drivetrain_loss=0.01)))
    assert tried.more_s == pytest.approx(again.time - used.time, abs=AS_TIME_GOES)


def test_every_default_with_a_source_has_another_value() -> None:
    """Options are left out: what is assumed of them is said with them."""
    lacking = [
        f"{table}.{name}"
        for table, keys in RACE_KEYS.items()
        for name, about in keys.items()
        if about.source and not about.instead and table != "option"
    ]
    assert lacking == []


def test_the_line_takes_the_largest_first_and_leaves_out_less_than_a_second(path: Path) -> None:
    base = ride(load_race(path))
    some = (
        Tried("air.humidity", "50 %", "100 %", -3.6),
        Tried("bike.wheel_radius", "0.311 m", "0.34 m", -0.4),
    )
    (line,) = [one for one in _lines(base, some).splitlines() if one.startswith("Assumed")]
    assert line == "Assumed: humidity 50 % (100 %: -4 s)."
    many = tuple(replace(some[0], more_s=float(9 - at)) for at in range(8))
    (line,) = [one for one in _lines(base, many).splitlines() if one.startswith("Assumed")]
    assert line.startswith("Assumed: humidity 50 % (100 %: +9 s), ")
    assert line.endswith(" and 4 more: --basis.")
    assert len(line) <= 160
