"""The first sheet says nothing that would mislead whoever has only that sheet."""

import re
from pathlib import Path

import pytest

from racecalc.answers.cells import quoted
from racecalc.answers.sheet import Depth, Line, Lines, Road, Sheet, Table
from racecalc.quantities.clock import show_duration
from racecalc.views.advice import PageRequest, advice_on, without_folder
from racecalc.views.width import columns_of
from racecalc.views.writers.terminal import sheet_text
from tests.advice.races import (
    CLAIM,
    DEEP,
    FREE,
    HEAVY,
    OWNED,
    SUIT,
    UNPROVED,
    race_in,
    race_text,
)
from tests.answered import answered

HEED = "Before you follow it"


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


def front(sheet: Sheet) -> str:
    with columns_of(1000):
        return sheet_text(sheet, Depth.ANSWER)


def rows(sheet: Sheet, title: str) -> list[list[str]]:
    table = next(one for one in sheet.blocks if one.title == title)
    assert isinstance(table, Table)
    return [[str(cell) for cell in table.cells(row, sheet.units)] for row in table.rows]


def steps(sheet: Sheet) -> list[list[str]]:
    """The road in words: from where, watts, clock and cue."""
    (road,) = (one for one in sheet.blocks if isinstance(one, Road))
    table = road.table
    return [[str(cell) for cell in table.cells(row, sheet.units)] for row in table.rows]


def test_no_power_is_told_where_a_limit_decides(tmp_path: Path) -> None:
    downhill = ('course.grade="-3 %"', 'course.max_speed="20 km/h"', 'course.distance="10 km"')
    sheet = sheet_on(tmp_path, race_text(), *downhill)
    assert spoken(sheet.headline).startswith("Ride the plan")
    assert "ride the plan\n" in front(sheet)
    for row in steps(sheet)[:-1]:
        assert row[1] == row[3] == "roll"


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
    assert "one even power, 210 W\n" in front(sheet)
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
    assert spoken(sheet.headline) == "Ride one even power."
    clock = show_duration(answer.advised_set_s)
    assert steps(sheet) == [["0.0", "240", "0:00", ""], ["60.0", "", clock, "Finish"]]
    assert f"{clock}  one even power, 240 W\n" in front(sheet)


def test_why_there_is_no_card_is_said(tmp_path: Path) -> None:
    text = race_text(SUIT).replace('power = "250 W"', 'power = "250 W"\npower_fade = "30 %"')
    sheet = sheet_on(tmp_path, text, 'course.distance="160 km"')
    assert spoken(sheet.headline).startswith("Ride one even power, buy one thing")
    assert "There is no card: " in front(sheet)
    assert "leaves no power" in front(sheet)


def test_stated_doubts_make_the_band(tmp_path: Path) -> None:
    bare = front(sheet_on(tmp_path, race_text()))
    assert "in 95 of 100 cases, by the doubt of the model;" in bare
    held = front(sheet_on(tmp_path, race_text(SUIT)))
    assert "in 95 of 100 cases, by the doubt of model and options" in held
    sure = front(sheet_on(tmp_path, race_text(), 'rider.power_doubt="10 W"'))
    assert "in 95 of 100 cases, by the stated doubts and that of the model." in sure
    both = front(sheet_on(tmp_path, race_text(SUIT), 'rider.power_doubt="10 W"'))
    assert "by the stated doubts and those of options and model" in both


def test_what_is_not_proved_and_what_it_costs_is_said_with_it(tmp_path: Path) -> None:
    position = FREE.replace("saves", 'comfort = "Hurts."\npower_loss = "3 W"\nsaves', 1)
    sheet = sheet_on(tmp_path, race_text(position.replace("0.004", "0.016")))
    assert "Pads lower: Hurts." in told(sheet, HEED)
    assert "Position. With a fitter; look up" in told(sheet, HEED)
    with columns_of(1000):
        assert "it costs 3 W while held, which the targets" in sheet_text(sheet, Depth.DETAILS)
    unproved = FREE.replace("0.003", "0.0035")
    words = told(sheet_on(tmp_path, race_text(unproved)), HEED)
    assert " % likely faster." in words


def test_what_is_owned_is_not_told_to_be_bought(tmp_path: Path) -> None:
    worse = OWNED.replace("0.003", "-0.003")
    (row,) = rows(sheet_on(tmp_path, race_text(worse)), "What to do")
    assert row[0] == "Owned race gloves"
    assert row[1] == "leave: no gain"
    assert row[4] == "owned"


def test_rules_that_nobody_checked_are_asked_about(tmp_path: Path) -> None:
    unchecked = SUIT.replace('rules = "allowed"', "")
    sheet = sheet_on(tmp_path, race_text(unchecked))
    words = told(sheet, HEED)
    assert (
        'Rules. Where nobody has checked them ("if ok"), ask the organiser before you pay.' in words
    )
    assert next(row[1] for row in rows(sheet, "What to do") if row[0] == "Suit") == "buy if ok"
    assert words.index("Rules.") < words.index("Equipment.")
    assert "Rules" not in told(sheet_on(tmp_path, race_text(SUIT)), HEED)


def test_prices_add_up_to_what_is_paid(tmp_path: Path) -> None:
    """Eight races by hand: three suits of 100 EUR, each for three, and a wheel for each."""
    suit = SUIT.replace("price", 'life = "3 races"\nprice', 1)
    hired = DEEP.replace('price = "50 EUR"', 'price = "900 EUR"\nhire = "6 EUR"')
    money = 'per_second = "20 EUR"\nraces_a_season = 8\nbudget = "400 EUR"'
    sheet = sheet_on(tmp_path, race_text(suit, hired, money=money))
    prices = {row[0]: row[4] for row in rows(sheet, "What to do")}
    assert prices == {"Suit": "3 x 100", "Deep wheel": "8 x 6"}
    assert " faster, for 348 EUR (budget 400)\n" in front(sheet)
    assert re.search(r"two together.* 348\n", front(sheet))
    assert "Suit: Lasts 3 races: 3 for 8." in told(sheet, HEED)


