"""What is kept of unsaved changes, and what is remembered from start to start."""

import json
from pathlib import Path

import pytest

from racecalc.errors import InputError
from racecalc.files import draft as memory
from racecalc.files.draft import Draft, copy_path, drop_copy, keep_copy, kept_copy
from tests.files.making import RACE

EDITED = RACE.replace("[rider]", "[rider] # edited")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    place = tmp_path / "race.toml"
    place.write_text(RACE, encoding="utf-8")
    return place


def test_nothing_is_kept_at_first(path: Path) -> None:
    assert kept_copy(path, RACE) is None


def test_what_was_kept_comes_back_whole_and_opens(path: Path) -> None:
    keep_copy(path, EDITED, RACE)
    kept = kept_copy(path, RACE)
    assert kept is not None
    assert kept.text == EDITED
    assert not kept.file_changed
    # The copy is a race file itself, for the day when racecalc is not at hand.
    Draft.opened(copy_path(path))


def test_it_is_said_when_the_file_changed_since(path: Path) -> None:
    keep_copy(path, EDITED, RACE)
    kept = kept_copy(path, RACE + "\n")
    assert kept is not None
    assert kept.file_changed


def test_a_copy_that_says_the_same_is_nothing_to_recover(path: Path) -> None:
    keep_copy(path, EDITED, RACE)
    assert kept_copy(path, EDITED) is None


def test_a_file_of_that_name_that_is_not_ours_is_left_alone(path: Path) -> None:
    copy_path(path).write_text("my own notes\n", encoding="utf-8")
    assert kept_copy(path, RACE) is None


def test_dropping_twice_is_fine(path: Path) -> None:
    keep_copy(path, EDITED, RACE)
    drop_copy(path)
    drop_copy(path)
    assert not copy_path(path).exists()


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        keep_copy(tmp_path / "nowhere" / "race.toml", EDITED, RACE)


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "state" / "memory.json"
    monkeypatch.setattr(memory, "memory_path", lambda: place)
    return place


def test_recent_files_the_last_one_first(state: Path, tmp_path: Path) -> None:
    paths = [tmp_path / f"race{number}.toml" for number in range(memory.MOST_RECENT + 3)]
    for path in paths:
        path.touch()
        memory.remember_file(path)
    memory.remember_file(paths[5])
    found = memory.recent_files()
    assert found[:2] == (paths[5].resolve(), paths[-1].resolve())
    assert len(found) == memory.MOST_RECENT
    paths[5].unlink()
    assert memory.recent_files()[0] == paths[-1].resolve()


def test_a_word_is_remembered_beside_the_files(state: Path, tmp_path: Path) -> None:
    (tmp_path / "race.toml").touch()
    memory.remember_file(tmp_path / "race.toml")
    memory.remember_word("theme", "textual-light")
    assert memory.remembered_word("theme") == "textual-light"
    assert memory.recent_files() == ((tmp_path / "race.toml").resolve(),)


@pytest.mark.parametrize("content", ["", "no json", "[1, 2]", '{"recent": 5, "theme": []}'])
def test_a_memory_that_is_broken_is_none(state: Path, content: str) -> None:
    state.parent.mkdir(parents=True)
    state.write_text(content, encoding="utf-8")
    assert memory.recent_files() == ()
    assert memory.remembered_word("theme") == ""
    memory.remember_word("theme", "nord")
    assert json.loads(state.read_text(encoding="utf-8"))["theme"] == "nord"
