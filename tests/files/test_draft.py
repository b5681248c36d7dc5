"""A race file while it is edited: the owner's words stay, and every step can be taken back."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.errors import InputError
from racecalc.files.draft import MOST_STEPS, Draft, Spot
from racecalc.files.race_file import parse_toml
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_writing import as_typed, from_typed

POWER = Spot("rider", "power")
TEXT = """\
# The league on the shore
[rider]
mass = "67 kg"      # before breakfast
power = "262 W"

# after all
[[option]]
name = "Cap"   # mine
slot = "head"
"""


def draft(text: str = TEXT) -> Draft:
    return Draft(Path("race.toml"), text)


def test_a_value_changes_and_all_else_stays() -> None:
    one = draft()
    one.write(POWER, "271 W")
    before, after = TEXT.splitlines(), one.text.splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 1
    assert '"271 W"' in changed[0][1]
    assert one.unsaved


def test_typing_on_at_one_spot_is_one_step() -> None:
    one = draft()
    for typed in ("27 W", "271 W", "2710 W"):
        one.write(POWER, typed)
    one.write(Spot("rider", "mass"), "70 kg")
    one.undo()
    assert one.value(POWER) == "2710 W"
    one.undo()
    assert one.text == TEXT
    assert not one.can_undo
    assert not one.unsaved
    one.redo()
    one.redo()
    assert one.value(Spot("rider", "mass")) == "70 kg"
    assert not one.can_redo


def test_a_new_step_drops_what_was_taken_back() -> None:
    one = draft()
    one.write(POWER, "271 W")
    one.undo()
    one.write(POWER, "280 W")
    assert not one.can_redo
    one.undo()
    assert one.text == TEXT


def test_a_key_is_added_to_a_table_that_was_not_there_and_taken_out() -> None:
    one = draft()
    spot = Spot("money", "budget")
    one.write(spot, "300 EUR")
    assert parse_toml(one.text, "")["money"] == {"budget": "300 EUR"}
    one.write(spot, None)
    assert one.value(spot) is None
    one.write(spot, None)


def test_tables_of_a_list_come_and_go() -> None:
    one = draft()
    number = one.add("option", {"name": "Suit", "slot": "suit"})
    one.write(Spot("option", "price", number), "240 EUR")
    assert one.entries("option")[number] == {"name": "Suit", "slot": "suit", "price": "240 EUR"}
    assert one.words(Spot("option", "price", number)) == "Suit, price"
    assert one.add("course.landmark", {"at": "1 km", "name": "Bridge"}) == 0
    one.remove("option", 0)
    assert [entry["name"] for entry in one.entries("option")] == ["Suit"]
    one.remove("option", 0)
    assert one.entries("option") == []
    with pytest.raises(IndexError):
        one.write(Spot("option", "price", 3), "1 EUR")
    for _ in range(6):
        one.undo()
    assert one.text == TEXT


def test_what_differs_from_another_text() -> None:
    one = draft()
    one.write(POWER, "271 W")
    one.write(Spot("option", "mass", 0), "+40 g")
    differing = {found.words: (found.before, found.after) for found in one.differences(TEXT)}
    assert differing == {"rider, power": ("262 W", "271 W"), "Cap, mass": (None, "+40 g")}


def test_tables_of_a_list_are_known_by_their_names() -> None:
    one = draft(TEXT + '[[option]]\nname = "Suit"\nprice = "200 EUR"\n')
    before = one.text
    one.remove("option", 0)
    one.add("option", {"name": "Tyres"})
    found = [(each.words, each.spot, each.before, each.after) for each in one.differences(before)]
    assert found == [("option Tyres", None, None, "added"), ("option Cap", None, "present", None)]


@pytest.mark.parametrize(
    "text",
    [
        'option = [{ name = "Cap" }]\n',
        "option = []\n",
        '[option]\nname = "Cap"\n',
        "option = 5\n",
    ],
)
def test_a_list_written_otherwise_is_refused_and_stays(text: str) -> None:
    one = draft(text)
    with pytest.raises(InputError, match="cannot be changed here"):
        one.add("option", {"name": "Suit"})
    assert one.text == text
    assert not one.can_undo


def test_a_table_that_is_none_is_refused() -> None:
    one = draft("rider = 5\n")
    with pytest.raises(InputError, match="cannot be changed here"):
        one.write(POWER, "271 W")
    assert one.text == "rider = 5\n"


def test_typing_a_value_back_leaves_no_step() -> None:
    one = draft()
    one.write(POWER, "271 W")
    one.write(POWER, "262 W")
    assert not one.can_undo
    assert not one.unsaved


def test_the_owners_line_ends_stay() -> None:
    one = draft(TEXT.replace("\n", "\r\n"))
    one.add("option", {"name": "Suit"})
    one.write(Spot("air", "temperature"), "18 degC")
    assert "\n" not in one.text.replace("\r\n", "")


def test_no_more_steps_than_a_long_evening() -> None:
    one = draft()
    spots = (POWER, Spot("rider", "mass"))
    for number in range(MOST_STEPS + 20):
        one.write(spots[number % 2], f"{100 + number / 10} {'W' if number % 2 == 0 else 'kg'}")
    steps = 0
    while one.can_undo:
        one.undo()
        steps += 1
    assert steps == MOST_STEPS - 1


def test_saving_and_a_file_that_something_else_changed(tmp_path: Path) -> None:
    path = tmp_path / "race.toml"
    path.write_text(TEXT, encoding="utf-8")
    one = Draft.opened(path)
    one.write(POWER, "271 W")
    assert not one.changed_on_disk()
    one.save()
    assert path.read_text(encoding="utf-8") == one.text
    assert not one.unsaved
    path.write_text(TEXT, encoding="utf-8")
    assert one.changed_on_disk()


def test_a_text_that_is_no_toml_is_refused_with_its_line() -> None:
    with pytest.raises(InputError, match="line 2"):
        draft("[rider]\nmass = \n")


@pytest.mark.parametrize(
    ("table", "key", "typed", "value"),
    [
        ("rider", "power", " 262 W ", "262 W"),
        ("rider", "power", "262", 262),
        ("bike", "crr", "0.0042", 0.0042),
        ("bike", "crr", "0.42 %", "0.42 %"),
        ("course", "reverse", "true", True),
        ("course", "laps", "2", 2),
        ("race", "name", "007", "007"),
        ("option", "price", "240 EUR", "240 EUR"),
        ("option", "holds", '["95 %", "85 %"]', ["95 %", "85 %"]),
        ("air", "wind_from", "2020-01-01", "2020-01-01"),
        ("rider", "mass", "  ", None),
    ],
)
def test_what_is_typed_becomes_what_toml_would_say(
    table: str, key: str, typed: str, value: object
) -> None:
    assert from_typed(RACE_KEYS[table][key], typed) == value
    if value is not None:
        assert from_typed(RACE_KEYS[table][key], as_typed(value)) == value


@given(st.text(st.characters(blacklist_categories=["Cs", "Cc"]), min_size=1, max_size=60))
def test_any_text_can_be_written_and_read_back(typed: str) -> None:
    """Quotes, brackets, backslashes, letters of any alphabet: TOML takes them all."""
    one = draft()
    value = from_typed(RACE_KEYS["race"]["name"], typed)
    one.write(Spot("race", "name"), value)
    assert Draft(Path("race.toml"), one.text).value(Spot("race", "name")) == value
