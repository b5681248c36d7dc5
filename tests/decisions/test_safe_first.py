"""What is not to be used in a weather is chosen by no command, by keys and not by words."""

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from racecalc.decisions.advice.advice import advise
from racecalc.decisions.basket.basket import ladder_of_race
from racecalc.decisions.basket.candidates import candidates_of
from racecalc.decisions.riding import ride
from racecalc.decisions.value import switched_on
from racecalc.decisions.weather import (
    Day,
    forecast_days,
    stated_day,
    through_the_ride,
    too_hot,
    unsafe,
)
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option, Restrictions
from racecalc.domain.race import Air
from racecalc.errors import InputError
from racecalc.files.table_kinds import read_forecast
from tests.advice.races import DEEP, SUIT, race_in, race_text
from tests.builders import windy_air
from tests.files.making import RACE

DEMO = Path(__file__).parents[2] / "course_demo"
STORM = ("air.temperature=36 degC", "air.wind_speed=20 m/s", "course.step=60 m")
WHEELS = {"Dunquill deep front wheel", "Dunquill covered rear wheel"}
BOTTLE = "One bottle left at home"
UNSAFE = {*WHEELS, BOTTLE}
STEP = ("--set", "course.step=60 m")
SETTING = tuple(word for change in STORM for word in ("--set", change))

Answer = Callable[..., dict]


def deep(limit: float | None = None, **more: object) -> Option:
    return Option("deep", restrictions=Restrictions(catches_wind=True, gust_limit=limit, **more))


def limited(limit: float, name: str = "suit") -> Option:
    return Option(name, restrictions=Restrictions(heat_limit=limit))


@pytest.fixture
def answer(racecalc) -> Answer:
    """The JSON of a command on the demo in a hot storm."""

    def run(command: str, *words: object) -> dict:
        status, out, _ = racecalc(command, DEMO / "race.toml", *words, *SETTING, "--json")
        assert status == 0
        return json.loads(out)

    return run


# --- The rule itself: 14 and 11 m/s are the judgements that weather.py states ---------------------


@pytest.mark.parametrize(
    ("mean", "gust", "forbidden"),
    [
        (5.0, 13.9, False),
        (5.0, 14.0, True),
        (14.0, 14.0, True),
        # Where gusts are stated, a mean wind of 11 m/s is not enough by itself.
        (12.0, 13.0, False),
        (10.9, None, False),
        (11.0, None, True),
    ],
)
def test_the_usual_limit(mean: float, gust: float | None, forbidden: bool) -> None:
    assert bool(unsafe(deep(), Day("now", windy_air(mean), gust))) is forbidden


@pytest.mark.parametrize(
    ("mean", "gust", "forbidden"),
    [(5.0, 6.9, False), (5.0, 7.0, True), (5.4, None, False), (5.6, None, True)],
)
def test_a_limit_of_its_own_in_the_same_proportion(
    mean: float, gust: float | None, forbidden: bool
) -> None:
    """Half of 14 m/s is 7 m/s, so half of 11 m/s, 5.5 m/s, is enough as a mean wind."""
    day = Day("now", windy_air(mean), gust)
    assert bool(unsafe(deep(7.0), day)) is forbidden
    alone = Option("light", restrictions=Restrictions(gust_limit=7.0))
    assert bool(unsafe(alone, day)) is forbidden
    assert not unsafe(Option("plain"), day)


def test_heat_counts_from_the_limit_on_where_it_is_known() -> None:
    assert not too_hot(limited(300.0), Day("cool", Air(temperature=299.9)))
    assert "from 27 degC (80 degF) on" in too_hot(
        limited(300.0), Day("hot", Air(temperature=300.0))
    )
    assert not too_hot(limited(300.0), Day("dense", Air(temperature=310.0, density=1.1)))
    assert not too_hot(Option("bottle"), Day("hot", Air(temperature=320.0)))


def test_stated_gusts_are_at_the_height_of_the_wind(tmp_path: Path) -> None:
    """The log law leaves 0.604 of a wind at 10 m at the rider over open fields."""
    path = tmp_path / "race.toml"
    path.write_text(RACE, encoding="utf-8")
    assert stated_day(load_race(path)).gust is None
    assert stated_day(load_race(path, ["air.gusts=9 m/s"])).gust == pytest.approx(9.0)
    path.write_text(RACE.replace("wind_at_rider", "wind_speed"), encoding="utf-8")
    gust = stated_day(load_race(path, ["air.gusts=9 m/s"])).gust
    assert gust == pytest.approx(9.0 * 0.60364, rel=1e-4)
    with pytest.raises(InputError, match="is less than the mean wind"):
        load_race(path, ["air.gusts=1 m/s"])


# --- Every command agrees -------------------------------------------------------------------------


