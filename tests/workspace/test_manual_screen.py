"""The manual on the screen."""

from pathlib import Path

from textual.widgets import Markdown

from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ManualScreen, TextScreen
from tests.workspace.driving import Driver, at_desk


def test_manual_is_one_key_behind_the_help(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.press("f1")
        await driver.shown(TextScreen)
        await driver.press("m")
        await driver.shown(ManualScreen)

        def text() -> str:
            return driver.app.screen.query_one(Markdown).source

        await driver.until(lambda: text().startswith("# Your first race"), "the first topic")
        assert "Reading a verdict" in driver.screen
        await driver.press("down")
        await driver.until(lambda: text().startswith("# On the screen"), "the next topic")
        await driver.press("escape", "escape")
        await driver.shown(DeskScreen)

    at_desk(act, small_race)
