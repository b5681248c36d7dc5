"""``racecalc value``: what options and sets are worth; the option table of the screen."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Annotated, Any

from racecalc import __version__
from racecalc.answers.basis import Basis, costs_line, overlap_line
from racecalc.answers.cells import Cell, chance_text, joined, naming, quoted, several, verdict
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
    between,
    parted,
    saved_cell,
    saved_text,
    seconds_like,
    seconds_text,
    size_text,
)
from racecalc.answers.sheet import (
    Block,
    Depth,
    Drawn,
    Line,
    Lines,
    Posted,
    Sheet,
    Table,
    details,
    grounds,
)
from racecalc.decisions.against import Gain
from racecalc.decisions.break_even import BreakEvens
from racecalc.decisions.comparison import Failed
from racecalc.decisions.explain import explain_value
from racecalc.decisions.holding import HoldingAnswer
from racecalc.decisions.money import CostOfUse, PricePerSecond, cost_of_all
from racecalc.decisions.value import LastSpent, OptionValue, SeasonValue, SetValue, SwitchedOn
from racecalc.decisions.verdicts import give_or_take, minus
from racecalc.decisions.weather import Day, gust_limit, too_hot, too_windy
from racecalc.domain.option import Option
from racecalc.domain.race import Race
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text, exact_text, price_text
from racecalc.quantities.plain_text import one_line, shortened
from racecalc.quantities.reading import show_direction
from racecalc.quantities.showing import System, show
from racecalc.written import SPREAD, As, written

USE_SAFELY = (
    "Only use what fits, is certified for its use, unaltered and allowed by the rules of the"
    " event; no second is worth a crash."
)

# --- What is known of an option ------------------------------------------------------------------


def gain_line(value: OptionValue) -> tuple[str | Cell, ...]:
    """Seconds, their doubt and the verdict of an option."""
    chance = value.chance_faster
    sure = (
        f"no {'chance is known' if value.option.unproved else 'doubt is stated'}"
        if chance is None
        else f"{chance_text(chance)} chance that it is faster"
    )
    name, word = quoted(value.option.name), verdict(value.verdict)
    unsafe = f"; not in this weather: {value.unsafe}" if value.unsafe else ""
    return name, ": ", saved_cell(value), f", {sure}; ", word, f", because {value.because}{unsafe}"


OVERLAP = 0.95
"""Share of the sum of single savings below which they are said to overlap; our choice."""


def rules_lines(options: Sequence[Option], most: int = 2) -> Iterator[Line]:
    """What is known of the rules; nothing where all is allowed as far as the user knows."""
    for status, words in (("forbidden", "Forbidden"), ("not checked", "Check the rules")):
        names = [option.name for option in options if option.restrictions.rules == status]
        if names:
            those = ("any of these",) if len(names) == len(options) > 1 else several(names, most)
            yield (f"{words}: ", *those, ".")


def _sizes(option: Option) -> tuple[str | Cell, ...]:
    return quoted(option.other_size, 12), ", yours ", quoted(option.size, 12)


def size_lines(options: Sequence[Option], most: int = 2) -> Iterator[Line]:
    """What was tested in another size than that of the rider."""
    found = [one for one in options if one.other_size]
    said = [(quoted(one.name, 30), " (", *_sizes(one), ")") for one in found[:most]]
    if found:
        more = f" and {len(found) - most} more" if len(found) > most else ""
        yield "Tested in another size, which may save less: ", *joined(said), f"{more}."


def weather_lines(options: Sequence[Option], day: Day, most: int = 2) -> Iterator[Line]:
    """What the weather of a day forbids, and what is sensitive to side wind."""
    windy = [one.name for one in options if too_windy(one, day)]
    hot = [one.name for one in options if too_hot(one, day) and one.name not in windy]
    forbidden: list[tuple[str | Cell, ...]] = []
    if windy:
        forbidden.append((*several(windy, most), ": too windy"))
    if hot:
        forbidden.append((*several(hot, most), ": too hot"))
    if forbidden:
        yield "Not in this weather, whatever they save: ", *joined(forbidden, "; "), "."
    names = [one.name for one in options if gust_limit(one) is not None and one.name not in windy]
    yield from naming("Sensitive to side wind: ", names, most, "; gusts are not in these seconds.")


# --- Columns, and the order of rows by each ------------------------------------------------------


def test_conditions(row: OptionValue | BreakEvens, units: System) -> str:
    """The speed that watts at a test refer to, or where none is stated the power."""
    if row.test_speed_m_s:
        return show(row.test_speed_m_s, "speed", units)
    return show(row.test_power_w, "power", units)


def needed_text(watts: float | None) -> str:
    """Watts from which on something pays."""
    if watts is None:
        return "too many"
    return "none" if watts <= 0 else f"{watts:.2f}"


Needed = partial(Column, text=needed_text, unknown=needed_text(None))
"""Watts from which on something pays."""


def rate_text(value: OptionValue | Gain, rate: PricePerSecond, nothing: str) -> str:
    """Money for each second, "~" where the seconds may be none; a word where nothing is to pay."""
    if value.saving[0] <= 0:
        return "no gain"
    if not rate.at or value.chance_faster is None:
        return "?" if rate.at else nothing
    return f"{'' if rate.high is not None else '~'}{amount_text(rate.at)}"


def cost_text(use: CostOfUse, *, bare: bool = False) -> str:
    """What something costs for the races counted, or the one word for it."""
    if use.cost is None or not use.paid:
        return use.by or "?"
    return amount_text(use.cost, "" if bare else use.currency)


def cost_columns(currency: str) -> tuple[Column, Column]:
    """Costs for each second and in all, in a currency that a heading names or each with its own.

    The one word for it is written where nothing is to pay, or where no price is stated.
    """

    def cost(value: OptionValue) -> str:
        return cost_text(value.cost_of_use, bare=bool(currency))

    def per_second(value: OptionValue) -> str:
        return rate_text(value, value.use, cost(value))

    heading = f"{currency}/s" if currency else "per second"
    return Made(heading, "cost_per_second", per_second), Made("cost", "cost", cost)


def _price(currency: str) -> Column:
    def price(value: OptionValue) -> str:
        return price_text(value.price, owned=value.option.ownership.owned, bare=bool(currency))

    return Made("price", "", price)


SURE = "sure seconds"
"""Order by what an option saves with a chance of 90 %."""

ORDERS: dict[str, Callable[[OptionValue], float | str]] = {
    "seconds": lambda row: -row.saved_s,
    "money per second": lambda row: _missing_last(row.cost_per_second),
    "cost": lambda row: _missing_last(row.cost),
    "chance": lambda row: 1.0 if row.chance_faster is None else -row.chance_faster,
    SURE: lambda row: _missing_last(minus(row.surely_saved_s)),
    "weight": lambda row: row.option.mass,
    "name": lambda row: row.option.name.casefold(),
    "slot": lambda row: row.option.slot.casefold(),
}
"""Orders of the rows, by what is best or first in each."""


def _missing_last(value: float | None) -> float:
    return float("inf") if value is None else value


def currency_of(rows: Iterable[OptionValue]) -> str:
    """The currency of all prices; empty where there is none, or more than one."""
    found = {row.cost_of_use.currency for row in rows} - {""}
    return found.pop() if len(found) == 1 else ""


def option_columns(
    marks: Mapping[str, str], currency: str, room: int = 0
) -> list[tuple[str, Column]]:
    """The columns, each with the order that its heading asks for, empty for none.

    `marks` are the letters before names, and a name longer than `room` is cut.
    """
    per_second, cost = cost_columns(currency)
    return [
        ("", Made("", "", lambda row: marks.get(row.option.name, " "), left=True)),
        ("name", Made("option", "", lambda row: quoted(row.option.name, room or None), left=True)),
        ("seconds", Made("saves s", "", lambda row: parted(*row.saving)[0])),
        ("", Made("95 %", "", lambda row: parted(*row.saving)[1])),
        ("", Verdict("verdict", "verdict")),
        ("chance", Chance("chance", "chance_faster")),
        ("money per second", per_second),
        ("cost", cost),
        ("weight", Made("mass s", "", _weight)),
    ]


def _weight(row: OptionValue) -> str:
    if not row.option.mass:
        return "0"
    return f"{row.weight_s:+.1f}" if row.weight_known else "..."


# --- The options in use, as one set --------------------------------------------------------------


def _counted(verdicts: Sequence[str]) -> Line:
    """How many options are faster, and how to use one."""
    counts = [f"{verdicts.count(word)} {word}" for word in dict.fromkeys(verdicts)]
    found = f"Of {len(verdicts)} options alone {', '.join(counts)}. " if counts else ""
    return f"{found}Space switches one on: all that are on are then solved as one set."


def used_sheet(
    found: SwitchedOn | None, refused: Sequence[Failed] = (), verdicts: Sequence[str] = ()
) -> Sheet:
    """What the set saves together, what it costs, and what the dearest part of it buys.

    `verdicts` are those of all options alone.
    """
    odd: list[Line] = [f"! {one}" for one in found.conflicts] if found else []
    odd += [("! Not worked out: ", quoted(one.name), f": {one.problem}") for one in refused]
    if found is None:
        return Sheet(_counted(verdicts), [Lines(odd)])
    value = found.value
    return Sheet(
        (
            "Used together: ",
            *several(value.names, len(value.names)),
            ": ",
            saved_cell(value),
            "" if value.doubt_s is not None else ", doubt unknown, as one option states none",
            f", so {show_duration(found.time_s)}, cost {set_cost(value.costs)}",
            *((" (none stated for ", *several(value.unpriced), ")") if value.unpriced else ()),
            f"; the sum of each alone is {_like(value.sum_of_single_s, value)} s",
            *(("; tested together: ", *several(value.tested)) if value.tested else ()),
            ".",
        ),
        [
            Lines(
                [
                    *_last_line(found.last),
                    *overlap_line(value.untested_together, value.overlap),
                    *odd,
                    costs_line(value.costs),
                ]
            )
        ],
    )


def set_cost(costs: Sequence[CostOfUse]) -> str:
    """What a set costs for the races counted."""
    known, ways = [one for one in costs if one.paid], {one.by for one in costs}
    cost = cost_of_all(costs)
    if cost is None:
        return "?"
    if not known:
        return "owned" if ways == {"owned"} else "free"
    return amount_text(cost, known[0].currency)


def _last_line(last: LastSpent | None) -> Iterator[Line]:
    if last is not None:
        each, cost = (
            "" if amount is None else amount_text(amount, last.currency)
            for amount in (last.per_second, last.cost)
        )
        buys = f"{each} per second" if each else "for no gain"
        added = f" adds {seconds_text(last.saved_s)} s to this set for {cost}, {buys}."
        yield "Dearest seconds: ", quoted(last.name), added


# --- ``racecalc value`` --------------------------------------------------------------------------


@dataclass(frozen=True)
class ValueAnswer:
    """What each option is worth."""

    baseline_time_s: float
    """Time with what is in use; without any option where nothing is [s]."""
    options: tuple[OptionValue, ...]
    """One for each, in the order of the race file."""
    sets: tuple[SetValue, ...]
    """Options used together, solved as one."""
    season: tuple[SeasonValue, ...]
    """Options over several rounds; empty where only one race was given."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""
    order: Annotated[str, As(ranked_by="")] = "seconds"
    """What `ranking` goes by, a key of `ORDERS`."""

    @property
    def ranked(self) -> list[OptionValue]:
        """The options, the best first."""
        return sorted(self.options, key=ORDERS[self.order])

    @written
    def ranking(self) -> tuple[str, ...]:
        """Names of the options, the best first."""
        return tuple(one.option.name for one in self.ranked)

    @property
    def currency(self) -> str:
        """Of all amounts, as no two are ever mixed; empty where none is known."""
        return next((c for one in self.options if (c := one.cost_of_use.currency)), "")

    @written
    def races_counted(self) -> int:
        """Races for which costs are counted."""
        races: int = self.options[0].cost_of_use.races_counted
        return races


