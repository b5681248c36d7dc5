"""What a race takes from a table of runs: whose they are, and what is left of the best of many."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2, t

from racecalc.answers.basis import Basis
from racecalc.answers.trial import trial_sheet
from racecalc.answers.value import ValueAnswer, gain_line, value_sheet
from racecalc.decisions.evidence.for_option import evidence_for
from racecalc.decisions.evidence.pooling import blend
from racecalc.decisions.evidence.trial import (
    OneRider,
    SeveralRiders,
    answer,
    pool_results,
    shrunken_of,
)
from racecalc.decisions.information import PricedQuestion, Prospect, prospects_of
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.sets import shared_in_tests, with_evidence
from racecalc.decisions.value import value_of
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option, read_saving
from racecalc.domain.trial import Runs, load_runs
from racecalc.views.writers.terminal import sheet_text
from tests.answered import DEMO, answered
from tests.builders import euros, race
from tests.evidence.runs import runs_of

NORMAL = 1.959963985

E1 = (250.4, 247.1, 246.2, 250.9, 248.9, 246.8, 247.6, 249.3)
"""Two days ridden A-B-B-A [W]; invented."""


AREA = 1.0 / (0.5 * 1.2 * (43 / 3.6) ** 3)
"""Drag area that takes 1 W at 43 km/h in 1.2 kg/m^3 [m^2/W]: in a race a test in watts is one."""


@cache
def ridden(name: str = "") -> Ridden:
    built = race()
    return ride(replace(built, rider=replace(built.rider, name=name)))


def table(items: str, values, riders=None, days: int = 2) -> Runs:
    """Runs in days of equal length, at 43 km/h."""
    each = len(items) // days
    day = [f"day {row // each}" for row in range(len(items))]
    order = [row % each for row in range(len(items))]
    return runs_of(items, values, day, order, "power", 43 / 3.6, 1.2, riders)


def e1(riders: str = "") -> Runs:
    return table("ABBA" * 2, E1, [riders] * 8 if riders else None)


def three(seed: int = 5, saved: tuple[float, ...] = (3.0, 1.0, 0.0)) -> Runs:
    """Three items and a baseline, balanced over two days, a run good to 1 W; invented."""
    items = "ABCDDCBA" * 2
    truth = dict(zip("ABCD", (0.0, *saved), strict=True))
    noise = np.random.default_rng(seed).normal(size=len(items))
    return table(items, [250.0 - truth[item] + one for item, one in zip(items, noise, strict=True)])


# --- whose runs ----------------------------------------------------------------------------------


def test_own_runs_are_those_of_the_rider_of_the_race():
    """By the worked case of `test_days`: 2.95 W, standard error 0.758610 with 2.858485 df."""
    own = evidence_for(Option("B", trial=e1("Ulla Mirn")), ridden("ulla mirn"))
    nobody = evidence_for(Option("B", trial=e1()), ridden())
    assert own is not None
    assert own == nobody
    assert own.saving == pytest.approx(2.95 * AREA)
    assert own.doubt == pytest.approx(AREA * 0.758610 * t.ppf(0.975, 2.858485) / NORMAL, rel=1e-5)
    assert own.measured is None


@pytest.mark.parametrize(
    ("name", "why"),
    [("Orla Deen", "the runs are of one other rider"), ("", "state it as rider.name")],
)
def test_runs_of_one_other_rider_give_no_verdict(name: str, why: str):
    value = value_of(ridden(name), Option("B", trial=e1("Ulla Mirn")))
    assert value.saved_s > 0
    assert (value.verdict, value.chance_faster, value.surely_saved_s) == ("undecided", None, None)
    assert why in value.because
    assert "no chance is known" in "".join(map(str, gain_line(value)))


def test_a_sweep_of_another_rider_gives_no_verdict():
    sweep = load_runs(DEMO / "wheel_sweep.csv")
    sweep = replace(sweep, rider=("Ulla Mirn",) * len(sweep.rider))
    wheel = Option("Dunquill deep front wheel", trial=sweep)
    assert with_evidence(wheel, ridden("Ulla Mirn")).doubt is not None
    other = with_evidence(wheel, ridden("Orla Deen"))
    assert (other.doubt, other.unproved[:33]) == (None, "the runs are of one other rider, ")


def test_of_several_riders_the_named_one_has_their_own_result_and_all_others_the_prediction():
    """Savings of 2, 3 and 4 W: for another rider 3 W and Student's t with 2 df, as worked above."""
    riders = [rider for rider in "RST" for _ in "ABBA"]
    noise = np.tile([0.2, -0.2, 0.3, -0.3], 3)
    values = [v for saved in (2, 3, 4) for v in (250, 250 - saved, 250 - saved, 250)]
    runs = runs_of(
        "ABBA" * 3, values + noise, riders, [0, 1, 2, 3] * 3, "power", 12.0, riders=riders
    )
    found = {name: evidence_for(Option("B", trial=runs), ridden(name)) for name in ("", "X", "s")}
    assert found[""] == found["X"]
    assert "predicted from 3 riders" in found["X"].words
    assert "on S, shrunk towards 2 other riders" in found["s"].words
    assert found["s"].doubt < 0.7 * found["X"].doubt
    # A key of the option says who it is where the runs name them otherwise.
    named = evidence_for(Option("B", trial=runs, trial_rider="S"), ridden("X"))
    assert named == found["s"]


