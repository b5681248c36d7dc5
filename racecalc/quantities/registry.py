"""The one pint registry, built at the first conversion and kept on disk between runs."""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from racecalc.arrays import FloatArray

if TYPE_CHECKING:
    import pint


def cache_folder() -> Path:
    """Return the folder of the user's cache directory that holds pint's unit table."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("racecalc", appauthor=False)) / "units"


def _build(folder: Path | None) -> "pint.UnitRegistry[Any]":
    import pint

    # Without the option, pint refuses to read "20 degC" at all.
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(
        cache_folder=folder, autoconvert_offset_to_baseunit=True
    )
    registry.Quantity(1.0, "foot").to("meter")
    return registry


@cache
def _registry() -> "pint.UnitRegistry[Any]":
    try:
        return _build(cache_folder())
    except Exception:
        # A cache may fail in any way: no right to write, a full disk, a pickle cut short or
        # written by another version. It only saves time, so work goes on without it.
        return _build(None)


def convert(values: FloatArray, source: str, target: str) -> FloatArray:
    """Convert numbers from one unit to another.

    Parameters
    ----------
    values : FloatArray
        Numbers in `source`, any shape.
    source, target : str
        Units by pint's names, of the same dimension; offset units such as
        "degree_Celsius" are points on their scale, not differences.

    Returns
    -------
    FloatArray
        Numbers in `target`, same shape; infinite where they overflow.

    Examples
    --------
    >>> convert(np.array([0.0, 20.0]), "degree_Celsius", "kelvin")
    array([273.15, 293.15])
    """
    plain = np.array(values, dtype=np.float64)
    with np.errstate(over="ignore"):
        magnitude = _registry().Quantity(plain, source).to(target).magnitude
    return np.asarray(magnitude, dtype=np.float64)
