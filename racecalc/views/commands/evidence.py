"""The commands of a tester: what a test says, how to plan one, and how to restate a saving."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from racecalc.answers.sheet import Depth
from racecalc.answers.trial import trial_answer, trial_sheet
from racecalc.decisions.evidence.judging import Repeatability, per_watt
from racecalc.decisions.evidence.planning import plan
from racecalc.decisions.evidence.sweep import answer_sweep
from racecalc.decisions.evidence.trial import answer
from racecalc.decisions.riding import ride
from racecalc.decisions.savings import Conditions, conditions_of, convert, convert_to_all
from racecalc.domain.loading import load_race
from racecalc.domain.option import is_kind, read_drag
from racecalc.domain.trial import Measure, Runs, load_runs
from racecalc.errors import InputError
from racecalc.files.race_writing import write_csv
from racecalc.quantities import kinds
from racecalc.quantities.kinds import AREA, FORCE, POWER
from racecalc.views.as_json import convert_json
from racecalc.views.commands.shared import (
    JSON,
    deliver,
    print_answer,
    print_json,
    read_as,
    read_option,
    with_depths,
)
from racecalc.views.convert_page import convert_text
from racecalc.views.plan_page import plan_json, plan_text
from racecalc.views.sweep_page import sweep_json, sweep_text

RUNS_FILE = click.argument("runs_file", metavar="RUNS", type=click.Path(path_type=Path))
LOOKS = click.option(
    "--looks",
    type=click.IntRange(1, 50),
    default=1,
    show_default=True,
    help="How often the growing test is judged in all, this time included.",
)
# Ten degrees of freedom are our choice: as many as experience counts at most.
EARLIER_RUNS = click.option(
    "--repeatability-df",
    "df",
    type=click.FloatRange(1),
    default=10.0,
    show_default=True,
    help="Degrees of freedom behind it: earlier runs less the means taken from them.",
)


@click.command("trial")
@RUNS_FILE
@JSON
@with_depths
@click.option("--baseline", metavar="ITEM", help="What the items are compared with.")
@click.option("--margin", metavar="AMOUNT", help='Too little to matter, as "1 W" or "0.001 m^2".')
@click.option("--repeatability", metavar="AMOUNT", help="Scatter of a run, from earlier tests.")
@EARLIER_RUNS
@LOOKS
@click.option(
    "--race",
    "race_file",
    type=click.Path(path_type=Path),
    help="Weight a sweep over yaw by the yaw met in this race.",
)
@click.option(
    "--field",
    "field_file",
    type=click.Path(path_type=Path),
    help="Hold a sweep over yaw against these field runs.",
)
def trial_command(
    runs_file: Path,
    as_json: bool,
    depth: "Depth | None",
    baseline: str | None,
    margin: str | None,
    repeatability: str | None,
    df: float,
    looks: int,
    race_file: Path | None,
    field_file: Path | None,
) -> None:
    """Is this test a difference, a tie, or not enough runs."""
    runs = load_runs(runs_file)
    if runs.is_sweep:
        for flag, given in (("--margin", margin), ("--repeatability", repeatability)):
            if given is not None:
                raise InputError(flag, f"does nothing for the sweep in {runs_file}", "leave it out")
        return _print_sweep(runs, baseline, race_file, field_file, as_json)
    if race_file is not None or field_file is not None:
        raise InputError(
            str(runs_file), "is no sweep over yaw, as --race and --field need", "leave them out"
        )
    found = answer(
        runs,
        baseline,
        _amount("--margin", margin, runs.measure, per_watt(runs)),
        _experience(repeatability, df, runs.measure, per_watt(runs)),
        looks,
    )
    told_as = trial_answer(found)
    deliver(told_as, lambda: trial_sheet(told_as), as_json, depth)
    return None


def _print_sweep(
    runs: "Runs",
    baseline: str | None,
    race_file: Path | None,
    field_file: Path | None,
    as_json: bool,
) -> None:

    found = answer_sweep(
        runs,
        baseline,
        ride(load_race(race_file)) if race_file else None,
        load_runs(field_file) if field_file else None,
    )
    if as_json:
        return print_json(sweep_json(found))

    return print_answer(sweep_text(found))


def _amount(flag: str, text: str | None, measure: "Measure", watt: float | None) -> float | None:
    """An amount in the unit of the measure, or in watts where they can be turned into it."""
    from dataclasses import replace

    if text is None:
        return None
    # The examples of differences, which are smaller than what the kinds show.
    power = replace(POWER, example="1 W")
    areas, forces = replace(AREA, example="0.001 m^2"), replace(FORCE, example="0.1 N")
    own = {"cda": areas, "power": power, "drag": forces}[measure]
    if measure != "power" and "W" in text:
        if watt is None:
            raise InputError(
                flag,
                f"'{text}' cannot be turned into {own.unit}: the runs state no speed or density",
                f'write it as "{own.example}"',
            )
        return _positive(flag, text, power) * watt
    return _positive(flag, text, own)


def _positive(flag: str, text: str, kind: Any) -> float:
    value = read_option(flag, text, kind)
    if not value:
        raise InputError(flag, f"'{text}' is not above zero", f'write for example "{kind.example}"')
    return value


def _experience(
    text: str | None, df: float, measure: "Measure", watt: float | None
) -> "Repeatability | None":

    sd = _amount("--repeatability", text, measure, watt)
    return None if sd is None else Repeatability(sd, df)


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
@click.option("--margin", metavar="AMOUNT", help="Too little to matter.")
@click.option("--sessions", type=click.IntRange(1, 20), default=1, show_default=True)
@LOOKS
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Write the sheet to fill in as CSV.",
)
@JSON
def plan_command(
    items: tuple[str, ...],
    difference: str,
    repeatability: str,
    df: float,
    margin: str | None,
    sessions: int,
    looks: int,
    output: Path | None,
    as_json: bool,
) -> None:
    """How many runs a test needs, in which order, and the sheet to fill in."""
    measure = _measure_of(difference)
    wanted = _amount("--difference", difference, measure, None)
    scatter = _amount("--repeatability", repeatability, measure, None)
    planned = plan(
        items,
        wanted or 0.0,
        Repeatability(scatter or 0.0, df),
        _amount("--margin", margin, measure, None),
        sessions=sessions,
        measure=measure,
        looks=looks,
    )
    if output is not None:
        write_csv(output, planned.sheet)
        click.echo(f"{output}: {len(planned.sheet) - 1} runs to fill in", err=True)
    if as_json:
        return print_json(plan_json(planned, measure))

    return print_answer(plan_text(planned, measure))


def _measure_of(difference: str) -> "Measure":

    kinds: dict[Measure, Any] = {"cda": AREA, "power": POWER, "drag": FORCE}
    for measure, kind in kinds.items():
        if is_kind(difference, kind):
            return measure
    raise InputError(
        "--difference",
        f"'{difference}' is no drag area, power or force",
        'write for example "0.004 m^2", "3 W" or "0.3 N"',
    )


CONDITION_FLAGS = {
    "cda": ("AREA", '"0.236 m^2"'),
    "power": ("POWER", '"250 W"'),
    "speed": ("SPEED", '"41 km/h", of the rider at that power'),
    "mass": ("MASS", '"80 kg", rider and bike'),
    "crr": ("RATIO", "0.004"),
    "loss": ("RATIO", '"2.5 %" of the power, in the drivetrain'),
    "density": ("DENSITY", '"1.2 kg/m^3"'),
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
@click.option(
    "--race",
    "race_file",
    metavar="RACE",
    type=click.Path(path_type=Path),
    help="Take them from it.",
)
@condition_options
@JSON
def convert_command(
    saving: str, wanted: str | None, race_file: Path | None, as_json: bool, **given: str | None
) -> None:
    """Turn a saving into another form: watts, % of power, CdA, force, s/km.

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
    if as_json:
        return print_json(convert_json(saving, found))

    return print_answer(convert_text(saving, found, known.bike is not None))


def _conditions(race_file: Path | None, given: dict[str, str | None]) -> Any:
    from dataclasses import replace

    values: dict[str, Any] = {
        name: read_option(f"--{name}", text, getattr(kinds, CONDITION_FLAGS[name][0]))
        for name, text in given.items()
    }
    for name, value in values.items():
        if value == 0 and name != "loss":
            raise InputError(f"--{name}", "is zero", "give more than zero")
    known = conditions_of(load_race(race_file)) if race_file else Conditions()
    return replace(known, **{name: value for name, value in values.items() if value is not None})
