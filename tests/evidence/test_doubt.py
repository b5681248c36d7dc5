"""Intervals from all doubts together: closed forms, coverage, pairing, causes, honesty."""

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from racecalc.decisions.doubt import TimeSpread, fit, moved, saving_bands, time_band
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.decisions.value import value_of
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Doubts, Race
from racecalc.errors import InputError
from tests.builders import out_and_back, race, windy_air
from tests.files.making import RACE

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
USUAL = Doubts(
    power=5.0,
    cda=0.004,
    crr=0.0003,
    mass=0.5,
    drivetrain_loss=0.004,
    wind_speed=0.8,
    wind_from=math.radians(20),
    temperature=1.5,
    pressure=300.0,
)
NORMAL_80 = 1.281552
"""Two-sided 80 % point of the normal distribution (any table of it)."""


def windy(doubts: Doubts, wind: float = 2.5) -> Ridden:
    """A flat out-and-back of 20 km, 250 W, wind 30 degrees off the road, round-number air."""
    return ride(
        race(
            course=out_and_back(20_000.0),
            air=windy_air(wind, 30.0, density=1.2),
            step=100.0,
            doubts=doubts,
        )
    )


@cache
def demo(scale: float = 1.0) -> Ridden:
    doubts = Doubts(**{name: scale * value for name, value in USUAL.stated.items()})
    return ride(replace(load_race(DEMO, ["course.step=40 m"]), doubts=doubts))


def width(spread: TimeSpread) -> float:
    return spread.high_80_s - spread.low_80_s


def test_a_small_doubt_gives_the_normal_band_of_first_order() -> None:
    """The model error is the only doubt: T' x 2.7 W, T' by solving 1 W either way."""
    base = windy(Doubts())
    slope = 0.5 * (moved(base, {"power": 1.0}).time - moved(base, {"power": -1.0}).time)
    spread = time_band(base, 200_000).spread
    assert spread.standard_deviation_s == pytest.approx(abs(slope) * MODEL_ERROR, rel=0.01)
    assert spread.high_80_s - spread.low_80_s == pytest.approx(
        2 * NORMAL_80 * abs(slope) * MODEL_ERROR, rel=0.01
    )
    assert spread.high_95_s - spread.low_95_s == pytest.approx(
        2 * 1.959964 * abs(slope) * MODEL_ERROR, rel=0.01
    )


def test_two_small_doubts_add_in_squares() -> None:
    parts = [
        time_band(windy(one), 100_000).spread.standard_deviation_s
        for one in (Doubts(), Doubts(power=3.0), Doubts(cda=0.003))
    ]
    both = time_band(windy(Doubts(power=3.0, cda=0.003)), 100_000).spread.standard_deviation_s
    model, power, cda = parts
    assert both**2 == pytest.approx(power**2 + cda**2 - model**2, rel=0.02)


def test_the_surrogate_of_a_quadratic_is_the_quadratic() -> None:
    """Along one axis: values and slopes of full solves near the centre, to third order."""
    base = windy(Doubts())
    found = fit(base, {"power": 1.0, "wind_along": 0.1, "cda": 0.001})
    for shift in ({"power": 0.7}, {"wind_along": -0.08, "power": 0.5}, {"cda": 0.001}):
        z = {axis: np.array([shift.get(axis, 0.0)]) for axis in found.axes}
        assert found.at(z)[0] == pytest.approx(moved(base, shift).time, abs=2e-4)


def test_every_slope_is_that_of_full_solves() -> None:
    base = demo()
    steps = {
        "power": 0.01,
        "cda": 1e-5,
        "crr": 1e-6,
        "mass": 1e-3,
        "drivetrain_loss": 1e-5,
        "wind_along": 1e-4,
        "wind_across": 1e-4,
        "temperature": 1e-2,
        "pressure": 1.0,
    }
    small = fit(base, steps)
    for axis, slope in zip(small.axes, small.linear, strict=True):
        up, down = (moved(base, {axis: side * steps[axis]}).time for side in (1.0, -1.0))
        assert slope == pytest.approx((up - down) / (2 * steps[axis]), rel=2e-3), axis


