"""``racecalc value`` as text."""

from collections.abc import Sequence

from racecalc.decisions.riding import Ridden
from racecalc.decisions.season import SeasonValue
from racecalc.decisions.set_value import SetValue
from racecalc.decisions.value import OptionValue
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System, show
from racecalc.views.basis import basis_text
from racecalc.views.cost_page import cost_text, holding_text, rules_lines, season_text
from racecalc.views.tables import bullets, chance_text, paragraph, signed, table


def value_text(
    base: Ridden,
    values: Sequence[OptionValue],
    joint: Sequence[SetValue],
    season: Sequence[SeasonValue],
    units: System,
) -> str:
    """Seconds, doubt and money of each option, then where the seconds come from."""
    ranked = sorted(values, key=lambda value: -value.saved_s)
    return (
        paragraph(f"{base.race.name}: {show_duration(base.time, 1)} without any option")
        + "\n"
        + table(
            ("<option", "seconds saved", "chance", "price", "per second", "<verdict"),
            [_worth_row(value) for value in ranked],
        )
        + "\n"
        + paragraph(
            f"In brackets the 95 % interval from {_doubts_used(ranked)}; chance that it is faster"
            " at all; ? where no doubt is stated. Price over seconds is a purchase price, not a"
            " price per race; ~ marks one whose gain may be nothing."
        )
        + _parts_text(ranked)
        + _break_even_text(ranked, units)
        + cost_text(ranked)
        + "".join(holding_text(value) for value in ranked)
        + _sets_text(joint, units)
        + season_text(season)
        + bullets("Why these verdicts", _reasons(ranked))
        + bullets("What you want before using it", _wishes(ranked))
        + bullets(
            "How it feels, in your words; no seconds are made of it",
            [
                f"{value.option.name} ({show(value.option.mass, 'small_mass', units, signed=True)}"
                f"): {value.option.comfort}"
                for value in ranked
                if value.option.comfort
            ],
        )
        + bullets(
            "Your notes",
            [f"{value.option.name}: {value.option.note}" for value in ranked if value.option.note],
        )
        + bullets("Rules of the event", rules_lines([value.option for value in ranked]))
        + bullets(
            "About the tests",
            [line for value in ranked if (line := _about_the_test(value))],
        )
        + basis_text(base.race, units)
        + "\n"
        + paragraph(
            "Only use what fits, is certified for its use, unaltered and allowed by the rules of"
            " the event; no second is worth a crash."
        )
    )


def _doubts_used(values: Sequence[OptionValue]) -> str:
    bands = [value.band for value in values if value.band]
    if not bands:
        return "the doubt of its claim or test"
    worst = max((band.surrogate_error_s for band in bands), key=lambda error: error.largest)
    return (
        f"all stated doubts, those shared with and without the option cancelled (seed"
        f" {bands[0].seed}, {bands[0].draws} draws through a quadratic fit of the course time,"
        f" off by {worst.largest:.2g} s at most where solved in full)"
    )


def _worth_row(value: OptionValue) -> tuple[str, ...]:
    interval = ""
    if value.saved_s_low is not None and value.saved_s_high is not None and value.option.doubt:
        interval = f" ({signed(value.saved_s_low)} to {signed(value.saved_s_high)})"
    return (
        value.option.name,
        f"{signed(value.saved_s)}{interval}",
        _chance(value),
        _price(value),
        _price_per_second(value),
        value.verdict,
    )


def _price(value: OptionValue) -> str:
    if value.option.upkeep.owned:
        return "yours"
    return str(value.price) if value.price else "-"


def _chance(value: OptionValue) -> str:
    chance = value.chance_faster
    if chance is None:
        return "?"
    return chance_text(chance) if value.option.doubt else f"{100 * chance:.0f} %"


def _price_per_second(value: OptionValue) -> str:
    if value.price is None or value.price_per_second is None:
        return "no gain" if value.price and value.saved_s <= 0 else "-"
    if not value.price_per_second:
        return "free"
    if value.chance_faster is None:
        return "?"
    mark = "" if value.price_per_second_high is not None else "~"
    return mark + amount_text(value.price_per_second, value.price.currency)


