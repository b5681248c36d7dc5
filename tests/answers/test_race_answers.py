"""Time, rates and two versions of a race as sheets: what they say, and where it is in the JSON."""

import re
from pathlib import Path

import pytest

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell
from racecalc.answers.compare import CompareAnswer, compare_sheet, outlook_sheet
from racecalc.answers.fields import plain, schema
from racecalc.answers.sheet import Depth, Sheet, Table
from racecalc.answers.time import RatesAnswer, TimeAnswer, rates_sheet, time_sheet
from racecalc.decisions.comparison import Outlook, outlook_of
from racecalc.decisions.doubt import time_band
from racecalc.domain.loading import load_race
from racecalc.files.draft import Draft
from racecalc.files.opening import read_text
from racecalc.views.writers.terminal import sheet_text

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
COARSE = "course.step=60 m"


@pytest.fixture(scope="module")
def outlook() -> Outlook:
    return outlook_of(load_race(DEMO, [COARSE]))


@pytest.fixture(scope="module")
def windy() -> Outlook:
    return outlook_of(load_race(DEMO, [COARSE, "air.wind_speed=9 m/s", "rider.power=263 W"]))


@pytest.fixture(scope="module")
def compared(outlook: Outlook, windy: Outlook) -> CompareAnswer:
    text = read_text(DEMO)
    other = Draft(DEMO, text.replace('wind_speed = "5.5 m/s"', 'wind_speed = "9 m/s"'))
    return CompareAnswer.of(("calm", "windy"), text, other, (outlook, windy))


def of_time(outlook: Outlook) -> TimeAnswer:
    return TimeAnswer(outlook.base, outlook.timing, Basis.of(outlook.base))


def of_rates(outlook: Outlook) -> RatesAnswer:
    return RatesAnswer(outlook.timing.time_s, outlook.rates, Basis.of(outlook.base))


def cells(sheet: Sheet) -> list[Cell]:
    """Every cell with a number behind it."""
    found = [part for part in sheet.headline if isinstance(part, Cell)]
    for block in sheet.blocks:
        if isinstance(block, Table):
            found += [cell for row in block.rows for cell in block.cells(row, sheet.units)]
    return [cell for cell in found if cell.key]


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_every_number_leads_to_the_json(outlook: Outlook, compared: CompareAnswer, units) -> None:
    time, rates = of_time(outlook), of_rates(outlook)
    sheets = (
        (time, time_sheet(time, units)),
        (rates, rates_sheet(rates, units)),
        (compared, compare_sheet(compared, units)),
    )
    for answer, sheet in sheets:
        assert len(cells(sheet)) > 8
        for cell in cells(sheet):
            found = plain(answer)
            for step in cell.key.split("/"):
                found = found[int(step) if isinstance(found, list) else step]
            assert found == cell.value


def test_what_is_as_good_as_a_watt_saves_as_much(outlook: Outlook) -> None:
    text = sheet_text(rates_sheet(of_rates(outlook), "metric"), Depth.ANSWER)
    found = {rate.quantity: rate.seconds_per_unit for rate in outlook.rates}
    grams = int(re.search(r"more mass .* (-\d+) g\n", text)[1])
    assert grams / 100 * found["mass"] == pytest.approx(found["power"], rel=0.01)
    area = float(re.search(r"more drag area .* (-[\d.]+) m\^2\n", text)[1])
    assert 1000 * area * found["cda"] == pytest.approx(found["power"], rel=0.05)


def test_the_time_says_what_it_was_ridden_with(outlook: Outlook) -> None:
    text = " ".join(sheet_text(time_sheet(of_time(outlook), "metric"), Depth.ANSWER).split())
    assert "at bends and limits), CdA 0.236 m^2, Crr 0.0042, 75.9 kg in all" in text
    assert f"one watt more saves {outlook.rates[0].seconds_per_unit:.1f} s" in text


def test_doubts_are_named_with_their_shares(outlook: Outlook) -> None:
    race = load_race(DEMO, [COARSE, "rider.power_doubt=6 W", "air.wind_doubt=1 m/s"])
    doubted = outlook_of(race)
    answer = of_time(doubted)
    waiting = sheet_text(outlook_sheet(doubted, None, "", "metric"), Depth.ANSWER)
    assert "doubts are being worked out" in " ".join(waiting.split())
    band = time_band(doubted.base, 500)
    known = TimeAnswer(answer.ridden, answer.timed, answer.basis, band)
    text = " ".join(sheet_text(time_sheet(known, "metric"), Depth.ANSWER).split())
    most = band.causes[0]
    assert f"The doubt comes from {most.words} {100 * most.share:.0f} %" in text
    basis = " ".join(sheet_text(time_sheet(known, "metric"), Depth.BASIS).split())
    assert "500 random draws with seed 1" in basis


def test_two_versions_say_what_differs_and_which_is_faster(compared: CompareAnswer) -> None:
    change = compared.found.time_s.change
    text = sheet_text(compare_sheet(compared, "metric"), Depth.DETAILS)
    assert f"{abs(change):.1f} s more than calm" in text.splitlines()[0]
    assert re.search(r"air, wind speed +5.5 m/s +9 m/s", text)
    assert re.search(r"wind at the rider \[m/s\] +3.2 +5.\d +\+2.\d", text)
    assert re.search(r"air +\d+\.\d +\d+\.\d +\+\d", text)


def test_a_version_against_itself(outlook: Outlook) -> None:
    text = read_text(DEMO)
    answer = CompareAnswer.of(("one", "two"), text, Draft(DEMO, text), (outlook, outlook))
    shown = sheet_text(compare_sheet(answer, "metric"), Depth.ANSWER)
    assert ", as one (" in shown
    assert "No value of the race files differs." in shown
    assert "changes most" not in shown


def test_at_first_sight_changes_are_shown_against_another_version(
    outlook: Outlook, windy: Outlook
) -> None:
    alone = sheet_text(outlook_sheet(windy, None, "the file", "metric"), Depth.ANSWER)
    assert "the file" not in alone
    assert "before" not in alone
    both = sheet_text(outlook_sheet(windy, outlook, "the file", "metric"), Depth.ANSWER)
    assert both.splitlines()[0].endswith(" s more than the file")
    best = windy.gains[0]
    before = next(one for one in outlook.gains if one.option.name == best.option.name)
    line = next(one for one in both.splitlines() if one.startswith(best.option.name))
    assert f"{best.saved_s - before.saved_s:+.1f}" in line


@pytest.mark.parametrize("kind", [TimeAnswer, RatesAnswer, CompareAnswer])
def test_every_key_has_a_meaning(kind: type) -> None:
    def check(described: dict, path: str) -> None:
        for key, one in described.get("properties", {}).items():
            assert one["description"], f"{path}/{key}"
            check(one, f"{path}/{key}")
        for below in {"items", "additionalProperties"} & set(described):
            check(described[below], f"{path}/*")

    check(schema(kind), kind.__name__)
