"""The demo's tests, and what they say when they feed a race."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm, t

from racecalc.decisions.evidence.for_option import evidence_for
from racecalc.decisions.evidence.sweep import answer_sweep
from racecalc.decisions.evidence.trial import OneRider, SeveralRiders, answer
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.sets import with_evidence
from racecalc.decisions.value import value_of, value_of_set
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Change
from racecalc.domain.trial import Runs, load_runs
from racecalc.errors import InputError
from tests.builders import race
from tests.demo import make_runs
from tests.demo.make_runs import BOTTLE, BOTTLE_SAVES, COURSE_DEMO, OUTLIER, SUITS, TABLES
from tests.evidence.runs import runs_of


@cache
def ridden() -> Ridden:
    return ride(race())


def one_rider(runs: Runs) -> OneRider:
    found = answer(runs)
    assert isinstance(found, OneRider)
    return found


def several_riders(runs: Runs, margin: float | None = None) -> SeveralRiders:
    found = answer(runs, margin=margin)
    assert isinstance(found, SeveralRiders)
    return found


@pytest.fixture(scope="module")
def suits() -> Runs:
    return load_runs(COURSE_DEMO / "suits.csv")


@pytest.fixture(scope="module")
def bottles() -> Runs:
    return load_runs(COURSE_DEMO / "bottles.csv")


@pytest.mark.parametrize("name", TABLES)
def test_the_tables_are_those_of_the_program(name: str):
    assert (COURSE_DEMO / name).read_text("utf-8") == TABLES[name]()


def test_the_truth_lies_within_the_intervals(suits: Runs):
    trial = one_rider(suits).trial
    again = trial.without_outliers
    assert again is not None
    for item in again.items:
        assert item.low <= SUITS[item.name] <= item.high
    assert [item.verdict for item in again.items] == ["faster", "undecided", "undecided"]


def test_the_lorry_is_pointed_at_and_kept(suits: Runs):
    trial = one_rider(suits).trial
    assert [one.line for one in trial.outliers] == [suits.line[OUTLIER]]
    assert sum(item.runs for item in trial.items) + trial.baseline.runs == len(suits.value)


def test_the_bottle_suits_some_and_not_others(bottles: Runs):
    (over,) = several_riders(bottles).items
    assert over.pooled.character == "best for some, bad for others"
    ahead = over.pooled.prediction
    assert ahead is not None
    assert min(BOTTLE_SAVES.values()) > ahead.low
    assert max(BOTTLE_SAVES.values()) < ahead.high
    for rider, item in over.results.items():
        # Seven t values with ten degrees of freedom: 4 is beyond one in fifty such sets.
        assert abs(-item.difference - BOTTLE_SAVES[rider]) < 4 * item.standard_error


def test_scatter_is_shared_between_riders(bottles: Runs):
    """Six runs alone leave three degrees of freedom; the other riders add theirs, up to ten."""
    rows = [row for row, who in enumerate(bottles.rider) if who == "Rider A"]
    alone = one_rider(bottles.kept(rows)).trial
    together = answer(bottles).trials["Rider A"]
    assert together.repeatability_df > alone.repeatability_df + 5


def test_a_rider_without_the_baseline_is_named(bottles: Runs):
    rows = [
        row
        for row in range(len(bottles.value))
        if not (bottles.rider[row] == "Rider C" and bottles.item[row] == make_runs.FRAME)
    ]
    with pytest.raises(InputError, match=r"rider Rider C: there is no run of the baseline"):
        answer(bottles.kept(rows))


def test_an_unknown_baseline_is_refused(suits: Runs, bottles: Runs):
    for runs in (suits, bottles):
        with pytest.raises(InputError, match="no run has the item 'Socks'"):
            answer(runs, "Socks")


def option(runs: Runs, name: str, **more: object) -> Option:
    return replace(Option(name, trial=runs), **more)


def test_evidence_feeds_the_race_with_the_interval_of_the_trial(suits: Runs):
    name = "Brinnoth Lowtide suit"
    two = {"Old suit", name, "Brinnoth Ebb suit"}
    suits = suits.kept([row for row, item in enumerate(suits.item) if item in two])
    trial = one_rider(suits).trial
    item = next(one for one in trial.items if one.name == name)
    filled = with_evidence(option(suits, name), ridden())
    assert filled.saves is not None
    assert filled.doubt is not None
    assert filled.saves.form == "area"
    assert filled.saves.amount == pytest.approx(-item.difference)
    # Of this item alone: how many others were tested is no matter of how sure it is.
    assert filled.doubt.amount * 1.959964 == pytest.approx(item.difference - item.low_alone)
    assert item.low < item.low_alone
    base = ride(race())
    value = value_of(base, option(suits, name))
    # Less drag by the same area: the ratio of interval to saving is that of the trial.
    assert (value.saved_s - value.saved_s_low) / value.saved_s == pytest.approx(
        (item.difference - item.low_alone) / -item.difference, rel=0.02
    )
    assert value.verdict == "faster"


def test_an_untested_rider_gets_the_prediction_and_a_tested_one_his_own(bottles: Runs):
    untested = evidence_for(option(bottles, BOTTLE), ridden())
    tested = evidence_for(option(bottles, BOTTLE, trial_rider="Rider B"), ridden())
    assert untested is not None
    assert tested is not None
    assert untested.measure == "cda"
    assert tested.saving > untested.saving + 0.003
    assert tested.doubt < 0.5 * untested.doubt
    assert "predicted from 7 riders" in untested.words
    assert "on Rider B" in tested.words


def test_the_doubt_foretold_for_an_untested_rider_by_hand():
    """Savings of 2, 3 and 4 W, no error known: their mean, and Student's t with 2 df.

    The half-width is 4.302653 x 1 x sqrt(1 + 1/3), and the doubt that over 1.959964.
    """
    riders = [rider for rider in "RST" for _ in "ABBA"]
    values = [value for saved in (2, 3, 4) for value in (250, 250 - saved, 250 - saved, 250)]
    runs = runs_of(
        "ABBA" * 3, values, order=[0, 1, 2, 3] * 3, measure="power", riders=riders, speed=12.0
    )
    found = evidence_for(option(runs, "B"), ridden())
    assert found is not None
    assert found.saving == pytest.approx(3.0)
    assert found.doubt == pytest.approx(2.53488, abs=1e-5)


def test_watts_about_tyres_are_stated_at_the_speed_of_the_test(bottles: Runs):
    """They are no drag area, so the bike of the race does not turn them into one."""
    filled = with_evidence(replace(option(bottles, BOTTLE), acts_on="tyres"), ridden())
    assert filled.saves is not None
    assert filled.saves.form == "power at speed"
    assert filled.saves.condition == pytest.approx(42 / 3.6)
    assert filled.test_density == pytest.approx(1.19)


def test_an_item_that_was_not_tested_is_refused(suits: Runs):
    with pytest.raises(InputError, match=r"option Socks, .*suits.csv: no run has the item 'Socks'"):
        with_evidence(option(suits, "Socks"), ridden())


def test_an_item_under_another_name_in_the_table(suits: Runs):
    borrowed = option(suits, "Borrowed suit", trial_item="Brinnoth Lowtide suit")
    own = with_evidence(borrowed, ridden())
    assert own.saves is not None
    assert own.saves.amount > 0


def test_one_run_tells_no_doubt(suits: Runs):
    with pytest.raises(InputError, match="tell no doubt: how far runs scatter is not known"):
        with_evidence(option(suits.kept([0, 1]), "Brinnoth Lowtide suit"), ridden())


def test_no_trial_leaves_the_option_alone():
    plain = Option("Wheel")
    assert with_evidence(plain, ridden()) is plain
    assert evidence_for(plain, ridden()) is None


def test_the_own_rider_is_not_among_those_he_is_drawn_towards(bottles: Runs):
    """With all others at zero the drawn value lies between his own and theirs, not doubled."""
    own = evidence_for(option(bottles, BOTTLE, trial_rider="Rider B"), ridden())
    assert own is not None
    assert "6 other riders" in own.words
    result = several_riders(bottles).items[0].results["Rider B"]
    assert 0 < own.saving < -result.difference
    assert own.doubt < (result.difference - result.low) / 1.96


def test_a_rider_who_was_not_tested_is_refused_by_name(bottles: Runs, suits: Runs):
    with pytest.raises(InputError, match=r"has no rider 'Zed'; its riders are Rider A, Rider B"):
        evidence_for(option(bottles, BOTTLE, trial_rider="Zed"), ridden())
    with pytest.raises(InputError, match="no rider column"):
        evidence_for(option(suits, "Brinnoth Ebb suit", trial_rider="Zed"), ridden())


def test_yaw_met_on_the_road_makes_no_sweep(suits: Runs):
    yaws = np.radians(np.linspace(0.8, 5.3, len(suits.value)))
    assert not replace(suits, yaw=yaws).is_sweep
    assert load_runs(COURSE_DEMO / "wheel_sweep.csv").is_sweep


def test_riders_with_one_pair_each_are_pooled_by_their_spread():
    """Seven riders, one pair each: 2.7 +- 1.1 W on average, faster for 80 % of other riders.

    The savings are those of a worked case of an independent calculation.
    """
    savings = [4.1, 6.0, -2.5, 3.2, 1.0, 5.1, 2.2]
    items, values, riders, sessions = [], [], [], []
    for number, saving in enumerate(savings):
        items += ["old", "new"]
        values += [230.0, 230.0 - saving]
        riders += [f"rider {number}"] * 2
        sessions += [f"day {number}"] * 2
    runs = runs_of(items, values, sessions, measure="power", speed=11.7, riders=riders)
    (over,) = several_riders(runs, margin=2.0).items
    assert over.pooled.saving == pytest.approx(np.mean(savings))
    assert over.pooled.prediction is not None
    assert over.pooled.prediction.chance_faster == pytest.approx(0.80, abs=0.02)
    assert over.pooled.prediction.chance_of_loss == pytest.approx(0.09, abs=0.01)


def test_one_bad_run_of_a_rider_does_not_spoil_the_others(bottles: Runs):
    values = bottles.value.copy()
    values[0] += 80.0
    spoilt = answer(replace(bottles, value=values)).trials["Rider B"]
    clean = answer(bottles).trials["Rider B"]
    assert spoilt.repeatability < 1.5 * clean.repeatability


def test_a_sweep_of_two_riders_is_refused():
    sweep = load_runs(COURSE_DEMO / "wheel_sweep.csv")
    riders = tuple("A" if "Shallow" in item else "B" for item in sweep.item)
    with pytest.raises(InputError, match="the sweep is of 2 riders"):
        answer_sweep(replace(sweep, rider=riders))


def test_a_sweep_knows_its_few_repeats():
    """Its interval is Student's t on the repeats of all items together."""
    sweep = load_runs(COURSE_DEMO / "wheel_sweep.csv")
    whole, few = (
        answer_sweep(runs, None, ridden())
        for runs in (sweep, sweep.kept([*range(8), *range(14, 21)]))
    )
    assert whole.items[0].df == 14
    assert few.items[0].df == 1
    for found, df in ((whole, 14), (few, 1)):
        error = np.hypot(*(area.standard_error for area in found.weighted))
        assert found.saved[0].doubt == pytest.approx(error * t.ppf(0.975, df) / norm.ppf(0.975))
    same = answer_sweep(replace(sweep, value=np.round(sweep.value, 1)), None, ridden())
    assert same.saved[0].doubt is None


