"""Mistakes that people make at first, each refused in one line that says what to write."""

import shlex

import pytest

from tests.files.making import RACE

MISTAKES = [
    ("time", "see racecalc time --help"),
    ("time rase.toml", "similar files there: race.toml"),
    ("time road.gpx", "'racecalc new FOLDER --course road.gpx' makes one"),
    ("time runs.csv", "'racecalc new FOLDER --course runs.csv' makes one"),
    ("time .", "name a file in it, such as race.toml"),
    ("time race.toml --set", "see racecalc time --help"),
    ("time race.toml --set rider.power", 'write for example rider.power="280 W"'),
    ('time race.toml --set power="280 W"', "write rider.power=280 W"),
    ("time race.toml --set wind_speed=3m/s", "write air.wind_speed=3m/s"),
    ("time race.toml --set mass=9kg", "write rider.mass=9kg or bike.mass=9kg"),
    ("time race.toml --set strength=3", 'write for example rider.power="280 W"'),
    (".", "name a file in it, such as race.toml"),
    ("time race.toml --set rider.power=280", "write it with one of W, kW, as in '262 W'"),
    ('time race.toml --set rider.power="280 kg"', "write one of W, kW"),
    ('time race.toml --set rider.power="-280 W"', "plausible is 80 W to 500 W"),
    ('time race.toml --set rider.power="1,200 W"', "write '1200 W' or '1.200 W'"),
    ("time race.toml --set rider.power=", 'add for example power = "262 W"'),
    ('time race.toml --set rider.pwoer="280 W"', "did you mean 'power'?"),
    ('time race.toml --set rider.weight="70 kg"', "write it as 'mass'"),
    (
        'time race.toml --set rider.mass="70 kgs"',
        "did you mean 'kg'? write one of kg, g, oz, lb, st",
    ),
    ('time race.toml --set ridr.mass="70 kg"', "did you mean 'rider'?"),
    ('time race.toml --set air.wind="3 m/s"', "write it as 'wind_speed'"),
    (
        'time race.toml --set air.wind_from="from the west"',
        "write for example '250 deg', 'WSW' or 'west-south-west', or ahead,",
    ),
    (
        "time race.toml --set air.wind_from=270",
        "write '270 deg', or a point of the compass such as 'WSW', or ahead,",
    ),
    (
        "time race.toml --set air.temperature=20",
        "write it with one of K, degC, degF, as in '17 degC'",
    ),
    ('time race.toml --set air.temperature="20 deg"', "write degC or degF"),
    ('time race.toml --set air.temperature="200 degC"', "plausible is -15 degC to 45 degC"),
    ('time race.toml --set air.humidity="120 %"', "give one in that range"),
    ("time race.toml --set bike.crr=0.35", "if that is a percentage, write '0.35 %'"),
    ('time race.toml --set bike.crr="0.0042 N"', "write one of %, ‰, none"),
    ('time race.toml --set bike.cda="2400 m^2"', "plausible is 0.16 m^2 to 0.55 m^2"),
    ('time race.toml --set bike.cda="0.24 cm2"', "plausible is 0.16 m^2 to 0.55 m^2"),
    (
        'time race.toml --set bike.drivetrain_loss="97.5 %"',
        "if that is what is left, write '2.5 %'",
    ),
    (
        'time race.toml --set course.distance="40"',
        "write it with one of m, km, cm, mm, mi, ft, yd, in, as in '40 km'",
    ),
    ('time race.toml --set course.grade="steep"', "write for example '4 %'"),
    ('time race.toml --set option.1.saves="5 W"', 'write for example "5 W at 45 km/h"'),
    ('time race.toml --set option.1.saves="3 %"', 'write "3 % of CdA" or "3 % of power at 250 W"'),
    (
        'time race.toml --set option.1.saves="3 % of drag"',
        'write "4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2',
    ),
    (
        'time race.toml --set option.1.saves="30 g"',
        'write "4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2',
    ),
    ('time race.toml --set option.1.price="240"', "write its code, as in '240 EUR'"),
    (
        'time race.toml --set option.1.price="240 euro"',
        "did you mean 'EUR'? write a code of ISO 4217 in three capital",
    ),
    ('time race.toml --set option.9.price="240 EUR"', "known: Long-sleeve suit, Tyres v2.0"),
    (
        "time race.toml --split 5",
        "write it with one of m, km, cm, mm, mi, ft, yd, in, as in '40 km'",
    ),
    ('time race.toml --split "5 W"', "write one of m, km, cm, mm, mi, ft, yd, in"),
    ("time race.toml --units english", "see racecalc time --help"),
    ('time race.toml --splits "5 km"', "did you mean '--split'? see racecalc time --help"),
    ("time race.toml old.toml", "a line is written key ="),
    ("time old.toml", 'a line is written key = "value with unit"'),
    ("value race.toml --together Suitt", "known: Long-sleeve suit, Tyres v2.0"),
    ("value race.toml --order money", "see racecalc value --help"),
    ('value race.toml --price-per-second "0 EUR"', "give more than zero"),
    (
        'value race.toml --price-per-second "3 USD"',
        "give every price in one currency, at a rate of your own",
    ),
    ("against race.toml Tyres", "see racecalc against --help"),
    ("against race.toml Tyres Tyres", "name another option"),
    ("breakeven race.toml", 'add --option NAME or --mass "+850 g"'),
    ("breakeven race.toml --option s", "write more of the name"),
    ("basket race.toml", 'add --budget "600 EUR", or budget under [money] in the race file'),
    ('basket race.toml --budget "-5 EUR"', "write an amount of zero or more"),
    ("basket race.toml --budget many", "write for example '240 EUR'"),
    (
        "decide race.toml --fee 25",
        'give it, as --price-per-second "5 EUR", or per_second under [money]',
    ),
    ("pace race.toml --goal 58", "write it with one of s, min, h, as in '58:30'"),
    ("pace race.toml --goal 1:00", "bends and speed limits decide; give a longer time"),
    ("pace race.toml -o card.docx", "end it with .html, .pdf, .csv or .gpx"),
    ("trial race.toml", "add 'cda [m^2]', 'power [W]' or 'drag [N]'"),
    ('trial runs.csv --margin "1 s"', "write one of m^2, cm^2, ft^2, in^2"),
    ("trial missing.csv", "check the name"),
    ("measure runs.csv", "the headings are: item, cda [m^2]"),
    ("plan Old", "see racecalc plan --help"),
    (
        "plan Old New --difference 3 --repeatability 4",
        'write for example "0.004 m^2", "3 W" or "0.3 N"',
    ),
    ('plan Old New --difference "3 W" --repeatability "0.002 m^2"', "write one of W, kW"),
    ('convert "5 W"', "of CdA it is 0.0061 m^2 at 40 km/h, 0.0043 m^2 at 45 km/h, 0.0031 m^2"),
    ('convert "3 %"', 'write "3 % of power" or "3 % of CdA"; the two differ'),
    ('convert "5"', 'write "4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2'),
    (
        'convert "5 W at 45 km/h" --to parsecs',
        'write "4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2',
    ),
    ("weather race.toml", 'state one, for example --set air.wind_doubt="1.5 m/s" or'),
    ("weather race.toml --forecast runs.csv", "the headings are: item, cda [m^2]"),
    ("places race.toml runs.csv", "the headings are: item, cda [m^2]"),
    ("review race.toml runs.csv", "the headings are: item, cda [m^2]"),
    ("compare race.toml", "see racecalc compare --help"),
    ("advice race.toml -o page.doc", "end it with .html, .pdf, .md or .txt"),
    ("advice race.toml -o nofolder/page.html", "make it first"),
    ("help pacng", "did you mean 'pacing'?"),
    ("help json tim", "did you mean 'time'?"),
    ("quick", "see racecalc quick --help"),
    ("quick fast", "write for example '40km 250W 0.25m2 83kg'; wind as '3m/s ahead',"),
    ("quick 5s", "write for example '40km 250W 0.25m2 83kg'; wind as '3m/s ahead',"),
    ("quick 40km 20km", "keep one of them"),
    ("quick 40km --saves 5W", 'write for example "5W at 45 km/h"'),
    ("set race.toml rider.power", 'write for example rider.power="280 W"'),
    ("set race.toml rider.power=fast", "write for example '262 W'"),
    ("completion csh", "see racecalc completion --help"),
]
"""What is typed, and the beginning of what to do instead."""


@pytest.fixture
def refused(racecalc, tmp_path):
    """Type a command in a folder with a race file: its error, on one line."""
    (tmp_path / "race.toml").write_text(RACE, encoding="utf-8")
    (tmp_path / "runs.csv").write_text("item,cda [m^2]\nOld,0.24\nNew,0.235\n", encoding="utf-8")
    (tmp_path / "road.gpx").write_text("<gpx/>", encoding="utf-8")
    (tmp_path / "old.toml").write_text("x", encoding="utf-8")

    def refused(words: str) -> str:
        status, out, error = racecalc(*shlex.split(words))
        assert (status, out) == (2, "")
        assert error.count("\n") == 1
        return error

    return refused


@pytest.mark.parametrize(("words", "remedy"), MISTAKES)
def test_a_mistake_is_met_with_what_to_write(refused, words: str, remedy: str) -> None:
    assert f"; {remedy}" in refused(words)


def test_a_newcomer_meets_no_dead_end() -> None:
    assert len(MISTAKES) >= 60
