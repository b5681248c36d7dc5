"""The first sheet says nothing that would mislead whoever has only that sheet."""

from pathlib import Path

import pytest

from racecalc.answers.cells import quoted
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table
from racecalc.quantities.clock import show_duration
from racecalc.views.advice import PageRequest, advice_on, without_folder
from tests.advice.races import FREE, OWNED, SUIT, race_in, race_text

LONG = "How long, and how sure"


def sheet_on(folder: Path, text: str, *changes: str, **asked: str) -> Sheet:
    return advice_on(race_in(folder, text), PageRequest(changes=changes, **asked))[1]


def spoken(line: Line) -> str:
    return "".join(map(str, line))


def told(sheet: Sheet, title: str) -> str:
    """The lines of a block, which must be part of the first sheet of paper."""
    block = next(one for one in sheet.blocks if one.title == title)
    assert isinstance(block, Lines)
    assert block.depth == Depth.ANSWER
    return "\n".join(map(spoken, block.lines))


def rows(sheet: Sheet, title: str) -> list[list[str]]:
    table = next(one for one in sheet.blocks if one.title == title)
    assert isinstance(table, Table)
    return [[str(cell) for cell in table.cells(row, sheet.units)] for row in table.rows]


def test_no_power_is_told_where_a_limit_decides(tmp_path: Path) -> None:
    downhill = ('course.grade="-3 %"', 'course.max_speed="20 km/h"')
    sheet = sheet_on(tmp_path, race_text(), *downhill)
    assert "Ride by the card" in spoken(sheet.headline)
    for row in rows(sheet, "The card"):
        assert row[1] == "-"
        assert row[3] == "roll: a bend or limit decides"


def test_power_that_cannot_be_held_is_said_first(tmp_path: Path) -> None:
    text = race_text().replace(
        'power = "250 W"',
        'power = "250 W"\ncritical_power = "205 W"\nwork_above_critical = "10 kJ"',
    )
    sheet = sheet_on(tmp_path, text)
    assert sheet.blocks[0].title == "Doubtful"
    words = told(sheet, "Doubtful")
    assert "states 250 W, which its own data of the rider do not allow" in words
    assert "This page is for 210 W, which they do." in words
    assert spoken(sheet.headline).startswith("Ride 210 W ")
    assert "at 210 W throughout" in told(sheet, LONG)
    repeat = next(one for one in sheet.blocks if one.title == "To repeat it")
    commands = [words for line in repeat.lines if (words := spoken(line)).startswith("racecalc ")]
    assert commands
    assert all('rider.power="210 W"' in words for words in commands)


def test_card_that_is_slower_than_one_power_is_not_advised(tmp_path: Path) -> None:
    """Steps of whole watts may cost more than a flat road without wind leaves to gain."""
    answer, sheet = advice_on(
        race_in(tmp_path, race_text()),
        PageRequest(changes=('rider.power="239.6 W"', 'course.distance="60 km"')),
    )
    assert answer.pace is not None
    assert answer.pace.found.card.time_s > answer.advised_set_s + 1.0
    words = spoken(sheet.headline)
    assert words.startswith("Ride 240 W throughout with what you have now, for ")
    assert rows(sheet, "The card") == [["60.00", "", show_duration(answer.advised_set_s), "Finish"]]
    assert show_duration(answer.advised_set_s) in words


def test_stated_doubts_make_the_band(tmp_path: Path) -> None:
    bare = spoken(sheet_on(tmp_path, race_text()).headline)
    assert "in 95 of 100 cases (doubt of the model alone)" in bare
    held = spoken(sheet_on(tmp_path, race_text(SUIT)).headline)
    assert "in 95 of 100 cases (doubt of model and set alone)" in held
    sure = sheet_on(tmp_path, race_text(), 'rider.power_doubt="10 W"')
    assert spoken(sure.headline).endswith("in 95 of 100 cases.")
    both = told(sheet_on(tmp_path, race_text(SUIT), 'rider.power_doubt="10 W"'), LONG)
    assert "the stated doubts, those of the set, and that of the model" in both


def test_what_is_not_proved_and_what_it_costs_is_next_to_it(tmp_path: Path) -> None:
    position = FREE.replace("saves", 'comfort = "Hurts."\npower_loss = "3 W"\nsaves', 1)
    words = told(sheet_on(tmp_path, race_text(position.replace("0.004", "0.016"))), "Do")
    assert "Pads lower: Hurts. It costs 3 W while held, which the targets allow for." in words
    unproved = FREE.replace("0.003", "0.0035")
    assert "Pads lower: not proved, faster with a chance of" in told(
        sheet_on(tmp_path, race_text(unproved)), "Do"
    )


