"""Race files: what is read, and what is refused with which words."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.decisions.weather import stated_day, too_hot
from racecalc.domain.loading import SURFACE_ROUGHNESS, load_race
from racecalc.domain.option import TEST_DENSITY
from racecalc.domain.race import ROUGHNESS_LENGTH
from racecalc.errors import InputError
from racecalc.files.race_file import inputs_of, key_lines, read_race_file
from racecalc.files.race_keys import RACE_KEYS, accepted
from racecalc.files.race_values import read_value
from racecalc.physics.air import density_along
from tests.files.making import RACE, race_file, refusal


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return race_file(tmp_path, RACE)


def refused(path: Path, old: str, new: str) -> str:
    """Text of the error after a change of the file."""
    error = refusal(path, RACE, old, new)
    assert error.exit_status == 2
    return str(error)


def test_values_arrive_in_si(path: Path) -> None:
    race = load_race(path)
    assert race.rider.mass == 67.0
    # International pound, 0.45359237 kg exactly (NIST SP 811, from memory).
    assert race.bike.mass == pytest.approx(19.6 * 0.45359237, rel=1e-12)
    assert race.air.temperature == pytest.approx(290.15)
    assert race.air.pressure == pytest.approx(101100.0)
    assert not race.air.pressure_at_sea_level
    assert race.air.wind.direction == pytest.approx(math.radians(247.5))
    assert race.options[0].mass == pytest.approx(0.040)
    assert str(race.options[0].price) == "240 EUR"
    assert race.options[1].acts_on == "tyres"


def test_a_section_crr_is_kept_as_a_factor(path: Path) -> None:
    course = load_race(path).course
    assert course.roughness.tolist() == pytest.approx([1.0, 2.0, 1.0])
    tyres = load_race(path, ["bike.crr=0.0084"]).course
    assert tyres.roughness.tolist() == pytest.approx([1.0, 1.0, 1.0])


def test_defaults_are_named_with_their_source(path: Path) -> None:
    assumed = [str(one) for one in load_race(path).assumptions]
    assert "bike.spoke_drag: 0 m^2 (a CdA measured riding holds the turning wheels)" in assumed
    assert not any(one.startswith(("air.terrain", "air.humidity")) for one in assumed)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"67 kg"', '"67"', "race.toml, line 3, rider.mass: "),
        ('"67 kg"', "67", "'67' has no unit"),
        ('"67 kg"', '"67 km"', "'km' is a unit of length"),
        (
            '"67 kg"',
            '"-67 kg"',
            "'-67 kg' is not possible, it must be within 25 kg to 250 kg; plausible",
        ),
        ('"67 kg"', '"nan kg"', "line 3, rider.mass"),
        ('"262 W"', '"262 Watts please"', "line 4, rider.power"),
        ('power = "262 W"', 'powr = "262 W"', "there is no key 'powr'; did you mean 'power'?"),
        ("[bike]", "[bicycle]", "race.toml, line 6: there is no table 'bicycle'"),
        ('mass = "67 kg"', 'weight = "67 kg"', "line 3, rider.weight"),
        ('"0.236 m^2"', '"23 m^2"', "plausible is 0.16 m^2 to 0.55 m^2"),
        ('cda = "0.236 m^2"\n', "", "[bike] has no cda"),
        ("crr = 0.0042", "crr = 0.42", "line 9, bike.crr: '0.42' is not possible"),
        ('"WSW"', '"somewhere"', "line 16, air.wind_from"),
        (
            '"40 km"',
            '"40 km"\ngrade = "-30 %"',
            "course.grade: the road leads to 11494 m below the",
        ),
        (
            '"40 km"',
            '"40 km"\ngrade = "-5 %"\naltitude = "1400 m"',
            "line 21, course.altitude: the road leads to 598 m below the sea",
        ),
        ('wind_from = "WSW"\n', "", "the wind has a speed but no direction"),
        ('bearing = "90 deg"\n', "", 'placed; add bearing = "90 deg" to [course], or'),
        ('"17 degC"', '"17 deg"', "degC"),
        ('humidity = "70 %"', 'dew_point = "19 degC"', "lies above the temperature"),
        ('humidity = "70 %"', 'density = "1.2 kg/m^3"', "both density and"),
        ('distance = "40 km"', "", "[course] has no file"),
        (
            'distance = "40 km"',
            'file = "shore.gpx"',
            "given; keep one of them: a CSV course has its",
        ),
        ('distance = "40 km"\nbearing = "90 deg"', 'file = "shore.gpx"', "no such file"),
        ('"240 EUR"', '"€240"', "line 30, option.price"),
        ('"240 EUR"', '"-240 EUR"', "line 30, option.price"),
        ('"4.5 W at 45 km/h"', '"4.5 W"', "does not say at which speed"),
        ('"4.5 W at 45 km/h"', '"1.6 %"', "does not say of what"),
        ('"0.0004 of Crr"', '"4 % of Crr"', "may mean a share of Crr or a change of it"),
        ('doubt = "1.2 W', 'doubt = "-1.2 W', "is negative"),
        ('"Tyres v2.0"', '"Long-sleeve suit"', "two options named 'Long-sleeve suit'"),
        ('from = "2 km"', 'from = "5 km"', "from '5 km' to '4 km' ends before"),
        ('"262 W"', '"262 W', "race.toml, line 4, column"),
        ("[course]", "[[course]]", "course"),
        ("crr = 0.0084", 'surface = "lawn"', "'lawn' is not known"),
        ("crr = 0.0042", "crr = true", "line 9, bike.crr"),
        ("crr = 0.0042", "crr = [0.0042]", "line 9, bike.crr"),
    ],
)
def test_what_will_not_do(path: Path, old: str, new: str, said: str) -> None:
    text = refused(path, old, new)
    assert said in text
    assert "\n" not in text


def test_a_file_that_lies_where_one_works_is_looked_for_where_the_race_lies(
    path: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = tmp_path_factory.mktemp("here")
    (here / "sc.csv").write_text("distance [m],elevation [m]\n0,1\n1000,2\n")
    monkeypatch.chdir(here)
    with pytest.raises(InputError, match=f"names files from its own folder, here {path.parent}"):
        load_race(path, ["course.file=sc.csv"])


def test_yaw_table(path: Path) -> None:
    table = 'cda = { yaw = ["0 deg", "10 deg"], area = ["0.236 m^2", "0.229 m^2"] }'
    path.write_text(RACE.replace('cda = "0.236 m^2"', table), encoding="utf-8")
    assert load_race(path).bike.cda.area == pytest.approx((0.236, 0.229))
    assert "one area for each yaw" in refused(
        path, 'cda = "0.236 m^2"', table.replace(', "10 deg"', "")
    )
    assert "do not increase" in refused(
        path, 'cda = "0.236 m^2"', table.replace('"10 deg"', '"-10 deg"')
    )


def test_the_implausible_is_accepted_with_a_warning(path: Path) -> None:
    notices = load_race(path, ["bike.cda=0.8 m^2"]).notices
    assert [str(notice) for notice in notices] == [
        "--set bike.cda=0.8 m^2: '0.8 m^2' is unusual: plausible is 0.16 m^2 to 0.55 m^2;"
        " is it a mistake?"
    ]


def test_sea_level_pressure_typed_as_station_pressure_is_noticed(path: Path) -> None:
    notices = load_race(path, ["air.altitude=780 m", "air.pressure=1018 hPa"]).notices
    assert "looks like a pressure reduced to sea level" in str(notices[0])


def test_changes(path: Path) -> None:
    race = load_race(
        path,
        [
            "rider.power=280 W",
            "bike.crr=0.004",
            "option.Tyres v2.0.mass=-30 g",
            "option.1.price=1 EUR",
            "course.reverse=true",
            "course.section.1.shelter=50 %",
        ],
    )
    assert race.rider.power == 280.0
    assert race.bike.crr == 0.004
    assert race.options[1].mass == pytest.approx(-0.030)
    assert str(race.options[0].price) == "1 EUR"
    assert 0.5 in race.course.shelter


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("rider.power", "this is not table.key=value"),
        ("power=280 W", "this is not table.key=value"),
        ("rider.powr=280 W", "did you mean 'power'?"),
        ("rider.power=fast", "--set rider.power=fast"),
        ("option.Suits.mass=1 g", "there is no option 'Suits'"),
        ("option.9.mass=1 g", "there is no option '9'"),
        ("ridr.power=280 W", "did you mean 'rider'?"),
        ("option=3", "this is not table.key=value"),
    ],
)
def test_changes_that_will_not_do(path: Path, change: str, said: str) -> None:
    with pytest.raises(InputError) as error:
        load_race(path, [change])
    assert said in str(error.value)


def test_an_empty_value_takes_its_key_out(path: Path) -> None:
    assert "bike.start_speed" not in path.read_text()
    assert load_race(path, ["rider.power=280 W", "air.humidity="]).air.humidity == 0.5
    with pytest.raises(InputError, match="has no power"):
        load_race(path, ["rider.power="])


def test_a_changed_key_takes_the_place_of_one_that_excludes_it(path: Path) -> None:
    race = load_race(path, ["air.density=1.2 kg/m^3"])
    assert race.air.density == 1.2
    said = "--set air.density=1.2 kg/m^3: takes the place of air.humidity in the file"
    assert said in map(str, race.notices)
    both = ["air.density=1.2 kg/m^3", "air.humidity=60 %"]
    with pytest.raises(InputError, match="both density and humidity"):
        load_race(path, both)


def test_a_density_leaves_the_temperature_to_the_limits_of_heat(path: Path) -> None:
    """Heat forbids what it forbids, however the density of the air was stated."""
    dense = ["air.density=1.1 kg/m^3", "option.1.heat_limit=25 degC"]
    stated = load_race(path, dense)
    assert stated.air.density == 1.1
    [suit, _] = stated.options
    assert too_hot(suit, stated_day(stated)) == ""
    hot = load_race(path, [*dense, "air.temperature=31 degC"])
    assert hot.air.density == 1.1
    assert too_hot(suit, stated_day(hot)).startswith("it is 31 degC")
    unknown = load_race(path, [*dense, "air.temperature="])
    assert stated_day(unknown).temperature_k is None
    said = "so the heat_limit of Long-sleeve suit is not judged"
    assert [one for one in unknown.notices if said in one.text and one.warning]
    # A file that states a density: another temperature or height has another.
    path.write_text(RACE.replace('pressure = "1011 hPa"\nhumidity = "70 %"', "density = 1.1"))
    path.write_text(path.read_text().replace("density = 1.1", 'density = "1.1 kg/m^3"'))
    for change in ("air.temperature=31 degC", "air.altitude=100 m"):
        assert load_race(path, [change]).air.density is None


def test_a_recorded_race_at_another_height_has_the_air_of_it(tmp_path: Path) -> None:
    """Pressure of ISO 2533 by its formula for the troposphere; ideal gas, 0.378 of the vapour
    pressure (Magnus' formula, from memory)."""
    (tmp_path / "road.csv").write_text("distance [km],elevation [m]\n0,10\n5,60\n")
    text = RACE.replace('distance = "40 km"\nbearing = "90 deg"', 'file = "road.csv"')
    text = text.replace("pressure = ", "sea_level_pressure = ").replace("WSW", "ahead")
    path = race_file(tmp_path, text)
    here = load_race(path)
    there = load_race(path, ["course.altitude=1500 m", "air.temperature=30 degC"])
    np.testing.assert_allclose(there.course.elevation - here.course.elevation, 1490.0)
    assert there.air.altitude == here.air.altitude + 1490.0
    pressure = 101100.0 * (1.0 - 0.0065 * 1490.0 / 288.15) ** 5.2559
    vapour = 0.7 * 611.2 * math.exp(17.62 * 30.0 / (243.12 + 30.0))
    density = (pressure - 0.378 * vapour) / (287.06 * 303.15)
    found = density_along(there.air, np.array([1490.0]))
    np.testing.assert_allclose(found, density, rtol=1e-3)
    assert "moved up by 1490 m" in " ".join(there.course.report.notes)
    for key, value in (("density", "1.1 kg/m^3"), ("pressure", "1011 hPa")):
        with pytest.raises(InputError, match=f"take it out, as --set air.{key}="):
            load_race(path, ["course.altitude=1500 m", f"air.{key}={value}"])


@pytest.mark.parametrize(
    ("change", "meant"),
    [
        ("air.wind=3 m/s", "wind_speed"),
        ("rider.power_max=400 W", "pedal_most"),
        ("bike.weight=8 kg", "mass"),
        ("air.temp=30 degC", "temperature"),
    ],
)
def test_what_people_call_a_key_is_told_by_its_name(path: Path, change: str, meant: str) -> None:
    with pytest.raises(InputError, match=f"write it as '{meant}'"):
        load_race(path, [change])


def test_a_power_for_each_kilogram_is_that_of_the_rider(path: Path) -> None:
    race = load_race(path, ["rider.power=4 W/kg"])
    assert race.rider.power == pytest.approx(4 * 67.0)
    assert "4 W/kg of 67 kg is 268 W" in " ".join(map(str, race.notices))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("bike.drivetrain_loss=97.5 %", "if that is what is left, write '2.5 %'"),
        ("bike.crr=0.35", "if that is a percentage, write '0.35 %'"),
    ],
)
def test_a_share_that_cannot_be_is_asked_about(path: Path, change: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        load_race(path, [change])


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("option.1.saves=90 W at 45 km/h", "90 W at 45 km/h is a lot"),
        ("option.1.price=30000 EUR", "30000 EUR is a lot"),
        ("option.1.mass=1200 g", "is that the whole wheel?"),
    ],
)
def test_what_an_option_cannot_well_be_is_asked_about(path: Path, change: str, said: str) -> None:
    race = load_race(path, [change, "option.1.slot=front wheel"])
    assert said in " ".join(map(str, race.notices))


