"""``racecalc pace``: how hard to ride where."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, chance_text, quoted, several
from racecalc.answers.columns import (
    Clock,
    Column,
    Made,
    Number,
    Quantity,
    SplitClock,
    Words,
    seconds_text,
    shown_apart,
    time_span,
    within_95,
)
from racecalc.answers.sheet import (
    Block,
    Curves,
    Depth,
    Effort,
    Line,
    Lines,
    Sheet,
    Step,
    Table,
    details,
    grounds,
)
from racecalc.answers.squad import RACE
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.pacing.card import ASTRAY, Card, Pacing, Passage, Target, WhatIf
from racecalc.decisions.pacing.critical_power import CriticalFit
from racecalc.decisions.pacing.limits import LimitKept, mean_name
from racecalc.decisions.pacing.making import Goal
from racecalc.decisions.pacing.own_plan import OwnPlan
from racecalc.decisions.verdicts import interval_of
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, show, show_number, shown_unit, to_shown, unit_size
from racecalc.written import HIDDEN, SPREAD, As

LEAST_SHOWN = 0.05
"""Seconds that are not shown as none."""

ADVICE = "Advice, not orders: road, traffic, law and how you feel come first."
"""Said wherever targets do."""

NO_SPEED_TARGETS = "Speeds are estimates, not targets, least of all in bends and on descents."
"""Said wherever speeds do."""


@dataclass(frozen=True)
class PaceAnswer:
    """How hard to ride where."""

    found: Annotated[Pacing, SPREAD]
    """The card, what it gains, and what it does in other winds."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""
    second: Annotated[Card | None, As(second_card="")] = None
    """The card with the changes of --or; None without."""
    changes: Annotated[tuple[str, ...], HIDDEN] = ()
    """These changes."""
    plan: OwnPlan | None = None
    """A plan of the rider's own; None without --plan."""


TARGETS = [
    Quantity("from", "from_m", what="course_distance", zero=None),
    Quantity("to", "to_m", what="course_distance", zero=None),
    Number("watts", "power_w", form=".0f"),
    Quantity("", "speed_m_s", what="speed", zero=None),
    SplitClock("time", "time_s"),
    Clock("elapsed", "elapsed_s"),
    Quantity("grade", "grade", what="grade", signed=True, zero=None),
    Quantity("wind", "head_wind_m_s", what="wind_speed", signed=True, zero=None),
    Column("s/W", "seconds_per_watt", text="{:.2f}".format),
]
LANDMARKS = [
    Quantity("at", "at_m", what="course_distance", zero=None),
    Clock("elapsed", "elapsed_s"),
    Words("landmark", "name"),
]


