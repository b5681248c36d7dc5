"""From a race file to a race in SI."""

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TypeVar, cast

import numpy as np

from racecalc.domain.course import Course, Landmark
from racecalc.domain.option import (
    FORMS_OF,
    ActsOn,
    Holding,
    Option,
    Purse,
    Rules,
    Saving,
    TestPowerAt,
    Ties,
    Upkeep,
    read_life,
    read_power_loss,
    read_saving,
)
from racecalc.domain.race import (
    RIDER_HEIGHT,
    Air,
    Bike,
    Doubts,
    DragArea,
    PowerAt,
    Race,
    Rider,
    SpeedLimits,
    Wind,
    WindLaw,
)
from racecalc.domain.surveying.survey import CourseWishes, Section, made_up, survey
from racecalc.domain.trial import Runs, load_runs
from racecalc.errors import Notice
from racecalc.files.race_file import Assumption, RaceFile, Table, read_race_file
from racecalc.files.race_values import nearest
from racecalc.files.tracks import Track, read_track
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import Money

# --- The rider of a race file --------------------------------------------------------------------


def read_rider(table: Table) -> Rider:
    """Read the ``[rider]`` table of a race file.

    Parameters
    ----------
    table : Table
        The table with its values read.

    Returns
    -------
    Rider
        In SI.

    Raises
    ------
    InputError
        If a value is missing, or two do not go together.
    """
    for key in ("critical_power", "work_above_critical"):
        table.refuse_both(key, "power_points")
    mass, used = table.number("mass"), table.number("fluid_used")
    if used >= mass:
        raise table.wrong(
            "fluid_used",
            f"'{table.given['fluid_used']}' is more than the rider weighs",
            "give less",
        )
    least, most = _pedalling(table)
    return Rider(
        mass=mass,
        power=table.number("power"),
        fluid_used=used,
        critical_power=table.optional("critical_power"),
        work_above_critical=table.optional("work_above_critical"),
        power_points=table.power_points("power_points"),
        power_fade=table.number("power_fade"),
        least_power=least,
        most_power=most,
    )


def _pedalling(table: Table) -> tuple[float, float | None]:
    """Least and most power while pedalling [W]; the race power lies within."""
    power = table.number("power")
    least, most = table.number("pedal_least"), table.optional("pedal_most")
    if least >= power:
        raise table.wrong(
            "pedal_least",
            f"'{table.given['pedal_least']}' is no less than the race power of {power:.4g} W",
            "give less",
        )
    if most is not None and most <= power:
        raise table.wrong(
            "pedal_most",
            f"'{table.given['pedal_most']}' is no more than the race power of {power:.4g} W",
            "give more",
        )
    return least, most


# --- The doubts stated in a race file ------------------------------------------------------------

DOUBT_KEYS = {
    "power": ("rider", "power_doubt"),
    "cda": ("bike", "cda_doubt"),
    "crr": ("bike", "crr_doubt"),
    "mass": ("rider", "mass_doubt"),
    "drivetrain_loss": ("bike", "drivetrain_loss_doubt"),
    "wind_speed": ("air", "wind_doubt"),
    "wind_from": ("air", "wind_from_doubt"),
    "temperature": ("air", "temperature_doubt"),
    "pressure": ("air", "pressure_doubt"),
    "density": ("air", "density_doubt"),
}
"""Field of `Doubts` to the table and key of the race file that states it."""

LARGEST_SHARE = 0.25
"""Largest doubt over its value: four of them reach down to nothing, where no rider exists."""


