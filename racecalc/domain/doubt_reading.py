"""The doubts stated in a race file."""

from collections.abc import Mapping

from racecalc.domain.doubts import Doubts
from racecalc.files.race_file import Table

DOUBT_KEYS = {
    "power": ("rider", "power_doubt"),
    "cda": ("bike", "cda_doubt"),
    "crr": ("bike", "crr_doubt"),
    "mass": ("rider", "mass_doubt"),
    "drivetrain_loss": ("bike", "drivetrain_loss_doubt"),
    "wind_speed": ("air", "wind_doubt"),
    "wind_from": ("air", "wind_from_doubt"),
    "temperature": ("air", "temperature_doubt"),
    "pressure": ("air", "pressure_doubt"),
    "density": ("air", "density_doubt"),
}
"""Field of `Doubts` to the table and key of the race file that states it."""

LARGEST_SHARE = 0.25
"""Largest doubt over its value: four of them reach down to nothing, where no rider exists."""


def read_doubts(tables: Mapping[str, Table]) -> Doubts:
    """Read the doubts of a race file.

    Parameters
    ----------
    tables : Mapping of str to Table
        The single tables of the file.

    Returns
    -------
    Doubts
        In SI; 0 where none is stated.

    Raises
    ------
    InputError
        If a doubt belongs to a value that is not in use, or is too large against its value.
    """
    doubts = Doubts(
        **{name: tables[table].optional(key) or 0.0 for name, (table, key) in DOUBT_KEYS.items()}
    )
    _check_air(tables["air"], doubts)
    rider, bike = tables["rider"], tables["bike"]
    _check_size(rider, "power_doubt", doubts.power, rider.number("power"))
    _check_size(bike, "cda_doubt", doubts.cda, min(bike.yaw_table("cda").area))
    _check_size(bike, "crr_doubt", doubts.crr, bike.number("crr"))
    _check_size(rider, "mass_doubt", doubts.mass, rider.number("mass"))
    return doubts


def _check_air(air: Table, doubts: Doubts) -> None:
    for key in ("temperature_doubt", "pressure_doubt"):
        if key in air and "density" in air:
            raise air.wrong(
                key, "the density is given, so this changes nothing", "state density_doubt"
            )
    if doubts.density and "density" not in air:
        raise air.wrong(
            "density_doubt",
            "the density is worked out from the weather",
            "state temperature_doubt and pressure_doubt",
        )
    if (doubts.wind_speed or doubts.wind_from) and "wind_from" not in air:
        key = "wind_doubt" if doubts.wind_speed else "wind_from_doubt"
        raise air.wrong(
            key,
            "a doubt of the wind needs the direction it comes from",
            'add wind_from; where that is unknown too, add wind_from_doubt = "100 deg"',
        )


def _check_size(table: Table, key: str, doubt: float, value: float) -> None:
    if doubt > LARGEST_SHARE * value:
        raise table.wrong(
            key,
            f"'{table.given[key]}' is more than a quarter of the value itself, so that impossible"
            " values would be likely",
            "state one standard uncertainty, at most a quarter of the value",
        )
