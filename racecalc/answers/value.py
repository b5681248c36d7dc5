"""``racecalc value``: what each option is worth in seconds and in money."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from racecalc.answers.basis import Basis, chain_blocks
from racecalc.answers.cells import Cell, quoted, several
from racecalc.answers.columns import (
    Amount,
    Chance,
    Column,
    Made,
    Number,
    Quantity,
    Seconds,
    Verdict,
    Words,
    seconds_between,
)
from racecalc.answers.sheet import Block, Depth, Line, Lines, Sheet, Table
from racecalc.decisions.explain import ExplainedStep
from racecalc.decisions.value import OptionValue, SeasonValue, SetValue
from racecalc.decisions.worth import HoldingAnswer
from racecalc.domain.option import Option
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System, show
from racecalc.written import SPREAD, WHERE_ANY

USE_SAFELY = (
    "Only use what fits, is certified for its use, unaltered and allowed by the rules of the"
    " event; no second is worth a crash."
)


@dataclass(frozen=True)
class ValueAnswer:
    """What each option is worth."""

    baseline_time_s: float
    """Time without any option [s]."""
    options: tuple[OptionValue, ...]
    """One for each, in the order of the race file."""
    sets: tuple[SetValue, ...]
    """Options used together, solved as one."""
    season: tuple[SeasonValue, ...]
    """Options over several rounds; empty where only one race was given."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""
    explanation: Annotated[Mapping[str, Sequence[ExplainedStep]], WHERE_ANY]
    """How the numbers of an option arise, where that was asked for."""

    @property
    def ranked(self) -> list[OptionValue]:
        """The options, the one that saves most first."""
        return sorted(self.options, key=lambda value: -value.saved_s)

    @property
    def currency(self) -> str:
        """Of all amounts, as no two are ever mixed; empty where none is known."""
        return next((one.cost.currency for one in self.options if one.cost.currency), "")


def value_sheet(answer: ValueAnswer, units: System) -> Sheet:
    """What to buy first, then what each option gives, costs and rests on."""
    ranked, money = answer.ranked, answer.currency
    sure = [value for value in ranked if value.verdict == "faster"]
    return Sheet(
        (
            f"{answer.basis.title}, {show_duration(answer.baseline_time_s)}: ",
            Cell(f"{len(sure)} of {len(ranked)} options surely faster", "strong"),
        ),
        [
            Lines([*_buy_first(sure), *_test_first(ranked)]),
            Table("", WORTH, ranked, "", Depth.ANSWER, most=9),
            Lines([_overlap(answer.sets), *rules_lines([one.option for one in ranked])]),
            Table("Where the seconds come from", PARTS, ranked, PARTS_NOTE),
            Table(
                "What its weight alone does, and the watts from which on it pays",
                WEIGHT,
                ranked,
                WEIGHT_NOTE,
            ),
            Table("What it costs to use", _costs(money), _used(ranked), COSTS_NOTE),
            Lines([line for one in ranked if (line := _crossover(one))], "", Depth.DETAILS),
            *(block for one in ranked for block in holding_blocks(one)),
            Table("Used together, solved as one", SETS, answer.sets, SETS_NOTE),
            *season_blocks(answer.season),
            Lines(_reasons(ranked), "Why these verdicts", Depth.DETAILS),
            Lines([*_wishes(ranked)], "What you want before using it", Depth.DETAILS),
            Lines(_told(ranked, "comfort"), "How it feels, in your words", Depth.DETAILS),
            Lines(_told(ranked, "note"), "Your notes", Depth.DETAILS),
            Lines([f"In brackets the 95 % interval from {_doubts(ranked)}."], "", Depth.BASIS),
            Lines([*_tests(ranked)], "About the tests", Depth.BASIS),
            *answer.basis.blocks(units, USE_SAFELY),
            *chain_blocks(answer.explanation),
        ],
        units,
    )


# --- what to do ----------------------------------------------------------------------------------


