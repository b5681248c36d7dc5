"""What comes before any second: the usual cautions, in every weather and for every option."""

from dataclasses import replace

import pytest

from racecalc.decisions.advice.advice import LIMITS, cautions_for
from racecalc.domain.race import Air
from tests.builders import race, windy_air

ALWAYS = (
    "Law, traffic, weather",
    "not targets, least of all on descents and in bends",
    "no drafting",
    "not medical advice",
    "chest pain",
    "body mass",
    "be certified",
    "stay as its maker sold it",
    "no taping of vents, no sanding",
    "helmet",
    "limits of tyre and rim",
    "hookless",
    "qualified fitter",
    "numb hands",
    "ask the organiser",
    "deposit",
    "no hurry",
)


@pytest.mark.parametrize("words", ALWAYS)
def test_usual_cautions_stand_in_every_race(words: str) -> None:
    told = " ".join(one.words for one in cautions_for(race(), (), testing=False))
    assert words in told


def test_testing_has_its_own() -> None:
    assert "lookout" not in str(cautions_for(race(), (), testing=False))
    assert "lookout" in str(cautions_for(race(), (), testing=True))


def weather(kelvin: float) -> Air:
    """Common practice, no source: above about 28 degC riders fade and must drink more."""
    return Air(temperature=kelvin, pressure=101_325.0)


@pytest.mark.parametrize(
    ("kelvin", "about"), [(303.0, ["Heat"]), (300.0, []), (285.0, []), (278.0, ["Cold"])]
)
def test_heat_and_cold(kelvin: float, about: list[str]) -> None:
    found = cautions_for(replace(race(), air=weather(kelvin)), (), testing=False)
    assert [one.about for one in found if one.about in ("Heat", "Cold")] == about


@pytest.mark.parametrize(
    ("speed", "words"),
    [(5.0, None), (12.0, "take care in gusts of 11 m/s"), (15.0, "at home")],
)
def test_wind_at_the_rider(speed: float, words: str | None) -> None:
    built = replace(race(), air=windy_air(speed, follows_rider=True))
    told = [one.words for one in cautions_for(built, (), testing=False) if one.about == "Wind"]
    assert bool(told) == (words is not None)
    assert words is None or words in told[0]


def test_limits_say_what_is_not_modelled() -> None:
    told = " ".join(LIMITS)
    for words in ("traffic", "punctures", "Drafting", "gusts", "2.7 W", "not a promise"):
        assert words in told
