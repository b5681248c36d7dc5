"""Drives the terminal interface as a person would: opens a race, presses keys, reads the screen.

The tests are plain functions; `at_desk` runs what they do inside the event loop.
"""

import asyncio
import re
import shutil
import time
import unicodedata
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

from racecalc.files.draft import Spot
from racecalc.files.race_writing import as_typed
from racecalc.views.workspace.app import Workspace
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.form import KeyField, field_of
from racecalc.views.workspace.place import Page

DEMO = Path(__file__).parents[2] / "course_demo"
PATIENCE = 60.0
"""Seconds after which a test gives up waiting; work takes a hundredth of it."""


class Driver:
    """An open workspace."""

    def __init__(self, pilot: Pilot[None]) -> None:
        self.pilot = pilot
        self.app: Workspace = pilot.app  # type: ignore[assignment]

    @property
    def desk(self) -> DeskScreen:
        screen = self.app.desk_screen
        assert screen is not None, "no race file is open"
        return screen

    async def until(self, true: Callable[[], object], what: str = "") -> None:
        """Wait until something is so."""
        deadline = time.monotonic() + PATIENCE
        while (began := time.monotonic()) < deadline:
            if true():
                return
            # Only the time: to ask every widget for its word, as the pilot does, is work by itself;
            # and to look all the time would keep the program from its own.
            await asyncio.sleep(max(0.02, 4.0 * (time.monotonic() - began)))
        raise AssertionError(f"{what or 'it'} did not come:\n{self.screen}")

    async def settled(self) -> None:
        """Wait until the draft is worked out and nothing goes on any more."""
        await self.pilot.pause()
        desk, session = self.desk, self.desk.session
        desk.take_typed()
        await self.until(
            lambda: session.problem or session.outlook_text == session.draft.text, "an answer"
        )
        await self.until(lambda: not any(not one.is_finished for one in desk.workers), "an end")
        await self.pilot.pause()
        # Whatever there is can be drawn.
        assert self.screen

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)

    async def press_letters(self, text: str) -> None:
        await self.pilot.press(*map(_key_of, text))

    def field(self, table: str, key: str, number: int = 0) -> KeyField:
        spot = Spot(table, key, number)
        return next(one for one in self.app.screen.query(KeyField) if one.spot == spot)

    async def fill(self, table: str, key: str, text: str, number: int = 0) -> None:
        """Put a value into a field instead of what stands there, and wait for the answer."""
        field = self.field(table, key, number)
        field.put(text)
        await self._taken(field, text)

    async def fill_wish(self, name: str, text: str) -> None:
        """Put a value into a wish of a question."""
        self.app.screen.query_one(f"#wish-{name}", Input).value = text
        await self.pilot.pause()

    async def type_into(self, table: str, key: str, text: str) -> None:
        """The same with the keys that a person presses."""
        field = self.field(table, key)
        await self.go_to(field)
        await self.press_letters(text)
        await self._taken(field, text)

    async def go_to(self, field: KeyField) -> None:
        """Put the focus into a field, where the next key takes the place of what stands there."""
        field.focus_input()
        await self.until(lambda: field_of(self.app.focused or field.screen) is field, "the field")
        field.query_one(Input).select_all()

    async def _taken(self, field: KeyField, text: str) -> None:
        draft = self.desk.session.draft
        # What is typed is looked at first, or what was wrong before would pass for the answer.
        await self.pilot.pause()

        def arrived() -> bool:
            return bool(field.problem) or as_typed(draft.value(field.spot)) == text.strip()

        await self.until(arrived, "what was typed")
        await self.settled()

    async def take_back(self) -> None:
        """Undo the last change, and wait for the answer."""
        await self.press("ctrl+z")
        await self.settled()

    async def take(self, text: str) -> None:
        """Go on with another text of the race, and wait for the answer."""
        self.desk.session.draft.take(text)
        self.desk.show_draft()
        await self.settled()

    def words_at(self, table: str, key: str) -> str:
        """What is said beside a field."""
        return self.field(table, key).words

    async def shown(self, kind: type[Screen[Any]]) -> None:
        """Wait until a screen of some kind is in front."""
        await self.until(lambda: isinstance(self.app.screen, kind), kind.__name__)
        await self.pilot.pause()

    async def walk(self) -> AsyncIterator[str]:
        """Go through all places; the key of each while it is looked at."""
        for number in range(2, 10):
            await self.open_place(f"f{number}")
            yield f"f{number}"

    async def open_place(self, key: str) -> None:
        await self.press(key)
        await self.settled()

    def page(self, name: str) -> str:
        """The text of a page, however it is wrapped."""
        return " ".join(self.app.screen.query_one(f"#{name}", Page).text.split())

    @property
    def screen(self) -> str:
        """What is seen, as lines of text."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(part.text for part in strip).rstrip() for strip in strips)


def _key_of(letter: str) -> str:
    """Name of the key that types a letter: its own, or that of Unicode."""
    if letter.isascii() and letter.isalnum():
        return letter
    return unicodedata.name(letter).lower().replace(" ", "_").replace("-", "_")


def at_desk(
    act: Callable[[Driver], Awaitable[None]],
    path: Path | None,
    size: tuple[int, int] = (80, 24),
    *,
    settle: bool = True,
) -> None:
    """Open a race file and do something with it."""

    async def run() -> None:
        async with Workspace(path).run_test(size=size, notifications=True) as pilot:
            driver = Driver(pilot)
            if settle and path is not None:
                await driver.until(lambda: driver.app.desk_screen, "a desk")
                await driver.settled()
            await act(driver)

    asyncio.run(run())


def copied_demo(folder: Path) -> Path:
    """A copy of the demo that may be written to; its race file."""
    target = folder / "demo"
    shutil.copytree(DEMO, target)
    return target / "race.toml"


SHORT_COURSE = """\
distance [km],elevation [m],bearing [deg]
0,5,250
2,5,250
4,85,160
6,25,70
8,5,70
"""


def short_demo_in(folder: Path) -> Path:
    """The demo with all its options on eight kilometres, solved in a blink; its race file."""
    path = copied_demo(folder)
    path.with_name("short.csv").write_text(SHORT_COURSE, encoding="utf-8")
    text = path.read_text("utf-8")
    text = re.sub(r"\[\[course\.section\]\].*?\n\n", "", text, flags=re.DOTALL)
    for there, here in (("oskavell_shore.gpx", "short.csv"), ("6.45", "2"), ("22.9", "4")):
        assert there in text
        text = text.replace(f'"{there}', f'"{here}')
    path.write_text(text, encoding="utf-8")
    return path


SMALL = """\
# Ten kilometres out by the canal
[race]
name = "Canal ten"

[rider]
mass = "70 kg"
power = "250 W"      # for half an hour

[bike]
mass = "9 kg"
cda = "0.25 m^2"
crr = 0.004

[air]
temperature = "18 degC"
wind_speed = "3 m/s"
wind_from = "ahead"

[course]
distance = "10 km"
bearing = "90 deg"
step = "50 m"

[[option]]
name = "Suit"
slot = "suit"
price = "200 EUR"
saves = "0.005 m^2"
doubt = "0.001 m^2"

[[option]]
name = "Other suit"
slot = "suit"
price = "300 EUR"
saves = "0.006 m^2"
doubt = "0.004 m^2"

[[option]]
name = "Tyres"
slot = "tyres"
price = "90 EUR"
mass = "+50 g"
saves = "0.0004 of Crr"
"""


def small_race_in(folder: Path) -> Path:
    """A race that is solved in a blink, with three options; its race file."""
    path = folder / "canal.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path
