"""From a race file to a race in SI."""

import difflib
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from racecalc.domain.course import Course, Landmark
from racecalc.domain.option import (
    FORMS_OF,
    ActsOn,
    Holding,
    MoneyTerms,
    Option,
    Ownership,
    Restrictions,
    Saving,
    misfit,
    positive,
    read_life,
    read_power_loss,
    read_saving,
)
from racecalc.domain.pacing import read_caps, read_limits, read_planned
from racecalc.domain.race import (
    RIDER_HEIGHT,
    Air,
    Bike,
    Doubts,
    DragArea,
    Race,
    Rider,
    SpeedLimits,
    Wind,
)
from racecalc.domain.surveying.survey import CourseSection, CourseWishes, made_up, survey
from racecalc.domain.trial import AMOUNTS, Runs, load_runs, names_recordings
from racecalc.errors import InputError, Notice
from racecalc.files.opening import course_path
from racecalc.files.race_file import Assumption, RaceFile, RaceTable, read_race_file
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import example, nearest
from racecalc.files.tracks import HIGHEST, LOWEST, Track, Wanted, read_track
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import Money
from racecalc.quantities.plain_text import one_line

SURFACE_ROUGHNESS = {
    "wooden track": 0.6,
    "smooth asphalt": 1.0,
    "chip road": 1.35,
    "worn road": 2.0,
    "cobbles": 4.0,
}
"""Factor of a surface on the Crr of smooth asphalt: rounded ratios of the middles of the ranges
that riders quote (0.0020, 0.0035, 0.0048, 0.0070 and 0.0140); common practice, no source."""

FAR_ABOVE = 300.0
"""Difference of height between weather and course that deserves a warning [m]."""

RELATIVE_WIND = {"ahead": 0.0, "right": 0.5 * math.pi, "behind": math.pi, "left": 1.5 * math.pi}


def load_race(path: Path, changes: Iterable[str] = (), text: str | None = None) -> Race:
    """Read a race file and the course it names; an `InputError` says what will not do.

    `changes` are values to try, as `read_race_file` takes them, `text` is taken instead of the
    content of the file.
    """
    file = read_race_file(path, changes, text)
    _refuse_incomplete(file)
    tables, options = file.tables, _options(file.options, file.path.parent)
    bike = _bike(tables["bike"])
    course = _course(file).with_own_crr_as_roughness(bike.crr)
    moved = _moved(tables["course"], course)
    _refuse_heights(tables["course"], course, moved)
    race = Race(
        name=tables["race"]["name"] or path.stem,
        rider=_rider(tables["rider"]),
        bike=bike,
        air=_air(tables["air"], course, moved),
        course=course.moved_up(moved),
        limits=SpeedLimits(**tables["course"].take("max_speed", "lateral_grip", "braking")),
        step=tables["course"]["step"],
        options=options,
        use=_in_use(tables["race"], options),
        assumptions=(*file.assumptions, *_further_assumptions(file, bike.cda)),
        doubts=_doubts(tables),
        money_terms=_money_terms(tables["money"]),
        landmarks=_landmarks(file.landmarks, course.length),
    )
    seen = (*_course_notices(tables["air"], race), *_option_notices(file.options, race.options))
    return replace(race, notices=(*file.notices, *seen, *_nobody(race), *_unjudged(race)))


def _refuse_incomplete(file: RaceFile) -> None:
    """Name all that a race cannot be without, where more than one of it is missing."""
    lacking = {
        f"{name}.{key}": about
        for name, table in file.tables.items()
        for key, about in RACE_KEYS[name].items()
        if about.needed and key not in table
    }
    if len(lacking) > 1:
        problem = f"{', '.join(lacking)} are missing"
        table, _, key = next(iter(lacking)).partition(".")
        remedy = f"add them, as {key} = {example(lacking[f'{table}.{key}'])} under [{table}]"
        raise InputError(str(file.path), problem, remedy)