@pytest.mark.parametrize("scale", [0.5, 1.0])
def test_the_surrogate_is_good_on_the_demo(scale: float) -> None:
    band = time_band(demo(scale))
    assert band.surrogate_error_s.rms < 0.02 * band.spread.standard_deviation_s
    assert band.surrogate_error_s.solves >= 5


def test_large_spreads_say_that_the_surrogate_is_worse() -> None:
    usual, large = time_band(demo(1.0)), time_band(demo(3.0))
    assert large.surrogate_error_s.rms > 3 * usual.surrogate_error_s.rms


def coverage(truths: int, seed: int) -> dict[int, float]:
    """Share of full solves at truths drawn by another generator that lie in the bands."""
    base = windy(replace(USUAL, temperature=0.0, pressure=0.0, density=0.01))
    doubts, wind = base.race.doubts, base.race.air.wind.speed
    spread = time_band(base).spread
    generator = np.random.default_rng(seed)
    times = []
    for _ in range(truths):
        one = {name: generator.normal(0.0, value) for name, value in doubts.stated.items()}
        speed, turn = wind + one.pop("wind_speed"), one.pop("wind_from")
        one["wind_along"] = speed * math.cos(turn) - wind
        one["wind_across"] = speed * math.sin(turn)
        one["power"] += generator.normal(0.0, MODEL_ERROR)
        times.append(moved(base, one).time)
    found = np.array(times)
    return {
        level: float(np.mean((found > low) & (found < high)))
        for level, low, high in (
            (80, spread.low_80_s, spread.high_80_s),
            (95, spread.low_95_s, spread.high_95_s),
        )
    }


def test_bands_cover_what_they_say() -> None:
    found = coverage(1000, 7)
    assert found[80] == pytest.approx(0.80, abs=0.04)
    assert found[95] == pytest.approx(0.95, abs=0.04)


@pytest.mark.parametrize("truths", [120, pytest.param(1000, marks=pytest.mark.slow)])
def test_bands_around_wrong_measurements_cover_the_truth(truths: int) -> None:
    """The stated values err by their doubt; the band about the stated must hold the true time.

    The tolerance is 4 points and two standard errors of the simulation.
    """
    truth, generator, inside = windy(Doubts()), np.random.default_rng(3), np.zeros(2)
    doubts = Doubts(power=6.0, cda=0.006, crr=0.0004, density=0.015)
    for _ in range(truths):
        error = {name: generator.normal(0.0, value) for name, value in doubts.stated.items()}
        stated = moved(truth, error)
        ridden = Ridden(replace(stated.race, doubts=doubts), stated.solution)
        spread = time_band(ridden, 2000).spread
        true_time = moved(truth, {"power": generator.normal(0.0, MODEL_ERROR)}).time
        inside += (
            spread.low_80_s < true_time < spread.high_80_s,
            spread.low_95_s < true_time < spread.high_95_s,
        )
    for share, level in zip(inside / truths, (0.80, 0.95), strict=True):
        error_of_it = math.sqrt(level * (1 - level) / truths)
        assert share == pytest.approx(level, abs=0.04 + (2 * error_of_it if truths < 1000 else 0))


AIR_OPTION = Option("suit", saves=read_saving("0.005 m^2"), doubt=read_saving("0.001 m^2"))


def test_common_doubts_cancel_in_a_saving() -> None:
    base = windy(replace(USUAL, temperature=0.0, pressure=0.0))
    (band,) = saving_bands(base, [AIR_OPTION])
    alone = time_band(base).spread.standard_deviation_s
    changed = base.changed(value_of(base, AIR_OPTION).change)
    naive = math.hypot(alone, time_band(changed).spread.standard_deviation_s)
    assert band.spread.standard_deviation_s < 0.15 * naive
    assert band.causes[0].name == "own"
    assert not any(cause.name == "model" for cause in band.causes)