def read_doubts(tables: Mapping[str, Table]) -> Doubts:
    """Read the doubts of a race file.

    Parameters
    ----------
    tables : Mapping of str to Table
        The single tables of the file.

    Returns
    -------
    Doubts
        In SI; 0 where none is stated.

    Raises
    ------
    InputError
        If a doubt belongs to a value that is not in use, or is too large against its value.
    """
    doubts = Doubts(
        **{name: tables[table].optional(key) or 0.0 for name, (table, key) in DOUBT_KEYS.items()}
    )
    _check_air(tables["air"], doubts)
    rider, bike = tables["rider"], tables["bike"]
    _check_size(rider, "power_doubt", doubts.power, rider.number("power"))
    _check_size(bike, "cda_doubt", doubts.cda, min(bike.yaw_table("cda").area))
    _check_size(bike, "crr_doubt", doubts.crr, bike.number("crr"))
    _check_size(rider, "mass_doubt", doubts.mass, rider.number("mass"))
    return doubts


def _check_air(air: Table, doubts: Doubts) -> None:
    for key in ("temperature_doubt", "pressure_doubt"):
        if key in air and "density" in air:
            raise air.wrong(
                key, "the density is given, so this changes nothing", "state density_doubt"
            )
    if doubts.density and "density" not in air:
        raise air.wrong(
            "density_doubt",
            "the density is worked out from the weather",
            "state temperature_doubt and pressure_doubt",
        )
    if (doubts.wind_speed or doubts.wind_from) and "wind_from" not in air:
        key = "wind_doubt" if doubts.wind_speed else "wind_from_doubt"
        raise air.wrong(
            key,
            "a doubt of the wind needs the direction it comes from",
            'add wind_from; where that is unknown too, add wind_from_doubt = "100 deg"',
        )


def _check_size(table: Table, key: str, doubt: float, value: float) -> None:
    if doubt > LARGEST_SHARE * value:
        raise table.wrong(
            key,
            f"'{table.given[key]}' is more than a quarter of the value itself, so that impossible"
            " values would be likely",
            "state one standard uncertainty, at most a quarter of the value",
        )


# --- The options of a race file ------------------------------------------------------------------

Read = TypeVar("Read")

SAME_SLOT = 0.88
"""Likeness of two spellings (`difflib`) from which one slot may be meant: "shoe cover" and "shoe
covers" lie above, "front wheel" and "rear wheel" below; our choice."""

ONLY_FOR_PARTS = (
    "mass",
    "price",
    "slot",
    "hire",
    "resale",
    "life",
    "owned",
    "needs",
    "excludes",
    "holds",
    "power_loss",
)
"""Keys that a set tested as one takes from its parts."""

_FITTING = {
    "air": 'write for example "4.5 W at 45 km/h", or set acts_on = "tyres" or "drivetrain"',
    "tyres": 'write for example "3 W at 40 km/h" or "0.0004 of Crr"',
    "drivetrain": 'write for example "2 W at 250 W"',
}


def read_options(tables: Iterable[Table], folder: Path) -> tuple[Option, ...]:
    """Read the ``[[option]]`` tables of a race file.

    Parameters
    ----------
    tables : iterable of Table
        Tables with their values read.
    folder : Path
        Where the race file lies; run tables are looked for from there.

    Returns
    -------
    tuple of Option
        In the order of the file.

    Raises
    ------
    InputError
        If a name is missing or stands twice, or a saving, doubt or run table will not do.
    """
    tables = tuple(tables)
    options: dict[str, Option] = {}
    for table in tables:
        option = _option(table, folder)
        if option.name in options:
            raise table.wrong("name", f"there are two options named '{option.name}'", "rename one")
        options[option.name] = option
    for table in tables:
        _check_set(table, options)
        _check_ties(table, options)
    _refuse_circles(tables, options)
    return tuple(options.values())


def _check_set(table: Table, options: Mapping[str, Option]) -> None:
    """Members of a set are options of their own, of different slots; the set has none itself."""
    members = table.names("set_of")
    if len(members) == 1:
        raise table.wrong("set_of", "a set of one is no set", "name at least two options")
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


