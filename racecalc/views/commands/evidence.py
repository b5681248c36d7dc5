"""The commands of a tester: what a test says, how to plan one, and how to restate a saving."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from racecalc.answers.plan import ConvertAnswer, convert_sheet, plan_sheet
from racecalc.answers.trial import sweep_sheet, trial_sheet
from racecalc.decisions.evidence.alike import made_alike
from racecalc.decisions.evidence.judging import Repeatability, per_watt
from racecalc.decisions.evidence.planning import plan
from racecalc.decisions.evidence.sweep import answer_sweep
from racecalc.decisions.evidence.trial import answer
from racecalc.decisions.riding import load_measured
from racecalc.decisions.savings import (
    Conditions,
    Conversion,
    Lacking,
    conditions_of,
    convert,
    convert_to_all,
    needed,
    taken_at,
)
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.option import TEST_DENSITY, is_kind, read_drag
from racecalc.domain.trial import AMOUNTS, SI_UNIT, Measure, load_runs, need
from racecalc.errors import InputError
from racecalc.files.race_writing import write_csv
from racecalc.quantities import kinds
from racecalc.quantities.kinds import Kind
from racecalc.views.commands.flags import FILE, JSON, default_option
from racecalc.views.commands.measure import read_setup
from racecalc.views.commands.shared import Answered, answering, read_as, read_option
from racecalc.views.desk import note

LOOKS = default_option(
    "--looks",
    type=click.IntRange(1, 50),
    default=1,
    help="Times you planned to judge this test while it grows, this time included.",
)
DAY_TO_DAY = click.option(
    "--day-to-day",
    metavar="AMOUNT",
    help="Change of a difference from day to day (standard deviation), from tests over days.",
)
# Ten degrees of freedom are our choice: as many as experience counts at most.
EARLIER_RUNS = default_option(
    "--repeatability-df",
    "df",
    type=click.FloatRange(1),
    default=10.0,
    help="Earlier runs behind it, less one for each item (degrees of freedom).",
)


@click.command("trial")
@click.argument("runs_file", metavar="RUNS", type=FILE)
@JSON
@answering
@click.option("--baseline", metavar="ITEM", help="What the items are compared with.")
@click.option(
    "--margin", metavar="AMOUNT", help='Difference too small to matter, as "1 W" or "0.001 m^2".'
)
@click.option("--repeatability", metavar="AMOUNT", help="Scatter of a run, from earlier tests.")
@EARLIER_RUNS
@DAY_TO_DAY
@LOOKS
@click.option("--again", is_flag=True, help="Judged before, without having planned to look again.")
@click.option(
    "--race",
    "race_file",
    type=FILE,
    help="Weight a sweep over yaw by this race's; turn watts into drag areas by its bike.",
)
@click.option("--mass", metavar="MASS", help="Or by this mass of rider, bike and load,")
@click.option("--crr", metavar="RATIO", help="rolling resistance,")
@click.option("--loss", metavar="RATIO", help="and loss in the drivetrain.")
@click.option(
    "--field", "field_file", type=FILE, help="Compare a sweep over yaw with these field runs."
)
def trial_command(
    runs_file: Path,
    baseline: str | None,
    margin: str | None,
    repeatability: str | None,
    df: float,
    day_to_day: str | None,
    looks: int,
    again: bool,
    race_file: Path | None,
    field_file: Path | None,
    mass: str | None,
    crr: str | None,
    loss: str | None,
) -> Answered:
    """Does a test show a difference or a tie, or need more runs."""
    runs, bike = load_runs(runs_file), {"--mass": mass, "--crr": crr, "--loss": loss}
    if runs.is_sweep:
        judged = {
            "--margin": margin,
            "--repeatability": repeatability,
            "--day-to-day": day_to_day,
            "--again": again or None,
        }
        _refuse_idle({**judged, **bike}, f"the sweep in {runs_file}")
        ridden = ride_in_use(load_measured(race_file)) if race_file else None
        field = load_runs(field_file) if field_file else None
        return answer_sweep(runs, baseline, ridden, field), sweep_sheet
    if field_file is not None:
        problem = "this is not a sweep over yaw, which --field needs"
        raise InputError(str(runs_file), problem, "leave it out")
    given = {**bike, "--race": race_file}
    if runs.measure != "power":
        unit = SI_UNIT[runs.measure]
        _refuse_idle(given, f"runs in {unit}, only on a sweep over yaw and on watts")
    elif any(one is not None for one in given.values()):
        race = ride_in_use(load_measured(race_file)).race if race_file else None
        need(runs, "density")
        runs = made_alike(runs, read_setup(race, mass, crr, loss))
    watt = per_watt(runs)
    scatter = _amount("--repeatability", repeatability, runs.measure, watt)
    found = answer(
        runs,
        baseline,
        margin=_amount("--margin", margin, runs.measure, watt),
        repeatability=None if scatter is None else Repeatability(scatter, df),
        looks=looks,
        again=again,
        day_to_day=_amount("--day-to-day", day_to_day, runs.measure, watt),
    )
    return found, trial_sheet


def _refuse_idle(flags: Mapping[str, object], what: str) -> None:
    for flag, given in flags.items():
        if given is not None:
            raise InputError(flag, f"has no effect on {what}", "leave it out")


def _amount(
    flag: str, text: str | None, measure: Measure, watt: float | None = None
) -> float | None:
    """An amount in the unit of the measure, or in watts where they can be turned into it."""
    if text is None:
        return None
    own = AMOUNTS[measure]
    if measure == "power" or "W" not in text:
        return _positive(flag, text, own)
    if watt is None:
        raise InputError(
            flag,
            f"'{text}' cannot be turned into {own.unit}: no speed or density is stated",
            f'write it as "{own.example}"',
        )
    return _positive(flag, text, AMOUNTS["power"]) * watt


def _positive(flag: str, text: str, kind: Kind) -> float:
    value = read_option(flag, text, kind)
    if not value:
        raise InputError(flag, f"'{text}' is not above zero", f'write for example "{kind.example}"')
    return value


@click.command("plan")
@click.argument("items", nargs=-1, required=True, metavar="BASELINE ITEM...")
@click.option(
    "--difference",
    required=True,
    metavar="AMOUNT",
    help='Difference worth finding, as "0.004 m^2", "3 W" or "0.3 N".',
)
@click.option("--repeatability", required=True, metavar="AMOUNT", help="Scatter of a run.")
@EARLIER_RUNS
@click.option("--margin", metavar="AMOUNT", help="Difference too small to matter.")
@click.option(
    "--sessions",
    type=click.IntRange(1, 20),
    help="Days over which the runs spread; those of the least work unless given.",
)
@click.option(
    "--runs", type=click.IntRange(2, 100), help="Runs of each item a day that there is time for."
)
@DAY_TO_DAY
@LOOKS
@click.option("-o", "--output", type=FILE, help="Write the sheet to fill in as CSV.")
@JSON
@answering
def plan_command(
    items: tuple[str, ...],
    difference: str,
    repeatability: str,
    df: float,
    margin: str | None,
    sessions: int | None,
    runs: int | None,
    day_to_day: str | None,
    looks: int,
    output: Path | None,
) -> Answered:
    """How many runs a test needs, in which order, and the sheet to fill in."""
    measure = _measure_of(difference)
    planned = plan(
        items,
        _positive("--difference", difference, AMOUNTS[measure]),
        Repeatability(_positive("--repeatability", repeatability, AMOUNTS[measure]), df),
        _amount("--margin", margin, measure),
        sessions=sessions,
        measure=measure,
        looks=looks,
        day_to_day=_amount("--day-to-day", day_to_day, measure),
        runs=runs,
    )
    if output is not None:
        write_csv(output, planned.sheet)
        note(f"{output}: {len(planned.sheet) - 1} runs to fill in")
    return planned, plan_sheet


def _measure_of(difference: str) -> Measure:
    for measure, kind in AMOUNTS.items():
        if is_kind(difference, kind):
            return measure
    raise InputError(
        "--difference",
        f"'{difference}' is not a drag area, power or force",
        'write for example "0.004 m^2", "3 W" or "0.3 N"',
    )


CONDITION_FLAGS = {
    "cda": ("AREA", '"0.236 m^2"'),
    "power": ("POWER", '"250 W"'),
    "speed": ("SPEED", '"41 km/h", of the rider at that power'),
    "mass": ("MASS", '"80 kg", rider and bike'),
    "crr": ("RATIO", "0.004"),
    "loss": ("RATIO", '"2.5 %" of the power, in the drivetrain'),
    "density": ("DENSITY", '"1.23 kg/m^3", of the test; 1.20 kg/m^3 unless given'),
}


def condition_options(answer: Callable[..., None]) -> Callable[..., None]:
    """Give a command the conditions of a saving."""
    for name, (kind, example) in reversed(CONDITION_FLAGS.items()):
        answer = click.option(f"--{name}", metavar=kind, help=f"As {example}.")(answer)
    return answer


class _SignedArguments(click.Command):
    """A command whose arguments may be negative amounts, which click takes for flags."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        signed = [
            f" {arg}" if arg[:1] == "-" and arg[1:2] in set("0123456789.,") else arg for arg in args
        ]
        return super().parse_args(ctx, signed)