def test_no_key_is_called_by_the_name_of_another() -> None:
    for keys in RACE_KEYS.values():
        called = [word for about in keys.values() for word in about.also]
        assert len(set(called)) == len(called)
        assert not set(called) & set(keys)


def test_lines_of_keys_are_found_past_long_values() -> None:
    text = '''\
[a]
one = """
two = 3
[b]
"""
"two" = [
  "x = 1",  # ] not the end
  "[c]",
]
[[d]]
x = 1
[[d]]
# x = 3
  x = { y = 2 }
'''
    lines = key_lines(text)
    assert lines["a", 0, "one"] == 2
    assert lines["a", 0, "two"] == 6
    assert lines["d", 0, "x"] == 11
    assert lines["d", 1, ""] == 12
    assert lines["d", 1, "x"] == 14
    assert ("b", 0, "") not in lines


@given(st.lists(st.sampled_from(['x = """', '"""', "[t]", "[[t]]", "k = [", "]", "k = 1", "#"])))
def test_lines_of_keys_never_fail(lines: list[str]) -> None:
    for number in key_lines("\n".join(lines)).values():
        assert 1 <= number <= len(lines)


def test_what_files_and_domain_both_know_agrees() -> None:
    density = RACE_KEYS["option"]["test_density"]
    assert read_value(density, density.default) == TEST_DENSITY
    assert tuple(ROUGHNESS_LENGTH) == RACE_KEYS["air"]["terrain"].words
    assert tuple(SURFACE_ROUGHNESS) == RACE_KEYS["course.section"]["surface"].words


