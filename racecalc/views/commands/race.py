"""The commands on a race file: how long, what a watt is worth, what an option is worth."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from racecalc.errors import InputError
from racecalc.views.commands.shared import (
    RACE_FILE,
    draw_options,
    named_options,
    note_idle,
    print_answer,
    print_json,
    race_command,
    racecalc,
    read_option,
    read_price,
)

if TYPE_CHECKING:
    from racecalc.decisions.riding import Ridden
    from racecalc.decisions.season import SeasonValue
    from racecalc.domain.option import Option
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


@race_command
@click.option("--split", metavar="LENGTH", help='Length of a split, as "5 km".')
@click.option("--chart/--no-chart", default=True, help="Draw elevation and speed.")
@click.option("--explain", is_flag=True, help="Show each step with formula and source.")
@draw_options
def time_command(
    race: "Race",
    as_json: bool,
    units: "System",
    split: str | None,
    chart: bool,
    explain: bool,
    **drawing: int,
) -> None:
    """How long will it take, split by split."""
    from racecalc.decisions.doubt import time_band
    from racecalc.decisions.explain import explain_time
    from racecalc.decisions.riding import ride
    from racecalc.decisions.timing import round_split, timing
    from racecalc.quantities.kinds import LENGTH
    from racecalc.quantities.showing import unit_size

    ridden = ride(race)
    length = read_option("--split", split, LENGTH)
    if length is not None and not 0.001 * race.course.length <= length:
        raise InputError("--split", f"'{split}' makes over 1000 splits", "give a longer length")
    unit = unit_size("course_distance", units)
    timed = timing(ridden, length or round_split(race.course.length, unit))
    _note_idle_draws(race)
    band = time_band(ridden, **drawing) if race.doubts.stated else None
    steps = explain_time(ridden, timed) if explain else ()
    if as_json:
        from racecalc.views.as_json import time_json

        return print_json(time_json(race, timed, steps, band))
    from racecalc.views.chains import chain_text
    from racecalc.views.time_page import time_text

    chain = chain_text(steps, "the time") if explain else ""
    return print_answer(time_text(ridden, timed, units, chart, band) + chain)


@race_command
def rates_command(race: "Race", as_json: bool, units: "System") -> None:
    """What a watt, a gram or a thousandth of CdA is worth."""
    from racecalc.decisions.rates import rates
    from racecalc.decisions.riding import ride

    ridden = ride(race)
    found = rates(ridden)
    if as_json:
        from racecalc.views.as_json import rates_json

        return print_json(rates_json(ridden, found))
    from racecalc.views.rates_page import rates_text

    return print_answer(rates_text(ridden, found, units))


@race_command
@click.option(
    "--margin",
    metavar="POWER",
    default="1 W",
    show_default=True,
    help="Watts at the test that are too few to matter.",
)
@click.option(
    "--price-per-second",
    "wanted",
    metavar="MONEY",
    help='Most you would pay for a second, as "20 EUR".',
)
@click.option(
    "--together",
    multiple=True,
    metavar='"A + B"',
    help="Solve these options as one set. May be repeated to compare sets.",
)
@click.option(
    "--round",
    "rounds",
    multiple=True,
    metavar="RACE",
    type=click.Path(path_type=Path),
    help="Race file of a further round to try the options in. May be repeated.",
)
@click.option("--explain", metavar="OPTION", help="Show how the numbers of one option arise.")
@draw_options
def value_command(
    race: "Race",
    as_json: bool,
    units: "System",
    margin: str,
    wanted: str | None,
    together: tuple[str, ...],
    rounds: tuple[Path, ...],
    explain: str | None,
    **drawing: int,
) -> None:
    """What each option is worth in seconds and in money."""
    from racecalc.decisions.costs import refuse_mixed_currencies
    from racecalc.decisions.evidence.for_option import with_evidence
    from racecalc.decisions.explain import explain_value
    from racecalc.decisions.riding import ride
    from racecalc.decisions.set_value import value_of_set
    from racecalc.decisions.values import values_of
    from racecalc.quantities.kinds import POWER
    from racecalc.views.progress import tracked

    if not race.options:
        raise InputError(race.name, "has no [[option]] to value", "add one with name and saves")
    sets = [named_options(race, "--together", names) for names in together]
    explained = named_options(race, "--explain", explain) if explain else ()
    margin_w = read_option("--margin", margin, POWER) or 0.0
    price = read_price(race, wanted)
    refuse_mixed_currencies(race.options, {"the price per second": price})
    base = ride(race)
    # Each trial is analysed once, for the option alone and for its sets.
    known = {option.name: with_evidence(option, base) for option in race.options}
    options = tuple(known[option.name] for option in race.single_options)
    _note_idle_draws(race)
    values = values_of(base, options, margin_w, price, tracked, **drawing)
    tests = [option for option in known.values() if option.set_of]
    joint = [value_of_set(base, one, tests) for one in _all_sets(known, sets)]
    season = _season(base, rounds) if rounds else ()
    chains = {
        value.option.name: explain_value(base, value)
        for value in values
        if value.option.name in explained
    }
    if as_json:
        from racecalc.views.value_json import value_json

        return print_json(value_json(base, values, joint, season, chains))
    from racecalc.views.chains import chain_text
    from racecalc.views.value_page import value_text

    text = value_text(base, values, joint, season, units)
    return print_answer(text + "".join(chain_text(steps, name) for name, steps in chains.items()))


def _season(base: "Ridden", rounds: tuple[Path, ...]) -> "tuple[SeasonValue, ...]":
    from racecalc.decisions.riding import ride
    from racecalc.decisions.season import season_values
    from racecalc.domain.loading import load_race
    from racecalc.views.progress import tracked

    others = [ride(load_race(path)) for path in rounds]
    return season_values([base, *others], tracked(base.race.single_options, "riding the rounds"))


def _note_idle_draws(race: "Race") -> None:
    """Say on standard error where draws are asked for and there is nothing to draw."""
    if not race.doubts.stated:
        note_idle(
            ("draws", "seed"),
            f"{race.name} states no doubt, so nothing is drawn;"
            ' state one, as rider.power_doubt = "5 W"',
        )


def _all_sets(
    known: dict[str, "Option"], asked: list[tuple[str, ...]]
) -> list[tuple["Option", ...]]:
    """The sets asked for, and those that were tested as one."""
    sets = dict.fromkeys(frozenset(names) for names in asked)
    tested = [option.set_of for option in known.values() if option.set_of]
    rest = [names for names in tested if frozenset(names) not in sets]
    return [tuple(known[name] for name in names) for names in [*asked, *rest]]


@racecalc.command("set")
@RACE_FILE
@click.argument("changes", nargs=-1, required=True, metavar="KEY=VALUE...")
def set_command(race_file: Path, changes: tuple[str, ...]) -> None:
    """Write values into a race file, keeping its comments."""
    from racecalc.files.race_writing import write_changes

    write_changes(race_file, changes)
    click.echo(f"{race_file}: {len(changes)} value{'s' if len(changes) > 1 else ''} written")


@racecalc.command("new")
@click.argument("folder", type=click.Path(path_type=Path))
def new_command(folder: Path) -> None:
    """Make a commented race file and a course to start from."""
    from racecalc.files.starting import write_starting_files

    for path in write_starting_files(folder):
        click.echo(path)
    click.echo(f"now try: racecalc time {folder / 'race.toml'}", err=True)


@racecalc.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell, to be sourced by it."""
    from click.shell_completion import get_completion_class

    script = get_completion_class(shell)
    if script is not None:
        click.echo(script(racecalc, {}, "racecalc", "_RACECALC_COMPLETE").source())