def _check_ties(table: Table, options: Mapping[str, Option]) -> None:
    """What an option needs or excludes is another single option that may be used beside it."""
    own = options[table.word("name")]
    for key in ("needs", "excludes"):
        for name in table.names(key):
            if name not in options or options[name].set_of:
                known = [one.name for one in options.values() if not one.set_of]
                raise table.wrong(key, f"there is no option '{name}'", nearest(name, known))
            if name == own.name:
                raise table.wrong(key, f"'{name}' {key} itself", "take it out")
    for name in own.ties.needs:
        if own.slot and options[name].slot == own.slot:
            raise table.wrong(
                "needs", f"'{name}' has the same slot '{own.slot}'", "give one of them another slot"
            )
        if name in own.ties.excludes or own.name in options[name].ties.excludes:
            raise table.wrong("needs", f"'{name}' is both needed and excluded", "keep one of them")


def _refuse_circles(tables: Iterable[Table], options: Mapping[str, Option]) -> None:
    """No option may need itself by way of others: such a circle could as well be one option."""
    for table in tables:
        name = table.word("name")
        chain, waiting = {name: ""}, [name]
        while waiting:
            now = waiting.pop()
            for needed in options[now].ties.needs:
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


def option_notices(tables: Iterable[Table], options: Iterable[Option]) -> Iterable[Notice]:
    """What looks mistaken in the options of a race file, though it may be meant."""
    spelled: dict[str, str] = {}
    for table, option in zip(tables, options, strict=True):
        upkeep = option.upkeep
        if upkeep.resale and option.price and _more(upkeep.resale, option.price):
            yield Notice(table.place("resale"), "it fetches more than it costs; is it meant?")
        if option.slot and option.slot not in spelled.values():
            first = _alike(option.slot, spelled)
            if first:
                yield Notice(
                    table.place("slot"),
                    f"the slots '{first}' and '{option.slot}' are taken as two; if one is meant,"
                    " spell them alike",
                )
            spelled[_bare(option.slot)] = option.slot


def _more(one: Money, other: Money) -> bool:
    return one.currency == other.currency and one.amount > other.amount


def _alike(slot: str, spelled: Mapping[str, str]) -> str:
    near = difflib.get_close_matches(_bare(slot), list(spelled), n=1, cutoff=SAME_SLOT)
    return spelled[near[0]] if near else ""


def _bare(slot: str) -> str:
    return "".join(letter for letter in slot.casefold() if letter.isalnum())


def _option(table: Table, folder: Path) -> Option:
    name = table.word("name")
    if not name:
        raise table.missing("name")
    acts_on = _acts_on(table)
    return Option(
        name=name,
        slot=table.word("slot"),
        price=table.money("price"),
        mass=table.number("mass"),
        saves=_saving(table, "saves", acts_on),
        doubt=_doubt(table, acts_on),
        acts_on=acts_on,
        test_density=table.number("test_density"),
        test_density_given="test_density" in table,
        test_power_at=_power_at(table),
        note=table.word("note"),
        set_of=table.names("set_of"),
        trial=_trial(table, folder),
        trial_item=table.word("trial_item"),
        trial_baseline=table.word("trial_baseline"),
        trial_rider=table.word("trial_rider"),
        upkeep=Upkeep(
            hire=table.money("hire"),
            resale=table.money("resale"),
            life=_read_as(table, "life", read_life) if "life" in table else None,
            owned=table.flag("owned"),
        ),
        holding=_holding(table, acts_on),
        ties=Ties(
            needs=table.names("needs"),
            excludes=table.names("excludes"),
            rules=cast(Rules, table.word("rules")),
            least_gain=table.optional("least_gain") or 0.0,
            catches_wind=table.flag("catches_wind"),
        ),
        comfort=table.word("comfort"),
    )


