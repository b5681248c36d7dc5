"""Opening, saving, keeping and leaving: nothing that was typed is lost without being asked."""

import os
from collections.abc import Awaitable, Callable
from pathlib import Path

from textual.widgets import DataTable, Input, Select

from racecalc.answers.columns import seconds_between
from racecalc.errors import InputError
from racecalc.files.draft import recent_files
from racecalc.files.recovery import Recovery, copy_path
from racecalc.views import advice as views_advice
from racecalc.views.workspace.app import StartScreen
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ChoiceDialog, FileDialog, TextDialog, TextScreen
from racecalc.views.workspace.entry_screen import EntryScreen
from tests.workspace.driving import SMALL, Driver, at_desk
from tests.workspace.test_keys import burst


def test_save_keeps_the_owners_words_and_asks_before_it_overwrites_others(
    small_race: Path,
) -> None:
    ours, theirs = SMALL.replace("250 W", "271 W"), SMALL.replace("Canal ten", "By somebody else")

    async def act(driver: Driver) -> None:
        await driver.type_into("rider", "power", "271 W")
        await driver.press("ctrl+s")
        await driver.settled()
        assert small_race.read_text("utf-8") == ours
        assert not copy_path(small_race).exists()
        assert "unsaved" not in driver.screen
        # What is on disk is what the screen compares with from now on.
        assert "as the saved file" not in driver.page("glance")
        assert "less than" not in driver.page("glance")

        await driver.fill("rider", "power", "280 W")
        small_race.write_text(theirs, "utf-8")
        await driver.press("ctrl+s")
        await driver.shown(ChoiceDialog)
        assert "race, name: By somebody else in the file, Canal ten here" in driver.screen
        await driver.press("escape")
        await driver.settled()
        assert small_race.read_text("utf-8") == theirs
        assert driver.desk.session.draft.unsaved

    at_desk(act, small_race)


def test_leaving_asks_about_unsaved_changes(small_race: Path) -> None:
    async def leave(driver: Driver, answer: str) -> None:
        await driver.press("ctrl+q")
        await driver.shown(ChoiceDialog)
        if answer:
            buttons = driver.app.screen.query("Button")
            await driver.pilot.click(next(one for one in buttons if one.name == answer))
        else:
            await driver.press("escape")
        await driver.until(
            lambda: not isinstance(driver.app.screen, ChoiceDialog) or not driver.app.is_running
        )
        await driver.pilot.pause()

    def leaving(watts: str, answers: tuple[str, ...]) -> Callable[[Driver], Awaitable[None]]:
        async def act(driver: Driver) -> None:
            await driver.fill("rider", "power", watts)
            for answer in answers:
                assert not driver.app._exit
                await leave(driver, answer)
                assert (driver.app._exit is True) == bool(answer), answer

        return act

    at_desk(leaving("271 W", ("", "save")), small_race)
    assert "271 W" in small_race.read_text("utf-8")
    at_desk(leaving("272 W", ("drop",)), small_race)
    assert "271 W" in small_race.read_text("utf-8")


