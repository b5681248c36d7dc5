"""Keys in a burst, and places that are left while they work."""

import re
from pathlib import Path

from textual.events import Key
from textual.widgets import Button

from racecalc.views.workspace.app import StartScreen, Workspace
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ChoiceDialog, TextDialog, TextScreen
from racecalc.views.workspace.entry_screen import EntryScreen
from racecalc.views.workspace.place import Page
from racecalc.views.workspace.places import WAYS
from tests.workspace.driving import Driver, at_desk


def burst(driver: Driver, keys: str) -> None:
    """Press keys faster than any of them can be answered."""
    for key in keys.split():
        character = " " if key == "space" else key if len(key) == 1 else None
        driver.app.post_message(Key(key, character))


def shown_on(driver: Driver) -> str:
    """What is seen on the pages of the place in front."""
    return "\n".join(page.drawn for page in driver.desk.front.query(Page))


def test_what_ends_while_another_place_is_looked_at_is_seen_on_return(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        # Away before the first time is known, and from every place before its answer is.
        for number in range(2, 10):
            await driver.press(f"f{number}")
            if number == 8:
                await driver.press("ctrl+r")
            await driver.press("f3")
        await driver.settled()
        for number, way in enumerate(WAYS, 2):
            await driver.open_place(f"f{number}")
            if way.name == "Course":
                assert "km" in driver.screen
                continue
            seen = shown_on(driver)
            assert len(seen) > 60, (way.name, seen)
            assert not re.search("working|making", seen), (way.name, seen)
            # A second time: the answer is there, and is outdated while another place is seen.
            page = driver.desk.front.page
            await driver.press("f3")
            page.show_text("later")
            await driver.press(f"f{number}")
            await driver.pilot.pause()
            assert shown_on(driver) == "later", way.name
        # What is wrapped anew for a wider screen is seen to its last column.
        await driver.open_place("f5")
        await driver.pilot.resize_terminal(140, 45)
        await driver.settled()
        for line in shown_on(driver).splitlines():
            assert line.rstrip() in driver.screen

    at_desk(act, small_race, settle=False)


def test_a_burst_of_keys_ends_where_it_was_meant_to(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        draft = driver.desk.session.draft
        burst(driver, "tab 7 1 space k g enter 2 6 0 space W tab tab 8 space k g")
        await driver.until(lambda: driver.field("bike", "mass").typed == "8 kg", "the bike")
        await driver.settled()
        assert 'mass = "71 kg"' in draft.text
        assert 'power = "260 W"' in draft.text
        assert 'mass = "8 kg"' in draft.text
        assert driver.desk.front.name == "Race"
        # A bare digit goes nowhere; with Alt it is a way to a place.
        await driver.press("escape", "4")
        assert driver.desk.front.name == "Race"
        await driver.press("alt+4")
        assert driver.desk.front.name == "Options"
        # In a browser, which keeps some keys for itself, others do the same.
        for key, screen in (("alt+1", TextScreen), ("alt+k", TextDialog), ("alt+n", TextDialog)):
            await driver.press(key)
            await driver.shown(screen)
            await driver.press("escape")
            await driver.shown(DeskScreen)
        await driver.press("alt+q")
        await driver.shown(ChoiceDialog)

    at_desk(act, small_race)


KEPT_BY_BROWSERS = {
    *(f"f{number}" for number in range(1, 13)), "ctrl+n", "ctrl+t", "ctrl+w", "ctrl+q", "ctrl+r",
    "ctrl+f", "ctrl+p", "ctrl+up", "ctrl+down", "ctrl+shift+up", "ctrl+shift+down",
}  # fmt: skip
"""Keys that browsers, or the desktops that they run on, do not give to a page; from memory."""


def test_what_a_browser_keeps_for_itself_has_a_second_key() -> None:
    screens = (Workspace, StartScreen, DeskScreen, EntryScreen, *(way.load() for way in WAYS))
    for screen in screens:
        for one in screen.BINDINGS:
            keys = {*one.key.split(",")}
            if keys & KEPT_BY_BROWSERS:
                assert keys - KEPT_BY_BROWSERS, (screen.__name__, one)


def test_a_refused_value_is_named_when_leaving_and_letters_answer(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        driver.field("rider", "power").put("250 kg")
        await driver.pilot.pause()
        await driver.press("ctrl+q")
        await driver.shown(ChoiceDialog)
        await driver.until(lambda: "power: '250 kg' will not do" in driver.screen, "its name")
        await driver.pilot.resize_terminal(30, 10)
        await driver.pilot.pause()
        for name in ("save", "drop", "stay"):
            focused = driver.app.focused
            assert isinstance(focused, Button)
            assert focused.name == name
            await driver.pilot.pause()
            assert focused.region in driver.app.screen.region
            assert str(focused.label) in driver.screen
            await driver.press("right")
        await driver.press("t")
        await driver.until(lambda: not isinstance(driver.app.screen, ChoiceDialog), "the desk")
        await driver.press("ctrl+q")
        await driver.shown(ChoiceDialog)
        await driver.press("d")
        await driver.until(lambda: driver.app._exit, "the end")

    at_desk(act, small_race)
