"""Curves and intervals drawn with characters."""

import math
import textwrap
from collections.abc import Sequence
from threading import Lock

import numpy as np

from racecalc.answers.sheet import Curves, Drawn
from racecalc.arrays import FloatArray
from racecalc.views.tables import draws_lines, width

# --- Curves --------------------------------------------------------------------------------------

_PLOTTING = Lock()
"""The library keeps its one figure between calls, and answers are worked out on several threads."""

TICKS = 5
"""Columns of the numbers next to charts above each other."""

LEAST_HEIGHT = 4
"""Least lines of one chart, its title included."""

HEIGHT = 9
ALONE = 14
"""Lines of a chart where there are several, and of the only one."""


def curves_text(block: Curves) -> str:
    """Charts of all curves, one below the other; empty where only letters can be shown."""
    if not draws_lines():
        return ""
    height = HEIGHT if len(block.curves) > 1 else ALONE
    return "".join(_chart(block, title, height, framed=True, scale=True) for title in block.curves)


def stacked_text(block: Curves, height: int) -> str:
    """Charts above each other with one scale at the foot, as many of them as fit in the lines."""
    titles = list(block.curves)[: max(1, (height - 1) // LEAST_HEIGHT)]
    each, over = divmod(max(height - 1, LEAST_HEIGHT), len(titles))
    lines = [each + over, *[each] * (len(titles) - 1)]
    lines[-1] += 1
    return "".join(
        _chart(block, title, height, framed=False, scale=title == titles[-1])
        for title, height in zip(titles, lines, strict=True)
    )


def _chart(block: Curves, title: str, height: int, *, framed: bool, scale: bool) -> str:
    import plotext

    points = block.points if title == next(iter(block.curves)) else ()
    values = block.curves[title]
    low, high = _round_limits([*values.tolist(), *(up for _, up, _ in points)])
    along, values = _stairs(block.along, values) if block.steps else (block.along, values)
    with _PLOTTING:
        plotext.clear_figure()
        plotext.limit_size(False, False)
        plotext.theme("clear")
        plotext.plot_size(width(), height)
        plotext.frame(framed)
        plotext.plot(along.tolist(), values.tolist(), marker="braille")
        plotext.ylim(low, high)
        plotext.xlim(float(along[0]), float(along[-1]))
        ends = [low, 0.5 * (low + high), high] if framed else [low, high]
        plotext.yticks(ends, [f"{end:>{TICKS}.4g} " for end in ends])
        _scale(block, framed, scale)
        if framed and low < 0.0 < high:
            plotext.hline(0.0)
        for across, up, letter in points:
            plotext.scatter([across], [up], marker=letter)
        if block.across or not framed:
            _upright(block, low, high, height)
        plotext.title(title)
        drawn = plotext.uncolorize(plotext.build())
    return "\n".join(line.rstrip() for line in drawn.splitlines()) + "\n"


def _scale(block: Curves, framed: bool, scale: bool) -> None:
    """Numbers along the foot; the names of the marks there where nothing is counted, else above."""
    import plotext

    first, last = float(block.along[0]), float(block.along[-1])
    shown = _apart(block.marks, first, last)
    names = [at for at, _ in shown], [name for _, name in shown]
    if block.marks and not block.across and framed:
        plotext.xticks(*names)
        return
    step = _round_step(last - first)
    ticks = [step * one for one in range(math.ceil(first / step - 1e-9), int(last / step) + 1)]
    plotext.xticks(ticks if scale else [], [f"{tick:g}" for tick in ticks] if scale else [])
    if framed and shown:
        plotext.scatter([first], [-1e9], xside="upper")
        plotext.xlim(first, last, xside="upper")
        plotext.xticks(*names, xside="upper")
    if framed:
        plotext.xlabel(block.across)


def _apart(
    marks: Sequence[tuple[float, str]], first: float, last: float
) -> list[tuple[float, str]]:
    """The named marks whose names do not run into each other."""
    shown, taken = [], -math.inf
    for at, name in sorted(marks):
        middle = (at - first) / (last - first) * (width() - TICKS - 4)
        if name and middle - len(name) / 2 > taken:
            shown.append((at, name))
            taken = middle + len(name) / 2 + 1
    return shown


def _upright(block: Curves, low: float, high: float, height: int) -> None:
    """The marks, those without a name in full lines."""
    import plotext

    line = np.linspace(low, high, 4 * height)
    for at, name in block.marks:
        across = np.full_like(line, at).tolist()
        plotext.scatter(across, line.tolist(), marker=":" if name else "|")


def _stairs(along: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The corners of values that hold until the next."""
    return np.repeat(along, 2)[1:], np.repeat(values, 2)[:-1]


def _round_limits(values: Sequence[float]) -> tuple[float, float]:
    """Limits in whole steps of a power of ten that fits their range."""
    low, high = min(values), max(values)
    step = 10.0 ** np.floor(np.log10(max(high - low, 0.01 * abs(high), 1e-6)))
    low, high = float(np.floor(low / step) * step), float(np.ceil(high / step) * step)
    return low, max(high, low + float(step))


def _round_step(length: float) -> float:
    """Round distance between marks that makes four to ten of them."""
    power = 10.0 ** np.floor(np.log10(length / 4.0))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power * 4.0 <= length))


# Until the pages that call it are sheets.


def curve_chart(
    across: FloatArray,
    up: FloatArray,
    title: str,
    marks: Sequence[tuple[FloatArray, FloatArray, str]] = (),
) -> str:
    """A curve of one quantity against another, with points marked on it."""
    points = [
        (x, y, letter)
        for xs, ys, letter in marks
        for x, y in zip(xs.tolist(), ys.tolist(), strict=True)
    ]
    drawn = curves_text(Curves(across, {title: up}, "", points=points))
    return drawn and "\n" + drawn


# --- Dots and intervals --------------------------------------------------------------------------


def interval_chart(lines: Sequence[Drawn], margin: float | None, left: str, right: str) -> str:
    """A chart of dots with their intervals about zero."""
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
