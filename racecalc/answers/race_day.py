"""``racecalc weather`` and ``racecalc places``: the race in other weathers, seconds as places."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated

import numpy as np

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, chance_text, naming, quoted, several
from racecalc.answers.columns import (
    Amount,
    Chance,
    Clock,
    Column,
    Made,
    Number,
    Quantity,
    Seconds,
    Words,
    seconds_text,
    shown_apart,
    time_cell,
    time_span,
    within_95,
)
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table, details, grounds
from racecalc.answers.value import rules_lines, weather_lines
from racecalc.decisions.doubt import CAUSES
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.places import GoalGap, Places, Standing
from racecalc.decisions.race_day import (
    NOTHING_NEW,
    BasketOnDays,
    Choice,
    OptionOverDays,
    RaceDay,
    SlotOverDays,
    Start,
)
from racecalc.decisions.weather import (
    DEEP,
    GUST_CAUTION,
    GUST_TOO_STRONG,
    HOT,
    Cautions,
    Day,
    weather_doubts,
)
from racecalc.domain.option import Option
from racecalc.domain.race import RIDER_HEIGHT, Race, Wind
from racecalc.physics.air import rider_wind_speed
from racecalc.quantities.clock import show_duration
from racecalc.quantities.reading import show_direction
from racecalc.quantities.showing import System, What, show
from racecalc.written import HIDDEN, SPREAD

FEW = 50
"""Up to so many days a share is shown as a count."""


@dataclass(frozen=True)
class WeatherAnswer:
    """What the weather of race day does."""

    race: Annotated[Race, HIDDEN]
    """The race, with its doubts of the weather."""
    found: Annotated[RaceDay, SPREAD]
    """Times, starts, options and choices over the days."""
    seed: int | None
    """Of the days that were drawn; None where none was."""
    baskets: tuple[BasketOnDays, ...]
    """The sets that are the best on some day; empty where no budget was given."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""

    @property
    def drawn(self) -> bool:
        """Whether days were drawn; the rows of a forecast alone are too few for shares."""
        return self.found.share_error is not None