def test_without_common_doubts_the_band_is_that_of_the_option() -> None:
    base = windy(Doubts())
    value = value_of(base, AIR_OPTION)
    (band,) = saving_bands(base, [AIR_OPTION], 200_000)
    assert band.saved_s == value.saved_s
    assert band.spread.low_95_s == pytest.approx(value.saved_s_low, rel=0.01)
    assert band.spread.high_95_s == pytest.approx(value.saved_s_high, rel=0.01)


def test_nothing_changed_saves_exactly_nothing() -> None:
    (band,) = saving_bands(windy(USUAL), [Option("same again")])
    assert band.spread == TimeSpread(*[0.0] * 8)
    assert band.chance_faster == 0.0
    assert band.causes == ()


def test_an_option_without_a_doubt_gets_no_interval() -> None:
    base, option = windy(USUAL), replace(AIR_OPTION, doubt=None)
    (band,) = saving_bands(base, [option])
    value = value_of(base, option, band=band)
    assert not band.own_doubt_stated
    assert (value.saved_s_low, value.verdict) == (None, "undecided")


def test_savings_of_the_demo_agree_with_full_solves() -> None:
    """Draws of all doubts solved in full with and without, against the band of the surrogate."""
    base = demo()
    bands = saving_bands(base, base.race.options)
    for band, option in zip(bands, base.race.options, strict=True):
        assert band.spread.median_s == pytest.approx(band.saved_s, abs=0.3)
        assert band.surrogate_error_s.rms < 0.5
        if option.doubt:
            assert band.surrogate_error_s.rms < 0.1 * band.spread.standard_deviation_s


@pytest.mark.parametrize("number", [0, 8])
def test_the_draws_of_an_option_do_not_depend_on_the_others(number: int) -> None:
    base = demo()
    option = base.race.options[number]
    (alone,) = saving_bands(base, [option], 500)
    among = saving_bands(base, base.race.options[: number + 1], 500)[-1]
    assert alone == among


def test_the_seed_decides_the_answer() -> None:
    base = windy(USUAL)
    assert time_band(base, 1000, 5) == time_band(base, 1000, 5)
    assert time_band(base, 1000, 5).spread != time_band(base, 1000, 6).spread


def removed(start: Race, name: str) -> Race:
    return replace(start, doubts=replace(start.doubts, **{name: 0.0}))


def test_removing_the_top_cause_shrinks_the_band_most() -> None:
    base = demo()
    band = time_band(base)
    stated = [cause for cause in band.causes if cause.name != "model"]
    assert {cause.name for cause in stated} == set(base.race.doubts.stated)
    widths = {
        cause.name: width(time_band(Ridden(removed(base.race, cause.name), base.solution)).spread)
        for cause in stated[:4]
    }
    assert min(widths, key=lambda name: widths[name]) == stated[0].name
    assert sum(cause.share for cause in band.causes) == pytest.approx(1.0, abs=0.1)


def test_a_calm_whose_direction_is_unknown_costs_time_on_the_whole() -> None:
    """Out and back in wind w costs time by w^2, so a doubt of a calm slows the median."""
    band = time_band(windy(Doubts(wind_speed=1.5), wind=0.0))
    assert band.spread.median_s > band.time_s + 0.5
    assert (
        band.spread.high_80_s - band.spread.median_s > band.spread.median_s - band.spread.low_80_s
    )


