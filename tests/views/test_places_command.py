"""The command places as a person or a script meets it."""

import json
import re
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "course_demo"
RACE, RESULTS = str(DEMO / "race.toml"), str(DEMO / "results.csv")
ME = ("--me", "Ulvi Tarnasse")


@pytest.fixture
def command(racecalc):
    """Run ``racecalc places`` on the demo: status, output, errors."""

    def run_it(*arguments: str, results: str = RESULTS) -> tuple[int, str, str]:
        return racecalc("places", RACE, results, *arguments)

    return run_it


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ME,
        (*ME, "--target", "59:00", "--rivals", "12 s"),
        ("--category", "masters", "--units", "imperial", "--podium", "1"),
        ("--try", "Hot-waxed chain + Ostrewyn Ripple suit", "--set", "rider.power_doubt=5 W"),
    ],
)
def test_pages_fit_the_terminal_and_are_never_certain(command, arguments: tuple[str, ...]):
    status, out, err = command(*arguments)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    assert not re.search(r"(?<![\d.])(0|100) %", out)


def test_the_added_athlete_of_the_demo(command):
    answer = json.loads(command("--json")[1])
    assert answer["me"] is None
    assert (answer["of"], answer["unplaced"]) == (29, {"DNF": 1, "DNS": 1})
    assert 9 <= answer["without"]["place"] <= 14
    assert answer["own_time_s"] == answer["predicted_time_s"]
    assert answer["own_time_doubt_s"] > 5
    first = answer["gaps"][0]
    assert first["rivals"] == ["Nadje Holvarine", "Ekkard Sumblane"]
    assert first["place"] == 11
    assert {"time_s", "gap_s", "watts_w", "options"} <= set(first)


def test_json_of_every_option(command):
    answer = json.loads(command(*ME, "--target", "59:00", "--json")[1])
    assert answer["own_time_s"] == 59 * 60 + 21
    assert answer["without"]["place"] == 14
    saved = [option["saved_s"] for option in answer["options"]]
    assert saved == sorted(saved, reverse=True)
    assert len(saved) == 14
    for option in answer["options"]:
        assert option["time_s"] == pytest.approx(answer["own_time_s"] - option["saved_s"])
        if option["doubt_s"] is None:
            assert option["chance_of_place"] is option["chance_podium"] is None
            continue
        chances = {one["place"]: one["chance"] for one in option["chance_of_place"]}
        assert list(chances) == list(range(1, 29))
        assert sum(chances.values()) == pytest.approx(1.0)
        assert option["chance_podium"] == pytest.approx(sum(chances[n] for n in (1, 2, 3)))
        assert option["expected_place"] == pytest.approx(sum(n * p for n, p in chances.items()))
        assert 0 <= option["chance_target"] <= 1
    unknown = next(one for one in answer["options"] if one["name"].startswith("Tollimar"))
    assert unknown["doubt_s"] is None
    assert unknown["place"] == 13


def test_an_unstated_doubt_is_a_question_mark(command):
    out = command("--try", "Tollimar coated shoe covers", "--details")[1]
    (row,) = (line for line in out.splitlines() if line.startswith("Tollimar"))
    assert row.split()[-3:] == ["?", "?", "?"]
    assert "Tollimar coated shoe covers ?" in " ".join(out.split())


def test_only_what_is_asked_for_gets_a_row(command):
    pair = "Hot-waxed chain + Fenzarra Calm tyres"
    answer = json.loads(command("--try", pair, "--try", "Hot-waxed chain", "--json")[1])
    assert [option["name"] for option in answer["options"]] == [pair, "Hot-waxed chain"]
    assert "Ostrewyn Ripple suit" in answer["gaps"][0]["options"]


def test_a_set_counts_by_its_test(command):
    pair = "Brinnoth Lowtide suit + Vaskelle knit shoe covers"
    answer = json.loads(command("--try", pair, "--json")[1])
    # By the test of the set, 22 s, and not by its parts, 31 s, as `value` shows.
    assert answer["options"][0]["saved_s"] == pytest.approx(22.2, abs=0.5)
    assert not any("only a test of the whole set" in one for one in answer["cautions"])


def test_a_list_of_no_doubt_is_no_chance(command):
    out = command(*ME, "--target", "59:30")[1]
    assert ": 14th of 28 without any option" in out
    assert "Neither your time nor theirs has a doubt; top 3: no, 59:30: yes." in out


def test_rivals_with_form_spread_the_chances(command):
    of_the_day = json.loads(command(*ME, "--json")[1])["without"]
    another_day = json.loads(command(*ME, "--rivals", "12 s", "--json")[1])["without"]
    assert max(one["chance"] for one in of_the_day["chance_of_place"]) == 1.0
    assert max(one["chance"] for one in another_day["chance_of_place"]) < 0.9


def test_a_category_alone(command):
    answer = json.loads(command("--category", "masters", "--json")[1])
    assert (answer["of"], answer["category"]) == (11, "masters")
    assert answer["unplaced"] == {"DNS": 1}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--me", "Ulvi Tarnase"), "did you mean 'Ulvi Tarnasse'?"),
        (("--me", "Hannik Delvoure"), "(DNF)"),
        ((*ME, "--category", "masters"), "rides in 'open'"),
        (("--category", "juniors"), "known: open, masters"),
        (("--try", "Socks"), "--try: there is no option 'Socks'"),
        (("--try", "Ostrewyn Ripple suit + Brinnoth Lowtide suit"), "two options of the slot"),
        (("--rivals", "6"), "--rivals: '6' has no unit"),
        (("--rivals", "-6 s"), "--rivals"),
        (("--target", "soon"), "--target"),
        (("--target", "0:00"), "is not a target time"),
    ],
)
def test_wrong_input(command, arguments: tuple[str, ...], said: str):
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_another_course_stands_first(command):
    Path("short.csv").write_text("name,time\nRuna,23:11\nOske,24:00\nIlve,5:00\n", encoding="utf-8")
    out = command(results="short.csv")[1]
    flat = " ".join(out.split())
    assert "is it the same course?" in flat
    assert "5:00 is under half of the median" in flat
    assert flat.index("is it the same course?") < flat.index("saves s")


def test_no_list(command):
    status, _, err = command(results="nowhere.csv")
    assert (status, len(err.splitlines())) == (2, 1)
    assert "nowhere.csv" in err
