"""Two options set against each other by key, in the place of options."""

from pathlib import Path

from textual.widgets import DataTable

from racecalc.decisions.against import Rivals, rivals_of
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.views.workspace.place import HEAD
from tests.workspace.driving import Driver, at_desk


def table(driver: Driver) -> DataTable:
    found: DataTable = driver.app.screen.query_one("#options", DataTable)
    return found


async def press_at(driver: Driver, name: str, *keys: str) -> None:
    """Press keys on the row of an option."""
    table(driver).move_cursor(row=table(driver).get_row_index(name))
    await driver.pilot.pause()
    await driver.press(*keys)
    await driver.settled()


def marks(driver: Driver) -> dict[str, str]:
    keys = [key for key in table(driver).rows if not str(key.value).startswith(HEAD)]
    rows = [table(driver).get_row(key) for key in keys]
    return {str(row[1]).strip(): str(row[0]).strip() for row in rows}


def test_rivals_on_the_options(small_race: Path) -> None:
    """Two options set against each other, a mark taken back, a changed race, and the keys."""
    base = ride_in_use(load_race(small_race))
    found = rivals_of(base, ("Suit",), ("Other suit",))

    async def act(driver: Driver) -> None:
        await driver.open_place("f4")
        await r_on_two_options_sets_one_against_the_other(driver, found)
        await r_again_takes_the_mark_away(driver)
        await the_line_of_keys_and_the_help_name_it(driver)
        await rivals_follow_the_race(driver)

    at_desk(act, small_race)


async def r_on_two_options_sets_one_against_the_other(driver: Driver, found: Rivals) -> None:
    await press_at(driver, "Suit", "r")
    assert marks(driver) == {"Suit": "r", "Other suit": "", "Tyres": ""}
    await press_at(driver, "Other suit", "r")
    assert marks(driver) == {"Suit": "r", "Other suit": "r", "Tyres": ""}
    page = driver.page("option-page")
    low, high = -(found.gain.saved_s_high or 0.0), -(found.gain.saved_s_low or 0.0)
    quicker = f"Other suit is {-found.gain.saved_s:.0f} s faster than Suit"
    ends = f"between {low:.0f} and {high:.0f} s in 95 of 100 cases"
    assert page.startswith(f"{quicker}, {ends}")
    assert f"chance {100 * (1 - found.gain.chance_faster):.0f} %" in page
    # What is shown stays while one looks through the table, and Escape ends it.
    await press_at(driver, "Tyres")
    assert driver.page("option-page") == page
    await driver.press("escape")
    await driver.settled()
    assert set(marks(driver).values()) == {""}
    assert driver.page("option-page").startswith("Tyres:")


async def r_again_takes_the_mark_away(driver: Driver) -> None:
    await press_at(driver, "Suit", "r", "r")
    assert set(marks(driver).values()) == {""}
    await press_at(driver, "Suit", "r")
    await press_at(driver, "Tyres", "r")
    page = driver.page("option-page")
    assert "no chance is known, as no doubt is stated for Tyres" in page
    # Another mark begins anew, and what is saved then is that of one option again.
    await press_at(driver, "Other suit", "r")
    assert marks(driver) == {"Suit": "", "Other suit": "r", "Tyres": ""}
    assert driver.page("option-page").startswith("Other suit:")
    await driver.press("escape")


async def the_line_of_keys_and_the_help_name_it(driver: Driver) -> None:
    last = driver.screen.splitlines()[-1]
    assert "r Rival" in last
    assert "^z Undo" in last
    assert len(last) <= 80
    await driver.press("f1")
    await driver.until(lambda: "r on another compares the two" in driver.screen, "the help")
    await driver.press("escape")


async def rivals_follow_the_race(driver: Driver) -> None:
    await press_at(driver, "Suit", "r")
    await press_at(driver, "Other suit", "r")
    await press_at(driver, "Suit", "space")
    assert marks(driver)["Suit"] == "r"
    assert "costs 300 EUR more" in driver.page("option-page")
    await press_at(driver, "Suit", "v")
    assert marks(driver)["Suit"] == "x"