@pytest.mark.xdist_group("advice race.toml")
def test_the_first_test_comes_first_and_each_says_what_it_would_replace() -> None:
    """Shoe covers go where covers are advised, a bottle where one is left at home."""
    sheet = answered("advice", "race.toml").sheet
    tested = [row[:2] for row in rows(sheet, "What to do") if row[1].startswith("test")]
    bottle, covers = "Kelmund bottle between the arms", "Tollimar coated shoe covers"
    assert tested == [[bottle, "test first"], [covers, "test later"]]
    assert "would replace" not in told(sheet, HEED)
    why = next(one for one in sheet.blocks if one.title == "Why: the evidence").lines
    gone = {str(line[0]): spoken(line[-3:]) for line in why if "Would replace" in spoken(line)}
    assert gone == {
        bottle: " Would replace One bottle left at home.",
        covers: " Would replace Vaskelle knit shoe covers.",
    }


@pytest.mark.xdist_group("advice race.toml")
def test_wind_that_comes_later_in_a_section_is_not_promised_at_its_start() -> None:
    """The road of the demo turns at km 6.45, into the wind before and before it after."""
    (road,) = (one for one in answered("advice", "race.toml").sheet.blocks if isinstance(one, Road))
    cues = {float(one.where.text): str(one.cue) for one in road.steps if one.effort}
    assert [cue for at, cue in cues.items() if at < 10.0] == ["head wind", "then tail wind"]
    assert cues[16.6] == "tail wind"


def test_side_wind_is_a_caution_where_a_wheel_may_be_used(tmp_path: Path) -> None:
    """HEAVY is left: in the shop it catches no wind, at home it may be put in. DEEP is bought."""
    words = told(sheet_on(tmp_path, race_text(HEAVY)), HEED)
    assert "Wind." not in words
    owned = HEAVY.replace("mass", "owned = true\nmass")
    words = told(sheet_on(tmp_path, race_text(owned)), HEED)
    assert "Wind. Side wind pushes Heavy wheel" in words
    ridden = sheet_on(tmp_path, race_text(owned), 'race.use=["Heavy wheel"]')
    assert "Wind. Side wind pushes Heavy wheel" in told(ridden, HEED)
    words = told(sheet_on(tmp_path, race_text(DEEP)), HEED)
    assert "Wind. Side wind pushes Deep wheel: take care in gusts of 11 m/s" in words
    assert "Deep wheel: Only if gusts stay below" in words


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "Ride one even power."),
        ((SUIT,), "Ride one even power, buy one thing."),
        ((SUIT, FREE, CLAIM), "Ride one even power, buy one thing, use one, test one."),
        ((CLAIM, UNPROVED), "Ride one even power, buy nothing, test two things."),
        (
            (
                SUIT.replace('"Suit"', '"A"').replace('slot = "suit"', ""),
                DEEP,
                FREE,
                CLAIM,
                UNPROVED,
            ),
            "Ride one even power, buy two things, use one, test two.",
        ),
    ],
)
def test_headline_counts_what_is_to_be_done(tmp_path: Path, options, words: str) -> None:
    headline = spoken(sheet_on(tmp_path, race_text(*options)).headline)
    assert headline == words
    assert len(headline.split()) <= 12


def test_long_notes_end_with_a_clause_and_long_names_with_a_word(tmp_path: Path) -> None:
    long = "Wax it again, at home and for no cost to speak of; after rain do so anew, and dry it."
    noted = SUIT.replace("price", f'note = "{long}"\nprice', 1)
    sheet = sheet_on(tmp_path, race_text(noted))
    assert "Suit: Wax it again, at home and for no cost to speak of." in told(sheet, HEED)
    with columns_of(1000):
        assert long.rstrip(".") in sheet_text(sheet, Depth.DETAILS)


def test_many_landmarks_leave_the_plan_short(tmp_path: Path) -> None:
    marks = "".join(
        f'[[course.landmark]]\nat = "{1 + number} km"\nname = "Gate {number}"\nnote = "Look up."\n'
        for number in range(15)
    )
    sheet = sheet_on(tmp_path, race_text(more=marks))
    assert not any("Gate" in row[3] for row in steps(sheet))
    landmarks = rows(sheet, "Landmarks")
    assert len(landmarks) == 15
    assert landmarks[3][2:] == ["Gate 3", "Look up."]


@pytest.mark.parametrize(("units", "distance"), [("metric", "from km"), ("imperial", "from mi")])
def test_units_of_the_reader(tmp_path: Path, units: str, distance: str) -> None:
    sheet = sheet_on(tmp_path, race_text(), units=units)
    assert distance in front(sheet)
    first = "20.0 km" if units == "metric" else "12.4 mi"
    assert front(sheet).splitlines()[1].startswith(first)


def test_no_bottle_is_left_behind_in_the_heat(tmp_path: Path) -> None:
    hot = race_text().replace(
        'density = "1.2 kg/m^3"', 'temperature = "34 degC"\npressure = "1010 hPa"'
    )
    lighter = FREE.replace("Pads lower", "No bottle").replace(
        "saves", 'heat_limit = "25 degC"\nsaves', 1
    )
    sheet = sheet_on(tmp_path, f"{hot}{lighter}")
    assert "leave no bottle at home" in told(sheet, HEED)
    (row,) = rows(sheet, "What to do")
    assert row[:2] == ["No bottle", "not in this weather"]


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