def _buy_first(sure: Sequence[OptionValue]) -> Iterator[Line]:
    free = [value for value in sure if value.price_per_second == 0]
    if free:
        yield ("Costs nothing: ", *several([one.option.name for one in free]), ".")
    priced = [value for value in sure if value.price and value.price_per_second]
    if priced:
        best, *rest = sorted(priced, key=lambda one: one.price_per_second or 0.0)
        then: Line = ("; then ", *several([one.option.name for one in rest], 2)) if rest else ()
        yield (
            "Best for the money: ",
            quoted(best.option.name),
            f", {_saved(best)} s for {best.price}",
            *then,
            ".",
        )


def _test_first(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    names = [one.option.name for one in ranked if one.verdict == "undecided"]
    if names:
        yield (Cell("Undecided", "open"), ", test before you pay: ", *several(names), ".")


def _saved(value: OptionValue) -> str:
    return seconds_between(value.saved_s, value.saved_s_low, value.saved_s_high)


def _overlap(sets: Sequence[SetValue]) -> Line:
    overlapping = [one for one in sets if one.saved_s < 0.95 * one.sum_of_single_s]
    if not overlapping:
        return ""
    one = overlapping[0]
    return (
        "Savings overlap: ",
        quoted(" + ".join(one.names)),
        f" save {one.saved_s:.0f} s together, not {one.sum_of_single_s:.0f} s.",
    )


def rules_lines(options: Sequence[Option]) -> Iterator[Line]:
    """What is known of the rules; nothing where all is allowed as far as the user knows."""
    for status, words in (("forbidden", "Forbidden"), ("not checked", "Rules not checked yet")):
        names = [option.name for option in options if option.ties.rules == status]
        if names:
            those = ("any of these",) if len(names) == len(options) else several(names)
            yield (f"{words}: ", *those, ".")


# --- the tables ----------------------------------------------------------------------------------


def _price(value: OptionValue) -> str:
    return "yours" if value.option.upkeep.owned else str(value.price or "-")


def _per_second(value: OptionValue) -> str:
    if value.price is None or value.price_per_second is None:
        return "no gain" if value.price and value.saved_s <= 0 else "-"
    if not value.price_per_second or value.chance_faster is None:
        return "?" if value.price_per_second else "free"
    return _perhaps(value.price_per_second, value.price_per_second_high)


def _perhaps(amount: float, at_the_low_end: float | None) -> str:
    """Money for a second; "~" marks seconds that may be none."""
    return f"{'' if at_the_low_end is not None else '~'}{amount_text(amount)}"


def _needed(key: str, heading: str) -> Column:
    def shown(value: OptionValue) -> str:
        watts = getattr(value, key)
        return "too many" if watts is None else "none" if watts <= 0 else f"{watts:.2f}"

    return Made(heading, key, shown)


class TestedAt(Column):
    """The speed of a test, or where none is stated its power."""

    def _made(self, value: Any, row: Any, units: System) -> str:
        return show(value, "speed", units) if value else show(row.test_power_w, "power", units)


NAME = Words("option", "option.name")
WORTH = [
    NAME,
    Seconds("saves s (95 %)", "saved_s"),
    Made("price", "", _price),
    Made("a second", "price_per_second", _per_second),
    Verdict("verdict", "verdict"),
]
PARTS = [
    NAME,
    Number("air", "aero_s", "+.1f"),
    Number("rolling", "rolling_s", "+.1f"),
    Number("chain", "drivetrain_s", "+.1f"),
    Number("mass", "mass_s", "+.1f"),
    Number("power", "power_s", "+.1f"),
    Number("watts\nhere", "watts_equivalent_w", "+.1f", unknown="-"),
    Chance("chance", "chance_faster"),
]
PARTS_NOTE = (
    "Watts here: what would save as much all along this course. Chance that it is faster at all; ?"
    " where no doubt is stated."
)
WEIGHT = [
    NAME,
    Quantity("", "option.mass", what="small_mass", signed=True),
    Number("alone\ns", "weight_s", "+.1f"),
    Number("alone\nW here", "weight_w", "+.1f", unknown="-"),
    _needed("break_even_w", "pays\nfrom W"),
    _needed("break_even_price_w", "for its\nprice W"),
    TestedAt("tested at", "test_speed_m_s"),
]
WEIGHT_NOTE = (
    "Pays from: at the speed or power of its test, or this race's mean speed where none is stated."
    " For its price: so that a second costs what it is worth to you."
)
COSTS_NOTE = (
    "A race: the price less the resale, over the races it serves, or the hire if that is less; a"
    " second: that over the seconds saved, another figure than the purchase price per second above;"
    " ~ where the gain may be nothing. ? means that its life (or races_a_season) is not stated."
    " Worth at most: its seconds at the price you set on one."
)
SETS = [
    Made("set", "", lambda one: " + ".join(one.names) + _tested(one), left=True),
    Made("saves s", "saved_s", lambda one: f"{one.saved_s:+.1f}{_plus_minus(one.doubt_s)}"),
    Number("by\nparts", "by_parts_s", "+.1f"),
    Number("singles", "sum_of_single_s", "+.1f"),
    Quantity("", "mass_kg", what="small_mass", signed=True),
    Amount("price", "price", unknown="-"),
]
SETS_NOTE = (
    "By parts: their drag areas added; singles: the sum of what each saves alone. +- is one"
    " standard uncertainty, the doubts of parts taken as independent. That parts may disturb each"
    " other's air shows only in a set marked as tested: there the test counts, and its gap to the"
    " parts is what they do to each other."
)


def _costs(currency: str) -> list[Column | None]:
    return [
        NAME,
        Amount(f"a race\n{currency}", "cost.per_race"),
        Made("by", "", lambda value: value.cost.by or "?", left=True),
        Amount(f"a season\n{currency}", "cost.per_season"),
        Made("a second\nof a race", "race_price.at", _second_of_a_race),
        Made(f"worth at\nmost {currency}", "", _ceiling),
    ]


def _used(ranked: Sequence[OptionValue]) -> list[OptionValue]:
    """Those that cost something to use; none where nothing but prices is known."""
    known = any(
        one.ceiling or one.option.upkeep.hire or one.option.upkeep.life or one.option.upkeep.owned
        for one in ranked
    )
    return [one for one in ranked if known and (one.price or one.cost.by)]


def _second_of_a_race(value: OptionValue) -> str:
    if value.saved_s <= 0:
        return "no gain"
    if value.chance_faster is None or value.race_price.at is None:
        return "?"
    return _perhaps(value.race_price.at, value.race_price.high)


def _ceiling(value: OptionValue) -> str:
    found = value.ceiling
    if found is None or value.chance_faster is None:
        return "-" if found is None else "?"
    sure = found.low is None or found.high is None or found.low >= found.high
    return f"{found.at:.0f}" + ("" if sure else f" ({found.low:.0f} to {found.high:.0f})")


def _crossover(value: OptionValue) -> str:
    cost, name = value.cost, value.option.name
    if cost.hire_per_race is None or value.price is None:
        return ""
    if cost.buys_from_race is None:
        return f"{name}: hiring costs less than buying as long as it lasts."
    return f"{name}: buying costs no more than hiring from race {cost.buys_from_race} on."


def _tested(one: SetValue) -> str:
    return f" (tested{'' if one.wholly_tested else ' in part'})" if one.tested else ""


def _plus_minus(doubt: float | None, unknown: str = "") -> str:
    return unknown if doubt is None else f" +- {doubt:.1f}"


def holding_blocks(value: OptionValue) -> Iterator[Block]:
    """How long a position must be held, and what it may cost in power; nothing for the rest."""
    found = value.holding
    if found is None:
        return
    columns: list[Column | None] = [
        Made("costs W", "", lambda row: f"{found.losses_w[row]:.0f}"),
        *(_held(found, place, share) for place, share in enumerate(found.held)),
    ]
    yield Table(
        f"{value.option.name}: seconds saved, if it is held for a share of the riding time",
        columns,
        range(len(found.losses_w)),
        f"As stated, held {100 * found.share:.0f} % at a loss of {found.loss_w:.1f} W while held."
        f" {_must_hold(found)}",
    )


def _held(found: HoldingAnswer, place: int, share: float) -> Column:
    return Made(f"{100 * share:.0f} %", "", lambda row: f"{found.table[row][place]:+.1f}")


def _must_hold(found: HoldingAnswer) -> str:
    if found.break_even_time is None or found.break_even_course is None:
        return "Even held throughout it saves nothing then."
    pays = (
        f"It then pays from {100 * found.break_even_course:.0f} % of the course on"
        f" ({100 * found.break_even_time:.0f} % of the time)."
        if found.break_even_time
        else "It never costs time."
    )
    power = found.break_even_power_w
    return f"{pays} Held throughout it may cost up to {power:.1f} W." if power else pays


def season_blocks(season: Sequence[SeasonValue]) -> Iterator[Block]:
    """What each option saves over all rounds; nothing where only one race was given."""
    if not season:
        return
    rounds = ", ".join(f"{number} {name}" for number, name in enumerate(season[0].rounds, 1))
    yield Table(
        f"Over {len(season[0].rounds)} rounds",
        SEASON,
        sorted(season, key=lambda one: -one.total_s),
        f"Rounds: {rounds}. The options of this race file, tried with the rider, bike, weather and"
        " course of each. A second: the purchase price over the seconds of all rounds. +- is one"
        " standard uncertainty, the saving being wrong alike in every round.",
        Depth.ANSWER,
        most=8,
    )


SEASON = [
    Words("option", "name"),
    Made("seconds\nin all", "total_s", lambda o: f"{o.total_s:+.1f}{_plus_minus(o.doubt_s, ' ?')}"),
    Made("least", "", lambda one: f"{min(one.saved_s):+.1f} in {one.least}"),
    Made("most", "", lambda one: f"{max(one.saved_s):+.1f} in {one.most}"),
    Amount("a second", "price_per_second", unknown="-"),
]


# --- the words -----------------------------------------------------------------------------------


def _reasons(ranked: Iterable[OptionValue]) -> list[Line]:
    """One line for each reason, with the options it holds for."""
    names: dict[tuple[str, str], list[str]] = {}
    for one in ranked:
        names.setdefault((one.verdict, one.because), []).append(one.option.name)
    return [f"{word}, because {why}: {', '.join(those)}" for (word, why), those in names.items()]


def _wishes(ranked: Iterable[OptionValue]) -> Iterator[Line]:
    for one in ranked:
        if one.enough is not None:
            so = "it will do" if one.enough else "leave it, whatever the seconds say"
            yield (
                f"{one.option.name}: you want {one.option.ties.least_gain:.0f} W here; it gives"
                f" {one.watts_equivalent_w or 0.0:.1f} W, so {so}"
            )


def _told(ranked: Iterable[OptionValue], about: str) -> list[Line]:
    return [
        f"{one.option.name}: {words}" for one in ranked if (words := getattr(one.option, about))
    ]


def _doubts(ranked: Iterable[OptionValue]) -> str:
    bands = [one.band for one in ranked if one.band]
    if not bands:
        return "the doubt of its claim or test"
    worst = max(band.surrogate_error_s.largest for band in bands)
    return (
        f"all stated doubts, those shared with and without the option cancelled (seed"
        f" {bands[0].seed}, {bands[0].draws} draws through a quadratic fit of the course time, off"
        f" by {worst:.2g} s at most where solved in full)"
    )


def _tests(ranked: Iterable[OptionValue]) -> Iterator[Line]:
    for one in ranked:
        if one.option.saves and (one.assumptions or one.option.trial):
            assumed = f": {'; '.join(one.assumptions)}" if one.assumptions else ""
            yield f"{one.option.name} ({one.option.saves.words}){assumed}"
