"""The command pace as a person or a script meets it."""

import json
import re
from itertools import pairwise
from pathlib import Path

import gpxpy
import pytest

from racecalc.answers.sheet import Depth
from racecalc.errors import InputError
from racecalc.quantities.clock import read_duration
from racecalc.views.cards import write_card
from racecalc.views.commands import pacing
from tests.answered import DEMO as FOLDER
from tests.answered import answered

DEMO = FOLDER / "race.toml"

SHORT = """
[rider]
mass = "67 kg"
power = "262 W"
critical_power = "250 W"
work_above_critical = "17 kJ"

[bike]
mass = "8.9 kg"
cda = "0.236 m^2"
crr = 0.0042

[air]
wind_speed = "4 m/s"
wind_from = "0 deg"

[course]
file = "hills.csv"
step = "40 m"
"""

HILLS = """distance [m], elevation [m], bearing [deg]
0, 0, 0
1500, 0, 0
3000, 60, 90
4500, 10, 180
6000, 0, 180
"""


@pytest.fixture
def race(tmp_path: Path) -> Path:
    (tmp_path / "hills.csv").write_text(HILLS, encoding="utf-8")
    path = tmp_path / "race.toml"
    path.write_text(SHORT, encoding="utf-8")
    return path


@pytest.fixture
def command(racecalc, race: Path):
    """Run ``racecalc pace`` in calm air, as other winds take time: status, output, errors."""

    def run_it(*arguments: str, file: object = race, calm: bool = True) -> tuple[int, str, str]:
        still = ("--set", "air.wind_speed=0 m/s") if calm else ()
        return racecalc("pace", file, *arguments, *still)

    return run_it


PAGES = [
    (),
    ("--limit", "mean"),
    ("--limit", "critical-power", "--no-chart"),
    ("--order", "2", "--sections", "3", "--units", "imperial"),
    ("--goal", "10:30", "--set", "rider.power_doubt=5 W"),
    ("--or", "air.wind_from=180 deg", "--no-chart"),
    ("--set", "rider.power_fade=4 %", "--set", "rider.pedal_least=90 W"),
]


@pytest.mark.parametrize("arguments", PAGES, ids=" ".join)
def test_pages_fit_the_terminal_and_caution(race: Path, capsys, arguments: tuple[str, ...]):
    found = answered("pace", str(race), *arguments)
    assert capsys.readouterr() == ("", "")
    out = found.text() + found.text(Depth.BASIS)
    assert max(map(len, out.splitlines())) <= 80
    assert not re.search(r"\bnan\b|\binf\b|None", out)
    words = " ".join(out.split())
    assert "Targets are advice for a healthy, trained rider" in words
    assert "computed speeds are not targets" in words
    assert "Road law, traffic, weather" in words


@pytest.mark.xdist_group("pace race.toml")
def test_other_winds_and_the_reserve_are_in_the_answer():
    words = " ".join(answered("pace", "race.toml").text().split())
    assert re.search(r"In 6 other winds it gains \d+ to \d+ s", words)
    assert re.search(
        r"Least is left at [\d.]+ km: [\d.]+ of 17.0 kJ; [\d.]+ are missing if none come back",
        words,
    )
    assert "How sure: 57:53 to 58:53 in 95 of 100 cases by the doubt of the model alone." in words
    assert "The same card in another wind" not in words


@pytest.mark.xdist_group("pace race.toml")
def test_card_and_constant_power_are_as_hard_in_words_too():
    """One number for both; what is set where nothing slows the ride is in the details."""
    found = answered("pace", "race.toml")
    words = " ".join(found.text().split())
    mean = f"{found.json['power_mean_w']:.0f} W"
    assert f"Constant power at the same 4th-power mean, {mean}," in words
    assert f"{found.json['constant_power_w']:.0f} W" not in words


@pytest.mark.xdist_group("pace race.toml")
def test_targets_in_percent_of_critical_power():
    """Of 270 W, next to the watts."""
    shown = re.findall(r" (\d+) +(\d+) +[\d.]+ +\d+:\d\d ", answered("pace", "race.toml").text())
    assert len(shown) >= 5
    assert all(round(int(watts) / 2.7) == int(share) for watts, share in shown)