def test_what_goes_wrong_with_what_was_left_is_told(small_race: Path, monkeypatch) -> None:
    def fails(*_: object) -> None:
        raise InputError("the copy", "cannot be written")

    async def act(driver: Driver) -> None:
        await driver.shown(StartScreen)
        await driver.until(lambda: "the copy: cannot be written" in driver.screen)
        # A torn copy, as after a loss of power, keeps nobody from the race.
        patch.undo()
        copy_path(small_race).write_bytes(b"\xff" * 40)
        driver.app.open_race(small_race)
        await driver.shown(DeskScreen)
        await driver.settled()

        # A fault of ours keeps nobody from asking for the advice again.
        patch.setattr(views_advice, "advice_on", lambda *_: 1 // 0)
        await driver.open_place("f9")
        await driver.until(lambda: "makes it again" in driver.page("advice"))
        patch.undo()
        await driver.open_place("f2")
        await driver.open_place("f9")
        await driver.until(lambda: "250 W" in driver.page("advice"))

    # Of its own, as undoing all would bring back the home of whoever tests.
    with monkeypatch.context() as patch:
        patch.setattr(Recovery, "left_behind", fails)
        at_desk(act, small_race, settle=False)


def test_dropping_what_was_left_unsaved(small_race: Path) -> None:
    before = Recovery(small_race)
    before.keep(SMALL.replace("250 W", "283 W"), SMALL)
    before.release()

    async def act(driver: Driver) -> None:
        await driver.shown(ChoiceDialog)
        await driver.press("right", "right", "enter")
        await driver.shown(DeskScreen)
        await driver.settled()
        assert not driver.desk.session.draft.unsaved
        assert not copy_path(small_race).exists()

    at_desk(act, small_race, settle=False)


def test_a_full_disk_is_said_and_the_draft_stays(small_race: Path, monkeypatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    async def act(driver: Driver) -> None:
        def said(words: str) -> bool:
            return any(one.message.startswith(words) for one in driver.app._notifications)

        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", full)
            await driver.fill("rider", "power", "271 W")
            await driver.until(lambda: said("unsaved changes cannot be kept"))
            await driver.press("ctrl+s")
            await driver.until(lambda: said(f"{small_race}: cannot be written: No space"))
        assert driver.desk.session.draft.unsaved
        assert small_race.read_text("utf-8") == SMALL
        assert {one.name for one in small_race.parent.iterdir()} <= {"canal.toml", "state"}
        await driver.press("ctrl+s")
        await driver.until(lambda: not driver.desk.session.draft.unsaved)
        assert small_race.read_text("utf-8") == SMALL.replace("250 W", "271 W")

    at_desk(act, small_race)


def test_save_as_goes_on_with_the_new_file(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.fill("rider", "power", "271 W")
        driver.app.action_save_as()
        await driver.shown(TextDialog)
        driver.app.screen.query_one(Input).value = str(small_race.with_name("other"))
        await driver.press("enter")
        await driver.shown(DeskScreen)
        await driver.settled()
        assert driver.desk.session.path.name == "other.toml"
        assert not copy_path(small_race).exists()

    at_desk(act, small_race)
    assert small_race.read_text("utf-8") == SMALL
    assert "271 W" in small_race.with_name("other.toml").read_text("utf-8")


def test_what_if_is_kept_and_put_beside_the_race(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        before = driver.desk.session.answered.base.time
        await driver.fill("air", "wind_speed", "6 m/s")
        after = driver.desk.session.answered.base.time
        await driver.press("ctrl+t")
        await driver.shown(TextDialog)
        await driver.press_letters("a/b")
        await driver.press("enter")
        await driver.pilot.pause()
        assert "is not a name for a file" in driver.screen
        await driver.press("ctrl+u")
        await driver.press_letters("windy")
        await driver.press("enter")
        await driver.shown(DeskScreen)
        assert small_race.with_name("canal (windy).toml").is_file()
        await driver.take_back()
        await driver.open_place("f7")
        # It opens on what differs: the saved file says the same as the race now.
        text = driver.page("comparison")
        assert f"{after - before:.1f} s less than windy" in text
        assert "air, wind speed 6 m/s 3 m/s" in text
        driver.app.screen.query_one("#before", Select).value = "the saved file"
        driver.app.screen.query_one("#after", Select).value = "windy"
        await driver.settled()
        assert f"{after - before:.1f} s more than the saved file" in driver.page("comparison")

    at_desk(act, small_race)


def test_new_race_from_the_template(tmp_path: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.shown(StartScreen)
        await driver.press("ctrl+n")
        await driver.shown(TextDialog)
        driver.app.screen.query_one(Input).value = str(tmp_path / "mine")
        await driver.press("enter")
        await driver.until(lambda: driver.app.desk_screen)
        await driver.settled()
        assert driver.desk.session.problem is None
        assert recent_files() == ((tmp_path / "mine" / "race.toml").resolve(),)

    at_desk(act, None)


def test_left_without_changes_asks_nothing_and_is_offered_at_the_next_start(
    small_race: Path,
) -> None:
    async def first(driver: Driver) -> None:
        await driver.press("ctrl+q")
        await driver.until(lambda: driver.app._exit)

    at_desk(first, small_race)

    async def second(driver: Driver) -> None:
        await driver.shown(StartScreen)
        assert "canal.toml" in driver.screen
        burst(driver, "ctrl+f c a n a enter")
        await driver.until(lambda: driver.app.desk_screen)
        await driver.settled()
        assert driver.desk.session.path.name == "canal.toml"

    at_desk(second, None)


def test_file_that_cannot_be_ridden_opens_and_can_be_mended(tmp_path: Path) -> None:
    path = tmp_path / "canal.toml"
    path.write_text(SMALL.replace('power = "250 W"', 'power = "250"'), "utf-8")

    async def act(driver: Driver) -> None:
        await driver.settled()
        assert "has no unit" in driver.screen
        await driver.fill("rider", "power", "250 W")
        assert driver.desk.session.problem is None
        assert "16:48" in driver.screen

    at_desk(act, path)


NO_FILES = (
    ("nowhere", "there is no file 'nowhere'"),
    ("~nobody-so-named/x", "cannot be a path"),
)


def test_every_place_explains_itself_and_a_file_that_is_not_there_is_said(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        for number in range(2, 10):
            # What a place works out is not the point here: nothing is waited for.
            await driver.press(f"f{number}")
            name = driver.desk.front.name
            await driver.press("f1")
            await driver.shown(TextScreen)
            assert f"{name}: " in driver.screen
            await driver.press("escape")
            await driver.shown(DeskScreen)

        await driver.press("ctrl+o")
        await driver.shown(FileDialog)
        for typed, said in NO_FILES:
            driver.app.screen.query_one(Input).value = typed
            driver.app.screen.query_one(Input).focus()
            await driver.press("enter")
            await driver.pilot.pause()
            assert said in driver.screen, typed
        await driver.press("escape")
        await driver.shown(DeskScreen)

    at_desk(act, small_race)


async def option_is_edited_added_and_removed(driver: Driver) -> None:
    await driver.open_place("f4")
    table = driver.app.screen.query_one("#options", DataTable)
    table.move_cursor(row=table.get_row_index("Suit"))
    await driver.press("enter")
    await driver.shown(EntryScreen)
    await driver.fill("option", "saves", "0.010 m^2", 0)
    gain = next(one for one in driver.desk.session.answered.gains if one.option.name == "Suit")
    saved = seconds_between(gain.saved_s, gain.saved_s_low, gain.saved_s_high)
    assert f"Suit: {saved} s" in " ".join(driver.screen.split())
    await driver.press("escape")
    await driver.shown(DeskScreen)
    await driver.press("a")
    await driver.shown(EntryScreen)
    driver.app.screen.query_one("#remove").press()
    await driver.shown(DeskScreen)
    await driver.settled()
    assert [one["name"] for one in driver.desk.session.draft.entries("option")] == [
        "Suit", "Other suit", "Tyres",
    ]  # fmt: skip
    await driver.press("f2")


async def undo_and_redo_by_keys_and_holding_what_is_compared_with(driver: Driver) -> None:
    before = driver.desk.session.answered.base.time
    await driver.fill("rider", "power", "271 W")
    after = driver.desk.session.answered.base.time
    assert after < before
    await driver.take_back()
    assert driver.desk.session.answered.base.time == before
    assert driver.field("rider", "power").typed == "250 W"
    await driver.press("ctrl+y")
    await driver.settled()
    assert driver.desk.session.answered.base.time == after
    assert driver.field("rider", "power").typed == "271 W"

    held = after
    await driver.press("ctrl+g")
    await driver.settled()
    await driver.fill("rider", "power", "280 W")
    gained = held - driver.desk.session.answered.base.time
    assert f"{gained:.1f} s less than what was held" in driver.page("glance")


def test_options_and_steps_of_one_race(small_race: Path) -> None:
    """In one opening."""

    async def act(driver: Driver) -> None:
        await option_is_edited_added_and_removed(driver)
        await undo_and_redo_by_keys_and_holding_what_is_compared_with(driver)

    at_desk(act, small_race)
