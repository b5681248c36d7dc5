"""The charts of a page: the course, the savings, the frontier of money and seconds, the tests."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.basket import Rung
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.timing import Along
from racecalc.domain.course import Landmark
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, shown_unit, to_shown
from racecalc.views.advice.drawing import INK, LINE, PAPER, SOFT, bare, drawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABELLED = 46
"""Signs of a name in a chart."""

POINTS = 500
"""Points of a curve along the course."""

FLAT = 20.0
"""Least range of elevations that is drawn, in the unit shown: a flat course looks flat."""

ROW = 0.3
"""Height of a row with its name above it [in]."""


def draw_profile(
    name: str, along: Along, card: Card, landmarks: Sequence[Landmark], units: System
) -> str:
    """Elevation, power and speed over the course, one below the other, landmarks dotted."""
    at = np.linspace(0.0, along.length_m, POINTS)
    distance = to_shown(at, "course_distance", units)
    marks = to_shown(np.array([mark.at for mark in landmarks]), "course_distance", units)
    ends = to_shown(np.array([0.0, *(one.to_m for one in card.targets)]), "course_distance", units)
    watts = [one.power_w for one in card.targets]

    def draw(figure: "Figure") -> None:
        panels = figure.subplots(3, 1, sharex=True, height_ratios=(3, 3, 3))
        figure.subplots_adjust(left=0.1, right=0.96, top=0.93, bottom=0.15, hspace=0.7)
        height = to_shown(along.curve("elevation_m", at), "elevation", units)
        panels[0].fill_between(distance, height, np.min(height) - FLAT, color=SOFT, linewidth=0)
        panels[0].plot(distance, height, color=INK, linewidth=0.9)
        level = max(0.0, 0.5 * (FLAT - float(np.ptp(height))))
        panels[0].set_ylim(float(np.min(height)) - level, float(np.max(height)) + level + 1.0)
        panels[1].plot(np.repeat(ends, 2)[1:-1], np.repeat(watts, 2), color=INK, linewidth=1.4)
        speed = to_shown(along.curve("speed_m_s", at), "speed", units)
        panels[2].plot(distance, speed, color=INK, linewidth=0.9)
        titles = (
            f"elevation [{shown_unit('elevation', units)}]",
            f"power of the card [{shown_unit('power', units)}]",
            f"expected speed [{shown_unit('speed', units)}]",
        )
        for axes, title in zip(panels, titles, strict=True):
            _panel(axes, title, marks)
        panels[0].set_xlim(0.0, float(distance[-1]))
        panels[2].set_xlabel(f"distance [{shown_unit('course_distance', units)}]", labelpad=2)

    return drawn(name, 2.6, draw)


def _panel(axes: "Axes", title: str, marks: FloatArray) -> None:
    axes.set_title(title, loc="left", fontsize=9.0, pad=3)
    axes.grid(visible=True, axis="y")
    axes.locator_params(axis="y", nbins=3)
    bare(axes)
    for mark in marks:
        axes.axvline(float(mark), color=INK, linewidth=0.7, linestyle=":")


@dataclass(frozen=True)
class Bar:
    """A best estimate with its interval, for one row of a chart."""

    name: str
    """Any words."""
    at: float
    """Best estimate."""
    low: float | None
    high: float | None
    """95 % interval; None where it is not known."""
    filled: bool
    """Whether it is proved to differ from nothing."""


def draw_bars(name: str, bars: Sequence[Bar], axis: str, margin: float | None = None) -> str:
    """Best estimates with their intervals, each under its name, and a line at nothing."""
    return drawn(
        name,
        ROW * len(bars) + 0.55,
        partial(_draw_bars, bars=bars, axis=axis, margin=margin),
        {_mark(row): one_line(bar.name, LABELLED) for row, bar in enumerate(bars)},
    )


def _mark(row: int) -> str:
    return f"@{row}@"


def _draw_bars(figure: "Figure", bars: Sequence[Bar], axis: str, margin: float | None) -> None:
    height = ROW * len(bars) + 0.55
    axes = figure.add_axes((0.02, 0.45 / height, 0.96, ROW * len(bars) / height))
    axes.set_ylim(len(bars) - 0.4, -0.75)
    axes.set_yticks([])
    axes.grid(visible=True, axis="x")
    axes.axvline(0.0, color=INK, linewidth=1.0)
    if margin:
        axes.axvspan(-margin, margin, color=SOFT, linewidth=0)
    for row, bar in enumerate(bars):
        if bar.low is not None and bar.high is not None:
            axes.plot([bar.low, bar.high], [row, row], color=INK, linewidth=1.3)
            face = INK if bar.filled else PAPER
            axes.plot(bar.at, row, "o", color=INK, markersize=5.0, markerfacecolor=face)
        else:
            axes.plot(bar.at, row, "x", color=INK, markersize=6.0, markeredgewidth=1.4)
        axes.text(0.0, row - 0.32, _mark(row), transform=axes.get_yaxis_transform(), fontsize=8.5)
    axes.margins(x=0.06)
    axes.set_xlabel(axis, labelpad=2)
    bare(axes)


@dataclass(frozen=True)
class Priced:
    """One option on the frontier: its price, and what it saves alone [s]."""

    name: str
    price: float
    saved_s: float


def draw_frontier(
    name: str,
    steps: Sequence[Rung],
    chosen: tuple[float, float],
    alone: Sequence[Priced],
    currency: str,
) -> str:
    """What the best set saves for every amount of money, and each option alone."""

    def draw(figure: "Figure") -> None:
        axes = figure.add_axes((0.1, 0.16, 0.87, 0.74))
        money = np.array([float(step.cost) for step in steps])
        seconds = np.array([step.saved_s for step in steps])
        axes.axhline(0.0, color=LINE, linewidth=0.8)
        axes.step(money, seconds, where="post", color=INK, linewidth=1.2)
        axes.plot(money, seconds, "o", color=INK, markersize=4.0)
        axes.plot(
            [one.price for one in alone],
            [one.saved_s for one in alone],
            "+",
            color=INK,
            markersize=6.0,
        )
        axes.plot(*chosen, "D", color=INK, markersize=11.0, markerfacecolor="none")
        axes.set_title("seconds saved", loc="left", fontsize=9.0, pad=4)
        axes.set_xlabel(f"price [{currency}]", labelpad=2)
        axes.grid(visible=True)
        axes.margins(x=0.04, y=0.08)
        bare(axes, left=True)

    return drawn(name, 2.5, draw)


@dataclass(frozen=True)
class Swept:
    """An item over yaw: yaws [deg], drag areas [m^2], and standard errors where they are known."""

    name: str
    yaw_deg: Sequence[float]
    area_m2: Sequence[float]
    error_m2: Sequence[float] | None


def draw_sweep(name: str, swept: Sequence[Swept]) -> str:
    """Drag area over yaw, one line an item, told apart by dashes and marks."""
    styles = ("-", "--", ":", "-.")
    signs = ("o", "s", "^", "D")

    def draw(figure: "Figure") -> None:
        axes = figure.add_axes((0.13, 0.16, 0.84, 0.6))
        for row, one in enumerate(swept):
            axes.errorbar(
                one.yaw_deg,
                one.area_m2,
                yerr=one.error_m2,
                color=INK,
                linewidth=1.1,
                linestyle=styles[row % 4],
                marker=signs[row % 4],
                markersize=4.0,
                markerfacecolor=INK if row % 2 else PAPER,
                capsize=2.0,
                label=_mark(row),
            )
        axes.set_xlabel("yaw [deg]", labelpad=2)
        axes.set_title("drag area [m^2]", loc="left", fontsize=9.0, pad=4)
        axes.grid(visible=True)
        bare(axes, left=True)
        figure.legend(loc="upper left", bbox_to_anchor=(0.3, 1.0), frameon=False, fontsize=8.5)

    return drawn(
        name, 2.4, draw, {_mark(row): one_line(one.name, 34) for row, one in enumerate(swept)}
    )