def _holding(table: Table, acts_on: ActsOn) -> Holding:
    if "holds" in table and acts_on != "air":
        raise table.wrong("holds", f"a position acts on air, not on {acts_on}", "leave it out")
    if "otherwise" in table and "holds" not in table:
        raise table.wrong("otherwise", "nothing says how long it is held", 'add holds = "80 %"')
    return Holding(
        shares=table.shares("holds") or (1.0,),
        otherwise=_saving(table, "otherwise", acts_on),
        power_loss=_read_as(table, "power_loss", read_power_loss)
        if "power_loss" in table
        else None,
    )


def _power_at(table: Table) -> TestPowerAt:
    """Where watts were counted: runs come from a power meter at the cranks, claims from drag."""
    if "trial" in table and "test_power_at" not in table:
        return "cranks"
    return cast(TestPowerAt, table.word("test_power_at"))


def _trial(table: Table, folder: Path) -> Runs | None:
    for key in ("trial_item", "trial_baseline", "trial_rider"):
        if key in table and "trial" not in table:
            raise table.wrong(key, "there is no trial that it belongs to", 'add trial = "runs.csv"')
    if "trial" not in table:
        return None
    for key in ("saves", "doubt"):
        if key in table:
            raise table.wrong(key, f"both trial and {key} are given", "keep one of them")
    return load_runs(folder / table.word("trial"))


def _acts_on(table: Table) -> ActsOn:
    """Which loss the saving reduces: as given, or as the form of the saving implies."""
    if "acts_on" not in table and "saves" in table:
        implied = {"crr": "tyres", "power at power": "drivetrain"}
        form = _read_as(table, "saves", read_saving).form
        return cast(ActsOn, implied.get(form, table.word("acts_on")))
    return cast(ActsOn, table.word("acts_on"))


def _read_as(table: Table, key: str, reader: Callable[[str], Read]) -> Read:
    """Read the words of a key, its errors naming the key."""
    try:
        return reader(table.word(key))
    except QuantityError as error:
        raise table.wrong(key, error.problem, error.remedy) from error


def _saving(table: Table, key: str, acts_on: ActsOn) -> Saving | None:
    if key not in table:
        return None
    saving = _read_as(table, key, read_saving)
    if saving.form not in FORMS_OF[acts_on]:
        raise table.wrong(
            key, f'"{saving.words}" does not fit acts_on = "{acts_on}"', _FITTING[acts_on]
        )
    return saving


def _doubt(table: Table, acts_on: ActsOn) -> Saving | None:
    doubt = _saving(table, "doubt", acts_on)
    if doubt is None:
        return None
    if "saves" not in table:
        raise table.wrong("doubt", "there is a doubt but no saving it belongs to", "add saves")
    if doubt.amount < 0:
        raise table.wrong("doubt", f'"{doubt.words}" is negative', "write a positive doubt")
    return doubt


# --- From a race file to a race ------------------------------------------------------------------

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
    """Read a race file and the course it names.

    Parameters
    ----------
    path : Path
        The race file.
    changes : iterable of str
        Values to try, as `racecalc.files.race_file.read_race_file` takes them.
    text : str, optional
        Content to take instead of that of the file.

    Returns
    -------
    Race
        Everything in SI.

    Raises
    ------
    InputError
        If a file or a value will not do.
    """
    file = read_race_file(path, changes, text)
    bike = _bike(file.tables["bike"])
    course = _course(file).with_own_crr_as_roughness(bike.crr)
    race = Race(
        name=file.tables["race"].word("name") or path.stem,
        rider=read_rider(file.tables["rider"]),
        bike=bike,
        air=_air(file.tables["air"], course),
        course=course,
        limits=_limits(file.tables["course"]),
        step=file.tables["course"].number("step"),
        options=read_options(file.options, file.path.parent),
        assumptions=(*file.assumptions, *_further_assumptions(file)),
        doubts=read_doubts(file.tables),
        purse=_purse(file.tables["money"]),
        landmarks=_landmarks(file.landmarks, course.length),
    )
    notices = (
        *file.notices,
        *_course_notices(file, race),
        *option_notices(file.options, race.options),
    )
    return replace(race, notices=notices)


