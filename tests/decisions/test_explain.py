"""The chains behind the numbers end in the numbers themselves."""

from decimal import Decimal

import pytest

from racecalc.decisions.explain import ExplainedStep, explain_time, explain_value
from racecalc.decisions.riding import ride
from racecalc.decisions.timing import timing
from racecalc.decisions.value import value_of
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Air, Race, Wind
from racecalc.quantities.money import Money
from tests.builders import race, steady_start

WEATHER = Air(
    temperature=293.15,
    pressure=101_325.0,
    altitude=100.0,
    humidity=0.5,
    pressure_at_sea_level=True,
    wind=Wind(speed=4.0, direction=1.0, height=10.0, follows_rider=True),
)


def time_chain(built: Race) -> dict[str, ExplainedStep]:
    ridden = ride(built)
    return {step.what: step for step in explain_time(ridden, timing(ridden))}


def test_time_chain_ends_in_the_time():
    ridden = ride(steady_start(race()))
    timed = timing(ridden)
    last = explain_time(ridden, timed)[-1]
    assert last.what == "time"
    assert f"{timed.time_s:.1f} s" in last.result
    assert f"{timed.model_error_s:.0f} s" in last.result
    assert "2.7 W" in last.inputs


def test_time_chain_of_the_weather():
    chain = time_chain(race(air=WEATHER))
    # ISO 2533 at 100 m: 1013.25 hPa x (1 - 0.65/288.15)^5.25588 = 1001.29 hPa.
    assert chain["station pressure"].result == "1001.3 hPa"
    assert "p0 1013.2 hPa" in chain["station pressure"].inputs
    assert "20.0 degC" in chain["air density"].inputs
    assert "humidity 50 %" in chain["air density"].inputs
    # ln(1/0.03) / ln(10/0.03) = 0.6036 of 4 m/s.
    assert chain["wind at the rider"].result == "2.41 m/s in the open"
    assert chain["power at the road"].result == "243.8 W"
    assert "Crr 0.00400" in chain["resistance"].inputs
    assert all(step.source for step in chain.values())


def test_time_chain_of_given_density_is_short():
    chain = time_chain(race())
    assert chain["air density"].result == "1.2000 kg/m^3"
    assert chain["air density"].source == "race file"
    assert "station pressure" not in chain
    assert "wind at the rider" not in chain


def test_time_chain_shows_the_shares():
    ridden = ride(race())
    timed = timing(ridden)
    shown = {step.what: step for step in explain_time(ridden, timed)}["resistance"].result
    for watts in (timed.shares.air_w, timed.shares.rolling_w, timed.shares.bearings_w):
        assert f"{watts:.1f} W" in shown


@pytest.mark.parametrize(
    ("option", "changed"),
    [
        (Option("suit", saves=read_saving("4.5 W at 45 km/h")), "CdA -0.00384 m^2"),
        (
            Option("tyre", acts_on="tyres", saves=read_saving("0.0004 of Crr")),
            "Crr -0.000400",
        ),
        (
            Option("chain", acts_on="drivetrain", saves=read_saving("2 W at 250 W")),
            "drivetrain loss -0.80 %",
        ),
    ],
)
def test_value_chain_holds_the_numbers_of_the_answer(option: Option, changed: str):
    base = ride(steady_start(race()))
    value = value_of(base, option)
    chain = {step.what: step for step in explain_value(value)}
    assert chain["what the saving changes"].result == changed
    assert option.saves.words in chain["what the saving changes"].inputs
    assert chain["seconds saved"].result == f"{value.saved_s:+.2f} s"
    assert f"{base.time:.1f} s" in chain["seconds saved"].inputs
    for part in (value.aero_s, value.rolling_s, value.drivetrain_s, value.mass_s):
        assert f"{part:+.2f} s" in chain["its parts"].result
    assert chain["95 % interval"].result == "none, a doubt is not stated"
    assert chain["verdict"].result == f"undecided, {value.because}"
    for assumption in value.assumptions:
        assert assumption in chain["what the saving changes"].inputs


def test_value_chain_of_a_doubted_heavy_option():
    base = ride(steady_start(race()))
    option = Option(
        "suit",
        price=Money(Decimal(240), "EUR"),
        mass=0.04,
        saves=read_saving("4.5 W at 45 km/h"),
        doubt=read_saving("1.2 W at 45 km/h"),
    )
    value = value_of(base, option)
    chain = {step.what: step for step in explain_value(value)}
    interval = f"{value.saved_s_low:+.1f} to {value.saved_s_high:+.1f} s"
    assert chain["95 % interval"].result == interval
    assert "1.2 W at 45 km/h" in chain["95 % interval"].inputs
    assert "mass +40 g" in chain["seconds saved"].inputs
    assert chain["verdict"].result == f"{value.verdict}, {value.because}"


def test_value_chain_of_a_share_of_power_shows_the_speed():
    base = ride(steady_start(race()))
    option = Option("suit", saves=read_saving("1.6 % of power at 250 W"))
    chain = {step.what: step for step in explain_value(value_of(base, option))}
    # The root of 0.15 v^3 + 0.0087 v^2 + 3.229 v = 243.75 is 11.129 m/s.
    assert "v 40.06 km/h" in chain["what the saving changes"].inputs


def test_value_chain_of_mass_alone_has_no_saving():
    base = ride(steady_start(race()))
    whats = [step.what for step in explain_value(value_of(base, Option("x", mass=0.1)))]
    assert "what the saving changes" not in whats
    assert whats[0] == "seconds saved"


def test_the_chain_of_watts_at_the_cranks_states_its_own_formula():
    """The factor of the drivetrain must be in the chain, or the numbers do not follow from it."""
    base = ride(steady_start(race()))
    option = Option("suit", saves=read_saving("4.5 W at 45 km/h"), test_power_at="cranks")
    chain = {step.what: step for step in explain_value(value_of(base, option))}
    step = chain["what the saving changes"]
    assert step.result == "CdA -0.00374 m^2"
    assert "cranks" in step.inputs or "loss" in step.inputs
