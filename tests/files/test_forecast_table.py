"""Tables of a forecast: what is read, and what is refused in one line."""

from pathlib import Path

import numpy as np
import pytest

from racecalc.errors import InputError
from racecalc.files.table_kinds import read_forecast

FULL = """# station on the pier
time,wind_speed [km/h],wind_from [deg],gust [m/s],temperature [degC],pressure [hPa],humidity [%]
08:00,18,250,9,16,1009,75
09:00,21.6,360,,,1008,
"""
SHORT = "time,wind_speed [m/s],wind_from [deg]\n"


def read(folder: Path, text: str):
    path = folder / "hours.csv"
    path.write_text(text, encoding="utf-8")
    return read_forecast(path)


def test_all_columns_in_si(tmp_path: Path):
    found = read(tmp_path, FULL)
    assert (found.time, found.line) == (("08:00", "09:00"), (3, 4))
    assert found.notices == ()
    np.testing.assert_allclose(found.wind_speed, [5.0, 6.0])
    np.testing.assert_allclose(found.wind_from, np.radians([250.0, 360.0]))
    np.testing.assert_allclose(found.gust, [9.0, np.nan])
    np.testing.assert_allclose(found.weather["temperature"], [289.15, np.nan])
    np.testing.assert_allclose(found.weather["pressure"], [100_900.0, 100_800.0])
    np.testing.assert_allclose(found.weather["humidity"], [0.75, np.nan])
    assert set(found.weather) == {"temperature", "pressure", "humidity"}


def test_the_other_pressure_and_the_dew_point(tmp_path: Path):
    text = "time,wind_speed [m/s],wind_from [deg],sea_level_pressure [inHg],dew_point [degF]\n"
    found = read(tmp_path, text + "2031-05-01T08:00,3,90,30,50\n")
    assert found.time == ("2031-05-01T08:00",)
    # 30 inches of mercury are 1015.92 hPa (any conversion table), 50 degF are 10 degC.
    assert found.weather["sea_level_pressure"][0] == pytest.approx(101_592, abs=1)
    assert found.weather["dew_point"][0] == pytest.approx(283.15)


def test_points_of_the_compass_and_a_calm_without_direction(tmp_path: Path):
    found = read(tmp_path, "time,wind_speed [m/s],wind_from\n8:00,3,WSW\n9:00,0,\n")
    np.testing.assert_allclose(np.degrees(found.wind_from), [247.5, 0.0])
    assert read(tmp_path, SHORT + "8:00,0,\n").wind_from[0] == 0.0


def test_what_is_unusual_or_not_used_is_pointed_at(tmp_path: Path):
    text = "time,wind_speed [m/s],wind_from [deg],gusts [m/s]\n8:00,3,90,20\n9:00,20,90,30\n"
    unused, strong = (str(notice) for notice in read(tmp_path, text).notices)
    assert "line 1: not used: 'gusts [m/s]'; known columns are time, wind_speed" in unused
    assert "line 3, column 'wind_speed [m/s]': '20' is unusual" in strong


@pytest.mark.parametrize(
    ("text", "place", "said"),
    [
        ("time,wind_from [deg]\n8:00,90\n", "line 1", "the column 'wind_speed' is missing"),
        ("time,wind_speed [m/s]\n8:00,3\n", "line 1", "the column 'wind_from' is missing"),
        ("wind_speed [m/s],wind_from [deg]\n3,90\n", "line 1", "the column 'time' is missing"),
        ("time,wind_speed,wind_from [deg]\n8:00,3,90\n", "wind_speed'", "the unit is missing"),
        (SHORT + "8:00,,90\n", "line 2, column 'wind_speed [m/s]'", "the cell is empty"),
        (SHORT + "8:00,breezy,90\n", "line 2", "'breezy' is not a number"),
        (SHORT + "8:00,-1,90\n", "line 2", "must be within 0 m/s to 40 m/s"),
        (SHORT + "8:00,1,9\n9:00,41,90\n", "line 3", "must be within 0 m/s to 40 m/s"),
        (SHORT + "8:00,3,\n", "line 2, column 'wind_from [deg]'", "is not a direction"),
        (SHORT + "8:00,3,361\n", "line 2", "is more than one turn"),
        (SHORT + "8:00,3,-10\n", "line 2", "is more than one turn"),
        ("time,wind_speed [m/s],wind_from\n8:00,3,90\n", "line 2", "in the heading"),
        ("time,wind_speed [m/s],wind_from\n8:00,3,\n", "line 2", "it is empty"),
        (SHORT + ",3,90\n", "line 2, column 'time'", "names no time"),
        (SHORT + "8:00,3,90\n9:00,3,90\n8:00,4,90\n", "lines 2 and 4", "both are for 8:00"),
        (FULL.replace(",9,16,", ",4.9,16,"), "line 3, column 'gust", "less than the mean wind"),
        (FULL.replace(",9,16,", ",90,16,"), "line 3, column 'gust", "within 0 m/s to 40 m/s"),
        (FULL.replace(",16,1009", ",160,1009"), "line 3", "within -60 degC to 60 degC"),
        (FULL.replace("1009", "100.9"), "line 3, column 'pressure [hPa]'", "500 hPa to 1100 hPa"),
        (FULL.replace(",75\n", ",101\n"), "line 3, column 'humidity [%]'", "0 % to 100 %"),
        (
            FULL.replace("humidity [%]", "dew_point [degC]").replace(",75\n", ",17\n"),
            "line 3, column 'dew_point [degC]'",
            "lies above the temperature of the row",
        ),
        (
            FULL.replace("humidity [%]", "sea_level_pressure [hPa]"),
            "line 2",
            "both pressure and sea_level_pressure are given",
        ),
        (
            FULL.replace("gust [m/s]", "dew_point [degC]"),
            "line 2",
            "both humidity and dew_point are given",
        ),
    ],
)
def test_what_is_refused(tmp_path: Path, text: str, place: str, said: str):
    with pytest.raises(InputError) as refused:
        read(tmp_path, text)
    assert place in refused.value.place
    assert said in str(refused.value)
