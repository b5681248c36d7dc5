"""From the opened race to the answer of everyday questions: how many keys that takes."""

import re
import shutil
from pathlib import Path

from textual.widgets import Input

from racecalc.views.workspace.dialogs import TextDialog
from tests.workspace.driving import DEMO, SMALL, Driver, at_desk
from tests.workspace.test_keys import burst

MOST = 8
"""Keys to any of them; our choice."""

ANSWERS = (
    # What is asked, the keys, and words of the answer.
    ("seconds per watt", "", "1 W power +"),
    ("what 200 g are worth", "", "100 g mass -"),
    ("in another wind", "ctrl+f w i n d space 6 enter", "the saved file"),
    ("at 30 degC", "ctrl+f 3 0 space d e g enter", "the saved file"),
    ("ten degrees more", "ctrl+f t e enter ctrl+shift+up", "the saved file"),
    ("cost per second of each option", "f4", "EUR/s"),
    ("is this tested suit faster", "f5", "Brinnoth Lowtide suit faster"),
    ("how many more runs", "f5", "More days like these needed: 13"),
    ("the pacing card", "f6", "with this card"),
    ("a goal time", "ctrl+f 1 6 : 3 0 enter", "16:30"),
    ("two versions next to each other", "f7", "the saved file"),
    ("the best set under 500 EUR", "ctrl+f 5 0 0 e enter", "Which set for [500 EUR]?"),
)

CHANGES = {
    "in another wind": 'wind_speed = "6 m/s"',
    "at 30 degC": 'temperature = "30 degC"',
    "ten degrees more": 'temperature = "28 degC"',
}


def shown(driver: Driver) -> str:
    """All that the place in front says, on the screen and further down its page."""
    pages = [page.text for page in driver.desk.front.query("Page")]  # type: ignore[attr-defined]
    return " ".join(" ".join([driver.screen, *pages]).split())


TESTED = """
[[option]]
name = "Brinnoth Lowtide suit"
slot = "suit"
price = "290 EUR"
trial = "suits.csv"
trial_baseline = "Old suit"
"""


def test_no_everyday_question_takes_more_than_eight_keys(small_race: Path) -> None:
    small_race.write_text(f"{SMALL}{TESTED}", "utf-8")
    shutil.copy(DEMO / "suits.csv", small_race.parent)

    async def act(driver: Driver) -> None:
        draft = driver.desk.session.draft
        for what, keys, words in ANSWERS:
            assert len(keys.split()) <= MOST, what
            burst(driver, keys)
            line = CHANGES.get(what, "")
            await driver.until(lambda line=line: not driver.app._keys and line in draft.text, what)
            await driver.settled()
            assert words in shown(driver), what
            if line:
                assert re.search(r"\d s (more|less) than the saved file", shown(driver)), what
                await driver.press("ctrl+z", "escape")
                await driver.settled()
                assert not draft.unsaved

    at_desk(act, small_race)


WRITTEN = {
    "f2": ("race.md", "16:48"),
    "f3": ("course.txt", "km"),
    "f4": ("options.html", "<table"),
    "f6": ("card.csv", "250"),
    "f9": ("advice.txt", "250"),
}
"""The file that is written of a place, and what is in it."""


def test_a_page_is_copied_and_any_page_is_written(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.press("ctrl+c")
        assert "1 W power" in driver.app.clipboard
        await driver.press("f4")
        await driver.settled()
        await driver.press("ctrl+c")
        heading, group, first, *_ = driver.app.clipboard.splitlines()
        assert heading.split("\t")[1] == "option"
        assert group.split("\t")[1].strip("\u2500 ") == "test first"
        assert first.split("\t")[1] == "Other suit"
        for key, (name, _) in WRITTEN.items():
            await driver.open_place(key)
            await driver.press("ctrl+e")
            await driver.shown(TextDialog)
            driver.app.screen.query_one(Input).value = name
            await driver.press("enter")
            await driver.until(small_race.with_name(name).exists, name)
            await driver.until(lambda: driver.app.screen is driver.desk, "the desk")
        # With the name that is suggested the page to take home is two keys from where it is seen.
        burst(driver, "ctrl+e enter")
        await driver.until(small_race.with_name("canal_advice.html").exists, "the page")

    at_desk(act, small_race)
    for name, words in WRITTEN.values():
        assert words in small_race.with_name(name).read_text("utf-8"), name
