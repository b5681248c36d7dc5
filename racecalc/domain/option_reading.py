"""The options of a race file: what each may change, in the words of its owner."""

import difflib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TypeVar, cast

from racecalc.domain.option import Option, Rules, Ties
from racecalc.domain.position import Holding, read_power_loss
from racecalc.domain.saving import (
    FORMS_OF,
    ActsOn,
    Saving,
    TestPowerAt,
    read_saving,
)
from racecalc.domain.terms import Upkeep, read_life
from racecalc.domain.trial import Runs
from racecalc.domain.trial_reading import load_runs
from racecalc.errors import Notice
from racecalc.files.race_file import Table
from racecalc.files.race_values import nearest
from racecalc.quantities.money import Money
from racecalc.quantities.reading import QuantityError

Read = TypeVar("Read")

SAME_SLOT = 0.88
"""Likeness of two spellings (`difflib`) from which one slot may be meant: "shoe cover" and "shoe
covers" lie above, "front wheel" and "rear wheel" below; our choice."""

ONLY_FOR_PARTS = (
    "mass",
    "price",
    "slot",
    "hire",
    "resale",
    "life",
    "owned",
    "needs",
    "excludes",
    "holds",
    "power_loss",
)
"""Keys that a set tested as one takes from its parts."""

_FITTING = {
    "air": 'write for example "4.5 W at 45 km/h", or set acts_on = "tyres" or "drivetrain"',
    "tyres": 'write for example "3 W at 40 km/h" or "0.0004 of Crr"',
    "drivetrain": 'write for example "2 W at 250 W"',
}


def read_options(tables: Iterable[Table], folder: Path) -> tuple[Option, ...]:
    """Read the ``[[option]]`` tables of a race file.

    Parameters
    ----------
    tables : iterable of Table
        Tables with their values read.
    folder : Path
        Where the race file lies; run tables are looked for from there.

    Returns
    -------
    tuple of Option
        In the order of the file.

    Raises
    ------
    InputError
        If a name is missing or stands twice, or a saving, doubt or run table will not do.
    """
    tables = tuple(tables)
    options: dict[str, Option] = {}
    for table in tables:
        option = _option(table, folder)
        if option.name in options:
            raise table.wrong("name", f"there are two options named '{option.name}'", "rename one")
        options[option.name] = option
    for table in tables:
        _check_set(table, options)
        _check_ties(table, options)
    _refuse_circles(tables, options)
    return tuple(options.values())


def _check_set(table: Table, options: Mapping[str, Option]) -> None:
    """Members of a set are options of their own, of different slots; the set has none itself."""
    members = table.names("set_of")
    if len(members) == 1:
        raise table.wrong("set_of", "a set of one is no set", "name at least two options")
    for name in members:
        if name not in options or options[name].set_of:
            raise table.wrong("set_of", f"there is no single option '{name}'", "check the name")
    slots = [options[name].slot or name for name in members]
    if len(set(slots)) < len(slots):
        raise table.wrong("set_of", "two of them share a slot", "name one of each slot")
    for key in ONLY_FOR_PARTS:
        if members and key in table:
            raise table.wrong(key, f"a set has no {key} of its own", "state it at its options")
    if members and "saves" not in table and "trial" not in table:
        raise table.wrong("set_of", "the set states no saving", "add saves or trial")


def _check_ties(table: Table, options: Mapping[str, Option]) -> None:
    """What an option needs or excludes is another single option that may be used beside it."""
    own = options[table.word("name")]
    for key in ("needs", "excludes"):
        for name in table.names(key):
            if name not in options or options[name].set_of:
                known = [one.name for one in options.values() if not one.set_of]
                raise table.wrong(key, f"there is no option '{name}'", nearest(name, known))
            if name == own.name:
                raise table.wrong(key, f"'{name}' {key} itself", "take it out")
    for name in own.ties.needs:
        if own.slot and options[name].slot == own.slot:
            raise table.wrong(
                "needs", f"'{name}' has the same slot '{own.slot}'", "give one of them another slot"
            )
        if name in own.ties.excludes or own.name in options[name].ties.excludes:
            raise table.wrong("needs", f"'{name}' is both needed and excluded", "keep one of them")


def _refuse_circles(tables: Iterable[Table], options: Mapping[str, Option]) -> None:
    """No option may need itself by way of others: such a circle could as well be one option."""
    for table in tables:
        name = table.word("name")
        chain, waiting = {name: ""}, [name]
        while waiting:
            now = waiting.pop()
            for needed in options[now].ties.needs:
                if needed == name:
                    raise table.wrong("needs", _circle(chain, name, now), "break the circle")
                if needed not in chain:
                    chain[needed] = now
                    waiting.append(needed)


def _circle(chain: Mapping[str, str], name: str, last: str) -> str:
    links = [name]
    while last:
        links.append(last)
        last = chain[last]
    return "a circle of needs: " + " needs ".join(f"'{one}'" for one in reversed(links))


