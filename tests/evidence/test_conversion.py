"""Every way to state a saving into every other: by hand, there and back, and what is missing."""

import json
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from racecalc.answers.plan import sensible
from racecalc.decisions.savings import (
    EVERY_FORM,
    Conditions,
    Conversion,
    Lacking,
    NotStatedError,
    change_of,
    conditions_of,
    convert,
    convert_to_all,
)
from racecalc.domain.option import Option, StatedDrag, read_drag, read_saving
from racecalc.errors import InputError
from racecalc.motion.ride import flat_calm_speed
from racecalc.quantities.measured import QuantityError
from tests.builders import race, reference_race

RIDER = Conditions(cda=0.243, power=262.0, mass=81.0, crr=0.0039, loss=0.025, density=1.225)
"""The invented rider of `tests.builders.reference_race`."""


def power_behind(share: StatedDrag, watts: StatedDrag) -> tuple[float, float]:
    """Range of the power at which a rounded share and rounded watts are the same saving [W]."""
    ends = [one / other for one in watts.range for other in share.range]
    return min(ends), max(ends)


def one(words: str, to: str, **known: float) -> float:
    return convert(read_drag(words), read_drag(f"1 {to}"), Conditions(**known)).value


# By hand. 45 km/h is 12.5 m/s, 12.5^2 = 156.25, 12.5^3 = 1953.125; 30 mph is 13.4112 m/s, its
# square 179.86029 and its cube 2412.1423; 1 gf is 9.80665 mN, 1 lbf 4.4482216 N.
BY_HAND = [
    ("4.5 W at 45 km/h", "N", {}, 4.5 / 12.5),
    ("4.5 W at 45 km/h", "gram-force", {}, 4.5 / 12.5 / 9.80665e-3),
    ("0.36 N at 45 km/h", "W", {}, 4.5),
    ("4.5 W at 45 km/h", "W at 40 km/h", {}, 4.5 * (40 / 45) ** 3),
    ("4.5 W at 45 km/h", "m^2", {"density": 1.2}, 4.5 / (0.6 * 1953.125)),
    ("0.00384 m^2", "W at 45 km/h", {"density": 1.2}, 4.5),
    ("0.00384 m^2", "% of CdA", {"cda": 0.24, "density": 1.2}, 1.6),
    ("2 % of CdA", "m^2", {"cda": 0.25}, 0.005),
    ("2 % of CdA", "cm^2", {"cda": 0.25}, 50.0),
    ("2 % of CdA", "N at 10 m/s", {"cda": 0.25, "density": 1.2}, 0.3),
    ("30 gram-force at 30 mph", "W", {}, 0.2941995 * 13.4112),
    ("0.1 lbf at 30 mph", "gf", {}, 45.359237),
    ("0.1 lbf at 30 mph", "gf at 15 mph", {}, 45.359237 / 4),
    ("2 % of power at 250 W", "W", {}, 5.0),
    ("5 W at 250 W", "% of power", {}, 2.0),
    ("2 % of power at 250 W", "N", {"speed": 12.5, "power": 250.0}, 0.4),
    ("4.5 W at 45 km/h", "% of power", {"speed": 12.5, "power": 300.0}, 1.5),
]


@pytest.mark.parametrize(("words", "to", "known", "expected"), BY_HAND)
def test_by_hand(words: str, to: str, known: dict[str, float], expected: float) -> None:
    assert one(words, to, **known) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("words", "to", "expected", "tolerance"),
    [
        # An independent calculation for the same invented rider and air of 1.225 kg/m^3; the
        # tolerance is half a digit of what it printed.
        ("100 gf at 30 mph", "m^2", 0.0089, 0.5e-4),
        ("100 gf at 30 mph", "W at 30 mph", 13.2, 0.05),
        ("100 gf at 50 km/h", "m^2", 0.0083, 0.5e-4),
        ("100 gf at 50 km/h", "W at 50 km/h", 13.6, 0.05),
        ("0.1 lbf at 30 mph", "m^2", 0.0040, 0.5e-4),
        ("0.1 lbf at 30 mph", "W at 30 mph", 6.0, 0.05),
        ("1 s/km at 262 W", "m^2", 0.0087, 0.5e-4),
        ("1 s/km at 262 W", "W", 7.8, 0.05),
        # 7 W at 48 km/h in air of 1.20 there, taken into the rider's own 40.89 km/h in 1.225:
        # one air on both sides here, which is 2 % of 4.4 W.
        ("7 W at 48 km/h", "W", 4.4, 0.12),
        ("0.005 m^2", "s/16.0934 km", 9.24, 0.02),
    ],
)
def test_the_numbers_of_an_independent_calculation(
    words: str, to: str, expected: float, tolerance: float
) -> None:
    found = convert(read_drag(words), read_drag(f"1 {to}"), RIDER).value
    # The printed numbers are rounded, and half a gram may come from g.
    assert found == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(
    ("share", "watts", "power"),
    # By hand: share times power.
    [
        ("2.0 % of power", "4.8 W", 240.0),
        ("1.2 % of power", "3.72 W", 310.0),
        ("3.5 % of power", "6.3 W", 180.0),
    ],
)
def test_shares_and_watts_that_belong_together(share: str, watts: str, power: float) -> None:
    assert one(share, "W", power=power) == pytest.approx(read_drag(watts).amount, rel=0.005)
    assert one(watts, "% of power", power=power) == pytest.approx(
        100 * read_drag(share).amount, rel=0.005
    )
    low, high = power_behind(read_drag(share), read_drag(watts))
    assert low < power < high


