"""Every case that was once a failure of ours: bad input, in one line, or a right answer."""

import pytest

from tests.fuzz.drawing import NEEDED, written
from tests.fuzz.outcome import outcome

LONG = "9" * 4300


def race(**changes: object) -> str:
    """The least race, with keys changed as table__key."""
    tables = {table: dict(keys) for table, keys in NEEDED.items()}
    for name, value in changes.items():
        table, _, key = name.partition("__")
        if key:
            tables.setdefault(table, {})[key] = value
        else:
            tables[table] = value
    return written(tables)


SLOPE = {"course__distance": "50 m", "course__grade": "-45 %", "course__max_speed": "none"}

REFUSED = {
    "a number of 4,300 digits": (race(), ["time"], f"course.laps={LONG}", "of this size"),
    "brackets in brackets": (race() + f"x = {'[' * 500}{']' * 500}\n", ["time"], "", "nested"),
    "5 W at a speed of no rider": (
        race(option=[{"name": "A", "saves": "5 W at 1e308 km/h"}]),
        ["value"],
        "",
        "is no speed of a rider",
    ),
    "a road above all air": (
        race(course__distance="100 km", course__grade="30 %"),
        ["time"],
        "",
        "above the sea",
    ),
    "one watt": (race(rider__power="1 W"), ["pace"], "", "nobody stays upright"),
    "steering signs in a value": (
        race(rider__power="\x1b[2J\u202e W"),
        ["time"],
        "",
        "rider.power",
    ),
}

ANSWERED = {
    "one watt": (race(rider__power="1 W"), ["pace"]),
    "a limit that no power needs": (
        race(course__max_speed="8 km/h", course__lateral_grip="none"),
        ["pace"],
    ),
    "steep and fast": (race(bike__start_speed="100 km/h", **SLOPE), ["pace"]),
    "a critical power of one watt": (
        race(rider__critical_power="1 W", rider__work_above_critical="200 kJ"),
        ["pace"],
    ),
    "a gale from the side": (
        race(
            bike__cda={"yaw": ["0 deg", "10 deg"], "area": ["0.25 m^2", "0.1 m^2"]},
            air={"wind_speed": "40 m/s", "wind_from": "left"},
        ),
        ["pace"],
    ),
    "a name that steers": (race(race={"name": "\x1b]0;x\x07\u202e\x7f"}), ["time", "--json"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused(tmp_path, name) -> None:
    text, words, change, said = REFUSED[name]
    (tmp_path / "race.toml").write_text(text, encoding="utf-8")
    found = outcome(tmp_path, *words, "race.toml", *([f"--set={change}"] if change else []))
    assert found.status == 2
    assert said in found.err


@pytest.mark.parametrize("name", ANSWERED)
def test_it_is_answered(tmp_path, name) -> None:
    text, words = ANSWERED[name]
    (tmp_path / "race.toml").write_text(text, encoding="utf-8")
    command, *flags = words
    assert outcome(tmp_path, command, "race.toml", *flags).status == 0
