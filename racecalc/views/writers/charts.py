"""The curves and intervals of a sheet, drawn for a page."""

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from racecalc.answers.sheet import Curves, Drawn, Intervals
from racecalc.arrays import FloatArray
from racecalc.quantities.plain_text import one_line
from racecalc.views.writers.drawing import INK, PAPER, SOFT, bare, drawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABELLED = 46
"""Characters of a name in a chart."""

GROUND = "elevation"
"""A curve whose name begins so is the ground: filled, and flat where the course is."""

FLAT = 20.0
"""Least range of elevations that is drawn, in the unit shown."""

ROW = 0.3
"""Height of a row with its name above it [in]."""

POINTS = {"o": ("o", INK, 4.0), "*": ("+", INK, 6.0), "X": ("D", "none", 11.0)}
"""Mark, filling and size of a point, by the letter that a terminal shows."""

LINES = (("-", "o"), ("--", "s"), (":", "^"), ("-.", "D"))
"""Dashes and marks of curves in one chart, distinguished without colour."""


def chart_of(block: Curves | Intervals, name: str) -> str:
    """A block as SVG, whose identifiers begin with a name."""
    if isinstance(block, Intervals):
        labels = [one.name for one in block.lines]
        height, draw = ROW * len(labels) + 0.55, partial(_intervals, block=block)
    else:
        labels = [*block.curves]
        charts = 1 if block.together else len(labels)
        height = 2.5 if charts == 1 else 0.5 + 0.7 * charts
        draw = partial(_together if block.together else _below_each_other, block=block)
    words = {_mark(row): one_line(label, LABELLED) for row, label in enumerate(labels)}
    return drawn(name, height, draw, words)


def _mark(row: int) -> str:
    """What is drawn in the place of words that may come from a file."""
    return f"@{row}@"


# --- curves --------------------------------------------------------------------------------------


def _below_each_other(figure: "Figure", block: Curves) -> None:
    """Each curve in a panel of its own, all along the same axis."""
    count = len(block.curves)
    panels = figure.subplots(count, 1, sharex=True, squeeze=False)[:, 0]
    alone = count == 1
    figure.subplots_adjust(left=0.1, right=0.96, top=0.9 if alone else 0.93, bottom=0.16)
    figure.subplots_adjust(hspace=0.7)
    for row, (axes, (name, values)) in enumerate(zip(panels, block.curves.items(), strict=True)):
        if name.startswith(GROUND):
            _ground(axes, block.along, values)
        else:
            style = "steps-post" if block.steps else "default"
            axes.plot(block.along, values, color=INK, linewidth=1.2, drawstyle=style)
        axes.set_title(_mark(row), loc="left", fontsize=9.0, pad=3)
        axes.grid(visible=True, axis="both" if alone else "y")
        axes.locator_params(axis="y", nbins=8 if alone else 3)
        bare(axes, left=alone)
        for place, _ in block.marks:
            axes.axvline(place, color=INK, linewidth=0.7, linestyle=":")
    for across, up, letter in block.points:
        mark, face, size = POINTS.get(letter, ("x", INK, 5.0))
        panels[0].plot(across, up, mark, color=INK, markersize=size, markerfacecolor=face)
    if not block.points:
        panels[0].set_xlim(float(block.along[0]), float(block.along[-1]))
    panels[-1].set_xlabel(block.across, labelpad=2)


def _ground(axes: "Axes", along: FloatArray, height: FloatArray) -> None:
    low, high = float(np.min(height)), float(np.max(height))
    axes.fill_between(along, height, low - FLAT, color=SOFT, linewidth=0)
    axes.plot(along, height, color=INK, linewidth=0.9)
    level = max(0.0, 0.5 * (FLAT - (high - low)))
    axes.set_ylim(low - level, high + level + 1.0)


def _together(figure: "Figure", block: Curves) -> None:
    """All curves in one chart, with their standard uncertainties where these are known."""
    axes = figure.add_axes((0.13, 0.16, 0.84, 0.6))
    for row, (name, values) in enumerate(block.curves.items()):
        dashes, mark = LINES[row % len(LINES)]
        axes.errorbar(
            block.along,
            values,
            yerr=block.errors.get(name),
            color=INK,
            linewidth=1.1,
            linestyle=dashes,
            marker=mark,
            markersize=4.0,
            markerfacecolor=INK if row % 2 else PAPER,
            capsize=2.0,
            label=_mark(row),
        )
    axes.set_xlabel(block.across, labelpad=2)
    axes.grid(visible=True)
    bare(axes, left=True)
    figure.legend(loc="upper left", bbox_to_anchor=(0.1, 1.0), frameon=False, fontsize=8.5)


# --- intervals -----------------------------------------------------------------------------------


def _intervals(figure: "Figure", block: Intervals) -> None:
    """Best values with their intervals, each under its name, and a line at nothing."""
    count = len(block.lines)
    height = ROW * count + 0.55
    axes = figure.add_axes((0.02, 0.45 / height, 0.96, ROW * count / height))
    axes.set_ylim(count - 0.4, -0.75)
    axes.set_yticks([])
    axes.grid(visible=True, axis="x")
    axes.axvline(0.0, color=INK, linewidth=1.0)
    if block.margin:
        axes.axvspan(-block.margin, block.margin, color=SOFT, linewidth=0)
    for row, one in enumerate(block.lines):
        _interval(axes, row, one)
    axes.margins(x=0.06)
    axes.set_xlabel(f"{block.across}: {block.left} | {block.right}".lstrip(": "), labelpad=2)
    bare(axes)


def _interval(axes: "Axes", row: int, one: Drawn) -> None:
    if one.low is not None and one.high is not None:
        clear = one.low > 0 or one.high < 0
        axes.plot([one.low, one.high], [row, row], color=INK, linewidth=1.3)
        face = INK if clear else PAPER
        axes.plot(one.value, row, "o", color=INK, markersize=5.0, markerfacecolor=face)
    else:
        axes.plot(one.value, row, "x", color=INK, markersize=6.0, markeredgewidth=1.4)
    axes.text(0.0, row - 0.32, _mark(row), transform=axes.get_yaxis_transform(), fontsize=8.5)
