"""Tables of runs: what is read, what is refused in one line, and how fast."""

import time

import numpy as np
import pytest

from racecalc.domain.trial import ONE_SESSION, load_runs
from racecalc.errors import InputError

FULL = """# a comment
item,session,order,cda [m^2],rider,speed [km/h],density [kg/m^3],yaw [deg],note,mood
old suit,Mon,1,0.2400,Runa,45,1.20,0,calm,good
new suit,Mon,2,0.2360,Runa,45,1.20,5,,good
"""


def written(tmp_path, text):
    path = tmp_path / "runs.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_all_columns_in_si(tmp_path):
    runs = load_runs(written(tmp_path, FULL))
    assert (runs.measure, runs.unit) == ("cda", "m^2")
    assert runs.item == ("old suit", "new suit")
    assert runs.rider == ("Runa", "Runa")
    assert runs.session == ("Mon", "Mon")
    assert runs.note == ("calm", "")
    assert runs.line == (3, 4)
    assert runs.notes == ()
    np.testing.assert_allclose(runs.value, [0.24, 0.236], rtol=1e-15)
    np.testing.assert_allclose(runs.speed, 12.5, rtol=1e-15)
    np.testing.assert_allclose(runs.density, 1.2, rtol=1e-15)
    np.testing.assert_allclose(runs.yaw, np.radians([0, 5]), rtol=1e-15)


def test_optional_columns_may_be_missing_or_empty(tmp_path):
    runs = load_runs(written(tmp_path, "item,order,session,cda [cm2],yaw [deg]\na,1,x,2400,\n"))
    assert runs.rider == runs.note == ("",)
    assert runs.value == pytest.approx([0.24])
    assert np.isnan([runs.speed[0], runs.density[0], runs.yaw[0]]).all()


def test_the_date_stands_in_for_the_session(tmp_path):
    text = "item,date,order,cda [m^2]\na,2031-05-01,1,0.24\na,2031-05-02,1,0.24\n"
    assert load_runs(written(tmp_path, text)).session == ("2031-05-01", "2031-05-02")


def test_without_session_and_order_the_rows_are_one_session_and_it_says_so(tmp_path):
    runs = load_runs(written(tmp_path, "item,cda [m^2]\na,0.24\nb,0.23\na,0.24\n"))
    assert set(runs.session) == {ONE_SESSION}
    assert list(runs.order) == [1, 2, 3]
    assert "no column 'session' or 'date'" in runs.notes[0]
    assert "no column 'order'" in runs.notes[1]


def test_a_clock_as_order(tmp_path):
    text = "item,session,order [min],cda [m^2]\na,x,1.5,0.24\nb,x,4,0.24\n"
    assert list(load_runs(written(tmp_path, text)).order) == [90, 240]


def test_items_that_differ_by_capitals_are_pointed_at(tmp_path):
    text = "item,session,order,cda [m^2]\nNew suit,x,1,0.24\nnew  Suit,x,2,0.24\n"
    assert load_runs(written(tmp_path, text)).notes == (
        "'New suit' and 'new  Suit' are taken as two items.",
    )


def test_power_at_one_speed(tmp_path):
    text = "item,session,order,power [W],speed [km/h]\na,x,1,250,45\nb,x,2,246,45.5\n"
    runs = load_runs(written(tmp_path, text))
    assert (runs.measure, list(runs.value)) == ("power", [250, 246])


def test_drag_becomes_drag_area(tmp_path):
    """By hand: 22.5 N over 1/2 * 1.2 * 12.5^2 = 93.75 Pa is 0.24 m^2."""
    head = "item,session,order,drag [N],speed [km/h],density [kg/m^3]\n"
    runs = load_runs(written(tmp_path, head + "a,x,1,22.5,45,1.2\nb,x,2,22.5,50,1.2\n"))
    assert runs.measure == "cda"
    assert runs.value == pytest.approx([0.24, 0.24 * 0.81], rel=1e-12)
    assert "turned into drag areas" in runs.notes[-1]


def test_drag_without_density_stays_drag_and_says_so(tmp_path):
    head = "item,session,order,drag [N],speed [km/h]\n"
    runs = load_runs(written(tmp_path, head + "a,x,1,22.5,45\nb,x,2,22.1,45\n"))
    assert (runs.measure, runs.unit) == ("drag", "N")
    assert "Air density is not stated" in runs.notes[-1]


