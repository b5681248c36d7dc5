"""Whatever is given, a command answers, or says in one line what will not do.

Few cases are drawn in CI; `pytest -m slow tests/fuzz` draws hundreds, `python -m
tests.fuzz.long_run 120` goes on for two hours.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st

from tests.answered import DEMO
from tests.fuzz.drawing import (
    CHANGES,
    COMMANDS,
    QUESTIONS,
    courses,
    damaged,
    races,
    tables,
    written,
)
from tests.fuzz.outcome import draw, outcome

READS = {
    "suits.csv": "trial suits.csv",
    "testday.csv": "trial testday.csv",
    "forecast.csv": "weather flat_round.toml --forecast forecast.csv",
    "results.csv": "places flat_round.toml results.csv",
    "ridden.csv": "review race.toml ridden.csv --set=course.step=100m",
    "race.toml": "time race.toml --set=course.step=100m",
    "oskavell_shore.gpx": "time race.toml --set=course.step=100m",
}
"""Files of the demo, and the command that reads each."""


def ask(folder: Path, race: dict[str, Any], words: Sequence[str]) -> bool:
    """Ask about a race, and tell whether it was answered."""
    (folder / "drawn.toml").write_text(written(race), encoding="utf-8")
    return outcome(folder, *words).status == 0


def question(folder: Path, race: dict[str, Any], words: str, *changes: str) -> bool:
    name, *flags = words.split()
    return ask(folder, race, [name, "drawn.toml", *flags, *changes])


def flags(folder: Path, race: dict[str, Any], words: Sequence[str]) -> bool:
    race["option"] = [{"name": "A", "saves": "3 W at 45 km/h"}, {"name": "B", "mass": "+0.1 kg"}]
    return ask(folder, race, words)


def hostile(folder: Path, race: dict[str, Any], words: str, change: str) -> bool:
    return question(folder, race, words, change)


def course(folder: Path, text: str, words: str) -> bool:
    (folder / "drawn.gpx").write_text(text, encoding="utf-8")
    plain = {
        "rider": {"mass": "70 kg", "power": "250 W"},
        "bike": {"mass": "9 kg", "cda": "0.25 m^2", "crr": "0.004"},
        "course": {"file": "drawn.gpx", "step": "50 m"},
    }
    return question(folder, plain, words)


def other_file(folder: Path, changed: tuple[str, bytes | str]) -> bool:
    """Put other content in the place of a file of the demo while its command reads it."""
    name, content = changed
    file = folder / name
    file.unlink()
    file.write_bytes(content.encode() if isinstance(content, str) else content)
    try:
        return outcome(folder, *READS[name].split()).status == 0
    finally:
        file.unlink()
        file.symlink_to(DEMO / name)


DAMAGED = st.sampled_from(sorted(READS)).flatmap(
    lambda name: st.tuples(st.just(name), damaged((DEMO / name).read_bytes()))
)
TABLES = st.sampled_from([name for name in sorted(READS) if name.endswith(".csv")]).flatmap(
    lambda name: st.tuples(st.just(name), tables((DEMO / name).read_text("utf-8")))
)

CHECKS = {
    "what is allowed": (question, {"race": races(), "words": QUESTIONS}),
    "what nobody means": (
        hostile,
        {"race": races(beyond=True), "words": QUESTIONS, "change": CHANGES},
    ),
    "flags": (flags, {"race": races(most=2), "words": COMMANDS}),
    "recordings": (course, {"text": courses(), "words": QUESTIONS}),
    "tables": (other_file, {"changed": TABLES}),
    "damaged files": (other_file, {"changed": DAMAGED}),
}
"""What is drawn, and what holds of it; every check says whether there was an answer."""


@pytest.mark.parametrize("name", CHECKS)
def test_few_cases(folder: Path, name: str) -> None:
    draw(*CHECKS[name], folder, 5)


@pytest.mark.slow
@pytest.mark.parametrize("name", CHECKS)
def test_many_cases(folder: Path, name: str) -> None:
    draw(*CHECKS[name], folder, 300)
