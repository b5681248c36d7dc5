"""`racecalc advice`: for one race or a squad, to files or the terminal."""

import json
import re
from pathlib import Path

import pytest

from racecalc.quantities.clock import show_duration
from tests.advice.races import CLAIM, DEEP, SUIT, race_in, race_text


@pytest.fixture
def race(tmp_path: Path) -> Path:
    return race_in(tmp_path, race_text(SUIT, CLAIM))


def test_terminal_shows_the_page(racecalc, race: Path) -> None:
    status, out, err = racecalc("advice", race)
    assert (status, err) == (0, "")
    assert out.startswith("Reed Canal\n20.0 km, 0 m of climbing\nRide ")
    assert "Before you follow it" in out
    assert max(map(len, out.splitlines())) <= 80


def test_terminal_shows_more_where_asked(racecalc, race: Path) -> None:
    answer, details, basis = (
        racecalc("advice", race, *more)[1] for more in ((), ("--details",), ("--basis",))
    )
    assert len(answer.splitlines()) <= 60
    assert "Why: the evidence" in details
    assert "Why: the evidence" not in answer
    assert "To repeat it" in basis
    assert "To repeat it" not in details


def test_files_by_their_endings(racecalc, race: Path, tmp_path: Path) -> None:
    status, out, err = racecalc("advice", race, "-o", "a.html", "-o", "a.md", "-o", "a.txt")
    assert (status, out) == (0, "")
    assert err.count("written") == 3
    assert Path("a.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert Path("a.md").read_text("utf-8").startswith("# Reed Canal\n")


def test_page_that_is_there_is_not_overwritten_unless_asked(racecalc, race: Path) -> None:
    Path("a.md").write_text("mine", "utf-8")
    status, _, err = racecalc("advice", race, "-o", "a.md")
    assert (status, Path("a.md").read_text("utf-8")) == (2, "mine")
    assert "this exists already" in err
    assert racecalc("advice", race, "-o", "a.md", "--replace")[0] == 0
    assert Path("a.md").read_text("utf-8") != "mine"


@pytest.mark.parametrize(
    ("arguments", "problem"),
    [
        (("-o", "a.doc"), "is not a kind of page; end it with .html, .pdf, .md or .txt"),
        (("-o", "a.md", "-o", "./a.md"), "one file is named twice"),
        (("-o", "no/a.html"), "there is no folder 'no'"),
        (("--jobs", "2"), "only work with --out FOLDER"),
        (("--as", "md"), "only work with --out FOLDER"),
        (("--out", "p", "-o", "a.md"), "only writes files"),
        (("--out", "p", "--json"), "only writes files"),
        (("--budget", "many"), "has no number"),
        (("--price-per-second", "0 EUR"), "not a price for a second"),
        (("--price-per-second", "5 GBP"), "GBP"),
        (("--repeatability", "0 W at 45 km/h"), "is not above zero"),
        (("--set", "rider.mas=3"), "did you mean 'mass'"),
        (("--out", "canal.toml"), "cannot be a folder"),
    ],
)
def test_wrong_wishes_are_told_in_one_line(
    racecalc, race: Path, arguments: tuple[str, ...], problem: str
) -> None:
    status, out, err = racecalc("advice", race, *arguments)
    assert (status, out) == (2, "")
    assert problem in err
    assert err.count("\n") == 1


def test_squad_in_a_row_each(racecalc, race: Path, tmp_path: Path) -> None:
    """Without a folder the rows alone; a rider whose race file is wrong is named at the end."""
    windy = race_text(DEEP).replace('mass = "67 kg"', 'mass = "67 kg"\nname = "Mara Elden"')
    other = race_in(tmp_path, windy, "other.toml")
    bad = race_in(tmp_path, "x =", "bad.toml")
    status, out, _ = racecalc(
        *("advice", race, other, bad, "-o", "s.html", "--json", "--jobs", "1")
    )
    assert status == 2
    found = json.loads(out)
    (first, second), (problem,) = found["races"], found["not_worked_out"]
    assert "bad.toml" in problem
    alone = json.loads(racecalc("advice", other, "--json")[1])
    assert (first["rider"], second["rider"]) == ("", "Mara Elden")
    assert [second[key] for key in ("time_s", "time_s_low", "time_s_high")] == [
        alone[f"advised_set_s{end}"] for end in ("", "_low", "_high")
    ]
    assert (second["least_power_w"], second["most_power_w"]) == (250.0, 250.0)
    assert (first["first"], second["first"]) == ("buy Suit", "buy Deep wheel")
    assert first["unsure"] == ["power, drag and weather", "Claimed covers"]
    winds = [one["words"] for one in second["cautions"] if one["about"] == "Wind"]
    assert [one.startswith("Side wind pushes Deep wheel") for one in winds] == [True]
    page = " ".join(re.sub("<[^>]*>", " ", Path("s.html").read_text("utf-8")).split())
    for words in ("Mara Elden", show_duration(second["time_s"]), "bad.toml", "Before you follow"):
        assert words in page
    assert page.count("Stop at chest pain") == 1
    assert "Practise in wind first. ( Mara Elden )" in page


def test_squad_reports_a_bad_file_and_does_the_rest(racecalc, race: Path, tmp_path: Path) -> None:
    bad = race_in(tmp_path, "x =", "bad.toml")
    status, out, err = racecalc("advice", bad, race, "--out", "pages", "--as", "txt", "--jobs", "1")
    assert (status, out) == (2, "")
    lines = err.splitlines()
    assert lines[0].startswith("error: ")
    assert "bad.toml" in lines[0]
    assert lines[1:] == [f"{Path('pages', 'canal.txt')} written", "1 of 2 pages written"]
    assert [one.name for one in Path("pages").iterdir()] == ["canal.txt"]


def test_squad_keeps_pages_that_are_there(racecalc, race: Path) -> None:
    Path("pages").mkdir()
    Path("pages", "canal.txt").write_text("mine", "utf-8")
    wish = ("advice", race, "--out", "pages", "--as", "txt")
    twice = ("advice", race, race, "--out", "pages", "--as", "txt", "--jobs", "1")
    assert racecalc(*twice)[2].splitlines()[-1] == f"{Path('pages', 'squad.txt')} written"
    assert len(list(Path("pages").iterdir())) == 4
    assert racecalc(*wish)[0] == 2
    assert Path("pages", "canal.txt").read_text("utf-8") == "mine"
    assert racecalc(*wish, "--replace")[0] == 0


def test_squad_page_that_is_there_is_refused_before_the_work(racecalc, race: Path) -> None:
    Path("pages").mkdir()
    Path("pages", "squad.txt").write_text("mine", "utf-8")
    status, _, err = racecalc("advice", race, race, "--out", "pages", "--as", "txt", "--jobs", "1")
    assert (status, err.count("\n")) == (2, 1)
    assert "squad.txt: this exists already" in err
    assert [one.name for one in Path("pages").iterdir()] == ["squad.txt"]


def test_json_has_the_advice_and_the_answers_behind_it(racecalc, race: Path) -> None:
    status, out, _ = racecalc("advice", race, "--json", "--budget", "90 EUR")
    assert status == 0
    found = json.loads(out)
    assert {one["name"]: one["do"] for one in found["advised"]} == {
        "Suit": "leave",
        "Claimed covers": "test",
    }
    assert found["headline"].startswith("Ride ")
    assert found["held_back"] == ["Claimed covers"]
    assert (found["power_w"], found["stated_power_w"]) == (250.0, 250.0)
    assert found["cautions"][0]["about"] == "Road"
    for part in ("time", "pace", "value", "basket", "decide", "not_worked_out", "assumptions"):
        assert part in found
    alone = json.loads(racecalc("value", race, "--json")[1])
    assert found["value"]["options"] == alone["options"]


def test_pdf_without_a_browser_says_what_would_do(
    racecalc, race: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("RACECALC_BROWSER", "no-such-browser")
    status, _, err = racecalc("advice", race, "-o", "a.pdf")
    assert status == 2
    assert "there is no program 'no-such-browser'; name another browser" in err
    assert not Path("a.pdf").exists()
