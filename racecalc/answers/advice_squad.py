"""The advice on the races of a squad, a row for each: the last page of a coach's pile."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from racecalc.answers.advice import caution_line, in_short
from racecalc.answers.cells import Cell, quoted, several
from racecalc.answers.columns import Clock, Made, time_span
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table
from racecalc.decisions.advice.advice import Advice, Caution
from racecalc.quantities.showing import System


@dataclass(frozen=True)
class RaceAdvice:
    """The advice on one race."""

    race: str
    """Its name."""
    rider: str
    """Who rides it; empty where the race file does not say."""
    time_s: float
    """Time with what is advised, ridden as advised [s]."""
    time_s_low: float
    """Lower end of its 95 % interval [s]."""
    time_s_high: float
    """Upper end of that interval [s]."""
    least_power_w: float
    """Least power to ride at, where there is any to hold [W]."""
    most_power_w: float
    """Most of it; the same where it is one even power [W]."""
    first: str
    """What to do first."""
    unsure: tuple[str, ...]
    """What is not sure."""
    cautions: tuple[Caution, ...]
    """What to heed, but for notes on single options."""


@dataclass(frozen=True)
class SquadAdvice:
    """The advice on the races of a squad."""

    races: tuple[RaceAdvice, ...]
    """One for each race file that has one, in their order."""
    not_worked_out: tuple[str, ...] = ()
    """What is wrong with the others."""


def in_a_row(advice: Advice) -> RaceAdvice:
    """Who, how long, how hard, what to do first and what is not sure."""
    card = advice.card if advice.card_pays else None
    powers = [target.power_w for target in card.targets if target.pedalled] if card else []
    powers = powers or [advice.plan.first_w]
    return RaceAdvice(
        advice.race.name,
        advice.race.rider.name,
        advice.plan.ridden.time,
        *advice.between_s,
        min(powers),
        max(powers),
        _first(advice),
        tuple(_unsure(advice)),
        (*in_short(advice), *map(_together, advice.only_together)),
    )


def _together(names: Sequence[str]) -> Caution:
    words = "".join(map(str, several(names, len(names))))
    return Caution("Tested only together", f"Use all or none of {words}.")


def _first(advice: Advice) -> str:
    """The first row of what to do."""
    for value in advice.changed:
        return f"{advice.about(value).do} {value.option.name}"
    tests = advice.shopping.to("test")
    return (
        f"test {tests[0]}" if tests else "ride the plan" if advice.card_pays else "hold the power"
    )


def _unsure(advice: Advice) -> Iterator[str]:
    """The power, what the time rests on, and what is to be tested."""
    if advice.stated_power_w is not None:
        yield f"the stated {advice.stated_power_w:.0f} W"
    if advice.band is None:
        yield "power, drag and weather"
    elif advice.band.causes:
        yield advice.band.causes[0].words
    yield from advice.shopping.to("test")


def squad_advice_sheet(squad: SquadAdvice, units: System) -> Sheet:
    """All of them on one page."""
    found = squad.races
    one_race = len({one.race for one in found}) == 1
    alike = one_race or not any(one.rider for one in found)
    return Sheet(
        _headline(found),
        [
            Table(
                "", [WHO, None if alike else RACE, *ROW], found, NOTE, Depth.ANSWER, path="races"
            ),
            Lines([(quoted(one),) for one in squad.not_worked_out], "Not worked out"),
            Lines([*_heed(found)], "Before you follow it"),
        ],
        units,
        (quoted(found[0].race, 60),) if one_race else "The squad",
    )


def _headline(found: Sequence[RaceAdvice]) -> str:
    if not found:
        return "No race could be worked out."
    times = [one.time_s for one in found]
    races = "1 race" if len(found) == 1 else f"{len(found)} races"
    span = time_span(min(times), max(times))
    return f"{races}, {span}: what each does first, and what is not sure."


def _heed(found: Sequence[RaceAdvice]) -> Iterator[Line]:
    """Each caution once, with those whom it is for unless these are all."""
    told: dict[Caution, list[str]] = {}
    for one in found:
        for said in one.cautions:
            told.setdefault(said, []).append(_who(one))
    for said, whom in sorted(told.items(), key=lambda item: -len(item[1])):
        few = (" (", *several(whom, 4, length=NAMED), ")") if len(whom) < len(found) else ()
        yield *caution_line(said), *few


NAMED = 34
"""Characters of a rider or a race in a row."""


def _who(one: RaceAdvice) -> str:
    return one.rider or one.race


def _power(one: RaceAdvice) -> str:
    ends = f"{one.least_power_w:.0f}", f"{one.most_power_w:.0f}"
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


WHO = Made("who", "", lambda one: quoted(_who(one), NAMED), left=True)
RACE = Made("race", "", lambda one: quoted(one.race, NAMED), left=True)
ROW = [
    Clock("time", "time_s"),
    Made(
        "likely\nbetween",
        "",
        lambda one: time_span(one.time_s_low, one.time_s_high),
    ),
    Made("W", "", _power),
    Made("first", "", lambda one: quoted(one.first), left=True),
    Made("not sure", "", lambda one: Cell("".join(map(str, several(one.unsure)))), left=True),
]
NOTE = (
    "Times with what is advised, ridden as advised; likely between: in 95 of 100 cases, by the"
    " doubts that are known. Not sure: what no doubt is stated for or has most of it, and what to"
    " test. Each one's own page has the rest: racecalc advice RACE."
)
