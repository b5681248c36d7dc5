"""From words to what changes on the bike, worked out by hand for each form."""

import numpy as np
import pytest

from racecalc.decisions.savings import assumptions_of, change_of, watt_at_test
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Change, Race
from racecalc.quantities.measured import QuantityError
from tests.builders import race

GRAVITY = 9.80665
WEIGHT = 80.0 * GRAVITY
ROUNDING = 1e-12


def change(words: str, built: Race | None = None, **option: object) -> Change:
    return change_of(read_saving(words), Option("part", **option), built or race())


# 45 km/h is 12.5 m/s and half of 1.2 kg/m^3 times 12.5^2 is 93.75 Pa; 30 mph is 13.4112 m/s and
# 30 gf is 0.2941995 N (both exact by definition).
AREAS = [
    ("4.5 W at 45 km/h", 4.5 / (93.75 * 12.5)),
    ("-4.5 W at 45 km/h", -4.5 / (93.75 * 12.5)),
    ("0 W at 45 km/h", 0.0),
    ("0.38 N at 45 km/h", 0.38 / 93.75),
    ("30 gram-force at 30 mph", 0.2941995 / (0.6 * 13.4112**2)),
    ("0.0046 m^2", 0.0046),
    ("46 cm^2", 0.0046),
    ("46 cm^2 of CdA", 0.0046),
    ("0.0046 m2 of cda", 0.0046),
    ("2 % of CdA", 0.005),
]


@pytest.mark.parametrize(("words", "area"), AREAS)
def test_area(words: str, area: float):
    assert change(words) == Change(cda=pytest.approx(-area, rel=ROUNDING))


def test_four_and_a_half_watts_at_45_is_0_00384():
    assert change("4.5 W at 45 km/h").cda == pytest.approx(-0.00384, rel=ROUNDING)


@pytest.mark.parametrize(("words", "area"), AREAS[:5])
def test_in_thinner_air_the_same_watts_or_newtons_are_more_area(words: str, area: float):
    thin = change(words, test_density=0.9)
    assert thin.cda == pytest.approx(-area * 1.2 / 0.9, rel=ROUNDING, abs=0)


@pytest.mark.parametrize("words", ["0.0046 m^2", "2 % of CdA"])
def test_an_area_is_the_same_in_any_air(words: str):
    assert change(words, test_density=0.9) == change(words)


def test_watts_at_the_cranks_are_fewer_at_the_wheel():
    by_wheel, by_cranks = (
        change("4.5 W at 45 km/h", test_power_at=where) for where in ("wheel", "cranks")
    )
    assert by_cranks.cda == pytest.approx(0.975 * by_wheel.cda, rel=ROUNDING)


def test_watts_of_a_tyre_test_at_the_cranks_are_fewer_at_the_wheel():
    by_wheel, by_cranks = (
        change("3 W at 36 km/h", acts_on="tyres", test_power_at=where)
        for where in ("wheel", "cranks")
    )
    assert by_cranks.crr == pytest.approx(0.975 * by_wheel.crr, rel=ROUNDING)


@pytest.mark.parametrize("words", ["0.38 N at 45 km/h", "0.0046 m^2", "2 % of CdA"])
def test_where_watts_are_counted_matters_to_watts_alone(words: str):
    assert change(words, test_power_at="cranks") == change(words)


def test_a_share_of_power_refers_to_the_riders_speed_at_that_power():
    """250 W at the cranks of this rider on a flat, calm road in the air of the test."""
    for density in (1.2, 1.0):
        cubic = np.roots([0.5 * density * 0.25, 0.0087, 0.004 * WEIGHT + 0.091, -0.975 * 250])
        speed = float(cubic[np.isreal(cubic)].real[0])
        found = change("1.6 % of power at 250 W", test_density=density)
        assert found.cda == pytest.approx(-4.0 / (0.5 * density * speed**3), rel=1e-11)


