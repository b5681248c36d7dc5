"""What an option is worth: seconds, parts, doubt, watts, money and verdict."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.savings import change_of
from racecalc.decisions.value import value_of, value_of_set
from racecalc.decisions.worth import doubt_in_seconds, worth_of
from racecalc.domain.option import Option, read_saving, refuse_mixed_currencies
from racecalc.domain.race import Change, Race, SpeedLimits
from racecalc.errors import InputError
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import CurrencyMismatch, Money
from tests.builders import euros, graded_course, profile_course, race, steady_start, windy_air

ADDS_UP = 1e-9
SOLVED = 1e-6
"""Break-even and watts are solved to 1e-9 of the time, some 1e-6 s."""

HILLS = graded_course(
    (3000.0, 0.02),
    (2500.0, -0.015),
    (3000.0, 0.0),
    (1500.0, 0.03),
    roughness=[1.0, 1.4, 1.0, 2.0],
)


def built(**changes: object) -> Race:
    return steady_start(race(**{"course": HILLS, **changes}))


@pytest.fixture(scope="module")
def base() -> Ridden:
    return ride(built())


def option(saves: str | None = None, doubt: str | None = None, **fields: object) -> Option:
    return Option(
        "part",
        saves=None if saves is None else read_saving(saves),
        doubt=None if doubt is None else read_saving(doubt),
        **fields,
    )


def time_with(base: Ridden, **bike: object) -> float:
    return base.variant(replace(base.race, bike=replace(base.race.bike, **bike))).time


def test_seconds_are_those_of_solving_with_the_changed_bike(base: Ridden):
    value = value_of(base, option("4.5 W at 45 km/h", mass=0.3))
    area = 0.25 - 4.5 / (93.75 * 12.5)
    again = time_with(base, cda=base.race.bike.cda.plus(area - 0.25), mass=9.3)
    assert value.saved_s == pytest.approx(base.time - again, abs=ADDS_UP)


@pytest.mark.parametrize(
    "nothing",
    [
        option(),
        option("0 W at 45 km/h"),
        option("0 m^2"),
        option("0 of Crr", acts_on="tyres"),
        option("0 W at 250 W", acts_on="drivetrain"),
    ],
)
@pytest.mark.parametrize("wind", [0.0, 4.0])
def test_an_option_that_changes_nothing_saves_exactly_nothing(nothing: Option, wind: float):
    value = value_of(ride(built(air=windy_air(wind, follows_rider=True))), nothing)
    assert value.saved_s == 0.0
    assert value.mass_s == value.aero_s == value.rolling_s == value.drivetrain_s == 0.0
    assert value.watts_equivalent_w == 0.0
    assert value.break_even_w == 0.0


def test_a_gram_is_worth_a_thousandth_of_a_kilogram_on_a_recorded_road():
    """Bumps and a standing start: with and without must be compared on the same road."""
    points = 2.7 * np.arange(1500)
    course = profile_course(points, 8 * np.sin(points / 250) + 0.3 * np.sin(points / 7))
    base = ride(race(course=course, start_speed=0.0))
    gram, kilogram = (value_of(base, option(mass=mass)).saved_s for mass in (0.001, 1.0))
    # Proportional but for the curvature, which is a percent for a kilogram.
    assert 1000 * gram == pytest.approx(kilogram, rel=0.05)


@given(
    watts=st.floats(-8.0, 8.0),
    mass=st.floats(-1.0, 1.0),
    acts_on=st.sampled_from(["air", "tyres"]),
)
@settings(max_examples=15, deadline=None)
def test_parts_add_up(watts: float, mass: float, acts_on: str):
    base = ride(BASE_RACE)
    value = value_of(base, option(f"{watts:.6f} W at 45 km/h", mass=mass, acts_on=acts_on))
    parts = value.aero_s + value.rolling_s + value.drivetrain_s + value.mass_s
    assert parts == pytest.approx(value.saved_s, abs=ADDS_UP)
    assert (value.aero_s == 0.0) or acts_on == "air"
    assert (value.rolling_s == 0.0) or acts_on == "tyres"


BASE_RACE = steady_start(race())


def test_parts_of_a_pair_are_the_mean_of_both_orders(base: Ridden):
    value = value_of(base, option("6 W at 45 km/h", mass=0.8))
    aero = base.race.bike.cda.plus(value.change.cda)
    light, heavy = base.time, time_with(base, mass=9.8)
    fast, both = time_with(base, cda=aero), time_with(base, cda=aero, mass=9.8)
    assert value.aero_s == pytest.approx(((light - fast) + (heavy - both)) / 2, abs=ADDS_UP)
    assert value.mass_s == pytest.approx(((light - heavy) + (fast - both)) / 2, abs=ADDS_UP)


def test_drivetrain_part(base: Ridden):
    value = value_of(base, option("2 W at 250 W", acts_on="drivetrain"))
    # 0.8 % less loss of 250 W at the cranks is 2 W more at the road.
    again = time_with(base, drivetrain_loss=0.025 - 0.008)
    assert value.drivetrain_s == value.saved_s == pytest.approx(base.time - again, abs=ADDS_UP)
    assert value.saved_s > 0


def test_drivetrain_is_worth_the_same_wherever_the_power_is_read():
    """243.75 W at the hub are 250 W at the cranks with 2.5 % lost between."""
    part = option("2 W at 250 W", "0.5 W at 250 W", mass=0.2, acts_on="drivetrain")
    cranks, hub = (
        value_of(ride(race(course=HILLS, **reading)), part)
        for reading in ({}, {"power": 243.75, "power_at": "hub"})
    )
    assert hub.saved_s == pytest.approx(cranks.saved_s, abs=ADDS_UP)
    assert hub.saved_s_low == pytest.approx(cranks.saved_s_low, abs=1e-8)
    # A watt of the test is one of 243.75 W at the hub or of 250 W at the cranks as stated.
    assert hub.break_even_w == pytest.approx(cranks.break_even_w, rel=1e-6)


def test_watts_equivalent_ridden_save_the_same(base: Ridden):
    for saves in ("8 W at 45 km/h", "-8 W at 45 km/h"):
        value = value_of(base, option(saves))
        stronger = base.variant(base.race.with_power(250.0 + value.watts_equivalent_w))
        assert base.time - stronger.time == pytest.approx(value.saved_s, abs=SOLVED)
        assert value.watts_equivalent_w * value.saved_s > 0


def test_watts_equivalent_on_a_flat_calm_road_are_the_watts_at_that_speed():
    """Steady at v, a change of area is worth its drag at the speed with it, over the loss."""
    steady = ride(steady_start(race()))
    value = value_of(steady, option("0.004 m^2"))
    speed = 10_000 / (steady.time - value.saved_s)
    # The start speed stays that of before, so the last digits differ.
    expected = 0.6 * 0.004 * speed**3 / 0.975
    assert value.watts_equivalent_w == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    "saves", ["4 W at 45 km/h", "0.38 N at 45 km/h", "0.004 m^2", "1.6 % of power at 250 W"]
)
def test_break_even_watts_make_up_for_the_mass(base: Ridden, saves: str):
    value = value_of(base, option(saves, mass=0.5))
    assert value.break_even_w > 0
    words = f"{value.break_even_w:.12f} W at {value.test_speed_m_s:.12f} m/s"
    assert value_of(base, option(words, mass=0.5)).saved_s == pytest.approx(0.0, abs=SOLVED)


def test_break_even_of_tyres_and_drivetrain(base: Ridden):
    tyre = value_of(base, option("3 W at 36 km/h", mass=0.4, acts_on="tyres"))
    words = f"{tyre.break_even_w:.12f} W at 36 km/h"
    assert value_of(base, option(words, mass=0.4, acts_on="tyres")).saved_s == pytest.approx(
        0.0, abs=SOLVED
    )
    chain = value_of(base, option("3 W at 200 W", mass=0.4, acts_on="drivetrain"))
    assert (chain.test_speed_m_s, chain.test_power_w) == (0.0, 200.0)
    words = f"{chain.break_even_w:.12f} W at 200 W"
    assert value_of(base, option(words, mass=0.4, acts_on="drivetrain")).saved_s == pytest.approx(
        0.0, abs=SOLVED
    )


def test_break_even_of_something_lighter_is_what_it_may_cost(base: Ridden):
    value = value_of(base, option("4 W at 45 km/h", mass=-0.5))
    assert value.break_even_w < 0


def test_break_even_at_a_price_saves_the_seconds_that_the_price_buys(base: Ridden):
    part = option("4 W at 45 km/h", mass=0.2, price=euros("240"))
    value = value_of(base, part, wanted=euros("20"))
    words = f"{value.break_even_price_w:.12f} W at 45 km/h"
    assert value_of(base, option(words, mass=0.2)).saved_s == pytest.approx(12.0, abs=SOLVED)
    assert value.break_even_price_w > value.break_even_w
    assert value_of(base, part).break_even_price_w is None
    free = value_of(base, option("4 W at 45 km/h", mass=0.2), wanted=euros("20"))
    assert free.break_even_price_w is None


def test_a_price_that_no_saving_is_worth_has_no_break_even(base: Ridden):
    part = option("4 W at 45 km/h", price=euros("9000"))
    assert value_of(base, part, wanted=euros("1")).break_even_price_w is None


def test_prices_are_not_exchanged(base: Ridden):
    part = option("4 W at 45 km/h", price=euros("240"))
    with pytest.raises(CurrencyMismatch, match="240 EUR cannot be measured in GBP"):
        value_of(base, part, wanted=Money(Decimal(10), "GBP")).worked_out()
    with pytest.raises(QuantityError, match="0 EUR is not a price per second"):
        value_of(base, part, wanted=euros("0")).worked_out()


class TestPricePerSecond:
    def test_is_the_price_over_the_seconds(self, base: Ridden):
        part = option("4.5 W at 45 km/h", "0.5 W at 45 km/h", price=euros("240"))
        value = value_of(base, part)
        assert value.price_per_second == pytest.approx(240 / value.saved_s, rel=1e-12)
        assert value.price_per_second_low == pytest.approx(240 / value.saved_s_high, rel=1e-12)
        assert value.price_per_second_high == pytest.approx(240 / value.saved_s_low, rel=1e-12)
        assert value.price_per_second_low < value.price_per_second < value.price_per_second_high

    def test_without_a_price_there_is_none(self, base: Ridden):
        value = value_of(base, option("4.5 W at 45 km/h", "0.5 W at 45 km/h"))
        assert value.price_per_second is None
        assert value.price_per_second_low is None
        assert value.price_per_second_high is None

    def test_free_is_nothing_per_second(self, base: Ridden):
        part = option("4.5 W at 45 km/h", "0.5 W at 45 km/h", price=euros("0"))
        assert value_of(base, part).price_per_second == 0.0

    @pytest.mark.parametrize("saves", [None, "0 W at 45 km/h", "-3 W at 45 km/h"])
    def test_no_gain_has_none(self, base: Ridden, saves: str | None):
        value = value_of(base, option(saves, price=euros("240")))
        assert value.price_per_second is None
        assert value.price_per_second_low is None
        assert value.price_per_second_high is None

    def test_where_the_gain_may_be_nothing_there_is_no_upper_bound(self, base: Ridden):
        part = option("2 W at 45 km/h", "3 W at 45 km/h", price=euros("240"))
        value = value_of(base, part)
        assert value.saved_s_low < 0 < value.saved_s_high
        assert value.price_per_second_high is None
        assert 0 < value.price_per_second_low < value.price_per_second

    def test_without_a_doubt_there_are_no_bounds(self, base: Ridden):
        value = value_of(base, option("4.5 W at 45 km/h", price=euros("240")))
        assert value.price_per_second > 0
        assert value.price_per_second_low is None
        assert value.price_per_second_high is None

    @given(saved=st.floats(-9.0, 9.0), doubt=st.floats(0.0, 9.0), price=st.integers(0, 5000))
    @settings(max_examples=25, deadline=None)
    def test_is_never_negative_and_never_infinite(self, saved: float, doubt: float, price: int):
        part = option(
            f"{saved:.3f} W at 45 km/h", f"{doubt:.3f} W at 45 km/h", price=euros(str(price))
        )
        value = value_of(ride(BASE_RACE), part)
        for amount in (
            value.price_per_second,
            value.price_per_second_low,
            value.price_per_second_high,
        ):
            assert amount is None or 0 <= amount < 1e7


class TestDoubt:
    def test_is_what_solving_with_it_changes(self, base: Ridden):
        part = option("4.5 W at 45 km/h", "0.01 W at 45 km/h")
        changed = base.changed(change_of(part.saves, part, base.race))
        more, less = (
            base.changed(Change(cda=-watts / (93.75 * 12.5))).time for watts in (4.51, 4.49)
        )
        expected = (less - more) / 2
        assert doubt_in_seconds(changed, part) == pytest.approx(expected, rel=1e-6)

    def test_may_be_stated_in_another_form_than_the_saving(self, base: Ridden):
        watts = value_of(base, option("4.5 W at 45 km/h", "1.2 W at 45 km/h"))
        area = value_of(base, option("4.5 W at 45 km/h", f"{1.2 / (93.75 * 12.5):.15f} m^2"))
        assert area.saved_s_low == pytest.approx(watts.saved_s_low, abs=1e-9)

    def test_interval_is_95_percent_of_the_normal_distribution(self, base: Ridden):
        part = option("4.5 W at 45 km/h", "1.2 W at 45 km/h")
        value = value_of(base, part)
        doubt = doubt_in_seconds(base.changed(value.change), part)
        # The package rounds the point of the distribution to 7 digits.
        assert value.saved_s_high - value.saved_s == pytest.approx(
            norm.ppf(0.975) * doubt, rel=1e-6
        )
        assert value.saved_s - value.saved_s_low == pytest.approx(norm.ppf(0.975) * doubt, rel=1e-6)

    @pytest.mark.parametrize("saves", ["4.5 W at 45 km/h", "0.5 W at 45 km/h", "-2 W at 45 km/h"])
    def test_chance_is_that_of_the_normal_distribution(self, base: Ridden, saves: str):
        part = option(saves, "1.2 W at 45 km/h")
        value = value_of(base, part)
        doubt = doubt_in_seconds(base.changed(value.change), part)
        assert value.chance_faster == pytest.approx(norm.cdf(value.saved_s / doubt), rel=1e-12)

    def test_of_tyres_and_drivetrain(self, base: Ridden):
        tyre = option("3 W at 36 km/h", "0.00002 of Crr", acts_on="tyres")
        changed = base.changed(change_of(tyre.saves, tyre, base.race))
        crr = changed.race.bike.crr
        rougher, smoother = (time_with(changed, crr=crr + by) for by in (1e-6, -1e-6))
        assert doubt_in_seconds(changed, tyre) == pytest.approx(
            0.00002 * (rougher - smoother) / 2e-6, rel=1e-6
        )
        chain = option("3 W at 250 W", "0.5 W at 250 W", acts_on="drivetrain")
        changed = base.changed(change_of(chain.saves, chain, base.race))
        loss = changed.race.bike.drivetrain_loss
        worse, better = (time_with(changed, drivetrain_loss=loss + by) for by in (1e-5, -1e-5))
        assert doubt_in_seconds(changed, chain) == pytest.approx(
            0.002 * (worse - better) / 2e-5, rel=1e-6
        )


@pytest.mark.parametrize(
    ("saves", "doubt", "mass", "verdict", "because"),
    [
        ("4.5 W at 45 km/h", "1.2 W at 45 km/h", 0.0, "faster", "95 % interval is above zero"),
        ("-4.5 W at 45 km/h", "1.2 W at 45 km/h", 0.0, "slower", "95 % interval is below zero"),
        ("0.1 W at 45 km/h", "0.3 W at 45 km/h", 0.0, "tie", "90 % interval lies within "),
        ("1.5 W at 45 km/h", "1.2 W at 45 km/h", 0.0, "undecided", "a doubt of "),
        ("0.1 W at 45 km/h", "1.2 W at 45 km/h", 0.0, "undecided", "a doubt of "),
        ("9 W at 45 km/h", None, 0.0, "undecided", "no doubt is stated"),
        (None, None, 4.0, "slower", "95 % interval is below zero"),
        (None, None, -4.0, "faster", "95 % interval is above zero"),
        (None, None, 0.04, "tie", "90 % interval lies within"),
        (None, None, 0.0, "tie", "90 % interval lies within "),
        ("0 W at 45 km/h", "0 W at 45 km/h", 0.0, "tie", "90 % interval lies within "),
    ],
)
def test_verdict(
    base: Ridden, saves: str | None, doubt: str | None, mass: float, verdict: str, because: str
):
    value = value_of(base, option(saves, doubt, mass=mass))
    assert value.verdict == verdict
    assert because in value.because


def test_no_margin_is_not_a_negative_one():
    """Held by a speed limit all the way, no watt counts: "within -0.0 s" would be odd."""
    held = ride(race(limits=SpeedLimits(max_speed=5.0), start_speed=5.0))
    value = value_of(held, option("4.5 W at 45 km/h", "1 W at 45 km/h"))
    assert (value.saved_s, value.verdict) == (0.0, "tie")
    assert "-0.0" not in value.because


def test_a_tie_holds_just_to_the_margin(base: Ridden):
    """With u of 0.3 W, 0.1 W lies within 0.594 W either way and within no less."""
    part = option("0.1 W at 45 km/h", "0.3 W at 45 km/h")
    limit = 0.1 + norm.ppf(0.95) * 0.3
    # Watts to seconds is straight but for 1e-3 over a watt.
    assert value_of(base, part, margin_w=1.005 * limit).verdict == "tie"
    assert value_of(base, part, margin_w=0.995 * limit).verdict == "undecided"


def test_an_option_of_mass_alone_has_no_doubt_and_only_a_mass_part(base: Ridden):
    value = value_of(base, option(mass=0.4))
    assert (
        value.saved_s
        == value.mass_s
        == pytest.approx(base.time - time_with(base, mass=9.4), abs=ADDS_UP)
    )
    assert value.saved_s_low == value.saved_s_high == value.saved_s < 0
    assert value.chance_faster == 0.0
    assert value.break_even_w > 0
    assert value.assumptions == ()


def test_a_saving_without_a_doubt_has_no_chance_and_no_interval(base: Ridden):
    value = value_of(base, option("4.5 W at 45 km/h"))
    assert value.chance_faster is None
    assert value.saved_s_low is None
    assert value.saved_s_high is None


@pytest.mark.parametrize(
    ("saves", "acts_on"),
    [("0.46 m^2", "air"), ("0.004 of Crr", "tyres"), ("4 W at 100 W", "drivetrain")],
)
def test_a_saving_of_more_than_there_is_says_so(base: Ridden, saves: str, acts_on: str):
    """A slip of the decimal point: the message names the option and the change."""
    with pytest.raises(InputError, match=r"^option part, a change of -.* leaves an impossible"):
        value_of(base, option(saves, acts_on=acts_on))


class TestSet:
    SUIT = Option(
        "suit",
        "suit",
        euros("240"),
        0.04,
        read_saving("4.5 W at 45 km/h"),
        read_saving("1.2 W at 45 km/h"),
    )
    TYRE = Option(
        "tyre",
        "tyres",
        euros("96.50"),
        -0.03,
        read_saving("3 W at 36 km/h"),
        read_saving("1 W at 36 km/h"),
        acts_on="tyres",
    )
    BOTTLE = Option("bottle", mass=0.2)

    def test_is_solved_as_one(self, base: Ridden):
        found = value_of_set(base, (self.SUIT, self.TYRE))
        again = time_with(
            base,
            cda=base.race.bike.cda.plus(-0.00384),
            crr=0.004 - 3.0 / (80 * 9.80665 * 10.0),
            mass=9.01,
        )
        assert found.saved_s == pytest.approx(base.time - again, abs=1e-8)
        assert found.names == ("suit", "tyre")
        assert found.mass_kg == pytest.approx(0.01, abs=1e-15)
        assert found.price == euros("336.50")

    def test_sum_of_single_is_the_sum_of_each_alone(self, base: Ridden):
        found = value_of_set(base, (self.SUIT, self.TYRE, self.BOTTLE))
        alone = [value_of(base, one).saved_s for one in (self.SUIT, self.TYRE, self.BOTTLE)]
        assert found.sum_of_single_s == pytest.approx(sum(alone), abs=ADDS_UP)
        assert found.saved_s != pytest.approx(found.sum_of_single_s, abs=1e-3)
        assert found.saved_s == pytest.approx(found.sum_of_single_s, rel=0.05)

    def test_of_one_is_that_one(self, base: Ridden):
        found = value_of_set(base, (self.SUIT,))
        assert found.saved_s == value_of(base, self.SUIT).saved_s == found.sum_of_single_s

    def test_of_none_is_nothing(self, base: Ridden):
        found = value_of_set(base, ())
        assert (found.saved_s, found.sum_of_single_s, found.mass_kg) == (0.0, 0.0, 0.0)

    def test_independent_doubts_add_by_their_squares(self, base: Ridden):
        found = value_of_set(base, (self.SUIT, self.TYRE))
        alone = []
        for one in (self.SUIT, self.TYRE):
            value = value_of(base, one)
            alone.append((value.saved_s_high - value.saved_s) / norm.ppf(0.975))
        # Each doubt is taken where the whole set is worn, a percent from where it is alone.
        assert found.doubt_s == pytest.approx((alone[0] ** 2 + alone[1] ** 2) ** 0.5, rel=0.02)

    def test_one_unknown_doubt_or_price_makes_the_sum_unknown(self, base: Ridden):
        unknown = option("2 W at 45 km/h", price=None)
        found = value_of_set(base, (self.SUIT, unknown))
        assert found.doubt_s is None
        assert found.price is None

    def test_prices_in_two_currencies_are_refused(self, base: Ridden):
        other = replace(self.TYRE, price=Money(Decimal(96), "CHF"))
        with pytest.raises(CurrencyMismatch, match="96 CHF cannot be added to 240 EUR"):
            value_of_set(base, (self.SUIT, other))


def test_currencies_are_not_mixed():
    prices = (euros("240"), None, euros("96"))
    refuse_mixed_currencies(
        [option(price=price) for price in prices], {"the price per second": euros("10")}
    )
    francs = [option(price=euros("240")), option(price=Money(Decimal(96), "CHF"))]
    with pytest.raises(InputError, match="one is in EUR, the other in CHF"):
        refuse_mixed_currencies(francs)
    with pytest.raises(InputError, match=r"^the price per second and option part: one is in GBP"):
        refuse_mixed_currencies(francs[:1], {"the price per second": Money(Decimal(10), "GBP")})


def test_what_is_kept_with_a_ride_is_asked_for_by_position(base: Ridden):
    """A keyword would be no part of what it is kept by."""
    part = option("4.5 W at 45 km/h")
    assert worth_of(base, part) is worth_of(base, part)
    with pytest.raises(TypeError, match="keyword"):
        worth_of(base, option=part)


def test_a_first_look_solves_the_race_once(base: Ridden, monkeypatch: pytest.MonkeyPatch):
    """What it shows needs no further solve; the rest is worked out when it is asked for."""
    solves = []
    ride_again = Ridden.variant
    monkeypatch.setattr(
        Ridden, "variant", lambda self, *args: (solves.append(args), ride_again(self, *args))[1]
    )
    part = option("4.5 W at 45 km/h", "1.2 W at 45 km/h", mass=0.3, price=euros("240"))
    look = value_of(base, part)
    shown = (look.saved_s, look.saved_s_low, look.chance_faster, look.verdict, look.because)
    assert look.price_per_second is not None
    assert (len(solves), look.weight_known) == (1, False)
    whole = value_of(base, part).worked_out()
    found = (whole.saved_s, whole.saved_s_low, whole.chance_faster, whole.verdict, whole.because)
    assert (shown, whole.weight_known) == (found, True)
    worked_out = len(solves)
    assert whole.aero_s + whole.mass_s == pytest.approx(whole.saved_s, abs=ADDS_UP)
    assert len(solves) == worked_out
