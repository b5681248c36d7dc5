"""``racecalc weather`` as a person or a script meets it."""

import json
from pathlib import Path

import pytest

from racecalc.files.table_kinds import read_forecast
from tests.files.making import RACE

DEMO = Path(__file__).parents[2] / "course_demo"
DOUBT = ("--set", "air.wind_doubt=1 m/s")
HOURS = """time,wind_speed [m/s],wind_from [deg],gust [m/s],temperature [degC]
2031-05-01T08:00,3,240,8,14
2031-05-01T11:00,5,250,12,29
2031-05-01T14:00,9,280,30,31
"""
COURSE = 'distance = "40 km"'


@pytest.fixture
def command(racecalc):
    """Run ``racecalc weather`` in a folder with a race of 6 km: status, output, errors."""
    text = RACE.replace(COURSE, 'distance = "6 km"').replace("wind_at_rider", "wind_speed")
    Path("race.toml").write_text(text, encoding="utf-8")
    Path("hours.csv").write_text(HOURS, encoding="utf-8")
    return lambda *arguments: racecalc("weather", *arguments)


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize(
    "arguments",
    [
        (*DOUBT, "--set", "air.pressure_doubt=4 hPa"),
        ("--forecast", "hours.csv"),
        ("--forecast", "hours.csv", *DOUBT),
    ],
)
def test_pages_fit_the_terminal(command, units: str, arguments: tuple[str, ...]):
    status, out, err = command("race.toml", *arguments, "--units", units, "--days", "10", "--basis")
    assert status == 0
    assert "error" not in err
    assert len(command("race.toml", *arguments, "--days", "10")[1].splitlines()) <= 23
    assert max(len(line) for line in out.splitlines()) <= 80
    assert "\x1b" not in out


def test_drawn_days(command):
    _, out, err = command("race.toml", *DOUBT, "--days", "60", "--gust", "14 m/s", "--basis")
    assert err == ""
    assert "60 days of weather" in out
    flat = " ".join(out.split())
    assert "standard uncertainties): wind speed 1.0 m/s." in flat
    assert "60 % of them reaches the rider in the open, gusts too" in flat
    assert "at the best estimate of each saving" in flat
    assert "suit: Long-sleeve suit (chance > 99 %)" in out
    assert "Tyres v2.0: Tyres v2.0 (chance ?)" in out
    assert "Early or late start" not in out


def test_a_forecast_rules_out_what_catches_the_wind(command):
    marked = ("--set", "option.Long-sleeve suit.catches_wind=true")
    status, out, err = command("race.toml", "--forecast", "hours.csv", *marked)
    flat = " ".join(out.split())
    assert "m/s in 1 of 3 rows (2031-05-01T14:00): leave Long-sleeve suit at home" in flat
    assert "Over 28 degC in 2 of 3 rows (2031-05-01T11:00, " in flat
    assert "No range: the doubt of the forecast is not stated (air.wind_doubt)." in flat
    assert "Best suit in this weather: Long-sleeve suit, where it is safe." in flat
    status, out, err = command("race.toml", "--forecast", "hours.csv", *marked, "--basis")
    assert (status, err) == (0, "")
    flat = " ".join(out.split())
    # A gust of 30 m/s at 10 m is 18 m/s at the rider by the log law.
    assert (
        "at the rider in 1 of 3 rows (2031-05-01T14:00): Long-sleeve suit cannot be chosen" in flat
    )
    assert "suit, by start: Long-sleeve suit 2031-05-01T08:00 to 2031-05-01T11:00," in flat
    assert "is the best wherever it is safe" in flat
    assert "28 degC (82 degF) in 2 of 3 rows (2031-05-01T11:00, 2031-05-01T14:00)" in flat
    assert "(air.wind_doubt)" in flat
    assert "80 of 100" not in flat


def test_one_row_is_neither_fastest_nor_slowest(command):
    Path("hours.csv").write_text("\n".join(HOURS.splitlines()[:2]), encoding="utf-8")
    _, out, _ = command("race.toml", "--forecast", "hours.csv", "--details")
    assert out.count("2031-05-01T08:00: wind") == 1
    assert "Fastest: " not in out
    assert "Slowest: " not in out


