"""The rider of a race file."""

from racecalc.domain.rider import Rider
from racecalc.files.race_file import Table


def read_rider(table: Table) -> Rider:
    """Read the ``[rider]`` table of a race file.

    Parameters
    ----------
    table : Table
        The table with its values read.

    Returns
    -------
    Rider
        In SI.

    Raises
    ------
    InputError
        If a value is missing, or two do not go together.
    """
    for key in ("critical_power", "work_above_critical"):
        table.refuse_both(key, "power_points")
    mass, used = table.number("mass"), table.number("fluid_used")
    if used >= mass:
        raise table.wrong(
            "fluid_used",
            f"'{table.given['fluid_used']}' is more than the rider weighs",
            "give less",
        )
    least, most = _pedalling(table)
    return Rider(
        mass=mass,
        power=table.number("power"),
        fluid_used=used,
        critical_power=table.optional("critical_power"),
        work_above_critical=table.optional("work_above_critical"),
        power_points=table.power_points("power_points"),
        power_fade=table.number("power_fade"),
        least_power=least,
        most_power=most,
    )


def _pedalling(table: Table) -> tuple[float, float | None]:
    """Least and most power while pedalling [W]; the race power lies within."""
    power = table.number("power")
    least, most = table.number("pedal_least"), table.optional("pedal_most")
    if least >= power:
        raise table.wrong(
            "pedal_least",
            f"'{table.given['pedal_least']}' is no less than the race power of {power:.4g} W",
            "give less",
        )
    if most is not None and most <= power:
        raise table.wrong(
            "pedal_most",
            f"'{table.given['pedal_most']}' is no more than the race power of {power:.4g} W",
            "give more",
        )
    return least, most