def test_the_basket_and_its_ladder(answer: Answer) -> None:
    found = answer("basket", "--budget", "5000 EUR")
    chosen = [
        found["chosen"],
        found["runner_up"]["chosen"],
        *(s["chosen"] for s in found["ladder"]),
    ]
    assert all(UNSAFE.isdisjoint(names) for names in chosen)
    left_out = {one["name"]: one["because"] for one in found["left_out"]}
    assert left_out.keys() >= UNSAFE
    assert "too strong for it" in left_out["Dunquill deep front wheel"]
    assert "it must not be used" in left_out[BOTTLE]


def test_the_ladder_of_the_screen_and_what_is_switched_on() -> None:
    base = ride(load_race(DEMO / "race.toml", STORM))
    steps = ladder_of_race(base, base.race.single_options)
    assert all(UNSAFE.isdisjoint(step.names) for step in steps)
    known = {option.name: option for option in base.race.options}
    used = switched_on(base, [known[BOTTLE]], known)
    assert used is not None
    assert f"{BOTTLE} is not to be used in this weather" in used.conflicts[0]


def test_decide_says_neither_buy_nor_use(answer: Answer) -> None:
    found = answer("decide", "--repeatability", "0.003 m^2")
    assert UNSAFE.isdisjoint(name for slot in found["slots"] for name in slot["advice"]["names"])
    assert {one["name"] for one in found["not_judged"]} >= UNSAFE


def test_the_advice(answer: Answer) -> None:
    advice = advise(load_race(DEMO / "race.toml", STORM))
    does = {one.name: one.do for one in advice.shopping.advised}
    assert {name for name, do in does.items() if do == "unsafe"} == UNSAFE
    assert advice.shopping.basket is not None
    assert UNSAFE.isdisjoint(advice.shopping.basket.chosen)
    (wind,) = (one.words for one in advice.cautions if one.about == "Wind")
    assert all(name in wind for name in WHEELS)


def test_the_weather_of_the_day(answer: Answer) -> None:
    doubt = "--set", "air.wind_doubt=0.1 m/s"
    found = answer("weather", "--days", "10", "--budget", "900 EUR", *doubt)
    share = {one["name"]: one["share_ruled_out"] for one in found["options"]}
    assert {name for name, one in share.items() if one == 1.0} == UNSAFE
    assert all(UNSAFE.isdisjoint(one["chosen"]) for one in found["baskets"])


def test_no_place_is_reached_with_it(answer: Answer) -> None:
    found = answer("places", DEMO / "results.csv")
    assert {one["name"] for one in found["options"] if one["unsafe"]} == UNSAFE
    assert all(UNSAFE.isdisjoint(gap["options"]) for gap in found["gaps"])


def test_value_keeps_its_numbers_and_names_it_no_bargain(racecalc, answer: Answer) -> None:
    found = answer("value")
    assert {one["name"] for one in found["options"] if one["unsafe"]} == UNSAFE
    out = " ".join(racecalc("value", DEMO / "race.toml", *SETTING)[1].split())
    assert f"Costs nothing: {BOTTLE}" not in out
    assert "Not in this weather, whatever they save: Dunquill deep front wheel" in out
    assert f"too windy; {BOTTLE}: too hot" in out


@pytest.mark.parametrize("name", sorted(UNSAFE))
def test_break_even_says_it(racecalc, name: str) -> None:
    words = "breakeven", DEMO / "race.toml", "--option", name
    out = " ".join(racecalc(*words, *SETTING)[1].split())
    assert f"Not in this weather, whatever they save: {name}" in out
    calm = " ".join(racecalc(*words)[1].split())
    assert ("Sensitive to side wind" in calm) is (name in WHEELS)
    assert "Not in this weather" not in calm


@pytest.mark.parametrize(
    "words",
    [
        ("places", DEMO / "race.toml", DEMO / "results.csv"),
        ("basket", DEMO / "race.toml", "--budget", "900 EUR", "--require", min(WHEELS)),
        ("decide", DEMO / "race.toml", "--budget", "2000 EUR"),
    ],
    ids=["places", "basket", "decide"],
)
def test_side_wind_and_rules_are_said_of_what_is_chosen(racecalc, words: tuple) -> None:
    out = " ".join(racecalc(*words, *STEP)[1].split())
    assert "Sensitive to side wind: " in out
    assert "Check the rules: " in out


def test_names_decide_nothing(tmp_path: Path) -> None:
    """An option named for a drink is not judged without the key, and any other is with it."""
    text = (DEMO / "race.toml").read_text("utf-8")
    text = text.replace("oskavell_shore.gpx", str(DEMO / "oskavell_shore.gpx"))
    for runs in ("suits.csv", "bottles.csv", "wheel_sweep.csv"):
        text = text.replace(runs, str(DEMO / runs))
    key = 'heat_limit = "25 degC"'
    path = tmp_path / "race.toml"

    def left_out(changed: str) -> set[str]:
        path.write_text(changed, encoding="utf-8")
        base = ride(load_race(path, STORM))
        return {one.name for one in candidates_of(base, base.race.single_options).left_out}

    assert BOTTLE not in left_out(text.replace(key, ""))
    assert "Frame bare" in left_out(text.replace(BOTTLE, "Frame bare").replace('"bottles"', '"x"'))


