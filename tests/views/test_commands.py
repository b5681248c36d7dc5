"""The commands as a person or a script meets them."""

import errno
import json
import os
import subprocess
import sys
from pathlib import Path
from unittest.mock import Mock

import click
import numpy as np
import pytest

from racecalc.domain.loading import load_race
from racecalc.errors import check_cancelled
from racecalc.quantities.measured import convert_units
from racecalc.views import command_line, desk
from racecalc.views.advice import PageRequest
from racecalc.views.desk import has_screen
from tests.files.fit_bytes import fit_file
from tests.files.making import RACE, race_file

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
Run = tuple[int, str, str]


@pytest.fixture
def race(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    path = tmp_path / "race.toml"
    path.write_text(RACE, encoding="utf-8")
    return path


@pytest.fixture
def command(racecalc):
    """Run a command in this process: exit status, standard output, standard error."""
    return racecalc


TIME_KEYS = {
    "time_s",
    "distance_m",
    "mean_speed_m_s",
    "mean_power_w",
    "ascent_m",
    "air_density_kg_m3",
    "splits",
}
SPLIT_KEYS = {"to_m", "time_s", "speed_m_s", "power_w", "grade"}
RATE_QUANTITIES = {"power", "cda", "crr", "mass", "air_density", "wind_speed"}
OPTION_KEYS = {
    "name",
    "slot",
    "saved_s",
    "saved_s_low",
    "saved_s_high",
    "chance_faster",
    "aero_s",
    "mass_s",
    "rolling_s",
    "watts_equivalent_w",
    "price",
    "currency",
    "price_per_second",
    "break_even_w",
    "verdict",
}


def test_time_json(command, race: Path) -> None:
    status, out, err = command("time", "race.toml", "--json")
    answer = json.loads(out)
    assert (status, err) == (0, "")
    assert set(answer) >= TIME_KEYS
    assert all(set(split) >= SPLIT_KEYS for split in answer["splits"])
    assert answer["distance_m"] == pytest.approx(40_000.0)
    assert sum(split["time_s"] for split in answer["splits"]) == pytest.approx(answer["time_s"])


def test_rates_json(command, race: Path) -> None:
    _, out, _ = command("rates", "race.toml", "--json")
    found = {rate["quantity"]: rate for rate in json.loads(out)["rates"]}
    assert set(found) >= RATE_QUANTITIES
    assert found["power"]["seconds_per_unit"] > 0 > found["cda"]["seconds_per_unit"]
    # A rate is what --set shows for a small change of the same quantity.
    base, more = (
        json.loads(command("time", "race.toml", "--json", "--set", f"rider.power={watts} W")[1])
        for watts in (262, 262.01)
    )
    assert 100 * (base["time_s"] - more["time_s"]) == pytest.approx(
        found["power"]["seconds_per_unit"], rel=1e-4
    )


def test_value_json(command, race: Path) -> None:
    arguments = ("--price-per-second", "20 EUR", "--together", "Long-sleeve suit + Tyres v2.0")
    _, out, _ = command("value", "race.toml", "--json", *arguments)
    answer = json.loads(out)
    suit, tyres = answer["options"]
    assert set(suit) >= OPTION_KEYS
    assert (suit["price"], suit["currency"], suit["verdict"]) == (240.0, "EUR", "faster")
    assert (tyres["saved_s_low"], tyres["chance_faster"]) == (None, None)
    assert tyres["verdict"] == "undecided"
    assert answer["sets"][0]["names"] == ["Long-sleeve suit", "Tyres v2.0"]


@pytest.mark.parametrize("name", ["time", "rates", "value"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("columns", ["80", "100"])
def test_text_fits_the_terminal(command, race: Path, monkeypatch, name, units, columns) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    status, out, err = command(name, "race.toml", "--units", units)
    assert (status, err) == (0, "")
    assert max(len(line) for line in out.splitlines()) <= int(columns)
    assert "\x1b" not in out


def test_nothing_is_cut_off_in_a_narrow_terminal(command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "72")
    _, out, _ = command("value", str(DEMO), "--details")
    ranked = out.split("Savings overlap")[0]
    for word in ("EUR/s  verdict", "faster", "slower", "undecided", "+25 (14 to 35)"):
        assert word in ranked


def test_explanations_hold_the_numbers_of_the_answer(command, race: Path) -> None:
    _, out, _ = command("value", "race.toml", "--explain", "Long-sleeve suit")
    assert "dCdA = W / (1/2 rho v^3)" in out
    # 4.5 W at 12.5 m/s in air of 1.20 kg/m^3: 4.5 / (0.6 x 1953.125) = 0.00384 m^2.
    assert "CdA -0.00384 m^2" in out
    assert "Martin et al. 1998" in command("time", "race.toml", "--explain")[1]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("time", "rase.toml"), "race.toml"),
        (("time", "."), "this is a folder"),
        (("time", "race.toml", "--set", "rider.power=2 kg"), "'kg' is a unit of mass"),
        (("time", "race.toml", "--split", "1 mm"), "over 1000 splits"),
        (("time", "race.toml", "--split", "-1 km"), "is negative"),
        (("time", "race.toml", "--units", "nautical"), "metric"),
        (("time",), "RACE"),
        (("tme", "race.toml"), "time"),
        (("value", "race.toml", "--together", "Suitt"), "there is no option 'Suitt'"),
        (("value", "race.toml", "--explain", "15"), "there is no option '15'"),
        (("value", "race.toml", "--margin", "1 s"), "--margin"),
        (("value", "race.toml", "--price-per-second", "x"), "--price-per-second"),
        (("value", "race.toml", "--price-per-second", "20 USD"), "one currency"),
        (("value", "race.toml", "--price-per-second", "0 EUR"), "not a price for a second"),
        (("value", "race.toml", "--together", "Tyres v2.0 + Tyres v2.0"), "named twice"),
        (("time", "race.toml", "--set", "air.wind_from=270"), "'270' has no unit"),
        (("time", "race.toml", "--set", "air.wind_from=the west"), "ahead, behind, left, right"),
        (("set", "race.toml", "rider.power=x"), "rider.power"),
        (("new", "race.toml"), "race.toml"),
    ],
)
def test_wrong_input(command, race: Path, arguments: tuple[str, ...], said: str) -> None:
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert said in err
    assert "Traceback" not in err
    assert [entry.name for entry in race.parent.iterdir()] == ["race.toml"]