def test_every_default_and_bound_can_be_read_and_is_plausible() -> None:
    for table, keys in RACE_KEYS.items():
        for name, key in keys.items():
            if key.default:
                value = read_value(key, key.default)
                assert value is not None, (table, name)
            for bounds in (key.possible, key.plausible):
                if bounds and key.form not in ("count", "drag area"):
                    low, high = (read_value(key, bound) for bound in bounds.split(" to "))
                    assert low < high, (table, name)  # type: ignore[operator]


@pytest.mark.parametrize("key", ["pacing_limits", "pacing_caps", "pacing_plan"])
def test_the_example_of_a_list_is_its_own_and_will_do(path: Path, key: str) -> None:
    example = RACE_KEYS["rider"][key].example
    assert accepted(RACE_KEYS["rider"][key]) == f"a list, as {example}"
    changes = ["course.distance=12 km"] if key == "pacing_plan" else ["course.distance=25 km"]
    assert len(getattr(load_race(path, [*changes, f"rider.{key}={example}"]).rider, key)) == 2


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("any") / "race.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with pytest.raises(InputError):
        load_race(path)


def test_inputs_come_in_the_order_of_the_file() -> None:
    """Whatever order Python hashes names in: an advice is the same text each time."""
    names = ["section", "landmark", "wind", "note", "bend", "climb"]
    text = "".join(f"[[course.{name}]]\nat = {place}\n" for place, name in enumerate(names))
    assert [one.value for one in inputs_of(text, "race.toml")] == [*range(len(names))]


def test_not_utf8(path: Path) -> None:
    path.write_bytes(RACE.replace("The league", "Die L\xe4nge").encode("latin-1"))
    with pytest.raises(InputError, match=r"line 1.*UTF-8"):
        read_race_file(path)


def test_the_height_of_the_start_keeps_a_descent_on_land(tmp_path):
    """40 km at -5 % fall by 40 km sin(atan 0.05) = 1997.5 m."""
    road = '"40 km"\ngrade = "-5 %"\naltitude = "1600 m"'
    text = RACE.replace('"40 km"', road).replace('pressure = "1011 hPa"\n', "")
    course = load_race(race_file(tmp_path, text)).course
    assert course.elevation[-1] == pytest.approx(1600 - 1997.5, abs=0.1)
