"""What options cost in use, and what it takes for a position to pay, as text."""

from collections.abc import Sequence

from racecalc.decisions.season import SeasonValue
from racecalc.decisions.value import OptionValue
from racecalc.domain.option import Option
from racecalc.quantities.money import amount_text
from racecalc.views.tables import paragraph, signed, table


def cost_text(values: Sequence[OptionValue]) -> str:
    """What a race with each option costs; empty where nothing but prices is stated."""
    spread = [value for value in values if _more_than_a_price(value)]
    capped = any(value.ceiling for value in values)
    if not spread and not capped:
        return ""
    shown = [value for value in values if value.price or value.cost.by]
    if not capped:
        shown = [value for value in shown if _more_than_a_price(value)]
    headings = ("<option", "a race", "<by", "a season", "a second of a race")
    rows = [_cost_row(value, capped) for value in shown]
    return (
        "\nWhat it costs to use\n"
        + table((*headings, *(["worth at most"] if capped else [])), rows)
        + "\n"
        + paragraph(
            "A race: the price less the resale, over the races it serves, or the hire if that is"
            " less; a second of a race: that over the seconds saved, another figure than the"
            " purchase price per second above. ? means that its life (or races_a_season) is not"
            " stated."
            + (
                " Worth at most: what its seconds are worth at the price you set on one; in"
                " brackets over the interval of its saving."
                if capped
                else ""
            )
        )
        + "".join(paragraph(line) for value in shown if (line := _crossover(value)))
    )


def _more_than_a_price(value: OptionValue) -> bool:
    upkeep = value.option.upkeep
    return bool(upkeep.hire or upkeep.life or upkeep.owned)


def _cost_row(value: OptionValue, capped: bool) -> tuple[str, ...]:
    cost, ceiling = value.cost, value.ceiling
    per_second = "no gain" if value.saved_s <= 0 else amount_text(value.race_price.at)
    if value.race_price.at is not None and value.race_price.high is None:
        per_second = f"~{per_second}"
    row = (
        value.option.name,
        amount_text(cost.per_race, cost.currency),
        cost.by or "?",
        amount_text(cost.per_season),
        "?" if value.chance_faster is None and value.saved_s > 0 else per_second,
    )
    if not capped:
        return row
    if ceiling is None:
        return (*row, "-")
    between = ""
    if ceiling.low is not None and ceiling.high is not None and ceiling.low < ceiling.high:
        between = f" ({ceiling.low:.0f} to {ceiling.high:.0f})"
    return (*row, f"{ceiling.at:.0f}{between}" if value.chance_faster is not None else "?")


def _crossover(value: OptionValue) -> str:
    cost = value.cost
    if cost.hire_per_race is None or value.price is None:
        return ""
    name = value.option.name
    if cost.buys_from_race is None:
        return f"{name}: hiring costs less than buying as long as it lasts."
    return f"{name}: buying costs no more than hiring from race {cost.buys_from_race} on."


def holding_text(value: OptionValue) -> str:
    """How long a position must be held, and what it may cost in power; empty for the rest."""
    found = value.holding
    if found is None:
        return ""
    rows = [
        (f"{loss:.0f} W", *(signed(seconds) for seconds in row))
        for loss, row in zip(found.losses_w, found.table, strict=True)
    ]
    return (
        "\n"
        + paragraph(f"{value.option.name}: seconds saved, if it is held for")
        + table(("<and costs", *(f"{100 * share:.0f} %" for share in found.held)), rows)
        + "\n"
        + paragraph(
            f"Of the riding time; as stated, held {100 * found.share:.0f} % at a loss of"
            f" {found.loss_w:.1f} W while held. {_must_hold(value)}"
        )
    )


def _must_hold(value: OptionValue) -> str:
    found = value.holding
    if found is None or found.break_even_time is None or found.break_even_course is None:
        return "Even held throughout it saves nothing then."
    share = (
        "It never costs time."
        if not found.break_even_time
        else f"It then pays from {100 * found.break_even_course:.0f} % of the course on"
        f" ({100 * found.break_even_time:.0f} % of the time)."
    )
    power = found.break_even_power_w
    if power is None or power <= 0:
        return share
    return f"{share} Held throughout it may cost up to {power:.1f} W."


def rules_lines(options: Sequence[Option]) -> list[str]:
    """What is known of the rules; nothing where all is allowed as far as the user knows."""
    lines = []
    for status, words in (("forbidden", "forbidden"), ("not checked", "nobody has checked yet")):
        names = [option.name for option in options if option.ties.rules == status]
        if names and len(names) == len(options):
            lines.append(f"{words}: any of these options")
        elif names:
            lines.append(f"{words}: {', '.join(names)}")
    return lines


def season_text(season: Sequence[SeasonValue]) -> str:
    """What each option saves over all rounds; empty where only one race was given."""
    if not season:
        return ""
    ranked = sorted(season, key=lambda one: -one.total_s)
    rows = [
        (
            one.name,
            f"{signed(one.total_s)} +- {'?' if one.doubt_s is None else f'{one.doubt_s:.1f}'}",
            f"{signed(min(one.saved_s))} in {one.least}",
            f"{signed(max(one.saved_s))} in {one.most}",
            amount_text(one.price_per_second) if one.price_per_second else "-",
        )
        for one in ranked
    ]
    return (
        f"\nOver {len(ranked[0].rounds)} rounds\n"
        + table(("<option", "seconds in all", "least", "most", "a second"), rows)
        + "\n"
        + paragraph(
            "Rounds: "
            + ", ".join(f"{number} {name}" for number, name in enumerate(ranked[0].rounds, 1))
            + ". The options of this race file, tried with the rider, bike, weather and course of"
            " each. A second: the purchase price over the seconds of all rounds. +- is one"
            " standard uncertainty, the saving being wrong alike in every round."
        )
    )
