"""From the start to the answer, as the athlete, the shopper and the coach go."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from textual.widgets import Button, DataTable, Input, Select

from racecalc.answers.columns import seconds_between, seconds_like
from racecalc.decisions.advice.shopping import USED
from racecalc.decisions.break_even import Against, break_evens
from racecalc.decisions.comparison import outlook_of
from racecalc.decisions.pacing.card import pace
from racecalc.decisions.pacing.limits import asked_limit
from racecalc.decisions.riding import ride
from racecalc.decisions.value import last_spent, value_of_set
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.quantities.clock import show_duration
from racecalc.views.workspace.place import HEAD
from tests.workspace.driving import Driver, at_desk


def test_athlete_seconds_per_watt_in_one_edit(race_file: Path) -> None:
    """One keystroke shows what a watt is worth; a changed watt shows it again as a difference."""
    before = outlook_of(load_race(race_file))
    after = outlook_of(load_race(race_file, ["rider.power=263 W"]))

    async def act(driver: Driver) -> None:
        assert show_duration(before.base.time) in driver.page("glance")
        per_watt = before.rates[0].seconds_per_unit
        assert f"{per_watt:+.2f}" in driver.page("glance")
        await driver.type_into("rider", "power", "263 W")
        saved = before.base.time - after.base.time
        assert f"{saved:.1f} s less than the saved file" in driver.page("glance")
        # The rate is a slope, the edit a full solve: they agree to the curvature of one watt.
        assert saved == pytest.approx(per_watt, rel=0.01)
        assert f"{after.rates[0].seconds_per_unit:+.2f}" in driver.page("glance")
        assert f"{per_watt:+.2f}" in driver.page("glance")

    at_desk(act, race_file)


def heads_of(table: DataTable) -> list[str]:
    return [str(key.value) for key in table.rows if str(key.value).startswith(HEAD)]


def groups_of(table: DataTable) -> dict[str, set[str]]:
    """The options below each line that begins a group."""
    groups: dict[str, set[str]] = {}
    for key in table.rows:
        if str(key.value).startswith(HEAD):
            group = groups[str(table.get_row(key)[1]).strip("\u2500 ")] = set()
        else:
            group.add(str(key.value))
    return groups


def test_shopper_money_per_second(short_demo: Path) -> None:
    """The table by money a second, what two options give together, from where on one pays."""
    base = ride(load_race(short_demo))
    chain = next(one for one in base.race.options if one.name == "Hot-waxed chain")
    in_use = ride_in_use(replace(base.race, use=("Fenzarra Calm tyres", "Brinnoth Lowtide suit")))
    found = break_evens(in_use, chain, Against(base.race.money_terms.per_second))
    options = {one.name: one for one in outlook_options(short_demo)}
    used = (options["Fenzarra Calm tyres"], options["Brinnoth Lowtide suit"])

    async def act(driver: Driver) -> None:
        await driver.open_place("f4")
        table = driver.app.screen.query_one("#options", DataTable)
        made = driver.desk.session.advice
        assert made is not None
        groups = groups_of(table)
        assert groups["do"] == set(made[0].advice.shopping.to(*USED))
        assert groups["leave"] == set(made[0].advice.shopping.to("leave"))
        # The lines between the groups are passed over, downward and upward.
        head = next(at for at, key in enumerate(table.rows) if str(key.value) == heads_of(table)[1])
        for start, end in ((head - 1, head + 1), (head + 1, head - 1)):
            table.move_cursor(row=start)
            await driver.pilot.pause()
            await driver.press("down" if end > start else "up")
            assert table.cursor_row == end
        await driver.press("o", "o")
        names = [str(table.get_row_at(row)[1]).strip() for row in range(3)]
        # Two free things first; then the tyres, of which 8 races wear little.
        assert names[2] == "Fenzarra Calm tyres"
        for name in ("Fenzarra Calm tyres", "Brinnoth Lowtide suit"):
            table.move_cursor(row=table.get_row_index(name))
            await driver.press("space")
        await driver.settled()
        words = str(driver.app.screen.query_one("#used").render())
        together = value_of_set(base, used, base.race.tested_sets)
        ends = together.saved_s_low, together.saved_s_high
        assert f"{seconds_between(together.saved_s, *ends)} s" in words
        assert (
            f"the sum of each alone is {seconds_like(together.sum_of_single_s, *ends)} s" in words
        )
        # 8 x 240 / 60 for the suit, and the tyres for 8 such races of the 1500 km that they last.
        cost = 32 + 8 * 124 * base.race.course.length / 1.5e6
        assert f"cost {cost:.0f} EUR" in words
        assert "Costs are for 8 races" in words
        last = last_spent(base, used, base.race.tested_sets)
        assert last is not None
        assert last.name == "Brinnoth Lowtide suit"
        assert f"{last.per_second:.2f} EUR per second" in words

        table.move_cursor(row=table.get_row_index(chain.name))
        await driver.settled()
        text = driver.page("option-page")
        for row in found.break_evens:
            assert row.reason.split(",")[0] in text
            assert row.watts_w is None or f"{row.watts_w:.2f}" in text or row.watts_w <= 0

    at_desk(act, short_demo)


def test_coach_targets_within_a_limit(short_demo: Path) -> None:
    """The card for fewer sections and a plain mean is that of the command."""
    base = ride(load_race(short_demo))
    card = pace(base, asked_limit(base, "mean"), 6).card

    async def act(driver: Driver) -> None:
        await driver.open_place("f6")
        driver.app.screen.query_one("#limit", Select).value = "mean"
        driver.app.screen.query_one("#sections", Input).value = "6"
        # The card stands there before it is tried in other winds.
        watts = [f" {target.power_w:.0f} " for target in card.targets]

        def chart() -> str:
            return str(driver.app.screen.query_one("#pacing-chart").render())

        await driver.until(lambda: all(one in chart() for one in watts), "a card")
        text = driver.page("card")
        assert f"{card.saved_s:.0f} s gained" in text
        assert all(one in text for one in watts)
        assert "Turn at the breakwater" in chart()

    at_desk(act, short_demo)


def test_pacing_names_what_is_in_use(short_demo: Path) -> None:
    async def act(driver: Driver) -> None:
        await driver.open_place("f6")
        await driver.until(lambda: "In use: Hot-waxed chain" in driver.page("card"), "what is used")

    content = short_demo.read_text(encoding="utf-8")
    used = content.replace("[race]\n", '[race]\nuse = ["Hot-waxed chain"]\n', 1)
    short_demo.write_text(used, encoding="utf-8")
    at_desk(act, short_demo)


def test_question_gives_the_answer_of_its_command(short_demo: Path, racecalc) -> None:
    """Also for unsaved changes: the draft is asked about, not the file."""
    _, out, _ = racecalc(
        "basket", short_demo, "--budget", "300 EUR", "--no-ladder", "--set", "rider.power=280 W",
        "--json",
    )  # fmt: skip
    found = json.loads(out)

    async def act(driver: Driver) -> None:
        await driver.fill("rider", "power", "280 W")
        await driver.open_place("f8")
        driver.app.screen.query_one("#wish-budget", Input).value = "300 EUR"
        driver.app.screen.query_one("#more", Button).press()
        await driver.until(lambda: driver.app.screen.query("#wish-ladder"), "more wishes")
        driver.app.screen.query_one("#wish-ladder", Input).value = "no"
        await driver.press("ctrl+r")
        await driver.settled()
        text = driver.page("answer")
        for name in found["chosen"]:
            assert name in text
        ends = found["saved_s_low"], found["saved_s_high"]
        assert f"{seconds_between(found['saved_s'], *ends)} s" in text

    at_desk(act, short_demo, (140, 45))


def outlook_options(path: Path):
    return [gain.option for gain in outlook_of(load_race(path)).gains]
