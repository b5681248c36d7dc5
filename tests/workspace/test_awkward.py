"""Awkward moments and awkward files: nothing is lost, nothing stale passes for new."""

from pathlib import Path

import pytest
from textual.widgets import Button, DataTable, Input, TextArea

from racecalc.errors import InputError
from racecalc.files.opening import typed_path
from racecalc.files.recovery import FIRST_LINE, copy_path
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ChoiceDialog, TextDialog
from racecalc.views.workspace.entry_screen import EntryScreen
from racecalc.views.workspace.session import what_if_path
from racecalc.views.workspace.text_screen import RaceTextScreen
from tests.workspace.driving import SMALL, Driver, at_desk


async def open_option(driver: Driver, name: str) -> None:
    await driver.open_place("f4")
    table = driver.app.screen.query_one("#options", DataTable)
    table.move_cursor(row=table.get_row_index(name))
    await driver.press("enter")
    await driver.shown(EntryScreen)


async def wrong_value_keeps_an_option_open_and_removed_it_writes_nothing(driver: Driver) -> None:
    """What stands in its fields is not written into the option that takes its place."""
    await open_option(driver, "Suit")
    await driver.fill("option", "price", "abc")
    await driver.press("escape")
    await driver.pilot.pause()
    assert isinstance(driver.app.screen, EntryScreen)
    await driver.press("ctrl+z")
    await driver.pilot.pause()
    assert driver.field("option", "price").typed == "200 EUR"
    await driver.press("escape")
    await driver.shown(DeskScreen)

    await driver.press("enter")
    await driver.shown(EntryScreen)
    driver.field("option", "price").put("999 EUR")
    driver.app.screen.query_one("#remove", Button).press()
    await driver.shown(DeskScreen)
    await driver.settled()
    assert [one.get("price") for one in driver.desk.session.draft.entries("option")] == [
        "300 EUR", "90 EUR",
    ]  # fmt: skip


async def keys_before_saving_and_leaving_count(driver: Driver) -> None:
    """Typed faster than the screen takes it: an emptied field is saved, leaving still asks."""
    await driver.press("f2")
    small_race = driver.desk.session.path
    driver.field("air", "temperature").put("")
    await driver.press("ctrl+s")
    await driver.settled()
    assert "temperature" not in small_race.read_text("utf-8")
    assert not driver.desk.session.draft.unsaved

    await driver.go_to(driver.field("rider", "power"))
    await driver.press(*"271", "space", "W", "ctrl+q")
    await driver.shown(ChoiceDialog)


def test_recovery_copy_that_is_broken_is_shown_as_text(small_race: Path) -> None:
    copy_path(small_race).write_text(f"{FIRST_LINE}0\n[rider\n", "utf-8")

    async def act(driver: Driver) -> None:
        await driver.shown(ChoiceDialog)
        await driver.press("enter")
        await driver.shown(RaceTextScreen)
        assert "line 1" in driver.screen
        assert driver.app.screen.query_one(TextArea).text == "[rider\n"
        assert copy_path(small_race).exists()
        assert small_race.read_text("utf-8") == SMALL

    at_desk(act, small_race, settle=False)


NAMES = (
    "Wheel [/b]",
    "[bold red]Helm[/] [x]",
    "\u202eright to left",
    "\U0001f6b4 cyclist",
    "x" * 5000,
)


async def names_are_text_and_never_markup_at_any_size(driver: Driver) -> None:
    """Every place can be worked at, however odd the names and however small the screen."""
    options = "".join(f'[[option]]\nname = "{name}"\nprice = "9 EUR"\n' for name in NAMES)
    await driver.take(f"{SMALL}\n{options}")
    await driver.open_place("f4")
    for name in NAMES[:2]:
        assert name in driver.screen
    await driver.pilot.resize_terminal(30, 10)
    async for place in driver.walk():
        assert driver.app.is_running, place


PASTED = ("1" * 5000 + " W", "[" * 3000, "~nobody/\\x00", "\\")


@pytest.mark.parametrize("typed", ["", "   ", "~nobody-of-that-name/x", "a" * 5000, "a\0b"])
def test_path_that_can_be_none_is_refused(tmp_path: Path, typed: str) -> None:
    with pytest.raises(InputError):
        typed_path(typed, tmp_path)


