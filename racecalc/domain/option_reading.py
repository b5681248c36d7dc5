"""The options of a race file: what each may change, in the words of its owner."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import cast

from racecalc.domain.saving import FORMS_OF, ActsOn, Option, Saving, TestPowerAt, read_saving
from racecalc.domain.trial import Runs
from racecalc.domain.trial_reading import load_runs
from racecalc.files.race_file import Table
from racecalc.quantities.reading import QuantityError

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
    return tuple(options.values())


def _check_set(table: Table, options: Mapping[str, Option]) -> None:
    """Members of a set are options of their own, of different slots; the set has none itself."""
    members = table.names("set_of")
    for name in members:
        if name not in options or options[name].set_of:
            raise table.wrong("set_of", f"there is no single option '{name}'", "check the name")
    slots = [options[name].slot or name for name in members]
    if len(set(slots)) < len(slots):
        raise table.wrong("set_of", "two of them share a slot", "name one of each slot")
    for key in ("mass", "price", "slot"):
        if members and key in table:
            raise table.wrong(key, f"a set has no {key} of its own", "state it at its options")
    if members and "saves" not in table and "trial" not in table:
        raise table.wrong("set_of", "the set states no saving", "add saves or trial")


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
        form = _read_saving(table, "saves").form
        return cast(ActsOn, implied.get(form, table.word("acts_on")))
    return cast(ActsOn, table.word("acts_on"))


def _read_saving(table: Table, key: str) -> Saving:
    try:
        return read_saving(table.word(key))
    except QuantityError as error:
        raise table.wrong(key, error.problem, error.remedy) from error


def _saving(table: Table, key: str, acts_on: ActsOn) -> Saving | None:
    if key not in table:
        return None
    saving = _read_saving(table, key)
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
