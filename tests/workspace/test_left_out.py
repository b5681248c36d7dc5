"""The runs of a test day on the screen: left out by a key, tried at once, written when asked."""

import shutil
from pathlib import Path

from rich.cells import cell_len

from tests.workspace.driving import DEMO, Driver, at_desk


def test_a_run_is_left_out_tried_and_written(tmp_path: Path) -> None:
    for name in ("testday.csv", "testday_morning.csv", "testday_evening.csv", "testday_race.toml"):
        shutil.copy(DEMO / name, tmp_path)
    sheet = tmp_path / "testday.csv"
    before = sheet.read_text("utf-8")

    async def act(driver: Driver) -> None:
        await driver.open_place("f5")
        assert "Runs" in driver.screen.splitlines()[-1]
        await driver.press("m")
        await driver.settled()
        assert "ridden in the road helmet" not in driver.page("evidence-page")
        await driver.press("space")
        await driver.settled()
        page = driver.page("evidence-page")
        assert "Left out now: run 1, 13. Not yet in testday.csv: w writes it there." in page
        assert "As the sheet is: Tarrowick suit: +13" in page
        assert sheet.read_text("utf-8") == before
        assert max(map(cell_len, driver.screen.splitlines())) <= 80
        rows = [line.split() for line in driver.screen.splitlines() if "skinsuit" in line]
        assert rows[0][:2] == ["no", "1"]
        await driver.press("w")
        await driver.settled()
        lines = sheet.read_text("utf-8").splitlines()
        changed = [
            pair for pair in zip(before.splitlines(), lines, strict=True) if len({*pair}) > 1
        ]
        [(old, new)] = changed
        assert new == old.removesuffix(",,") + ",left out on the screen,"

        def left_out() -> int:
            trial = driver.desk.session.race.options[0].trial
            return 0 if trial is None else [bool(one) for one in trial.excluded].count(True)

        assert left_out() == 2
        # Another program changes what the race file names, takes it away, and brings it back.
        sheet.write_text(before, "utf-8")
        await driver.until(lambda: "testday.csv changed on disk" in driver.screen, "a word")
        await driver.settled()
        assert left_out() == 1
        sheet.unlink()
        await driver.until(lambda: driver.desk.session.problem, "what is missing")
        sheet.write_text(before, "utf-8")
        await driver.until(lambda: not driver.desk.session.problem, "an answer")

    at_desk(act, tmp_path / "testday_race.toml")
