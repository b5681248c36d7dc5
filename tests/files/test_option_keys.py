"""The keys of an option and of the money table: read, refused, and warned about."""

from pathlib import Path

import pytest

from racecalc.domain.loading import load_race
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.money import read_money
from tests.files.making import RACE, race_file

OPTIONS = """
[money]
per_second = "20 EUR"
budget = "600 EUR"
races_a_season = 8
test_fee = "25 EUR"

[[option]]
name = "Low pads"
slot = "position"
price = "0 EUR"
saves = "0.006 m^2"
holds = ["95 %", "80 %"]
otherwise = "-0.004 m^2"
power_loss = "1.5 %"
comfort = "Pulls at the neck."

[[option]]
name = "Deep wheel"
slot = "front wheel"
price = "540 EUR"
hire = "45 EUR"
resale = "200 EUR"
life = "5 years"
owned = true
rules = "allowed"
least_gain = "2 W"
catches_wind = true
gust_limit = "12 m/s"
heat_limit = "25 degC"
saves = "0.002 m^2"

[[option]]
name = "Valve stem"
slot = "valve"
price = "9 EUR"
needs = ["Deep wheel"]
excludes = ["Low pads"]
"""


@pytest.fixture
def written(tmp_path: Path):
    """Write a race with these options, some text replaced, and load it."""

    def write_it(*replaced: tuple[str, str]) -> Race:
        text = RACE + OPTIONS
        for old, new in replaced:
            assert old in text
            text = text.replace(old, new)
        return load_race(race_file(tmp_path, text))

    return write_it


def test_everything_is_read(written):
    race = written()
    pads, wheel, valve = race.options[-3:]
    assert pads.holding.shares == pytest.approx((0.95, 0.8))
    assert pads.holding.otherwise is not None
    assert pads.holding.otherwise.amount == -0.004
    assert pads.holding.power_loss is not None
    assert pads.holding.power_loss.share == 0.015
    assert pads.comfort == "Pulls at the neck."
    assert (wheel.ownership.hire, wheel.ownership.resale) == (
        read_money("45 EUR"),
        read_money("200 EUR"),
    )
    assert wheel.ownership.life is not None
    assert (wheel.ownership.life.amount, wheel.ownership.life.unit) == (5.0, "years")
    assert wheel.ownership.owned
    assert wheel.restrictions.rules == "allowed"
    assert (wheel.restrictions.least_gain, wheel.restrictions.catches_wind) == (2.0, True)
    assert (wheel.restrictions.gust_limit, wheel.restrictions.heat_limit) == (12.0, 298.15)
    assert (valve.restrictions.needs, valve.restrictions.excludes) == (
        ("Deep wheel",),
        ("Low pads",),
    )
    assert (valve.restrictions.rules, valve.holding.always) == ("not checked", True)
    money_terms = race.money_terms
    assert (money_terms.per_second, money_terms.budget) == (
        read_money("20 EUR"),
        read_money("600 EUR"),
    )
    assert (money_terms.races_a_season, money_terms.test_fee) == (8, read_money("25 EUR"))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'price = "540 EUR"',
            'price = "-540 EUR"',
            "option.price: .*is not a price; write an amount",
        ),
        ('hire = "45 EUR"', 'hire = "45"', "option.hire: .*has no currency"),
        ('life = "5 years"', 'life = "0 years"', "option.life: '0 years' is no time at all"),
        ('life = "5 years"', 'life = "long"', "does not say how long it serves"),
        ('["95 %", "80 %"]', '"120 %"', 'is not a share of the time; write from "0 %" to "100 %"'),
        ('["95 %", "80 %"]', "[]", "is not a share of the time"),
        ('holds = ["95 %", "80 %"]\n', "", "nothing says how long it is held; add holds"),
        ('power_loss = "1.5 %"', 'power_loss = "lots"', "option.power_loss: "),
        ('power_loss = "1.5 %"', 'power_loss = "130 %"', "leaves no power"),
        ('rules = "allowed"', 'rules = "alowed"', "did you mean 'allowed'"),
        (
            'needs = ["Deep wheel"]',
            'needs = ["Deep wheal"]',
            "no option 'Deep wheal'; did you mean",
        ),
        ('needs = ["Deep wheel"]', 'needs = ["Valve stem"]', "'Valve stem' needs itself"),
        ('needs = ["Deep wheel"]', "needs = 'Deep wheel'", "is not a list of names"),
        ('excludes = ["Low pads"]', 'excludes = ["Deep wheel"]', "both needed and excluded"),
        ('slot = "valve"', 'slot = "front wheel"', "has the same slot 'front wheel'"),
        ('per_second = "20 EUR"', 'per_second = "0 EUR"', "is not a price for a second"),
        ("races_a_season = 8", "races_a_season = 0", "is not possible"),
        ("races_a_season = 8", "races_a_year = 8", "did you mean 'races_a_season'"),
        ('least_gain = "2 W"', 'least_gain = "-2 W"', "is not possible"),
    ],
)
def test_what_will_not_do(written, old: str, new: str, message: str):
    with pytest.raises(InputError, match=message) as raised:
        written((old, new))
    assert "race.toml, line " in str(raised.value)


def test_a_circle_of_needs(written):
    with pytest.raises(InputError) as raised:
        written(("owned = true", 'needs = ["Valve stem"]'))
    assert "a circle of needs: 'Deep wheel' needs 'Valve stem' needs 'Deep wheel'" in str(
        raised.value
    )


def test_a_position_acts_on_air(written):
    with pytest.raises(InputError, match="a position acts on air, not on tyres"):
        written(('saves = "0.006 m^2"', 'saves = "0.0004 of Crr"'))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('slot = "valve"', 'slot = "Position"', "'position' and 'Position' are taken as two"),
        ('slot = "valve"', 'slot = "front-wheel "', "'front wheel' and 'front-wheel ' are taken"),
        ('slot = "valve"', 'slot = "front wheels"', "'front wheel' and 'front wheels' are taken"),
        ('resale = "200 EUR"', 'resale = "700 EUR"', "it sells for more than it costs"),
    ],
)
def test_what_looks_mistaken(written, old: str, new: str, message: str):
    notices = [str(notice) for notice in written((old, new)).notices]
    assert any(message in notice and "line" in notice for notice in notices), notices


def test_different_slots_are_no_slip(written):
    race = written(('slot = "valve"', 'slot = "rear wheel"'))
    assert not any("taken as two" in str(notice) for notice in race.notices)


@pytest.mark.parametrize("key", ["hire", "life", "owned", "needs", "holds", "power_loss"])
def test_a_tested_set_takes_from_its_parts(written, key: str):
    value = {
        "hire": '"5 EUR"',
        "life": '"3 races"',
        "owned": "true",
        "needs": '["Deep wheel"]',
        "holds": '"80 %"',
        "power_loss": '"1 W"',
    }[key]
    tested = f"""
[[option]]
name = "Both"
set_of = ["Low pads", "Deep wheel"]
saves = "0.007 m^2"
{key} = {value}
"""
    with pytest.raises(InputError, match=f"a set has no {key} of its own"):
        written(("[money]", f"{tested}\n[money]"))


def test_a_set_of_one_is_no_set(written):
    tested = '[[option]]\nname = "One"\nset_of = ["Low pads"]\nsaves = "0.007 m^2"\n'
    with pytest.raises(InputError, match="a set needs two options or more"):
        written(("[money]", f"{tested}\n[money]"))
