"""``racecalc places``: what the seconds mean in places of a results list."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, chance_text, quoted, several
from racecalc.answers.columns import Column, Made, Number, seconds_between
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table
from racecalc.decisions.places import GoalGap, Places, Standing
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System
from racecalc.written import SPREAD

LEAST_SHOWN = 0.01
"""Chance below which a place is not named."""


@dataclass(frozen=True)
class PlacesAnswer:
    """What seconds mean in places."""

    found: Annotated[Places, SPREAD]
    """Places with and without options, their chances, and how far the next goals are."""
    basis: Annotated[Basis, SPREAD]
    """What they rest on."""


def places_sheet(answer: PlacesAnswer, units: System) -> Sheet:
    """The place without any option, then with each, and how far away the next goals are."""
    found = answer.found
    return Sheet(
        (
            f"{answer.basis.title}: ",
            Cell(_ordinal(found.without.place), "strong", found.without.place, "without/place"),
            f" of {found.field.of} without any option",
        ),
        [
            Lines([_among(found), *((quoted(note),) for note in found.notes)]),
            Lines([_without(found), *_next(found), *_mind(found)]),
            Table("", _standings(found), found.options, "", Depth.ANSWER, most=10, path="options"),
            Table(
                "How far away it is without any option",
                _gaps(found.goals.podium),
                found.gaps,
                "",
                Depth.ANSWER,
                path="gaps",
            ),
            Lines([_standings_note(found), GAPS_NOTE], "How to read it", Depth.DETAILS),
            Lines(
                [_enough(gap, found.goals.podium) for gap in found.gaps if gap.gap_s > 0],
                "Single options that save that much at their best estimate (?: doubt not stated)",
                Depth.DETAILS,
            ),
            Lines(
                [line for one in (found.without, *found.options) if (line := _each_place(one))],
                f"Chance of each place that has {100 * LEAST_SHOWN:.0f} % or more",
                Depth.DETAILS,
            ),
            Lines(
                [(quoted(one),) for one in found.cautions],
                "What is in these places and chances, and what is not",
                Depth.BASIS,
            ),
            *answer.basis.blocks(units),
        ],
        units,
    )


# --- the answer ----------------------------------------------------------------------------------


def _among(found: Places) -> Line:
    own, field = found.own, found.field
    ends = " to ".join(show_duration(end) for end in own.between)
    left_out = ", ".join(f"{count} {why}" for why, count in field.unplaced.items())
    return (
        *((quoted(own.listed_as), ", ") if own.listed_as else ()),
        Cell(show_duration(own.time, 1 if own.listed_as else 0), "", own.time, "own_time_s"),
        " in " if own.listed_as else f" (predicted; {ends} in 95 of 100 cases) in ",
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
        return (f"Neither your time nor theirs is in doubt; {', '.join(words)}", *shared, ".")
    better = chance_text(one.chances.chance_place_or_better or 0.0)
    words = [f"{goal} {chance_text(chance)}" for goal, chance in reached.items()]
    mean = f"mean place {one.chances.expected_place:.1f}"
    return (f"{_ordinal(one.place)} or better {better}, {mean}, {', '.join(words)}", *shared, ".")


def _next(found: Places) -> Iterator[Line]:
    """How the next place is reached."""
    for gap in found.gaps[:1]:
        if gap.goal == "place":
            enough = several(gap.options, 2, last="or") or ("no single option",)
            far = f"{_ordinal(gap.place)} is {gap.gap_s:.1f} s away; enough by itself: "
            yield (far, *enough, ".")


def _mind(found: Places) -> Iterator[Line]:
    """What could overturn it."""
    if found.field.spread == 0:
        yield 'Rivals keep their times of that day; --rivals "6 s" lets each of them vary.'
    forbidden = [one.tried.name for one in found.options if one.tried.forbidden]
    if forbidden:
        yield ("Forbidden by the rules: ", *several(forbidden), ".")


# --- the tables ----------------------------------------------------------------------------------


def _standings(found: Places) -> list[Column]:
    return [
        Made("with", "", lambda one: quoted(_name(one)), left=True),
        Made("saves s (95 %)", "tried.saved_s", _saved),
        Made("place", "place", lambda one: _ordinal(one.place) + ("=" if one.shared_with else "")),
        _in_doubt("or\nbetter", "chance_place_or_better", chance_text),
        _in_doubt("mean", "expected_place", "{:.1f}".format),
        *(_in_doubt(goal, key, chance_text, _yes_or_no) for goal, key in _goals(found).items()),
    ]


def _name(one: Standing) -> str:
    return one.tried.name + (" (forbidden)" if one.tried.forbidden else "")


def _saved(one: Standing) -> str:
    return seconds_between(one.tried.saved_s, one.tried.saved_s_low, one.tried.saved_s_high)


def _in_doubt(
    heading: str,
    key: str,
    text: Callable[[float], str],
    sure: Callable[[float], str] = lambda _: "-",
) -> Column:
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
    aimed = "" if target is None else f"; {show_duration(target)}: chance to reach that time"
    return (
        "Saves: with its 95 % interval. Place: at the best estimate, = where it is shared, and the"
        " places after a dead heat fall out; or better: chance of that place or a better one; mean:"
        f" of all places by their chances{aimed}; - where nothing is in doubt; ? where no doubt is"
        " stated, so that no chance can be given."
    )


def _gaps(podium: int) -> list[Column]:
    return [
        Made("goal", "", lambda gap: _goal(gap, podium), left=True),
        Made("held by", "", lambda gap: quoted(" and ".join(gap.rivals) or "-"), left=True),
        Made("time", "time_s", lambda gap: show_duration(gap.time_s, 1)),
        Number("seconds", "gap_s"),
        Number("watts more", "watts_w", unknown="too many"),
    ]


GAPS_NOTE = (
    "Seconds bring you level, which shares the place and meets a target; anything more takes it"
    " alone. Watts: all along this course. Below zero is in hand: what you may lose."
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
