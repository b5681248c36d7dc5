"""The command that turns seconds into places of a results list."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from racecalc.errors import InputError
from racecalc.views.commands.shared import (
    named_options,
    print_answer,
    print_json,
    race_command,
    read_option,
)

if TYPE_CHECKING:
    from racecalc.decisions.riding import Ridden
    from racecalc.decisions.tried import Tried
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


@race_command
@click.argument("results_file", metavar="RESULTS", type=click.Path(path_type=Path))
@click.option("--me", metavar="NAME", help="Your name in the list; without it you are added.")
@click.option(
    "--use",
    "used",
    multiple=True,
    metavar='"A + B"',
    help="Place these options or sets only. May be repeated.",
)
@click.option(
    "--rivals",
    "form",
    metavar="TIME",
    default="0 s",
    show_default=True,
    help="Standard deviation of each rival's time from day to day.",
)
@click.option(
    "--podium",
    type=click.IntRange(1),
    default=3,
    show_default=True,
    metavar="N",
    help="How many places count as the podium.",
)
@click.option("--target", metavar="TIME", help='A time to reach, as "23:20", to qualify.')
@click.option("--category", metavar="NAME", default="", help="Count this category only.")
def places_command(
    race: "Race",
    as_json: bool,
    units: "System",
    results_file: Path,
    me: str | None,
    used: tuple[str, ...],
    form: str,
    podium: int,
    target: str | None,
    category: str,
) -> None:
    """What the seconds mean in places of a results list."""
    from racecalc.decisions.places import places
    from racecalc.decisions.riding import ride
    from racecalc.decisions.rivalry import Goals, listed, predicted, rivals
    from racecalc.decisions.tried import tried_option
    from racecalc.files.results_table import read_results
    from racecalc.quantities.kinds import TIME

    sets = [named_options(race, "--use", names) for names in used]
    spread = read_option("--rivals", form, TIME) or 0.0
    goals = Goals(podium, read_option("--target", target, TIME))
    if goals.target == 0:
        raise InputError("--target", f"'{target}' is no time to aim at", "give one as '23:20'")
    results = read_results(results_file)
    field = rivals(results, me or "", category, spread)
    at_start = None if me is None else listed(results, me, category)
    base = ride(race)
    own = at_start or predicted(base)
    singles = {
        option.name: tried_option(base, option) for option in race.options if not option.set_of
    }
    tried = [_tried(base, names, singles) for names in sets] if sets else list(singles.values())
    found = places(base, field, own, tried, list(singles.values()), goals)
    if as_json:
        from racecalc.views.places_json import places_json

        return print_json(places_json(race, found))
    from racecalc.views.places_page import places_text

    return print_answer(places_text(race, found, units))


def _tried(base: "Ridden", names: tuple[str, ...], singles: "dict[str, Tried]") -> "Tried":
    """What was asked for: an option by its name alone, or several as one set."""
    from racecalc.decisions.tried import tried_set

    if len(names) == 1:
        return singles[names[0]]
    options = {option.name: option for option in base.race.options}
    tests = [option for option in options.values() if option.set_of]
    return tried_set(base, tuple(options[name] for name in names), tests)
