"""Several rides held against their races at once: which input is off in all of them.

Drag area, rolling resistance and mass are those of the rider and are moved by one share in every
race; the wind of each day is its own. The tests are those of one race (`fit`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, combinations
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.review.fit import (
    APART,
    SPARE,
    Blame,
    Finding,
    InputFit,
    Shift,
    chance_bound,
    fewest_that_do,
    fit,
)
from racecalc.decisions.review.review import INPUTS, Case, Review
from racecalc.decisions.verdicts import interval_of
from racecalc.errors import InputError
from racecalc.written import HIDDEN, written

SHARED = ("cda", "crr", "mass")
"""Inputs that go from race to race with the rider."""

WINDS = "wind"


@dataclass(frozen=True)
class Throughout:
    """An input moved by one share in every race, the wind of each day free."""

    quantity: str
    """One of "cda", "crr", "mass"."""
    share: float
    """How much more than stated, as a share."""
    doubt: float
    """Standard uncertainty of the share: the scatter of splits and the error of the model, which is
    the same in every race."""

    @written
    def words(self) -> str:
        """What it is called."""
        return INPUTS[self.quantity].words

    @property
    def within(self) -> tuple[float, float]:
        """The 95 % interval of the share."""
        return interval_of(self.share, self.doubt)


@dataclass(frozen=True)
class SeasonRace:
    """One race of several."""

    race: str
    """Its name."""
    ridden: str
    """File of the ride."""
    difference_s: float
    power_s: float | None
    rest_s: float
    """Ridden less planned; what the ridden power explains of it; what is left [s]."""
    wrong: tuple[str, ...]
    """Which inputs the race alone names."""
    wind_factor: float | None
    """Times the stated wind that fits best with what is off throughout; None where none is stated,
    or nothing is named."""


@dataclass(frozen=True)
class Season:
    """What several races tell together."""

    races: tuple[SeasonRace, ...]
    """In the order given."""
    finding: Finding
    """As of one race."""
    named: tuple[Throughout, ...]
    """What is off throughout; empty where nothing is or it cannot be told."""
    rivals: tuple[str, ...]
    """Between which the races cannot tell, in words."""
    winds: bool
    """Whether the winds of the days were off."""
    reviews: Annotated[tuple[Review, ...], HIDDEN]
    """Each by itself."""


@dataclass(frozen=True)
class _Joint:
    """All races as one ride whose splits follow each other."""

    cases: tuple[Case, ...]

    def times(self, by: Shift | None = None) -> FloatArray:
        """Time on each split of every race with inputs moved [s]."""
        by = by or {}
        return np.concatenate([self._one(number, by) for number in range(len(self.cases))])

    def _one(self, number: int, by: Shift) -> FloatArray:
        own = {name: by.get(name, 0.0) for name in SHARED}
        own[WINDS] = by.get(f"{WINDS} {number}", 0.0)
        key = (number, *own.values())
        if key not in self._known:
            self._known[key] = self.cases[number].replay.times(own)
        return self._known[key]

    @cached_property
    def _known(self) -> dict[tuple[float, ...], FloatArray]:
        """Races solved already: most shifts leave most races as they are."""
        return {}

    @cached_property
    def winds(self) -> tuple[str, ...]:
        """Winds of the days that are stated and show on the clock."""
        return tuple(
            f"{WINDS} {number}" for number, one in enumerate(self.cases) if WINDS in one.inputs
        )

    def inputs(self, kinds: Sequence[str]) -> tuple[str, ...]:
        """Names of kinds of inputs."""
        return tuple(chain.from_iterable(self.winds if k == WINDS else (k,) for k in kinds))

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        """What may have been off: it shows in some race."""
        shown = {name for one in self.cases for name in one.inputs}
        return (*(name for name in SHARED if name in shown), *((WINDS,) if self.winds else ()))

    @property
    def clock_s(self) -> float:
        """Standard deviation of a split's time from the coarsest clock [s]."""
        return max(one.known.clock_s for one in self.cases)

    def fit(self, kinds: Sequence[str]) -> InputFit:
        """Kinds of inputs moved until all races meet the clock."""
        ridden = np.concatenate([one.ridden for one in self.cases])
        return fit(self, ridden, self.inputs(kinds), self.clock_s)


