"""A race file that others write too, or that cannot be read as it is."""

import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.widgets import DirectoryTree, Input, OptionList, TextArea

from racecalc.files.draft import recent_files, remember_file
from racecalc.files.recovery import Recovery, copy_path
from racecalc.views.workspace import text_screen
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ChoiceDialog, FileDialog, TextScreen
from racecalc.views.workspace.text_screen import RaceTextScreen, run_editor
from tests.workspace.driving import SMALL, Driver, at_desk

THEIRS = SMALL.replace('"3 m/s"', '"6 m/s"')


def test_what_another_program_wrote_is_noticed_and_told(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        session = driver.desk.session
        before = session.answered.base.time
        await driver.fill("rider", "power", "271 W")
        mine = session.draft.text

        async def noticed(theirs: str, *words: str) -> None:
            small_race.write_text(theirs, "utf-8")
            driver.app.last_key_at = 0.0
            await driver.shown(ChoiceDialog)
            for one in words:
                assert one in driver.screen, one

        told = "air, wind speed: 6 m/s in the file, 3 m/s here"
        await noticed(THEIRS, told, "rider, power: 250 W in the file, 271 W here")
        # Mine: the file stays as they wrote it until it is saved, and is what is compared with.
        await driver.press("k")
        await driver.settled()
        assert (session.draft.text, session.draft.saved) == (mine, THEIRS)
        assert small_race.read_text("utf-8") == THEIRS

        await noticed(SMALL)
        await driver.press("r")
        await driver.settled()
        assert (session.draft.text, session.draft.unsaved) == (SMALL, False)
        assert driver.field("rider", "power").typed == "250 W"
        assert session.answered.base.time == before
        await driver.take_back()
        assert session.draft.text == mine

        await noticed(THEIRS)
        await driver.press("b")
        await driver.settled()
        assert session.draft.text == THEIRS
        assert small_race.with_name("canal (mine).toml").read_text("utf-8") == mine
        assert "mine" in driver.page("glance")

        await noticed("[rider\n", "line 1")
        await driver.press("m")
        await driver.shown(RaceTextScreen)
        driver.app.screen.query_one(TextArea).text = SMALL
        await driver.press("ctrl+s")
        await driver.shown(DeskScreen)
        await driver.settled()
        assert (session.draft.text, session.draft.unsaved) == (SMALL, False)
        small_race.unlink()
        await driver.until(lambda: "canal.toml is gone" in driver.screen, "a word")

    at_desk(act, small_race)


def test_two_at_once_lose_nothing_when_both_are_killed(small_race: Path) -> None:
    """The second leaves its changes in a copy of its own; they are offered after the first's."""
    first = Recovery(small_race)
    first.keep(SMALL.replace("250 W", "283 W"), SMALL)

    async def second(driver: Driver) -> None:
        await driver.fill("rider", "power", "291 W")
        await driver.until(copy_path(small_race, 2).exists, "a copy of its own")

    at_desk(second, small_race)
    first.release()

    async def later(driver: Driver) -> None:
        await driver.shown(ChoiceDialog)
        first_question = driver.app.screen
        await driver.press("enter")
        await driver.until(lambda: driver.app.screen is not first_question, "the other copy")
        await driver.shown(ChoiceDialog)
        assert "others than those" in driver.screen
        await driver.press("w")
        await driver.shown(DeskScreen)
        await driver.settled()
        assert driver.field("rider", "power").typed == "283 W"
        (aside,) = driver.desk.session.kept_paths()
        assert "291 W" in aside.read_text("utf-8")
        assert not copy_path(small_race, 2).exists()
        # The copy stays until it is saved, and the saved file is one step back.
        assert driver.desk.session.draft.unsaved
        assert driver.desk.session.draft.can_undo
        assert copy_path(small_race).exists()
        assert small_race.read_text("utf-8") == SMALL
        await driver.press("ctrl+s")
        await driver.settled()
        assert not copy_path(small_race).exists()

    at_desk(later, small_race, settle=False)
    assert small_race.read_text("utf-8") == SMALL.replace("250 W", "283 W")


def test_a_broken_file_opens_as_text_is_mended_and_opened(small_race: Path) -> None:
    small_race.write_text(SMALL.replace('cda = "', 'cada = "').replace("[air]", "[aire]"), "utf-8")

    async def act(driver: Driver) -> None:
        await driver.shown(RaceTextScreen)
        text = driver.app.screen.query_one(TextArea)
        for words in ("2 faults", "key 'cada'; did you mean 'cda'", "table 'aire'; did you mean"):
            assert words in driver.screen, words
        assert text.cursor_location == (10, 0)
        await driver.press("delete", "delete", "delete", "delete", "c", "d", "a")
        await driver.until(lambda: "1 fault" in driver.screen, "one fault less")
        await driver.until(copy_path(small_race).exists, "a recovery copy")
        # Leaving asks; a file that still cannot be read may be saved.
        await driver.press("escape")
        await driver.shown(ChoiceDialog)
        await driver.press("escape")
        await driver.shown(RaceTextScreen)
        await driver.press("ctrl+s")
        await driver.until(lambda: 'cda = "' in small_race.read_text("utf-8"), "a saved file")
        assert isinstance(driver.app.screen, RaceTextScreen)
        text.text = SMALL.replace("mass =", "# mass =", 1)
        await driver.until(lambda: "has no mass" in driver.screen, "what is missing")
        text.text = SMALL
        await driver.until(lambda: "Nothing wrong is left" in driver.screen, "no fault")
        await driver.press("ctrl+s")
        await driver.shown(DeskScreen)
        await driver.settled()
        assert "16:48" in driver.screen
        assert not copy_path(small_race).exists()
        # From the race, too, its text can be seen and changed.
        await driver.desk.run_action("text")
        await driver.shown(RaceTextScreen)
        driver.app.screen.query_one(TextArea).text = THEIRS
        await driver.press("ctrl+s")
        await driver.shown(DeskScreen)
        await driver.settled()
        assert driver.field("air", "wind_speed").typed == "6 m/s"
        assert not driver.desk.session.draft.unsaved

    at_desk(act, small_race, settle=False)
    assert small_race.read_text("utf-8") == THEIRS
    assert recent_files() == (small_race.resolve(),)


class AppThatStepsAside:
    """Enough of an application for an editor to be shown."""

    def suspend(self):
        from contextlib import nullcontext

        return nullcontext()


def test_the_users_own_editor_changes_the_file(
    small_race: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    editor = tmp_path / "my editor"
    editor.write_text(f"#!{sys.executable}\nimport sys\nopen(sys.argv[-1], 'a').write('# x\\n')\n")
    editor.chmod(editor.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("EDITOR", "false")
    monkeypatch.setenv("VISUAL", f"'{editor}' --wait")
    run_editor(AppThatStepsAside(), small_race)  # type: ignore[arg-type]
    assert small_race.read_text("utf-8") == f"{SMALL}# x\n"


@pytest.mark.parametrize(
    ("named", "said"), [("", "neither names"), ("nowhere-at-all", "started"), ("false", "status 1")]
)
def test_an_editor_that_is_none_is_said(
    small_race: Path, monkeypatch: pytest.MonkeyPatch, named: str, said: str
) -> None:
    monkeypatch.setenv("EDITOR", named)
    monkeypatch.delenv("VISUAL", raising=False)
    with pytest.raises(text_screen.InputError, match=said):
        run_editor(AppThatStepsAside(), small_race)  # type: ignore[arg-type]


async def reach(driver: Driver, there: Callable[[], bool]) -> None:
    """Walk through a dialog by Tab until something has the focus and is seen."""
    for _ in range(6):
        focused = driver.app.focused
        await driver.pilot.pause()
        if focused is not None and there():
            assert focused.region.intersection(driver.app.screen.region).height >= 1
            return
        await driver.press("tab")
    raise AssertionError(driver.screen)


def test_dialogs_fit_thirty_columns_and_ten_lines(small_race: Path) -> None:
    other = small_race.with_name("other.toml")
    other.write_text(SMALL, "utf-8")

    async def act(driver: Driver) -> None:
        remember_file(other)
        for size in ((30, 10), (80, 24)):
            await driver.pilot.resize_terminal(*size)
            await driver.press("f1")
            await driver.shown(TextScreen)
            # Help is as wide as its dialog and no wider.
            box = driver.app.screen.query_one(".dialog")
            text = box.query("Static").first()
            assert text.region.right <= box.scrollable_content_region.right, size
            assert box.region.right <= size[0], size
            await driver.press("escape")
            await driver.shown(DeskScreen)
        await driver.pilot.resize_terminal(30, 10)
        await driver.press("ctrl+o")
        await driver.shown(FileDialog)
        for part in (Input, OptionList, DirectoryTree):
            await reach(driver, lambda part=part: isinstance(driver.app.focused, part))
            await driver.pilot.pause()
            shown = driver.screen
            if part is OptionList:
                assert "other.toml" in shown
            if part is DirectoryTree:
                assert "canal.toml" in shown or "other.toml" in shown

    at_desk(act, small_race)