def test_escape_stops_long_work_and_says_so(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        # Keys that do not wait until the program rests, for it is to be at work.
        driver.app.simulate_key("f6")
        await driver.until(lambda: "making the card" in driver.screen, "work")
        driver.app.simulate_key("escape")
        await driver.until(lambda: "stopped" in driver.page("card"), "a word")
        await driver.settled()
        await driver.press("ctrl+e")
        await driver.pilot.pause()
        assert not isinstance(driver.app.screen, TextDialog)

    long = SMALL.replace('"10 km"', '"60 km"').replace('"50 m"', '"10 m"')
    small_race.write_text(long, "utf-8")
    at_desk(act, small_race)


WRONG_WISHES = (("many EUR", "'many EUR'"), ("300 kr", "currency"), ("", "no budget"))


async def what_is_owned_costs_nothing_and_two_currencies_are_not_added(driver: Driver) -> None:
    owned = SMALL.replace('"90 EUR"', '"90 EUR"\nowned = true')
    bought_abroad = '[[option]]\nname = "Gloves"\nprice = "90 USD"\nsaves = "0.0004 of Crr"\n'
    await driver.take(f"{owned}\n{bought_abroad}")
    await driver.open_place("f4")
    table = driver.app.screen.query_one("#options", DataTable)
    for name, said in (("Tyres", "cost owned"), ("Suit", "cost 200 EUR"), ("Gloves", "USD")):
        table.move_cursor(row=table.get_row_index(name))
        await driver.press("space")
        await driver.settled()
        assert said in str(driver.app.screen.query_one("#used").render()), name
    assert "please report" not in driver.screen
    await driver.press("v")
    await driver.settled()
    assert driver.page("option-page").startswith("! ")


async def no_options_at_all(driver: Driver) -> None:
    await driver.pilot.resize_terminal(80, 24)
    await driver.take(SMALL.partition("[[option]]")[0])
    await driver.open_place("f4")
    await driver.press("escape")
    assert "a adds one" in driver.screen
    await driver.press("space", "o", "b", "v")
    await driver.settled()
    async for place in driver.walk():
        assert driver.app.is_running, place


def test_odd_races(small_race: Path, racecalc) -> None:
    """In one opening, as unsaved changes."""
    doubted = SMALL.replace('"250 W"', '"250 W"\npower_doubt = "6 W"')
    small_race.with_name("doubted.toml").write_text(doubted, "utf-8")
    _, out, _ = racecalc("time", small_race.with_name("doubted.toml"))
    sure = out.split("How sure: ")[1].partition(" The doubt")[0]

    async def act(driver: Driver) -> None:
        await driver.take(doubted)
        # Stated doubts count on the first page.
        assert " ".join(sure.split()) in driver.page("glance")
        await what_is_owned_costs_nothing_and_two_currencies_are_not_added(driver)
        await names_are_text_and_never_markup_at_any_size(driver)
        await no_options_at_all(driver)

    at_desk(act, small_race, (200, 60))


@pytest.mark.parametrize("name", ["now", "the saved file", "a/b", " ", "x" * 80])
def test_taken_names_are_refused_for_what_ifs(small_race: Path, name: str) -> None:
    with pytest.raises(InputError):
        what_if_path(small_race, name)


async def whatever_is_pasted_into_a_field_is_only_refused(driver: Driver) -> None:
    field = driver.field("rider", "power")
    for typed in PASTED:
        await driver.fill("rider", "power", typed)
        await driver.until(lambda: driver.words_at("rider", "power"), "a word")
        assert field.problem is not None, typed[:20]
        assert not driver.desk.session.draft.unsaved, typed[:20]
        await driver.take_back()
        assert field.problem is None, typed[:20]
    await driver.press("escape")


async def wrong_wish_is_refused_and_answer_of_another_race_says_so(driver: Driver) -> None:
    """Refused in the words of the command."""
    await driver.open_place("f8")
    for typed, said in WRONG_WISHES:
        driver.app.screen.query_one("#wish-budget", Input).value = typed
        await driver.press("ctrl+r")
        await driver.settled()
        assert said in driver.page("answer"), typed
    driver.app.screen.query_one("#wish-budget", Input).value = "300 EUR"
    await driver.press("ctrl+r")
    await driver.settled()
    assert not driver.page("answer").startswith("! The race has changed")
    await driver.press("ctrl+g")
    await driver.settled()
    assert not driver.page("answer").startswith("! The race has changed")
    await driver.press("f2")
    await driver.fill("rider", "power", "300 W")
    await driver.open_place("f8")
    assert driver.page("answer").startswith("! The race has changed")
    await driver.press("f2")
    await driver.take_back()
    await driver.open_place("f8")
    assert not driver.page("answer").startswith("! The race has changed")


async def shorter_course_drops_the_mark_beyond_it(driver: Driver) -> None:
    await driver.open_place("f3")
    await driver.press("end", "m", "home")
    await driver.settled()
    assert "from the mark: 10.00 km" in driver.screen
    await driver.press("f2")
    await driver.fill("course", "distance", "5 km")
    await driver.open_place("f3")
    assert "from the mark" not in driver.screen
    await driver.press("end", "l")
    await driver.settled()
    assert driver.desk.session.problem is None


def test_awkward_moments_of_one_race(small_race: Path) -> None:
    """In one opening."""

    async def act(driver: Driver) -> None:
        await whatever_is_pasted_into_a_field_is_only_refused(driver)
        await wrong_wish_is_refused_and_answer_of_another_race_says_so(driver)
        await shorter_course_drops_the_mark_beyond_it(driver)
        await driver.take(SMALL)
        await wrong_value_keeps_an_option_open_and_removed_it_writes_nothing(driver)
        await keys_before_saving_and_leaving_count(driver)

    at_desk(act, small_race)