def _parts_text(values: Sequence[OptionValue]) -> str:
    # Few options cost power, so the column appears only where one does.
    parts = {
        "air": "aero_s",
        "rolling": "rolling_s",
        "chain": "drivetrain_s",
        "mass": "mass_s",
        **({"power": "power_s"} if any(value.power_s for value in values) else {}),
    }
    rows = [
        (
            value.option.name,
            *(_part(getattr(value, name)) for name in parts.values()),
            "-" if value.watts_equivalent_w is None else signed(value.watts_equivalent_w),
        )
        for value in values
    ]
    return (
        "\nWhere the seconds come from\n"
        + table(("<option", *parts, "watts here"), rows)
        + "\n"
        + paragraph("Watts here: what would save as much all along this course.")
    )


def _part(seconds: float) -> str:
    return signed(seconds) if seconds else "0"


def _break_even_text(values: Sequence[OptionValue], units: System) -> str:
    priced = any(value.break_even_price_w is not None for value in values)
    headings = (
        "<option",
        "weight",
        "alone",
        "watts here",
        "pays from",
        *(["for its price"] if priced else []),
        "at",
    )
    rows = [_break_even_row(value, units, priced) for value in values]
    return (
        "\nWhat its weight alone does, and the watts from which on it pays\n"
        + table(headings, rows)
        + "\n"
        + paragraph(
            "Alone: seconds saved by the change of weight, and the watts here worth as much. Pays"
            " from: at the speed or power of its test, or this race's mean speed where none is"
            " stated."
            + (" For its price: so that a second costs what it is worth to you." if priced else "")
        )
    )


def _break_even_row(value: OptionValue, units: System, priced: bool) -> tuple[str, ...]:
    for_price = _needed(value.break_even_price_w) if value.price else "-"
    at = (
        show(value.test_speed_m_s, "speed", units)
        if value.test_speed_m_s
        else show(value.test_power_w, "power", units)
    )
    return (
        value.option.name,
        show(value.option.mass, "small_mass", units, signed=True) if value.option.mass else "0",
        f"{_part(value.weight_s)} s" if value.weight_s else "0",
        "-" if value.weight_w is None else (signed(value.weight_w) if value.weight_w else "0"),
        _needed(value.break_even_w),
        *([for_price] if priced else []),
        at,
    )


def _wishes(values: Sequence[OptionValue]) -> list[str]:
    return [
        f"{value.option.name}: you want {value.option.ties.least_gain:.0f} W here; it gives"
        f" {0.0 if value.watts_equivalent_w is None else value.watts_equivalent_w:.1f} W, so"
        + (" it will do" if value.enough else " leave it, whatever the seconds say")
        for value in values
        if value.enough is not None
    ]


def _needed(watts: float | None) -> str:
    if watts is None:
        return "too many"
    return "none" if watts <= 0 else f"{watts:.2f}"


def _about_the_test(value: OptionValue) -> str:
    stated = value.option.saves
    if stated is None or not (value.assumptions or value.option.trial):
        return ""
    assumed = f": {'; '.join(value.assumptions)}" if value.assumptions else ""
    return f"{value.option.name} ({stated.words}){assumed}"


def _reasons(values: Sequence[OptionValue]) -> list[str]:
    """One line for each reason, with the options it holds for."""
    names: dict[str, list[str]] = {}
    for value in values:
        reason = f"{value.verdict}, because {value.because}"
        names.setdefault(reason, []).append(value.option.name)
    return [f"{reason}: {', '.join(those)}" for reason, those in names.items()]


def _tested_words(one: SetValue) -> str:
    if not one.tested:
        return ""
    return " (tested)" if one.wholly_tested else " (tested in part)"


def _sets_text(joint: Sequence[SetValue], units: System) -> str:
    if not joint:
        return ""
    rows = [
        (
            " + ".join(one.names) + _tested_words(one),
            f"{one.saved_s:+.1f}" + ("" if one.doubt_s is None else f" +- {one.doubt_s:.1f}"),
            f"{one.by_parts_s:+.1f}",
            f"{one.sum_of_single_s:+.1f}",
            show(one.mass_kg, "small_mass", units, signed=True),
            str(one.price) if one.price else "-",
        )
        for one in joint
    ]
    return (
        "\nUsed together, solved as one\n"
        + table(("<set", "seconds saved", "by parts", "singles", "mass", "price"), rows)
        + "\n"
        + paragraph(
            "By parts: their drag areas added; singles: the sum of what each saves alone. +- is"
            " one standard uncertainty, the doubts of parts taken as independent. That parts may"
            " disturb each other's air shows only in a set marked as tested: there the test"
            " counts, and its gap to the parts is what they do to each other."
        )
    )
