"""Whatever is given, a command answers, or says in one line what will not do.

Few cases are drawn in CI; `pytest -m slow tests/fuzz` draws thousands.
"""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.answered import DEMO
from tests.fuzz.drawing import CHANGES, COMMANDS, damaged, races, written
from tests.fuzz.outcome import outcome

FEW = settings(max_examples=10, derandomize=True, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=300, suppress_health_check=list(HealthCheck))

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


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz")
    for one in DEMO.iterdir():
        if one.is_file():
            (folder / one.name).symlink_to(one)
    return folder


def ask(folder: Path, race: dict[str, Any], words: str, *changes: str) -> None:
    (folder / "drawn.toml").write_text(written(race), encoding="utf-8")
    command, *flags = words.split()
    outcome(folder, command, "drawn.toml", *flags, *changes)


def read(folder: Path, name: str, content: bytes) -> None:
    """Put other content in the place of a file of the demo while its command reads it."""
    (folder / name).unlink()
    (folder / name).write_bytes(content)
    try:
        outcome(folder, *READS[name].split())
    finally:
        (folder / name).unlink()
        (folder / name).symlink_to(DEMO / name)


DAMAGED = st.sampled_from(sorted(READS)).flatmap(
    lambda name: st.tuples(st.just(name), damaged((DEMO / name).read_bytes()))
)


def allowed_races(folder: Path, race, words) -> None:
    ask(folder, race, words)


def hostile_races(folder: Path, race, words, change) -> None:
    ask(folder, race, words, change)


def damaged_files(folder: Path, damage) -> None:
    read(folder, *damage)


ALLOWED = given(race=races(), words=COMMANDS)
HOSTILE = given(race=races(beyond=True), words=COMMANDS, change=CHANGES)
BROKEN = given(damage=DAMAGED)

test_what_is_allowed = FEW(ALLOWED(allowed_races))
test_what_nobody_means = FEW(HOSTILE(hostile_races))
test_damaged_files = FEW(BROKEN(damaged_files))

test_much_that_is_allowed = pytest.mark.slow(MANY(ALLOWED(allowed_races)))
test_much_that_nobody_means = pytest.mark.slow(MANY(HOSTILE(hostile_races)))
test_many_damaged_files = pytest.mark.slow(MANY(BROKEN(damaged_files)))