def test_an_item_that_one_rider_alone_tested_is_theirs():
    """Four riders' table in which only R rode the item C."""
    items = "ABBA" * 2 + "ACCA"
    riders = ["R"] * 4 + ["S"] * 4 + ["R"] * 4
    values = 250.0 + np.random.default_rng(1).normal(size=12)
    runs = table(items, values, riders, days=3)
    assert with_evidence(Option("C", trial=runs), ridden("R")).doubt is not None
    other = with_evidence(Option("C", trial=runs), ridden("S"))
    assert (other.doubt, other.unproved[:33]) == (None, "the runs are of one other rider, ")


def test_without_a_name_one_line_says_the_key(tmp_path, racecalc):
    lines = ["item,rider,session,order,power [W],speed [km/h],density [kg/m^3]"]
    lines += [f"{'ABBA'[k]},Ulla Mirn,one,{k},{E1[k]},43,1.2" for k in range(4)]
    (tmp_path / "ours.csv").write_text("\n".join(lines), "utf-8")
    text = (
        '[rider]\n{name}mass = "70 kg"\npower = "250 W"\n[bike]\nmass = "9 kg"\ncda = "0.25 m^2"\n'
        'crr = 0.004\n[course]\ndistance = "10 km"\n'
        '[[option]]\nname = "B"\ntrial = "ours.csv"\n[[option]]\nname = "B 2"\ntrial = "ours.csv"\n'
        'trial_item = "B"\n'
    )
    said = "rider.name: is not stated, so no run of ours.csv counts as your own"
    for name, notices in (("", [said]), ('name = "Orla"\n', [])):
        path = tmp_path / "race.toml"
        path.write_text(text.format(name=name), "utf-8")
        found = [str(one) for one in load_race(path).notices]
        assert [one for one in found if "rider.name" in one] == notices
    status, out, err = racecalc("value", path)
    assert (status, err) == (0, "")
    assert "No verdict for B and B 2: the runs are of one other rider" in flat(out)
    assert "are taken as alike" not in out


# --- the best of many ----------------------------------------------------------------------------


def by_hand(runs: Runs) -> tuple[np.ndarray, float, float]:
    """Savings, their standard error and its degrees of freedom; balanced over two days of 8 runs.

    Least squares of cells and drifts gives s^2, of items by the days' means what the days disagree.
    A change from day to day of 0.8 s counts as 4 sessions: with a = 0.32 n and n = 2 runs,
    phi = (d0 s^2 + Q) / (d0 + df_b), SE^2 = phi (1 + a) 2 / (n S).
    """
    item = np.array(["ABCD".index(one) for one in runs.item])
    day = np.repeat([0, 1], 8)
    cells = (item + 4 * day)[:, None] == np.arange(8)
    drift = np.where(day[:, None] == [0, 1], (runs.order - 3.5)[:, None], 0.0)
    columns = np.hstack([cells.astype(float), drift])
    rest = runs.value - columns @ np.linalg.lstsq(columns, runs.value, rcond=None)[0]
    df_w, a = 16 - 10, 0.64
    s2 = rest @ rest / df_w
    means = np.array(
        [[runs.value[(item == i) & (day == j)].mean() for i in range(4)] for j in (0, 1)]
    )
    apart = means - means.mean(1, keepdims=True)
    apart -= apart.mean(0)
    q_b, df_b = 2 * np.sum(apart**2) / (1 + a), 3
    d0 = 1 / (1 / df_w + (a / (1 + a)) ** 2 / 4)
    phi = (d0 * s2 + q_b) / (d0 + df_b)
    mean = means.mean(0)
    return mean[0] - mean[1:], np.sqrt(phi * (1 + a) * 2 / 4), d0 + df_b


