"""Typing into the fields: what will do, what will not, and what stays meanwhile."""

import math
import re
from pathlib import Path

import pytest
from textual.widgets import Input

from racecalc.errors import InputError
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import read_checked
from racecalc.files.race_writing import from_typed
from racecalc.views.workspace.form import KeyField, More, RaceForm, key_line, key_page
from tests.workspace.driving import Driver, at_desk

EVERY_KEY = [(table, key) for table, keys in RACE_KEYS.items() for key in keys]


WILL_NOT_DO = (
    ("rider", "power", "262", "has no unit"),
    ("rider", "power", "1,200 W", "two ways"),
    ("rider", "power", "abc", "'abc'"),
    ("rider", "power", "262 kg", "unit of mass"),
    ("rider", "power", "9000 W", "not possible"),
    ("rider", "mass", "9**9**9 kg", "'9**9**9 kg'"),
    ("air", "temperature", "20", "has no unit"),
    ("air", "wind_from", "sideways", "'sideways'"),
    ("bike", "crr", "0.42", "not possible"),
)


@pytest.mark.parametrize(("table", "key", "typed", "said"), WILL_NOT_DO)
def test_what_will_not_do_is_refused(table: str, key: str, typed: str, said: str) -> None:
    """The texts are those of the measured traps: they must not become other numbers in silence."""
    known = RACE_KEYS[table][key]
    with pytest.raises(InputError, match=re.escape(said)):
        read_checked(known, from_typed(known, typed), "", [])


WILL_DO = (
    ("rider", "power", "0.262 kW", 262.0),
    ("rider", "mass", "67,5 kg", 67.5),
    # 148 lb of 0.45359237 kg
    ("rider", "mass", "10 st 8 lb", 67.1316708),
    ("bike", "crr", "0.0045", 0.0045),
    ("bike", "crr", "0.45 %", 0.0045),
    ("air", "temperature", "68 degF", 293.15),
    ("bike", "spoke_drag", "44 cm^2", 0.0044),
    ("air", "wind_from", "WSW", math.radians(247.5)),
)


@pytest.mark.parametrize(("table", "key", "typed", "value"), WILL_DO)
def test_what_will_do_is_read(table: str, key: str, typed: str, value: float) -> None:
    known = RACE_KEYS[table][key]
    assert read_checked(known, from_typed(known, typed), "", []) == pytest.approx(value)


@pytest.mark.parametrize(("table", "key"), EVERY_KEY)
def test_every_key_says_what_it_is_and_where_to_find_it(table: str, key: str) -> None:
    meaning, facts, where = key_line(table, key).splitlines()
    assert meaning == RACE_KEYS[table][key].meaning
    assert facts.startswith("write ")
    assert where == f"find it: {RACE_KEYS[table][key].where}"
    page = " ".join(key_page(table, key).split())
    assert RACE_KEYS[table][key].plausible in page


async def what_will_not_do_is_said_beside_the_field(driver: Driver) -> None:
    before = driver.page("glance")
    for table, key, typed, said in WILL_NOT_DO[::3]:
        case, field = f"{table}.{key} = {typed!r}", driver.field(table, key)
        stood = field.typed
        await driver.fill(table, key, typed)
        await driver.until(lambda at=(table, key): driver.words_at(*at), f"a word on {case}")
        words = driver.words_at(table, key)
        assert words.startswith("! "), case
        assert said in words, case
        # The last good answer stays, and so does what the file would say.
        assert driver.page("glance") == before, case
        assert not driver.desk.session.draft.unsaved, case
        await driver.press("ctrl+s")
        assert driver.app.focused is field.query_one(Input), case
        await driver.take_back()
        assert field.typed == stood, case
        assert not driver.words_at(table, key), case


async def what_will_do_is_answered(driver: Driver) -> None:
    before = driver.desk.session.answered.base.time
    for table, key, typed, _ in WILL_DO[1::3]:
        case = f"{table}.{key} = {typed!r}"
        await driver.fill(table, key, typed)
        assert driver.desk.session.draft.unsaved, case
        assert driver.desk.session.problem is None, case
        assert "*unsaved*" in driver.screen, case
        assert driver.desk.session.answered.base.time != before, case
        await driver.take_back()
        assert driver.desk.session.answered.base.time == before, case

    # What is unusual is asked about, and answered all the same.
    await driver.fill("rider", "power", "700 W")
    words = driver.words_at("rider", "power")
    assert "was 250 W" in words
    assert "is unusual" in words
    assert driver.desk.session.answered.base.race.rider.power == 700.0
    await driver.take_back()


async def emptied_field_takes_the_default_unless_it_is_needed(driver: Driver) -> None:
    async def empty(driver: Driver, table: str, key: str) -> None:
        driver.field(table, key).focus_input()
        await driver.pilot.pause()
        await driver.press("delete")

    await empty(driver, "rider", "power")
    await driver.until(lambda: "! it is needed" in driver.screen, "a word")
    assert not driver.desk.session.draft.unsaved
    await driver.take_back()
    await empty(driver, "air", "temperature")
    await driver.until(lambda: driver.desk.session.draft.unsaved, "the change")
    await driver.settled()
    assert driver.desk.session.race.air.temperature == pytest.approx(288.15)
    assert "15 degC, assumed" in driver.screen
    await driver.take_back()


async def help_of_the_field_that_has_the_focus(driver: Driver) -> None:
    driver.field("rider", "power").focus_input()
    await driver.pilot.pause()
    assert "power held over the race" in driver.screen
    await driver.press("f1")
    await driver.pilot.pause()
    assert "Plausible is 80 W to 500 W" in driver.screen
    await driver.press("escape")
    await driver.pilot.pause()
    assert driver.app.screen is driver.desk


async def two_values_that_do_not_go_together(driver: Driver) -> None:
    """The draft cannot be ridden: the reason stands at the field and above, the answer stays."""
    before = driver.page("glance")
    form = driver.app.screen.query_one(RaceForm)
    group = next(one for one in form.query("FieldGroup") if one.table == "air")
    group.query_one(More).action_press()
    await driver.until(lambda: len(group.query(KeyField)) > 15, "the other fields")
    await driver.settled()
    await driver.fill("air", "wind_at_rider", "2 m/s")
    assert driver.desk.session.problem is not None
    assert "both wind_speed and wind_at_rider" in " ".join(driver.screen.split())
    assert "last valid" in driver.screen
    assert driver.page("glance") == before
    await driver.take_back()
    assert driver.desk.session.problem is None
    assert "last good" not in driver.screen


def test_fields_on_the_screen(small_race: Path) -> None:
    """In one opening: each leaves the race as it was."""

    async def act(driver: Driver) -> None:
        await what_will_not_do_is_said_beside_the_field(driver)
        await what_will_do_is_answered(driver)
        await emptied_field_takes_the_default_unless_it_is_needed(driver)
        await help_of_the_field_that_has_the_focus(driver)
        await driver.pilot.resize_terminal(140, 45)
        await driver.settled()
        await two_values_that_do_not_go_together(driver)

    at_desk(act, small_race)
