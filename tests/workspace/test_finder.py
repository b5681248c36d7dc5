"""Find anything, values by steps, questions in sentences: what they find, do and give back."""

from pathlib import Path

import pytest
from textual.widgets import DataTable, Input, OptionList

from racecalc.errors import InputError
from racecalc.files.draft import Draft
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import stepped
from racecalc.views.command_line import COMMANDS, QUESTIONS, command
from racecalc.views.workspace.ask_place import AskPlace, questions
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import ChoiceDialog, ListDialog
from racecalc.views.workspace.entry_screen import EntryScreen
from racecalc.views.workspace.finder import Finder, findings_at, value_for, wanted_of
from racecalc.views.workspace.places import ACTIONS, WAYS
from racecalc.views.workspace.wishes import wishes_of
from tests.workspace.driving import SMALL, Driver, at_desk
from tests.workspace.test_keys import burst

# Worked out by hand: a step is the amount that the table of keys or kinds states, in the unit of
# the value, rounded to 1, 2 or 5 with zeros; 0.1 kg is 0.22 lb and 1 degC is 1.8 degF.
STEPS = (
    ("air", "temperature", "17 degC", 1, "18 degC"),
    ("air", "temperature", "17 degC", 10, "27 degC"),
    ("air", "temperature", "63 degF", 1, "65 degF"),
    ("rider", "power", "262 W", -1, "257 W"),
    ("rider", "mass", "67 kg", 1, "67.1 kg"),
    ("rider", "mass", "148.5 lb", 10, "150.5 lb"),
    ("bike", "cda", "0.236 m^2", -1, "0.235 m^2"),
    ("bike", "crr", "0.0042", 1, "0.0043"),
    ("air", "wind_speed", "3 m/s", 1, "3.5 m/s"),
    ("air", "wind_from", "355 deg", 1, "5 deg"),
    ("air", "terrain", "", 1, "low hedges"),
    ("air", "humidity", "", 1, "55 %"),
    ("course", "laps", "2", 1, "3"),
    ("course", "flat", "", 1, "true"),
    ("option", "mass", "+50 g", -10, "-50 g"),
    ("option", "price", "240 EUR", 10, "340 EUR"),
    ("option", "saves", "3.5 W at 45 km/h", 1, "3.6 W at 45 km/h"),
    ("rider", "power_doubt", "", 1, "6 W"),
)


@pytest.mark.parametrize(("table", "key", "before", "steps", "after"), STEPS)
def test_a_value_goes_up_and_down_and_keeps_its_unit(
    table: str, key: str, before: str, steps: int, after: str
) -> None:
    assert stepped(RACE_KEYS[table][key], before, steps) == after


@pytest.mark.parametrize(
    ("table", "key", "before"),
    [("air", "wind_from", "WSW"), ("air", "wind_speed", "1 m/s"), ("rider", "mass", "10 st 8 lb")],
)
def test_what_has_no_step_or_would_be_impossible_is_refused(
    table: str, key: str, before: str
) -> None:
    with pytest.raises(InputError):
        stepped(RACE_KEYS[table][key], before, -10)


@pytest.mark.parametrize(
    ("query", "table", "key", "now", "value"),
    [
        ("30 deg", "air", "temperature", "17 degC", "30 degC"),
        ("30 deg", "air", "wind_from", "250 deg", "30 deg"),
        ("wind 6", "air", "wind_speed", "3 m/s", "6 m/s"),
        ("wind 20 km", "air", "wind_speed", "3 m/s", "20 km/h"),
        ("500e", "money", "budget", "", "500 EUR"),
        ("30 deg", "rider", "power", "262 W", None),
        ("-300 deg", "air", "temperature", "17 degC", None),
        ("6", "air", "wind_speed", "", "6 m/s"),
    ],
)
def test_a_value_among_the_words_takes_the_unit_that_it_begins(
    query: str, table: str, key: str, now: str, value: str | None
) -> None:
    wanted = wanted_of(query)
    assert wanted is not None
    assert value_for(RACE_KEYS[table][key], wanted, now, ["EUR"]) == value


def test_every_command_that_answers_is_asked_in_sentences_of_its_own_parameters() -> None:
    # Those that answer nothing about the open race, or have a place of their own.
    elsewhere = {"advice", "set", "new", "completion", "open", "compare", "help"}
    assert set(QUESTIONS) == set(COMMANDS) - elsewhere
    assert {one.command for one in questions()} == set(QUESTIONS)
    draft = Draft(Path("canal.toml"), SMALL)
    for question in questions():
        wishes = wishes_of(command(question.command), draft)
        assert set(question.slots) <= set(wishes), question
        # What must be given can be typed.
        assert all(wish.label for wish in wishes.values()), question