def pace_sheet(answer: PaceAnswer, units: System, *, chart: bool = True) -> Sheet:
    """The targets and what they gain, then other winds, where a watt counts, and critical power."""
    found, card = answer.found, answer.found.card
    targets, landmarks = card_tables(card)
    if answer.plan:
        return _plan_sheet(answer, answer.plan, units)
    time = Cell(show_duration(card.time_s), "strong", card.time_s, "time_s")
    return Sheet(
        (f"{answer.basis.title}: ", time, f" with this card, {_gain(found)}"),
        [
            Lines([*_goal_lines(found.goal), *_compared(found, units)]),
            Lines(card.warnings, "Reasons for caution"),
            targets,
            Lines(card.cautions, "Before you follow it"),
            landmarks,
            *_second_blocks(answer),
            details([gain_words(card, units), _astray(found), effort_words(card)]),
            *([_charts(found, units)] if chart else []),
            limits_table(found.limits, "limits"),
            _what_if_table(found),
            details(_critical_lines(found), "Critical power"),
            grounds(found.asked.assumed, "Assumed for the pacing"),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: PaceAnswer) -> Iterator[ExplainedStep]:
    card, left, critical = answer.found.card, "not stated", ""
    if card.least_reserve_j is not None and card.critical_power_w is not None:
        left = f"at the least {card.least_reserve_j / 1000.0:.1f} kJ"
        critical = f"CP {card.critical_power_w:.0f} W"
    return explained(
        "pace",
        answer.basis.ride,
        time=show_duration(card.time_s),
        sections=len(card.targets),
        limit=card.limit,
        even=show_duration(card.constant_power_time_s),
        mean=card.power_mean_w,
        order=card.power_mean_order,
        plain=card.mean_power_w,
        reserve=left,
        critical=critical,
    )


# --- A plan of the rider's own --------------------------------------------------------------------


PLANNED = [
    Quantity("from", "from_m", what="course_distance", zero=None),
    Quantity("to", "to_m", what="course_distance", zero=None),
    Number("watts", "power_w", form=".0f"),
    Number("quickest", "best_w", form=".0f"),
    SplitClock("time", "time_s"),
    Clock("elapsed", "elapsed_s"),
    Number("gives away s", "given_away_s", form=".1f"),
]
PLANNED_NOTE = (
    "Quickest: mean watts there of the quickest ride as hard. Gives away: seconds lost to it on the"
    " section, watts above or below counted in seconds too."
)


def _plan_sheet(answer: PaceAnswer, plan: OwnPlan, units: System) -> Sheet:
    """The plan as it is ridden, what breaks it, and where it gives seconds away."""
    found, card = answer.found, answer.found.card
    targets, landmarks = card_tables(card)
    time = Cell(show_duration(plan.time_s), "strong", plan.time_s, "plan/time_s")
    return Sheet(
        (
            f"{answer.basis.title}: ",
            time,
            f" with your plan, {'within' if plan.held else 'beyond'} your limits",
        ),
        [
            Lines([*_plan_lines(plan, card, units)]),
            Lines(card.warnings, "Reasons for caution"),
            Table("", PLANNED, plan.sections, PLANNED_NOTE, Depth.ANSWER, path="plan/sections"),
            Lines(card.cautions, "Before you follow it"),
            limits_table(plan.limits, "plan/limits"),
            replace(targets, title="The card within your limits", depth=Depth.DETAILS),
            landmarks,
            *_second_blocks(answer),
            grounds(found.asked.assumed, "Assumed for the pacing"),
            *answer.basis.blocks(units),
        ],
        units,
    )


def _plan_lines(plan: OwnPlan, card: Card, units: System) -> Iterator[str]:
    for one in plan.limits:
        if not one.held and one.comes_to_w is not None:
            yield f"Too hard: it comes to {one.comes_to_w:.1f} W; limit: {one.limit}."
        elif not one.held:
            missing = -(one.least_reserve_j or 0.0) / 1000
            yield f"Too hard: {missing:.1f} kJ are missing; limit: {one.limit}."
    lost = shown_apart(plan.best_time_s, plan.time_s)
    name = mean_name(plan.power_mean_order)
    yield (
        f"The quickest ride at the same {name}, {plan.power_mean_w:.0f} W, takes"
        f" {show_duration(plan.best_time_s)}: the plan gives away {lost} s."
    )
    worst = max(plan.sections, key=lambda one: one.given_away_s)
    if worst.given_away_s > LEAST_SHOWN:
        start, end = (show(at, "course_distance", units) for at in (worst.from_m, worst.to_m))
        yield (
            f"Most of it from {start} to {end}, {worst.given_away_s:.1f} s: {worst.power_w:.0f} W,"
            f" where the quickest has {worst.best_w:.0f} W."
        )
    yield f"The card of your limits takes {show_duration(card.time_s)}. Limit: {card.limit}."


# --- The card ------------------------------------------------------------------------------------


def _gain(found: Pacing) -> str:
    card = found.card
    if found.goal:
        return f"{'within' if found.goal.held else 'beyond'} your limits"
    saved = shown_apart(card.time_s, card.constant_power_time_s)
    if not saved:
        return "as fast as at constant power"
    return f"{abs(saved)} s {'gained' if saved > 0 else 'lost'}"


def _compared(found: Pacing, units: System) -> Iterator[str]:
    card, mean = found.card, found.limit.mean
    takes = show_duration(card.constant_power_time_s)
    if found.goal is None:
        yield f"{_constant_words(found)} takes {takes}. Limit: {card.limit}."
    if mean is not None and mean.order != 1:
        yield f"A {mean.name} counts hard stretches more than a plain mean does."
    elif mean is not None and card.ideal_sections is not None:
        yield "A plain mean lets power jump at no cost: the card is held against the best sections."
    yield from card_words(card, units)
    within = within_95(*interval_of(card.time_s, found.model_error_s))
    yield f"How sure: {within} by the doubt of the model alone."
    if found.what_ifs:
        yield _winds(found.what_ifs, made_for_a_goal=found.goal is not None)


def _constant_words(found: Pacing) -> str:
    """The constant power that the card is compared with, by what both come to."""
    card, name = found.card, mean_words(found.card)
    if found.limit.mean is None:
        return "Constant power within the same limit"
    own, other = f"{card.power_mean_w:.0f} W", f"{card.constant_power_mean_w:.0f} W"
    if own == other:
        return f"Constant power at the same {name}, {own},"
    return f"Constant power within the same limit ({name} {other}, the card's {own})"


def mean_words(card: Card) -> str:
    """The name of the mean that counts."""
    order = card.power_mean_order
    return "mean power" if order == 1 else mean_name(order)


def card_words(card: Card, units: System) -> Iterator[str]:
    """Where a card leaves least above critical power, and why it eases before the finish."""
    yield from _reserve_words(card, units)
    if card.easing_s is not None:
        start = show(card.targets[-1].from_m, "course_distance", units)
        yield (
            f"From {start} the card eases, as power there hardly pays before the finish; one power"
            f" to the finish takes {card.easing_s:.1f} s more."
        )


def _reserve_words(card: Card, units: System) -> Iterator[str]:
    left, unrefilled, work = (
        card.least_reserve_j,
        card.least_reserve_unrefilled_j,
        card.work_above_critical_j,
    )
    if left is None or unrefilled is None or work is None:
        return
    where = show(card.least_reserve_at_m or 0.0, "course_distance", units)
    if left == work:
        yield f"None of the {work / 1000:.1f} kJ above critical power are used."
        return
    if left < 0:
        yield (
            f"At {where} {-left / 1000:.1f} kJ above critical power are missing, even if they come"
            " back by the formula."
        )
        return
    thinnest = f"Least is left at {where}: {left / 1000:.1f} of {work / 1000:.1f} kJ"
    if unrefilled < 0:
        yield f"{thinnest}; {-unrefilled / 1000:.1f} are missing if none come back."
    else:
        yield f"{thinnest}, or {unrefilled / 1000:.1f} if none come back."


def _unrefilled(left: float) -> str:
    """What it means for the reserve that nothing comes back on the way [J]."""
    if left >= 0:
        return "they last even if none come back on the way."
    missing = f"{-left / 1000:.1f} kJ are missing"
    return f"if none come back on the way, {missing}: ride a section softer."


def _winds(what_ifs: tuple[WhatIf, ...], *, made_for_a_goal: bool) -> str:
    """How the gain and the limit fare in other winds; for a goal the time."""
    if made_for_a_goal:
        times = [one.time_s for one in what_ifs if one.time_s is not None]
        ends = [show_duration(end) for end in (min(times), max(times))] if times else []
        taken = f" it takes {' to '.join(dict.fromkeys(ends))}" if ends else " it nearly stops"
        return f"In {len(what_ifs)} other winds{taken}."
    gains = [one.saved_s for one in what_ifs if one.saved_s is not None]
    broken = sum(not one.held for one in what_ifs)
    ends = [seconds_text(end, None, "") for end in (min(gains), max(gains))] if gains else []
    gain = f" it gains {' to '.join(dict.fromkeys(ends))} s" if gains else ""
    over = f" {broken} of them break the limit: ride softer" if broken else ""
    return f"In {len(what_ifs)} other winds{gain}{';' if gain and over else ''}{over}."


def card_tables(card: Card, path: str = "", which: str = "") -> tuple[Table, Table]:
    """Targets and landmarks of a card."""
    shares = [Made("% CP", "", lambda one: f"{100 * one.power_w / card.critical_power_w:.0f}")]
    after = 1 + next(at for at, one in enumerate(TARGETS) if one.key == "power_w")
    columns = [*TARGETS[:after], *(shares if card.critical_power_w else []), *TARGETS[after:]]
    note = (
        f"Watts at the meter;{' CP: critical power;' if card.critical_power_w else ''} wind at the"
        " rider, + from ahead; s/W: seconds saved by a watt more there. Speeds and times are"
        " estimates, not targets."
    )
    targets = Table("", columns, card.targets, note, Depth.ANSWER, path=f"{path}targets")
    noted = any(passage.note for passage in card.passages)
    places = [*LANDMARKS, Made("note", "", _note, left=True) if noted else None]
    return targets, Table(f"Landmarks{which}", places, card.passages, path=f"{path}landmarks")


def _note(passage: Passage) -> Cell:
    return quoted(passage.note) if passage.note else Cell("")


def _second_blocks(answer: PaceAnswer) -> tuple[Block, ...]:
    """A second card, made for the race file with changes."""
    card = answer.second
    if card is None:
        return ()
    time = Cell(show_duration(card.time_s), "strong", card.time_s, "second_card/time_s")
    words: Line = ("The card for ", *several(answer.changes), ": ", time, f". Limit: {card.limit}.")
    tables = card_tables(card, "second_card/", " with the second card")
    return (
        Lines([words]),
        Lines(card.warnings, "Reasons for caution with the second card"),
        *tables,
    )


def gain_words(card: Card, units: System) -> str:
    """What a card gains over constant power and gives away to the ideal."""
    saved = shown_apart(card.time_s, card.constant_power_time_s)
    return (
        f"With these targets the course should take {show_duration(card.time_s)}:"
        f" {abs(saved)} s {'less' if saved >= 0 else 'more'} than at constant power as hard"
        f" ({show(card.constant_power_w, 'power', units)} where nothing slows the ride,"
        f" {show_duration(card.constant_power_time_s)}), and"
        f" {shown_apart(card.ideal_time_s, card.time_s)} s more than with {_ideal_words(card)}"
        f" ({show_duration(card.ideal_time_s)})."
    )


def _ideal_words(card: Card) -> str:
    if card.ideal_sections is None:
        return "ideal targets at every metre"
    return f"the best found in {card.ideal_sections} section{'s' * (card.ideal_sections > 1)}"


def _astray(found: Pacing) -> str:
    if found.astray_s is None or found.astray_s < LEAST_SHOWN:
        return ""
    ridden = f"Ridden alternately {100 * ASTRAY:.0f} % over and under the targets"
    return f"{ridden}, it takes {found.astray_s:.1f} s more at the same effort."


def effort_words(card: Card) -> str:
    """What a card comes to: its means, and what it leaves above critical power."""
    means = f"Mean over time {card.mean_power_w:.0f} W"
    if card.power_mean_order != 1:
        means += f", {mean_words(card)} {card.power_mean_w:.0f} W"
    means += f"; mean over distance {card.distance_mean_w:.0f} W (not a measure of effort)."
    if card.least_reserve_j is None or card.least_reserve_unrefilled_j is None:
        return means
    if card.least_reserve_j < 0:
        return f"{means} It takes {-card.least_reserve_j / 1000:.1f} kJ more than there are."
    return (
        f"{means} At the lowest point {card.least_reserve_j / 1000:.1f} kJ of the work above"
        " critical power are left, if it recovers as the formula says; that differs a lot between"
        f" riders, and {_unrefilled(card.least_reserve_unrefilled_j)}"
    )


def _goal_lines(goal: Goal | None) -> Iterator[str]:
    if goal is None:
        return
    powers = {
        f"a {mean_name(goal.mean_order or 1.0)}": (goal.mean_w, goal.stated_mean_w),
        "a critical power": (goal.critical_w, goal.stated_critical_w),
    }
    levels = [
        f"{name} of {_apart(needed, stated)}"
        for name, (needed, stated) in powers.items()
        if needed is not None and stated is not None
    ]
    work = "" if goal.critical_w is None else ", with the work above it as stated"
    wanted = show_duration(goal.time_s)
    held = "hold it" if goal.held else "do not hold it"
    binding = f" What binds: {goal.binds}." if goal.binds else ""
    yield f"{wanted} asks for {' and '.join(levels)}{work}; your limits {held}.{binding}"
    yield (
        f"The card that your limits allow takes {show_duration(goal.stated_time_s)} and makes"
        f" {wanted} with a chance of {chance_text(goal.chance)}."
    )
    low, high = interval_of(goal.constant_w, goal.doubt_w)
    yield (
        f"Constant power takes {goal.constant_w:.0f} W ({low:.0f} to {high:.0f} W in 95 of 100"
        f" cases, from {goal.doubt_from})."
    )


def _apart(needed: float, stated: float) -> str:
    """Two powers, with a decimal where they would read alike [W]."""
    decimals = 0 if round(needed) != round(stated) else 1
    return f"{needed:.{decimals}f} W ({stated:.{decimals}f} W stated)"


# --- The card as steps along the road ------------------------------------------------------------

PUSHED, EASED = 1.05, 0.85
"""Shares of constant power above which a section is pushed, where no critical power says it, and
below which it is eased; our choice."""

STEEP, BLOWN = 0.0095, 1.0
"""Grade and head wind [m/s] from which they are what a section is known by; our choice."""


def efforts(card: Card) -> tuple[float, float]:
    """Above which power one pushes, and below which one eases [W]."""
    even = card.constant_power_w
    return card.critical_power_w or PUSHED * even, EASED * even


def effort_of(target: Target, card: Card) -> Effort:
    """How hard a section is for the rider."""
    hard, easy = efforts(card)
    if not target.pedalled or target.power_w < easy:
        return "ease"
    return "push" if target.power_w > hard else "hold"


def cue_of(target: Target) -> str:
    """What a section is known by, in three words at most: "then" where a wind comes later in it."""
    if not target.pedalled:
        return "roll"
    if abs(target.grade) >= STEEP:
        slope = "climb" if target.grade > 0 else "descent"
        return f"{slope} {100 * abs(target.grade):.0f} %"
    if abs(target.head_wind_m_s) < BLOWN:
        return "level"
    later = "then " if target.entered_head_wind_m_s * target.head_wind_m_s < 0 else ""
    return f"{later}{'head' if target.head_wind_m_s > 0 else 'tail'} wind"


def card_steps(card: Card, units: System, path: str = "") -> list[Step]:
    """Where each power of a card begins, the landmarks between, and the finish.

    Parameters
    ----------
    card : Card
        The card.
    units : {"metric", "imperial"}
        Of the reader.
    path : str
        Of the card in the JSON, with its last slash.
    """
    step = _stepping(card, units)
    ends = enumerate(target.elapsed_s for target in card.targets)
    since = [("", 0.0), *((f"{path}targets/{at}", one) for at, one in ends)]
    steps = [
        step(
            target.from_m,
            Cell(show_duration(begun), "", begun, f"{where}/elapsed_s" if where else ""),
            _watts_of(target, f"{path}targets/{at}/power_w"),
            Cell(cue_of(target)),
            effort_of(target, card),
        )
        for at, (target, (where, begun)) in enumerate(zip(card.targets, since, strict=False))
    ]
    marks = [
        step(one.at_m, _passed(one, f"{path}landmarks/{at}"), Cell(""), quoted(one.name), None, one)
        for at, one in enumerate(card.passages)
    ]
    # A landmark comes before the power that begins there: it says that it does.
    ordered = sorted([*marks, *steps], key=lambda one: (one.at, one.effort is not None))
    end = Cell(show_duration(card.time_s), "strong", card.time_s, f"{path}time_s")
    return [*ordered, step(card.targets[-1].to_m, end, Cell(""), Cell("Finish"), None)]


def _stepping(card: Card, units: System) -> Callable[..., Step]:
    """Make steps, with a decimal more where two sections would begin at the same number."""
    begins = [one.from_m for one in card.targets] + [card.targets[-1].to_m]
    shown = [show_number(one, "course_distance", units, 1) for one in begins]
    decimals = 1 if len(set(shown)) == len(shown) else 2
    unit = unit_size("course_distance", units)

    def step(
        at: float,
        clock: Cell,
        power: Cell,
        cue: Cell,
        effort: Effort | None,
        mark: Passage | None = None,
    ) -> Step:
        where = Cell(show_number(at, "course_distance", units, decimals))
        note = quoted(mark.note) if mark and one_line(mark.note) else None
        return Step(at / unit, where, power, clock, cue, effort, note)

    return step


def _watts_of(target: Target, key: str) -> Cell:
    shown = f"{target.power_w:.0f}" if target.pedalled else "roll"
    return Cell(shown, "strong", target.power_w if target.pedalled else None, key)


def _passed(one: Passage, key: str) -> Cell:
    return Cell(show_duration(one.elapsed_s), "", one.elapsed_s, f"{key}/elapsed_s")


# --- Behind the card -----------------------------------------------------------------------------


def _charts(found: Pacing, units: System) -> Curves:
    """Watts of the card and of the ideal, and where more of them count."""
    plan, unit = found.ridden, shown_unit("course_distance", units)
    even = np.linspace(0.0, plan.nodes[-1], 400)
    along = to_shown(even, "course_distance", units)
    middle = 0.5 * (plan.nodes[1:] + plan.nodes[:-1])
    targets = found.card.targets
    ends = to_shown(np.array([target.to_m for target in targets]), "course_distance", units)
    worth = np.array([target.seconds_per_watt for target in targets]) / np.diff(ends, prepend=0.0)
    hardest, dearest = max(targets, key=lambda one: one.power_w), int(np.argmax(worth))
    section = np.minimum(np.searchsorted(ends, along), len(ends) - 1)
    coarse = found.card.ideal_sections
    ideal = "the ideal" if coarse is None else _ideal_words(found.card)
    return Curves(
        along,
        {
            f"watts over {unit}: the card": np.interp(even, middle, plan.power),
            f"watts over {unit}: {ideal}": np.interp(even, middle, found.ideal.pedalled),
            f"where watts count: seconds saved by 10 W more on each {unit} of a section": (
                10.0 * worth[section]
            ),
        },
        f"The hardest section is ridden at {hardest.power_w:.0f} W; watts count most on section"
        f" {dearest + 1}: {10.0 * worth[dearest]:.1f} s for 10 W more on each {unit}.",
        across=unit,
    )


def _what_if_table(found: Pacing) -> Table:
    mean = found.limit.mean is not None

    def effort(one: WhatIf) -> str:
        if one.effort is None:
            return "-"
        return f"{one.effort:.1f} W" if mean else f"{one.effort / 1000:.1f} kJ"

    return Table(
        "The same card in another wind",
        [
            Words("wind", "words"),
            Clock("time", "time_s", unknown="nearly stops"),
            Made("effort" if mean else "reserve", "effort", effort),
            Made("in limit", "", lambda one: "yes" if one.held else "no", left=True),
            Number("new card s", "remaking_saves_s", unknown="-", form="+.1f"),
            Number("gain s", "saved_s", unknown="-", form="+.1f"),
        ],
        found.what_ifs,
        "In limit: whether the card keeps the limit; if not, ride softer. New card: seconds that a"
        " card made for that wind would save; negative where it must be softer. Gain: seconds that"
        " this card saves there over constant power at the same effort.",
        path="what_if",
    )


def limits_table(limits: tuple[LimitKept, ...], path: str, depth: Depth = Depth.DETAILS) -> Table:
    """Each limit and what a ride comes to."""
    return Table(
        "Each limit",
        [
            Words("limit", "limit"),
            Made("comes to", "comes_to_w", _comes_to),
            Made("held", "held", lambda one: "yes" if one.held else "no", left=True),
        ],
        limits,
        depth=depth,
        path=path,
    )


def _comes_to(one: LimitKept) -> str:
    if one.comes_to_w is not None:
        return f"{one.comes_to_w:.1f} W"
    return f"{(one.least_reserve_j or 0.0) / 1000:.1f} kJ left"


def _critical_lines(found: Pacing) -> Iterator[str]:
    """What the race power throughout would take, and where critical power comes from."""
    if found.asked.demand:
        yield f"The race power throughout: {found.asked.demand}"
    if found.asked.fit:
        yield _fit_words(found.asked.fit)


def _fit_words(fit: CriticalFit) -> str:
    sure = "two points cannot show its doubt"
    if fit.critical_interval and fit.work_interval:
        (low, high), (least, most) = fit.critical_interval, fit.work_interval
        sure = (
            f"95 % intervals {max(low, 0.0):.0f} to {high:.0f} W and {max(least, 0.0) / 1000:.1f}"
            f" to {most / 1000:.1f} kJ from {len(fit.points)} points"
        )
    off = max(abs(one) for one in fit.residuals)
    return (
        f"Fitted: {fit.critical:.0f} W and {fit.work / 1000:.1f} kJ above it; {sure}; points off by"
        f" {off:.0f} W at most (Monod and Scherrer 1965)"
    )


# --- The cards of several races ------------------------------------------------------------------

TOGETHER = [
    RACE,
    Clock("card", "found.card.time_s"),
    Clock("even power", "found.card.constant_power_time_s"),
    Number("W", "found.card.mean_power_w", form=".0f"),
]


def paces_together(found: Sequence[PaceAnswer]) -> tuple[str, Table]:
    """The cards of several races: between which their times lie, and a row for each."""
    times = [one.found.card.time_s for one in found]
    note = "Each card by itself: racecalc pace RACE."
    table = Table("", TOGETHER, found, note, Depth.ANSWER, path="races")
    return time_span(min(times), max(times)), table
