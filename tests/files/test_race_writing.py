"""Writing to a race file keeps its owner's words and never leaves half a file."""

import errno
import os
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from racecalc.domain.loading import load_race
from racecalc.errors import InputError
from racecalc.files import race_writing
from racecalc.files.opening import read_bytes
from racecalc.files.race_writing import (
    alone_in,
    clear_leftovers,
    replace_file,
    write_cells,
    write_changes,
    write_csv,
    write_new_file,
    write_starting_files,
)
from racecalc.files.tables import read_table
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


STEPS = {"mkstemp": tempfile, "fsync": os, "chmod": Path, "replace": Path}
"""What writing a file is made of, where the disk may be full or read-only."""


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("why", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EFBIG])
def test_the_old_file_stays_where_writing_fails(path: Path, monkeypatch, step, why) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError(why, os.strerror(why))

    monkeypatch.setattr(STEPS[step], step, fail)
    with pytest.raises(InputError, match=os.strerror(why)):
        write_changes(path, ["rider.mass=66 kg"])
    assert path.read_text(encoding="utf-8") == RACE
    assert [entry.name for entry in path.parent.iterdir()] == ["race.toml"]


@pytest.mark.parametrize("more", [100, -100])
def test_a_file_of_two_names_stays_whole_where_there_is_no_room(path: Path, monkeypatch, more):
    path.with_name("same.toml").hardlink_to(path)
    flushed = iter([None])

    def full_at_the_second(_: int) -> None:
        if not list(flushed):
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_at_the_second)
    with pytest.raises(InputError, match="No space left on device"):
        replace_file(path, "x" * (len(RACE) + more))
    assert path.read_text(encoding="utf-8") == RACE
    monkeypatch.undo()
    replace_file(path, "x" * (len(RACE) + more))
    assert path.with_name("same.toml").read_text() == "x" * (len(RACE) + more)


def test_a_file_of_two_names_stays_whole_where_it_is_stopped(path: Path, monkeypatch):
    """Ctrl+C while room is made."""
    path.with_name("same.toml").hardlink_to(path)
    steps = iter(("the copy",))

    def stopped_in_the_second(_: int) -> None:
        if not next(steps, ""):
            raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stopped_in_the_second)
    with pytest.raises(KeyboardInterrupt):
        replace_file(path, f"{RACE}# longer")
    assert path.read_text(encoding="utf-8") == RACE


def test_what_is_no_file_is_not_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "card.html")
    with pytest.raises(InputError, match="this is not an ordinary file; name another file"):
        replace_file(tmp_path / "card.html", "page")
    assert (tmp_path / "card.html").is_fifo()


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


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_cells_keep_the_encoding_and_only_line_ends_part_rows(tmp_path: Path, encoding) -> None:
    odd = "\x0b" if encoding == "cp1252" else "\u2028\x85\x0b"
    text = f"# mine{odd}\nitem,note\r\nCüff{odd}s,x\rB,y"
    path = tmp_path / "sheet.csv"
    path.write_bytes(text.encode(encoding))
    write_cells(path, "note", {3: "späte"})
    assert path.read_bytes() == text.replace(",x", ",späte").encode(encoding)
    write_cells(path, "note", {3: "→"})
    assert read_table(path).texts("note") == ["→", "y"]