@pytest.mark.xdist_group("pace race.toml")
def test_the_times_of_the_card_add_up():
    """Times on the sections, the gain and the finish as they are shown."""
    found = answered("pace", "race.toml")
    rows = re.findall(r"(\d+:\d\d) +(\d+:\d\d) +[-+.\d]+ +[-+.\d]+ ", found.text())
    assert len(rows) == len(found.answer.found.card.targets)
    total = 0
    for split, elapsed in rows:
        total += read_duration(split)
        assert total == read_duration(elapsed)
    finish, gain = re.search(r": (\d+:\d\d) with this card, (\d+) s gained", found.text()).groups()
    (constant,) = re.findall(r"takes (\d+:\d\d)", found.text())
    assert total == read_duration(finish) == read_duration(constant) - float(gain)


def test_heat_comes_first(command):
    warm, hot = (
        command("--sections", "1", "--set", f"air.temperature={t} degC")[1] for t in (20, 30)
    )
    assert "Above 28 degC" not in warm
    assert "stop if you feel confused or have chills" in " ".join(hot.split())


def test_the_card_for_scripts(command):
    answer = json.loads(command("--json")[1])
    wanted = {"time_s", "constant_power_time_s", "saved_s", "targets", "mean_power_w", "limit"}
    assert wanted <= set(answer)
    targets = answer["targets"]
    assert {"from_m", "to_m", "power_w", "speed_m_s", "time_s"} <= set(targets[0])
    assert targets[0]["from_m"] == 0
    assert targets[-1]["to_m"] == pytest.approx(6000, rel=0.01)
    for one, after in pairwise(targets):
        assert one["to_m"] == after["from_m"]
    assert all(target["power_w"] % 5 == 0 for target in targets)
    assert sum(target["time_s"] for target in targets) == pytest.approx(answer["time_s"])
    assert targets[-1]["elapsed_s"] == pytest.approx(answer["time_s"])
    assert answer["saved_s"] == pytest.approx(answer["constant_power_time_s"] - answer["time_s"])
    assert answer["ideal_time_s"] <= answer["time_s"] <= answer["constant_power_time_s"]
    assert len(targets) >= 3
    assert answer["mean_held_w"] <= 262.0
    assert answer["mean_power_w"] <= answer["power_mean_w"] + 1e-9


def test_critical_power_is_never_used_up(command):
    answer = json.loads(command("--limit", "critical-power", "--json")[1])
    assert answer["least_reserve_j"] >= 0.0
    assert answer["least_reserve_unrefilled_j"] <= answer["least_reserve_j"]
    assert "critical power 250 W with 17.0 kJ above it" in answer["limit"]


def test_the_card_of_a_goal_makes_it(command, tmp_path: Path):
    """The answer, the file and the constant power, which is ridden once more."""
    answer = json.loads(command("--goal", "10:30", "-o", "card.csv", "--json")[1])
    goal = answer["goal"]
    assert 629.0 < answer["time_s"] <= 630.0
    assert goal["held"] == answer["within_limits"] == (goal["stated_time_s"] <= 630.0)
    said = (tmp_path / "card.csv").read_text("utf-8").partition("\n")[0]
    assert ("beyond the stated" in said) == (not goal["held"])
    watts = [row.split(",")[2] for row in (tmp_path / "card.csv").read_text("utf-8").split()[-3:]]
    assert watts == [f"{one['power_w']:.1f}" for one in answer["targets"][-3:]]
    power = f"rider.power={goal['constant_w']:.6f} W"
    again = json.loads(command("--json", "--set", power)[1])
    # The even ride of the card has coasting made up for; without bends there is none.
    assert again["constant_power_time_s"] == pytest.approx(630.0, abs=0.5)
    assert goal["critical_w"] / 250.0 == pytest.approx(goal["mean_w"] / 262.0)
    assert 0.0 <= goal["chance"] <= 1.0