def test_explanations_are_in_the_json_too(command, race: Path) -> None:
    _, out, _ = command("value", "race.toml", "--json", "--explain", "Tyres v2.0")
    steps = json.loads(out)["explanation"]
    assert steps[1]["result"] == "Crr -0.000400"
    _, out, _ = command("time", "race.toml", "--json", "--explain")
    assert json.loads(out)["explanation"][-1]["what"] == "time"
    status, _, error = command("time", "race.toml", "race.toml", "--explain")
    assert (status, error) == (2, "error: --explain: there are 2 races; ask for each by itself\n")


def test_a_course_ridden_on_the_brakes(command, race: Path) -> None:
    changes = (
        "course.grade=-30 %",
        "course.distance=1.5 km",
        "bike.start_speed=70 km/h",
        "course.max_speed=60 km/h",
        "course.section.1.from=0 km",
        "course.section.1.to=1 km",
    )
    sets = [f"--set={change}" for change in changes]
    status, out, _ = command("time", "race.toml", "--details", *sets)
    assert status == 0
    assert "brakes" in out
    assert "-0 s" not in out


def test_a_made_up_course_lies_where_its_weather_was_reported(command, race: Path) -> None:
    _, out, err = command(
        "time",
        "race.toml",
        "--json",
        "--set",
        "air.altitude=2000 m",
        "--set",
        "air.pressure=795 hPa",
    )
    # 795 hPa, 17 degC and 70 % by the ideal-gas law with 0.378 of the vapour pressure (19.4 hPa
    # by Magnus' formula, from memory): 100 (795 - 0.378 x 0.7 x 19.4) / (287.06 x 290.15).
    assert json.loads(out)["air_density_kg_m3"] == pytest.approx(0.948, abs=0.001)
    assert err == ""


def test_a_fault_of_ours_is_told_apart(command, race: Path, monkeypatch) -> None:
    monkeypatch.setattr("racecalc.views.commands.shared.load_measured", lambda *_: 1 / 0)
    status, out, err = command("time", "race.toml")
    assert (status, out) == (1, "")
    assert "this is a bug in racecalc" in err
    assert "Traceback" not in err


def test_warnings_go_to_standard_error(command, race: Path) -> None:
    status, out, err = command("time", "race.toml", "--json", "--set", "bike.cda=0.8 m^2")
    assert status == 0
    assert err.startswith("warning: --set bike.cda=0.8 m^2: ")
    assert json.loads(out)["warnings"] == [err.removeprefix("warning: ").strip()]


def test_new_set_and_ride(command, race: Path) -> None:
    assert command("new", "mine")[0] == 0
    status, out, err = command("time", "mine/race.toml", "--json")
    assert (status, err) == (0, "")
    assert command("set", "mine/race.toml", "rider.power=300 W")[0] == 0
    faster = command("time", "mine/race.toml", "--json")[1]
    assert json.loads(faster)["time_s"] < json.loads(out)["time_s"]
    status, _, err = command("new", "mine")
    assert status == 2
    assert "this exists already" in err


