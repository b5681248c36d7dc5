"""What a rider says about their pacing, as they write it: limits, caps, a plan."""

import re
from dataclasses import dataclass, replace
from math import floor, inf
from typing import Literal, cast

from racecalc.quantities.kinds import GRADE, LENGTH, POWER, RATIO
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.reading import HIGHEST, read

LimitKind = Literal["mean", "power-mean", "critical-power"]

KINDS = ("power-mean", "mean", "critical-power")

STEEP = 0.03
"""Least grade of what a cap calls a climb; our choice."""

MOST_SHARE = 6.0
"""Largest share of critical power that is read; our choice, a sprint."""


@dataclass(frozen=True)
class Level:
    """A power, or a share of critical power."""

    watts: float | None
    share: float | None

    def at(self, critical: float | None) -> float | None:
        """The power, whole watts of a share [W]; None for a share without a critical power."""
        if self.share is None:
            return self.watts
        return None if critical is None else float(floor(self.share * critical))


@dataclass(frozen=True)
class LimitWish:
    """What is limited, and at which power; None for the race power."""

    kind: LimitKind
    level: Level | None = None


@dataclass(frozen=True)
class Stretch:
    """A part of the course and a power: the most there, or the one that is planned."""

    where: str
    level: Level
    start: float = 0.0
    end: float = inf
    """Where it begins and ends [m]."""
    grade: float = -inf
    """Least rise over run, for a part that is steep."""


def read_limit(text: str) -> LimitWish:
    """Read a limit, such as "power-mean", "mean 250 W" or "mean 75 %".

    Raises
    ------
    QuantityError
        If it is none.
    """
    kind, _, level = text.strip().partition(" ")
    if kind not in KINDS:
        problem = f"'{kind}' is not one of {', '.join(KINDS)}"
        raise QuantityError(problem, "name one of them first")
    if level and kind == "critical-power":
        remedy = "leave it out, and state rider.critical_power"
        raise QuantityError("critical power is that of the race file", remedy)
    return LimitWish(cast(LimitKind, kind), _level(level) if level else None)


def read_limits(texts: tuple[str, ...]) -> tuple[LimitWish, ...]:
    """Read several, each kind once."""
    found = tuple(read_limit(text) for text in texts)
    for at, one in enumerate(found):
        if one.kind in [before.kind for before in found[:at]]:
            raise QuantityError(f"{one.kind} is given twice", "give it once")
    return found


_PART = re.compile(
    r"(?P<where>everywhere|climbs|grade (?P<grade>.+? ?%)|(?P<start>.+?) to (?P<end>.+?))"
    r"(?: at most)? (?P<power>[\d.,]+ ?\S+)"
)


def read_cap(text: str) -> Stretch:
    """Read the most on a part, such as "climbs 300 W", "grade 5 % 320 W", "17 km to 20 km 280 W".

    Raises
    ------
    QuantityError
        If it is none.
    """
    found = _PART.fullmatch(" ".join(text.split()))
    if found is None:
        remedy = 'write "climbs 300 W", "grade 5 % 320 W", "17 km to 20 km 280 W"'
        raise QuantityError(f"'{text}' is no part and power", remedy)
    part = Stretch(found["where"], _level(found["power"]))
    if found["grade"]:
        return replace(part, where=f"{part.where} or steeper", grade=read(found["grade"], GRADE))
    if part.where == "climbs":
        return replace(part, where=f"climbs of {100 * STEEP:.0f} % or more", grade=STEEP)
    if part.where == "everywhere":
        return part
    start, end = read(found["start"], LENGTH), read(found["end"], LENGTH)
    if not 0.0 <= start < end:
        raise QuantityError(f"{part.where} is no part of a course", "give its start, then its end")
    return replace(part, start=start, end=end)


def read_caps(texts: tuple[str, ...]) -> tuple[Stretch, ...]:
    """Read several."""
    return tuple(read_cap(text) for text in texts)


def read_planned(texts: tuple[str, ...]) -> tuple[Stretch, ...]:
    """Read the sections of a plan, such as "0 km to 6.1 km 265 W", each from the one before.

    Raises
    ------
    QuantityError
        If a section is none, or does not begin where the one before ends.
    """
    found = tuple(read_cap(text) for text in texts)
    ends = 0.0
    for text, one in zip(texts, found, strict=True):
        if one.end == inf or abs(one.start - ends) > 1.0:
            remedy = f'write for example "{ends / 1000:.2f} km to {ends / 1000 + 5:.2f} km 250 W"'
            raise QuantityError(f"'{text}' does not begin at {ends / 1000:.2f} km", remedy)
        ends = one.end
    return found


def _level(text: str) -> Level:
    if text.endswith("%"):
        share = read(text, RATIO)
        if not 0.0 < share <= MOST_SHARE:
            raise QuantityError(f"'{text}' is not possible", "write a share, as 95 %")
        return Level(None, share)
    watts = read(text, POWER)
    if not 0.0 < watts <= HIGHEST:
        raise QuantityError(f"'{text}' is not possible", f"give up to {HIGHEST:.0f} W")
    return Level(watts, None)