def test_several_limits_and_caps(command):
    """A plain mean in percent of critical power, 250 W here, and two parts on which less is pushed.

    By the profile, which climbs 60 m in 1.5 km from 1.5 km on.
    """
    flags = ("--limit", "power-mean", "--limit", "mean 98 %", "--cap", "climbs at most 280 W")
    answer = json.loads(command(*flags, "--cap", "4 km to 5 km 90 %", "--json")[1])
    stated = (
        'rider.pacing_limits=["power-mean", "mean 98 %"]',
        'rider.pacing_caps=["climbs at most 280 W", "4 km to 5 km 90 %"]',
    )
    in_file = json.loads(command("--set", stated[0], "--set", stated[1], "--json")[1])
    assert [in_file[key] for key in ("targets", "limits")] == [
        answer[key] for key in ("targets", "limits")
    ]
    assert answer["limit"] == (
        "4th-power mean of at most 262 W, mean of at most 245 W, critical power 250 W with 17.0 kJ"
        " above it, climbs of 3 % or more at most 280 W, and 4 km to 5 km at most 225 W"
    )
    assert [one["at_most_w"] for one in answer["limits"]] == [262.0, 245.0, 250.0, 280.0, 225.0]
    assert all(one["held"] for one in answer["limits"])
    assert answer["mean_power_w"] <= 245.0
    for start, end, most in ((1500.0, 3000.0, 280.0), (4000.0, 5000.0, 225.0)):
        on_it = [one for one in answer["targets"] if one["from_m"] < end and one["to_m"] > start]
        assert all(one["power_w"] <= most for one in on_it)


@pytest.mark.parametrize(
    ("limits", "binds"),
    [
        ("mean 240 W", "the 4th-power mean and the mean"),
        ("mean 261 W", "the 4th-power mean"),
        ("mean 290 W", "critical power"),
    ],
)
def test_a_goal_says_what_binds(command, limits: str, binds: str):
    """Next to a 4th-power mean of 262 W and a critical power of 250 W with 17 kJ above it.

    A plain mean is never above the 4th-power mean of the same ride, so that 240 W bind and 290 W
    do not; the card then spreads power until the other mean binds too. 40 kJ more leave the means
    alone.
    """
    more = ("--set", "rider.work_above_critical=57 kJ") if binds != "critical power" else ()
    flags = ("--limit", "power-mean 300 W" if not more else "power-mean", "--limit", limits)
    answer = json.loads(command(*flags, *more, "--goal", "10:00", "--json")[1])
    assert answer["goal"]["binds"] == binds
    out = " ".join(command(*flags, *more, "--goal", "10:00")[1].split())
    assert f"What binds: {binds}." in out


class TestPlan:
    """A plan of one's own, as -o card.csv writes it or with two columns."""

    def test_the_card_itself_is_within_the_limits(self, command):
        card = json.loads(command("-o", "card.csv", "--json")[1])
        answer = json.loads(command("--plan", "card.csv", "--json")[1])
        plan = answer["plan"]
        assert plan["time_s"] == pytest.approx(card["time_s"], abs=0.05)
        assert plan["held"] is True
        assert plan["limits"] == card["limits"]
        assert answer["what_if"] == []
        lost = sum(one["given_away_s"] for one in plan["sections"])
        assert lost == pytest.approx(plan["given_away_s"])
        ends = [0.0, *(one["to_m"] for one in card["targets"])]
        texts = [
            f"{start:.1f} m to {end:.1f} m {one['power_w']:.1f} W"
            for (start, end), one in zip(pairwise(ends), card["targets"], strict=True)
        ]
        in_file = json.loads(command("--set", f"rider.pacing_plan={texts}", "--json")[1])
        assert in_file["plan"]["time_s"] == pytest.approx(plan["time_s"], abs=1e-6)

    def test_what_breaks_is_said_first(self, command, tmp_path: Path):
        """120 and 102 % of 250 W."""
        text = "to [km],power [%]\n3.0,120\n6.0,102\n"
        (tmp_path / "mine.csv").write_text(text, "utf-8")
        status, out, err = command("--plan", "mine.csv", "-o", "card.csv")
        assert status == 0
        assert "the file holds the card of your limits, not your plan" in err
        assert "with your plan, beyond your limits" in out.splitlines()[0]
        assert out.splitlines()[1].startswith("Too hard: it comes to 28")
        assert re.search(r"0\.00 +3\.00 +300 ", out)
        assert re.search(r"3\.00 +6\.00 +255 ", out)

    @pytest.mark.parametrize(
        ("table", "message"),
        [
            ("to [km],power [W]\n3,250\n", "mine.csv: it ends at 3.00 km, but the course at 6.00"),
            ("to [km],power [W]\n3,250\n2,250\n", "'2' ends no later than '3'"),
            ("to [km],power [W]\n3,0\n6,250\n", "'0' is no power; write 1 W for coasting"),
            ("to [km],power [W]\n3,250\n6,99999\n", "more than anyone can pedal"),
            ("to [km],watts\n3,250\n", "the column 'power' is missing"),
            ("to [km],power\n3,250\n", "the unit is missing"),
        ],
    )
    def test_what_is_no_plan(self, command, tmp_path: Path, table: str, message: str):
        (tmp_path / "mine.csv").write_text(table, "utf-8")
        status, _, err = command("--plan", "mine.csv")
        assert status == 2
        assert message in err

    def test_a_plan_has_no_goal(self, command, tmp_path: Path):
        (tmp_path / "mine.csv").write_text("to [km],power [W]\n6,250\n", "utf-8")
        assert "give one" in command("--plan", "mine.csv", "--goal", "10:30")[2]