@pytest.mark.parametrize(
    ("words", "crr"),
    [
        ("3 W at 36 km/h", 3.0 / (WEIGHT * 10.0)),
        ("0.5 N at 36 km/h", 0.5 / WEIGHT),
        ("0.0004 of Crr", 0.0004),
        ("-0.0004 of crr", -0.0004),
    ],
)
def test_tyres(words: str, crr: float):
    assert change(words, acts_on="tyres") == Change(crr=pytest.approx(-crr, rel=ROUNDING))


@pytest.mark.parametrize(
    ("words", "share"), [("5 W at 250 W", 0.02), ("1.6 % of power at 250 W", 0.016)]
)
def test_drivetrain(words: str, share: float):
    found = change(words, acts_on="drivetrain")
    assert found == Change(drivetrain_loss=pytest.approx(-share, rel=ROUNDING))


def test_a_saving_of_a_test_is_that_many_watts_for_this_rider_at_that_speed():
    """Back again: the drag power at 45 km/h with and without differs by the watts stated."""
    saved = -change("4.5 W at 45 km/h", test_density=1.15).cda
    before, after = (0.5 * 1.15 * area * 12.5**3 for area in (0.25, 0.25 - saved))
    assert before - after == pytest.approx(4.5, rel=ROUNDING)


@pytest.mark.parametrize(
    ("option", "expected", "speed", "power"),
    [
        (Option("none stated"), Change(cda=-1 / (0.6 * 11.0**3)), 11.0, 0.0),
        (
            Option("air", saves=read_saving("9 W at 45 km/h")),
            Change(cda=-1 / (93.75 * 12.5)),
            12.5,
            0.0,
        ),
        (Option("area", saves=read_saving("0.004 m^2")), Change(cda=-1 / (0.6 * 11**3)), 11.0, 0.0),
        (
            Option("tyre", acts_on="tyres", saves=read_saving("3 W at 36 km/h")),
            Change(crr=-1 / (WEIGHT * 10)),
            10.0,
            0.0,
        ),
        (
            Option("chain", acts_on="drivetrain", saves=read_saving("2 W at 200 W")),
            Change(drivetrain_loss=-1 / 200),
            0.0,
            200.0,
        ),
        (Option("chain", acts_on="drivetrain"), Change(drivetrain_loss=-1 / 250), 0.0, 250.0),
    ],
)
def test_one_watt_at_the_test(option: Option, expected: Change, speed: float, power: float):
    watt, at_speed, at_power = watt_at_test(option, race(), 11.0)
    assert (at_speed, at_power) == (speed, power)
    for name in ("cda", "crr", "drivetrain_loss", "mass"):
        assert getattr(watt, name) == pytest.approx(getattr(expected, name), rel=ROUNDING, abs=0)