def _rider(table: RaceTable) -> Rider:
    too_much = table["mass"] <= table["fluid_used"]
    table.refuse("fluid_used", too_much, "is more than the rider weighs", "give less")
    power, least, most = table["power"], table["pedal_least"], table["pedal_most"]
    than_power = f"than the race power of {power:.4g} W"
    table.refuse("pedal_least", least >= power, f"is no less {than_power}", "give less")
    if most is not None:
        table.refuse("pedal_most", most <= power, f"is no more {than_power}", "give more")
    wishes = "pacing_limits", "pacing_caps", "pacing_plan"
    own = {one.name for one in fields(Rider)} - {"least_power", "most_power", *wishes}
    return Rider(
        least_power=least,
        most_power=most,
        pacing_limits=_read_as(table, "pacing_limits", read_limits) or (),
        pacing_caps=_read_as(table, "pacing_caps", read_caps) or (),
        pacing_plan=_read_as(table, "pacing_plan", read_planned) or (),
        **table.take(*own),
    )


def _bike(table: RaceTable) -> Bike:
    given = table.take(*(one.name for one in fields(Bike)))
    return Bike(**given | {"cda": DragArea(*given["cda"])})


def _moved(table: RaceTable, course: Course) -> float:
    """How far a course is moved up [m]."""
    start = table["altitude"]
    return 0.0 if start is None else start - float(course.elevation[0])


def _refuse_heights(table: RaceTable, course: Course, moved: float) -> None:
    """Refuse a road above all roads, or below all: the lowest lies at -430 m (from memory)."""
    for height in (np.min(course.elevation) + moved, np.max(course.elevation) + moved):
        if not LOWEST <= height <= HIGHEST:
            key = next(one for one in ("altitude", "grade", "file", "distance") if one in table)
            where = "above" if height > 0.0 else "below"
            problem = f"the road leads to {abs(height):.0f} m {where} the sea"
            raise table.wrong(key, problem, "check altitude, the height of the start, and grade")


def _air(table: RaceTable, course: Course, moved: float) -> Air:
    """The air, moved up with the course."""
    for key in ("density", "pressure") if moved else ():
        problem = "holds at the height of the file alone, and course.altitude moves the race"
        if key in table:
            raise table.wrong(key, problem, f"take it out, as --set air.{key}=")
    dew_point, temperature = table["dew_point"], table["temperature"]
    above = dew_point is not None and dew_point > temperature
    table.refuse("dew_point", above, "lies above the temperature", "swap them?")
    return Air(
        temperature=temperature,
        felt=temperature if "temperature" in table else None,
        altitude=table["altitude"] + moved,
        pressure=table["pressure"] or table["sea_level_pressure"],
        pressure_at_sea_level=table["pressure"] is None,
        wind=_wind(table, course),
        **table.take("humidity", "dew_point", "density", "gusts"),
    )


def _wind(table: RaceTable, course: Course) -> Wind:
    at_rider = table["wind_at_rider"]
    speed = table["wind_speed"] if at_rider is None else at_rider
    direction, gusts = table["wind_from"], table["gusts"]
    problem, remedy = "is less than the mean wind", "give the strongest gust, or leave it out"
    table.refuse("gusts", gusts is not None and gusts < speed, problem, remedy)
    if speed == 0 and np.any(np.isnan(course.bearing)):
        direction = None
    follows = direction is None or isinstance(direction, str)
    if direction is None and speed > 0:
        raise table.wrong(
            "wind_speed" if at_rider is None else "wind_at_rider",
            "the wind has a speed but no direction",
            'add wind_from = "250 deg", "WSW" or, counted from the rider, "ahead" or "behind"',
        )
    if speed > 0 and not follows and np.any(np.isnan(course.bearing)):
        raise table.wrong(
            "wind_from",
            "the course has no bearings, so a wind from a compass direction cannot be placed",
            f'{course.needs_bearings}, or write wind_from = "ahead", "behind", "left" or "right"',
        )
    return Wind(
        speed=speed,
        direction=RELATIVE_WIND[str(direction or "ahead")] if follows else direction,
        follows_rider=follows,
        height=table["wind_height"] if at_rider is None else RIDER_HEIGHT,
        terrain=table["terrain"],
        law=table["wind_law"],
    )


def _course(file: RaceFile) -> Course:
    table = file.tables["course"]
    if "file" not in table and "distance" not in table:
        raise table.missing("file")
    wishes = CourseWishes(
        laps=int(table["laps"]),
        noise=0.0 if table.values.get("smoothing") == "none" else table["smoothing"],
        ride_flat=table["flat"],
        ride_lost=table["lost_road"] == "straight",
        **table.take("reverse", "trim_start", "trim_end", "official_length"),
    )
    sections = tuple(_section(one) for one in file.sections)
    if "file" in table:
        part = table["part"]
        wanted = Wanted(None if part is None else int(part), table["damaged"])
        track = read_track(course_path(table["file"], file.path.parent), wanted)
        return _surveyed(track, wishes, sections)
    road = table.take("distance", "grade", "bearing")
    altitude = file.tables["air"]["altitude"]
    return made_up(**road, altitude=altitude, wishes=wishes, sections=sections)


