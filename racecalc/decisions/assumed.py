"""What the assumptions of a race mean in seconds: the race ridden again with another value."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

import numpy as np

from racecalc.decisions.riding import Ridden
from racecalc.domain.course import MADE_UP, Course
from racecalc.domain.loading import RELATIVE_WIND, SURFACE_ROUGHNESS
from racecalc.domain.race import Air, Bike, DragArea, Race
from racecalc.errors import InputError
from racecalc.files.race_file import Assumption
from racecalc.files.race_keys import RACE_KEYS, short_name
from racecalc.files.race_values import read_value

YAWED, YAWED_SHARE = 15.0, 0.05
"""Yaw [deg] and share of the drag area by which it may be larger there where no table is given; our
choice."""

ROUGHER = 1.15
"""Factor by which a surface may be rougher than is taken; our choice."""


@dataclass(frozen=True)
class Tried:
    """Another value tried in place of an assumed one."""

    key: str
    value: str
    """What is assumed, such as "air.humidity" and "50 %"."""
    instead: str
    """What was tried in its place."""
    more_s: float
    """Seconds more that the race takes with it; negative where it takes less [s]."""

    @property
    def words(self) -> str:
        """What is assumed, for a sentence."""
        return f"{short_name(self.key).replace('_', ' ')} {self.value}"


Other = tuple[Assumption, str, Race]
"""An assumption, another value in words, and the race with that value."""


def tried_instead(base: Ridden, further: Iterable[Other] = ()) -> tuple[Tried, ...]:
    """Ride a race again for each of its assumptions, the one that means most first."""
    own = ((one, *_instead(base.race, one)) for one in base.race.assumptions)
    return tuple(sorted(_tried(base, chain(own, further)), key=lambda one: -abs(one.more_s)))


def _tried(base: Ridden, others: Iterable[Other]) -> Iterator[Tried]:
    for one, instead, race in others:
        try:
            more = base.variant(race).time - base.time
        except InputError:  # the rider would come to a stop
            continue
        yield Tried(one.key, one.value, instead, more)


def _instead(race: Race, one: Assumption) -> tuple[str, Race]:
    """Another value in words, and the race with it."""
    table, _, key = one.key.partition(".")
    if one.key == "bike.cda":
        at = race.bike.cda.at_zero_yaw
        yawed = DragArea((at, at * (1.0 + YAWED_SHARE)), (0.0, math.radians(YAWED)))
        words = f"{100 * YAWED_SHARE:.0f} % more at {YAWED:.0f} deg"
        return words, replace(race, bike=replace(race.bike, cda=yawed))
    if key in SURFACE_ROUGHNESS:
        factor = SURFACE_ROUGHNESS[key]
        return f"by {ROUGHER * factor:.3g}", replace(race, course=_rougher(race.course, factor))
    about = RACE_KEYS[table][key]
    value: Any = read_value(about, about.instead)
    if table == "bike":
        more = read_value(about, about.default), value
        return about.instead, replace(race, bike=_bike(race.bike, key, *more))
    if table == "course":
        return about.instead, replace(race, limits=replace(race.limits, **{key: value}))
    words = f"{about.instead} from ahead" if key == "wind_speed" else about.instead
    return words, _in_air(race, key, value)


def _bike(bike: Bike, key: str, default: Any, value: Any) -> Bike:
    """What the options in use change of the value stays."""
    changed: Any = value if isinstance(value, str) else getattr(bike, key) + value - default
    return replace(bike, **{key: changed})


def _rougher(course: Course, factor: float) -> Course:
    rough = np.isclose(course.roughness, factor)
    return replace(course, roughness=np.where(rough, ROUGHER * factor, course.roughness))


OF_WIND = {"wind_height": "height", "terrain": "terrain", "wind_law": "law"}
"""Fields of `Wind` by the keys of the race file."""


def _in_air(race: Race, key: str, value: Any) -> Race:
    air: Air = race.air
    if key == "altitude":
        # A made-up course lies at the altitude of the weather.
        up = value - air.altitude if race.course.report.source == MADE_UP else 0.0
        course = replace(race.course, elevation=race.course.elevation + up)
        return replace(race, air=replace(air, altitude=value), course=course)
    if key == "wind_speed":
        ahead = RELATIVE_WIND["ahead"]
        wind = replace(air.wind, speed=value, direction=ahead, follows_rider=True)
        return replace(race, air=replace(air, wind=wind))
    if key in OF_WIND:
        wind = replace(air.wind, **{OF_WIND[key]: value})
        return replace(race, air=replace(air, wind=wind))
    name = "pressure" if key == "sea_level_pressure" else key
    return replace(race, air=replace(air, **{name: value}))
