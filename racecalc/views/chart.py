"""Elevation and speed along the course, drawn with characters."""

from collections.abc import Sequence

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.quantities.showing import System, shown_unit, to_shown
from racecalc.views.tables import draws_lines, width

HEIGHT = 9
CURVE_HEIGHT = 14


def profile_chart(ridden: Ridden, units: System) -> str:
    """Two small charts over distance: elevation, then speed; a blank line goes before them.

    Empty, as every chart, where the output can show letters only.
    """
    if not draws_lines():
        return ""
    nodes = ridden.solution.ride.nodes
    even = np.linspace(0.0, nodes[-1], 4 * width())
    elevation = ridden.race.course.elevation_at(even)
    speed = np.interp(even, nodes, ridden.solution.speed)
    along = to_shown(even, "course_distance", units)
    return (
        "\n"
        + _chart(
            along,
            to_shown(elevation, "elevation", units),
            f"elevation [{shown_unit('elevation', units)}]",
        )
        + _chart(
            along,
            to_shown(speed, "speed", units),
            f"speed [{shown_unit('speed', units)}] over {shown_unit('course_distance', units)}",
        )
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
    """A curve of one quantity against another, with points marked on it.

    Parameters
    ----------
    across, up : FloatArray, shape (n,)
        The curve, from left to right.
    title : str
        What is drawn over what.
    marks : sequence of (FloatArray, FloatArray, str)
        Points to mark, and the letter that marks them; later ones lie above.

    Returns
    -------
    str
        Lines, each ended, after a blank one; empty where the output can show letters only.
    """
    if not draws_lines():
        return ""
    import plotext

    _begin(CURVE_HEIGHT, across, up)
    for *points, letter in marks:
        plotext.scatter(*(values.tolist() for values in points), marker=letter)
    return "\n" + _built(title)


def _begin(height: int, across: FloatArray, up: FloatArray) -> None:
    """A new figure with one curve."""
    import plotext

    plotext.clear_figure()
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