@lru_cache(maxsize=8)
def _surveyed(track: Track, wishes: CourseWishes, sections: tuple[CourseSection, ...]) -> Course:
    """A course cleaned once for all the changes to rider, bike and air that are tried on it."""
    return survey(track, wishes, sections)


def _section(table: RaceTable) -> CourseSection:
    start, end = table["from"], table["to"]
    if not start < end:
        limits = f"from '{table.given['from']}' to '{table.given['to']}'"
        raise table.wrong("to", f"{limits} ends before it begins", "give its start, then its end")
    roughness = SURFACE_ROUGHNESS.get(table["surface"])
    values = table.take("crr", "shelter", "max_speed")
    return CourseSection(start, end, roughness=roughness, **values)


def _landmarks(tables: Iterable[RaceTable], length: float) -> tuple[Landmark, ...]:
    tables = tuple(tables)
    for table in tables:
        beyond = f"is beyond the finish at {length / 1000:.3f} km"
        remedy = "give the distance along the course as it is ridden"
        table.refuse("at", table["at"] > length, beyond, remedy)
    found = (Landmark(**table.take("at", "name", "note")) for table in tables)
    return tuple(sorted(found, key=lambda landmark: landmark.at))


def _money_terms(table: RaceTable) -> MoneyTerms:
    races, per_second = table["races_a_season"], table["per_second"]
    nothing = per_second is not None and not per_second.amount
    table.refuse("per_second", nothing, "is not a price for a second", "leave it out")
    others = table.take("per_second", "budget", "test_fee")
    return MoneyTerms(races_a_season=None if races is None else int(races), **others)


def _further_assumptions(file: RaceFile, cda: DragArea) -> Iterator[Assumption]:
    """What the numbers rest on beyond the defaults of single keys."""
    air = file.tables["air"]
    if (air["wind_speed"] or air["wind_at_rider"]) and len(cda.yaw) == 1:
        yield Assumption("bike.cda", "is the same at every yaw", "no table by yaw is given")
    for surface in filter(None, dict.fromkeys(one["surface"] for one in file.sections)):
        factor = f"multiplies crr by {SURFACE_ROUGHNESS[surface]}"
        yield Assumption(f"course.{surface}", factor, "common practice, no source")


def _course_notices(air: RaceTable, race: Race) -> Iterator[Notice]:
    yield from (Notice("course.file", text) for text in race.course.report.warned)
    pressure, altitude = air["pressure"], race.air.altitude
    if pressure is not None and pressure > 100_000 and altitude > 300:
        yield Notice(
            air.place("pressure"),
            f"'{air.given['pressure']}' at {altitude:.0f} m looks like a pressure reduced to sea"
            " level; if so, write it as sea_level_pressure",
        )
    middle = float(np.mean(race.course.elevation))
    if "density" not in air and abs(middle - altitude) > FAR_ABOVE:
        yield Notice(
            air.place("altitude"),
            f"the weather is taken at {altitude:.0f} m and carried to the course at"
            f" {middle:.0f} m by the standard atmosphere; give the altitude it was reported at, or"
            f' course.altitude = "{altitude:.0f} m" to move the race there',
        )


# --- The doubts stated in a race file ------------------------------------------------------------

_DOUBTED = {
    "rider": ("power", "mass"),
    "bike": ("cda", "crr", "drivetrain_loss"),
    "air": ("wind_speed", "wind_from", "temperature", "pressure", "density"),
}
"""Fields of `Doubts` by the table of the race file that states them."""

LARGEST_SHARE = 0.25
"""Largest doubt over its value: four of them reach down to nothing, where no rider exists."""


def _doubts(tables: Mapping[str, RaceTable]) -> Doubts:
    stated = {
        name: tables[table][f"{name.removesuffix('_speed')}_doubt"] or 0.0
        for table, names in _DOUBTED.items()
        for name in names
    }
    doubts = Doubts(**stated)
    _check_air(tables["air"], doubts)
    for table, name in (("rider", "power"), ("bike", "cda"), ("bike", "crr"), ("rider", "mass")):
        value = tables[table][name]
        largest = LARGEST_SHARE * (min(value[0]) if name == "cda" else value)
        tables[table].refuse(
            f"{name}_doubt",
            stated[name] > largest,
            "is more than a quarter of the value itself, so that impossible values would be likely",
            "state one standard uncertainty, at most a quarter of the value",
        )
    return doubts


