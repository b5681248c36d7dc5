"""Sheets of test days that the options of a race name as their trial."""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from racecalc.decisions.measuring.balance import Setup
from racecalc.decisions.measuring.measure import measure, rides_of
from racecalc.decisions.measuring.measured import Asked, runs_of
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option
from racecalc.domain.race import Race
from racecalc.domain.run_sheet import load_sheet
from racecalc.domain.trial import Runs
from racecalc.errors import InputError


def setup_of(race: Race) -> Setup:
    """Rider and bike of a race as they are for a test."""
    bike = race.bike
    return Setup(
        mass=race.total_mass,
        crr=bike.crr,
        efficiency=bike.efficiency,
        bearing_drag=bike.bearing_drag,
        bearing_drag_slope=bike.bearing_drag_slope,
        rotating_mass=bike.rotating_mass,
    )


def load_measured(path: Path, changes: Iterable[str] = (), text: str | None = None) -> Race:
    """Read a race as `load_race` does, and measure the sheets that its options name as trials.

    Mass, Crr and losses are those of the file as it is saved, as a what-if of the race changes
    nothing on the day of the test. The air must be in the sheet.
    """
    race = load_race(path, changes, text)
    if not any(option.trial_sheet for option in race.options):
        return race
    setup = setup_of(_as_saved(path, race))
    return replace(race, options=tuple(_measured(option, setup) for option in race.options))


def _as_saved(path: Path, race: Race) -> Race:
    try:
        return load_race(path)
    except InputError:
        return race


def _measured(option: Option, setup: Setup) -> Option:
    if option.trial_sheet is None:
        return option
    try:
        sheet = load_sheet(option.trial_sheet)
        files = {run.recording for run in sheet.runs}
        stamps = sorted((str(path), path.stat().st_mtime_ns) for path in files if path.is_file())
        runs = _runs(Asked(sheet, setup), *stamps)
    except InputError as error:
        raise error.at(f"option {option.name}") from error
    return replace(option, trial=runs, trial_sheet=None)


@lru_cache(maxsize=16)
def _runs(asked: Asked, *_: tuple[str, int]) -> Runs:
    """Runs of a sheet, measured once for as long as it and its recordings stay as they are."""
    return runs_of(measure(asked, rides_of(asked)))
