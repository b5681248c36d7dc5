"""What holds of every race whatever its values: signs, zeros, sums, and answers that agree.

They are consequences of the equation of motion (Martin et al. 1998, J Appl Biomech 14:276-291) and
of what the answers say of themselves; none is a value.
"""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume
from hypothesis import strategies as st

import racecalc
from racecalc.errors import InputError
from tests.fuzz.drawing import races, written
from tests.fuzz.outcome import draw

HARDLY = 1e-5
"""[s]; a thousandth of what is shown, and more than two solves of one race differ."""

CLOSE = 1e-7
"""Share of the time: what the solver leaves of its equation, ten times over."""


def file_of(folder: Path, race: dict[str, Any]) -> Path:
    file = folder / "drawn.toml"
    file.write_text(written(race), encoding="utf-8")
    return file


def time_of(folder: Path, race: dict[str, Any], **changes: object) -> Any:
    """The answer of `time`; a race that is refused is none to compare."""
    file = file_of(folder, race)
    try:
        return racecalc.ask(
            "time", file, set={k.replace("__", "."): v for k, v in changes.items()}
        ).answer
    except InputError:
        assume(False)


def value_of(race: dict[str, Any], table: str, key: str) -> float:
    return float(str(race[table][key]).split()[0])


def more_power(folder: Path, race, more) -> None:
    power = value_of(race, "rider", "power")
    before = time_of(folder, race).timed.time_s
    after = time_of(folder, race, rider__power=f"{power * (1 + more):.6f} W").timed.time_s
    assert after <= before * (1 + CLOSE)


def more_resistance(folder: Path, race, more, key) -> None:
    """More drag or rolling resistance is never faster, unless the wind pushes from behind."""
    race["air"] = {
        name: one
        for name, one in race.get("air", {}).items()
        if not name.startswith(("wind", "gust"))
    }
    value, *unit = str(race["bike"][key]).split()
    changed = " ".join([f"{float(value) * (1 + more):.9f}", *unit])
    before = time_of(folder, race).timed.time_s
    after = time_of(folder, race, **{f"bike__{key}": changed}).timed.time_s
    assert after >= before * (1 - CLOSE)


def nothing_saved(folder: Path, race) -> None:
    """Nor does what saves as much as the option in use whose place it takes."""
    alike = [{"name": name, "slot": "suit", "saves": "0.005 m^2"} for name in ("Old", "New")]
    race["option"] = [{"name": "Nothing", "saves": "0 m^2"}, *alike]
    race.setdefault("race", {})["use"] = ["Old"]
    file = file_of(folder, race)
    try:
        values = racecalc.ask("value", file).answer.options
    except InputError:
        assume(False)
    saved = {one.option.name: one.saved_s for one in values}
    assert (saved["Nothing"], saved["New"]) == pytest.approx((0.0, 0.0), abs=1e-9)


def same_again(folder: Path, race) -> None:
    """Setting what is there changes nothing, and the splits add up."""
    found = time_of(folder, race).timed
    again = time_of(
        folder, race, rider__power=race["rider"]["power"], rider__mass=race["rider"]["mass"]
    )
    assert again.timed.time_s == found.time_s
    splits = time_of(folder, race).timed.splits
    assert sum(one.time_s for one in splits) == pytest.approx(found.time_s, rel=1e-9)
    assert splits[-1].elapsed_s == pytest.approx(found.time_s, rel=1e-9)


def one_answer(folder: Path, race) -> None:
    """A basket saves what its options save together; a verdict is that of its interval."""
    race.setdefault("option", [{"name": "A", "saves": "3 W at 45 km/h"}])
    for number, one in enumerate(race["option"], 1):
        one.setdefault("price", f"{number} EUR")
    file = file_of(folder, race)
    try:
        options = racecalc.ask("value", file).json["options"]
        wishes = {"budget": "100000 EUR", "price_per_second": "1 EUR"}
        basket = racecalc.ask("basket", file, **wishes).json
        chosen = [one["name"] for one in basket["options"]]
        both = " + ".join(chosen) if len(chosen) > 1 else None
        together = racecalc.ask("value", file, together=both).json["sets"]
    except InputError:
        assume(False)
    for one in options:
        if one["saved_s_low"] is not None:
            off = HARDLY + CLOSE * abs(one["saved_s"])
            assert one["saved_s_low"] - off <= one["saved_s"] <= one["saved_s_high"] + off
            assert one["verdict"] != "faster" or one["saved_s_low"] > 0
            assert one["verdict"] != "slower" or one["saved_s_high"] < 0
    assert {one["name"] for one in options if one["unsafe"]}.isdisjoint(chosen)
    if both:
        assert together[0]["saved_s"] == pytest.approx(basket["saved_s"], rel=1e-6, abs=1e-6)


RISKY = {"name": "Wheel", "saves": "3 W at 45 km/h", "doubt": "1 W at 45 km/h", "price": "9 EUR"}
PLAIN = {"name": "Suit", "saves": "2 W at 45 km/h", "doubt": "1 W at 45 km/h", "price": "8 EUR"}
WISHES = {"budget": "1000 EUR", "price_per_second": "100 EUR"}


def safe_alike(folder: Path, race, wind, gust, limit, heat) -> None:
    """What this weather forbids is forbidden by every command, whatever it saves."""
    race["course"]["distance"] = "2 km"
    race["air"] = {
        **{"wind_speed": f"{wind:.2f} m/s", "gusts": f"{wind + gust:.2f} m/s", "wind_from": "left"},
        "temperature": f"{heat:.1f} degC",
    }
    risky = {**RISKY, "catches_wind": True, "gust_limit": f"{limit:.1f} m/s"}
    race["option"] = [risky, {**PLAIN, "heat_limit": "30 degC"}]
    file = file_of(folder, race)
    try:
        options = racecalc.ask("value", file).json["options"]
        unsafe = {one["name"] for one in options if one["unsafe"]}
        bought = racecalc.ask("basket", file, **WISHES).json["options"]
        decided = racecalc.ask("decide", file, repeatability="0.002 m^2", **WISHES).json
        advised = racecalc.ask("advice", file, **WISHES).json["advised"]
    except InputError:
        assume(False)
    assert ("Suit" in unsafe) == (round(heat, 1) >= 30.0)
    assert unsafe.isdisjoint(one["name"] for one in bought)
    assert {one["name"] for one in advised if one["do"] == "unsafe"} == unsafe
    assert unsafe <= {one["name"] for one in decided["not_judged"]}


MORE = st.floats(1e-3, 3.0)
RACES = races(most=4)

CHECKS = {
    "more power is never slower": (more_power, {"race": RACES, "more": MORE}),
    "more resistance is never faster": (
        more_resistance,
        {"race": RACES, "more": MORE, "key": st.sampled_from(["cda", "crr"])},
    ),
    "nothing saves nothing": (nothing_saved, {"race": RACES}),
    "the same again is the same": (same_again, {"race": RACES}),
    "answers agree": (one_answer, {"race": RACES}),
    "commands agree on safety": (
        safe_alike,
        {
            "race": races(most=1),
            "wind": st.floats(0, 20),
            "gust": st.floats(0, 10),
            "limit": st.floats(5, 25),
            "heat": st.floats(0, 45),
        },
    ),
}


@pytest.mark.parametrize("name", CHECKS)
def test_few_races(folder: Path, name: str) -> None:
    draw(*CHECKS[name], folder, 5)


@pytest.mark.slow
@pytest.mark.parametrize("name", CHECKS)
def test_many_races(folder: Path, name: str) -> None:
    draw(*CHECKS[name], folder, 150)
