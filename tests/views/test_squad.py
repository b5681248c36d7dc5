"""Several race files in one table: each row is the answer about that race alone."""

import json
from pathlib import Path

import pytest

from tests.files.making import RACE


@pytest.fixture
def races(tmp_path: Path) -> list[str]:
    """Two races, the second of a stronger rider without the second option."""
    short = RACE.replace("40 km", "10 km")
    other = short.replace("262 W", "300 W").partition('[[option]]\nname = "Tyres')[0]
    for name, text in (("one.toml", short), ("other.toml", other)):
        (tmp_path / name).write_text(f'[race]\nname = "{name}"\n{text}', encoding="utf-8")
    return ["one.toml", "other.toml"]


@pytest.mark.parametrize("question", ["time", "value", "pace"])
def test_the_answers_are_those_about_each(racecalc, races, question: str) -> None:
    alone = [json.loads(racecalc(question, race, "--json")[1]) for race in races]
    assert json.loads(racecalc(question, *races, "--json")[1]) == {"races": alone}


def test_times_are_rows(racecalc, races) -> None:
    rows = racecalc("time", *races)[1].splitlines()
    for race in races:
        time = racecalc("time", race)[1].splitlines()[0].removeprefix(f"{race}: ")
        [row] = [one for one in rows if one.startswith(race)]
        assert row.split()[1] == time


def test_values_are_columns(racecalc, races) -> None:
    rows = racecalc("value", *races)[1].splitlines()
    [heading] = [one for one in rows if one.startswith("option ")]
    assert heading.split()[1:] == races
    [tyres] = [one for one in rows if one.startswith("Tyres v2.0")]
    assert tyres.split()[-1] == "-"
    own = racecalc("value", races[1])[1]
    [suit] = [one for one in rows if one.startswith("Long-sleeve suit")]
    assert suit.partition(")")[2].strip() in own


def test_one_file_cannot_hold_two_cards(racecalc, races) -> None:
    status, _, error = racecalc("pace", *races, "-o", "card.html")
    assert status == 2
    assert "one file would hold the last; ask for each race by itself" in error
    assert not Path("card.html").exists()
