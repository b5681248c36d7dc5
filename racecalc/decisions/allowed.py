"""Which options may be used: rules, wishes, slots, and what cannot be used together."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from racecalc.decisions.riding import power_worth
from racecalc.decisions.worth import Worth
from racecalc.domain.option import Option

FORBIDDEN = "the rules forbid it"


class Slotted(Protocol):
    """What has a name and goes into a slot."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def slot(self) -> str:
        """Where it goes; empty where it stands alone."""


def by_slot(things: Iterable[Slotted]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Group things of which one of each slot can be used at a time."""
    slots: dict[tuple[str, str], list[int]] = {}
    for number, one in enumerate(things):
        slots.setdefault((one.slot, "" if one.slot else one.name), []).append(number)
    return tuple((slot or name, tuple(members)) for (slot, name), members in slots.items())


def barred(worth: Worth) -> str:
    """Why an option is not to be used at all; empty where it may be."""
    return FORBIDDEN if worth.option.forbidden else unwished(worth)


def unwished(worth: Worth) -> str:
    """Why its owner would not use an option for what it gives here; empty where they would."""
    wish = worth.option.restrictions.least_gain
    if not wish:
        return ""
    watts = power_worth(worth.base, worth.changed.time)
    enough = watts is not None and watts >= wish
    return "" if enough else f"it is worth less than the {wish:.3g} W you want of it"


def conflicts(used: Sequence[Option], known: Mapping[str, Option]) -> tuple[str, ...]:
    """What keeps options from being used together as they stand."""
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
            if needed not in names
        ),
        *(
            [f"{' and '.join(held)} are held in part, and one position can be held at a time."]
            if len(held) > 1
            else []
        ),
    )
