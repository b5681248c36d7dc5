"""A home of its own for every test of the terminal interface, and no blinking."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from textual._compositor import Compositor
from textual.css.stylesheet import Stylesheet

from tests.workspace.driving import copied_demo, short_demo_in, small_race_in


@pytest.fixture(autouse=True)
def own_home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setattr("textual.widgets.Input.cursor_blink", False)


@pytest.fixture(autouse=True, scope="session")
def styles_read_once() -> Iterator[None]:
    """Read the styles of the library once a process, and not once an opening."""
    read, known = Stylesheet._parse_rules, {}

    def read_once(self: Stylesheet, css: str, *rest: Any, **more: Any) -> Any:
        key = css, rest, tuple(more.items()), tuple(self._variables.items())
        if key not in known:
            known[key] = read(self, css, *rest, **more)
        return known[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Stylesheet, "_parse_rules", read_once)
        yield


@pytest.fixture(autouse=True, scope="session")
def drawn_when_looked_at() -> Iterator[None]:
    """Draw the screen where a test looks at it or waits until all is settled, not at every change.

    Nobody sees what a screen without a terminal draws, and that is a quarter of all work.
    """
    draw = Compositor.render_update

    def draw_if_asked(self: Compositor, full: bool = False, *rest: Any, **more: Any) -> Any:
        if full:
            return draw(self, full, *rest, **more)
        self._dirty_regions.clear()
        return None

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Compositor, "render_update", draw_if_asked)
        yield


@pytest.fixture
def race_file(tmp_path: Path) -> Path:
    """A copy of the demo's race file, with its course beside it."""
    return copied_demo(tmp_path)


@pytest.fixture
def short_demo(tmp_path: Path) -> Path:
    """The demo on a course that is solved in a blink; its race file."""
    return short_demo_in(tmp_path)


@pytest.fixture
def small_race(tmp_path: Path) -> Path:
    """A race that is solved in a blink; its race file."""
    return small_race_in(tmp_path)