def test_help_and_version(command) -> None:
    for arguments in ((), ("--help",)):
        status, out, _ = command(*arguments)
        assert status == 0
        for name in ("time", "rates", "value", "new", "set"):
            assert name in out
    assert "0.1" in command("--version")[1]
    assert "_RACECALC_COMPLETE" in command("completion", "bash")[1]


def loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print('\\n'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_help_loads_nothing_heavy() -> None:
    loaded = loaded_by("import racecalc.views.command_line")
    assert not loaded & {"numpy", "scipy", "pint", "textual", "rich", "plotext", "tomlkit"}


NEVER = {"textual", "matplotlib", "tomlkit", "fitdecode", "pint", "scipy.optimize"}
TESTS = "racecalc.decisions.evidence.trial"
"""What analyses tests."""
CARD, BASKET = "racecalc.decisions.pacing.card", "racecalc.decisions.basket.basket"


@pytest.mark.parametrize(
    ("name", "never"),
    [
        ("time", {"scipy", TESTS, CARD, BASKET, "racecalc.decisions.value"}),
        ("value", {CARD, BASKET, "racecalc.answers.pace"}),
    ],
)
def test_a_command_loads_only_what_it_needs(name: str, never: set[str]) -> None:
    convert_units(np.ones(1), "foot", "meter")  # what pint says is kept from here on
    loaded = loaded_by(
        "import contextlib, io; from racecalc.views.command_line import run;"
        f" sys.argv[1:] = [{name!r}, {str(DEMO)!r}];"
        " exec('with contextlib.redirect_stdout(io.StringIO()): assert run() == 0')"
    )
    assert not loaded & (NEVER | never)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            ("basket", "race.toml", "--races", "0"),
            "error: --races: 0 is not in the range 1<=x<=1000; see racecalc basket --help",
        ),
        (
            ("places", "race.toml", "list.csv", "--podium", "0"),
            "error: --podium: 0 is not in the range x>=1; see racecalc places --help",
        ),
        (
            ("weather", "race.toml", "--days", "5"),
            "error: --days: 5 is not in the range 10<=x<=10000; see racecalc weather --help",
        ),
        (
            ("weather", "race.toml", "--days", "many"),
            "error: --days: 'many' is not a valid integer range; see racecalc weather --help",
        ),
        (("time",), "error: RACE is missing; see racecalc time --help"),
        (("time", "--set"), "error: --set: requires an argument; see racecalc time --help"),
        (("tine", "race.toml"), "error: there is no command 'tine'; did you mean 'time'? see"),
        (
            ("time", "race.toml", "--chrt"),
            "error: --chrt: there is no such flag; did you mean '--chart'? see racecalc time",
        ),
    ],
)
def test_a_slip_of_typing_is_one_line(command, race: Path, arguments, said: str) -> None:
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert err.startswith(said)
    assert "--help" in err
    assert err.count("\n") == 1
    if arguments[-1] != "--set":
        status, out, as_json = command(*arguments, "--json")
        [told] = json.loads(as_json)["errors"]
        assert (status, out, f"error: {told['text']}\n") == (2, "", err)
        assert (told["key"] or "") == next((one for one in arguments if one[:2] == "--"), "")


@pytest.mark.parametrize("arguments", [("race.toml",), ("open",), ("open", "race.toml")])
def test_without_a_terminal_no_screen_is_opened(command, race: Path, arguments) -> None:
    status, out, err = command(*arguments)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "needs a terminal; try racecalc time" in err


def test_what_is_a_screen(monkeypatch) -> None:
    def seen(typed: bool, shown: bool, **environment: str) -> bool:
        for name, there in (("stdin", typed), ("stdout", shown)):
            monkeypatch.setattr(f"sys.{name}", Mock(closed=False, isatty=lambda there=there: there))
        for name in ("TERM", "TEXTUAL_DRIVER"):
            monkeypatch.delenv(name, raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        return has_screen()

    assert seen(True, True, TERM="xterm")
    assert not seen(True, True, TERM="dumb")
    assert not seen(True, False, TERM="xterm")
    assert not seen(False, True, TERM="xterm")
    assert seen(False, False, TEXTUAL_DRIVER="a:Driver")
    monkeypatch.setattr("sys.stdin", None)
    monkeypatch.delenv("TEXTUAL_DRIVER")
    assert not has_screen()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            "rider.power=fast",
            {"file": None, "line": None, "key": "rider.power", "value": "fast"},
        ),
        (
            "bike.crr=",
            {"file": "race.toml", "line": 6, "key": None, "value": None},
        ),
    ],
)
def test_errors_of_an_answer_in_json_are_json(racecalc, race, change: str, told) -> None:
    status, out, error = racecalc("time", "race.toml", "--json", "--set", change)
    assert (status, out) == (2, "")
    [one] = json.loads(error)["errors"]
    assert one.items() >= told.items()
    assert one["expected"]
    assert one["text"].startswith(told["file"] or f"--set {change}")


