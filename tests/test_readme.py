"""Every command shown in README.md and in the manual prints what is shown there."""

import re
import shlex
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", *sorted((ROOT / "racecalc" / "manual").glob("*.md"))]
BLOCKS = sorted(
    {
        block
        for page in PAGES
        for block in re.findall(
            r"```console\n\$ (.*?)\n(.*?)```", page.read_text("utf-8"), re.DOTALL
        )
    }
)


@pytest.mark.parametrize(("command", "shown"), BLOCKS, ids=[block[0] for block in BLOCKS])
def test_shown_output_is_real(command: str, shown: str, racecalc, monkeypatch) -> None:
    """A line "..." is any number of lines."""
    name, *arguments = shlex.split(command)
    assert name == "racecalc"
    # What `new` writes must not end up in the checkout.
    if arguments[0] != "new":
        monkeypatch.chdir(ROOT)
    _, out, err = racecalc(*arguments)
    parts = re.split(r"^\.\.\.\n", shown, flags=re.MULTILINE)
    pattern = r"(.*\n)*?".join(re.escape(part) for part in parts)
    assert re.fullmatch(pattern, err + out), err + out


def test_shown_screen_is_the_one_that_was_looked_at() -> None:
    """A block marked as a screen is a golden text of `tests/workspace`."""
    screens = re.findall(r"```screen\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    kept = (ROOT / "tests/workspace/screens").glob("*.txt")
    known = {path.read_text("utf-8").rstrip() for path in kept}
    assert screens
    assert all(screen.rstrip() in known for screen in screens)


def test_there_is_output_to_compare() -> None:
    assert len(BLOCKS) >= 4