def _check_air(air: RaceTable, doubts: Doubts) -> None:
    for key in ("temperature_doubt", "pressure_doubt"):
        if key in air and "density" in air:
            problem = "the density is given, so this changes nothing"
            raise air.wrong(key, problem, "state density_doubt")
    if doubts.density and "density" not in air:
        problem = "the density is worked out from the weather"
        raise air.wrong("density_doubt", problem, "state temperature_doubt and pressure_doubt")
    if (doubts.wind_speed or doubts.wind_from) and "wind_from" not in air:
        key = "wind_doubt" if doubts.wind_speed else "wind_from_doubt"
        raise air.wrong(
            key,
            "a doubt of the wind needs the direction it comes from",
            'add wind_from; where that is unknown too, add wind_from_doubt = "100 deg"',
        )


# --- The options of a race file ------------------------------------------------------------------

Read = TypeVar("Read")

SAME_SLOT = 0.88
"""Likeness of two spellings (`difflib`) from which one slot may be meant: "shoe cover" and "shoe
covers" lie above, "front wheel" and "rear wheel" below; our choice."""

ONLY_FOR_PARTS = (
    *("mass", "price", "slot", "hire", "resale", "life"),
    *("owned", "needs", "excludes", "holds", "power_loss"),
)
"""Keys that a set tested as one takes from its parts."""

_FITTING = {
    "air": 'write for example "4.5 W at 45 km/h", or set acts_on = "tyres" or "drivetrain"',
    "tyres": 'write for example "3 W at 40 km/h" or "0.0004 of Crr"',
    "drivetrain": 'write for example "2 W at 250 W"',
}


def _options(tables: Iterable[RaceTable], folder: Path) -> tuple[Option, ...]:
    """The options in the order of the file; run tables are looked for from its folder."""
    options: dict[str, Option] = {}
    for table in tables:
        option = _option(table, folder)
        if option.name in options:
            raise table.wrong("name", f"there are two options named '{option.name}'", "rename one")
        options[option.name] = option
    for table in tables:
        _check_set(table, options)
        _check_restrictions(table, options)
    _refuse_circles(tables, options)
    return tuple(options.values())


def _option(table: RaceTable, folder: Path) -> Option:
    name, acts_on, (trial, sheet) = table["name"], _acts_on(table), _trial(table, folder)
    return Option(
        name=name,
        acts_on=acts_on,
        saves=_saving(table, "saves", acts_on),
        doubt=_doubt(table, acts_on),
        test_density_given="test_density" in table,
        # Runs come from a power meter at the cranks, claims from drag.
        test_power_at="cranks"
        if "trial" in table and "test_power_at" not in table
        else table["test_power_at"],
        trial=trial,
        trial_sheet=sheet,
        trial_day_to_day=_day_to_day(table, trial),
        ownership=Ownership(
            life=_read_as(table, "life", read_life), **table.take("hire", "resale", "owned")
        ),
        holding=_holding(table, acts_on),
        restrictions=Restrictions(
            least_gain=table["least_gain"] or 0.0,
            **table.take("needs", "excludes", "rules", "catches_wind", "gust_limit", "heat_limit"),
        ),
        **table.take("slot", "price", "mass", "test_density", "note", "set_of", "comfort"),
        **table.take("trial_item", "trial_baseline", "trial_rider"),
        **table.take("size", "test_size"),
    )


def _acts_on(table: RaceTable) -> ActsOn:
    """Which loss the saving reduces: as given, or as the form of the saving implies."""
    saving = _read_as(table, "saves", read_saving)
    implied: dict[str, ActsOn] = {"crr": "tyres", "power at power": "drivetrain"}
    stated: ActsOn = table["acts_on"]
    if "acts_on" in table or saving is None:
        return stated
    return implied.get(saving.form, stated)


def _read_as(table: RaceTable, key: str, reader: Callable[[Any], Read]) -> Read | None:
    """Read the words of a key, its errors naming the key; None where it is absent."""
    try:
        return reader(table[key]) if key in table else None
    except QuantityError as error:
        raise table.wrong(key, error.problem, error.remedy) from error