def test_rounding_leaves_a_range_and_no_digits_beyond_it() -> None:
    # By hand: 5.95 W / 2.45 % and 6.05 W / 2.35 %.
    low, high = power_behind(read_drag("2.4 % of power"), read_drag("6.0 W"))
    assert (round(low), round(high)) == (243, 257)
    assert sensible(6.0 / 0.024, low, high) == "250"
    found = convert(read_drag("4.5 W at 45 km/h"), read_drag("1 N"), Conditions())
    assert (found.low, found.high) == pytest.approx((4.45 / 12.5, 4.55 / 12.5))
    assert read_drag("4.50 W").half_digit == pytest.approx(0.005 / 4.5)
    assert read_drag("0,245 m^2").half_digit == pytest.approx(0.0005 / 0.245)


FORMS = {
    "W at 45 km/h": 5.0,
    "W at 250 W": 5.0,
    "% of power at 250 W": 1.6,
    "m^2": 0.005,
    "% of CdA": 2.0,
    "N at 40 km/h": 0.3,
    "gram-force at 30 mph": 40.0,
    "lbf at 30 mph": 0.1,
    "s/km": 0.6,
    "s/40 km at 200 W": 30.0,
}


@pytest.mark.parametrize(("start", "end"), list(permutations(FORMS, 2)))
@settings(max_examples=3)
@given(times=st.floats(-4.0, 4.0))
def test_there_and_back(start: str, end: str, times: float) -> None:
    amount = times * FORMS[start]
    # A millionth keeps the digits of the text from deciding.
    there = convert(read_drag(f"{amount:.9f} {start}"), read_drag(f"1 {end}"), RIDER).value
    back = convert(read_drag(f"{there:.12f} {end}"), read_drag(f"1 {start}"), RIDER).value
    assert back == pytest.approx(amount, rel=1e-3, abs=1e-6 * FORMS[start])


@pytest.mark.parametrize(
    "words",
    ["4.5 W at 45 km/h", "0.38 N at 45 km/h", "2 % of CdA", "1.6 % of power at 250 W", "46 cm^2"],
)
def test_areas_are_those_of_the_race_file(words: str) -> None:
    """In the air that `racecalc value` takes for a test, 1.2 kg/m^3, and for the same bike."""
    built = race()
    area = convert(read_drag(words), read_drag("1 m^2"), conditions_of(built)).value
    assert change_of(read_saving(words), Option("part"), built).cda == pytest.approx(
        -area, rel=1e-9
    )


def test_seconds_are_those_of_the_solved_race() -> None:
    """A flat, calm race at steady speed: seconds a kilometre times its length."""
    built = reference_race()
    known = conditions_of(built)
    pace = convert(read_drag("0.005 m^2"), read_drag("1 s/km"), known).value
    speeds = [
        flat_calm_speed(one.bike, one.total_mass, one.rider.power, 1.225)
        for one in (built, reference_race(cda=0.238))
    ]
    assert pace == pytest.approx(1000 / speeds[0] - 1000 / speeds[1], rel=1e-9)