def season(found: Sequence[tuple[Case, Review]]) -> Season:
    """Read reviews of several races together.

    Raises `InputError` if one ride is given twice: its errors would count as two that agree.
    """
    cases = tuple(case for case, _ in found)
    for one, other in combinations(cases, 2):
        if np.array_equal(one.ridden, other.ridden):
            problem = f"this is the same ride as {one.table.source}"
            raise InputError(other.table.source, problem, "give each ride once")
    joint = _Joint(cases)
    blamed = _blame(joint)
    best = joint.fit(blamed.named) if blamed.named else None
    named = tuple(_throughout(joint, best, name) for name in blamed.named if best and name != WINDS)
    return Season(
        races=tuple(
            _race(case, one, _wind_factor(best, number)) for number, (case, one) in enumerate(found)
        ),
        finding=blamed.finding,
        named=named,
        rivals=tuple(" with ".join(_words(kind) for kind in one) for one in blamed.rivals),
        winds=WINDS in blamed.named,
        reviews=tuple(one for _, one in found),
    )


def _words(kind: str) -> str:
    return "the winds of the days" if kind == WINDS else INPUTS[kind].words


MOST_KINDS = 2
"""Kinds of inputs that are blamed together at most; the winds of the days are one."""


def _blame(joint: _Joint) -> Blame:
    """Which kinds of inputs were off."""
    cases, rest = joint.cases, np.concatenate([one.rest for one in joint.cases])
    if sum(one.known.misfit(one.rest) for one in cases) <= chance_bound(len(rest)):
        return Blame("nothing")
    if any(one.table.power is None for one in cases):
        return Blame("no power")
    if len(rest) < len(joint.inputs(joint.kinds)) + SPARE:
        return Blame("too few")
    whole = joint.fit(joint.kinds)
    by_size = (
        {kinds: joint.fit(kinds) for kinds in combinations(joint.kinds, size)}
        for size in range(1, MOST_KINDS + 1)
    )
    return fewest_that_do(rest, whole, by_size, lambda kinds: _alike(whole, kinds))


def _alike(whole: InputFit, kinds: Sequence[str]) -> dict[str, None]:
    """Shared inputs whose errors go along with those of one named, the winds of the days free."""
    slopes = dict(zip(whole.names, whole.slopes.T, strict=True))
    winds = [slope for name, slope in slopes.items() if name not in SHARED]
    left = {name: slope for name, slope in slopes.items() if name in SHARED}
    if winds:
        within = np.linalg.qr(np.stack(winds, axis=1))[0]
        left = {name: slope - within @ (within.T @ slope) for name, slope in left.items()}
    pairs = (
        (one, other)
        for one, other in combinations(left, 2)
        if {one, other} & {*kinds} and abs(_cosine(left[one], left[other])) > APART
    )
    return dict.fromkeys(chain.from_iterable(pairs))


def _cosine(one: FloatArray, other: FloatArray) -> float:
    return float(one @ other) / float(np.linalg.norm(one) * np.linalg.norm(other))


def _throughout(joint: _Joint, best: InputFit, name: str) -> Throughout:
    """What the fit says of one input, with the error of the model."""
    place = best.names.index(name)
    model = np.concatenate([one.known.model_s for one in joint.cases])
    by_model = float(np.linalg.lstsq(best.slopes, model, rcond=None)[0][place])
    by_splits = 0.0 if best.doubt is None else float(best.doubt[place])
    return Throughout(name, float(best.share[place]), float(np.hypot(by_splits, by_model)))


def _wind_factor(best: InputFit | None, number: int) -> float | None:
    """Times the stated wind of a race."""
    name = f"{WINDS} {number}"
    if best is None or name not in best.names:
        return None
    return 1.0 + float(best.share[best.names.index(name)])


def _race(case: Case, found: Review, wind: float | None) -> SeasonRace:
    return SeasonRace(
        case.replay.base.race.name,
        found.source,
        found.difference_s,
        found.power_s,
        found.rest_s,
        found.wrong,
        wind,
    )