def value_sheet(answer: ValueAnswer, units: System, explained: str = "") -> Sheet:
    """What to buy first, then what each option gives, costs and rests on.

    What is explained is an option by its name, or the first one.
    """
    ranked, money = answer.ranked, answer.currency
    about = next((one for one in ranked if one.option.name == explained), ranked[0])
    sure = [one for one in ranked if one.verdict == "faster"]
    usable = [one for one in ranked if not one.unsafe]
    options = [one.option for one in ranked]
    table = partial(Table, rows=ranked, path="options", among=answer.options)
    worth, note = _worth(money, answer.order), RANKED_SURE if answer.order == SURE else ""
    return Sheet(
        (
            f"{answer.basis.title}, {show_duration(answer.baseline_time_s)}: ",
            Cell(f"{len(sure)} of {len(ranked)} options clearly faster", "strong"),
        ),
        [
            Lines([*_buy_first([one for one in sure if not one.unsafe]), *_test_first(usable)]),
            Lines([*_exchanges(ranked), *_alike(ranked), *_of_another_rider(ranked)]),
            table("", worth, note=note, depth=Depth(bool(answer.season)), most=6),
            Lines([costs_line(one.cost_of_use for one in ranked)]),
            Lines([*_overturning(answer.sets), *rules_lines(options), *size_lines(options)]),
            Lines([*weather_lines(options, answer.basis.day), USE_SAFELY]),
            Lines(answer.basis.warnings, "Mind"),
            *_season(answer.season),
            table("Where the seconds come from", PARTS, note=PARTS_NOTE),
            table(WEIGHT_TITLE, WEIGHT, note=WEIGHT_NOTE),
            table("What it costs", _costs(money), rows=_used(ranked), note=COSTS_NOTE),
            details(_crossovers(ranked)),
            *(block for one in ranked for block in _holding(one)),
            Table("Used together, solved as one", SETS, answer.sets, SETS_NOTE, path="sets"),
            details(rules_lines(options, len(options)), "Rules of the event"),
            details(_dangers(ranked), "Not in this weather"),
            details(_reasons(ranked), "Why these verdicts"),
            details(_wishes(ranked), "The least you want of it"),
            details(_said(ranked, "comfort"), "How it feels, in your words"),
            details(_said(ranked, "note"), "Your notes"),
            grounds([f"In brackets: the 95 % interval, from {_doubts(ranked)}."]),
            grounds(_tests(ranked), "About the tests"),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: (answer.basis.ride, *explain_value(about)),
    )


# --- what to do ----------------------------------------------------------------------------------


def _buy_first(sure: Sequence[OptionValue]) -> Iterator[Line]:
    free = [one for one in sure if one.basis in ("owned", "free") and not one.exchange.in_use]
    yield from naming("Costs nothing: ", [one.option.name for one in free])
    if paid := [value for value in sure if value.cost_of_use.paid]:
        best = min(paid, key=lambda one: _missing_last(one.cost_per_second))
        name, cost = quoted(best.option.name), cost_text(best.cost_of_use)
        yield ("Best for the money: ", name, ", ", saved_cell(best), f" at a cost of {cost}.")


def _test_first(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    names = [one.option.name for one in ranked if one.verdict == "undecided"]
    if names:
        yield Cell("Undecided", "open"), ": ", *several(names, 2), "; decide says which to test."


MOST_EXCHANGES = 2
"""Lines about what goes or comes with an option; the rest are in the JSON."""


def _exchanges(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    """What is in use, and what goes and comes with the others."""
    used = [one.option.name for one in ranked if one.exchange.in_use]
    yield from naming("Saved by what is in use, lost by leaving it: ", used)
    moves = [one for one in ranked if one.exchange.replaces or one.exchange.brings]
    for one in moves[:MOST_EXCHANGES]:
        yield exchange_line(one.option.name, one.exchange.replaces, one.exchange.brings)


def exchange_line(name: str, replaces: Sequence[str], brings: Sequence[str]) -> Line:
    """What goes and comes with something."""
    gone = (" in the place of ", *several(replaces)) if replaces else ()
    come = (" with ", *several(brings)) if brings else ()
    return quoted(name), *gone, *come, "."


def _alike(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    """Options that one test does not tell apart, so that their shrunken estimates are one."""
    shrunken: dict[tuple[int, float], list[str]] = {}
    for one in ranked:
        option = one.option
        if option.measured and option.saves:
            alike = id(option.trial), round(option.saves.amount, ALIKE_DECIMALS)
            shrunken.setdefault(alike, []).append(option.name)
    for names in shrunken.values():
        if len(names) > 1:
            words = " are taken as alike: one test shows no more difference than luck explains."
            yield *several(names, MOST_ALIKE), words


def _of_another_rider(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    """Options whose test proves nothing for this rider, and why."""
    for why in dict.fromkeys(one.option.unproved for one in ranked if one.option.unproved):
        names = [one.option.name for one in ranked if one.option.unproved == why]
        yield "No verdict for ", *several(names), f": {why}."


ALIKE_DECIMALS = 9
"""Decimals, in SI, to which shrunken estimates are one; our choice, far below any test."""

MOST_ALIKE = 3
"""Options that are named as alike."""


def _overturning(sets: Sequence[SetValue]) -> Iterator[Line]:
    """What sets save together, those first whose savings overlap."""
    for one in sorted(sets, key=lambda one: one.saved_s / (one.sum_of_single_s or 1.0))[:2]:
        overlap = one.saved_s < OVERLAP * one.sum_of_single_s
        yield (
            "Savings overlap: " if overlap else "",
            quoted(" + ".join(one.names)),
            " save ",
            saved_cell(one),
            f" together; the sum of each alone is {_like(one.sum_of_single_s, one)} s.",
        )
        yield from overlap_line(one.untested_together, one.overlap)


def _like(seconds: float, one: SetValue | OptionValue) -> str:
    return seconds_like(seconds, one.saved_s_low, one.saved_s_high)


def _dangers(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    """Why options are not to be used in this weather."""
    for one in ranked:
        if one.unsafe:
            yield quoted(one.option.name), f": {one.unsafe}."


# --- the tables ----------------------------------------------------------------------------------


class TestedAt(Column):
    """What watts at a test refer to."""

    def _made(self, value: Any, row: Any, units: System) -> str:  # noqa: ARG002
        return test_conditions(row, units)


def _for_its_cost(row: OptionValue) -> str:
    """Watts from which on something is worth its cost; none are asked for without one."""
    return needed_text(row.break_even_price_w) if row.wanted and row.basis else "-"


def _worth(currency: str, order: str) -> list[Column]:
    per_second, cost = cost_columns(currency)
    surely = Seconds("9 in 10\nat least s", "surely_saved_s", by="saved_s")
    third = surely if order == SURE else _price(currency)
    return [NAME, SAVES, third, cost, per_second, Verdict("verdict", "verdict")]


RANKED_SURE = "Ranked by the seconds that each saves, or more, in nine cases of ten."


def _watts_here(value: OptionValue) -> str:
    watts, seconds, half = value.watts_equivalent_w, value.saving[0], value.give_or_take_s
    if watts is None:
        return "-"
    # As sure, in shares, as the seconds that it is worth.
    return seconds_text(watts, half and seconds and half * abs(watts / seconds))


NAME = Words("option", "option.name")
SAVES = Seconds("saves s (95 %)", "saved_s")
PARTS = [
    NAME,
    Seconds("air", "aero_s", by="saved_s"),
    Seconds("rolling", "rolling_s", by="saved_s"),
    Seconds("chain", "drivetrain_s", by="saved_s"),
    Number("mass", "mass_s", form="+.1f"),
    Seconds("power", "power_s", by="saved_s"),
    Made("watts\nhere", "watts_equivalent_w", _watts_here),
    Chance("chance", "chance_faster"),
]
PARTS_NOTE = (
    "Seconds, rounded as the doubt of the saving allows. Watts here: more power all the way that"
    " would save as much. Chance: that it is faster at all; ? where no doubt is stated."
)
WEIGHT_TITLE = "What its weight costs, and how many watts it must save"
WEIGHT = [
    NAME,
    Quantity("", "option.mass", what="small_mass", signed=True),
    Number("weight\ns", "weight_s", form="+.1f"),
    Number("weight\nW here", "weight_w", form="+.1f", unknown="-"),
    Needed("for its\nweight W", "break_even_w"),
    Made("for its\ncost W", "break_even_price_w", _for_its_cost),
    TestedAt("tested at", "test_speed_m_s"),
]
WEIGHT_NOTE = (
    "Weight: seconds that its weight alone saves, and the watts that would do the same here. For"
    " its weight: watts that it must save to make up for its weight, at the speed or power of its"
    " test or, where none is stated, at this race's mean speed. For its cost: to make up for its"
    " cost too, at what a second is worth to you."
)
COSTS_NOTE = (
    "Lasts: its life in races; where none is stated, or no races_a_season, the whole price less"
    " resale falls on the races counted. Cash: what is paid first, for as many as these races wear"
    " out. Cost: price less resale by the share of its life that these races are, or their hire if"
    " that is less; the table above divides it by the seconds saved in a race, ~ where the gain may"
    " be nothing. Worth at most: its seconds times what one is worth to you."
)
SETS = [
    Made("set", "", lambda one: quoted(" + ".join(one.names) + _tested(one)), left=True),
    SAVES,
    Seconds("by\nparts", "by_parts_s", by="saved_s"),
    Seconds("singles", "sum_of_single_s", by="saved_s"),
    Quantity("", "mass_kg", what="small_mass", signed=True),
    Made("cost", "cost", lambda one: set_cost(one.costs)),
]
SETS_NOTE = (
    "By parts: their drag areas added. Singles: the sum of what each saves alone. Doubts of parts"
    " are taken as independent. Only a set marked as tested shows how parts disturb each other's"
    " air: there the test counts, and what it differs from the parts is that effect."
)


def _costs(currency: str) -> list[Column]:
    return [
        NAME,
        _price(currency),
        Number("lasts\nraces", "cost_of_use.races", form=".0f", unknown="?"),
        Made("cash", "cost_of_use.cash", _cash),
        Amount(f"cost\n{currency}", "cost"),
        Made("by", "basis", lambda value: value.basis or "?", left=True),
        Made(f"worth at\nmost {currency}", "", _ceiling),
    ]


def _used(ranked: Sequence[OptionValue]) -> list[OptionValue]:
    """Those that cost something to use; none where nothing but prices is known."""
    terms = [(one.price_ceiling, one.option.ownership) for one in ranked]
    known = any(ceiling or own.hire or own.life or own.owned for ceiling, own in terms)
    return [one for one in ranked if known and (one.price or one.basis)]


def _cash(value: OptionValue) -> str:
    cash = value.cost_of_use.cash
    return "?" if cash is None else exact_text(cash)


def _ceiling(value: OptionValue) -> str:
    found = value.price_ceiling
    if found is None or value.chance_faster is None:
        return "-" if found is None else "?"
    sure = found.low is None or found.high is None or found.low >= found.high
    return f"{found.at:.0f}" + ("" if sure else f" ({found.low:.0f} to {found.high:.0f})")


def _crossovers(ranked: Sequence[OptionValue]) -> Iterator[Line]:
    for one in ranked:
        if one.cost_of_use.hire_per_race is not None and one.price is not None:
            first = one.cost_of_use.buys_from_race
            words = "hiring costs less than buying for its whole life."
            if first:
                words = f"buying is cheaper than hiring from race {first} on."
            yield quoted(one.option.name), f": {words}"


def _tested(one: SetValue) -> str:
    return f" (tested{'' if one.wholly_tested else ' in part'})" if one.tested else ""


def _holding(value: OptionValue) -> Iterator[Block]:
    """How long a position must be held, and what it may cost in power; nothing for the rest."""
    found = value.holding
    if found is None:
        return

    def held(place: int, share: float) -> Column:
        return Made(f"{100 * share:.0f} %", "", lambda row: _like(found.table[row][place], value))

    costs = Made("costs W", "", lambda row: f"{found.losses_w[row]:.0f}")
    yield Table(
        f"{value.option.name}: seconds saved by the share of the time it is held",
        [costs, *(held(place, share) for place, share in enumerate(found.held))],
        range(len(found.losses_w)),
        f"Costs W: power lost while it is held. As stated: held {100 * found.share:.0f} % of the"
        f" time, {found.loss_w:.1f} W lost."
        f" {_must_hold(found)}",
    )


def _must_hold(found: HoldingAnswer) -> str:
    if found.break_even_time is None or found.break_even_course is None:
        return "Then it saves nothing even if held all the time."
    course, time = (100 * one for one in (found.break_even_course, found.break_even_time))
    pays = (
        f"Then it saves time if held over {course:.0f} % of the course ({time:.0f} % of the time)."
    )
    if not time:
        pays = "It never costs time."
    power = found.break_even_power_w
    return f"{pays} If held all the time, it may cost up to {power:.1f} W." if power else pays


def _season(season: Sequence[SeasonValue]) -> Iterator[Block]:
    """What each option saves over all rounds; nothing where only one race was given."""
    if not season:
        return
    rounds = ", ".join(f"{number} {name}" for number, name in enumerate(season[0].rounds, 1))
    title, note = f"Over {len(season[0].rounds)} rounds", f"Rounds: {rounds}."
    ranked = sorted(season, key=lambda one: -one.total_s)
    yield Table(title, SEASON, ranked, note, Depth.ANSWER, 6, "season", among=season)
    yield grounds([SEASON_TRIED])


SEASON_TRIED = (
    "The options of this race file, tried with the rider, bike, weather and course of each round;"
    " an error of the saving is the same in every round. Per second: the cost divided by the"
    " seconds saved in a round, the mean of all."
)


def _season_cost(one: SeasonValue) -> str:
    if one.total_s <= 0:
        return "no gain"
    if one.use.paid and one.cost_per_second is not None:
        return amount_text(one.cost_per_second)
    return cost_text(one.use)


SEASON = [
    NAME,
    Seconds("seconds in all\n(95 %)", "total_s"),
    Made("least", "", lambda one: f"{seconds_text(min(one.saved_s))} in {one.least}"),
    Made("most", "", lambda one: f"{seconds_text(max(one.saved_s))} in {one.most}"),
    Made("per second", "cost_per_second", _season_cost),
]


# --- the words -----------------------------------------------------------------------------------


def _reasons(ranked: Iterable[OptionValue]) -> list[Line]:
    """One line for each reason, with the options it holds for."""
    names: dict[tuple[str, str], list[str]] = {}
    for one in ranked:
        names.setdefault((one.verdict, one.because), []).append(one.option.name)
    return [
        (verdict(word), f", because {why}: ", *several(those, len(those)))
        for (word, why), those in names.items()
    ]


def _wishes(ranked: Iterable[OptionValue]) -> Iterator[Line]:
    for one in ranked:
        if one.enough is not None:
            so = "enough" if one.enough else "leave it, whatever it saves"
            wanted = f"you want {one.option.restrictions.least_gain:.0f} W here"
            gives = f"it saves {one.watts_equivalent_w or 0.0:.1f} W: {so}"
            yield quoted(one.option.name), f": {wanted}; {gives}"


def _said(ranked: Iterable[OptionValue], about: str) -> list[Line]:
    return [
        (quoted(one.option.name), ": ", quoted(words))
        for one in ranked
        if (words := getattr(one.option, about))
    ]


def _doubts(ranked: Iterable[OptionValue]) -> str:
    bands = [one.band for one in ranked if one.band]
    if not bands:
        return "the doubt of its claim or test"
    worst = max(band.surrogate_error_s.largest for band in bands)
    return (
        f"all stated doubts; those shared with and without the option cancel ({bands[0].draws}"
        f" draws with seed {bands[0].seed} from a quadratic fit of the course time, off by"
        f" {worst:.2g} s at most where solved in full)"
    )


def _tests(ranked: Iterable[OptionValue]) -> Iterator[Line]:
    for one in ranked:
        if one.option.saves and (one.assumptions or one.option.trial):
            assumed = f": {'; '.join(one.assumptions)}" if one.assumptions else ""
            words = quoted(one.option.saves.words)
            yield (quoted(one.option.name), " (", words, f"){assumed}")


# --- One option for a shop or a blog -------------------------------------------------------------


def posted(value: OptionValue, units: System, made_on: date) -> Posted:
    """What an option saves, its interval, and all that a reader must know to take it for no more.

    Parameters
    ----------
    value : OptionValue
        The option.
    units : {"metric", "imperial"}
        Of the reader.
    made_on : date
        Day that is named.
    """
    race, ridden = value.base.race, value.base
    best, low, high = value.saving
    size = size_text(best, give_or_take(low, high)) + (" faster" if best >= 0 else " slower")
    saved, sure = "not proved", f"{size} as it is claimed, with no doubt stated"
    if low is not None and high is not None:
        ends = "".join(map(str, between(low, high, 0.5 * (high - low), "")))
        sure = f"{ends}{' faster' if low >= 0 else ''} in 95 of 100 cases"
        # A best estimate in large letters would be taken for a result.
        saved = {"undecided": "not proved", "tie": "a tie"}.get(value.verdict, size)
        sure = sure if saved == size else f"best estimate {size}, {sure}"
    rider, bike, length = race.rider, race.bike, race.course.length
    loads = show(rider.power, "power", units), show(bike.cda.area[0], "area", units)
    stated = value.option.saves.words if value.option.saves else "its weight alone"
    doubt = value.option.doubt.words if value.option.doubt else "not stated"
    return Posted(
        one_line(value.option.name, 60),
        saved,
        sure[0].upper() + sure[1:],
        Drawn(value.option.name, best, low, high),
        [
            f"On {one_line(race.name, 60)}: {show(length, 'course_distance', units, 1)},"
            f" {show_duration(ridden.time)} without it.",
            f"Rider at {loads[0]}, CdA {loads[1]}; wind {_blowing(race, units)}.",
            f"Rests on {shortened(stated, 44)}; standard uncertainty {shortened(doubt, 32)}.",
        ],
        f"Calculated with racecalc {__version__}, {made_on:%Y-%m-%d}. An estimate, not a promise;"
        " another rider or course gives another number.",
    )


def _blowing(race: Race, units: System) -> str:
    wind = race.air.wind
    if not wind.speed:
        return "none"
    return f"{show(wind.speed, 'wind_speed', units)} from {show_direction(wind.direction)}"


# --- The options of several races ----------------------------------------------------------------


@dataclass(frozen=True)
class _Row:
    name: str
    saved: dict[int, str]
    """By the number of the race."""


def values_together(found: Sequence[ValueAnswer]) -> tuple[str, Table]:
    """The options of several races as rows, the races as columns."""
    names = dict.fromkeys(one.option.name for answer in found for one in answer.ranked)
    known = [{one.option.name: saved_text(one) for one in answer.options} for answer in found]
    rows = [
        _Row(name, {number: one[name] for number, one in enumerate(known) if name in one})
        for name in names
    ]

    def column(number: int, answer: ValueAnswer) -> Column:
        heading = one_line(answer.basis.race, most=16)
        return Made(heading, "", lambda row: row.saved.get(number, "-"))

    columns = [
        Made("option", "", lambda row: quoted(row.name), left=True),
        *(column(number, answer) for number, answer in enumerate(found)),
    ]
    note = "Seconds saved on each course, by each rider; -: no option of that race."
    said = "what each option saves, in 95 of 100 cases between"
    return said, Table("", columns, rows, note, Depth.ANSWER)
