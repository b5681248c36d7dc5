"""Tables of splits: spellings, order, resolution of the clock, and every refusal."""

from pathlib import Path

import numpy as np
import pytest

from racecalc.errors import InputError
from racecalc.files.table_kinds import RiddenTable, read_ridden


@pytest.fixture
def read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)

    def read_it(text: str) -> RiddenTable:
        Path("ridden.csv").write_text(text, encoding="utf-8")
        return read_ridden(Path("ridden.csv"))

    return read_it


@pytest.mark.parametrize(
    "text",
    [
        "to [km],elapsed [h:m:s],power [W]\n5,8:20,250\n40,1:02:30,245\n",
        "note,power [kW],to [m],elapsed\n# a comment\nwindy,0.25,5000,8:20\n,0.245,40000,1:02:30\n",
        "to [km],elapsed [s],power [W]\n5,500,250\n40,3750,245\n",
    ],
)
def test_spellings_of_one_ride(read, text: str):
    found = read(text)
    assert found.to == pytest.approx([5000.0, 40_000.0])
    assert found.elapsed == pytest.approx([500.0, 3750.0])
    assert found.power == pytest.approx([250.0, 245.0])
    assert found.source == "ridden.csv"


def test_miles(read):
    # The international mile is 1609.344 m.
    assert read("to [mi],elapsed\n10,23:11\n").to == pytest.approx([16_093.44])


@pytest.mark.parametrize(
    "text", ["to [km],elapsed\n1,1:31\n", "to [km],elapsed,power [W]\n1,1:31,\n"]
)
def test_power_may_be_missing(read, text: str):
    assert read(text).power is None


@pytest.mark.parametrize(
    ("times", "resolution"),
    [(("8:20", "16:00"), 1.0), (("8:20.5", "16:00"), 0.1), (("8:20.07", "16:00.1"), 0.01),
     (("8:00", "16:00"), 60.0)],
)  # fmt: skip
def test_the_clock_tells_how_it_was_read(read, times: tuple[str, str], resolution: float):
    assert read(f"to [km],elapsed\n5,{times[0]}\n9,{times[1]}\n").resolution == resolution


def test_one_time_is_no_sign_of_whole_minutes(read):
    assert read("to [km],elapsed\n5,8:00\n").resolution == 1.0


def test_rows_know_their_lines(read):
    found = read("# one\nto [km],elapsed\n\n5,8:20\n# two\n9,15:00\n")
    assert [found.place(row) for row in range(2)] == ["ridden.csv, line 4", "ridden.csv, line 6"]
    assert np.all(np.diff(found.to) > 0)


HEAD = "to [km],elapsed [h:m:s],power [W]\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"{HEAD}5,8:20,250\n5,9:00,250\n", "line 3, column 'to [km]': '5' ends no later than '5'"),
        (f"{HEAD}0,8:20,250\n", "line 2, column 'to [km]': '0' is not a distance from the start"),
        (f"{HEAD}-3,8:20,250\n", "'-3' is not a distance from the start"),
        (f"{HEAD}x,8:20,250\n", "line 2, column 'to [km]': 'x' is not a number"),
        (f"{HEAD}5,8:20,250\n9,7:20,250\n", "'7:20' comes no later than '8:20' of line 2; "),
        (f"{HEAD}5,soon,250\n", "line 2, column 'elapsed [h:m:s]': 'soon' is not a time; write"),
        (f"{HEAD}5,,250\n", "column 'elapsed [h:m:s]': the cell is empty"),
        (f"{HEAD}5,0:00,250\n", "'0:00' is the start itself"),
        (f"{HEAD}5,8:20,250\n9,15:00,\n", "line 3, column 'power [W]': the cell is empty, and"),
        (f"{HEAD}5,8:20,-5\n", "line 2, column 'power [W]': '-5' is negative"),
        (f"{HEAD}5,8:20,25000\n", "'25000' is more than anyone can pedal"),
        (f"{HEAD}5,8:20,\x1b[31m\n", "'?[31m' is not a number"),
        ("to,elapsed\n5,8:20\n", "column 'to': the unit is missing; write the unit in square"),
        ("to [W],elapsed\n5,8:20\n", "'W' is a unit of power"),
        ("to [km],elapsed [W]\n5,8:20\n", "'W' does not say how times are written; write 'elapsed"),
        ("to [km],time\n5,8:20\n", "the column 'elapsed' is missing"),
        ("to [m],elapsed\n5,8:20\n36.5,59:00\n", "36.5 m in all; write 'to [km]' if it is"),
        (HEAD, "headings but no rows"),
    ],
)  # fmt: skip
def test_wrong_tables_are_refused_in_one_line(read, text: str, said: str):
    with pytest.raises(InputError) as caught:
        read(text)
    assert said in str(caught.value)
    assert str(caught.value).startswith("ridden.csv")
    assert caught.value.remedy
    assert len(str(caught.value).splitlines()) == 1