def _saving(table: RaceTable, key: str, acts_on: ActsOn) -> Saving | None:
    saving = _read_as(table, key, read_saving)
    if saving is not None and saving.form not in FORMS_OF[acts_on]:
        problem = f'"{saving.words}" does not fit acts_on = "{acts_on}"'
        raise table.wrong(key, problem, _FITTING[acts_on])
    return saving


def _doubt(table: RaceTable, acts_on: ActsOn) -> Saving | None:
    doubt = _saving(table, "doubt", acts_on)
    if doubt is None:
        return None
    if "saves" not in table:
        raise table.wrong("doubt", "there is a doubt but no saving", "add saves")
    if doubt.amount < 0:
        raise table.wrong("doubt", f'"{doubt.words}" is negative', "write a positive doubt")
    return doubt


def _trial(table: RaceTable, folder: Path) -> tuple[Runs | None, Path | None]:
    """The runs behind an option, or the sheet from whose recordings they are to be measured."""
    for key in ("trial_item", "trial_baseline", "trial_rider", "trial_day_to_day"):
        if key in table and "trial" not in table:
            raise table.wrong(key, "there is no trial that it belongs to", 'add trial = "runs.csv"')
    for key in ("saves", "doubt"):
        if key in table and "trial" in table:
            raise table.wrong(key, f"both trial and {key} are given", "keep one of them")
    if "trial" not in table:
        return None, None
    path = folder / table["trial"]
    return (None, path) if names_recordings(path) else (load_runs(path), None)


def _day_to_day(table: RaceTable, trial: Runs | None) -> float | None:
    """By how much a difference of a test changes from day to day, in the unit of its measure."""
    if trial is not None and "trial_day_to_day" in table and trial.is_sweep:
        problem = f"has no effect on the sweep in {trial.source}"
        raise table.wrong("trial_day_to_day", problem, "leave it out")
    kind = AMOUNTS["cda" if trial is None else trial.measure]
    return _read_as(table, "trial_day_to_day", lambda text: positive(text, kind))


def _holding(table: RaceTable, acts_on: ActsOn) -> Holding:
    if "holds" in table and acts_on != "air":
        raise table.wrong("holds", f"a position acts on air, not on {acts_on}", "leave it out")
    if "otherwise" in table and "holds" not in table:
        raise table.wrong("otherwise", "nothing says how long it is held", 'add holds = "80 %"')
    return Holding(
        shares=table["holds"] or (1.0,),
        otherwise=_saving(table, "otherwise", acts_on),
        power_loss=_read_as(table, "power_loss", read_power_loss),
    )


def _in_use(table: RaceTable, options: Iterable[Option]) -> tuple[str, ...]:
    """The options in use, which must be single ones that can be used together."""
    names: tuple[str, ...] = table["use"]
    known = {one.name: one for one in options if not one.is_set}
    for name in names:
        if name not in known:
            raise table.wrong("use", f"there is no option '{name}'", nearest(name, list(known)))
    if problem := misfit([known[name] for name in names]):
        raise table.wrong("use", *problem)
    return names


def _check_set(table: RaceTable, options: Mapping[str, Option]) -> None:
    """Members of a set are options of their own, of different slots; the set has none itself."""
    members = table["set_of"]
    if len(members) == 1:
        raise table.wrong("set_of", "a set needs two options or more", "name at least two options")
    for name in members:
        if name not in options or options[name].set_of:
            raise table.wrong("set_of", f"there is no single option '{name}'", "check the name")
    slots = [options[name].slot or name for name in members]
    if len(set(slots)) < len(slots):
        raise table.wrong("set_of", "two of them share a slot", "name one of each slot")
    for key in ONLY_FOR_PARTS:
        if members and key in table:
            raise table.wrong(key, f"a set has no {key} of its own", "state it at its options")
    if members and "saves" not in table and "trial" not in table:
        raise table.wrong("set_of", "the set states no saving", "add saves or trial")


