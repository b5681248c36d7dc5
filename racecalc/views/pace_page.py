"""``racecalc pace`` as text."""

from collections.abc import Iterable

import numpy as np

from racecalc.decisions.pacing.card import ASTRAY, Card, Goal, Pacing, WhatIf
from racecalc.decisions.pacing.limits import mean_of
from racecalc.decisions.riding import Ridden
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, shown_unit, to_shown
from racecalc.views.basis import basis_text
from racecalc.views.card_page import card_table, effort_words, ideal_words
from racecalc.views.chart import curve_chart
from racecalc.views.tables import bullets, chance_text, paragraph, table

LEAST_SHOWN = 0.05
"""Seconds that are not shown as none."""


def pace_text(
    base: Ridden,
    found: Pacing,
    goal: Goal | None,
    units: System,
    chart: bool,
) -> str:
    """The card, what it gains and gives away, where a watt counts, and what wind does to it."""
    return (
        paragraph(f"{base.race.name}: targets for {show_duration(found.card.time_s)}")
        + paragraph(f"Held: {found.card.limit}.")
        + (_goal_text(goal) if goal else "")
        + "\n"
        + card_table(found.card, units)
        + "\n"
        + paragraph(
            "Watts where the power meter stands; s/W: seconds saved by one watt more on the whole"
            " section. km/h, times and passages are estimates, no targets."
        )
        + "\n"
        + paragraph(_gain_text(found))
        + paragraph(effort_words(found.card))
        + (_charts(found, units) if chart else "")
        + _what_if_text(found)
        + bullets("What speaks against it", found.card.warnings)
        + bullets("Critical power", _critical_lines(found))
        + bullets("Assumed for the pacing", found.asked.assumed)
        + bullets("Before you follow it", found.card.cautions)
        + basis_text(base.race, units)
    )


def second_text(changes: Iterable[str], card: Card, units: System) -> str:
    """A second card, made for the race file with changes."""
    return (
        f"\nThe card for {', '.join(changes)}: {show_duration(card.time_s)}\n"
        + paragraph(f"Held: {card.limit}.")
        + card_table(card, units)
        + bullets("What speaks against it", card.warnings)
    )


def _gain_text(found: Pacing) -> str:
    card = found.card
    gains = "gains" if card.saved_s >= 0 else "loses"
    gain = (
        f"The card {gains} {abs(card.saved_s):.1f} s over one power all along at the same limit"
        f" ({card.constant_power_w:.0f} W, {show_duration(card.constant_power_time_s, 1)}) and"
        f" gives {card.given_away_s:.1f} s away to the ideal {ideal_words(card)}"
        f" ({show_duration(card.ideal_time_s, 1)})."
    )
    if found.astray_s is None or found.astray_s < LEAST_SHOWN:
        return gain
    return (
        f"{gain} Ridden {100 * ASTRAY:.0f} % too hard and too soft by turns it takes"
        f" {found.astray_s:.1f} s more at the same effort."
    )


def _charts(found: Pacing, units: System) -> str:
    plan, unit = found.ridden, shown_unit("course_distance", units)
    even = np.linspace(0.0, plan.nodes[-1], 400)
    middle = 0.5 * (plan.nodes[1:] + plan.nodes[:-1])
    along = to_shown(even, "course_distance", units)
    ideal = np.interp(even, middle, found.ideal.pedalled)
    card = np.interp(even, middle, plan.power)
    targets = found.card.targets
    ends = np.array([target.to_m for target in targets])
    in_unit = float(to_shown(np.array([1.0]), "course_distance", units)[0])
    worth = [
        target.seconds_per_watt / (target.to_m - target.from_m) / in_unit for target in targets
    ]
    section = np.minimum(np.searchsorted(ends, even), len(ends) - 1)
    title = f"watts over {unit}: the card, and . the ideal"
    return curve_chart(along, card, title, [(along, ideal, ".")]) + curve_chart(
        along,
        np.array(worth)[section],
        f"where a watt counts: seconds saved by it on each {unit} of a section",
    )


def _goal_text(goal: Goal) -> str:
    levels = [
        f"{name} of {needed:.0f} W where {stated:.0f} W are stated"
        for name, needed, stated in (
            ("a mean", goal.mean_w, goal.stated_mean_w),
            ("a critical power", goal.critical_w, goal.stated_critical_w),
        )
        if needed is not None and stated is not None
    ]
    work = "" if goal.critical_w is None else ", the work above it as it is"
    return "\n" + paragraph(
        f"For {show_duration(goal.time_s)} it takes {goal.constant_w:.0f} W all along, or by a"
        f" card {' and '.join(levels)}{work}, give or take"
        f" {goal.doubt_w:.0f} W (one standard uncertainty, {goal.doubt_s:.0f} s:"
        f" {goal.doubt_from}). The card below makes it with a chance of"
        f" {chance_text(goal.chance)}, if it can be held."
    )


def _what_if_text(found: Pacing) -> str:
    if not found.what_ifs:
        return ""
    power_mean = mean_of(found.limit) is not None
    rows = [_what_if_row(one, power_mean) for one in found.what_ifs]
    headings = (
        "<if there is",
        "time",
        "comes to" if power_mean else "left",
        "<held",
        "new card",
        "even",
    )
    return (
        "\nThe same card in another wind\n"
        + table(headings, rows, wrapped=0)
        + "\n"
        + paragraph(
            "Held: whether the limit still is; where it is not, ride softer. New card: seconds that"
            " targets made for that wind would save, minus where they must be softer. Even: seconds"
            " this card gains there over one power all along that takes as much effort."
        )
    )


def _what_if_row(one: WhatIf, power_mean: bool) -> tuple[str, ...]:
    if one.time_s is None or one.remade_s is None or one.effort is None:
        return one.words, "nearly stops", "-", "no", "-", "-"
    even = "-" if one.constant_s is None else f"{one.constant_s - one.time_s:+.1f}"
    return (
        one.words,
        show_duration(one.time_s, 1),
        f"{one.effort:.1f} W" if power_mean else f"{one.effort / 1000:.1f} kJ",
        "yes" if one.held else "no",
        f"{one.time_s - one.remade_s:+.1f}",
        even,
    )


def _critical_lines(found: Pacing) -> list[str]:
    """What the race power all along would take, and where critical power comes from."""
    lines = [f"the race power all along: {found.asked.demand}"] if found.asked.demand else []
    fit = found.asked.fit
    if fit is None:
        return lines
    sure = "no doubt can be told from two points"
    if fit.critical_interval and fit.work_interval:
        (low, high), (least, most) = fit.critical_interval, fit.work_interval
        sure = (
            f"95 % intervals {max(low, 0.0):.0f} to {high:.0f} W and {max(least, 0.0) / 1000:.1f}"
            f" to {most / 1000:.1f} kJ from {len(fit.points)} points"
        )
    off = max(abs(one) for one in fit.residuals)
    return [
        *lines,
        f"fitted: {fit.critical:.0f} W and {fit.work / 1000:.1f} kJ above it; {sure}; points off by"
        f" {off:.0f} W at most (Monod and Scherrer 1965)",
    ]