def weather_sheet(answer: WeatherAnswer, units: System) -> Sheet:
    """When to start or how long it takes, what is unsafe, and whether choices hang on the day."""
    found = answer.found
    settled = [slot for slot in found.slots if slot.settled]
    undecided = [slot for slot in found.slots if not slot.settled]
    best_always: list[Line] = [
        (quoted(slot.slot), ": ", *_with_chance(slot.least_mean.name, found)) for slot in settled
    ]
    kept = [choice for slot in undecided for choice in slot.choices]
    choice = _kept("slot and choice", lambda one: quoted(f"{one.slot}: {one.name}"), found.days)
    sets = [*_kept("set", _basket_name, found.days), Amount("cost", "cost")]
    return Sheet(
        (f"{answer.basis.title}: ", *_headline(answer)),
        [
            Lines([_range(answer), *_about_forecast(answer), *_heeded(found.heed, units)]),
            Lines([*_choices(undecided, answer), *_basket(answer, units)]),
            Table(
                "", _starts(answer, units), found.starts, "", Depth.ANSWER, most=11, path="starts"
            ),
            details([START_NOTE] if found.starts else []),
            *_options(answer),
            details(_ends(found, units), "The weather of these times"),
            details([(quoted(one),) for one in found.cautions], "Safety first"),
            *_starts_drawn(found.starts),
            details(best_always, "The same choice is the best on every day"),
            Table("Where the weather decides", choice, kept, LOST_NOTE),
            details(
                [line for slot in undecided for line in _slot_lines(slot, found, units)],
                "What follows",
            ),
            Table(
                "The best basket of each day", sets, answer.baskets, BASKETS_NOTE, path="baskets"
            ),
            grounds(_method(answer, units), "The days"),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: WeatherAnswer) -> Iterator[ExplainedStep]:
    found = answer.found
    drawn = f"{found.days} days, seed {answer.seed}"
    return explained(
        "weather",
        answer.basis.ride,
        fastest=show_duration(found.fastest.time_s),
        slowest=show_duration(found.slowest.time_s),
        days=drawn if answer.drawn else "rows of the forecast",
        doubts=", ".join(weather_doubts(answer.race)) or "no doubt of the weather is stated",
        gust=GUST_TOO_STRONG,
    )


LOST_NOTE = (
    "Lost: seconds against the best choice of each day, if one choice is kept on all days; where"
    " gusts or heat rule it out, nothing new is used instead."
)
BASKETS_NOTE = (
    "Best: share of the days on which no other set for the money is better. Lost: by keeping that"
    " set, without what gusts or heat rule out. Savings of a day are added, at their best"
    " estimates."
)
START_NOTE = (
    "Seconds against the first start: positive is slower. The wind is as forecast at the start, the"
    " gust the strongest of all the rows that the ride reaches: a row holds until half way to the"
    " next."
)


# --- the answer ----------------------------------------------------------------------------------


def _headline(answer: WeatherAnswer) -> Line:
    found = answer.found
    if not found.starts:
        within = Cell(time_span(found.time.low_95_s, found.time.high_95_s), "strong")
        return (within, " on 95 of 100 days")
    best = min(found.starts, key=lambda start: start.time_s)
    at = found.starts.index(best)
    time = time_cell(best.time_s, f"starts/{at}/time_s")
    return ("fastest start ", quoted(best.day.name, 20), ", ", time)


def _range(answer: WeatherAnswer) -> Line:
    found, time = answer.found, answer.found.time
    days = f"{time_span(found.fastest.time_s, found.slowest.time_s)} over {found.days} starts"
    if answer.drawn:
        within = f", 95 of 100 lie within {time_span(time.low_95_s, time.high_95_s)}"
        half = f"half are faster than {show_duration(time.median_s)}"
        days = f"{found.days} days of weather: {half}{within if found.starts else ''}"
    elif found.days == 1:
        days = "One start"
    stated = Cell(show_duration(found.stated_time_s), "", found.stated_time_s, "stated_time_s")
    return (f"{days}; ", stated, " in the weather of the race file.")


def _about_forecast(answer: WeatherAnswer) -> Iterator[Line]:
    """What of the forecast could overturn the answer."""
    if not answer.drawn:
        yield "No range: the doubt of the forecast is not stated (air.wind_doubt)."
    if answer.found.starts and answer.race.air.wind.height == RIDER_HEIGHT:
        yield (
            "The forecast winds are taken as winds at the rider; if they are for 10 m above ground,"
            " state wind_speed instead of wind_at_rider."
        )


def _heeded(heed: Cautions, units: System) -> Iterator[Line]:
    """What is unsafe, in short; `Cautions.sentences` says it in full."""
    catching: tuple[str | Cell, ...] = several(heed.catching) if heed.catching else (DEEP,)
    care = (": care",) if heed.too_strong else (": take care with ", *catching)
    reached: list[tuple[float, str, tuple[str | Cell, ...]]] = []
    for one in heed.too_strong:
        those = several(one.names) if one.names else (DEEP,)
        reached.append((one.limit, one.days, (": leave ", *those, " at home")))
    if heed.strong:
        reached.append((GUST_CAUTION, heed.strong, care))
    gusts: list[str | Cell] = []
    for limit, days, do in reached:
        start = "; of" if gusts else "Gusts of"
        gusts += [f"{start} {show(limit, 'wind_speed', units, 0)} ", quoted(days, 40), *do]
    if gusts:
        yield (*gusts, ".")
    if heed.unmarked:
        yield "No option is marked catches_wind, so gusts rule out none."
    if heed.unknown and heed.catching:
        yield (
            "Gusts are unknown ",
            quoted(heed.unknown, 40),
            ": state --gust for ",
            *catching,
            ".",
        )
    for one in heed.too_hot:
        from_there = show(one.limit, "temperature", units, 0)
        yield (
            f"From {from_there} ",
            quoted(one.days, 40),
            ": do not use ",
            *several(one.names),
            ".",
        )
    if heed.hot:
        where = quoted(heed.hot, 40)
        yield (f"Over {show(HOT, 'temperature', units, 0)} ", where, ": less power, more to drink.")


def _choices(undecided: Sequence[SlotOverDays], answer: WeatherAnswer) -> Iterator[Line]:
    """What hangs on the weather by more than a watt is worth."""
    found = answer.found
    deciding = [slot for slot in undecided if slot.most_at_stake_s >= found.watt_s]
    for slot in deciding[:2]:
        best = slot.least_mean
        how = ", where it is safe." if _spared(best, found) else f" {_loses_least(best)}."
        yield ("Best ", quoted(slot.slot), " in this weather: ", quoted(best.name), how)
    if found.slots:
        stated = (one.worst_regret_s for one in answer.baskets if one.best_as_stated)
        same = any(worst < found.watt_s for worst in stated)
        yield (
            f"The weather changes no{' other' if deciding else ''} choice"
            f"{' or basket' if same else ''} by more than a watt does ({found.watt_s:.1f} s)."
        )


def _basket(answer: WeatherAnswer, units: System) -> Iterator[Line]:
    for one in answer.baskets:
        if one.best_as_stated and one.worst_regret_s >= answer.found.watt_s:
            worst = f"{one.worst_regret_s:.1f} s at worst ({day_words(one.worst_day, units)})"
            yield f"The basket that is best in the weather of the race file loses {worst}."


# --- the tables ----------------------------------------------------------------------------------


def _height(wind: Wind, units: System) -> str:
    """The height that a wind is stated for."""
    return "rider" if wind.height == RIDER_HEIGHT else show(wind.height, "length", units, 0)


def _starts(answer: WeatherAnswer, units: System) -> list[Column | None]:
    """Wind as forecast and gust at the rider; the time and what it is against the first start."""
    found, wind = answer.found, answer.race.air.wind
    gusty = any(start.day.gust_at_rider_m_s is not None for start in found.starts)
    warm = all(start.day.temperature_k is not None for start in found.starts)

    def against_first(start: Start) -> str:
        return _against_first(start, found.starts[0])

    band = " (95 %)" if any(start.against_first for start in found.starts) else ""
    return [
        Made("start", "", lambda start: quoted(start.day.name, 20)),
        Quantity(f"wind at\n{_height(wind, units)},", "day.air.wind.speed", what="wind_speed"),
        Made("from", "", lambda start: from_words(start.day.air.wind).partition(" ")[0], left=True),
        Quantity("gust at\nrider,", "day.gust_at_rider_m_s", what="wind_speed") if gusty else None,
        Quantity("", "day.temperature_k", what="temperature") if warm else None,
        Clock("time", "time_s"),
        Made(f"against\nthe first s{band}", "against_first_s", against_first),
    ]


def _against_first(start: Start, first: Start) -> str:
    band = start.against_first
    if start is first:
        return "-"
    apart = seconds_text(shown_apart(first.time_s, start.time_s))
    if band is None:
        return apart
    low, high = (seconds_text(end, None, "-") for end in (band.low_95_s, band.high_95_s))
    return f"{apart} ({low} to {high})"


def _starts_drawn(starts: Sequence[Start]) -> Iterator[Curves]:
    if len(starts) > 2:
        times = np.array([start.time_s for start in starts])
        yield Curves(
            np.arange(float(len(starts))),
            {"time [min] by start": times / 60.0},
            f"{time_span(min(times), max(times))} by start.",
            marks=[(float(at), start.day.name) for at, start in enumerate(starts)],
            title="Time by start",
        )


def _options(answer: WeatherAnswer) -> Iterator[Block]:
    """What each option saves; the table of the answer where there is no start to choose."""
    found, depth = answer.found, Depth.DETAILS if answer.found.starts else Depth.ANSWER
    title = "What each option saves, in seconds" if found.starts else ""
    rows = sorted(
        found.options,
        key=lambda one: -math.inf if one.median_s is None else one.median_s,
        reverse=True,
    )
    columns = _option_columns(answer)
    yield Table(title, columns, rows, "", depth, most=9, path="options", among=found.options)
    if rows:
        yield details([OPTIONS_NOTE, *_shares_note(found)])


def _option_columns(answer: WeatherAnswer) -> list[Column]:
    days = answer.found.days
    ends = ("low_95_s", "high_95_s") if answer.drawn else ("lowest_s", "highest_s")

    def within(option: OptionOverDays) -> str:
        low, high = (getattr(option, end) for end in ends)
        return "-" if low is None else f"{low:+.1f} to {high:+.1f}"

    def faster(option: OptionOverDays) -> str:
        usable = round(days * (1.0 - option.share_ruled_out))
        return "-" if option.share_faster is None else share_text(option.share_faster, usable)

    return [
        Words("option", "name"),
        Number("stated", "saved_s", "+.1f"),
        Number("median", "median_s", "+.1f", unknown="-"),
        Made("95 % of days" if answer.drawn else "all rows", "", within),
        Made("faster", "", faster),
        Made("best", "", lambda one: "x" if one.barred else share_text(one.share_best, days)),
        Chance("chance", "chance_faster"),
    ]


OPTIONS_NOTE = (
    "Each alone, compared with nothing new. Stated: in the weather of the race file. Faster, best:"
    " share of the days on which it is faster than nothing new, and on which it is the best of its"
    " slot; x: forbidden, or worth less in the stated weather than you want of it. These shares"
    " come from the weather only, at the best estimate of each saving. Chance: that it is faster at"
    " all, by the doubt of its saving, in the stated weather; ? where no doubt is stated."
)


def _shares_note(found: RaceDay) -> Iterator[Line]:
    if any(option.share_ruled_out for option in found.options):
        yield "Median, range and faster count only days on which gusts and heat do not rule it out."
    if found.share_error is not None:
        yield f"With another seed a share may differ by up to {100 * found.share_error:.0f} points."


def share_text(share: float, days: int) -> str:
    """A share of days; only what holds for every day that was looked at is called all or none."""
    if share in (0.0, 1.0):
        return "all" if share else "none"
    return f"{round(share * days)} of {days}" if days <= FEW else chance_text(share)


def _kept(heading: str, name: Callable[..., Cell], days: int) -> list[Column]:
    """How a choice fares that is kept on all days."""
    return [
        Made(heading, "", name, left=True),
        Made("best", "share_best", lambda one: share_text(one.share_best, days)),
        Number("mean s lost", "mean_regret_s"),
        Number("worst s lost", "worst_regret_s"),
    ]


def _basket_name(basket: BasketOnDays) -> Cell:
    stated = " (best as stated)" if basket.best_as_stated else ""
    return quoted((", ".join(basket.chosen) or "nothing") + stated)


# --- the choices in words ------------------------------------------------------------------------


def _spared(choice: Choice, found: RaceDay) -> bool:
    """Whether gusts or heat alone keep a choice from being the best on every day."""
    ruled_out = any(one.name == choice.name and one.share_ruled_out for one in found.options)
    return choice.worst_regret_s == 0 and ruled_out


def _loses_least(choice: Choice) -> str:
    return f"loses the least on average, at worst {choice.worst_regret_s:.1f} s"


def _with_chance(name: str, found: RaceDay) -> tuple[str | Cell, ...]:
    """A choice with the chance, by its own doubt, that it is faster than nothing new."""
    if name == NOTHING_NEW:
        return (name,)
    chance = next(one.chance_faster for one in found.options if one.name == name)
    return (quoted(name), f" (chance {'?' if chance is None else chance_text(chance)})")


def _slot_lines(slot: SlotOverDays, found: RaceDay, units: System) -> Iterator[Line]:
    mean, worst = slot.least_mean, slot.least_worst
    fares = f" {_loses_least(mean)} ({day_words(mean.worst_day, units)})."
    if _spared(mean, found):
        fares = " is the best wherever it is safe."
    yield quoted(slot.slot), ": ", *_with_chance(mean.name, found), fares
    if worst is not mean:
        loses = f" loses the least at worst ({worst.worst_regret_s:.1f} s)."
        yield (quoted(slot.slot), ": ", *_with_chance(worst.name, found), loses)
    if slot.most_at_stake_s < found.watt_s:
        nothing = ": the choices differ by less than a watt does; let other things decide."
        yield quoted(slot.slot), nothing
    if len(set(slot.best_by_start)) > 1:
        yield (quoted(slot.slot), ", by start: ", quoted(_by_start(slot, found.starts)), ".")


def _by_start(slot: SlotOverDays, starts: Sequence[Start]) -> str:
    """Runs of starts with one best choice, as forecast."""
    pairs = zip(slot.best_by_start, (start.day.name for start in starts), strict=True)
    runs = [(name, [start for _, start in run]) for name, run in groupby(pairs, key=lambda p: p[0])]
    return ", ".join(
        f"{name} {run[0]}" + (f" to {run[-1]}" if len(run) > 1 else "") for name, run in runs
    )


# --- the weather in words ------------------------------------------------------------------------


def _ends(found: RaceDay, units: System) -> list[Line]:
    ends = {"Fastest": found.fastest, "Slowest": found.slowest}
    if found.days == 1:
        ends = {"In the forecast": found.fastest}
    times = ((f"{word}: {show_duration(one.time_s)}, ", one.day) for word, one in ends.items())
    return [(said, quoted(day.name), f": {day_words(day, units)}") for said, day in times]


def from_words(wind: Wind) -> str:
    """Where a wind comes from: over ground, or counted from the direction of travel."""
    if not wind.follows_rider:
        return show_direction(wind.direction)
    degrees = round(math.degrees(wind.direction)) % 360
    sides = {0: "ahead", 90: "the right", 180: "behind", 270: "the left"}
    return sides.get(degrees, f"{degrees}° clockwise from ahead")


def day_words(day: Day, units: System) -> str:
    """The weather of a day in one line."""
    air = day.air
    at_rider = air.wind.height == RIDER_HEIGHT
    where = "at the rider" if at_rider else f"at {_height(air.wind, units)}"
    speed = show(air.wind.speed, "wind_speed", units)
    parts = [f"wind {speed} {where} from {from_words(air.wind)}"]
    if day.gust_at_rider_m_s is not None:
        parts.append(f"gusts of {show(day.gust_at_rider_m_s, 'wind_speed', units)} at the rider")
    if air.density is not None:
        return ", ".join([*parts, f"air {show(air.density, 'density', units)}"])
    at = " at sea level" if air.pressure_at_sea_level else ""
    pressure = show(air.pressure, "pressure", units) + at
    return ", ".join([*parts, show(air.temperature, "temperature", units), pressure])


def _method(answer: WeatherAnswer, units: System) -> list[Line]:
    found, wind = answer.found, answer.race.air.wind
    about = "each row of the forecast" if found.starts else "the race file's weather"
    doubts = ", ".join(_doubts(weather_doubts(answer.race), units))
    alike = (
        "The forecast is taken to be off by the same amount at every hour; if not, the differences"
        " between starts are less sure than shown."
    )
    left = rider_wind_speed(Wind(1.0, height=wind.height, terrain=wind.terrain, law=wind.law))
    return [
        f"{found.days // (len(found.starts) or 1)} days drawn about {about}, seed {answer.seed},"
        f" doubts (standard uncertainties): {doubts}."
        if doubts
        else "Each row of the forecast is a day.",
        alike if doubts and found.starts else "",
        "Winds are those at the rider, as in the race file."
        if wind.height == RIDER_HEIGHT
        else f"Winds are for {show(wind.height, 'length', units, 0)} above {wind.terrain};"
        f" {100 * left:.0f} % of them reaches the rider in the open, gusts too.",
        "The weather that sets the time does not change during a ride, and the rider's power is the"
        " same on every day. Gusts and heat are judged in all the hours that the ride reaches.",
    ]


SHOWN_AS: dict[str, What] = {
    "wind_speed": "wind_speed",
    "temperature": "temperature_change",
    "pressure": "pressure",
    "density": "density",
}
"""Doubts of the weather as they are shown; those not named are angles."""


def _doubts(doubts: Mapping[str, float], units: System) -> Iterator[str]:
    """One standard uncertainty of each part of the weather."""
    for name, doubt in doubts.items():
        what = SHOWN_AS.get(name)
        shown = show(doubt, what, units) if what else f"{math.degrees(doubt):.0f}°"
        yield f"{CAUSES[name]} {shown}"


# --- ``racecalc places`` -------------------------------------------------------------------------

LEAST_SHOWN = 0.01
"""Chance below which a place is not named."""

FAR = "How far away each place is"
ENOUGH = "Single options that save enough at their best estimate (?: doubt not stated)"
IN_PLACES = "What these places and chances include, and what not"


@dataclass(frozen=True)
class PlacesAnswer:
    """What seconds mean in places."""

    found: Annotated[Places, SPREAD]
    """Places with and without options, their chances, and how far the next goals are."""
    options: Annotated[tuple[Option, ...], HIDDEN]
    """The options that it tells about."""
    basis: Annotated[Basis, SPREAD]
    """What they rest on."""


def places_sheet(answer: PlacesAnswer, units: System) -> Sheet:
    """The place without any option, then with each, and how far away the next goals are."""
    found = answer.found
    now = "as you ride now" if answer.basis.use else "without any option"
    return Sheet(
        (
            f"{answer.basis.title}: ",
            Cell(_ordinal(found.without.place), "strong", found.without.place, "without/place"),
            f" of {found.field.of} {now}",
        ),
        [
            Lines([_among(found), *((quoted(note),) for note in found.notes)]),
            Lines([_without(found), *_next(found), *_mind(answer)]),
            Table("", _standings(found), found.options, "", Depth.ANSWER, most=7, path="options"),
            Table(FAR, _gaps(found), found.gaps, "", Depth.ANSWER, path="gaps"),
            details([_standings_note(found), GAPS_NOTE], "How to read it"),
            details(
                [_enough(gap, found.goals.podium) for gap in found.gaps if gap.gap_s > 0], ENOUGH
            ),
            details(
                filter(None, map(_each_place, (found.without, *found.options))),
                f"Chance of each place that has {100 * LEAST_SHOWN:.0f} % or more",
            ),
            grounds([(quoted(one),) for one in found.cautions], IN_PLACES),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: _explained_places(answer),
    )


def _explained_places(answer: PlacesAnswer) -> Iterator[ExplainedStep]:
    found = answer.found
    return explained(
        "places",
        answer.basis.ride,
        place=_ordinal(found.without.place),
        own=show_duration(found.own.time),
        others=len(found.field.times),
        doubt=found.own.doubt or 0.0,
        spread=found.field.spread,
    )


# --- the answer ----------------------------------------------------------------------------------


def _among(found: Places) -> Line:
    own, field = found.own, found.field
    alone = "" if own.doubt_from else ", from the doubt of the model alone"
    left_out = ", ".join(f"{count} {why}" for why, count in field.unplaced.items())
    return (
        *((quoted(own.listed_as), ", ") if own.listed_as else ()),
        Cell(show_duration(own.time), "", own.time, "own_time_s"),
        " in " if own.listed_as else f" (predicted; {within_95(*own.between)}{alone}) in ",
        quoted(field.source),
        *((", category ", quoted(field.category)) if field.category else ()),
        f"; without a place: {left_out}." if left_out else ".",
    )


def _without(found: Places) -> Line:
    one = found.without
    shared: Line = (", shared with ", *several(one.shared_with)) if one.shared_with else ()
    reached = {goal: getattr(one.chances, key) for goal, key in _goals(found).items()}
    if one.certain:
        words = [f"{goal}: {_yes_or_no(chance)}" for goal, chance in reached.items()]
        return (f"Neither your time nor theirs has a doubt; {', '.join(words)}", *shared, ".")
    better = chance_text(one.chances.chance_place_or_better or 0.0)
    words = [f"{goal} {chance_text(chance)}" for goal, chance in reached.items()]
    mean = f"mean place {one.chances.expected_place:.1f}"
    return (f"{_ordinal(one.place)} or better {better}, {mean}, {', '.join(words)}", *shared, ".")


def _next(found: Places) -> Iterator[Line]:
    """How the next place is reached."""
    for gap in found.gaps[:1]:
        if gap.goal == "place":
            enough = several(gap.options, 2, last="or") or ("no single option",)
            away = _away(found, gap)
            far = f"{_ordinal(gap.place)} is {away} s away; at best estimates saved by "
            yield (far, *enough, ".")


def _away(found: Places, gap: GoalGap) -> str:
    """Seconds between both times as they are shown; those of a photo finish to the tenth."""
    apart = shown_apart(gap.time_s, found.own.time)
    return str(apart) if apart else f"{gap.gap_s:.1f}"


def _mind(answer: PlacesAnswer) -> Iterator[Line]:
    """What could overturn it."""
    found = answer.found
    if found.field.spread == 0:
        yield 'Rivals are taken to repeat their times; --rivals "6 s" lets each of them vary.'
    forbidden = [one.tried.name for one in found.options if one.tried.forbidden]
    yield from naming("Forbidden by the rules: ", forbidden)
    yield from rules_lines([one for one in answer.options if not one.forbidden])
    yield from weather_lines(answer.options, answer.basis.day)


# --- the tables ----------------------------------------------------------------------------------


def _standings(found: Places) -> list[Column]:
    return [
        Made("with", "", lambda one: quoted(_name(one)), left=True),
        Seconds("saves s (95 %)", "tried.saved_s"),
        Made("place", "place", lambda one: _ordinal(one.place) + ("=" if one.shared_with else "")),
        _in_doubt("or\nbetter", "chance_place_or_better", chance_text),
        _in_doubt("mean", "expected_place", "{:.1f}".format),
        *(_in_doubt(goal, key, chance_text, _yes_or_no) for goal, key in _goals(found).items()),
    ]


def _name(one: Standing) -> str:
    marks = {"forbidden": one.tried.forbidden, "unsafe": bool(one.tried.unsafe)}
    marked = ", ".join(mark for mark, so in marks.items() if so)
    return one.tried.name + (f" ({marked})" if marked else "")


Text = Callable[[float], str]


def _in_doubt(heading: str, key: str, text: Text, sure: Text = lambda _: "-") -> Column:
    """What is as sure as the saving: another text where nothing is in doubt, "?" if not known."""

    def made(one: Standing) -> str:
        value = getattr(one.chances, key)
        return "?" if value is None else sure(value) if one.certain else text(value)

    return Made(heading, f"chances.{key}", made)


def _yes_or_no(chance: float) -> str:
    return "yes" if chance else "no"


def _goals(found: Places) -> dict[str, str]:
    """What may be reached, with the key of its chance."""
    target = found.goals.target_s
    aimed = {} if target is None else {show_duration(target): "chance_target"}
    return {f"top {found.goals.podium}": "chance_podium", **aimed}


def _standings_note(found: Places) -> str:
    target = found.goals.target_s
    aimed = "" if target is None else f". {show_duration(target)}: chance of that time"
    return (
        "Saves: with its 95 % interval. Place: at the best estimate; = where it is shared, with as"
        " many places left empty after it. Or better: chance of that place or a better one. Mean:"
        f" mean of all places by their chances{aimed}. -: nothing has a doubt. ?: no doubt is"
        " stated, so no chance is known."
    )


def _gaps(found: Places) -> list[Column]:
    return [
        Made("goal", "", lambda gap: _goal(gap, found.goals.podium), left=True),
        Made("held by", "", lambda gap: quoted(" and ".join(gap.rivals) or "-"), left=True),
        Clock("time", "time_s"),
        Made("seconds", "gap_s", lambda gap: _away(found, gap)),
        Number("or watts", "watts_w", unknown="too many"),
    ]


GAPS_NOTE = (
    "Seconds: saving so many makes you equal, which shares the place or meets the target; saving"
    " more takes the place alone. Watts: more power on the whole course. Negative: what you can"
    " lose."
)


def _goal(gap: GoalGap, podium: int) -> str:
    names = {"place": _ordinal(gap.place), "podium": f"top {podium}", "target": "target"}
    return names[gap.goal]


def _enough(gap: GoalGap, podium: int) -> Line:
    names = [name + (" ?" if name in gap.options_without_doubt else "") for name in gap.options]
    return (f"{_goal(gap, podium)}: ", *(several(names, len(names), length=None) or ("none",)))


def _each_place(standing: Standing) -> Line:
    shown = [
        f"{_ordinal(one.place)} {chance_text(one.chance)}"
        for one in standing.chances.chance_of_place or ()
        if one.chance >= LEAST_SHOWN and not standing.certain
    ]
    return (quoted(standing.tried.name), f": {', '.join(shown)}") if shown else ""


def _ordinal(number: int) -> str:
    """A place in words.

    Examples
    --------
    >>> [_ordinal(one) for one in (1, 2, 3, 4, 11, 12, 13, 21, 102, 111)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '13th', '21st', '102nd', '111th']
    """
    teens = 10 < number % 100 < 14
    return f"{number}{'th' if teens else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"