REFUSED = [
    (
        "item,session,order\na,x,1\n",
        "line 1: no column says what was measured (headings: item, session, order);"
        " add 'cda [m^2]', 'power [W]' or 'drag [N]'",
    ),
    (
        "item,session,order,cda [m^2],power [W]\na,x,1,0.24,250\n",
        "line 1: the columns 'cda' and 'power' each say what was measured; keep one of"
        " 'cda [m^2]', 'power [W]' or 'drag [N]' and rename the other",
    ),
    (
        "suit,session,order,cda [m^2]\na,x,1,0.24\n",
        "line 1: the column 'item' is missing; the headings are: suit, session, order, cda [m^2]",
    ),
    (
        "item,session,order,cda\na,x,1,0.24\n",
        "line 1, column 'cda': the unit is missing; write the unit in square brackets, as in"
        " 'cda [m^2]'",
    ),
    (
        "item,session,order,cda [m^2]\na,x,1,0.24\nb,x,2,fast\n",
        "line 3, column 'cda [m^2]': 'fast' is not a number; write a plain number with a decimal"
        " point",
    ),
    (
        "item,session,order,cda [m^2]\na,x,,0.24\n",
        "line 2, column 'order': the cell is empty; write a plain number with a decimal point",
    ),
    (
        "item,session,order,cda [m^2]\na,x,1,0.24\n,x,2,0.24\n",
        "line 3, column 'item': the cell is empty; give the item of this run",
    ),
    (
        "item,session,order,cda [m^2]\na,,1,0.24\n",
        "line 2, column 'session': the cell is empty; give the session of this run",
    ),
    (
        "item,session,order,cda [m^2]\na,x,1,0.24\nb,x,2,0.24\nc,x,1,0.23\n",
        "lines 2 and 4: both are run 1 of session 'x'; delete the row that appears twice,"
        " or give each run its own order",
    ),
    (
        "item,session,order,cda [cm^2]\na,x,1,0.24\n",
        "line 2, column 'cda [cm^2]': '0.24' cannot be the cda of a run; check the number and"
        " the unit of the heading",
    ),
    (
        "item,session,order,cda [m^2],yaw [deg]\na,x,1,0.24,120\n",
        "line 2, column 'yaw [deg]': '120' cannot be the yaw of a run; check the number and the"
        " unit of the heading",
    ),
    (
        "item,session,order,power [W]\na,x,1,250\n",
        "line 2: power is given without speed, so the run cannot be compared; state it in a"
        " column 'speed [km/h]'",
    ),
    (
        "item,session,order,power [W],speed [km/h]\na,x,1,250,45\nb,x,2,250,\n",
        "line 3: power is given without speed, so the run cannot be compared; state it in a"
        " column 'speed [km/h]'",
    ),
    (
        "item,session,order,drag [N],speed [km/h]\na,x,1,22,45\nb,x,2,22,45\nb,x,3,22,48\n",
        "line 4, column 'speed': 48.0 km/h is more than 2% from the 45.0 km/h of the other runs,"
        " and drag at different speeds cannot be compared; add 'density [kg/m^3]', so that the"
        " forces can be turned into CdA",
    ),
    (
        "item,session,order,drag [N],speed [km/h],density [kg/m^3]\n"
        "a,x,1,22,45,1.2\nb,x,2,22,45,\n",
        "line 3: drag is given without density, so the run cannot be compared; state it in a"
        " column 'density [kg/m^3]'",
    ),
]


@pytest.mark.parametrize(("text", "says"), REFUSED)
def test_what_will_not_do_is_refused_in_one_line(tmp_path, text, says):
    path = written(tmp_path, text)
    with pytest.raises(InputError) as caught:
        load_runs(path)
    assert str(caught.value) in (f"{path}, {says}", f"{path}: {says}")


def test_two_riders_may_share_session_and_order(tmp_path):
    text = "item,rider,session,order,cda [m^2]\na,Runa,x,1,0.24\na,Odd,x,1,0.26\n"
    assert load_runs(written(tmp_path, text)).riders == ("Runa", "Odd")


def test_ten_times_the_rows_take_about_ten_times_as_long(tmp_path):
    def took(rows: int) -> float:
        body = "".join(
            f"item {row % 7},day {row // 500},{row % 500},{0.24 + row % 11 * 1e-4:.4f},45,1.2,\n"
            for row in range(rows)
        )
        head = "item,session,order,cda [m^2],speed [km/h],density [kg/m^3],note\n"
        path = written(tmp_path, head + body)
        start = time.process_time()
        assert len(load_runs(path).value) == rows
        return time.process_time() - start

    assert took(20_000) < 40 * took(2_000)