# --- A forecast is judged in all the hours of a ride ----------------------------------------------

HEAD = "time,wind_speed [m/s],wind_from [deg],gust [m/s],temperature [degC]\n"


def hours(folder: Path, rows: str, ride_s: float) -> tuple[Day, ...]:
    path = folder / "hours.csv"
    path.write_text(HEAD + rows, encoding="utf-8")
    race = load_race(DEMO / "race.toml")
    days = forecast_days(race, read_forecast(path))
    return through_the_ride(days, np.full(len(days), ride_s))


def reached(days: tuple[Day, ...]) -> list[int]:
    return [len(day.later) for day in days]


def test_a_start_before_the_gusts_reaches_them(tmp_path: Path) -> None:
    """24 m/s at 10 m are 14.5 m/s at the rider, 19 m/s are 11.5 m/s."""
    rows = "15:00,8,276,17,16\n16:00,9,288,19,16\n17:00,11,304,24,33\n18:00,8,312,17,13\n"
    days = hours(tmp_path, rows, 3700.0)
    assert [bool(unsafe(deep(), day)) for day in days] == [False, True, True, False]
    assert [bool(unsafe(limited(305.0), day)) for day in days] == [False, True, True, False]
    gusts = [day.gust_at_rider_m_s for day in days]
    assert gusts == pytest.approx(
        [19 * 0.60364, 24 * 0.60364, 24 * 0.60364, 17 * 0.60364], rel=1e-4
    )
    # In 25 minutes the next hour is not reached: a row holds until half way to the next.
    short = hours(tmp_path, rows, 1500.0)
    assert [bool(unsafe(deep(), day)) for day in short] == [False, False, True, False]


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        (("22:00", "23:00", "0:00", "1:00"), [1, 1, 1, 0]),
        (("2031-05-01T22:00", "2031-05-01T23:00", "2031-05-02 00:00", "2031-05-03"), [1, 1, 0, 0]),
        # Only out of order: each knows its own next hour.
        (("13:00", "12:00", "11:00", "10:00"), [0, 1, 1, 1]),
        # Times that cannot be read: the next row counts.
        (("early", "10:00", "noon", "late"), [1, 1, 1, 0]),
    ],
)
def test_hours_on_one_clock(tmp_path: Path, times: tuple[str, ...], expected: list[int]) -> None:
    rows = "".join(f"{time},3,200,5,12\n" for time in times)
    assert reached(hours(tmp_path, rows, 3600.0)) == expected


def test_the_command_judges_the_whole_ride(racecalc) -> None:
    forecast = "--forecast", DEMO / "forecast.csv"
    status, out, _ = racecalc("weather", DEMO / "race.toml", *forecast, *STEP, "--json")
    assert status == 0
    found = json.loads(out)
    wheels = next(one for one in found["slots"] if one["slot"] == "front wheel")
    best = dict(zip([one["day"] for one in found["starts"]], wheels["best_by_start"], strict=True))
    assert best["15:00"] == "Dunquill deep front wheel"
    assert best["16:00"] == best["17:00"] == "nothing new"


def test_a_basket_of_a_forecast_is_safe_in_each_hour(racecalc, tmp_path: Path) -> None:
    """A storm in the race file, and none in the second hour: there the deep wheel is chosen."""
    stormy = 'wind_at_rider = "20 m/s"\nwind_from = "90 deg"'
    path = race_in(tmp_path, race_text(DEEP, SUIT, air=stormy))
    hours = tmp_path / "hours.csv"
    hours.write_text(
        "time,wind_speed [m/s],wind_from [deg],gust [m/s]\n9:00,9,90,30\n15:00,2,90,4\n"
    )
    words = "weather", path, "--forecast", hours, "--budget", "900 EUR", "--json"
    status, out, _ = racecalc(*words)
    assert status == 0
    baskets = {one["best_as_stated"]: one["chosen"] for one in json.loads(out)["baskets"]}
    assert baskets == {True: ["Suit"], False: ["Deep wheel", "Suit"]}


# --- What heat and a test on the road ask ---------------------------------------------------------


def test_the_printed_card_says_what_heat_asks(racecalc, tmp_path: Path) -> None:
    text = race_text().replace('density = "1.2 kg/m^3"', 'temperature = "36 degC"')
    racecalc("pace", race_in(tmp_path, text), "-o", tmp_path / "card.html")
    assert "Above 28 degC" in (tmp_path / "card.html").read_text("utf-8")


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "A", "B", "--difference", "3 W", "--repeatability", "4 W"),
        ("trial", DEMO / "suits.csv"),
    ],
    ids=["plan", "trial"],
)
def test_how_to_ride_a_test(racecalc, words: tuple[object, ...]) -> None:
    out = " ".join(racecalc(*words)[1].split())
    assert "Law and traffic come first" in out
    assert "with a second person as lookout" in out
