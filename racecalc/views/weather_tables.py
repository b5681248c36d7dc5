"""Tables of ``racecalc weather``: options, choices and baskets over the days."""

import math
from collections.abc import Sequence

from racecalc.decisions.weather import OptionOverDays, RaceDay
from racecalc.decisions.weather_options import BasketOnDays
from racecalc.quantities.showing import System
from racecalc.views.tables import chance_text, paragraph, signed, table
from racecalc.views.weather_words import day_words

FEW = 50
"""Up to so many days a share is shown as a count."""


def options_text(found: RaceDay) -> str:
    """What each option saves over the days; empty without options."""
    if not found.options:
        return ""
    ranked = sorted(found.options, key=_median, reverse=True)
    drawn = found.share_error is not None
    within = "80 % of days" if drawn else "all rows"
    error = (
        f" Drawn anew, a share may differ by up to {100 * found.share_error:.0f} points."
        if found.share_error is not None
        else ""
    )
    gusty = (
        " Median, range and faster are of the days on which gusts allow it."
        if any(option.share_ruled_out for option in found.options)
        else ""
    )
    return (
        "\nWhat each option saves, in seconds\n"
        + table(
            ("<option", "stated", "median", within, "faster", "best", "chance"),
            [_option_row(option, found.days, drawn) for option in ranked],
        )
        + "\n"
        + paragraph(
            "Each alone, against nothing new. Stated: in the weather of the race file; faster,"
            " best: share of the days on which it beats nothing new, and on which it is the best"
            " of its slot; x: forbidden, or worth less in the stated weather than you want of"
            f" it.{gusty} These are shares of weather at the best estimate of each saving. How"
            " sure the saving itself is stands in the last column alone: the chance by its own"
            " doubt that it is faster at all, in the stated weather; ? where no doubt is"
            f" stated.{error}"
        )
    )


def _median(option: OptionOverDays) -> float:
    return -math.inf if option.median_s is None else option.median_s


def _option_row(option: OptionOverDays, days: int, drawn: bool) -> tuple[str, ...]:
    return (
        option.name,
        signed(option.saved_s),
        *_on_usable_days(option, days, drawn),
        "x" if option.barred else share_text(option.share_best, days),
        option_chance(option),
    )


def _on_usable_days(option: OptionOverDays, days: int, drawn: bool) -> tuple[str, str, str]:
    """Median, range and share of days on which it is faster; "-" where gusts never allow it."""
    low, high = (
        (option.low_80_s, option.high_80_s) if drawn else (option.lowest_s, option.highest_s)
    )
    if option.median_s is None or option.share_faster is None or low is None or high is None:
        return ("-", "-", "-")
    usable = round(days * (1.0 - option.share_ruled_out))
    return (
        signed(option.median_s),
        f"{signed(low)} to {signed(high)}",
        share_text(option.share_faster, usable),
    )


def option_chance(option: OptionOverDays) -> str:
    """Chance by its own doubt that an option is faster at all."""
    return "?" if option.chance_faster is None else chance_text(option.chance_faster)


def share_text(share: float, days: int) -> str:
    """A share of days; only what holds for every day that was looked at is called all or none."""
    if share in (0.0, 1.0):
        return "all" if share else "none"
    return f"{round(share * days)} of {days}" if days <= FEW else chance_text(share)


MOST_BASKETS = 5
"""Sets shown; the rest are few days each."""


def baskets_text(baskets: Sequence[BasketOnDays], days: int, units: System) -> str:
    """The sets that are the best on some day; empty where no budget was given."""
    if not baskets:
        return ""
    shown = [one for number, one in enumerate(baskets) if number < MOST_BASKETS or one.stated]
    rows = [
        (
            ", ".join(one.names) + (" (best as stated)" if one.stated else "") or "nothing",
            f"{one.price:.0f}",
            share_text(one.share_best, days),
            f"{one.mean_regret_s:.1f}",
            f"{one.worst_regret_s:.1f}",
        )
        for one in shown
    ]
    stated = next(one for one in baskets if one.stated)
    rest = len(baskets) - len(shown)
    return (
        "\nThe best basket of each day\n"
        + table(("<set", "price", "best", "mean s lost", "worst s lost"), rows)
        + "\n"
        + paragraph(
            "Best: share of the days on which no other set for the money saves more; lost: by"
            " keeping to that set, what gusts rule out left at home. Savings of a day are added,"
            " at their best estimates."
            + (f" {rest} more sets are the best on few days." if rest else "")
        )
        + paragraph(
            f"What is best in the stated weather loses {stated.worst_regret_s:.1f} s at worst"
            f" ({day_words(stated.worst_day, units)})."
            if stated.worst_regret_s
            else "What is best in the stated weather is the best on all of these days."
        )
    )