def test_the_direction_is_not_taken_as_linear() -> None:
    """A wind from anywhere: the band of full solves, a wind all round and the model error."""
    base = windy(Doubts(wind_from=math.radians(180)), wind=2.0)
    generator = np.random.default_rng(2)
    exact = [
        moved(
            base,
            {
                "wind_along": 2.0 * math.cos(turn) - 2.0,
                "wind_across": 2.0 * math.sin(turn),
                "power": generator.normal(0.0, MODEL_ERROR),
            },
        ).time
        for turn in generator.normal(0.0, math.pi, 1500)
    ]
    found, wanted = time_band(base).spread, TimeSpread.of(np.array(exact))
    for name in ("median_s", "low_80_s", "high_80_s", "low_95_s", "high_95_s"):
        assert getattr(found, name) == pytest.approx(
            getattr(wanted, name), abs=0.12 * wanted.standard_deviation_s
        ), name


def test_loss_at_the_hub_does_not_matter() -> None:
    at_hub = ride(race(power_at="hub", step=200.0, doubts=Doubts(drivetrain_loss=0.005)))
    assert [cause.name for cause in time_band(at_hub, 500).causes] == ["model"]


def test_doubts_that_reach_too_far_are_refused() -> None:
    with pytest.raises(InputError, match="the stated doubts: with cda by"):
        time_band(windy(Doubts(cda=0.2)), 500)


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_impossible_doubts(value: float) -> None:
    with pytest.raises(ValueError, match="the doubt of power"):
        Doubts(power=value)


def read_race(tmp_path: Path, *changes: str) -> Race:
    path = tmp_path / "race.toml"
    path.write_text(RACE, encoding="utf-8")
    return load_race(path, changes)


def test_doubts_are_read_in_their_units(tmp_path: Path) -> None:
    read = read_race(
        tmp_path,
        "air.temperature_doubt=3.6 degF",
        "air.wind_from_doubt=20 deg",
        "rider.mass_doubt=500 g",
        "air.pressure_doubt=4 hPa",
    ).doubts
    assert read.temperature == pytest.approx(2.0)
    assert read.wind_from == pytest.approx(math.radians(20))
    assert (read.mass, read.pressure, read.power) == (0.5, 400.0, 0.0)
    assert set(read.stated) == {"temperature", "wind_from", "mass", "pressure"}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (("rider.power_doubt=80 W",), "more than a quarter"),
        (("rider.power_doubt=-5 W",), "not possible"),
        (("air.density_doubt=0.01 kg/m^3",), "state temperature_doubt and pressure_doubt"),
        (("rider.power_doubt=5 %",), "power is needed"),
    ],
)
def test_doubts_that_will_not_do(tmp_path: Path, changes: tuple[str, ...], said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_race(tmp_path, *changes)


def test_a_doubt_of_the_wind_needs_a_direction(tmp_path: Path) -> None:
    path = tmp_path / "race.toml"
    path.write_text(
        RACE.replace('wind_at_rider = "2 m/s"\nwind_from = "WSW"', 'wind_doubt = "1 m/s"'), "utf-8"
    )
    with pytest.raises(InputError, match="needs the direction it comes from"):
        load_race(path)


def test_the_commands_show_the_band(racecalc) -> None:
    Path("race.toml").write_text(RACE, encoding="utf-8")

    def answer(*arguments: str) -> str:
        status, out, _ = racecalc(*arguments, "--set", "rider.power_doubt=5 W")
        assert status == 0
        return out

    band = json.loads(answer("time", "race.toml", "--json", "--seed", "4", "--draws", "2000"))[
        "band"
    ]
    assert (band["seed"], band["draws"]) == (4, 2000)
    assert band["low_95_s"] < band["low_80_s"] < band["median_s"] < band["high_80_s"]
    assert set(band["surrogate_error_s"]) == {"largest", "rms", "solves"}
    assert band["causes"][0]["name"] == "power"
    suit, tyres = json.loads(answer("value", "race.toml", "--json"))["options"]
    assert suit["saved_s_low"] == suit["band"]["low_95_s"]
    assert tyres["saved_s_low"] is None
    text = answer("time", "race.toml")
    assert "in 95 of 100 cases" in text
    assert "power 77 %" in text or "power 7" in text
    assert "all stated doubts" in answer("value", "race.toml", "--basis")
