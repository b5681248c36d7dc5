"""Options that somebody switches on, as one set: what they save and cost, and what is odd in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from racecalc.decisions.allowed import conflicts
from racecalc.decisions.money import refuse_mixed_currencies
from racecalc.decisions.riding import Ridden
from racecalc.decisions.value import SetValue, value_of_set
from racecalc.domain.option import Option
from racecalc.quantities.money import Money

# --- What the last money spent on a set buys -----------------------------------------------------


@dataclass(frozen=True)
class LastSpent:
    """The dearest seconds of a set."""

    name: str
    """The option that buys them."""
    saved_s: float
    """Seconds that the set loses without it."""
    price: Money
    """What that saves."""
    per_second: float | None
    """Money for each of these seconds, in whole units of the currency; None where it saves none."""


def last_spent(
    base: Ridden, used: Sequence[Option], tests: Sequence[Option] = ()
) -> LastSpent | None:
    """Find the priced option of a set that gives least for its money, leaving each out."""
    whole = value_of_set(base, tuple(used), tests).saved_s if used else 0.0
    found = []
    for option in used:
        if option.price is None or not option.to_pay:
            continue
        others = tuple(other for other in used if other is not option)
        without = value_of_set(base, others, tests).saved_s if others else 0.0
        saved = whole - without
        per_second = option.to_pay / saved if saved > 0 else None
        found.append(LastSpent(option.name, saved, option.price, per_second))
    return max(found, key=_dearness, default=None)


def _dearness(one: LastSpent) -> float:
    return float("inf") if one.per_second is None else one.per_second


# --- Options that somebody switches on, as one set -----------------------------------------------


@dataclass(frozen=True)
class SwitchedOn:
    """The options that are switched on."""

    value: SetValue
    """All of them as one."""
    time_s: float
    """Finish time with them [s]."""
    last: LastSpent | None
    """The part that costs most for each second; None where nothing is to pay."""
    conflicts: tuple[str, ...]
    """What keeps them from being used together, in sentences."""


def switched_on(
    base: Ridden, used: Sequence[Option], known: Mapping[str, Option]
) -> SwitchedOn | None:
    """Solve the options that are switched on as one."""
    if not used:
        return None
    refuse_mixed_currencies(used)
    tests = base.race.tested_sets
    value = value_of_set(base, tuple(used), tests)
    return SwitchedOn(
        value=value,
        time_s=base.time - value.saved_s,
        last=last_spent(base, used, tests),
        conflicts=conflicts(used, known),
    )