def test_what_is_owned_is_not_told_to_be_bought(tmp_path: Path) -> None:
    worse = OWNED.replace("0.003", "-0.003")
    words = told(sheet_on(tmp_path, race_text(worse)), "Do not")
    assert "Do not use, although it costs nothing: Owned race gloves." in words
    assert "buy" not in words


def test_rules_that_nobody_checked_are_asked_about(tmp_path: Path) -> None:
    unchecked = SUIT.replace('rules = "allowed"', "")
    assert "the rules are not checked yet: Suit" in told(
        sheet_on(tmp_path, race_text(unchecked)), "Do"
    )
    assert "rules" not in told(sheet_on(tmp_path, race_text(SUIT)), "Do")


def test_many_landmarks_leave_the_card_short(tmp_path: Path) -> None:
    marks = "".join(
        f'[[course.landmark]]\nat = "{1 + number} km"\nname = "Gate {number}"\nnote = "Look up."\n'
        for number in range(15)
    )
    sheet = sheet_on(tmp_path, race_text(more=marks))
    assert not any("Gate" in row[3] for row in rows(sheet, "The card"))
    landmarks = rows(sheet, "Landmarks")
    assert len(landmarks) == 15
    assert landmarks[3][2] == "Gate 3: Look up."


@pytest.mark.parametrize(("units", "distance"), [("metric", "to km"), ("imperial", "to mi")])
def test_units_of_the_reader(tmp_path: Path, units: str, distance: str) -> None:
    sheet = sheet_on(tmp_path, race_text(), units=units)
    card = next(one for one in sheet.blocks if one.title == "The card")
    assert card.shown[0].title(sheet.units) == distance


def test_no_bottle_is_left_behind_in_the_heat(tmp_path: Path) -> None:
    hot = race_text().replace(
        'density = "1.2 kg/m^3"', 'temperature = "34 degC"\npressure = "1010 hPa"'
    )
    assert "leave no bottle at home" in told(sheet_on(tmp_path, hot), "Before you follow it")
    lighter = FREE.replace("Pads lower", "No bottle").replace(
        "saves", 'heat_limit = "25 degC"\nsaves', 1
    )
    words = told(sheet_on(tmp_path, f"{hot}{lighter}"), "Do not")
    assert "Not in this weather, whatever they save: No bottle." in words
    assert "wind" not in words


def test_folder_of_the_race_is_not_told(tmp_path: Path) -> None:
    odd = race_text(SUIT).replace('mass = "67 kg"', 'mass = "140 kg"')
    _, sheet = advice_on(race_in(tmp_path, odd), PageRequest())
    everything = " ".join(
        spoken(line) for block in sheet.blocks if isinstance(block, Lines) for line in block.lines
    )
    assert "canal.toml, line" in everything
    assert tmp_path.as_posix() not in everything


def test_folder_of_the_race_is_not_among_the_inputs(tmp_path: Path) -> None:
    track = tmp_path / "track.csv"
    track.write_text("distance [km],elevation [m]\n0,0\n9,0\n18,30\n", "utf-8")
    given = 'distance = "20 km"\ngrade = "0 %"\nbearing = "90 deg"'
    text = race_text().replace(given, f'file = "{track.as_posix()}"')
    keys = dict(rows(sheet_on(tmp_path, text), "Inputs"))
    assert keys["course"] == 'file = "track.csv"; step = "50 m"'


@pytest.mark.parametrize(
    ("folder", "told", "kept"),
    [
        ("m", "m/canal.toml, line 3: 40 km/h", "canal.toml, line 3: 40 km/h"),
        ("/home/me/races", "/home/me/races/a b.csv: none", "a b.csv: none"),
        ("races", "see /other/races/x.csv", "see /other/races/x.csv"),
        ("a", "a/b test of gamma/delta", "a/b test of gamma/delta"),
        (".", "x.csv", "x.csv"),
    ],
)
def test_no_more_than_a_folder_is_left_out(folder: str, told: str, kept: str) -> None:
    page = Sheet((quoted(told),), [])
    assert spoken(without_folder(page, Path(folder)).headline) == kept