def left_of(savings: np.ndarray, error: float) -> tuple[np.ndarray, np.ndarray]:
    """Shrunken savings and the covariance of their errors, half of each variance being shared.

    Of three: own variance v = error^2 / 2, kept 1 - 2.407946 v / SS (30 % point of chi^2, 2 df).
    For the doubt SS / (v + tau^2) is chi^2 with 2 df.
    """
    k, v = len(savings), error**2 / 2
    mean, off = savings.mean(), savings - savings.mean()
    ss = off @ off
    shrunken = mean + max(0.0, 1 - 2.407946 * v / ss) * off

    def averaged(make) -> float:
        end = ss / v
        some, _ = quad(lambda c: make(1 - v * c / ss) * chi2.pdf(c, k - 1), 0, end, epsabs=1e-12)
        return some + make(0.0) * chi2.sf(end, k - 1)

    def covariance(i: int, j: int) -> float:
        def at(kept: float) -> float:
            missed = (mean + kept * off[i] - shrunken[i]) * (mean + kept * off[j] - shrunken[j])
            return (v + k * v) / k + ((i == j) - 1 / k) * kept * v + missed

        return averaged(at)

    return shrunken, np.array([[covariance(i, j) for j in range(k)] for i in range(k)])


def test_all_items_of_a_table_are_shrunken_together():
    runs = three()
    savings, error, df = by_hand(runs)
    shrunken, covariance = left_of(savings, error)
    doubts = np.sqrt(np.diag(covariance)) * t.ppf(0.975, df) / NORMAL
    for item, measured, left, doubt in zip("BCD", savings, shrunken, doubts, strict=True):
        found = evidence_for(Option(item, trial=runs), ridden())
        assert found.measured == pytest.approx(AREA * measured, abs=1e-12)
        assert found.saving == pytest.approx(AREA * left, abs=1e-9)
        assert found.doubt == pytest.approx(AREA * doubt, rel=1e-5)
    scale = np.sqrt(np.diag(covariance))
    pair = shared_in_tests([Option("B", trial=runs), Option("D", trial=runs)], ridden())
    assert pair[0, 1] == pytest.approx(covariance[0, 2] / (scale[0] * scale[2]), rel=1e-5)


def test_two_items_are_shown_shrunken_and_counted_as_measured():
    """Without drift the difference of two cell means is what the race takes; they share half."""
    full = three()
    runs = full.kept([row for row, item in enumerate(full.item) if item != "D"])
    found = answer(runs)
    assert isinstance(found, OneRider)
    assert found.best_of_many is not None
    assert np.ptp(found.best_of_many.shrunken) < np.ptp(found.best_of_many.raw)
    option = with_evidence(Option("B", trial=runs), ridden())
    assert option.measured is None
    assert option.saves.amount == pytest.approx(-AREA * found.trial.items[0].difference)
    pair = shared_in_tests([option, Option("C", trial=runs)], ridden())
    assert pair[0, 1] == pytest.approx(0.5)
    assert "the race counts what was measured" in flat(sheet_text(trial_sheet(found), 1))


def flat(text: str) -> str:
    return " ".join(text.split())


def test_what_was_measured_is_kept_next_to_what_is_counted():
    runs, base = three(), ridden()
    value = value_of(base, Option("B", trial=runs))
    savings, _, _ = by_hand(runs)
    stated = Option(
        "B", saves=read_saving(f"{savings[0]:.12f} W at 43 km/h"), test_power_at="wheel"
    )
    assert value.saved_as_measured_s == pytest.approx(value_of(base, stated).saved_s, rel=1e-6)
    assert 0 < value.saved_s < value.saved_as_measured_s
    plain = value_of(base, Option("B", trial=e1()))
    assert plain.saved_as_measured_s == plain.saved_s


def test_items_that_luck_explains_are_said_to_be_alike():
    runs = three(seed=2, saved=(2.0, 2.0, 2.0))
    savings, error, _ = by_hand(runs)
    assert np.sum((savings - savings.mean()) ** 2) < 2.407946 * error**2 / 2
    found = answer(runs)
    assert found.best_of_many.alike
    said = f"The 3 items are taken as alike, at {-savings.mean():+.1f} W each"
    assert said in flat(sheet_text(trial_sheet(found), 0))
    assert not answer(three()).best_of_many.alike
    for table_of, line in ((runs, True), (three(), False)):
        values = [value_of(ridden(), Option(item, trial=table_of)) for item in "BC"]
        page = ValueAnswer(0.0, tuple(values), (), (), Basis.of(ridden()))
        said = flat(sheet_text(value_sheet(page, "metric"), 0))
        assert ("B and C are taken as alike" in said) == line


