"""Dots and intervals drawn with characters."""

import textwrap
from collections.abc import Sequence

from racecalc.answers.sheet import Drawn
from racecalc.views.tables import draws_lines, width


def interval_chart(lines: Sequence[Drawn], margin: float | None, left: str, right: str) -> str:
    """A chart of dots with their intervals about zero.

    Parameters
    ----------
    lines : sequence of Drawn
        What is drawn, one line each, in any one unit.
    margin : float or None
        Drawn as dotted lines either side of zero.
    left, right : str
        What lies to either side of zero.

    Returns
    -------
    str
        Lines no wider than `width`; "*" is the best value, "|" zero, "+" zero within an interval
        and ":" the margin. Names are wrapped where they take more than half of it.
    """
    wrapped = [textwrap.wrap(line.name, width() // 2) or [""] for line in lines]
    names = max(len(part) for parts in wrapped for part in parts)
    columns = width() - names - 2
    known = [abs(one) for line in lines for one in (line.value, line.low, line.high) if one]
    reach = 1.05 * max([*known, margin or 0.0, 1e-12])

    def place(value: float) -> int:
        return round((value + reach) / (2 * reach) * (columns - 1))

    bar, crossed, dot = ("\u2500", "\u253c", "\u25cf") if draws_lines() else ("-", "+", "*")
    drawn = []
    for line, (first, *further) in zip(lines, wrapped, strict=True):
        cells = [" "] * columns
        if line.low is not None and line.high is not None:
            for column in range(place(line.low), place(line.high) + 1):
                cells[column] = bar
        for edge in (-margin, margin) if margin else ():
            cells[place(edge)] = ":"
        inside = line.low is not None and line.high is not None and line.low <= 0.0 <= line.high
        cells[place(0.0)] = crossed if inside else "|"
        cells[place(line.value)] = dot
        drawn += [f"{first:<{names}}  {''.join(cells).rstrip()}", *further]
    scale = f"{left:<{columns // 2}}{right:>{columns - columns // 2}}"
    return "\n".join([*drawn, " " * (names + 2) + scale.rstrip()]) + "\n"
