"""The commands that compare rides: quick, compare, value, against, breakeven."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Literal

import click

from racecalc.answers.against import AgainstAnswer, against_sheet
from racecalc.answers.basis import Basis
from racecalc.answers.break_even import BreakEvenAnswer, break_even_sheet
from racecalc.answers.compare import CompareAnswer, compare_sheet
from racecalc.answers.quick import QuickAnswer, quick_sheet
from racecalc.answers.value import ORDERS, ValueAnswer, posted, value_sheet, values_together
from racecalc.decisions.against import rivals_of
from racecalc.decisions.assumed import Other, tried_instead
from racecalc.decisions.break_even import Against, break_evens
from racecalc.decisions.comparison import outlook_of
from racecalc.decisions.riding import Ridden, load_measured
from racecalc.decisions.sets import with_evidence
from racecalc.decisions.value import (
    OptionValue,
    SeasonValue,
    season_values,
    value_of_set,
    values_of,
)
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.domain.option import Holding, Option, refuse_mixed_currencies
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.draft import Draft
from racecalc.files.opening import read_text
from racecalc.files.quick_race import ASSUMED, QuickRace, quick_race
from racecalc.files.race_writing import refuse_to_write, write_new_file
from racecalc.quantities.clock import today
from racecalc.quantities.kinds import MASS, POWER, RATIO
from racecalc.quantities.showing import System
from racecalc.views.commands.flags import (
    FILE,
    JSON,
    RACE_FILE,
    UNITS,
    USE,
    default_option,
    draw_options,
    outputs_option,
    price_option,
)
from racecalc.views.commands.shared import (
    Answered,
    answering,
    asked_units,
    named_options,
    note_idle_draws,
    race_command,
    read_money_option,
    read_option,
    read_price,
    read_quantity,
    read_race,
    say,
    single_option,
    squad_command,
    used_in,
    writable,
    write_each,
)
from racecalc.views.desk import current_desk, note, tracked
from racecalc.views.writers.charts import picture_of

# --- The command without a race file --------------------------------------------------------------


@click.command("quick")
@click.argument("words", metavar="QUANTITY...", nargs=-1, required=True)
@click.option("--saves", metavar="SAVING", help='A saving asked about, as "0.008 m^2".')
@click.option("--doubt", metavar="SAVING", help="Its standard uncertainty.")
@click.option("--mass", metavar="MASS", help='What it weighs more, as "+100 g".')
@click.option("--price", metavar="MONEY", help="What it costs.")
@click.option("--save", "file", metavar="FILE", type=FILE, help="Write it as a race file.")
@JSON
@UNITS
@answering
def quick_command(
    words: tuple[str, ...], file: Path | None, units: System, **option: str | None
) -> Answered:
    """A first answer without a file, from a few quantities.

    Distance, power, CdA, mass of rider and bike, Crr, "1%" of grade, "3m/s ahead" of wind,
    "at 1500m", "25degC": in any order. What is left out is assumed, and named.
    """
    told = {key: value for key, value in option.items() if value is not None}
    asked = quick_race(words, {"name": "What is saved", **told} if told else {})
    text = asked.text()
    race = _told(text)
    if file is not None:
        write_new_file(file, text)
        note(f"written: {file}")
    say(one for one in race.notices if one.warning)
    base = ride_in_use(race)
    tried = tried_instead(base, _others(asked, text))
    values = values_of(base, race.options)
    answer = QuickAnswer.of(base, values[0] if values else None, asked, tried)
    return answer, partial(quick_sheet, units=units)


def _told(text: str, changes: Sequence[str] = ()) -> Race:
    """The race of a text that nobody sees: its errors name the key alone."""
    try:
        return load_race(Path("quick"), changes, text)
    except InputError as error:
        key = error.place.rpartition(", ")[2]
        raise InputError(f"quick, {key}", error.problem, error.remedy) from error


def _others(asked: QuickRace, text: str) -> Iterator[Other]:
    for one in asked.assumed:
        if instead := ASSUMED[one.key][1]:
            yield one, instead, _told(text, [f"{one.key}={instead}"])


# --- The command on two race files ----------------------------------------------------------------


@click.command("compare")
@RACE_FILE
@click.argument("other_file", metavar="OTHER", type=FILE)
@JSON
@UNITS
@USE
@answering
def compare_command(race_file: Path, other_file: Path, units: System, use: str | None) -> Answered:
    """Two race files compared: what differs, and what it does."""
    first, second = (used_in(read_race(one), use) for one in (race_file, other_file))
    say((*first.notices, *second.notices))
    answer = CompareAnswer.of(
        (race_file.stem, other_file.stem),
        read_text(race_file),
        Draft.opened(other_file),
        (outlook_of(first), outlook_of(second)),
    )
    return answer, partial(compare_sheet, units=units)


# --- The commands that say what an option is worth, and from which saving on it pays -------------


@squad_command(values_together)
@default_option(
    "--margin",
    metavar="POWER",
    default="1 W",
    help="Watts at the test that are too little to matter.",
)
@price_option('Most you would pay for a second, as "20 EUR".')
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
    type=FILE,
    help="Race file of a further round to try the options in. May be repeated.",
)
@click.option(
    "--explain",
    is_flag=False,
    flag_value="",
    metavar="[OPTION]",
    help="Show how the numbers arise, of the first option or of another.",
)
@default_option(
    "--order",
    type=click.Choice(list(ORDERS)),
    default="seconds",
    help='What the options are ranked by; "sure seconds": what each saves with a chance of 90 %.',
)
@click.option("--figure", metavar="OPTION", help="Draw the result of one option, to post; with -o.")
@outputs_option("File of the figure: .png or .svg. May be repeated.")
@draw_options
def value_command(
    race: Race,
    margin: str,
    wanted: str | None,
    together: tuple[str, ...],
    rounds: tuple[Path, ...],
    explain: str | None,
    order: str,
    figure: str | None,
    outputs: tuple[Path, ...],
    **drawing: int,
) -> Answered:
    """What each option is worth in seconds and in money."""
    if not race.options:
        raise InputError(
            race.name, "the race file has no [[option]]", "add one with name and saves"
        )
    sets = [named_options(race, "--together", names) for names in together]
    explained = single_option(race, "--explain", explain).name if explain else ""
    drawn = _to_draw(race, figure, outputs)
    outputs = writable(outputs, _refuse_figure)
    margin_w = read_option("--margin", margin, POWER) or 0.0
    price = read_price(race, wanted)
    refuse_mixed_currencies(race.options, {"the price per second": price})
    base = ride_in_use(race)
    # Each trial is analysed once, for the option alone and for its sets.
    known = {option.name: with_evidence(option, base) for option in base.race.options}
    options = tuple(known[option.name] for option in base.race.single_options)
    note_idle_draws(race)
    values = values_of(base, options, margin_w, price, tracked, **drawing)
    if _asked_whole():
        values = [one.worked_out() for one in tracked(values, "working options out")]
    tests = [option for option in known.values() if option.set_of]
    joint = [value_of_set(base, one, tests) for one in _all_sets(known, sets)]
    season = _season(base, rounds) if rounds else ()
    for one in values:
        if one.option.name in drawn:
            write_each(outputs, partial(_draw, one))
    basis = Basis.of(base)
    answer = ValueAnswer(base.time, tuple(values), tuple(joint), season, basis, order)
    return answer, partial(value_sheet, explained=explained)


def _asked_whole() -> bool:
    """Whether more is wanted than the answer itself, so that all of it is to be worked out."""
    params = click.get_current_context().params
    return bool(params["as_json"] or params["depth"] or current_desk())


def _to_draw(race: Race, figure: str | None, outputs: tuple[Path, ...]) -> tuple[str, ...]:
    """The option to draw, refused before any work where there is no file for it."""
    if figure is None and not outputs:
        return ()
    if figure is None or not outputs:
        raise InputError("--figure and -o", "only work together", "add the other one")
    return (single_option(race, "--figure", figure).name,)


def _refuse_figure(path: Path) -> None:
    if path.suffix.lower() not in (".png", ".svg"):
        problem = f"'{path}' is not a kind of figure"
        raise InputError("--output", problem, "end it with .png or .svg")
    refuse_to_write(path)


def _draw(value: OptionValue, path: Path) -> None:
    figure = posted(value, asked_units(), today())
    form: Literal["png", "svg"] = "png" if path.suffix.lower() == ".png" else "svg"
    write_new_file(path, picture_of(figure, form))


def _season(base: Ridden, rounds: tuple[Path, ...]) -> tuple[SeasonValue, ...]:
    others = [
        ride_in_use(replace(load_measured(path), options=base.race.options, use=base.race.use))
        for path in rounds
    ]
    return season_values([base, *others], tracked(base.race.single_options, "riding the rounds"))


def _all_sets(known: dict[str, Option], asked: list[tuple[str, ...]]) -> list[tuple[Option, ...]]:
    """The sets asked for, and those that were tested as one."""
    sets = dict.fromkeys(frozenset(names) for names in asked)
    tested = [option.set_of for option in known.values() if option.set_of]
    rest = [names for names in tested if frozenset(names) not in sets]
    return [tuple(known[name] for name in names) for names in [*asked, *rest]]


@race_command
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
@price_option("What a second is worth to you.")
@draw_options
def against_command(
    race: Race, first: str, second: str, wanted: str | None, **drawing: int
) -> Answered:
    """Which of two options or sets is faster, and what its seconds cost.

    A and B are names of options, or of sets as "Wheel + Suit".
    """
    one, other = (named_options(race, "against", names) for names in (first, second))
    per_second = read_price(race, wanted)
    refuse_mixed_currencies(race.options, {"the price per second": per_second})
    note_idle_draws(race)
    base = ride_in_use(race)
    found = rivals_of(base, one, other, per_second, **drawing)
    return AgainstAnswer(base.time, found, Basis.of(base)), against_sheet


@race_command
@click.option("--option", "name", metavar="OPTION", help="An option of the race file.")
@click.option("--mass", metavar="MASS", help='Or something else: its weight, as "+850 g" ...')
@click.option("--price", metavar="MONEY", help="... and its price.")
@price_option("What a second is worth to you.")
@click.option("--against", multiple=True, metavar="OPTION", help="Must be as good as that one.")
@click.option(
    "--with",
    "used_with",
    multiple=True,
    metavar="OPTION",
    help="Used with that one: must make up for its loss too.",
)
@click.option(
    "--holds", multiple=True, metavar="SHARE", help='Share of the time it is held, as "70 %".'
)
def breakeven_command(
    race: Race,
    name: str | None,
    mass: str | None,
    price: str | None,
    wanted: str | None,
    against: tuple[str, ...],
    used_with: tuple[str, ...],
    holds: tuple[str, ...],
) -> Answered:
    """What an option must save to pay off, in watts."""
    option = _asked_about(race, name, mass, price)
    for flag, names in (("--against", against), ("--with", used_with)):
        if option.name in names:
            raise InputError(
                flag, f"'{option.name}' is the option asked about itself", "name another"
            )
    per_second = read_price(race, wanted)
    refuse_mixed_currencies([*race.options, option], {"the price per second": per_second})
    found = Against(
        per_second,
        tuple(single_option(race, "--against", one) for one in against),
        tuple(single_option(race, "--with", one) for one in used_with),
        tuple(_holding(option, one) for one in holds),
    )
    base = ride_in_use(race)
    answer = BreakEvenAnswer(base.time, break_evens(base, option, found), Basis.of(base))
    return answer, break_even_sheet


def _asked_about(race: Race, name: str | None, mass: str | None, price: str | None) -> Option:
    if name is not None:
        for flag, given in (("--mass", mass), ("--price", price)):
            if given is not None:
                raise InputError(flag, "the option states it already", "leave one of them out")
        return single_option(race, "--option", name)
    if mass is None and price is None:
        raise InputError("breakeven", "no option is named", 'add --option NAME or --mass "+850 g"')
    weight = 0.0 if mass is None else read_quantity("--mass", mass, MASS)
    return Option("Something", mass=weight, price=read_money_option(race, "--price", price))


def _holding(option: Option, text: str) -> Holding:
    share = read_quantity("--holds", text, RATIO)
    if not 0 < share <= 1:
        raise InputError(
            "--holds", f"'{text}' is not a share of the time", 'give for example "70 %"'
        )
    if option.acts_on != "air":
        raise InputError("--holds", f"'{option.name}' is not a position", "leave it out")
    return replace(option.holding, shares=(share,))
