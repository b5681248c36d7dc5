"""What is kept of unsaved changes, and what is remembered from start to start."""

import json
from pathlib import Path

import pytest

from racecalc.errors import InputError
from racecalc.files import draft as memory
from racecalc.files.draft import Draft, faults_of
from racecalc.files.recovery import KeptCopy, Recovery, copy_path
from tests.files.making import RACE

EDITED = RACE.replace("[rider]", "[rider] # edited")
OTHERWISE = RACE.replace("[rider]", "[rider] # otherwise")


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    place = tmp_path / "race.toml"
    place.write_text(RACE, encoding="utf-8")
    return place


def left_after(path: Path, *texts: str, saved: str = RACE) -> tuple[KeptCopy, ...]:
    """What is offered after programs that were open at once have kept texts and ended."""
    running = [Recovery(path) for _ in texts]
    for one, text in zip(running, texts, strict=True):
        one.keep(text, RACE)
    for one in running:
        one.release()
    after = Recovery(path)
    try:
        return after.left_behind(saved)
    finally:
        after.release()


def test_what_was_kept_comes_back_whole_and_opens(path: Path) -> None:
    assert left_after(path) == ()
    (kept,) = left_after(path, EDITED)
    assert kept.text == EDITED
    assert not kept.file_changed
    # The copy is a race file itself, for the day when racecalc is not at hand.
    Draft.opened(kept.path)
    (kept,) = left_after(path, EDITED, saved=f"{RACE}\n")
    assert kept.file_changed


def test_a_copy_that_says_the_same_or_is_not_ours_is_nothing_to_recover(path: Path) -> None:
    assert left_after(path, EDITED, saved=EDITED) == ()
    copy_path(path).write_text("my own notes\n", encoding="utf-8")
    assert left_after(path) == ()
    for torn in (b"", bytes(40), b"# \xff\xfe\n"):
        copy_path(path).write_bytes(torn)
        assert left_after(path) == ()


def test_programs_that_are_open_at_once_keep_a_copy_each(path: Path) -> None:
    one, other = Recovery(path), Recovery(path)
    one.keep(EDITED, RACE)
    other.keep(OTHERWISE, RACE)
    # Nothing of a program that is still open is offered to another.
    third = Recovery(path)
    assert third.left_behind(RACE) == ()
    other.release()
    assert [kept.text for kept in third.left_behind(RACE)] == [OTHERWISE]
    one.release()
    assert {kept.text for kept in third.left_behind(RACE)} == {EDITED, OTHERWISE}
    third.release()
    assert [kept.text for kept in left_after(path)] == [EDITED, OTHERWISE]


def test_dropping_twice_is_fine(path: Path) -> None:
    recovery = Recovery(path)
    recovery.keep(EDITED, RACE)
    recovery.drop()
    recovery.drop()
    assert not recovery.path.exists()


def test_a_folder_that_cannot_be_written_is_said(path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        Recovery(path.parent / "nowhere" / "race.toml").keep(EDITED, RACE)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ((), ()),
        (
            (('mass = "', 'mas = "'), ("[air]", "[airs]")),
            ("key 'mas'; did you mean 'mass'", "table 'airs'; did you mean 'air'"),
        ),
        ((('power = "', 'power = "x'),), ("line ",)),
        ((("[rider]", "[rider"), ("[air]", "[airs]")), ("not valid TOML",)),
        ((('mass = "', "mass = "), ('power = "', "power = ")), ("not valid", "not valid")),
    ],
)
def test_all_that_cannot_be_read_is_told_with_its_line(
    wrong: tuple[tuple[str, str], ...], told: tuple[str, ...]
) -> None:
    text = RACE
    for right, instead in wrong:
        assert right in text
        text = text.replace(right, instead, 1)
    found = faults_of(text)
    assert len(found) == len(told), found
    lines = text.splitlines()
    for fault, words in zip(found, told, strict=True):
        assert words in str(fault)
        assert any(instead in lines[fault.line - 1] for _, instead in wrong), fault


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