def test_the_best_of_three_is_drawn_together(suits: Runs):
    shrunken = one_rider(suits).best_of_many
    assert shrunken is not None
    assert np.ptp(shrunken.shrunken) < np.ptp(shrunken.raw)
    assert Path(answer(suits).source).name == "suits.csv"


def test_the_luck_of_the_best_leaves_out_the_runs_of_the_baseline():
    """Balanced against drift, each item errs by s sqrt(1/n + 0.8^2/2) besides the baseline's.

    E max of three normals: 3 / (2 sqrt(pi)) of that. David and Nagaraja 2003, from memory.
    """
    order = "ABCDDCBA" * 2
    scatter = np.random.default_rng(4).normal(0.0, 3.0, len(order))
    found = one_rider(runs_of(order, 230.0 + scatter, measure="power", speed=12.0))
    assert found.best_of_many is not None
    assert found.trial.without_outliers is None
    own = found.trial.repeatability * np.sqrt(1 / 4 + 0.32)
    assert found.best_of_many.luck == pytest.approx(own * 1.5 / np.sqrt(np.pi), rel=1e-6)


def test_the_mean_over_riders_is_that_of_all_their_runs():
    """Two runs of 0.24 and four of 0.26 m^2 in the mean: (2 * 0.24 + 4 * 0.26) / 6 = 0.25333."""
    few = [0.251, 0.239, 0.241, 0.249]
    many = [0.271, 0.259, 0.261, 0.269, 0.269, 0.261, 0.259, 0.271]
    items = ["new" if item == "B" else "old" for item in "ABBA" * 3]
    riders = ["few"] * len(few) + ["many"] * len(many)
    (over,) = several_riders(runs_of(items, few + many, riders, riders=riders)).items
    assert over.runs == 6
    assert over.mean == pytest.approx(0.25333, abs=5e-6)


