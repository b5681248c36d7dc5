"""The screens as they are seen, compared with texts that were looked at and kept.

`RACECALC_KEEP_SCREENS=1 pytest tests/workspace/test_screens.py` keeps what is shown now; look at
the difference before committing it. The numbers come from the decision layer, which has its own
checks: these texts are for what is cut off, empty or out of line.
"""

import os
import re
from collections.abc import Awaitable, Callable, Collection
from pathlib import Path

import pytest
from rich.cells import cell_len

from tests.workspace.driving import Driver, at_desk, short_demo_in

KEPT = Path(__file__).parent / "screens"
SIZES = ((140, 45), (80, 24))
PLACES = {
    "race": ("f2",),
    "course": ("f3", "shift+right", "shift+right"),
    "options": ("f4", "space"),
    "evidence": ("f5",),
    "pacing": ("f6",),
    "compare": ("f7",),
    "ask": ("f8",),
    "advice": ("f9",),
}
LONG = ("pacing", "advice")
"""Places whose answers take seconds on the demo."""

THEME = "textual-light"


def steady(screen: str) -> str:
    """The text without what differs from day to day and from run to run."""
    dated = re.sub(r"\d{4}-\d\d-\d\d", "2026-01-01", screen)
    return re.sub(r"/\S*/(?=\w+\.(csv|toml))", "", dated)


async def arrive(driver: Driver, keys: tuple[str, ...]) -> None:
    await driver.open_place(keys[0])
    await driver.press(*keys[1:])
    await driver.settled()


def test_screens_are_those_that_were_looked_at(race_file: Path, tmp_path: Path) -> None:
    """Every place on the demo, at a roomy size and at the smallest.

    What takes long is shown on a course that is solved in a blink: the words are the same.
    """
    found: dict[str, str] = {}

    def looking(names: Collection[str]) -> Callable[[Driver], Awaitable[None]]:
        async def act(driver: Driver) -> None:
            for name in names:
                await arrive(driver, PLACES[name])
                for size in SIZES:
                    await driver.pilot.resize_terminal(*size)
                    await driver.settled()
                    found[f"{name}_{size[0]}x{size[1]}"] = screen = steady(driver.screen)
                    assert screen.count("\n") + 1 == size[1]
                    assert max(map(cell_len, screen.split("\n"))) <= size[0]

        return act

    short_demo = short_demo_in(tmp_path / "short")
    at_desk(looking([name for name in PLACES if name not in LONG]), race_file, SIZES[0])
    at_desk(looking(LONG), short_demo, SIZES[0])
    for name, text in found.items():
        kept = KEPT / f"{name}.txt"
        if os.environ.get("RACECALC_KEEP_SCREENS"):
            kept.parent.mkdir(exist_ok=True)
            kept.write_text(text + "\n", "utf-8", newline="\n")
        assert text == kept.read_text("utf-8").rstrip("\n"), f"{kept.name} is another:\n{text}"


async def look_round(driver: Driver) -> list[str]:
    """The text of places with verdicts and marks, and of a field that refuses a value."""
    texts = []
    # A place that is come to has the focus where work begins.
    await driver.open_place("f4")
    for name in ("race", "options", "evidence"):
        await arrive(driver, PLACES[name][:1])
        texts.append(steady(driver.screen))
    return texts


def test_meaning_is_never_in_colour_alone_and_the_theme_is_remembered(
    small_race: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The texts are the same in a dark theme, a light one, and without any colour (NO_COLOR)."""
    texts: dict[str, list[str]] = {}

    async def in_colours(driver: Driver) -> None:
        await driver.fill("rider", "mass", "7")
        await driver.until(lambda: driver.words_at("rider", "mass"), "a word")
        texts["dark"] = await look_round(driver)
        driver.app.theme = THEME
        await driver.pilot.pause()
        texts["light"] = await look_round(driver)

    async def without(driver: Driver) -> None:
        # The theme is remembered from the last time.
        assert driver.app.theme == THEME
        await driver.fill("rider", "mass", "7")
        await driver.until(lambda: driver.words_at("rider", "mass"), "a word")
        texts["none"] = await look_round(driver)
        assert driver.app.no_color
        drawn = driver.app.export_screenshot()
        used = re.findall(r'(?:-r\d+ {[^}]*fill: |<rect fill=")#([0-9a-f]{6})', drawn)
        assert len(used) > 10
        # The picture draws what has no style in a colour of its own.
        for colour in set(used) - {"c5c8c6"}:
            assert len({colour[:2], colour[2:4], colour[4:]}) == 1, f"#{colour} is no grey"

    at_desk(in_colours, small_race)
    monkeypatch.setenv("NO_COLOR", "1")
    at_desk(without, small_race)
    assert texts["dark"] == texts["light"] == texts["none"]
    assert "! '7' has no unit" in texts["none"][0]