@pytest.mark.parametrize(
    ("why", "remedy"),
    [
        (errno.ENOSPC, "make room"),
        (errno.EDQUOT, "make room"),
        (errno.EFBIG, "make room"),
        (errno.EIO, "send it elsewhere"),
        (errno.EBADF, "send it elsewhere"),
    ],
)
def test_an_answer_that_cannot_be_written(racecalc, monkeypatch, why: int, remedy: str) -> None:
    def fail(**_: object) -> None:
        raise OSError(why, os.strerror(why))

    monkeypatch.setattr(command_line.racecalc, "main", fail)
    said = f"error: the answer: cannot be written: {os.strerror(why)}; {remedy}\n"
    assert racecalc("time", "race.toml") == (2, "", said)


def test_what_is_missing_is_told_at_once(racecalc, tmp_path) -> None:
    race = tmp_path / "short.toml"
    race.write_text('[course]\ndistance = "40 km"\n[rider]\nmass = "70 kg"\n')
    _, _, error = racecalc("time", str(race))
    assert "rider.power, bike.mass, bike.cda, bike.crr are missing" in error


def test_a_course_in_the_place_of_a_race_file_becomes_one(racecalc, tmp_path) -> None:
    course = tmp_path / "road.csv"
    course.write_text("distance [km],elevation [m]\n0,10\n5,60\n")
    _, _, error = racecalc("time", str(course))
    assert f"racecalc new FOLDER --course {course}" in error
    assert racecalc("new", str(tmp_path / "mine"), "--course", str(course))[0] == 0
    race = tmp_path / "mine" / "race.toml"
    _, out, _ = racecalc("time", str(race), "--json", "--set", "air.wind_speed=0 m/s")
    assert json.loads(out)["distance_m"] == pytest.approx(5000.0, rel=1e-2)


def test_an_amount_by_itself_is_in_the_currency_of_the_race(tmp_path) -> None:
    race = load_race(race_file(tmp_path, RACE.replace("EUR", "CHF")))
    asked = PageRequest(budget="500", wanted="CHF 20", fee="25.50").asked_about(race)
    assert [str(one) for one in (asked.budget, asked.per_second, asked.session_fee)] == [
        *("500 CHF", "20 CHF", "25.50 CHF")
    ]


class TestLongWorkOnATerminal:
    """The line is gone before anything else is written; a pipe never holds it."""

    def begin(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(desk, "PATIENCE", -1.0)
        monkeypatch.setattr("sys.stderr.isatty", lambda: True)

    def test_its_seconds_are_shown(self, monkeypatch: pytest.MonkeyPatch, capsys):
        self.begin(monkeypatch)
        with desk.showing_work():
            check_cancelled()
            desk.note("a note")
        shown = capsys.readouterr().err
        assert shown.startswith("\rworking, 0 s\r")
        assert shown.endswith("\ra note\n")
        monkeypatch.setattr("sys.stderr.isatty", lambda: False)
        with desk.showing_work():
            check_cancelled()
        assert capsys.readouterr().err == ""

    def test_it_goes_on_where_nothing_can_be_shown(self, monkeypatch: pytest.MonkeyPatch):
        shown = []

        def broken(text: str, **_: object) -> None:
            shown.append(text)
            raise OSError(errno.EIO, "Input/output error")

        self.begin(monkeypatch)
        monkeypatch.setattr(click, "echo", broken)
        with desk.showing_work():
            check_cancelled()
        assert shown[0] == "\rworking, 0 s"

    @pytest.mark.parametrize(
        "words",
        [
            ("new", "mine", "--course", "ride.fit"),
            ("time", "race.toml"),
            ("advice", "race.toml"),
            ("review", "race.toml", "ride.fit"),
            ("measure", "ride.fit", "--mass", "80 kg", "--wind", "0 m/s"),
        ],
    )
    def test_a_file_that_is_read_shows_them_too(self, racecalc, tmp_path, monkeypatch, words):
        """Stopped at the first message: until there nothing was solved."""
        (tmp_path / "ride.fit").write_bytes(fit_file([(0, 55.0, 12.0, 0.0)]))
        stated = 'distance = "40 km"\nbearing = "90 deg"'
        (tmp_path / "race.toml").write_text(RACE.replace(stated, 'file = "ride.fit"'))

        def stopped(_: object) -> bool:
            raise click.Abort

        self.begin(monkeypatch)
        monkeypatch.setattr(desk._Counter, "working", stopped)
        assert racecalc(*words) == (130, "", "stopped\n")