def test_a_race_knows_every_condition() -> None:
    found = convert_to_all(read_drag("4.5 W at 45 km/h"), conditions_of(reference_race()))
    assert [part.unit for part in found] == list(EVERY_FORM)
    assert all(isinstance(part, Conversion) for part in found)
    watts = found[0]
    # At the rider's own speed of 40.89 km/h (an independent calculation), not at the test's.
    assert isinstance(watts, Conversion)
    assert watts.at_speed_m_s == pytest.approx(40.89 / 3.6, rel=1e-3)
    assert watts.value == pytest.approx(4.5 * (40.89 / 45) ** 3, rel=2e-3)


def test_without_conditions_each_form_says_what_it_lacks() -> None:
    found = {part.unit: part for part in convert_to_all(read_drag("3 W at 45 km/h"), Conditions())}
    lacking = {unit: part.needs for unit, part in found.items() if isinstance(part, Lacking)}
    assert "--power" in lacking["% of power"]
    assert lacking["m^2"] == "give --density, or --race"
    assert "--cda" in lacking["% of CdA"]
    assert all(flag in lacking["s/km"] for flag in ("--cda", "--crr", "--mass", "--density"))
    assert isinstance(found["N"], Conversion)


@pytest.mark.parametrize(
    ("words", "to", "known", "flag"),
    [
        ("3 W", "m^2", {"density": 1.2}, "--speed"),
        ("3 N", "W", {}, "--speed"),
        ("2 % of power", "W", {}, "--power"),
        ("2 % of power", "m^2", {"power": 250.0}, "--speed"),
        ("2 % of CdA", "m^2", {}, "--cda"),
        ("2 % of CdA", "W at 45 km/h", {"cda": 0.25}, "--density"),
        ("0.005 m^2", "W", {"density": 1.2}, "--speed"),
        ("1 s/km", "m^2", {"cda": 0.25, "mass": 80.0, "crr": 0.004}, "--density"),
        ("1 s/km", "m^2", {"cda": 0.25, "mass": 80.0, "crr": 0.004, "density": 1.2}, "--speed"),
        # The watts of a faster test are not those at the rider's own 250 W.
        ("7 W at 48 km/h", "% of power", {"power": 250.0}, "--speed"),
        (
            "7 W at 48 km/h",
            "s/km",
            {"cda": 0.25, "mass": 80.0, "crr": 0.004, "density": 1.2},
            "--power",
        ),
    ],
)
def test_what_is_missing_is_asked_for(
    words: str, to: str, known: dict[str, float], flag: str
) -> None:
    with pytest.raises(InputError) as raised:
        one(words, to, **known)
    assert flag in raised.value.remedy


@pytest.mark.parametrize(
    ("words", "to", "known", "names"),
    [
        ("2 % of CdA", "W", {}, {"density", "cda", "speed"}),
        ("2 % of CdA", "W", {"cda": 0.25}, {"density", "speed"}),
        ("7 W", "% of CdA", {}, {"speed", "density", "cda"}),
        ("7 W", "% of power", {}, {"power"}),
        ("7 W at 48 km/h", "% of power", {}, {"power", "speed"}),
        ("40 s/40 km", "m^2", {}, {"speed", "cda", "crr", "mass", "density"}),
        ("5 W at 200 W", "N", {"power": 250.0}, {"cda", "crr", "mass", "density", "loss"}),
    ],
)
def test_all_that_is_missing_is_asked_for_at_once(
    words: str, to: str, known: dict[str, float], names: set[str]
) -> None:
    with pytest.raises(NotStatedError) as raised:
        one(words, to, **known)
    assert set(raised.value.names) == names
    assert all(f"--{name}" in raised.value.remedy for name in names)
    # And nothing else is missing then.
    rest = {name: getattr(RIDER, name) for name in names - {"speed"}}
    assert one(words, to, **known, **rest, **({"speed": 11.0} if "speed" in names else {}))


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        ("2 % of CdA", "give --cda, or --race"),
        (
            "5000 s/40 km",
            "give --cda, --crr, --mass, --density and --speed (or for it --power and --loss),"
            " or --race",
        ),
        (
            "7 W",
            "for W, N, gram-force, lbf give --speed (or for it --power, --cda, --crr, --mass,"
            " --density and --loss), or --race; for % of power give --power, or --race",
        ),
    ],
)
def test_where_nothing_can_be_worked_out_it_says_what_would_do(words: str, remedy: str) -> None:
    with pytest.raises(InputError, match="no other form") as raised:
        convert_to_all(read_drag(words), Conditions())
    assert raised.value.remedy == remedy


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("500 W at 30 km/h", "% of CdA, more than there is"),
        ("101 % of CdA", "saves 101 % of CdA"),
        ("150 % of power", "saves 150 % of power"),
        ("5000 s/40 km", "more time is saved than it takes"),
    ],
)
def test_no_more_than_all_can_be_saved(words: str, said: str) -> None:
    for to in ("W", "m^2", "% of CdA"):
        with pytest.raises(InputError, match=said):
            convert(read_drag(words), read_drag(f"1 {to}"), RIDER)
    with pytest.raises(InputError, match=said):
        convert_to_all(read_drag(words), RIDER)


