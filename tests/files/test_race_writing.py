"""Writing to a race file keeps its owner's words and never leaves half a file."""

import os
from pathlib import Path

import pytest

from racecalc.domain.loading import load_race
from racecalc.errors import InputError
from racecalc.files.race_writing import write_cells, write_changes, write_new_file
from tests.files.making import RACE, race_file


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return race_file(tmp_path, RACE)


def test_only_the_value_changes(path: Path) -> None:
    write_changes(path, ["rider.mass=66 kg", "option.Tyres v2.0.mass=-30 g"])
    expected = RACE.replace('"67 kg"', '"66 kg"') + 'mass = "-30 g"\n'
    assert path.read_text(encoding="utf-8") == expected
    assert load_race(path).rider.mass == 66.0


def test_line_ends_of_the_owner_are_kept(path: Path) -> None:
    path.write_bytes(RACE.replace("\n", "\r\n").encode())
    write_changes(path, ["rider.mass=66 kg"])
    expected = RACE.replace('"67 kg"', '"66 kg"').replace("\n", "\r\n")
    assert path.read_bytes() == expected.encode()


@pytest.mark.parametrize("change", ["rider.mass=-1 kg", "rider.mas=66 kg", "option.9.mass=1 g"])
def test_nothing_is_written_where_a_value_will_not_do(path: Path, change: str) -> None:
    with pytest.raises(InputError):
        write_changes(path, ["rider.power=100 W", change])
    assert path.read_text(encoding="utf-8") == RACE
    assert [entry.name for entry in path.parent.iterdir()] == ["race.toml"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_the_old_file_stays_where_writing_fails(
    path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os if step == "fsync" else Path, step, fail)
    with pytest.raises(InputError, match="No space left on device"):
        write_changes(path, ["rider.mass=66 kg"])
    assert path.read_text(encoding="utf-8") == RACE
    assert [entry.name for entry in path.parent.iterdir()] == ["race.toml"]


def test_a_new_file_may_be_read_like_any_other(tmp_path: Path):
    write_new_file(tmp_path / "card.csv", "text")
    usual = tmp_path / "usual"
    usual.write_text("text", encoding="utf-8")
    assert (tmp_path / "card.csv").stat().st_mode == usual.stat().st_mode


# --- cells of a table ------------------------------------------------------------------------


def test_cells_are_set_and_all_else_stays(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_bytes(b'# mine\r\nitem,note\r\n"A, old",x\r\nB\r\n')
    write_cells(path, "excluded", {4: "rain, wind"})
    assert path.read_bytes() == (
        b'# mine\r\nitem,note,excluded\r\n"A, old",x\r\nB,,"rain, wind"\r\n'
    )
    write_cells(path, "excluded", {3: "late", 4: ""})
    assert path.read_bytes().splitlines()[2:] == [b'"A, old",x,late', b"B,,"]


def test_rows_over_several_lines_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text('item,note\nA,"two\nlines"\n', encoding="utf-8")
    with pytest.raises(InputError, match="several lines"):
        write_cells(path, "note", {2: ""})
