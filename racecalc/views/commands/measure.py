"""The commands on recordings: runs of a test made of rides, and a ride against its plan."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import click
import numpy as np

from racecalc.answers.basis import Basis
from racecalc.answers.measure import measure_sheet
from racecalc.answers.review import ReviewAnswer, SeasonAnswer, review_sheet, season_sheet
from racecalc.decisions.measuring.balance import Bends, Setup, setup_of
from racecalc.decisions.measuring.crossing import Loop
from racecalc.decisions.measuring.measure import measure, rides_of, sheet_of_ride
from racecalc.decisions.measuring.measured import Asked, Doubts, rows_of
from racecalc.decisions.measuring.signals import signals_of
from racecalc.decisions.pacing.card import SECTIONS, pace
from racecalc.decisions.pacing.limits import asked_limit
from racecalc.decisions.review.recorded import splits_of
from racecalc.decisions.review.review import Case, Review, reviewed
from racecalc.decisions.review.season import season
from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.domain.race import REPORT_HEIGHT, Air, Race, Wind
from racecalc.domain.run_sheet import RunSheet, load_sheet, read_lines
from racecalc.errors import InputError
from racecalc.files.race_writing import refuse_to_write, write_csv
from racecalc.files.recordings import READERS, Wanted, read_recording
from racecalc.files.table_kinds import RiddenTable, read_ridden
from racecalc.files.tables import read_table
from racecalc.quantities.kinds import DENSITY, LENGTH, MASS, RATIO, SPEED, TIME
from racecalc.views.commands.flags import FILE, JSON
from racecalc.views.commands.shared import (
    Answered,
    answering,
    race_command,
    read_as,
    read_option,
    read_quantity,
    read_race,
)
from racecalc.views.desk import note


@click.command("measure")
@click.argument("sheet_file", metavar="SHEET|RIDE", type=FILE)
@click.argument("race_path", metavar="[RACE]", type=FILE, required=False)
@JSON
@answering
@click.option("-o", "--output", type=FILE, help="Write the runs as CSV, for racecalc trial.")
@click.option("--mass", metavar="MASS", help='Rider, bike and all they carry, as "82 kg".')
@click.option("--crr", metavar="RATIO", help="Rolling resistance, as 0.004.")
@click.option("--loss", metavar="RATIO", help='Lost in the drivetrain, as "2.5 %".')
@click.option("--density", metavar="DENSITY", help="Of the air, where the sheet states none.")
@click.option("--clock", metavar="TIME", help='The sheet is ahead of the recordings by, as "1 h".')
@click.option("--lap-length", metavar="LENGTH", help="Of a lap, measured on the road.")
@click.option("--fit-wheel", is_flag=True, help="Find the wheel size from --lap-length.")
@click.option("--find-crr", is_flag=True, help="Find Crr too, from runs at two efforts.")
@click.option("--bend-radius", metavar="LENGTH", help='Of a track with --lap-length, as "23 m".')
@click.option("--body-height", metavar="LENGTH", help="Of the centre of mass; 1.1 m otherwise.")
@click.option("--power-doubt", metavar="RATIO", help='Of the meter, as "1.5 %"; 3.2 % otherwise.')
@click.option("--line", metavar="PLACE", help='Where laps begin, as "55.0012, 12.0034".')
@click.option("--wind", metavar="SPEED", help='Of a RIDE alone: as reported, as "3 m/s".')
@click.option("--air-speed", metavar="FIELD", help="Field or column of an air-speed sensor.")
@click.option("--yaw", metavar="FIELD", help="Field or column of its yaw.")
@click.option("--keep", is_flag=True, help="Keep laps that differ from the others at one place.")
@click.option("--damaged", is_flag=True, help="Read what is in a FIT file that is damaged.")
@click.option("--picture", is_flag=True, help="Show the ride with its runs marked.")
def measure_command(
    sheet_file: Path,
    race_path: Path | None,
    output: Path | None,
    *,
    picture: bool,
    **given: Any,
) -> Answered:
    """The drag area of each run of a test, from its ride recordings.

    Of an ordinary ride, given instead of a sheet: the drag area by the laps of a loop in it.
    """
    if output is not None:
        refuse_to_write(output)
    asked = _asked(sheet_file, load_race(race_path) if race_path else None, given)
    day = measure(asked, rides_of(asked))
    if output is not None:
        write_csv(output, rows_of(day))
        note(f"{output}: {len(day.runs)} runs; see racecalc trial {output}")
    return day, partial(measure_sheet, picture=picture)


def _asked(sheet_file: Path, race: Race | None, given: Mapping[str, Any]) -> Asked:
    """What is asked, by the flags."""
    if given["yaw"] and not given["air_speed"]:
        raise InputError("--yaw", "is given without an air speed", "add --air-speed")
    doubt = read_option("--power-doubt", given["power_doubt"], RATIO)
    wanted = Wanted(given["air_speed"], given["yaw"], given["damaged"])
    sheet, loop = _sheet(sheet_file, given["line"], given["wind"], wanted)
    length = read_option("--lap-length", given["lap_length"], LENGTH) or None
    crr = given["crr"] or (START_CRR if given["find_crr"] else None)
    bends = _bends(given["bend_radius"], given["body_height"], length)
    return Asked(
        sheet=sheet,
        loop=loop,
        setup=replace(read_setup(race, given["mass"], crr, given["loss"]), bends=bends),
        air=_air(race, given["density"]),
        wanted=wanted,
        ahead=None if given["clock"] is None else _signed_time(given["clock"]),
        lap_length=length,
        doubts=Doubts() if doubt is None else Doubts(power=doubt),
        **{name: given[name] for name in ("keep", "find_crr", "fit_wheel")},
    )


START_CRR = "0.004"
"""From which Crr is found; it has no effect on what is found."""

BODY_HEIGHT = 1.1
"""Height of the centre of mass of rider and bike [m]; common practice, no source."""


def _bends(radius: str | None, height: str | None, lap: float | None) -> Bends | None:
    """The bends of a track; None on the road."""
    found = read_option("--bend-radius", radius, LENGTH)
    body = read_option("--body-height", height, LENGTH)
    if not found:
        if radius or height:
            problem = "is zero" if radius else "has no effect on the road"
            raise InputError(
                "--bend-radius" if radius else "--body-height", problem, "leave it out"
            )
        return None
    share = 2.0 * np.pi * found / lap if lap else np.inf
    if share >= 1.0:
        problem = "is longer than the lap" if lap else "needs the length of the lap"
        raise InputError("--bend-radius", problem, "give radius and --lap-length of the black line")
    return Bends(found, share, body or BODY_HEIGHT)


def _sheet(
    path: Path, line: str | None, wind: str | None, wanted: Wanted
) -> tuple[RunSheet, Loop | None]:
    """A sheet as it is, or that of the loop in a ride."""
    if not _is_ride(path):
        if wind is not None:
            raise InputError("--wind", "is for a ride alone", "state the wind in the sheet")
        return _with_line(load_sheet(path), line), None
    if wind is None:
        problem = "is not stated, and in an ordinary ride it is a large doubt"
        raise InputError("--wind", problem, 'give the mean wind as reported, as "3 m/s"')
    speed = read_quantity("--wind", wind, SPEED)
    ride = signals_of(read_recording(path, wanted))
    return sheet_of_ride(ride, Wind(speed=speed, height=REPORT_HEIGHT))


def _is_ride(path: Path) -> bool:
    if path.suffix.lower() != ".csv":
        return path.suffix.lower() in READERS
    table = read_table(path)
    return table.has("power") and not table.has("item")


def _with_line(sheet: RunSheet, line: str | None) -> RunSheet:
    """The sheet with a line for the rows that state none."""
    if line is None:
        return sheet
    lines = read_as("--line", line, read_lines)
    return replace(sheet, runs=tuple(replace(row, lines=row.lines or lines) for row in sheet.runs))


def read_setup(race: Race | None, mass: str | None, crr: str | None, loss: str | None) -> Setup:
    """Rider and bike from flags, and from a race what they leave out."""
    return setup_of(
        race,
        read_option("--mass", mass, MASS),
        read_option("--crr", crr, RATIO),
        read_option("--loss", loss, RATIO),
    )


def _air(race: Race | None, density: str | None) -> Air | None:
    stated = read_option("--density", density, DENSITY)
    if stated == 0:
        raise InputError("--density", "is zero", "give it, as '1.19 kg/m^3'")
    if stated is not None:
        return Air(density=stated)
    return race.air if race else None


def _signed_time(text: str) -> float:
    bare = text.strip()
    size = read_quantity("--clock", bare.lstrip("+-"), TIME)
    return -size if bare.startswith("-") else size


# --- The command that holds a ride against its plan -----------------------------------------------


@race_command
@click.argument("ridden_file", metavar="RIDDEN", type=FILE)
@click.option(
    "--card",
    is_flag=True,
    help="Hold it against the card of racecalc pace, made as pace makes it without flags, instead"
    " of the race power throughout.",
)
@click.option(
    "--also",
    "others",
    nargs=2,
    type=FILE,
    multiple=True,
    metavar="RACE RIDDEN",
    help="Another race and its ride: all are read together, to say what is off in every one. May be"
    " repeated; --set and --use change the first race only.",
)
def review_command(
    race: Race, ridden_file: Path, card: bool, others: tuple[tuple[Path, Path], ...]
) -> Answered:
    """What was planned, what was ridden, and which input was off.

    RIDDEN is a recording (FIT, TCX, GPX, CSV) or a table of splits.
    """
    base = ride_in_use(race)
    first = _reviewed(base, ridden_file, card)
    if not others:
        return ReviewAnswer.of(base, first[1]), review_sheet
    more = [_reviewed(ride_in_use(read_race(path)), ride, card) for path, ride in others]
    return SeasonAnswer(season([first, *more]), Basis.of(base)), season_sheet


def _reviewed(base: Ridden, path: Path, card: bool) -> tuple[Case, Review]:
    planned = None
    if card:
        planned = pace(base, asked_limit(base), SECTIONS).ridden.power
    return reviewed(base, _ridden(path, base.race), planned)


def _ridden(path: Path, race: Race) -> RiddenTable:
    """Splits as a table has them, or cut from a recording."""
    if path.suffix.lower() in READERS:
        table = read_table(path) if path.suffix.lower() == ".csv" else None
        if table is None or (table.has("time") and not table.has("to")):
            return splits_of(read_recording(path), race)
    return read_ridden(path)