def test_the_best_of_many_over_riders():
    """Means over five riders: each mean is drawn to the common one by its own error alone."""
    rng = np.random.default_rng(3)
    saved = np.array([3.0, 1.0, 0.0]) + rng.normal(size=(5, 3))
    items, riders, values = "", [], []
    for rider in range(5):
        items += "ABCDDCBA"
        riders += [f"r{rider}"] * 8
        level = dict(zip("ABCD", (0.0, *saved[rider]), strict=True))
        values += [250.0 - level[item] + 0.1 * rng.normal() for item in "ABCDDCBA"]
    runs = table(items, values, riders, days=5)
    found = answer(runs)
    assert isinstance(found, SeveralRiders)
    best = found.best_of_many
    raw = np.array([one.pooled.saving for one in found.items])
    assert best.raw == pytest.approx(raw)
    assert np.all(np.abs(best.shrunken - best.common) <= np.abs(raw - best.common))
    assert best.kept < 1
    option = with_evidence(Option("B", trial=runs), ridden())
    at = [one.name for one in found.items].index("B")
    assert option.saves.amount == pytest.approx(AREA * best.shrunken[at])
    assert option.measured.amount == pytest.approx(AREA * raw[at])
    # A rider among them: the own items are shrunken first, and then towards the other riders.
    own = evidence_for(Option("B", trial=runs), ridden("r2"))
    results = found.items[at].results
    others = {name: result for name, result in results.items() if name != "r2"}
    alone = shrunken_of(found.trials["r2"])
    both = blend(alone.shrunken[0], alone.doubt[0], pool_results(others, None))
    assert (own.saving / AREA, own.doubt / AREA) == pytest.approx(both)
    assert own.measured == pytest.approx(-AREA * results["r2"].difference)


def shown_and_true(items: int, days: int, tau: float, tests: int) -> np.ndarray:
    """Error of the best as measured and shrunken, and whether its interval holds the truth.

    Four runs of an item a day, good to 1 W; a difference changes from day to day by 0.8 W.
    """
    rng = np.random.default_rng(11)
    names = "ABCDEFG"[: items + 1]
    order = (names + names[::-1]) * 2 * days
    item = np.array([names.index(one) for one in order])
    day = np.arange(len(order)) // (len(order) // days)
    found = []
    for _ in range(tests):
        saved = np.append(0.0, tau * rng.normal(size=items))
        change = 0.8 / np.sqrt(2) * rng.normal(size=(days, items + 1))
        value = 250 - saved[item] - change[day, item] + rng.normal(size=len(order))
        best = answer(table(order, value, days=days)).best_of_many
        truth = saved[1 + best.looked_best]
        left = best.shrunken[best.looked_best] - truth
        inside = abs(left) < NORMAL * best.doubt[best.looked_best]
        found.append((best.raw[best.looked_best] - truth, left, inside))
    return np.array(found)


@pytest.mark.slow
@pytest.mark.parametrize("tau", [0.0, 1.0])
@pytest.mark.parametrize("days", [1, 2, 4])
@pytest.mark.parametrize("items", [3, 6])
def test_the_best_of_many_over_many_tests(items: int, days: int, tau: float):
    """Mean error [W] of the best as measured, and shrunken; share of intervals that hold.

    500 tests each, standard errors of the means 0.02 to 0.05:

    ============ ================ ================ ================
    items, tau   1 day            2 days           4 days
    ============ ================ ================ ================
    3, 0         +0.63 +0.14 .99  +0.43 +0.10 .97  +0.31 +0.06 .96
    3, 1         +0.38 -0.11 .99  +0.22 -0.09 .98  +0.11 -0.09 .93
    6, 0         +0.97 +0.17 .98  +0.65 +0.08 .97  +0.49 +0.08 .98
    6, 1         +0.61 -0.15 .97  +0.29 -0.18 .95  +0.20 -0.06 .96
    ============ ================ ================ ================
    """
    found = shown_and_true(items, days, tau, 300)
    (raw, left, held), error = found.mean(axis=0), found.std(axis=0)[1] / np.sqrt(len(found))
    assert abs(left) < 0.2 + 2 * error
    assert raw > max(abs(left), 0.05)
    assert held > 0.91


# --- ranked by what is sure, and a further day ----------------------------------------------------