def test_anything_is_found_by_its_words_and_gone_to(small_race: Path) -> None:
    small_race.write_text(SMALL.replace("[race]\n", '[money]\nbudget = "500 EUR"\n[race]\n'))

    async def act(driver: Driver) -> None:
        draft = driver.desk.session.draft
        nearest = {
            "wind": "wind speed (air)",
            "suit": "Suit",
            "18 deg": "temperature (air): 18 degC",
            "goal": "goal time",
            "pac": "Pacing",
            "sav": "Save",
            "faster": "Is [first] or [second] faster?",
            "tyres mass": "mass (Tyres)",
        }
        for words, name in nearest.items():
            assert findings_at(driver.desk, words)[0].name == name, words
        await driver.press("ctrl+f")
        await driver.shown(Finder)
        await driver.press("escape")
        await driver.shown(DeskScreen)

        # In a burst, and on with steps: each key goes where those before it have led.
        burst(driver, "ctrl+f t e enter ctrl+shift+up")
        await driver.until(lambda: 'temperature = "28 degC"' in draft.text, "ten degrees more")
        await driver.settled()
        assert driver.app.focused in driver.field("air", "temperature").query(Input)
        # A field that was not shown is there now, alone of its table.
        burst(driver, "ctrl+f h u m i enter ctrl+up")
        await driver.until(lambda: 'humidity = "55 %"' in draft.text, "a field made")
        await driver.settled()

        burst(driver, "ctrl+f o t h e r enter")
        await driver.until(lambda: driver.desk.front.name == "Options", "the options")
        table = driver.app.screen.query_one("#options", DataTable)
        await driver.until(lambda: table.row_count, "rows")
        assert table.cursor_row == table.get_row_index("Other suit")
        burst(driver, "ctrl+f t y r e s space m a s s enter ctrl+down")
        await driver.shown(EntryScreen)
        await driver.until(lambda: 'mass = "+40 g"' in draft.text, "a lighter tyre")
        # From inside an option, which is left for it unless something in it will not do.
        driver.field("option", "mass", 2).put("40")
        burst(driver, "ctrl+f w i n d enter")
        await driver.until(lambda: "fix or clear it first" in driver.screen, "what is wrong")
        driver.field("option", "mass", 2).put("+40 g")
        burst(driver, "ctrl+f w i n d enter")
        await driver.shown(DeskScreen)
        await driver.until(
            lambda: driver.app.focused in driver.field("air", "wind_speed").query(Input), "wind"
        )
        await driver.until(lambda: "wind speed " in driver.screen, "the wind in view")

        burst(driver, "ctrl+f g o a l enter 1 6")
        goal = driver.desk.query
        await driver.until(lambda: goal("#goal") and goal("#goal").first(Input).value == "16", "16")

    at_desk(act, small_race)


def test_what_is_found_exists() -> None:
    """The parts of places, and the actions by name."""
    for way in WAYS:
        source = Path(__import__(way.load().__module__, fromlist=["x"]).__file__).read_text("utf-8")
        for _, part in way.parts:
            assert f'"{part}"' in source, part
    for _, _, action in ACTIONS:
        name = f"action_{action.removeprefix('app.')}"
        owner = DeskScreen if "." not in action else Driver.__init__.__globals__["Workspace"]
        assert hasattr(owner, name), action


def test_questions_in_sentences_with_lists_errors_and_past_answers(small_race: Path) -> None:
    async def act(driver: Driver) -> None:
        # Before the first answer: it is waited for.
        await driver.press("f8", "ctrl+r")
        place = driver.desk.front
        assert isinstance(place, AskPlace)
        await driver.settled()
        # In the words of the screen, not in flags.
        assert "no budget is given" in driver.page("answer")
        assert "--" not in driver.page("answer").split("canal.toml", 1)[1].split("! ", 1)[1]
        listed = driver.app.screen.query_one("#questions", OptionList)
        await driver.fill_wish("budget", "300 EUR")
        assert "Which set for [300 EUR]?" in driver.screen
        await driver.press("ctrl+r")
        await driver.settled()
        first = driver.page("answer")
        assert first.startswith("Which set for [300 EUR]? $ racecalc basket")

        # From an option: the question is filled in, and asked.
        await driver.desk.go_to_option("Tyres")
        await driver.press("enter")
        await driver.shown(EntryScreen)
        await driver.press("ctrl+r")
        await driver.shown(ChoiceDialog)
        await driver.press("b")
        await driver.shown(DeskScreen)
        await driver.until(lambda: "does [Tyres] pay" in driver.page("answer"), "its break-even")
        await driver.settled()
        assert "--option Tyres" in driver.page("answer")
        # Another option from the list, by its letter.
        driver.app.screen.query_one("#wish-name", Input).focus()
        await driver.press("down")
        await driver.shown(ListDialog)
        await driver.press("o", "enter")
        await driver.shown(DeskScreen)
        assert driver.app.screen.query_one("#wish-name", Input).value == "Other suit"

        # Past answers, the last one first, as they were.
        last = listed.get_option("past-0").prompt
        assert str(last) == "From which saving does [Tyres] pay?"
        listed.highlighted = listed.get_option_index("past-1")
        await driver.pilot.pause()
        assert driver.page("answer") == first

        # Against another: what is missing is where one types.
        await driver.desk.ask_about("Tyres", "against")
        await driver.pilot.pause()
        assert driver.app.focused is driver.app.screen.query_one("#wish-second")
        await driver.desk.ask_about("Suit", "test")
        assert driver.desk.front.name == "Evidence"
        line = driver.app.screen.query_one("#evidence-options", OptionList)
        assert str(line.highlighted_option.prompt).endswith(" Suit")  # type: ignore[union-attr]

    at_desk(act, small_race, (100, 30), settle=False)
