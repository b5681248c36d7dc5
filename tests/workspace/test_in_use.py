"""What is switched on is the race's set: named in the title, and in force in every place."""

from pathlib import Path

from textual.widgets import DataTable

from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.quantities.clock import show_duration
from tests.workspace.driving import Driver, at_desk


def test_what_is_switched_on_is_in_force_in_every_place(small_race: Path) -> None:
    chosen = ["race.use=['Suit', 'Tyres']"]
    with_it, bare = ride_in_use(load_race(small_race, chosen)), ride_in_use(load_race(small_race))
    time, as_you_are = show_duration(with_it.time), show_duration(bare.time)
    assert with_it.time < bare.time - 1.0

    async def act(driver: Driver) -> None:
        # Nothing differs yet: no page of zeros.
        await driver.open_place("f7")
        assert driver.page("comparison").startswith("These two say the same")
        await driver.open_place("f4")
        table = driver.app.screen.query_one("#options", DataTable)
        for name in ("Suit", "Tyres"):
            table.move_cursor(row=table.get_row_index(name))
            await driver.press("space")
        await driver.settled()
        title = driver.screen.splitlines()[0]
        assert f"as you are {as_you_are} > with Suit and Tyres {time}" in title
        assert "Used together: Suit and Tyres" in driver.screen
        for place, page in (
            ("f2", "glance"),
            ("f5", "evidence-page"),
            ("f6", "card"),
            ("f9", "advice"),
        ):
            await driver.open_place(place)
            text = driver.page(page)
            assert f"In use: Suit and Tyres; without any option the time is {as_you_are}" in text, (
                place
            )
            assert driver.screen.splitlines()[0] == title, place
        await driver.open_place("f3")
        row = driver.app.screen.query_one("#stretches", DataTable).get_row_at(0)
        assert str(row[2]).strip() == time
        await driver.open_place("f8")
        driver.app.screen.query_one("#wish-budget").value = "90 EUR"
        await driver.press("ctrl+r")
        await driver.settled()
        assert "In use: Suit and Tyres" in driver.page("answer")
        await driver.open_place("f7")
        gained = bare.time - with_it.time
        assert f"now: {time}, {gained:.1f} s less than the saved file" in driver.page("comparison")
        await driver.press("ctrl+s")
        await driver.settled()
        # Saved, it is compared with the race as you are.
        assert f"{gained:.1f} s less than as you are" in driver.page("comparison")

    at_desk(act, small_race)
    assert load_race(small_race).use == ("Suit", "Tyres")

    async def again(driver: Driver) -> None:
        assert f"with Suit and Tyres {time}" in driver.screen.splitlines()[0]

    at_desk(again, small_race)