@click.command("convert", cls=_SignedArguments)
@click.argument("saving", metavar="SAVING")
@click.option("--to", "wanted", metavar="FORM", help='As "% of CdA", "W at 50 km/h" or "s/km".')
@click.option("--race", "race_file", metavar="RACE", type=FILE, help="Take them from it.")
@condition_options
@JSON
@answering
def convert_command(
    saving: str, wanted: str | None, race_file: Path | None, **given: str | None
) -> Answered:
    """Turn a saving into another form: watts, % of power, CdA, force.

    Without --to every form is listed whose conditions are known.
    """
    saving = saving.strip()
    stated = read_as("the saving", saving, read_drag)
    target = read_as("--to", f"1 {wanted}", read_drag) if wanted else None
    known = _conditions(race_file, given)
    try:
        found = (convert(stated, target, known),) if target else convert_to_all(stated, known)
    except InputError as error:
        raise error.at(f'"{saving}"' + (f' to "{wanted}"' if wanted else "")) from error
    taken = taken_at(stated, known)
    air, own_air = needed(known, ("claim_density", "density"))
    told = ConvertAnswer(
        saving,
        taken.speed_or_none() if taken else None,
        taken.power if taken and taken.speed is None else None,
        tuple(one for one in found if isinstance(one, Conversion)),
        tuple(one for one in found if isinstance(one, Lacking)),
        known.bike is not None,
        air,
        own_air,
        given["density"] is not None,
    )
    return told, convert_sheet


def _conditions(race_file: Path | None, given: dict[str, str | None]) -> Conditions:
    values: dict[str, Any] = {
        name: read_option(f"--{name}", text, getattr(kinds, CONDITION_FLAGS[name][0]))
        for name, text in given.items()
    }
    for name, value in values.items():
        if value == 0 and name != "loss":
            raise InputError(f"--{name}", "is zero", "give more than zero")
    air = values.pop("density") or TEST_DENSITY
    known = conditions_of(load_measured(race_file)) if race_file else Conditions(density=air)
    given_too = {name: value for name, value in values.items() if value is not None}
    return replace(known, claim_density=air, **given_too)
