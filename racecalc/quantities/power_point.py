"""A power and how long it was held: "3 min 385 W", "3:00 at 385 W"."""

import re

from racecalc.quantities.kinds import POWER, TIME
from racecalc.quantities.numerals import NUMBER, QuantityError, quoted, tidy
from racecalc.quantities.reading import read

_POINT = re.compile(rf"(?P<time>\S.*?)(?: at |, ?| )(?P<power>{NUMBER} ?[a-z/]*)", re.IGNORECASE)
_REMEDY = "write the duration, then the power, as in '3 min 385 W' or '3:00 at 385 W'"

LONGEST = 86_400.0
"""Longest duration that a power is stated for [s]; our choice."""

HIGHEST = 2500.0
"""Highest power that is possible [W]; above what sprinters reach for seconds; common practice."""


def read_power_point(text: object) -> tuple[float, float]:
    """Read how long a power was held, and the power.

    Parameters
    ----------
    text : object
        A duration, then a power, both with their units.

    Returns
    -------
    time, power : float
        [s] and [W].

    Raises
    ------
    QuantityError
        If the text is something else, or a value is not possible.

    Examples
    --------
    >>> read_power_point("3 min 385 W"), read_power_point("1:02:30 at 0.27 kW")
    ((180.0, 385.0), (3750.0, 270.0))
    """
    found = _POINT.fullmatch(tidy(text)) if isinstance(text, str) else None
    if not found:
        raise QuantityError(f"{quoted(str(text))} is no power with its duration", _REMEDY)
    time, power = read(found["time"], TIME), read(found["power"], POWER)
    if not 1.0 <= time <= LONGEST:
        raise QuantityError(
            f"the duration in {quoted(str(text))} is not possible", "give 1 s to 24 h"
        )
    if not 1.0 <= power <= HIGHEST:
        raise QuantityError(
            f"the power in {quoted(str(text))} is not possible", f"give 1 W to {HIGHEST:.0f} W"
        )
    return time, power