def _purse(table: Table) -> Purse:
    races = table.optional("races_a_season")
    return Purse(
        per_second=_more_than_nothing(table, "per_second"),
        budget=table.money("budget"),
        races_a_season=None if races is None else int(races),
        test_fee=table.money("test_fee"),
    )


def _more_than_nothing(table: Table, key: str) -> Money | None:
    money = table.money(key)
    if money is not None and not money.amount:
        raise table.wrong(key, f"'{table.given[key]}' is no price for a second", "leave it out")
    return money


def _bike(table: Table) -> Bike:
    cda = table.yaw_table("cda")
    return Bike(
        mass=table.number("mass"),
        cda=DragArea(cda.area, cda.yaw),
        crr=table.number("crr"),
        drivetrain_loss=table.number("drivetrain_loss"),
        spoke_drag=table.number("spoke_drag"),
        bearing_drag=table.number("bearing_drag"),
        bearing_drag_slope=table.number("bearing_drag_slope"),
        wheel_inertia=table.number("wheel_inertia"),
        wheel_radius=table.number("wheel_radius"),
        power_at=cast(PowerAt, table.word("power_at")),
        start_speed=table.number("start_speed"),
    )


def _air(table: Table, course: Course) -> Air:
    table.refuse_both("pressure", "sea_level_pressure")
    table.refuse_both("humidity", "dew_point")
    for key in ("temperature", "pressure", "sea_level_pressure", "humidity", "dew_point"):
        table.refuse_both("density", key)
    dew_point, temperature = table.optional("dew_point"), table.number("temperature")
    if dew_point is not None and dew_point > temperature:
        raise table.wrong(
            "dew_point", f"'{table.given['dew_point']}' lies above the temperature", "swap them?"
        )
    station = table.optional("pressure")
    return Air(
        temperature=temperature,
        pressure=station or table.number("sea_level_pressure"),
        altitude=table.number("altitude"),
        humidity=table.number("humidity"),
        dew_point=dew_point,
        pressure_at_sea_level=station is None,
        density=table.optional("density"),
        wind=_wind(table, course),
    )


def _wind(table: Table, course: Course) -> Wind:
    table.refuse_both("wind_speed", "wind_at_rider")
    at_rider = table.optional("wind_at_rider")
    speed = table.number("wind_speed") if at_rider is None else at_rider
    direction = table.values.get("wind_from")
    if speed == 0 and np.any(np.isnan(course.bearing)):
        direction = None
    follows = direction is None or isinstance(direction, str)
    if direction is None and speed > 0:
        key = "wind_speed" if at_rider is None else "wind_at_rider"
        raise table.wrong(
            key,
            "the wind has a speed but no direction",
            'add wind_from = "250 deg", "WSW" or, counted from the rider, "ahead" or "behind"',
        )
    if speed > 0 and not follows and np.any(np.isnan(course.bearing)):
        raise table.wrong(
            "wind_from",
            "the course has no bearings, so a wind from a compass direction cannot be placed",
            'give the course a bearing, or write wind_from = "ahead", "behind", "left" or "right"',
        )
    return Wind(
        speed=speed,
        direction=RELATIVE_WIND[str(direction or "ahead")] if follows else cast(float, direction),
        follows_rider=follows,
        height=table.number("wind_height") if at_rider is None else RIDER_HEIGHT,
        terrain=table.word("terrain"),
        law=cast(WindLaw, table.word("wind_law")),
    )


def _limits(table: Table) -> SpeedLimits:
    return SpeedLimits(
        max_speed=table.optional("max_speed"),
        lateral_grip=table.optional("lateral_grip"),
        braking=table.optional("braking"),
    )


