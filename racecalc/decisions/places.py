"""What seconds mean in places of a results list, and how far the next place is away."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.needed import power_worth
from racecalc.decisions.place_words import cautions, slips
from racecalc.decisions.ranking import chance_within, place_chances, place_of
from racecalc.decisions.riding import Ridden
from racecalc.decisions.rivalry import Field, Goals, Own
from racecalc.decisions.tried import NOTHING, Tried
from racecalc.quantities.power_point import HIGHEST

STEPS = 5
"""Places up that the ladder shows; our choice."""


@dataclass(frozen=True)
class Chances:
    """What may come of a time in doubt.

    Parameters
    ----------
    expected_place : float
        Mean of the places, each weighted by its chance.
    chance_of_place : tuple of float
        Of the first place, the second and so on; they add up to 1.
    chance_place_or_better : float
        Chance of the place of the best estimate, or a better one.
    chance_podium : float
        Chance to be among the first.
    chance_target : float or None
        Chance of a time no longer than the target; None without a target.
    """

    expected_place: float
    chance_of_place: tuple[float, ...]
    chance_place_or_better: float
    chance_podium: float
    chance_target: float | None


@dataclass(frozen=True)
class Standing:
    """Where an option or set puts the athlete.

    Parameters
    ----------
    tried : Tried
        What is used.
    time_s : float
        Time with it at the best estimate [s].
    place : int
        Its place, from 1; equal times share one.
    gained : int
        Places better than without any option.
    shared_with : tuple of str
        Rivals with the same time.
    certain : bool
        Whether neither the own time nor those of the rivals are in doubt.
    chances : Chances or None
        None where the doubt of the saving is not stated.
    """

    tried: Tried
    time_s: float
    place: int
    gained: int
    shared_with: tuple[str, ...]
    certain: bool
    chances: Chances | None


@dataclass(frozen=True)
class Gap:
    """How far a goal is away without any option.

    Parameters
    ----------
    goal : {"place", "podium", "target"}
        What is reached.
    place : int
        Place of that time.
    rivals : tuple of str
        Who has that time; empty for a target.
    time_s : float
        The time [s]: to equal it shares the place and meets the target, anything less beats it.
    gap_s : float
        Seconds to it; what is in hand is negative.
    watts_w : float or None
        Watts more, all along the course of the race file, that save `gap_s`; negative for what
        is in hand; None where it takes more than `racecalc.quantities.power_point.HIGHEST` in all.
    options : tuple of str
        Single options that save `gap_s` at their best estimate, largest saving first.
    options_without_doubt : tuple of str
        Those of them whose doubt is not stated.
    """

    goal: str
    place: int
    rivals: tuple[str, ...]
    time_s: float
    gap_s: float
    watts_w: float | None
    options: tuple[str, ...]
    options_without_doubt: tuple[str, ...]


@dataclass(frozen=True)
class Places:
    """Answer to what seconds mean in places.

    Parameters
    ----------
    source, category : str
        The list, and the category that counts alone; "" where all do.
    own : Own
        Whose time it is and how sure.
    predicted_time_s : float
        Time of the race file without any option [s].
    of : int
        How many have a place, the athlete included.
    unplaced : dict of str to int
        How many have none, by reason.
    rivals_spread_s : float
        Standard deviation of each rival's time [s].
    goals : Goals
        Podium and target.
    standings : tuple of Standing
        Without any option first, then the largest saving first.
    gaps : tuple of Gap
        The next places up, then the podium and the target.
    notes : tuple of str
        What looks like a slip.
    cautions : tuple of str
        What the chances rest on and what is not in them.
    """

    source: str
    category: str
    own: Own
    predicted_time_s: float
    of: int
    unplaced: dict[str, int]
    rivals_spread_s: float
    goals: Goals
    standings: tuple[Standing, ...]
    gaps: tuple[Gap, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def places(
    base: Ridden,
    field: Field,
    own: Own,
    tried: Sequence[Tried],
    singles: Sequence[Tried],
    goals: Goals,
) -> Places:
    """Place the athlete among the rivals, with and without options.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    field : Field
        The rivals.
    own : Own
        Time of the athlete without any option.
    tried : sequence of Tried
        Options and sets that are compared.
    singles : sequence of Tried
        Options that may close a gap.
    goals : Goals
        Podium and target.

    Returns
    -------
    Places
        The answer.
    """
    used = (NOTHING, *_by_saving(tried))
    allowed = [one for one in _by_saving(singles) if not one.forbidden and not one.unwished]
    return Places(
        source=field.source,
        category=field.category,
        own=own,
        predicted_time_s=base.time,
        of=len(field.times) + 1,
        unplaced=dict(Counter(field.unplaced)),
        rivals_spread_s=field.spread,
        goals=goals,
        standings=tuple(_standing(one, own, field, goals) for one in used),
        gaps=tuple(_gap(base, own, field, allowed, goal) for goal in _goals(own, field, goals)),
        notes=(*field.notes, *slips(base.time, own, field)),
        cautions=cautions(
            base,
            own,
            field,
            forbidden=tuple(one.name for one in (*tried, *singles) if one.forbidden),
            unwished={one.name: one.unwished for one in singles if one.unwished},
            untested_sets=any(one.untested_set for one in tried),
        ),
    )


def _by_saving(tried: Sequence[Tried]) -> list[Tried]:
    return sorted(tried, key=lambda one: -one.saved_s)


def _standing(tried: Tried, own: Own, field: Field, goals: Goals) -> Standing:
    time, rivals = own.time - tried.saved_s, np.array(field.times)
    place = place_of(time, rivals)
    doubt = None if tried.doubt_s is None else float(np.hypot(own.doubt, tried.doubt_s))
    return Standing(
        tried=tried,
        time_s=time,
        place=place,
        gained=place_of(own.time, rivals) - place,
        shared_with=field.named(time),
        certain=doubt == field.spread == 0,
        chances=None if doubt is None else _chances(time, doubt, place, rivals, field, goals),
    )


def _chances(
    time: float, doubt: float, place: int, rivals: FloatArray, field: Field, goals: Goals
) -> Chances:
    chances = place_chances(time, doubt, rivals, field.spread)
    return Chances(
        expected_place=float(chances @ np.arange(1, len(chances) + 1)),
        chance_of_place=tuple(chances.tolist()),
        chance_place_or_better=float(chances[:place].sum()),
        chance_podium=float(chances[: goals.podium].sum()),
        chance_target=None if goals.target is None else chance_within(time, doubt, goals.target),
    )


def _goals(own: Own, field: Field, goals: Goals) -> list[tuple[str, float]]:
    """What can be aimed at and the time that reaches it; the nearest places first."""
    faster = sorted({time for time in field.times if time < own.time}, reverse=True)
    found = [("place", time) for time in faster[:STEPS]]
    if goals.podium <= len(field.times):
        found.append(("podium", field.times[goals.podium - 1]))
    if goals.target is not None:
        found.append(("target", goals.target))
    return found


def _gap(
    base: Ridden, own: Own, field: Field, singles: Sequence[Tried], goal: tuple[str, float]
) -> Gap:
    name, time = goal
    gap = own.time - time
    enough = [one for one in singles if one.saved_s >= gap > 0]
    return Gap(
        goal=name,
        place=place_of(time, np.array(field.times)),
        rivals=field.named(time) if name != "target" else (),
        time_s=time,
        gap_s=gap,
        watts_w=_watts(base, gap),
        options=tuple(one.name for one in enough),
        options_without_doubt=tuple(one.name for one in enough if one.doubt_s is None),
    )


def _watts(base: Ridden, gap: float) -> float | None:
    watts = power_worth(base, base.time - gap) if gap < base.time else None
    if watts is None or base.race.rider.power + watts > HIGHEST:
        return None
    return watts
