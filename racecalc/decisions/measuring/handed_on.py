"""What is measured, handed on: as a table, as the runs of a trial, and to the options of a race."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from racecalc.decisions.measuring.balance import Setup
from racecalc.decisions.measuring.measure import Asked, MeasuredRun, TestDay, measure, rides_of
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option
from racecalc.domain.race import Race
from racecalc.domain.run_sheet import load_sheet
from racecalc.domain.trial import ONE_SESSION, Runs
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


def runs_of(day: TestDay) -> Runs:
    """The runs as `racecalc trial` reads them from their table, without its rounding."""
    every = day.runs
    try:
        order = np.array([float(run.order) for run in every])
    except ValueError:
        order = np.arange(1.0, len(every) + 1.0)
    return Runs(
        source=day.source,
        measure="cda",
        item=tuple(run.item for run in every),
        rider=tuple(run.rider for run in every),
        session=tuple(run.sitting or ONE_SESSION for run in every),
        day=tuple(run.day or run.session or ONE_SESSION for run in every),
        order=order,
        value=np.array([run.cda_m2 for run in every]),
        speed=np.array([run.speed_m_s for run in every]),
        density=np.array([run.density_kg_m3 for run in every]),
        yaw=np.full(len(every), np.nan),
        note=tuple(run.note for run in every),
        line=tuple(run.line for run in every),
        excluded=tuple(run.excluded for run in every),
    )


def rows_of(day: TestDay) -> list[list[str]]:
    """The runs as a table that `racecalc trial` reads, the heading first."""
    heading = [
        *day.heading, "order", "item", "cda [m^2]", "standard error [m^2]", "speed [km/h]",
        "mean power [W]", "density [kg/m^3]", "yaw [deg]", "laps", "left out [s]", "excluded",
        "note",
    ]  # fmt: skip
    return [heading, *(_row(run, day.heading) for run in day.runs)]


def _row(run: MeasuredRun, names: Sequence[str]) -> list[str]:
    error, yaw = run.standard_error_m2, run.yaw_deg
    return [
        *(getattr(run, name) for name in names),
        run.order,
        run.item,
        f"{run.cda_m2:.5f}",
        "" if error is None else f"{error:.5f}",
        f"{3.6 * run.speed_m_s:.2f}",
        f"{run.power_w:.1f}",
        f"{run.density_kg_m3:.4f}",
        "" if yaw is None else f"{yaw:.1f}",
        str(run.counted),
        f"{run.left_out_s:.0f}",
        run.excluded,
        run.note,
    ]