def test_ranges_leave_out_the_hours_that_gusts_rule_out(command):
    marked = ("--set", "option.Long-sleeve suit.catches_wind=true")
    _, plain, _ = command("race.toml", "--forecast", "hours.csv", "--json")
    _, out, _ = command("race.toml", "--forecast", "hours.csv", *marked, "--json")
    free, caught = (json.loads(text)["options"][0] for text in (plain, out))
    # The ruled-out hour has by far the strongest wind, and stands at one end.
    of_range = [one["highest_s"] - one["lowest_s"] for one in (caught, free)]
    assert of_range[0] < 0.5 * of_range[1]
    assert caught["share_ruled_out"] == pytest.approx(1 / 3)
    page = " ".join(
        command("race.toml", "--forecast", "hours.csv", *marked, "--details")[1].split()
    )
    assert "count only days on which gusts and heat do not rule it out" in page


def test_json(command):
    flags = ("--forecast", "hours.csv", *DOUBT, "--days", "10", "--json")
    status, out, err = command("race.toml", *flags)
    assert (status, err) == (0, "")
    answer = json.loads(out)
    assert set(answer) >= {
        "stated_time_s",
        "days",
        "time",
        "fastest",
        "slowest",
        "starts",
        "options",
        "slots",
        "cautions",
        "assumptions",
    }
    assert (answer["days"], answer["seed"]) == (30, 1)
    first, _, last = answer["starts"]
    assert (first["day"], first["against_first_s"]) == ("2031-05-01T08:00", 0.0)
    assert last["wind_at_rider_m_s"] == pytest.approx(0.60364 * 9, rel=1e-4)
    assert last["gust_at_rider_m_s"] == pytest.approx(0.60364 * 30, rel=1e-4)
    assert last["against_first"]["low_80_s"] < last["against_first_s"]
    for slot in answer["slots"]:
        assert sum(choice["share_best"] for choice in slot["choices"]) == pytest.approx(1.0)
    assert answer["options"][0]["name"] == "Long-sleeve suit"
    assert command("race.toml", *flags)[1] == out
    assert command("race.toml", *flags, "--seed", "2")[1] != out


def test_a_wind_met_at_the_rider_is_pointed_at(command):
    Path("race.toml").write_text(RACE, encoding="utf-8")
    _, out, _ = command("race.toml", "--forecast", "hours.csv")
    assert "state wind_speed instead of wind_at_rider" in " ".join(out.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "states no doubt of its weather"),
        (("--set", "rider.power_doubt=5 W"), 'for example --set air.wind_doubt="1.5 m/s"'),
        ((*DOUBT, "--gust", "1 m/s"), "--gust: '1 m/s' is less than the mean wind"),
        ((*DOUBT, "--gust", "99 m/s"), "must be within 0 m/s to 40 m/s"),
        ((*DOUBT, "--gust", "14"), "has no unit"),
        ((*DOUBT, "--days", "3"), "--days"),
        (("--forecast", "missing.csv"), "missing.csv"),
        (("--forecast", "race.toml"), "race.toml, line"),
    ],
)
def test_what_is_refused(command, arguments: tuple[str, ...], said: str):
    status, out, err = command("race.toml", *arguments)
    assert (status, out) == (2, "")
    assert said in err


def test_a_gust_that_no_row_needs_is_pointed_at(command):
    _, _, err = command("race.toml", "--forecast", "hours.csv", "--gust", "9 m/s")
    assert err == "note: --gust: hours.csv gives a gust in every row\n"


def test_idle_flags_and_unused_columns_are_pointed_at(command):
    text = HOURS.replace("gust [m/s]", "squall [m/s]")
    Path("hours.csv").write_text(text, encoding="utf-8")
    status, _, err = command("race.toml", "--forecast", "hours.csv", "--seed", "3")
    assert status == 0
    assert "note: --seed: " in err
    assert "not used: 'squall [m/s]'" in err


def test_the_forecast_of_the_demo_fits_its_race():
    found = read_forecast(DEMO / "forecast.csv")
    noon = found.time.index("12:00")
    assert (found.time[0], found.time[-1], found.notices) == ("08:00", "18:00", ())
    assert found.wind_speed[noon] == 5.5
    assert found.weather["temperature"][noon] == pytest.approx(289.15)
    # The log law leaves 0.604 of a gust at the rider; one hour alone reaches 14 m/s there.
    assert [time for time, gust in zip(found.time, found.gust, strict=True) if gust > 23.2] == [
        "17:00"
    ]