def test_critical_power_from_points(command, race: Path):
    points = 'power_points = ["3 min 340 W", "12 min 272 W", "25 min 260 W"]'
    text = race.read_text("utf-8")
    for line in ('critical_power = "250 W"', 'work_above_critical = "17 kJ"'):
        text = text.replace(line, "")
    race.write_text(text.replace("[bike]", f"{points}\n\n[bike]"), "utf-8")
    status, out, _ = command("--limit", "critical-power", "--no-chart", "--details")
    assert status == 0
    assert "Fitted: " in out
    assert "The race power throughout: 262 W for" in " ".join(out.split())
    assert "95 % intervals" in " ".join(out.split())


@pytest.mark.parametrize(
    ("laps", "power", "critical", "words"),
    [
        (5, "262 W", "330 W", "above the race power of 262 W"),
        (1, "330 W", "250 W", "not possible with these numbers"),
    ],
)
def test_numbers_that_contradict_each_other(
    command, laps: int, power: str, critical: str, words: str
):
    changes = ("--set", f"rider.power={power}", "--set", f"rider.critical_power={critical}")
    length = ("--set", f"course.laps={laps}", "--set", "course.step=200 m")
    _, out, _ = command(*changes, *length, "--no-chart", "--sections", "2")
    assert words in " ".join(out.split())


def test_files_are_written_once_and_never_over_others(command, tmp_path: Path):
    status, out, err = command("-o", "card.html", "-o", "card.csv", "--json")
    assert status == 0
    assert err.splitlines() == ["card.html written", "card.csv written"]
    assert "<table" in (tmp_path / "card.html").read_text("utf-8")
    header = (tmp_path / "card.csv").read_text("utf-8")
    assert "power [W]" in header
    again, _, complaint = command("-o", "card.html")
    assert again == 2
    assert "card.html" in complaint
    assert json.loads(out)["targets"]


def test_what_can_be_written_is_and_the_rest_is_said(command, tmp_path: Path, monkeypatch):
    def late(path: Path, *given: object) -> None:
        if path.suffix == ".csv":
            raise InputError(str(path), "cannot be written: disk full", "make room")
        write_card(path, *given)

    monkeypatch.setattr(pacing, "write_card", late)
    status, out, err = command("-o", "card.csv", "-o", "card.gpx", "-o", "card.html", "--json")
    assert (status, json.loads(out)["race"]) == (2, "race")
    refused, failed, written = err.splitlines()
    [early], [one] = (json.loads(line)["errors"] for line in (refused, failed))
    assert "no positions" in early["text"]
    assert one["text"] == "card.csv: cannot be written: disk full; make room"
    assert written == "card.html written"
    assert {path.name for path in tmp_path.glob("card.*")} == {"card.html"}


def test_nothing_is_written_where_there_is_no_card(command, tmp_path: Path):
    for wrong in (("--goal", "2:00"), ("--or", "rider.power=none")):
        assert command("-o", "card.html", *wrong)[0] == 2
        assert not (tmp_path / "card.html").exists()