def test_all_of_it_can_be_saved() -> None:
    assert one("100 % of CdA", "m^2", cda=0.25) == pytest.approx(0.25)
    assert one("-150 % of CdA", "m^2", cda=0.25) == pytest.approx(-0.375)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("2 %", "does not say of what"),
        ("2 % of drag", "not understood"),
        ("0.0004 of Crr", "not understood"),
        ("30 g at 30 mph", "gram-force"),
        ("3 W at -5 km/h", "more than zero"),
        ("3 N at 250 W", "a force refers to a wind speed"),
        ("2 % of CdA at 45 km/h", "needs no condition"),
        ("a lot", "not a change of drag"),
        ("", "empty"),
        ("1 s/kg", "not a change of drag"),
    ],
)
def test_what_is_no_change_of_drag(words: str, said: str) -> None:
    with pytest.raises(QuantityError, match=said):
        read_drag(words)


@pytest.mark.parametrize("words", ["0.5 m^2", "100 s/km"])
def test_more_than_there_is(words: str) -> None:
    with pytest.raises(InputError, match=r"more (drag|time) is saved|there is"):
        convert(
            read_drag(words), read_drag("1 s/km at 200 W" if "m^2" in words else "1 m^2"), RIDER
        )


@pytest.mark.parametrize(
    ("words", "to", "value"),
    [
        ("4.5 W at 45 km/h", "m^2", 4.5 / (0.6 * 1953.125)),
        ("4.5 W at 45 km/h", "W", 0.55 * 0.00384 * 1000.0),
        ("4.5 W at 45 km/h", "N", 0.55 * 0.00384 * 100.0),
        ("4.5 W at 45 km/h", "W at 45 km/h", 4.5),
        ("0.00384 m^2", "W at 45 km/h", 4.5),
        ("2 % of CdA", "W", 0.55 * 0.0048 * 1000.0),
        ("3 W", "m^2", 3.0 / (0.55 * 1000.0)),
    ],
)
def test_a_claim_holds_in_its_own_air_and_the_rider_rides_in_theirs(
    words: str, to: str, value: float
) -> None:
    """By hand: the test in air of 1.2 kg/m^3, the rider at 10 m/s in 1.1; 12.5^3 = 1953.125."""
    known = Conditions(cda=0.24, speed=10.0, density=1.1, claim_density=1.2)
    assert convert(read_drag(words), read_drag(f"1 {to}"), known).value == pytest.approx(value)


def test_the_command(racecalc) -> None:
    def answer(*arguments: str) -> tuple[int, str, str]:
        return racecalc("convert", *arguments)

    status, out, err = answer(
        "4.5 W at 45 km/h",
        "--to",
        "% of CdA",
        "--cda",
        "0.24 m^2",
        "--density",
        "1.2 kg/m^3",
        "--json",
    )
    assert (status, err) == (0, "")
    (found,) = json.loads(out)["conversions"]
    assert found["value"] == pytest.approx(1.6)
    assert found["unit"] == "% of CdA"
    status, out, _ = answer("4.5 W at 45 km/h")
    assert status == 0
    assert "0.360  N" in out
    assert "0.00384  m^2" in out
    for arguments, said in (
        (("3 W", "--to", "N"), "--speed"),
        (("2 %",), "of what"),
        (("3 W at 45 km/h", "--to", "Crr"), "--to"),
        (("3 W at 45 km/h", "--density", "1.2"), "--density"),
        (("3 W at 45 km/h", "--cda", "0 m^2"), "--cda: is zero"),
        (("3 W at 45 km/h", "--race", "no.toml"), "no.toml"),
    ):
        status, out, err = answer(*arguments)
        assert (status, out) == (2, "")
        assert said in err
        assert len(err.splitlines()) == 1
