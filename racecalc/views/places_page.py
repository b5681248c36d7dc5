"""``racecalc places`` as text."""

from racecalc.decisions.places import Gap, Places, Standing
from racecalc.domain.race import Race
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show
from racecalc.views.basis import basis_text
from racecalc.views.tables import bullets, chance_text, paragraph, table

LEAST_SHOWN = 0.01
"""Chance below which a place is not named."""


def places_text(race: Race, found: Places, units: System) -> str:
    """Places with and without options, the chance of each, and how far the next goals are."""
    return (
        paragraph(_heading(race, found))
        + bullets("Look at this first", found.notes)
        + "\n"
        + _standings_text(found)
        + bullets(
            f"Chance of each place that has {100 * LEAST_SHOWN:.0f} % or more",
            [line for one in found.standings if (line := _chances_line(one))],
        )
        + _gaps_text(found, units)
        + bullets("What is in these places and chances, and what is not", found.cautions)
        + basis_text(race, units)
    )


def _heading(race: Race, found: Places) -> str:
    own, start = found.own, found.standings[0]
    who = f"{own.listed_as} in the list" if own.listed_as else "your predicted time added"
    within = f", category {found.category}" if found.category else ""
    left_out = ", ".join(f"{count} {why}" for why, count in found.unplaced.items())
    return (
        f"{race.name} among {found.source}{within}: {who},"
        f" {show_duration(own.time, 1)}, {ordinal(start.place)} of {found.of} without any option"
        + _sharing(start)
        + (f". Without a place: {left_out}." if left_out else ".")
    )


def _sharing(standing: Standing) -> str:
    return f", shared with {' and '.join(standing.shared_with)}" if standing.shared_with else ""


def _standings_text(found: Places) -> str:
    targeted = found.goals.target is not None
    target = [show_duration(found.goals.target or 0.0)] if targeted else []
    headings = ("<with", "seconds saved", "place", "or better", "mean", f"top {found.goals.podium}")
    rows = [_standing_row(one, targeted=targeted) for one in found.standings]
    target_words = f"; {target[0]}: chance to reach that time" if targeted else ""
    return (
        table((*headings, *target), rows)
        + "\n"
        + paragraph(
            "+- is one standard uncertainty of the saving. Place: at the best estimate, = where"
            " it is shared, and the places after a dead heat fall out; or better: chance of that"
            f" place or a better one; mean: of all places by their chances{target_words}; - where"
            " nothing is in doubt; ? where no doubt is stated, so that no chance can be told."
        )
    )


def _standing_row(standing: Standing, *, targeted: bool) -> tuple[str, ...]:
    tried, chances = standing.tried, standing.chances
    name = tried.name + (" (forbidden)" if tried.forbidden else "")
    doubt = f" +- {tried.doubt_s:.1f}" if tried.doubt_s else ""
    place = ordinal(standing.place) + ("=" if standing.shared_with else "")
    saved = f"{tried.saved_s:+.1f}{doubt}" if tried.saved_s or doubt else "-"
    if chances is None:
        return (name, f"{saved} +- ?", place, *["?"] * (4 if targeted else 3))
    goals = [chances.chance_podium, *([chances.chance_target or 0.0] if targeted else [])]
    if standing.certain:
        return (name, saved, place, "-", "-", *("yes" if goal else "no" for goal in goals))
    mean = f"{chances.expected_place:.1f}"
    return (
        name,
        saved,
        place,
        chance_text(chances.chance_place_or_better),
        mean,
        *map(chance_text, goals),
    )


def _chances_line(standing: Standing) -> str:
    if standing.chances is None or standing.certain:
        return ""
    shown = [
        f"{ordinal(place)} {chance_text(chance)}"
        for place, chance in enumerate(standing.chances.chance_of_place, start=1)
        if chance >= LEAST_SHOWN
    ]
    return f"{standing.tried.name}: {', '.join(shown)}"


def _gaps_text(found: Places, units: System) -> str:
    if not found.gaps:
        return ""
    return (
        "\nHow far away it is without any option\n"
        + table(
            ("<goal", "time", "seconds", "watts more"),
            [_gap_row(gap, found.goals.podium, units) for gap in found.gaps],
        )
        + "\n"
        + paragraph(
            "Seconds bring you level, which shares the place and meets a target; anything more"
            " takes it alone. Watts: all along this course. In hand is what you may lose."
        )
        + bullets(
            "Single options that save that much at their best estimate (?: doubt not stated)",
            [_reaching(gap, found.goals.podium) for gap in found.gaps if gap.gap_s > 0],
        )
    )


def _gap_row(gap: Gap, podium: int, units: System) -> tuple[str, ...]:
    rivals = f", {' and '.join(gap.rivals)}" if gap.rivals else ""
    if gap.gap_s <= 0:
        seconds, watts = f"{-gap.gap_s:.1f} in hand", "-"
    else:
        seconds = f"{gap.gap_s:.1f}"
        watts = "too many" if gap.watts_w is None else show(gap.watts_w, "power", units, 1)
    return (f"{_goal(gap, podium)}{rivals}", show_duration(gap.time_s, 1), seconds, watts)


def _goal(gap: Gap, podium: int) -> str:
    names = {"place": ordinal(gap.place), "podium": f"top {podium}", "target": "target"}
    return names[gap.goal]


def _reaching(gap: Gap, podium: int) -> str:
    names = [name + (" ?" if name in gap.options_without_doubt else "") for name in gap.options]
    return f"{_goal(gap, podium)}: {', '.join(names) or 'none'}"


def ordinal(number: int) -> str:
    """A place in words.

    Examples
    --------
    >>> [ordinal(one) for one in (1, 2, 3, 4, 11, 12, 13, 21, 102, 111)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '13th', '21st', '102nd', '111th']
    """
    teens = 10 < number % 100 < 14
    return f"{number}{'th' if teens else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"