def test_assumptions_name_what_the_test_did_not_say():
    stated = read_saving("4.5 W at 45 km/h")
    assert assumptions_of(Option("suit", saves=stated), race()) == (
        "tested in air of 1.20 kg/m^3",
        "watts counted at the wheel (read at the cranks they would be 2.5 % less)",
    )
    full = Option("suit", saves=stated, test_density_given=True, test_power_at="cranks")
    (where,) = assumptions_of(full, race())
    assert "counted at the cranks, 2.5 %" in where
    force = Option("suit", saves=read_saving("0.38 N at 45 km/h"), test_density_given=True)
    assert assumptions_of(force, race()) == ()
    assert assumptions_of(Option("suit", saves=read_saving("0.004 m^2")), race()) == ()
    assert assumptions_of(Option("bottle", mass=0.1), race()) == ()
    tyre = Option("tyre", acts_on="tyres", saves=read_saving("3 W at 36 km/h"))
    assert "tested under this rider's weight, both tyres together" in assumptions_of(tyre, race())
    share = Option("suit", saves=read_saving("1.6 % of power at 250 W"), test_density_given=True)
    # The root of 0.15 v^3 + 0.0087 v^2 + 3.229 v = 243.75 is 11.129 m/s.
    says = "250 W taken as this rider's 40.1 km/h on a flat, calm road"
    assert says in assumptions_of(share, race())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (
            "7 W",
            r'"7 W" does not say at which speed, and the speed decides what it means:'
            r" of CdA it is 0\.0085 m\^2 at 40 km/h, 0\.0060 m\^2 at 45 km/h, 0\.0044 m\^2 at 50"
            r" km/h;"
            r' write for example "7 W at 45 km/h"',
        ),
        (
            "1.6 %",
            r'"1\.6 %" does not say of what: of a CdA of 0\.25 m\^2 it is 0\.0040 m\^2, of 250 W it'
            r" is 4\.0 W",
        ),
        ("1.6 % of power", r'does not say at which power; write "1\.6 % of power at 250 W"'),
        ("0.38 N", r'"0\.38 N" does not say at which wind speed; write .*"0\.38 N at 50 km/h"'),
        ("30 gf", r'"30 gf" does not say at which wind speed'),
        ("30 g", r'"30 g" is not a saving; write .*"30 gram-force at 30 mph"'),
        ("5 % of Crr", r'may mean a share of Crr or a change of it; write "0\.0004 of Crr"'),
        ("2 % of weight", r'a saving "of weight" is not understood; write "4\.5 W at 45 km/h"'),
        ("4.5 W at 0 km/h", r'"0 km/h" must be more than zero; write for example "45 km/h"'),
        ("4.5 W at -45 km/h", "must be more than zero"),
        ("4.5 W at noon", "noon"),
        ("4.5 at 45 km/h", "4.5"),
        ("a lot", r'"a lot" is not a saving; write'),
        ("0.0004", r'"0\.0004" is not a saving; write .*"0\.0004 of Crr"'),
        ("", "an empty saving; write"),
        ("   ", "an empty saving; write"),
    ],
)
def test_words_that_are_no_saving(words: str, says: str):
    with pytest.raises(QuantityError, match=says):
        read_saving(words)


def test_grams_of_drag_at_a_speed_are_told_to_be_gram_force():
    """The trade says "30 g at 30 mph"; the reader of forces knows what to write instead."""
    with pytest.raises(QuantityError, match=r"gf|gram-force"):
        read_saving("30 g at 30 mph")


@pytest.mark.parametrize(
    "words",
    [
        "0.38 N at 0 km/h",
        "0.38 N at -30 km/h",
        "1.6 % of power at -250 W",
        "4 W at 0 W",
        "1.6 % of power at 0 W",
    ],
)
def test_a_condition_of_nothing_is_refused(words: str):
    """No speed and no power gives watts or newtons a meaning there."""
    with pytest.raises(QuantityError, match="must be more than zero"):
        read_saving(words)


@pytest.mark.parametrize(
    ("words", "form", "amount", "condition"),
    [
        ("4.5 W at 45 km/h", "power at speed", 4.5, 12.5),
        (" 4.5  W  at 45 km/h ", "power at speed", 4.5, 12.5),
        ("5 W at 250 W", "power at power", 5.0, 250.0),
        ("1.6 % of power at 250 W", "share of power", 0.016, 250.0),
        ("1.6 % of Power at 250 W", "share of power", 0.016, 250.0),
        ("0.38 N at 45 km/h", "force", 0.38, 12.5),
        ("0.0046 m^2", "area", 0.0046, 0.0),
        ("2 % of CDA", "share of area", 0.02, 0.0),
        ("0.0004 of Crr", "crr", 0.0004, 0.0),
    ],
)
def test_forms(words: str, form: str, amount: float, condition: float):
    saving = read_saving(words)
    assert saving.form == form
    assert saving.amount == pytest.approx(amount, rel=ROUNDING)
    assert saving.condition == pytest.approx(condition, rel=ROUNDING, abs=0)
    assert saving.words == " ".join(words.split())
