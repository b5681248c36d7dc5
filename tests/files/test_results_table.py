"""Results lists: what is read, who is kept apart, and what is refused in one line."""

from pathlib import Path

import pytest

from racecalc.errors import InputError
from racecalc.files.table_kinds import NO_FINISH, NO_TIME, ResultsTable, read_results


@pytest.fixture
def read(tmp_path: Path, monkeypatch):
    """Read a results list from its text."""
    monkeypatch.chdir(tmp_path)

    def read_text(text: str) -> ResultsTable:
        Path("list.csv").write_text(text, encoding="utf-8")
        return read_results(Path("list.csv"))

    return read_text


def times(results: ResultsTable) -> dict[str, float]:
    return {one.name: one.time for one in results.finishers}


def test_riders_stand_in_order_of_time_with_their_categories(read):
    results = read(
        "# a comment\ncategory,club,name,time [h:m:s]\nB,x,Runa,1:02:30\nA,,Oske,58:30.5\n"
    )
    assert times(results) == {"Oske": 3510.5, "Runa": 3750.0}
    assert [one.name for one in results.finishers] == ["Oske", "Runa"]
    assert [one.category for one in results.finishers] == ["A", "B"]
    assert (results.unplaced, results.notes) == ((), ())


@pytest.mark.parametrize(
    ("unit", "cell", "seconds"),
    [
        ("", "23:11", 1391.0),
        ("", "1:02:30", 3750.0),
        ("", "23 min 11 s", 1391.0),
        (" [h:m:s]", "23:11", 1391.0),
        (" [h:m:s]", "0:23:11", 1391.0),
        (" [min:s]", "63:10", 3790.0),
        (" [min:s]", "1:03:10", 3790.0),
        (" [h:m]", "1:03", 3780.0),
        (" [s]", "1391.5", 1391.5),
        (" [min]", "23.5", 1410.0),
    ],
)
def test_the_heading_says_how_times_are_written(read, unit: str, cell: str, seconds: float):
    assert times(read(f"name,time{unit}\nRuna,{cell}\n")) == {"Runa": seconds}


@pytest.mark.parametrize("cell", [*NO_FINISH, *(one.lower() for one in NO_FINISH)])
def test_riders_without_a_finish_are_kept_apart(read, cell: str):
    results = read(f"name,category,time\nRuna,A,{cell}\nOske,A,23:11\nIlve,B,\n")
    assert list(times(results)) == ["Oske"]
    assert [(one.name, one.why) for one in results.unplaced] == [
        ("Runa", cell.upper()),
        ("Ilve", NO_TIME),
    ]
    assert [one.category for one in results.unplaced] == ["A", "B"]


def test_numbers_stand_in_for_names(read):
    assert times(read("number,time\n007,23:11\n")) == {"007": 1391.0}


def test_names_count_where_there_are_both(read):
    assert times(read("number,name,time\n7,Runa,23:11\n")) == {"Runa": 1391.0}


def test_names_cannot_steer_the_terminal(read):
    assert list(times(read("name,time\nRu\x1b[31mna\u202e,23:11\n"))) == ["Ru?[31mna?"]


@pytest.mark.parametrize(
    ("slip", "said"),
    [("0:09:59", "under half of the median of 20:00"), ("1:40:01", "over five times the median")],
)
def test_times_far_from_the_others_are_noted(read, slip: str, said: str):
    rest = "".join(f"rider {number},20:00\n" for number in range(4))
    (note,) = read(f"name,time\n{rest}Runa,{slip}\n").notes
    assert said in note
    assert "line 6, column 'time'" in note


@pytest.mark.parametrize("time", ["10:00", "1:40:00"])
def test_half_and_five_times_the_median_are_no_slip(read, time: str):
    rest = "".join(f"rider {number},20:00\n" for number in range(4))
    assert read(f"name,time\n{rest}Runa,{time}\n").notes == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,time\nRuna,DNF\n", "list.csv: nobody in this list has a time"),
        ("name,time\nRuna,23:11\nOske,24:00\nRuna,25:00\n", "'Runa' appears again in line 4"),
        ("name,time\nRuna,23:11\n,24:00\n", "line 3, column 'name': the cell is empty"),
        ("name,time\nRuna,soon\n", "line 2, column 'time': 'soon' is not a time"),
        ("name,time\nRuna,23:61\n", "line 2, column 'time': '23:61' is not a time"),
        ("name,time\nRuna,1391\n", "'1391' is not a time"),
        ("name,time [s]\nRuna,23:11\n", "'23:11' is not a time"),
        ("name,time [s]\nRuna,-5\n", "'-5' is not a time"),
        ("name,time\nRuna,0:00\n", "nobody finishes in '0:00'"),
        ("name,time [W]\nRuna,23:11\n", "column 'time [W]': 'W' does not say how"),
        ("name,time [h:x]\nRuna,23:11\n", "'h:x' does not say how"),
        ("rider,time\nRuna,23:11\n", "the column 'name' is missing"),
        ("name,place\nRuna,1\n", "the column 'time' is missing"),
        ("name,time\n", "headings but no rows"),
    ],
)
def test_wrong_lists_are_refused_in_one_line(read, text: str, said: str):
    with pytest.raises(InputError) as caught:
        read(text)
    assert said in str(caught.value)
    assert "list.csv" in str(caught.value)
    assert caught.value.remedy
    assert len(str(caught.value).splitlines()) == 1