def test_a_second_card_for_scripts(command):
    answer = json.loads(command("--or", "air.wind_from=180 deg", "--json", calm=False)[1])
    turned = json.loads(command("--set", "air.wind_from=180 deg", "--json", calm=False)[1])
    assert answer["second_card"]["targets"] == turned["targets"]
    assert answer["second_card"]["time_s"] != answer["time_s"]
    assert turned["second_card"] is None


def test_the_printed_card_says_what_speaks_against_it(command, tmp_path: Path):
    command("-o", "card.html", "--limit", "critical-power", "--set", "rider.power_fade=4 %")
    page = " ".join((tmp_path / "card.html").read_text("utf-8").split())
    assert "Reasons for caution" in page
    assert "power_fade is ignored" in page
    assert re.search(r"than with the best found in \d+ sections", page)
    assert "of the work above critical power" in page


def test_the_route_of_the_demo(command, tmp_path: Path):
    status, out, _ = command(
        "-o", "card.gpx", "--json", "--sections", "4", "--set", "course.step=100 m", file=DEMO
    )
    assert status == 0
    found = gpxpy.parse((tmp_path / "card.gpx").read_text("utf-8"))
    assert [point.name for point in found.waypoints][-1] == "Finish"
    marks = {"Turn at the breakwater", "Top, by the wood"}
    names = {point.name for point in found.waypoints if not re.fullmatch(r"\d+ W", point.name)}
    assert names == marks | {"Finish"}
    answer = json.loads(out)
    assert found.length_2d() == pytest.approx(answer["targets"][-1]["to_m"], rel=5e-3)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--goal", "2:00"), "--goal: no power that anybody pedals takes 2:00 here"),
        (("--goal", "9999:00"), "--goal: 166:39:00 is slower than the least power"),
        (("--goal", "soon"), "--goal:"),
        (("--order", "nan"), "--order: is no number"),
        (("--or", "air.wind_frm=10 deg"), "--or"),
        (
            ("--set", "rider.power_fade=20 %", "--set", "course.laps=50"),
            "power_fade: a loss of 20 % per hour",
        ),
        (("-o", "card.csv", "-o", "./card.csv"), "--output: one file is named twice"),
        (("-o", "none/card.csv"), "none/card.csv: there is no folder 'none'; make it first"),
        (("--limit", "feeling"), "error: --limit: 'feeling' is not one of"),
        (("--limit", "mean", "--limit", "mean 240 W"), "--limit: mean is given twice"),
        (("--limit", "critical-power 260 W"), "--limit: critical power is that of the race file"),
        (("--limit", "mean 0 W"), "--limit: '0 W' is not possible; give up to 2500 W"),
        (("--limit", "mean much"), "--limit"),
        (("--cap", "hills 300 W"), "--cap: 'hills 300 W' is no part and power; write"),
        (("--cap", "8 km to 9 km 300 W"), "8 km to 9 km is no part of the course; the course is 6"),
        (("--cap", "climbs 300 kg"), "--cap"),
        (("--sections", "0"), "error: --sections: 0 is not in the range"),
        (("-o", "card.doc"), "is not a kind of card; end it with .html, .pdf, .csv or .gpx"),
        (("--size", "wrist"), "'wrist' is not one of"),
        (("-o", "card.gpx"), "no positions"),
        (("--set", "rider.pedal_least=300 W"), "pedal_least"),
        (("--set", "rider.pedal_most=200 W"), "pedal_most"),
    ],
)
def test_what_will_not_do(command, arguments: tuple[str, ...], message: str):
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert message in " ".join(err.split())


def test_no_critical_power_to_hold(command, race: Path):
    text = race.read_text("utf-8")
    for line in ('critical_power = "250 W"', 'work_above_critical = "17 kJ"'):
        text = text.replace(line, "")
    race.write_text(text, "utf-8")
    status, _, err = command("--limit", "critical-power")
    assert status == 2
    assert "states no critical power; add critical_power" in err


@pytest.mark.parametrize("length", ["60 m", "25 m"])
def test_a_course_of_seconds(command, tmp_path: Path, length: str):
    short = SHORT.replace('file = "hills.csv"', f'distance = "{length}"\nbearing = "0 deg"')
    path = tmp_path / "short.toml"
    path.write_text(short, "utf-8")
    status, out, _ = command("--no-chart", file=path)
    assert status == 0
    assert "with this card" in out