def _course(file: RaceFile) -> Course:
    table = file.tables["course"]
    if "file" not in table and "distance" not in table:
        raise table.missing("file")
    table.refuse_both("file", "distance")
    wishes = CourseWishes(
        laps=int(table.number("laps")),
        reverse=table.flag("reverse"),
        noise=0.0 if table.word("smoothing") == "none" else table.optional("smoothing"),
        ride_flat=table.flag("flat"),
        trim_start=table.number("trim_start"),
        trim_end=table.number("trim_end"),
        official_length=table.optional("official_length"),
    )
    sections = tuple(_section(one) for one in file.sections)
    if "file" in table:
        table.refuse_both("file", "grade")
        table.refuse_both("file", "bearing")
        return _surveyed(read_track(file.path.parent / table.word("file")), wishes, sections)
    distance, grade = table.number("distance"), table.number("grade")
    altitude = file.tables["air"].number("altitude")
    return made_up(distance, grade, _bearing(table), wishes, sections, altitude)


@lru_cache(maxsize=8)
def _surveyed(track: Track, wishes: CourseWishes, sections: tuple[Section, ...]) -> Course:
    """A course cleaned once for all the changes to rider, bike and air that are tried on it."""
    return survey(track, wishes, sections)


def _bearing(table: Table) -> float | None:
    bearing = table.values.get("bearing")
    return bearing if isinstance(bearing, float) else None


def _section(table: Table) -> Section:
    start, end = table.number("from"), table.number("to")
    if not start < end:
        limits = f"from '{table.given['from']}' to '{table.given['to']}'"
        raise table.wrong("to", f"{limits} ends before it begins", "give its start, then its end")
    table.refuse_both("crr", "surface")
    surface = table.word("surface")
    return Section(
        start=start,
        end=end,
        crr=table.optional("crr"),
        roughness=SURFACE_ROUGHNESS[surface] if surface else None,
        shelter=table.optional("shelter"),
        max_speed=table.optional("max_speed"),
    )


def _landmarks(tables: Iterable[Table], length: float) -> tuple[Landmark, ...]:
    found = []
    for table in tables:
        at, name = table.number("at"), table.word("name")
        if not name:
            raise table.missing("name")
        if at > length:
            raise table.wrong(
                "at",
                f"'{table.given['at']}' lies beyond the finish at {length / 1000:.3f} km",
                "give the distance along the course as it is ridden",
            )
        found.append(Landmark(at, name, table.word("note")))
    return tuple(sorted(found, key=lambda landmark: landmark.at))


def _further_assumptions(file: RaceFile) -> Iterable[Assumption]:
    """What the numbers rest on beyond the defaults of single keys."""
    air, bike = file.tables["air"], file.tables["bike"]
    windy = air.optional("wind_speed") or air.optional("wind_at_rider")
    if windy and len(bike.yaw_table("cda").yaw) == 1:
        yield Assumption("bike.cda", "is the same at every yaw", "no table by yaw is given")
    for surface in dict.fromkeys(one.word("surface") for one in file.sections):
        if surface:
            yield Assumption(
                f"course.{surface}",
                f"multiplies crr by {SURFACE_ROUGHNESS[surface]}",
                "common practice, no source",
            )


def _course_notices(file: RaceFile, race: Race) -> Iterable[Notice]:
    air, course = file.tables["air"], race.course
    pressure, altitude = air.optional("pressure"), air.number("altitude")
    if pressure is not None and pressure > 100_000 and altitude > 300:
        yield Notice(
            air.place("pressure"),
            f"'{air.given['pressure']}' at {altitude:.0f} m looks like a value reduced to sea"
            " level; if so, name it sea_level_pressure",
        )
    middle = float(np.mean(course.elevation))
    if "density" not in air and abs(middle - altitude) > FAR_ABOVE:
        yield Notice(
            air.place("altitude"),
            f"the weather is taken at {altitude:.0f} m and carried to the course at"
            f" {middle:.0f} m by the standard atmosphere; give the altitude it was reported at",
        )
