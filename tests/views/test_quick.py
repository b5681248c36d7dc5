"""A first answer without a file: what its words mean, and that it is the race's own answer."""

import json
import re
import shlex
import tomllib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from racecalc.errors import InputError
from racecalc.files.quick_race import ASSUMED, quick_race
from racecalc.views.command_line import command, racecalc

TOLD = ("40km", "250W", "0.25m2", "83kg")


def asked(*words: str) -> str:
    found = CliRunner().invoke(racecalc, ["quick", *words], catch_exceptions=False)
    return found.stdout


def known(*words: str):
    return json.loads(asked(*words, "--json"))


@pytest.mark.parametrize(
    ("words", "key", "value"),
    [
        ("40km", "course.distance", "40km"),
        ("25 mi", "course.distance", "25 mi"),
        ("250 W", "rider.power", "250 W"),
        ("0.25m2", "bike.cda", "0.25m2"),
        ("0.004", "bike.crr", "0.004"),
        ("2%", "course.grade", "2%"),
        ("'1 in 14'", "course.grade", "1 in 14"),
        ("25degC", "air.temperature", "25degC"),
        ("1008 hPa", "air.sea_level_pressure", "1008 hPa"),
        ("1.19 kg/m^3", "air.density", "1.19 kg/m^3"),
        ("at 1500 m", "air.altitude", "1500 m"),
        ("3 m/s behind", "air.wind_from", "behind"),
        ("3 m/s behind", "air.wind_speed", "3 m/s"),
        ("83kg", "rider.mass", "73.5 kg"),
        ("9kg 70kg", "bike.mass", "9kg"),
        ("course.bearing=90deg 10mph W", "air.wind_from", "W"),
    ],
)
def test_a_quantity_is_told_by_its_dimension(words: str, key: str, value: str) -> None:
    assert quick_race(shlex.split(words), {}).told[key] == value


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        ("3m/s", "without a direction"),
        ("3m/s WSW", "the road needs a direction"),
        ("40km 20km", "both tell course.distance"),
        ("40km 250W 0.25 83kg", "'0.25' lacks its unit; write 0.25m2 as drag area or 0.0025 as"),
        ("40000 250", "'40000' and '250' lack their units; write 40000m as distance, and 250W as"),
        ("40km 0.25m", "'0.25m' is a length, too short to race; write '0.25m2' for a drag area"),
        ("5s", "none of its quantities"),
        ("3kg", "less than a bike"),
        ("83kg 70kg 9kg", "more than two masses"),
        ("fast", "none of its quantities"),
    ],
)
def test_what_cannot_be_told_is_refused_with_a_remedy(words: str, problem: str) -> None:
    with pytest.raises(InputError, match=re.escape(problem)) as caught:
        quick_race(words.split(), {})
    assert caught.value.remedy


def test_assumptions_are_those_of_the_race_file_to_start_from() -> None:
    template = Path(__file__).parents[2] / "racecalc/files/templates/race.toml"
    race = tomllib.loads(template.read_text("utf-8"))
    for key in ("rider.power", "rider.mass", "bike.mass", "bike.cda", "bike.crr"):
        table, _, name = key.partition(".")
        assert str(race[table][name]) == ASSUMED[key][0]


def test_the_time_is_distance_over_the_root_of_the_cubic() -> None:
    """Power = speed times (air + rolling), textbook mechanics; numpy's roots solve it."""
    still = (
        "bike.drivetrain_loss=0 %",
        "bike.bearing_drag=0 mN",
        "bike.bearing_drag_slope=0 N s/m",
    )
    speed = max(np.roots([0.5 * 1.2 * 0.25, 0, 83 * 9.80665 * 0.004, -250]).real)
    start = f"bike.start_speed={speed:.9f} m/s"
    found = known(*TOLD, "0.004", "1.2kg/m3", start, *still, "--saves", "0.008m2")
    assert found["time_s"] == pytest.approx(40_000 / speed, rel=1e-6)
    faster = max(np.roots([0.5 * 1.2 * 0.242, 0, 83 * 9.80665 * 0.004, -250]).real)
    # It starts at the speed without the saving and gains the rest within the first minutes.
    saved = 40_000 / speed - 40_000 / faster
    assert found["saving"]["saved_s"] == pytest.approx(saved, abs=0.4)


def test_the_file_it_writes_says_the_same(tmp_path: Path) -> None:
    file = tmp_path / "race.toml"
    found = known(*TOLD, "--saves", "0.008m2", "--doubt", "0.002m2", "--save", str(file))
    again = CliRunner().invoke(racecalc, ["value", str(file), "--json"])
    value = json.loads(again.stdout)
    assert value["baseline_time_s"] == pytest.approx(found["time_s"], abs=1e-9)
    for key in ("saved_s", "saved_s_low", "verdict"):
        assert value["options"][0][key] == found["saving"][key]
    assert "# assumed" in file.read_text()
    with pytest.raises(InputError, match="exists already"):
        asked(*TOLD, "--save", str(file))


def test_the_answer_is_ten_lines_with_what_the_assumptions_move() -> None:
    text = asked(*TOLD, "--saves", "0.008m2", "--price", "300 EUR")
    lines = text.splitlines()
    assert len(lines) <= 10
    assert "no doubt stated" in text
    assert "EUR for each second" in text
    assert "crr 0.0045 (0.0055: +" in text
    basis = " ".join(asked("40km", "--basis").split())
    assert "rider mass 70 kg, bike mass 9.5 kg, crr 0.0045" in basis


def test_a_saving_without_unit_is_told_so() -> None:
    with pytest.raises(InputError, match=r"option.saves: '0.008' has no unit; write for example"):
        asked(*TOLD, "--saves", "0.008")


def test_it_takes_less_than_sixty_keys() -> None:
    assert len("racecalc quick 40km 250W 0.25m2 83kg --saves 0.008m2") < 60
    assert command("quick").epilog


def test_what_it_moves_is_ridden_anew() -> None:
    """The seconds of an assumption against the command with the other value told."""
    one = known(*TOLD)
    [crr] = [tried for tried in one["assumptions_tried"] if tried["key"] == "bike.crr"]
    assert crr["more_s"] == pytest.approx(
        known(*TOLD, "0.0055")["time_s"] - one["time_s"], abs=0.02
    )