@pytest.mark.xdist_group("value race.toml")
def test_options_are_ranked_by_what_they_save_in_nine_cases_of_ten():
    """1.281552 and 1.959964 are the one-sided 90 % and two-sided 95 % points of the normal."""
    found = answered("value", "race.toml").json
    by_name = {one["name"]: one for one in found["options"]}
    for one in by_name.values():
        if one["saved_s_low"] is None:
            assert one["surely_saved_s"] is None
        else:
            doubt = (one["saved_s_high"] - one["saved_s_low"]) / 2 / 1.959964
            assert one["surely_saved_s"] == pytest.approx(one["saved_s"] - 1.281552 * doubt)
    assert (found["ranked_by"], found["ranking"][0]) == ("seconds", "Ostrewyn Ripple suit")
    ranked = answered("value", "race.toml", "--order", "sure seconds")
    surely = [by_name[name]["surely_saved_s"] for name in ranked.json["ranking"]]
    assert surely[-1] is None
    assert surely[:-1] == sorted(surely[:-1], reverse=True)
    assert ranked.json["ranking"] != found["ranking"]
    assert "Ranked by the seconds that each saves, or more, in nine cases of ten." in flat(
        ranked.text()
    )


def question(**asked: object) -> PricedQuestion:
    return PricedQuestion(per_second=euros(20), **asked)


def prospect_of(runs: Runs, **more: object) -> Prospect:
    option = replace(Option("B", price=euros(100), trial=runs), **more)
    (found,), _ = prospects_of(ridden(), [option], question())
    return found


@pytest.mark.parametrize("pairs", [1, 2, 12])
def test_a_further_day_is_off_by_its_runs_and_by_the_day(pairs: int):
    """phi = 0.701817 at r = 0.32 with 2.858485 df, as worked in `test_days`; a day brings one.

    The error of n pairs on one day is sqrt(phi (2 r + 2 / n)); for n = 2 as ridden it is that of
    the test times the root of its two days, 0.758610 sqrt(2).
    """
    found = prospect_of(e1())
    error = np.sqrt(0.701817 * (0.64 + 2 / pairs))
    assert np.sqrt(0.701817 * 1.64) == pytest.approx(0.758610 * np.sqrt(2), rel=1e-5)
    ratio = error * t.ppf(0.975, 3.858485) / (0.758610 * t.ppf(0.975, 2.858485))
    assert found.error_of(pairs) / found.doubt_s == pytest.approx(ratio, rel=1e-4)


def test_how_many_items_were_tested_does_not_widen_a_further_day():
    """By hand: the error of one difference with its own t, and no quantile of the largest of 3."""
    runs = three()
    _, error, df = by_hand(runs)
    found, watts = prospect_of(runs), evidence_for(Option("B", trial=runs), ridden()).doubt
    day = AREA * error * np.sqrt(2) * t.ppf(0.975, df + 1) / NORMAL
    assert found.error_of(2) / found.doubt_s == pytest.approx(day / watts, rel=1e-5)


def test_a_further_day_on_a_rider_whom_others_foretell():
    """s of the runs, 0.8 s from day to day, and both only as sure as the runs and 4 days."""
    riders = [rider for rider in "RST" for _ in "ABBA"]
    noise = np.tile([0.2, -0.2, 0.3, -0.3], 3)
    values = [v for saved in (2, 3, 4) for v in (250, 250 - saved, 250 - saved, 250)]
    runs = runs_of(
        "ABBA" * 3, values + noise, riders, [0, 1, 2, 3] * 3, "power", 12.0, riders=riders
    )
    found, trials = prospect_of(runs), answer(runs).trials.values()
    s = np.sqrt(np.mean([one.repeatability**2 for one in trials]))
    df = max(one.repeatability_df for one in trials)
    plain = s * np.sqrt(0.64 + 2 / 3)
    freedom = 1 / (1 / df + (0.64 / (0.64 + 2 / 3)) ** 2 / 4)
    watts = evidence_for(Option("B", trial=runs), ridden()).doubt
    ratio = plain * t.ppf(0.975, freedom) / NORMAL / watts
    assert found.error_of(3) / found.doubt_s == pytest.approx(ratio, rel=1e-5)


@pytest.mark.parametrize("rounds", [1, 10])
def test_runs_repeated_on_one_day_do_not_take_away_the_day(rounds: int):
    """SE of n runs of each on one day: s sqrt(0.8^2 + 2 / n), never below 0.8 s."""
    items = "ABBA" * 2 * rounds
    noise = np.random.default_rng(8).normal(size=len(items))
    trial = answer(table(items, 250.0 + noise, days=1)).trial
    error = trial.repeatability * np.sqrt(0.64 + 2 / (4 * rounds))
    assert trial.items[0].standard_error == pytest.approx(error, rel=1e-9)
