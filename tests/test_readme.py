"""Every command shown in README.md and in the manual prints what is shown there."""

import re
import shlex
from pathlib import Path

import pytest

from tests.answered import answered, asked
from tests.answers.test_answers import COMMANDS

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


def on_the_demo(command: str) -> tuple[str, ...]:
    """The words of a command as they are asked in the folder of the demo."""
    return tuple(word.removeprefix("course_demo/") for word in shlex.split(command)[1:])


SHARED = [
    (command, shown)
    for command, shown in BLOCKS
    # What names its files says from where it was asked.
    if on_the_demo(command) in COMMANDS and "course_demo" not in shown
]


def is_shown(shown: str, output: str) -> None:
    """A line "..." is any number of lines."""
    parts = re.split(r"^\.\.\.\n", shown, flags=re.MULTILINE)
    pattern = r"(.*\n)*?".join(re.escape(part) for part in parts)
    assert re.fullmatch(pattern, output), output


@pytest.mark.parametrize(
    ("command", "shown"),
    [block for block in BLOCKS if block not in SHARED],
    ids=[block[0] for block in BLOCKS if block not in SHARED],
)
def test_shown_output_is_real(command: str, shown: str, racecalc, monkeypatch) -> None:
    name, *arguments = shlex.split(command)
    assert name == "racecalc"
    # What `new` writes must not end up in the checkout.
    if arguments[0] != "new":
        monkeypatch.chdir(ROOT)
    _, out, err = racecalc(*arguments)
    is_shown(shown, err + out)


@pytest.mark.parametrize("words", [asked(*on_the_demo(command)) for command, _ in SHARED])
def test_shown_answer_is_that_of_its_tests(words: tuple[str, ...]) -> None:
    """What `tests/answers` asks for too is worked out once."""
    (shown,) = (shown for command, shown in SHARED if on_the_demo(command) == words)
    is_shown(shown, answered(*words).text())


def test_shown_screen_is_the_one_that_was_looked_at() -> None:
    """A block marked as a screen is a golden text of `tests/workspace`."""
    screens = re.findall(r"```screen\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    kept = (ROOT / "tests/workspace/screens").glob("*.txt")
    known = {path.read_text("utf-8").rstrip() for path in kept}
    assert screens
    assert all(screen.rstrip() in known for screen in screens)


def test_there_is_output_to_compare() -> None:
    assert len(BLOCKS) >= 4