@pytest.mark.parametrize(("gap", "flagged"), [(0.0, False), (0.020, True)])
def test_a_triple_of_comparisons_closes_or_is_flagged(gap: float, flagged: bool):
    """A against B, B against C and C against A on three days, solved together.

    The truth is 0, -0.004 and -0.009 m^2; on the last day `gap` contradicts the other two.
    """
    truth = {"A": 0.0, "B": -0.004, "C": -0.009}
    items, values, sessions = [], [], []
    noise = np.random.default_rng(5)
    for day, pair in (("one", "AB"), ("two", "BC"), ("three", "CA")):
        for item in pair + pair[::-1] + pair + pair[::-1]:
            extra = gap if day == "three" and item == "A" else 0.0
            items.append(item)
            sessions.append(day)
            values.append(0.25 + truth[item] + extra + noise.normal(0.0, 0.001))
    trial = one_rider(runs_of(items, values, sessions)).trial
    assert ("the days differ by more" in trial.day_to_day_because) == flagged
    if not flagged:
        for item in trial.items:
            assert item.low < truth[item.name] < item.high


def test_runs_that_the_tester_leaves_out_are_shown_with_both_answers(suits: Runs):
    reasons = ["" for _ in suits.value]
    reasons[OUTLIER] = "a lorry passed"
    found = one_rider(replace(suits, excluded=tuple(reasons)))
    (left,) = found.left_out
    assert (left.line, left.reason) == (suits.line[OUTLIER], "a lorry passed")
    assert found.trial.outliers == ()
    assert isinstance(found.with_all, OneRider)
    assert found.with_all.trial == one_rider(suits).trial
    with pytest.raises(InputError, match="all runs are left out"):
        answer(replace(suits, excluded=("rain",) * len(suits.value)))


def test_a_tested_set_counts_instead_of_its_parts():
    """CdA of the parts adds to 0.008 m^2; the test of both says 0.006."""
    base = ride(race())
    parts = tuple(
        Option(name, mass=0.05, saves=read_saving("0.004 m^2"), doubt=read_saving("0.001 m^2"))
        for name in ("suit", "covers")
    )
    test = Option(
        "both", saves=read_saving("0.006 m^2"), doubt=read_saving("0.0005 m^2"),
        set_of=("suit", "covers"),
    )  # fmt: skip
    added, tested = value_of_set(base, parts), value_of_set(base, parts, [test])
    assert added.saved_s == added.by_parts_s == tested.by_parts_s
    assert tested.saved_s == base.time - base.changed(Change(cda=-0.006, mass=0.1)).time
    assert tested.saved_s < tested.by_parts_s
    assert tested.doubt_s < added.doubt_s
    assert (added.tested, tested.tested) == ((), ("both",))
