"""One option against another: two rides, their shared doubts, money, the set in use, the page."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm, t

from racecalc.answers.against import AgainstAnswer, against_sheet
from racecalc.answers.basis import Basis
from racecalc.answers.sheet import Depth
from racecalc.decisions.against import Rivals, rivals_of
from racecalc.decisions.doubt import time_band
from racecalc.decisions.riding import Ridden
from racecalc.decisions.sets import shared_in_tests
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option, Restrictions, read_saving
from racecalc.domain.race import Doubts
from racecalc.views.width import columns_of
from racecalc.views.writers.terminal import sheet_text
from tests.answered import answered
from tests.builders import BEARINGS, euros, flat_course, race, steady_start
from tests.evidence.runs import runs_of

NORMAL_95 = 1.959964
"""Two-sided 95 % point of the normal distribution (any table of it)."""

LENGTH, CDA, POWER, MASS = 10_000.0, 0.25, 250.0, 80.0


def area(name: str, saves: float, doubt: float | None = None, **more) -> Option:
    """An option that saves a drag area [m^2]."""
    stated = None if doubt is None else read_saving(f"{doubt!r} m^2")
    return Option(name, saves=read_saving(f"{saves!r} m^2"), doubt=stated, **more)


WHEEL = area("Wheel", 0.004, 0.001, price=euros(300))
SUIT = area("Suit", 0.006, 0.002, price=euros(420))


def ridden(*options: Option, **changes) -> Ridden:
    """Ten flat kilometres at 250 W in still air of density 1.2, begun at the steady speed."""
    course = flat_course(LENGTH)
    return ride_in_use(steady_start(race(course=course, options=options, step=50.0, **changes)))


def against(one: Option, other: Option, *others: Option, **changes) -> Rivals:
    return rivals_of(ridden(one, other, *others, **changes), (one.name,), (other.name,))


def integrated(cda: float, power: float = POWER) -> float:
    """Time [s] by the equation of motion alone: m v dv/dx = P/v - F, marched over 2 m a step."""
    start = steady_start(race(cda=CDA, power=power)).bike.start_speed

    def push(v: float) -> float:
        drag = 0.6 * cda * v * v + 0.004 * MASS * 9.80665
        bearings = BEARINGS["bearing_drag"] + BEARINGS["bearing_drag_slope"] * v
        return (0.975 * power / v - drag - bearings) / (MASS * v)

    v, step, time = start, 2.0, 0.0
    for _ in range(int(LENGTH / step)):
        a = push(v)
        b = push(v + 0.5 * step * a)
        c = push(v + 0.5 * step * b)
        after = v + step / 6.0 * (a + 2 * b + 2 * c + push(v + step * c))
        time += step * 0.5 * (1.0 / v + 1.0 / after)
        v = after
    return time


# --- seconds and their doubt ---------------------------------------------------------------------


def test_the_difference_is_that_of_two_rides() -> None:
    found = against(WHEEL, SUIT)
    wheel, suit, bare = integrated(CDA - 0.004), integrated(CDA - 0.006), integrated(CDA)
    assert found.gain.saved_s == pytest.approx(suit - wheel, abs=0.01)
    assert [side.gain.saved_s for side in found.sides] == pytest.approx(
        [bare - wheel, bare - suit], abs=0.01
    )
    # Each doubt by moving its own drag area one standard uncertainty either way.
    spread = [
        0.5 * (integrated(CDA - saves + doubt) - integrated(CDA - saves - doubt))
        for saves, doubt in ((0.004, 0.001), (0.006, 0.002))
    ]
    doubt = math.hypot(*spread)
    low, high = found.gain.saved_s_low, found.gain.saved_s_high
    assert 0.5 * (high - low) == pytest.approx(NORMAL_95 * doubt, rel=0.01)
    chance = norm.cdf((suit - wheel) / doubt)
    assert found.gain.chance_faster == pytest.approx(chance, abs=0.002)
    assert (found.gain.verdict, found.faster) == ("undecided", "Suit")


def test_the_other_way_round_is_the_opposite() -> None:
    one, other = against(WHEEL, SUIT), against(SUIT, WHEEL)
    assert one.gain.saved_s == pytest.approx(-other.gain.saved_s, abs=1e-9)
    assert one.gain.turned.saving == pytest.approx(other.gain.saving, abs=1e-6)
    assert one.gain.chance_faster == pytest.approx(1.0 - other.gain.chance_faster, abs=1e-9)
    assert one.further_cost == other.further_cost == 120.0
    assert one.cost_per_further_second == pytest.approx(other.cost_per_further_second)


def test_both_together_and_what_the_difference_is_made_of() -> None:
    found = against(WHEEL, SUIT)
    (both,) = found.together
    assert both.gain.saved_s == pytest.approx(integrated(CDA) - integrated(CDA - 0.01), abs=0.01)
    assert (both.cost, both.cash) == (720.0, 720)
    assert math.fsum(vars(found.parts).values()) == pytest.approx(found.gain.saved_s, abs=1e-6)
    heavy = against(replace(WHEEL, mass=1.0), SUIT)
    assert heavy.parts.mass_s < 0
    assert math.fsum(vars(heavy.parts).values()) == pytest.approx(heavy.gain.saved_s, abs=1e-4)
    one_slot = [replace(one, slot="body") for one in (WHEEL, SUIT)]
    assert against(*one_slot).together == ()
    # Each leaves a bike, both leave none.
    assert against(area("Half", 0.13, 0.001), area("Other half", 0.13, 0.001)).together == ()


def test_what_both_sides_have_in_common_cancels() -> None:
    """Covers of a large doubt on both sides move neither the doubt nor the chance."""
    covers = area("Covers", 0.003, 0.02)
    base = ridden(WHEEL, SUIT, covers)
    found = rivals_of(base, ("Wheel", "Covers"), ("Suit", "Covers"))
    alone = rivals_of(base, ("Wheel",), ("Suit",))
    assert [one.name for one in found.doubts] == ["Suit", "Wheel"]
    assert found.gain.doubt_s == pytest.approx(alone.gain.doubt_s, rel=0.05)
    saved = integrated(CDA - 0.009) - integrated(CDA - 0.007)
    assert found.gain.saved_s == pytest.approx(saved, abs=0.01)


def test_a_doubt_that_is_not_stated_leaves_no_chance() -> None:
    claim = area("Claim", 0.02)
    found = against(claim, SUIT)
    assert found.gain.saving[1:] == (None, None)
    assert (found.gain.chance_faster, found.gain.verdict) == (None, "undecided")
    assert "no chance is known, as no doubt is stated for Claim" in page(claim, SUIT)


# --- options of one table of runs ----------------------------------------------------------------

ITEMS = ("Old", "Wheel", "Suit", "Suit", "Wheel", "Old") * 3
SESSIONS = tuple(name for name in ("a", "b", "c") for _ in range(6))
TRUE = {"Old": 0.250, "Wheel": 0.2465, "Suit": 0.243}


def measured(seed: int = 4) -> tuple[np.ndarray, tuple[Option, Option]]:
    """Invented runs with a scatter of 0.002 m^2 and a drift, and the options that name them."""
    noise = np.random.default_rng(seed).normal(scale=0.002, size=len(ITEMS))
    values = np.array([TRUE[item] for item in ITEMS]) + noise + 0.0003 * (np.arange(18) % 6)
    runs = runs_of(ITEMS, values, SESSIONS)
    wheel, suit = (Option(name, trial=runs, trial_baseline="Old") for name in ("Wheel", "Suit"))
    return values, (wheel, suit)


def least_squares(values: np.ndarray) -> tuple[np.ndarray, float, float]:
    """Item effects, variance of an item's mean on any day and its degrees of freedom.

    By two wide regressions of numpy: with one effect an item, and with one an item and session. A
    difference is taken to change from day to day by 0.8 of what a run scatters, which adds 0.32 for
    each item to the 1/2 of its two runs a day; days and runs then share the error by their degrees
    of freedom (Welch and Satterthwaite, JCGM 100:2008, G.4.1; from memory).
    """
    order = np.arange(18) % 6 + 1.0
    common = [np.equal(SESSIONS, name) for name in "abc"]
    common += [np.equal(SESSIONS, name) * order for name in "abc"]
    items = [np.equal(ITEMS, name) for name in ("Wheel", "Suit")]
    apart = [item & np.equal(SESSIONS, name) for item in items for name in "abc"]
    (beta, whole), (_, within) = (
        np.linalg.lstsq(np.array([*own, *common], float).T, values)[:2] for own in (items, apart)
    )
    part, run = 2 * 0.32, float(within[0]) / 6
    own = 1 / (1 / 6 + (part / (1 + part)) ** 2 / 4)
    df = own + 4
    variance = (own * run + float(whole[0] - within[0]) / (1 + part)) / df
    return beta[:2], variance * (1 + part) / 6, df


def test_one_table_of_runs_gives_the_contrast_of_its_fit() -> None:
    values, (wheel, suit) = measured()
    effect, variance, df = least_squares(values)
    found = against(wheel, suit)
    seconds = (integrated(CDA - 0.004) - integrated(CDA - 0.006)) / 0.002
    assert found.gain.saved_s == pytest.approx(seconds * (effect[1] - effect[0]), rel=0.02)
    error = math.sqrt(2 * variance)
    half = 0.5 * (found.gain.saved_s_high - found.gain.saved_s_low)
    assert half == pytest.approx(t.ppf(0.975, df) * error * seconds, rel=0.02)
    assert found.tests == ("runs.csv",)
    # In a set the shared baseline adds instead: both are too good if its runs were too slow.
    (both,) = found.together
    sum_error = math.sqrt((1 + 1 + 4) * variance)
    half = 0.5 * (both.gain.saved_s_high - both.gain.saved_s_low)
    assert half == pytest.approx(t.ppf(0.975, df) * sum_error * seconds, rel=0.03)


def test_one_sweep_of_a_tunnel_leaves_its_baseline_out() -> None:
    """In still air only yaw 0 counts, where each item has two repeats d apart."""
    apart = {"Old": 0.001, "Wheel": 0.0006, "Suit": 0.0014}
    items = [name for name in apart for _ in range(4)]
    values = [TRUE[name] + more for name, d in apart.items() for more in (0.0, d, 0.0, 0.0)]
    runs = replace(runs_of(items, values), yaw=np.radians([0.0, 0.0, 5.0, 10.0] * 3))
    pair = [Option(name, trial=runs, trial_baseline="Old") for name in ("Wheel", "Suit")]
    found = against(*pair)
    # Three pairs of repeats: s^2 = sum(d^2 / 2) / 3, and each mean is of two runs.
    scatter = math.sqrt(sum(0.5 * d * d for d in apart.values()) / 3)
    error = math.hypot(scatter / math.sqrt(2), scatter / math.sqrt(2))
    seconds = (integrated(CDA - 0.004) - integrated(CDA - 0.006)) / 0.002
    half = 0.5 * (found.gain.saved_s_high - found.gain.saved_s_low)
    assert half == pytest.approx(t.ppf(0.975, 3) * error * seconds, rel=0.02)


def test_two_tables_share_nothing() -> None:
    _, (wheel, _) = measured()
    _, (_, suit) = measured(5)
    found = against(wheel, suit)
    assert found.tests == ()
    doubts = [one.doubt_s for one in found.doubts]
    assert found.gain.doubt_s == pytest.approx(math.hypot(*doubts))


def test_a_test_that_cannot_compare_them_counts_as_two() -> None:
    """One of two riders never rode the suit, so that no run of his tells wheel from suit."""
    values, _ = measured()
    items = (*ITEMS, *(item for item in ITEMS if item != "Suit"))
    riders = ("Ann",) * 18 + ("Bo",) * 12
    sessions = (*SESSIONS, *("d",) * 12)
    runs = runs_of(items, [*values, *values[:12]], sessions, riders=riders)
    pair = [
        Option(name, trial=runs, trial_baseline="Old", trial_rider="Ann")
        for name in ("Wheel", "Suit")
    ]
    assert shared_in_tests(pair, ridden()) == pytest.approx(np.eye(2))


# --- doubts of the race --------------------------------------------------------------------------


def test_doubts_of_the_race_cancel() -> None:
    """With 10 W of doubt in the power, against rides solved in full at drawn powers and savings."""
    doubts = Doubts(power=10.0)
    base = ridden(WHEEL, SUIT, doubts=doubts)
    found = rivals_of(base, ("Wheel",), ("Suit",))
    draw = np.random.default_rng(11)
    powers = POWER + draw.normal(scale=10.0, size=250)
    savings = draw.normal((0.004, 0.006), (0.001, 0.002), size=(250, 2))

    def solved(power: float, saves: float) -> float:
        drawn = base.race.with_power(power)
        cda = drawn.bike.cda.plus(-saves)
        return base.variant(replace(drawn, bike=replace(drawn.bike, cda=cda))).time

    differences = [
        solved(power, suit) - solved(power, wheel)
        for power, (wheel, suit) in zip(powers, savings, strict=True)
    ]
    assert found.band is not None
    spread = found.band.spread
    assert spread.standard_deviation_s == pytest.approx(np.std(differences), rel=0.12)
    assert spread.standard_deviation_s < 0.25 * time_band(base).spread.standard_deviation_s
    assert found.gain.saved_s_low == pytest.approx(np.quantile(differences, 0.025), abs=1.2)


# --- money ---------------------------------------------------------------------------------------


def test_the_price_of_each_further_second() -> None:
    found = against(WHEEL, SUIT)
    saved = integrated(CDA - 0.004) - integrated(CDA - 0.006)
    assert found.further_cost == 120.0
    assert found.cost_per_further_second == pytest.approx(120.0 / saved, rel=0.005)
    low, high = found.gain.saved_s_low, found.gain.saved_s_high
    assert found.cost_per_further_second_low == pytest.approx(120.0 / max(-low, high))
    assert found.cost_per_further_second_high is None
    rate = f"Suit costs 120 EUR more: {120.0 / saved:.0f} EUR for each further second"
    assert f"{rate}, if it is faster at all." in page(WHEEL, SUIT)


def test_what_is_faster_and_cheaper_is_said() -> None:
    cheap = replace(SUIT, price=euros(100))
    found = against(WHEEL, cheap)
    assert (found.further_cost, found.cost_per_further_second) == (-200.0, None)
    assert "Suit also costs less: 100 EUR, against 300 EUR." in page(WHEEL, cheap)
    assert "Neither costs more than the other." in page(WHEEL, replace(SUIT, price=euros(300)))


def test_equal_sides_are_equally_fast() -> None:
    twin = replace(WHEEL, name="Twin")
    assert page(WHEEL, twin).startswith("Wheel is as fast as Twin, between -3 and 3 s")


def test_a_tie_is_left_to_price_and_comfort() -> None:
    sure, alike = area("Wheel", 0.004, 0.0001), area("Suit", 0.0041, 0.0001)
    found = against(sure, alike)
    assert found.gain.verdict == "tie"
    assert "Too little to matter: choose by price or comfort." in page(sure, alike)


def test_a_price_that_is_not_stated_is_said() -> None:
    unpriced = replace(SUIT, price=None)
    assert against(WHEEL, unpriced).further_cost is None
    assert "Price unknown: Suit." in page(WHEEL, unpriced)


# --- what must not be overlooked -----------------------------------------------------------------


def page(one: Option, other: Option, depth: Depth = Depth.ANSWER) -> str:
    base = ridden(one, other)
    found = rivals_of(base, (one.name,), (other.name,))
    answer = AgainstAnswer(base.time, found, Basis.of(base))
    with columns_of(500):
        return sheet_text(against_sheet(answer, "metric"), depth)


def test_what_rules_forbid_is_named_with_the_answer() -> None:
    banned = replace(SUIT, restrictions=Restrictions(rules="forbidden"))
    assert "Forbidden: Suit." in page(WHEEL, banned)
    assert against(WHEEL, banned).sides[1].forbidden == ("Suit",)


def test_what_the_weather_forbids_is_named_with_the_answer() -> None:
    words = answered(
        *("against", "race.toml", "One bottle left at home", "Hot-waxed chain"),
        *("--set", "air.temperature=26 degC", "--set", "course.step=100 m"),
    )
    assert "Not in this weather, whatever they save: One bottle left at home: too hot." in " ".join(
        words.text().split()
    )
    assert "heat matters more" in words.json["sides"][0]["unsafe"]["One bottle left at home"]


# --- with a set in use ---------------------------------------------------------------------------

FILE = """
[rider]
mass = "70 kg"
power = "250 W"
[bike]
mass = "9 kg"
cda = "0.25 m^2"
crr = 0.004
[air]
density = "1.2 kg/m^3"
[course]
distance = "10 km"
step = "50 m"
[[option]]
name = "Wheel"
saves = "0.004 m^2"
doubt = "0.001 m^2"
price = "300 EUR"
[[option]]
name = "Suit"
slot = "suit"
saves = "0.006 m^2"
doubt = "0.002 m^2"
price = "420 EUR"
[[option]]
name = "Old suit"
slot = "suit"
saves = "0.002 m^2"
doubt = "0.001 m^2"
price = "90 EUR"
[[option]]
name = "Long suit"
slot = "suit"
needs = ["Zip"]
saves = "0.005 m^2"
doubt = "0.002 m^2"
[[option]]
name = "Zip"
price = "5 EUR"
saves = "0.0002 m^2"
doubt = "0.0001 m^2"
"""


@pytest.fixture
def canal(tmp_path: Path) -> Path:
    path = tmp_path / "canal.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


def time_at(path: Path, cda: float) -> float:
    """Time of the race file with its drag area written out and nothing in use."""
    return ride_in_use(load_race(path, [f"bike.cda={cda!r} m^2"])).time


def in_use(path: Path, *use: str) -> Ridden:
    return ride_in_use(replace(load_race(path), use=use))


def test_each_goes_in_the_place_of_what_cannot_stay(canal: Path) -> None:
    """The old suit stays under the wheel and goes for the suit."""
    found = rivals_of(in_use(canal, "Old suit"), ("Wheel",), ("Suit",))
    saved = time_at(canal, CDA - 0.006) - time_at(canal, CDA - 0.002 - 0.004)
    assert found.gain.saved_s == pytest.approx(saved, abs=1e-6)
    assert [side.replaces for side in found.sides] == [(), ("Old suit",)]
    assert [one.name for one in found.doubts] == ["Suit", "Wheel", "Old suit"]


def test_one_that_is_in_use_is_left_for_the_other_and_costs_nothing_more(canal: Path) -> None:
    found = rivals_of(in_use(canal, "Suit"), ("Wheel",), ("Suit",))
    saved = time_at(canal, CDA - 0.006) - time_at(canal, CDA - 0.004)
    assert found.gain.saved_s == pytest.approx(saved, abs=1e-6)
    assert [side.cost for side in found.sides] == [300.0, 0.0]
    assert [side.replaces for side in found.sides] == [(), ()]


def test_what_one_needs_comes_with_it(canal: Path) -> None:
    found = rivals_of(in_use(canal), ("Long suit",), ("Suit",))
    saved = time_at(canal, CDA - 0.006) - time_at(canal, CDA - 0.0052)
    assert found.gain.saved_s == pytest.approx(saved, abs=1e-6)
    assert found.sides[0].brings == ("Zip",)
    assert found.sides[0].unpriced == ("Long suit",)


# --- the command ---------------------------------------------------------------------------------


def test_the_command_says_the_answer_first(racecalc, canal: Path) -> None:
    status, out, err = racecalc("against", canal, "Wheel", "Suit")
    assert (status, err) == (0, "")
    assert out.startswith("Suit is ")
    status, out, _ = racecalc("against", canal, "Wheel", "Suit", "--json", "--use", "Old suit")
    answer = json.loads(out)
    # Wheel and old suit together are worth just what the suit is.
    assert answer["gain"]["saved_s"] == pytest.approx(0.0, abs=1e-6)
    assert answer["use"] == ["Old suit"]
    assert answer["sides"][1]["replaces"] == ["Old suit"]


@pytest.mark.parametrize(
    ("sides", "problem"),
    [
        (("Whel", "Suit"), "there is no option 'Whel'; did you mean 'Wheel'?"),
        (("Suit", "Suit"), "'Suit' is set against itself"),
        (("Wheel + Zip", "Zip + Wheel"), "'Wheel + Zip' is set against itself"),
        (("Suit + Old suit", "Wheel"), "two options of the slot 'suit'"),
        (("Wheel + Wheel", "Suit"), "'Wheel' is named twice"),
        (("Long suit + Wheel", "Suit"), "'Long suit' needs 'Zip'"),
    ],
)
def test_what_cannot_be_asked(racecalc, canal: Path, sides, problem: str) -> None:
    status, out, err = racecalc("against", canal, *sides)
    assert (status, out) == (2, "")
    assert problem in err
    assert err.count("\n") == 1


def test_an_option_that_cannot_be_worked_out_is_named(racecalc, canal: Path) -> None:
    huge = "option.1.saves=0.3 m^2"
    status, _, err = racecalc("against", canal, "Wheel", "Suit", "--set", huge)
    assert status == 2
    assert "option Wheel, a change of -0.3" in err
    assert err.count("\n") == 1
