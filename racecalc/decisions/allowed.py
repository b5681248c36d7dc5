"""Which options may be used: rules, weather, wishes, needs, slots, and what excludes another."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Annotated

from racecalc.decisions.riding import Ridden, power_worth
from racecalc.decisions.weather import unsafe_now
from racecalc.decisions.worth import Worth, worth_of
from racecalc.domain.option import Option, clash, put_in
from racecalc.written import HIDDEN

# --- What may be used at all ---------------------------------------------------------------------

FORBIDDEN = "the rules forbid it"
NO_PRICE_STATED = "it states no price"
NO_DOUBT = "it states no doubt"
LEFT_BY_YOU = "you leave it out"


@dataclass(frozen=True)
class LeftOut:
    """An option that cannot be chosen."""

    name: str
    """Which."""
    because: str
    """Why not."""
    unsafe: Annotated[bool, HIDDEN] = False
    """Whether it is for the weather."""


def sorted_out(
    base: Ridden,
    options: Iterable[Option],
    without: Collection[str] = (),
    *,
    any_weather: bool = False,
) -> tuple[tuple[Worth, ...], tuple[LeftOut, ...]]:
    """Try options on the course and tell those that may be chosen from those that may not.

    Every answer that chooses does so from the first. What the weather of the race file forbids is
    among them in any weather.
    """
    worths, left_out = [], []
    for option in options:
        worth = worth_of(base, option)
        danger = "" if any_weather else unsafe_now(base, option)
        reason = LEFT_BY_YOU if option.name in without else _why_not(worth, danger)
        if reason:
            left_out.append(LeftOut(option.name, reason, reason == danger))
        else:
            worths.append(worth)
    lacking = lacking_needs([worth.option for worth in worths])
    left_out += [LeftOut(name, because) for name, because in lacking.items()]
    return tuple(one for one in worths if one.option.name not in lacking), tuple(left_out)


def barred(worths: Sequence[Worth]) -> dict[str, str]:
    """Why options are not to be used in any weather or for any money, by name."""
    reasons = {
        one.option.name: FORBIDDEN if one.option.forbidden else unwished(one) for one in worths
    }
    found = {name: why for name, why in reasons.items() if why}
    return found | lacking_needs([one.option for one in worths if one.option.name not in found])


def _why_not(worth: Worth, danger: str) -> str:
    option = worth.option
    if option.forbidden or danger:
        return FORBIDDEN if option.forbidden else danger
    unpriced = option.price is None and option.ownership.hire is None
    return NO_PRICE_STATED if unpriced and not option.ownership.owned else unwished(worth)


def lacking_needs(options: Sequence[Option]) -> dict[str, str]:
    """Options that need another one that is not among them, is lacking too or clashes, and why."""
    known = {one.name: one for one in options}
    whole = {name: [known[other] for other in put_in((), [name], known)] for name in known}
    found = {
        name: "what it needs cannot be used with it"
        for name, used in whole.items()
        if any(clash(one, other) for one, other in combinations(used, 2))
    }
    return _with_those_that_need(
        options, found, lambda name: name not in known, "it needs {}, which cannot be chosen"
    )


def _with_those_that_need(
    options: Sequence[Option], found: dict[str, str], out: Callable[[str], bool], because: str
) -> dict[str, str]:
    """What is found, and all that needs something of it or else what is out, with the reason."""

    def gone(name: str) -> bool:
        return name in found or out(name)

    while True:
        more = {
            one.name: because.format(name)
            for one in options
            for name in one.restrictions.needs
            if gone(name) and not gone(one.name)
        }
        if not more:
            return found
        found = found | more


def waiting(
    options: Sequence[Option],
    paid: Collection[str],
    unsettled: Collection[str],
    tested: Collection[str],
) -> dict[str, str]:
    """Options that wait until others are settled, and why.

    What is not `paid` for is used until a test of its rival is made. The `unsettled` are not to be
    counted on; for the `tested` among them a test first is worth its cost.
    """
    found = {
        one.name: f"{rival.name}, which would replace it, is to be tested first"
        for one in options
        for rival in options
        if one.name in {*paid} - {*unsettled} and rival.name in tested and clash(one, rival)
    }
    return _with_those_that_need(
        options, found, lambda name: name in unsettled, "it needs {}, which is not settled yet"
    )


# --- What may be used together -------------------------------------------------------------------


def by_slot(things: Iterable[tuple[str, str]]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Group things by their slot, of which one can be used at a time, or alone by their name."""
    slots: dict[tuple[str, str], list[int]] = {}
    for number, (slot, name) in enumerate(things):
        slots.setdefault((slot, "" if slot else name), []).append(number)
    return tuple((slot or name, tuple(members)) for (slot, name), members in slots.items())


def unwished(worth: Worth) -> str:
    """Why its owner would not use an option for what it gives here; empty where they would."""
    wish = worth.option.restrictions.least_gain
    if not wish:
        return ""
    watts = power_worth(worth.base, worth.changed.time)
    enough = watts is not None and watts >= wish
    return "" if enough else f"it is worth less than the {wish:.3g} W you want of it"


def conflicts(
    used: Sequence[Option], known: Mapping[str, Option], there: Collection[str] = ()
) -> tuple[str, ...]:
    """What keeps options from being used together as they are; others are there for their needs."""
    names = [option.name for option in used]
    pairs = dict.fromkeys(
        frozenset((option.name, other))
        for option in used
        for other in option.restrictions.excludes
        if other in names
    )
    held = [option.name for option in used if not option.holding.always]
    return (
        *(f"{' and '.join(sorted(pair))} exclude each other: use one of them." for pair in pairs),
        *(
            f"{option.name} needs {needed}, which is not bought or used now"
            + (" and is forbidden by the rules." if known[needed].forbidden else ".")
            for option in used
            for needed in option.restrictions.needs
            if needed not in (*names, *there)
        ),
        *(
            [f"{' and '.join(held)} are held in part, and one position can be held at a time."]
            if len(held) > 1
            else []
        ),
    )
