"""Elevation and speed along the course, drawn with characters."""

from collections.abc import Sequence
from threading import Lock

import numpy as np

from racecalc.answers.sheet import Curves
from racecalc.arrays import FloatArray
from racecalc.views.tables import draws_lines, width

_PLOTTING = Lock()
"""The library keeps its one figure between calls, and answers are worked out on several threads."""

TICKS = 5
"""Columns of the numbers beside charts that stand above each other."""

HEIGHT = 9
CURVE_HEIGHT = 14


def curves_chart(block: Curves) -> str:
    """Small charts over distance, one below the other; a blank line goes before them.

    Empty, as every chart, where the output can show letters only.
    """
    if not draws_lines():
        return ""
    return "\n" + "".join(
        _chart(block.along, values, title) for title, values in block.curves.items()
    )


def starts_chart(names: Sequence[str], times: FloatArray) -> str:
    """A small chart of times [s] over the starts of a forecast, named along its foot.

    A blank line goes before it.
    """
    if not draws_lines():
        return ""
    rows = np.arange(float(len(names)))
    room = max(1, width() // (max(map(len, names)) + 3))
    shown = range(0, len(names), -(-len(names) // room))
    marks = ([float(row) for row in shown], [names[row] for row in shown])
    return "\n" + _chart(rows, times / 60.0, "time [min] by start", marks)


def _chart(
    along: FloatArray,
    values: FloatArray,
    title: str,
    marks: tuple[list[float], list[str]] | None = None,
) -> str:
    """Values over a distance or over named marks."""
    import plotext

    low, high = float(np.floor(np.min(values))), float(np.ceil(np.max(values)))
    high = max(high, low + 2.0)
    with _PLOTTING:
        _begin(HEIGHT, along, values)
        plotext.ylim(low, high)
        plotext.yticks([low, 0.5 * (low + high), high])
        if marks:
            plotext.xticks(*marks)
        else:
            round_step = _round_step(float(along[-1]))
            plotext.xticks(np.arange(0.0, along[-1] + 1e-9, round_step).tolist())
        return _built(title)


def curve_chart(
    across: FloatArray,
    up: FloatArray,
    title: str,
    marks: Sequence[tuple[FloatArray, FloatArray, str]] = (),
) -> str:
    """A curve of one quantity against another, with points marked on it."""
    if not draws_lines():
        return ""
    import plotext

    with _PLOTTING:
        _begin(CURVE_HEIGHT, across, up)
        for *points, letter in marks:
            plotext.scatter(*(values.tolist() for values in points), marker=letter)
        return "\n" + _built(title)


def along_chart(
    along: FloatArray,
    values: FloatArray,
    title: str,
    height: int,
    upright: Sequence[tuple[float, str]] = (),
    *,
    scale: bool = True,
) -> str:
    """Values along a course, to stand above other charts of the same course."""
    import plotext

    with _PLOTTING:
        low, high = _round_limits(values)
        _begin(height, along, values)
        plotext.frame(False)
        plotext.ylim(low, high)
        plotext.yticks([low, high], [f"{end:>{TICKS}.4g} " for end in (low, high)])
        step = _round_step(float(along[-1]))
        marks = np.arange(0.0, along[-1] + 1e-9, step).tolist() if scale else []
        plotext.xticks(marks, [f"{mark:g}" for mark in marks])
        for place, letter in upright:
            line = np.linspace(low, high, 4 * height)
            plotext.scatter(np.full_like(line, place).tolist(), line.tolist(), marker=letter)
        return _built(title)


def _round_limits(values: FloatArray) -> tuple[float, float]:
    """Limits in whole steps of a power of ten that fits their range."""
    low, high = float(np.min(values)), float(np.max(values))
    step = 10.0 ** np.floor(np.log10(max(high - low, 0.01 * abs(high), 1e-6)))
    low, high = float(np.floor(low / step) * step), float(np.ceil(high / step) * step)
    return low, max(high, low + float(step))


def _begin(height: int, across: FloatArray, up: FloatArray) -> None:
    """A new figure with one curve."""
    import plotext

    plotext.clear_figure()
    plotext.limit_size(False, False)
    plotext.theme("clear")
    plotext.plot_size(width(), height)
    plotext.plot(across.tolist(), up.tolist(), marker="braille")


def _built(title: str) -> str:
    import plotext

    plotext.title(title)
    drawn = plotext.uncolorize(plotext.build())
    return "\n".join(line.rstrip() for line in drawn.splitlines()) + "\n"


def _round_step(length: float) -> float:
    """Round distance between marks that makes four to ten of them."""
    power = 10.0 ** np.floor(np.log10(length / 4.0))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power * 4.0 <= length))
