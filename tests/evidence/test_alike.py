"""What may be compared with what: air and speed, yaw, mountings, unequal runs, loops, sizes.

Powers are made by hand from the balance of a level road in still air; error rates of designs are
counted with mountings, scatters and days that the analysis does not know.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from racecalc.decisions.evidence.alike import loops_of, made_alike
from racecalc.decisions.evidence.for_option import evidence_for
from racecalc.decisions.evidence.least_squares import design_of
from racecalc.decisions.evidence.trial import Asked, analyse, answer
from racecalc.decisions.measuring.balance import Setup
from racecalc.decisions.riding import ride
from racecalc.decisions.value import value_of
from racecalc.domain.option import Option, read_saving
from racecalc.errors import InputError
from tests.builders import race
from tests.evidence.runs import runs_of
from tests.evidence.test_days import design_in, fits_of_all, winners

BIKE = Setup(80.0, 0.004, 0.98, 0.09, 0.009, 1.4)


def watts(area, speed, density, bike=BIKE):
    """Martin et al. 1998 at a steady speed: air, tyres, bearings and drivetrain, term by term."""
    air = 0.5 * density * area * speed**2
    tyres = bike.crr * bike.mass * 9.80665
    bearings = bike.bearing_drag + bike.bearing_drag_slope * speed
    return (air + tyres + bearings) * speed / bike.efficiency


def powers(items, area, speed, density, scatter=0.4, seed=1, **more):
    """Runs in watts, each with its own speed and air."""
    count = len(items)
    speed, density = np.broadcast_to(speed, count), np.broadcast_to(density, count)
    values = watts(np.broadcast_to(area, count), speed, density)
    values = values + scatter * np.random.default_rng(seed).standard_normal(count)
    runs = runs_of(items, values, measure="power", **more)
    return replace(runs, speed=np.array(speed, float), density=np.array(density, float))


def by_item(items, **values):
    return np.array([values[item] for item in items])


class TestWatts:
    def test_one_area_in_two_airs_is_no_difference(self):
        """1.16 against 1.20 kg/m^3: 7.7 W at 12 m/s, which is the air and not the item."""
        runs = powers("ABBAABBA", 0.25, 12.0, by_item("ABBAABBA", A=1.20, B=1.16))
        assert analyse(runs).items[0].verdict == "faster"  # as they are
        with pytest.raises(InputError, match=r"leaves .* of their difference open, .* --mass"):
            answer(runs)
        found = answer(made_alike(runs, BIKE)).trial
        assert found.measure == "cda"
        assert found.baseline.mean == pytest.approx(0.25, abs=3e-4)
        assert found.items[0].low < 0.0 < found.items[0].high
        assert found.items[0].verdict != "faster"

    @pytest.mark.parametrize("speed", [9.0, 12.5, 15.0])
    def test_the_area_that_made_the_watts(self, speed):
        areas = by_item("ABBA", A=0.25, B=0.24)
        runs = powers("ABBA", areas, speed * np.array([1, 1.02, 0.98, 1]), 1.18, scatter=0.0)
        assert made_alike(runs, BIKE).value == pytest.approx(areas, rel=1e-12)

    def test_watts_stated_by_the_tester_are_those_of_the_meter(self):
        """1 W at the cranks is 0.98 W at the road: 0.98 / (1/2 1.2 12^3) m^2."""
        runs = powers("ABBAABBA", 0.25, 12.0, 1.2)
        found = answer(made_alike(runs, BIKE)).trial
        assert found.margin == pytest.approx(0.98 / (0.5 * 1.2 * 12**3))
        own = answer(runs).trial
        assert own.measure == "power"
        ratio = found.items[0].low / own.items[0].low
        assert ratio == pytest.approx(0.98 / (0.5 * 1.2 * 12**3), rel=1e-9)

    def test_without_a_bike_they_are_brought_to_one_speed(self):
        """By hand, 85 % of 250 W as the cube of the speed: 250 (.85 / 1.01^3 + .15 / 1.01)."""
        runs = replace(
            runs_of("ABA", [250.0, 250.0, 250.0], measure="power", density=1.2),
            speed=np.array([12.0, 12.12, 12.0]),
        )
        found = made_alike(runs)
        assert found.value[1] == pytest.approx(250 * (0.85 / 1.01**3 + 0.15 / 1.01))
        ends = [250 * (f / 1.01**3 + (1 - f) / 1.01) for f in (0.70, 0.95)]
        assert found.leeway == pytest.approx([0.0, ends[1] - ends[0], 0.0])
        assert np.all(found.speed == 12.0)

    def test_they_are_refused_from_a_third_of_the_margin_on(self):
        """B in air thinner by d: 0.25 of its watts x d is open, a third of 1 W at d = 0.533 %."""
        for thinner, refused in ((0.0050, False), (0.0057, True)):
            density = by_item("ABBAABBA", A=1.2, B=1.2 * (1 - thinner))
            runs = powers("ABBAABBA", 0.25, 12.0, density)
            runs = replace(runs, value=runs.value * 250 / np.mean(runs.value))
            if refused:
                with pytest.raises(InputError, match=r"more than a third of the margin of 1\.0 W"):
                    answer(runs)
            else:
                assert answer(runs).trial.measure == "power"

    def test_a_drift_of_the_air_moves_nothing(self):
        """Warming air over A-B-B-A is a straight line, which the fit takes out."""
        runs = powers("ABBAABBA", 0.25, 12.0, 1.2 - 0.004 * np.arange(8))
        assert abs(answer(runs).trial.items[0].difference) < 1.0

    def test_rolling_resistance_that_is_off(self):
        """2 m g dCrr (1 / rho v^2 of the item - of the baseline), half a margin apart."""
        speed = by_item("ABBAABBA", A=12.0, B=10.8)
        runs = powers("ABBAABBA", 0.25, speed, 1.2)
        off = 2 * 80 * 9.80665 * 0.001 / 1.2 * (1 / 10.8**2 - 1 / 12.0**2)
        alike = made_alike(runs, BIKE)
        found = answer(alike, margin=2 * off).trial
        assert f"so is its difference by {off:.4f} m^2" in found.warnings[0]
        assert not answer(alike, margin=4 * off).trial.warnings
        with pytest.raises(InputError, match="ride both at one speed"):
            answer(alike, margin=0.9 * off)

    def test_mostly_rolling_is_no_drag_area(self):
        with pytest.raises(InputError, match=r"line 2: only 4\d% of the power goes into the air"):
            made_alike(powers("ABBA", 0.25, 4.5, 1.2, scatter=0.0), BIKE)

    def test_density_of_some_runs_only_is_refused(self):
        runs = powers("ABBA", 0.25, 12.0, 1.2)
        with pytest.raises(InputError, match="without density"):
            made_alike(replace(runs, density=np.array([1.2, np.nan, 1.2, 1.2])))


def test_an_option_saves_the_same_by_watts_and_by_its_runs():
    """At one speed and in one air mass and Crr cancel: the seconds are those of the watts."""
    runs = powers("ABBAABBA", by_item("ABBAABBA", A=0.25, B=0.245), 12.0, 1.15)
    base = ride(race())
    option = Option("B", trial=runs, test_power_at="cranks")
    tested = value_of(base, option)
    saved = -analyse(runs).items[0].difference
    stated = Option(
        "B",
        saves=replace(read_saving("3 W at 43.2 km/h"), amount=saved),
        test_density=1.15,
        test_power_at="cranks",
    )
    assert tested.saved_s == pytest.approx(value_of(base, stated).saved_s, rel=1e-6)
    found = evidence_for(replace(option, trial_day_to_day=2.0), base)
    narrow = evidence_for(replace(option, trial_day_to_day=0.1), base)
    assert (found.measure, found.saving) == ("cda", pytest.approx(narrow.saving, rel=1e-3))
    assert found.doubt > 2 * narrow.doubt  # its watts were turned into drag area too


# --- Warnings ------------------------------------------------------------------------------------


def test_watts_without_density_say_so():
    (said,) = analyse(runs_of("ABBA", 250 + SCATTER[:4], measure="power", speed=12.0)).warnings
    assert said.startswith("Air density is not stated")


def test_yaw_that_differs_is_named():
    runs = runs_of("ABBAABBA", 0.25 + 1e-4 * np.arange(8) % 3)
    for yaw, said in (({"A": 3.0, "B": -5.5}, True), ({"A": 3.0, "B": -3.6}, False)):
        degrees = by_item("ABBAABBA", **yaw)
        found = analyse(replace(runs, yaw=np.radians(degrees)))
        assert any("was 2.5 deg larger than that of 'A'" in one for one in found.warnings) == said


SCATTER = np.array([0.1, -0.2, 0.15, -0.05, 0.2, -0.1, -0.15, 0.05, 0.12, -0.12, 0.03, -0.07])


class TestMountings:
    def test_runs_of_a_mounting_count_once(self):
        """The same answer as from the means of the four mountings, worked out beforehand."""
        values = 250 + SCATTER[:8]
        order = np.arange(8.0)
        runs = runs_of("AABBBBAA", values, order=order, measure="power", speed=12.0, density=1.2)
        found = analyse(replace(runs, mounting=("1", "1", "2", "2", "3", "3", "4", "4")))
        means = runs_of(
            "ABBA", values.reshape(4, 2).mean(1), order=[0.5, 2.5, 4.5, 6.5],
            measure="power", speed=12.0, density=1.2,
        )  # fmt: skip
        (item,), (by_hand,) = found.items, analyse(means).items
        assert (item.runs, item.df) == (2, pytest.approx(by_hand.df))
        assert item.difference == pytest.approx(by_hand.difference)
        assert item.low == pytest.approx(by_hand.low)
        assert "8 runs of 4 mountings" in " ".join(found.notes)
        assert not found.warnings

    def test_without_the_column_four_on_end_are_pointed_at(self):
        values = 250 + SCATTER[:8] - 2.0 * np.array([0, 0, 1, 1, 1, 1, 0, 0])
        found = analyse(runs_of("AABBBBAA", values, measure="power", speed=12.0, density=1.2))
        (said,) = found.warnings
        assert "'B' was ridden 4 times on end" in said
        assert not analyse(
            runs_of("ABBAABBA", values, measure="power", speed=12.0, density=1.2)
        ).warnings

    def test_what_rests_on_such_runs_says_so(self):
        runs = runs_of("AABBBBAA", 0.25 + 1e-3 * SCATTER[:8])
        assert evidence_for(Option("B", trial=runs), ride(race())).words.endswith("warns of it")
        alternated = Option("B", trial=runs_of("ABBABAAB", runs.value))
        assert "warns" not in evidence_for(alternated, ride(race())).words

    def test_one_stretch_in_all_gives_no_winner(self):
        values = 250 + SCATTER - np.repeat([0, 9.0, 0], 4)
        (item,) = analyse(
            runs_of("AAAABBBBAAAA", values, measure="power", speed=12.0, density=1.2)
        ).items
        assert (item.verdict, item.verdict_that_day) == ("undecided", "undecided")
        assert "one mounting" in item.because

    def test_each_day_is_mounted_anew(self):
        runs = runs_of(
            "AABB" * 2,
            250 + SCATTER[:8],
            list("xxxxyyyy"),
            measure="power",
            speed=12.0,
            density=1.2,
        )
        assert not analyse(runs).warnings


class TestUnequal:
    def test_fewer_runs_that_scatter_more(self):
        order = "AABAABAABAAB"
        scatter = SCATTER * np.array([6.0 if item == "B" else 1.0 for item in order])
        (said,) = analyse(
            runs_of(order, 250 + scatter, measure="power", speed=12.0, density=1.2)
        ).warnings
        assert "'A' was ridden 8 times and 'B' 4, which scatters" in said

    def test_equal_numbers_are_safe(self):
        scatter = SCATTER * np.array([6.0 if item == "B" else 1.0 for item in "ABBAABBAABBA"])
        assert not analyse(
            runs_of("ABBAABBAABBA", 250 + scatter, measure="power", density=1.2)
        ).warnings

    @pytest.mark.parametrize("days", [2, 3])
    def test_a_baseline_ridden_much_more_often(self, days):
        values, sessions = 250 + np.resize(SCATTER, 5 * days), np.repeat(list("xyz"[:days]), 5)
        runs = runs_of("AABAA" * days, values, sessions, measure="power", speed=12.0, density=1.2)
        (said,) = analyse(runs).warnings
        assert "Ride equal numbers" in said


def test_items_of_other_days():
    values = 250 + SCATTER[:8]
    days = list("xxxxyyyy")
    apart = analyse(
        runs_of("ABBACDDC", values, days, measure="power", speed=12.0, density=1.2), baseline="A"
    )
    assert ["is not compared" in one for one in apart.warnings] == [True, True]
    chained = analyse(
        runs_of("ABBABCCB", values, days, measure="power", speed=12.0, density=1.2), baseline="A"
    )
    assert [w for w in chained.warnings if "'C' was never ridden on a day of 'A'" in w]


# --- Loops ---------------------------------------------------------------------------------------


def three_days(ab, bc, ca):
    """A-B, B-C and C-A on a day each, four runs without scatter but for +-0.1."""
    first = np.array([0.0, ab, ab, 0.0, 0.0, bc, bc, 0.0, 0.0, ca, ca, 0.0])
    return 250 + first + 0.1 * np.tile([1, 1, -1, -1], 3)


class TestLoops:
    ORDER = "ABBABCCBCAAC"
    DAYS = tuple("xxxxyyyyzzzz")

    def test_what_the_steps_add_up_to_and_its_doubt(self):
        """-4 - 3 + 5 = -2; a day of ABBA has 2 runs each: s^2 (1/2 + 1/2) + w^2, three times."""
        item, day = np.array([*map("ABC".index, self.ORDER)]), np.repeat(np.arange(3), 4)
        design = design_of(item, day, np.tile(np.arange(4.0), 3))
        (loop,) = loops_of(design, three_days(-4, -3, 5), 0.3, 0.4)
        assert loop.items == (0, 1, 2)
        assert loop.size == pytest.approx(-2.0)
        assert loop.doubt == pytest.approx(math.sqrt(3 * (0.3**2 + 0.4**2)))

    def test_four_items_in_a_ring(self):
        order, days = "ABBABCCBCDDCDAAD", np.repeat(np.arange(4), 4)
        item = np.array([*map("ABCD".index, order)])
        design = design_of(item, days, np.tile(np.arange(4.0), 4))
        steps = np.concatenate([[0, d, d, 0] for d in (1.0, 2.0, 3.0, -1.0)])
        (loop,) = loops_of(design, 250 + steps, 0.3, 0.0)
        assert (loop.items, loop.size) == ((0, 1, 2, 3), pytest.approx(5.0))

    def test_a_loop_that_does_not_close_is_named(self):
        def said(ca):
            runs = runs_of(
                self.ORDER,
                three_days(-4, -3, ca),
                self.DAYS,
                measure="power",
                speed=12.0,
                density=1.2,
            )
            return analyse(runs, baseline="A").warnings

        (line,) = [one for one in said(3.0) if "contradict" in one]
        assert "from 'A' to 'B' to 'C' to 'A' the differences add up to -4.0 W" in line
        assert not [one for one in said(7.0) if "contradict" in one]

    def test_days_that_hold_all_items_have_no_loop(self):
        item = np.array([*map("ABC".index, "ABCCBA" * 2)])
        design = design_of(item, np.repeat([0, 1], 6), np.tile(np.arange(6.0), 2))
        assert loops_of(design, 250 + SCATTER, 0.3, 0.3) == []

    def test_the_doubt_of_a_loop_is_how_it_scatters(self):
        """Of loops that close, size over doubt has SD 1, within four standard errors of 300."""
        rng, sizes = np.random.default_rng(8), []
        item, day = np.array([*map("ABC".index, self.ORDER)]), np.repeat(np.arange(3), 4)
        design = design_of(item, day, np.tile(np.arange(4.0), 3))
        for _ in range(300):
            shift = 0.8 / math.sqrt(2) * rng.standard_normal((3, 3))
            value = 250 + shift[item, day] + rng.standard_normal(12)
            (loop,) = loops_of(design, value, 1.0, 0.8)
            sizes.append(loop.size / loop.doubt)
        assert np.std(sizes) == pytest.approx(1.0, abs=4 / math.sqrt(2 * 300))


# --- Sizes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stated", "other"),
    [
        ({}, ""),
        ({"size": "S"}, ""),
        ({"test_size": "M"}, ""),
        ({"size": "S", "test_size": "M"}, "M"),
        ({"size": " m", "test_size": "M"}, ""),
        ({"size": "S", "trial_item": "Suit, size M"}, "M"),
        ({"size": "M", "trial_item": "Suit, size M"}, ""),
    ],
)
def test_a_size_that_is_not_the_riders(stated, other):
    assert Option("Suit", **stated).other_size == other


# --- How much a design harms ---------------------------------------------------------------------


def harmed(order, tests, mount=0.0, scatter=1.0, stretch=False, change=0.0):
    """Shares of false winners on any day and that day, as mountings, B and days vary."""
    rng = np.random.default_rng(17)
    item = np.array([*map("AB".index, order)])
    clock = np.arange(float(len(item)))
    of = np.cumsum(np.append(0, np.diff(item) != 0))
    first = np.unique(of, return_index=True)[1]
    design = design_in(item, clock)
    if stretch:
        design = design_in(item[first], np.bincount(of, clock) / np.bincount(of))
    values = mount * rng.standard_normal((tests, of[-1] + 1))[:, of]
    values += change / math.sqrt(2) * rng.standard_normal((tests, 2))[:, item]
    values += np.where(item == 1, scatter, 1.0) * rng.standard_normal((tests, len(item)))
    if stretch:
        values = np.array([np.bincount(of, one) for one in values]) / np.bincount(of)
    found = [
        [any(one) for one in winners(fits, Asked("A"))] for fits in fits_of_all(design, values)
    ]
    return np.mean(found, axis=0)


DESIGNS = [
    # The last two: by an independent simulation of that day, without and with the remedy.
    ("AABBBBAA", {"mount": 0.5}, 0.108),
    ("AABBBBAA", {"mount": 1.0}, 0.246),
    ("ABBAABBA", {"mount": 1.0}, 0.111),
    ("ABBABAAB", {"mount": 1.0}, 0.089),
    ("AABBBBAA", {"mount": 1.0, "stretch": True}, 0.045),
    ("ABBABAAB", {"scatter": 3.0}, 0.07),
]


@pytest.mark.parametrize("number", [1, 4])
def test_what_a_design_does(number):
    order, how, worked = DESIGNS[number]
    _, day = harmed(order, 300, **how)
    assert day == pytest.approx(worked, abs=0.01 + 4 * math.sqrt(worked * (1 - worked) / 300))


@pytest.mark.slow
@pytest.mark.parametrize(("order", "how", "worked"), DESIGNS)
def test_what_a_design_does_in_full(order, how, worked):
    any_day, day = harmed(order, 8000, **how)
    print(f"{order} {how}: any day {any_day:.4f}, that day {day:.4f}")
    assert day == pytest.approx(worked, abs=0.01 + 3 * math.sqrt(worked * (1 - worked) / 8000))


@pytest.mark.slow
@pytest.mark.parametrize("scatter", [1.0, 2.0, 3.0])
@pytest.mark.parametrize(
    "order",
    ["AAABAABA", "AABABAABAABA", "AAABAAABBAAABAAA", "AAAABAAAAABAAA", f"{20 * 'A'}BABB{20 * 'A'}"],
)
def test_unequal_scatter_in_full(order, scatter):
    """What `FALSE_WINNERS` says; at equal scatter nothing is harmed."""
    _, day = harmed(order, 4000, scatter=scatter)
    any_day, _ = harmed(order, 4000, scatter=scatter, change=1.0)
    print(f"{order.count('A')} + {order.count('B')}, {scatter}: {any_day:.4f}, {day:.4f}")
    most = {1.0: (0.065, 0.05), 2.0: (0.13, 0.28), 3.0: (0.21, 0.42)}[scatter]
    for share, limit in zip((any_day, day), most, strict=True):
        assert share <= limit + 3 * math.sqrt(limit * (1 - limit) / 4000)


def test_days_that_differ_make_an_item_of_another_day_a_winner():
    """Welch's test blind to days, sessions of SD 1: 32 % at 4 runs each, 49 % at 8."""
    for count, least, most in ((4, 0.28, 0.36), (8, 0.44, 0.53)):
        error, true = math.sqrt(2 / count), math.sqrt(2 + 2 / count)
        point = stats.t.ppf(0.975, 2 * count - 2) * error / true
        assert least < 2 * stats.t.sf(point, 2 * count - 2) < most
