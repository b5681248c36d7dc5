"""Awkward moments and awkward files: nothing is lost, nothing stale passes for new."""

from pathlib import Path

import pytest
from textual.widgets import Button, DataTable, Input

from racecalc.errors import InputError
from racecalc.files.draft import FIRST_LINE, copy_path
from racecalc.files.opening import typed_path
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ChoiceDialog, FileDialog, TextDialog
from racecalc.views.workspace.entry_screen import EntryScreen
from tests.workspace.driving import SMALL, Driver, at_desk
from tests.workspace.test_files import shown


async def open_option(driver: Driver, name: str) -> None:
    await driver.open_place("f4")
    table = driver.app.screen.query_one("#options", DataTable)
    table.move_cursor(row=table.get_row_index(name))
    await driver.press("enter")
    await shown(driver, EntryScreen)


def test_removing_an_option_writes_nothing_into_its_neighbour(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await open_option(driver, "Suit")
        driver.field("option", "price").query_one(Input).value = "999 EUR"
        driver.app.screen.query_one("#remove", Button).press()
        await shown(driver, DeskScreen)
        await driver.settled()
        assert [one.get("price") for one in driver.desk.session.draft.entries("option")] == [
            "300 EUR", "90 EUR",
        ]  # fmt: skip

    at_desk(act, small_race)


def test_emptied_field_is_saved_at_once(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        driver.field("air", "temperature").query_one(Input).value = ""
        await driver.press("ctrl+s")
        await driver.settled()
        assert "temperature" not in small_race.read_text("utf-8")
        assert not driver.desk.session.draft.unsaved

    at_desk(act, small_race)


def test_keys_before_leaving_count(small_race: Path) -> None:
    """Typed faster than the screen takes it: leaving still asks."""

    async def act(driver: Driver) -> None:
        line = driver.field("rider", "power").query_one(Input)
        line.focus()
        await driver.pilot.pause()
        line.select_all()
        await driver.press(*"271", "space", "W", "ctrl+q")
        await shown(driver, ChoiceDialog)

    at_desk(act, small_race)


def test_wrong_value_keeps_an_option_open(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await open_option(driver, "Suit")
        await driver.fill("option", "price", "abc")
        await driver.press("escape")
        await driver.pilot.pause()
        assert isinstance(driver.app.screen, EntryScreen)
        await driver.press("ctrl+z")
        await driver.pilot.pause()
        assert driver.field("option", "price").typed == "200 EUR"
        await driver.press("escape")
        await shown(driver, DeskScreen)

    at_desk(act, small_race)


def test_recovery_copy_that_is_broken_is_left_for_its_owner(small_race: Path) -> None:
    copy_path(small_race).write_text(f"{FIRST_LINE}0\n[rider\n", "utf-8")

    async def act(driver: Driver) -> None:
        await shown(driver, ChoiceDialog)
        await driver.press("enter")
        await driver.until(lambda: driver.app.desk_screen)
        assert copy_path(small_race).exists()
        await driver.settled()
        assert driver.desk.session.draft.text == SMALL

    at_desk(act, small_race, settle=False)


NAMES = (
    "Wheel [/b]",
    "[bold red]Helm[/] [x]",
    "\u202eright to left",
    "\U0001f6b4 cyclist",
    "x" * 5000,
)


def test_names_are_text_and_never_markup(small_race: Path) -> None:
    options = "".join(f'[[option]]\nname = "{name}"\nprice = "9 EUR"\n' for name in NAMES)
    small_race.write_text(f"{SMALL}\n{options}", "utf-8")

    async def act(driver: Driver) -> None:
        for number in range(2, 10):
            await driver.open_place(f"f{number}")
            assert driver.app.is_running
        await driver.open_place("f4")
        for name in NAMES[:2]:
            assert name in driver.screen

    at_desk(act, small_race, (140, 45))


@pytest.mark.parametrize("typed", ["1" * 5000 + " W", "[" * 3000, "~nobody/\\x00", "\\"])
def test_whatever_is_pasted_into_a_field_is_only_refused(small_race: Path, typed: str) -> None:
    async def act(driver: Driver) -> None:
        field = driver.field("rider", "power")
        field.query_one(Input).value = typed
        await driver.pilot.pause(0.6)
        assert field.problem is not None
        assert not driver.desk.session.draft.unsaved

    at_desk(act, small_race)


@pytest.mark.parametrize("typed", ["", "   ", "~nobody-of-that-name/x", "a" * 5000, "a\0b"])
def test_path_that_can_be_none_is_refused(tmp_path: Path, typed: str) -> None:
    with pytest.raises(InputError):
        typed_path(typed, tmp_path)


def test_path_that_can_be_none_is_said_in_the_dialog(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.press("ctrl+o")
        await shown(driver, FileDialog)
        driver.app.screen.query_one(Input).value = "~nobody-of-that-name/x"
        driver.app.screen.query_one(Input).focus()
        await driver.press("enter")
        await driver.pilot.pause()
        assert "can be no path here" in driver.screen

    at_desk(act, small_race)


def test_escape_stops_long_work_and_says_so(race_file: Path) -> None:
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

    at_desk(act, race_file)


@pytest.mark.parametrize(("place", "name"), [("f6", "card.csv"), ("f9", "advice.txt")])
def test_card_and_advice_are_written_beside_the_race(
    small_race: Path, place: str, name: str
) -> None:
    async def act(driver: Driver) -> None:
        await driver.open_place(place)
        await driver.press("ctrl+e")
        await shown(driver, TextDialog)
        driver.app.screen.query_one(Input).value = name
        await driver.press("enter")
        await shown(driver, DeskScreen)
        await driver.until((small_race.parent / name).exists, name)

    at_desk(act, small_race)
    text = (small_race.parent / name).read_text("utf-8")
    assert "250" in text


def test_answer_of_another_race_says_so(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.open_place("f8")
        driver.app.screen.query_one("#wish-budget", Input).value = "300 EUR"
        await driver.press("ctrl+r")
        await driver.settled()
        assert not driver.page("answer").startswith("! The race changed")
        await driver.press("ctrl+g")
        await driver.settled()
        assert not driver.page("answer").startswith("! The race changed")
        await driver.press("f2")
        await driver.fill("rider", "power", "300 W")
        await driver.open_place("f8")
        assert driver.page("answer").startswith("! The race changed")
        await driver.press("f2", "ctrl+z")
        await driver.settled()
        await driver.open_place("f8")
        assert not driver.page("answer").startswith("! The race changed")

    at_desk(act, small_race)


def test_wrong_wish_is_refused_as_by_the_command(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.open_place("f8")
        for typed, said in (("many EUR", "'many EUR'"), ("300", "currency"), ("", "no budget")):
            driver.app.screen.query_one("#wish-budget", Input).value = typed
            await driver.press("ctrl+r")
            await driver.settled()
            assert said in driver.page("answer")

    at_desk(act, small_race)


def test_two_currencies_are_not_added(small_race: Path) -> None:
    small_race.write_text(SMALL.replace("90 EUR", "90 USD"), "utf-8")

    async def act(driver: Driver) -> None:
        await driver.open_place("f4")
        table = driver.app.screen.query_one("#options", DataTable)
        for name in ("Suit", "Tyres"):
            table.move_cursor(row=table.get_row_index(name))
            await driver.press("space")
        await driver.settled()
        assert "USD" in str(driver.app.screen.query_one("#used").render())
        assert "please report" not in driver.screen
        await driver.press("v")
        await driver.settled()
        assert driver.page("option-page").startswith("! ")

    at_desk(act, small_race)


def test_what_is_owned_costs_nothing_more(small_race: Path) -> None:
    small_race.write_text(SMALL.replace('"90 EUR"', '"90 EUR"\nowned = true'), "utf-8")

    async def act(driver: Driver) -> None:
        await driver.open_place("f4")
        table = driver.app.screen.query_one("#options", DataTable)
        table.move_cursor(row=table.get_row_index("Tyres"))
        await driver.press("space")
        await driver.settled()
        used = driver.app.screen.query_one("#used")
        assert "price owned" in str(used.render())
        table.move_cursor(row=table.get_row_index("Suit"))
        await driver.press("space")
        await driver.settled()
        assert "price 200 EUR" in str(used.render())

    at_desk(act, small_race)


def test_no_options_at_all(small_race: Path) -> None:
    small_race.write_text(SMALL.partition("[[option]]")[0], "utf-8")

    async def act(driver: Driver) -> None:
        for number in range(2, 10):
            await driver.open_place(f"f{number}")
        await driver.open_place("f4")
        assert "a adds one" in driver.screen
        await driver.press("space", "o", "b", "v")
        await driver.settled()
        assert driver.app.is_running

    at_desk(act, small_race)


def test_taken_names_are_refused_for_what_ifs(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        for name in ("now", "the saved file", "a/b", " ", "x" * 80):
            with pytest.raises(InputError):
                driver.desk.session.path_to_keep(name)

    at_desk(act, small_race)


def test_shorter_course_drops_the_mark_beyond_it(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
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

    at_desk(act, small_race)


def test_stated_doubts_count_on_the_first_page(small_race: Path, racecalc) -> None:
    small_race.write_text(SMALL.replace('"250 W"', '"250 W"\npower_doubt = "6 W"'), "utf-8")
    _, out, _ = racecalc("time", small_race)
    sure = out.split("How sure: ")[1].partition(" The doubt")[0]

    async def act(driver: Driver) -> None:
        assert " ".join(sure.split()) in driver.page("glance")

    at_desk(act, small_race)


@pytest.mark.parametrize("size", [(30, 10), (200, 60)])
def test_any_size_can_be_worked_at(small_race: Path, size: tuple[int, int]) -> None:
    async def act(driver: Driver) -> None:
        for number in range(2, 10):
            await driver.open_place(f"f{number}")
        assert driver.app.is_running

    at_desk(act, small_race, size)