def test_cells_wait_for_another_writer(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(race_writing, "PATIENCE", 0.05)
    path = tmp_path / "sheet.csv"
    path.write_text("item,note\nA,x\n", encoding="utf-8")
    with alone_in(tmp_path), pytest.raises(InputError, match="another program is writing"):
        write_cells(path, "note", {2: "late"})


def test_rows_over_several_lines_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text('item,note\nA,"two\nlines"\n', encoding="utf-8")
    with pytest.raises(InputError, match="several lines"):
        write_cells(path, "note", {2: ""})


def test_what_a_spreadsheet_would_reckon_comes_back_as_it_was(tmp_path):
    write_csv(tmp_path / "names.csv", [["item", "drag [N]"], ["=1+1", "-0.5"], ["@new", "+60 g"]])
    assert (tmp_path / "names.csv").read_text() == "item,drag [N]\n'=1+1,-0.5\n'@new,'+60 g\n"
    table = read_table(tmp_path / "names.csv")
    assert table.rows == (("=1+1", "-0.5"), ("@new", "+60 g"))


class TestWritersOfOneFile:
    def test_of_many_at_once_each_edit_is_kept(self, tmp_path):
        path = tmp_path / "race.toml"
        path.write_text(RACE)
        keys = ("rider.power_doubt", "rider.pedal_least", "rider.critical_power")
        with ThreadPoolExecutor() as pool:
            list(pool.map(lambda key: write_changes(path, [f"{key}=2 W"]), keys))
        assert path.read_text().count('"2 W"') == 3

    def test_who_waits_too_long_is_told(self, tmp_path, monkeypatch):
        monkeypatch.setattr(race_writing, "PATIENCE", 0.05)
        with (
            alone_in(tmp_path),
            pytest.raises(InputError, match="another program is writing there; try again"),
        ):
            replace_file(tmp_path / "race.toml", "other")

    def test_mode_names_and_links_stay(self, tmp_path):
        path, name, link = (tmp_path / one for one in ("race.toml", "same.toml", "link.toml"))
        path.write_text("old")
        path.chmod(0o640)
        name.hardlink_to(path)
        link.symlink_to(path)
        replace_file(link, "new")
        assert name.read_text() == path.read_text() == "new"
        assert path.stat().st_mode & 0o777 == 0o640
        assert link.is_symlink()

    def test_what_is_read_only_stays(self, tmp_path):
        path = tmp_path / "race.toml"
        path.write_text(RACE)
        path.chmod(0o444)
        with pytest.raises(InputError, match="is read-only; allow writing to it"):
            write_changes(path, ["rider.mass=66 kg"])
        assert path.read_text() == RACE

    def test_what_a_killed_writer_left_goes_with_the_next(self, tmp_path):
        path, left = tmp_path / "race.toml", tmp_path / ".race.toml.abc.new"
        left.write_text("half")
        replace_file(path, "whole")
        assert sorted(tmp_path.iterdir()) == [path]


class TestTheOnlyWholeCopy:
    """One killed while it writes over a file of two names leaves half of it, and all next to it."""

    @pytest.fixture
    def killed(self, path: Path, monkeypatch) -> Path:
        path.with_name("same.toml").hardlink_to(path)
        steps = iter(("the copy", "the room"))

        def killed_in_the_third(_: int) -> None:
            if not next(steps, ""):
                raise KeyboardInterrupt

        monkeypatch.setattr(os, "fsync", killed_in_the_third)
        with pytest.raises(KeyboardInterrupt):
            replace_file(path, f"{RACE}# longer")
        monkeypatch.undo()
        return path

    def left_of(self, path: Path) -> list[str]:
        return [one.read_text() for one in path.parent.glob(".race.toml.*.new")]

    def test_all_of_it_is_flushed_and_kept_until_the_next_is_done(self, killed: Path):
        clear_leftovers(killed)
        assert self.left_of(killed) == [f"{RACE}# longer"]
        replace_file(killed, RACE)
        assert self.left_of(killed) == []

    def test_it_is_kept_where_the_next_fails(self, killed: Path, monkeypatch):
        def full(_: int) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(InputError, match="No space left"):
            replace_file(killed, RACE)
        assert self.left_of(killed) == [f"{RACE}# longer"]

    @pytest.mark.parametrize(("text", "kept"), [(RACE, 0), (RACE[:30], 1), ("", 1)])
    def test_of_a_file_of_one_name_it_is_kept_where_that_is_not_whole(
        self, path: Path, text: str, kept: int
    ):
        path.with_name(".race.toml.abc.new").write_text(RACE)
        path.write_text(text)
        clear_leftovers(path)
        assert len(self.left_of(path)) == kept

    def test_of_a_file_of_another_owner_it_is_kept(self, path: Path, monkeypatch):
        path.with_name(".race.toml.abc.new").write_text(RACE)
        monkeypatch.setattr(os, "getuid", lambda: path.stat().st_uid + 1)
        clear_leftovers(path)
        assert self.left_of(path) == [RACE]


def test_what_may_not_be_removed_keeps_nobody_from_writing(path: Path, monkeypatch):
    """As in a folder where each may remove only their own files."""
    left, unlink = path.with_name(".race.toml.abc.new"), Path.unlink
    left.write_text("of another")

    def refused(one: Path, *rest: bool, **more: bool) -> None:
        if one == left:
            raise PermissionError(errno.EPERM, "Operation not permitted")
        unlink(one, *rest, **more)

    monkeypatch.setattr(Path, "unlink", refused)
    replace_file(path, "new")
    assert (path.read_text(), left.exists()) == ("new", True)


def test_a_start_that_fails_leaves_no_folder(tmp_path, monkeypatch):
    flushed = iter([None])

    def full_at_the_second(_):
        if not list(flushed):
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_at_the_second)
    with pytest.raises(InputError, match="No space left"):
        write_starting_files(tmp_path / "new" / "mine")
    assert list(tmp_path.iterdir()) == []


def test_a_loop_of_links_is_named(tmp_path):
    one, other = tmp_path / "race.toml", tmp_path / "other.toml"
    one.symlink_to(other)
    other.symlink_to(one)
    with pytest.raises(InputError, match=r"race\.toml -> other\.toml -> race\.toml"):
        read_bytes(one)