def _check_restrictions(table: RaceTable, options: Mapping[str, Option]) -> None:
    """What an option needs or excludes is another single option that may be used beside it."""
    own = options[table["name"]]
    for key in ("needs", "excludes"):
        for name in table[key]:
            if name not in options or options[name].set_of:
                known = [one.name for one in options.values() if not one.set_of]
                raise table.wrong(key, f"there is no option '{name}'", nearest(name, known))
            if name == own.name:
                raise table.wrong(key, f"'{name}' {key} itself", "take it out")
    for name in own.restrictions.needs:
        if own.slot and options[name].slot == own.slot:
            problem = f"'{name}' has the same slot '{own.slot}'"
            raise table.wrong("needs", problem, "give one of them another slot")
        if name in own.restrictions.excludes or own.name in options[name].restrictions.excludes:
            raise table.wrong("needs", f"'{name}' is both needed and excluded", "keep one of them")


def _refuse_circles(tables: Iterable[RaceTable], options: Mapping[str, Option]) -> None:
    """No option may need itself by way of others: such a circle could as well be one option."""
    for table in tables:
        name = table["name"]
        chain, waiting = {name: ""}, [name]
        while waiting:
            now = waiting.pop()
            for needed in options[now].restrictions.needs:
                if needed == name:
                    raise table.wrong("needs", _circle(chain, name, now), "break the circle")
                if needed not in chain:
                    chain[needed] = now
                    waiting.append(needed)


def _circle(chain: Mapping[str, str], name: str, last: str) -> str:
    links = [name]
    while last:
        links.append(last)
        last = chain[last]
    return "a circle of needs: " + " needs ".join(f"'{one}'" for one in reversed(links))


def _option_notices(tables: Iterable[RaceTable], options: Iterable[Option]) -> Iterator[Notice]:
    """What looks mistaken in the options of a race file, though it may be meant."""
    spelled: dict[str, str] = {}
    for table, option in zip(tables, options, strict=True):
        yield from _unusual(table, option)
        ownership = option.ownership
        if ownership.resale and option.price and _more(ownership.resale, option.price):
            yield Notice(
                table.place("resale"), "it sells for more than it costs; is that a mistake?"
            )
        if option.slot and option.slot not in spelled.values():
            bare = "".join(letter for letter in option.slot.casefold() if letter.isalnum())
            for near in difflib.get_close_matches(bare, list(spelled), n=1, cutoff=SAME_SLOT):
                yield Notice(
                    table.place("slot"),
                    f"the slots '{spelled[near]}' and '{option.slot}' are taken as two; if they"
                    " are the same, spell them alike",
                )
            spelled[bare] = option.slot


UNUSUAL_WATTS = 60.0
UNUSUAL_PRICE = 20_000
WHOLE_WHEEL = 1.0
"""A saving [W], a price, and a change of the mass of a wheel [kg] that are asked about: the largest
saving that riders quote, and the mass of a wheel; common practice, no source."""


def _unusual(table: RaceTable, option: Option) -> Iterator[Notice]:
    """What of an option is so large that it may be a slip."""
    saves = option.saves
    if saves and saves.form.startswith("power at") and abs(saves.amount) > UNUSUAL_WATTS:
        yield Notice(table.place("saves"), f"{saves.words} is a lot; is it a mistake?")
    if option.price and option.price.amount > UNUSUAL_PRICE:
        yield Notice(table.place("price"), f"{option.price} is a lot; is it a mistake?")
    wheel = re.search(r"wheel", f"{option.name} {option.slot}", re.IGNORECASE)
    if wheel and abs(option.mass) > WHOLE_WHEEL:
        yield Notice(
            table.place("mass"),
            "is that the whole wheel? mass is the change against what it replaces, as '+85 g'",
        )


def _nobody(race: Race) -> Iterator[Notice]:
    """Tables of runs that name riders while the race does not say who rides."""
    named = {
        one.trial.source: None
        for one in race.options
        if one.trial and any(one.trial.riders) and not (race.rider.name or one.trial_rider)
    }
    if named:
        files = ", ".join(one_line(Path(source).name) for source in named)
        yield Notice("rider.name", f"is not stated, so no run of {files} counts as your own")


def _unjudged(race: Race) -> Iterator[Notice]:
    """Limits of heat that cannot be held, as nothing says how hot it is."""
    limited = [one.name for one in race.options if one.restrictions.heat_limit]
    if limited and race.air.known_temperature is None:
        names = ", ".join(map(one_line, limited))
        said = f"is not stated next to air.density, so the heat_limit of {names} is not judged"
        yield Notice("air.temperature", said)


def _more(one: Money, other: Money) -> bool:
    return one.currency == other.currency and one.amount > other.amount