def option_notices(tables: Iterable[Table], options: Iterable[Option]) -> Iterable[Notice]:
    """What looks mistaken in the options of a race file, though it may be meant."""
    spelled: dict[str, str] = {}
    for table, option in zip(tables, options, strict=True):
        upkeep = option.upkeep
        if upkeep.resale and option.price and _more(upkeep.resale, option.price):
            yield Notice(table.place("resale"), "it fetches more than it costs; is it meant?")
        if option.slot and option.slot not in spelled.values():
            first = _alike(option.slot, spelled)
            if first:
                yield Notice(
                    table.place("slot"),
                    f"the slots '{first}' and '{option.slot}' are taken as two; if one is meant,"
                    " spell them alike",
                )
            spelled[_bare(option.slot)] = option.slot


def _more(one: Money, other: Money) -> bool:
    return one.currency == other.currency and one.amount > other.amount


def _alike(slot: str, spelled: Mapping[str, str]) -> str:
    near = difflib.get_close_matches(_bare(slot), list(spelled), n=1, cutoff=SAME_SLOT)
    return spelled[near[0]] if near else ""


def _bare(slot: str) -> str:
    return "".join(letter for letter in slot.casefold() if letter.isalnum())


def _option(table: Table, folder: Path) -> Option:
    name = table.word("name")
    if not name:
        raise table.missing("name")
    acts_on = _acts_on(table)
    return Option(
        name=name,
        slot=table.word("slot"),
        price=table.money("price"),
        mass=table.number("mass"),
        saves=_saving(table, "saves", acts_on),
        doubt=_doubt(table, acts_on),
        acts_on=acts_on,
        test_density=table.number("test_density"),
        test_density_given="test_density" in table,
        test_power_at=_power_at(table),
        note=table.word("note"),
        set_of=table.names("set_of"),
        trial=_trial(table, folder),
        trial_item=table.word("trial_item"),
        trial_baseline=table.word("trial_baseline"),
        trial_rider=table.word("trial_rider"),
        upkeep=Upkeep(
            hire=table.money("hire"),
            resale=table.money("resale"),
            life=_read_as(table, "life", read_life) if "life" in table else None,
            owned=table.flag("owned"),
        ),
        holding=_holding(table, acts_on),
        ties=Ties(
            needs=table.names("needs"),
            excludes=table.names("excludes"),
            rules=cast(Rules, table.word("rules")),
            least_gain=table.optional("least_gain") or 0.0,
            catches_wind=table.flag("catches_wind"),
        ),
        comfort=table.word("comfort"),
    )


def _holding(table: Table, acts_on: ActsOn) -> Holding:
    if "holds" in table and acts_on != "air":
        raise table.wrong("holds", f"a position acts on air, not on {acts_on}", "leave it out")
    if "otherwise" in table and "holds" not in table:
        raise table.wrong("otherwise", "nothing says how long it is held", 'add holds = "80 %"')
    return Holding(
        shares=table.shares("holds") or (1.0,),
        otherwise=_saving(table, "otherwise", acts_on),
        power_loss=_read_as(table, "power_loss", read_power_loss)
        if "power_loss" in table
        else None,
    )


def _power_at(table: Table) -> TestPowerAt:
    """Where watts were counted: runs come from a power meter at the cranks, claims from drag."""
    if "trial" in table and "test_power_at" not in table:
        return "cranks"
    return cast(TestPowerAt, table.word("test_power_at"))


def _trial(table: Table, folder: Path) -> Runs | None:
    for key in ("trial_item", "trial_baseline", "trial_rider"):
        if key in table and "trial" not in table:
            raise table.wrong(key, "there is no trial that it belongs to", 'add trial = "runs.csv"')
    if "trial" not in table:
        return None
    for key in ("saves", "doubt"):
        if key in table:
            raise table.wrong(key, f"both trial and {key} are given", "keep one of them")
    return load_runs(folder / table.word("trial"))


def _acts_on(table: Table) -> ActsOn:
    """Which loss the saving reduces: as given, or as the form of the saving implies."""
    if "acts_on" not in table and "saves" in table:
        implied = {"crr": "tyres", "power at power": "drivetrain"}
        form = _read_as(table, "saves", read_saving).form
        return cast(ActsOn, implied.get(form, table.word("acts_on")))
    return cast(ActsOn, table.word("acts_on"))


def _read_as(table: Table, key: str, reader: Callable[[str], Read]) -> Read:
    """Read the words of a key, its errors naming the key."""
    try:
        return reader(table.word(key))
    except QuantityError as error:
        raise table.wrong(key, error.problem, error.remedy) from error


def _saving(table: Table, key: str, acts_on: ActsOn) -> Saving | None:
    if key not in table:
        return None
    saving = _read_as(table, key, read_saving)
    if saving.form not in FORMS_OF[acts_on]:
        raise table.wrong(
            key, f'"{saving.words}" does not fit acts_on = "{acts_on}"', _FITTING[acts_on]
        )
    return saving


def _doubt(table: Table, acts_on: ActsOn) -> Saving | None:
    doubt = _saving(table, "doubt", acts_on)
    if doubt is None:
        return None
    if "saves" not in table:
        raise table.wrong("doubt", "there is a doubt but no saving it belongs to", "add saves")
    if doubt.amount < 0:
        raise table.wrong("doubt", f'"{doubt.words}" is negative', "write a positive doubt")
    return doubt
