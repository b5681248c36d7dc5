"""The commands about race day: its weather, and places in the results."""

import math
from collections.abc import Sequence
from pathlib import Path

import click

from racecalc.answers.basis import Basis
from racecalc.answers.race_day import PlacesAnswer, WeatherAnswer, places_sheet, weather_sheet
from racecalc.decisions.basket.basket import basket_of
from racecalc.decisions.basket.candidates import Slopes, candidates_of
from racecalc.decisions.places import (
    Goals,
    Tried,
    listed,
    places,
    predicted,
    rivals,
    tried_options,
    tried_set,
)
from racecalc.decisions.race_day import (
    BasketOnDays,
    DayNumbers,
    baskets_over_days,
    race_day,
    ridden_on,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.weather import (
    drawn_about,
    forecast_days,
    stated_day,
    under_forecast,
    weather_doubts,
    with_tests,
)
from racecalc.decisions.worth import ride_in_use, saved_alone
from racecalc.domain.option import Option
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.race_values import check_range
from racecalc.files.table_kinds import GUST, ForecastTable, read_forecast, read_results
from racecalc.quantities.kinds import SPEED, TIME
from racecalc.quantities.money import Money
from racecalc.views.commands.flags import FILE, default_option, seed_option
from racecalc.views.commands.shared import (
    Answered,
    named_options,
    note_idle,
    race_command,
    read_budget,
    read_option,
    say,
)
from racecalc.views.desk import tracked

# --- The command on the weather of race day -------------------------------------------------------

DAYS = 200
"""Days drawn about the race file; our choice, some ten seconds with a dozen options."""

DAYS_A_ROW = 20
"""Days drawn about each row of a forecast; our choice, as long for ten rows as `DAYS`."""


@race_command
@click.option(
    "--days",
    type=click.IntRange(10, 10_000),
    help=f"Days drawn: {DAYS} unless given, or {DAYS_A_ROW} about each row of a forecast.",
)
@seed_option("Seed of the days that are drawn.")
@click.option(
    "--forecast",
    "forecast_file",
    metavar="CSV",
    type=FILE,
    help="Hourly forecast; each row is a time to start at.",
)
@click.option(
    "--gust",
    metavar="SPEED",
    help='Strongest gust where no forecast gives one, as "14 m/s", at the height of the wind.',
)
@click.option(
    "--budget", metavar="MONEY", help="Budget for which to show how the best basket changes."
)
def weather_command(
    race: Race,
    days: int | None,
    seed: int,
    forecast_file: Path | None,
    gust: str | None,
    budget: str | None,
) -> Answered:
    """What race-day weather does to the time and to the best choices."""
    money = read_budget(race, budget)
    forecast = read_forecast(forecast_file) if forecast_file else None
    if forecast:
        say(forecast.notices)
        race = under_forecast(race, forecast)
    strongest = _read_gust(gust, race, forecast)
    rows = forecast_days(race, forecast, strongest) if forecast else (stated_day(race, strongest),)
    if not weather_doubts(race):
        _refuse_or_note(race, forecast)
    drawn = drawn_about(rows, race, days or (DAYS_A_ROW if forecast else DAYS), seed)
    base = ride_in_use(race)
    options = with_tests(base.race.single_options, base)
    every = [*(rows if forecast else ()), *drawn]
    numbers = ridden_on(tracked(every, "solving days"), base, options)
    found = race_day(base, options, numbers)
    apart = numbers
    if money and (base.race.use or any(one.restrictions.needs for one in options)):
        days_again = tracked(every, "solving days without options")
        apart = ridden_on(days_again, base.bare, options, saved_alone)
    baskets = _baskets(base, options, apart.counted, money) if money else ()
    used = None if found.share_error is None else seed
    return WeatherAnswer(race, found, used, baskets, Basis.of(base)), weather_sheet


def _baskets(
    base: Ridden, options: Sequence[Option], days: DayNumbers, budget: Money
) -> tuple[BasketOnDays, ...]:
    tests, worth = base.race.tested_sets, base.race.money_terms.per_second
    stated = candidates_of(base, options, tests)
    found = basket_of(Slopes(stated), budget, per_second=worth)
    unsafe = any(one.unsafe for one in stated.left_out)
    candidates = candidates_of(base, options, tests, any_weather=True) if unsafe else stated
    numbers = tracked(range(len(days.days)), "filling baskets")
    return baskets_over_days(candidates, found, options, days, numbers)


def _read_gust(text: str | None, race: Race, forecast: ForecastTable | None) -> float | None:
    gust = read_option("--gust", text, SPEED)
    check_range(GUST, gust, f"'{text}'", "--gust", [])
    if gust is not None and forecast is None and gust < race.air.wind.speed:
        raise InputError(
            "--gust", f"'{text}' is less than the mean wind", "give the strongest gust"
        )
    if forecast is not None and not any(math.isnan(one) for one in forecast.gust):
        note_idle(("gust",), f"{forecast.source} gives a gust in every row")
    return gust


def _refuse_or_note(race: Race, forecast: ForecastTable | None) -> None:
    """Without a doubt of the weather only the rows of a forecast are days."""
    stating = 'for example --set air.wind_doubt="1.5 m/s" or air.temperature_doubt="2 degC"'
    if forecast is None:
        raise InputError(
            race.name,
            "the race file states no doubt of its weather, so every day would be the same",
            f"state one, {stating}, or give an hourly --forecast",
        )
    why = f"{race.name} states no doubt of its weather, so nothing is drawn; state one, {stating}"
    note_idle(("days", "seed"), why)


# --- The command that turns seconds into places of a results list ---------------------------------


@race_command
@click.argument("results_file", metavar="RESULTS", type=FILE)
@click.option("--me", metavar="NAME", help="Your name in the list; without it you are added.")
@click.option(
    "--try",
    "tried",
    multiple=True,
    metavar='"A + B"',
    help="Show only these options or sets. May be repeated.",
)
@default_option(
    "--rivals",
    "form",
    metavar="TIME",
    default="0 s",
    help="Standard deviation of each rival's time from day to day.",
)
@default_option(
    "--podium",
    type=click.IntRange(1),
    default=3,
    metavar="N",
    help="How many places count as the podium.",
)
@click.option("--target", metavar="TIME", help='Target time, as "23:20", to qualify.')
@click.option("--category", metavar="NAME", default="", help="Count this category only.")
def places_command(
    race: Race,
    results_file: Path,
    me: str | None,
    tried: tuple[str, ...],
    form: str,
    podium: int,
    target: str | None,
    category: str,
) -> Answered:
    """What the seconds mean in places of a results list."""
    sets = [named_options(race, "--try", names) for names in tried]
    spread = read_option("--rivals", form, TIME) or 0.0
    goals = Goals(podium, read_option("--target", target, TIME))
    if goals.target_s == 0:
        raise InputError("--target", f"'{target}' is not a target time", "give one as '23:20'")
    results = read_results(results_file)
    field = rivals(results, me or "", category, spread)
    at_start = None if me is None else listed(results, me, category)
    base = ride_in_use(race)
    own = at_start or predicted(base)
    options = base.race.single_options
    singles = tried_options(base, options)
    shown = [_tried(base, names, singles) for names in sets] if sets else list(singles.values())
    found = places(base, field, own, shown, list(singles.values()), goals)
    named = {name for names in sets for name in names} or singles.keys()
    about = tuple(option for option in options if option.name in named)
    return PlacesAnswer(found, about, Basis.of(base, found.notes)), places_sheet


def _tried(base: Ridden, names: tuple[str, ...], singles: dict[str, Tried]) -> Tried:
    """What was asked for: an option by its name alone, or several as one set."""
    if len(names) == 1:
        return singles[names[0]]
    options = {option.name: option for option in base.race.options}
    tests = [option for option in options.values() if option.set_of]
    return tried_set(base, tuple(options[name] for name in names), tests)
