"""What the sheets of tests say that changes what to do, and the keys of their JSON."""

from dataclasses import replace
from pathlib import Path

import pytest

from racecalc.answers.fields import plain
from racecalc.answers.sheet import Depth
from racecalc.answers.trial import TEST_SAFELY, evidence_sheet, sweep_sheet, trial_sheet
from racecalc.decisions.evidence.for_option import test_behind as behind
from racecalc.decisions.evidence.sweep import answer_sweep
from racecalc.decisions.evidence.trial import answer
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.value import value_of
from racecalc.domain.loading import load_race
from racecalc.domain.trial import Runs, load_runs
from racecalc.views.writers.markdown import markdown_of
from racecalc.views.writers.terminal import sheet_text

DEMO = Path(__file__).parents[2] / "course_demo"


@pytest.fixture(scope="module")
def suits() -> Runs:
    return load_runs(DEMO / "suits.csv")


@pytest.fixture(scope="module")
def ridden() -> Ridden:
    return ride(load_race(DEMO / "race.toml"))


def flat(sheet, depth: Depth = Depth.ANSWER) -> str:
    return " ".join(sheet_text(sheet, depth).split())


def test_keys_that_are_worked_out_are_in_the_json(suits: Runs) -> None:
    found = plain(answer(suits))
    assert found["confidence"] == 0.95
    assert found["items"][0]["runs"] == found["baseline"]["runs"] == 8
    riders = plain(answer(load_runs(DEMO / "bottles.csv")))
    item = riders["items"][0]
    assert item["predicted_low"] < item["low"] < item["difference"] < item["high"]
    assert riders["margin"] == riders["riders"]["Rider A"]["margin"]


@pytest.mark.parametrize(("table", "line"), [("suits.csv", 21), ("bottles.csv", 24)])
def test_a_run_that_does_not_fit_and_what_would_settle_it(table: str, line: int) -> None:
    said = flat(trial_sheet(answer(load_runs(DEMO / table))))
    assert f"Line {line} does not fit the others; without it the verdicts" in said
    assert "More days " in said
    assert TEST_SAFELY in said


def test_names_of_items_are_no_markup(suits: Runs) -> None:
    items = tuple(name.replace("Brinnoth", "*B*") for name in suits.item)
    said = markdown_of(trial_sheet(answer(replace(suits, item=items))))
    assert "\\*B\\* Lowtide suit" in said
    assert "*B* Lowtide" not in said.replace("\\*", "")


def test_a_sweep_says_first_what_it_saves_in_the_race(ridden: Ridden) -> None:
    runs = load_runs(DEMO / "wheel_sweep.csv")
    answered = answer_sweep(runs, None, ridden)
    said = flat(sweep_sheet(answered))
    assert f"saves {answered.saved[0].saving:+.4f}" in said.split("drag area")[0]
    assert f"For {100 * answered.weighted[0].outside:.0f} % of the time the yaw is outside" in said
    assert "The best yaw alone is not the saving" in flat(sweep_sheet(answer_sweep(runs)))


def test_the_evidence_of_each_kind_of_option(ridden: Ridden) -> None:
    options = {one.name: one for one in ridden.race.single_options}
    kinds = {}
    for name, option in options.items():
        sheet = evidence_sheet(value_of(ridden, option), behind(option, ridden))
        kinds[name] = flat(sheet, Depth.BASIS)
        assert kinds[name].startswith(name)
    assert "against Old suit: Brinnoth Lowtide suit faster" in kinds["Brinnoth Lowtide suit"]
    claim = next(one for one in options.values() if one.saves and one.trial is None)
    assert f"a claim, not on runs: saves {claim.saves.words}" in kinds[claim.name]
    sweep = next(one for one in options.values() if one.trial and one.trial.is_sweep)
    assert "a single run scatters by" in kinds[sweep.name].lower()
