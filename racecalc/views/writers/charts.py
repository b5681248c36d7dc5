"""Blocks of curves and intervals as SVG, drawn by matplotlib."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Mapping
from functools import partial
from io import BytesIO
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from racecalc.answers.sheet import Curves, Drawn, Intervals, Posted
from racecalc.arrays import FloatArray
from racecalc.quantities.plain_text import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


INK, SOFT, LINE, PAPER = "#010101", "#020202", "#030303", "#040404"
"""Stand-ins for the colours of the page: lines and letters, areas, grids, and the ground."""

VARIABLES = {INK: "var(--ink)", SOFT: "var(--soft)", LINE: "var(--line)", PAPER: "var(--paper)"}

WIDTH = 3.5
"""Width of a chart [in], that of a telephone and of half a page: its letters keep their size."""

SVG = "http://www.w3.org/2000/svg"
XLINK = "{http://www.w3.org/1999/xlink}href"

STYLE: Any = {
    "svg.fonttype": "none",
    "svg.hashsalt": "racecalc",
    "font.family": "sans-serif",
    "font.size": 9.0,
    "text.parse_math": False,
    "axes.edgecolor": LINE,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "grid.color": SOFT,
    "grid.linewidth": 0.6,
    **dict.fromkeys((f"{one}.color" for one in ("text", "xtick", "ytick", "lines")), INK),
    "axes.labelcolor": INK,
    **dict.fromkeys((f"{one}.facecolor" for one in ("figure", "axes", "savefig")), "none"),
}

# One style holds for the whole process while a chart is drawn.
_DRAWING = Lock()


def drawn(
    name: str, size: tuple[float, float], draw: Callable[["Figure"], None], words: Mapping[str, str]
) -> str:
    """Draw a chart."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with _DRAWING, rc_context(STYLE):
        figure = Figure(figsize=size)
        FigureCanvasSVG(figure)
        draw(figure)
        buffer = BytesIO()
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return _for_page(buffer.getvalue(), name, words)


def _for_page(svg: bytes, name: str, words: Mapping[str, str]) -> str:
    """Take out what belongs to a file of its own, and put in what belongs to the page."""
    ET.register_namespace("", SVG)
    root = ET.fromstring(svg)  # noqa: S314 - our own drawing, made just now
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{SVG}}}metadata", f"{{{SVG}}}style"):
                parent.remove(child)
    used = {_target(value) for one in root.iter() for value in one.attrib.values()} - {""}
    for one in root.iter():
        _renamed(one, name, used)
        if one.tag == f"{{{SVG}}}text":
            one.set("paint-order", "stroke")  # lines end before letters
            one.text = words.get(one.text or "", one.text)
    width, height = root.attrib.pop("width", ""), root.attrib.pop("height", "")
    root.attrib |= {"viewBox": root.get("viewBox", f"0 0 {width} {height}"), "aria-hidden": "true"}
    root.attrib.pop("version", None)
    return ET.tostring(root, encoding="unicode").replace(f' xmlns="{SVG}"', "", 1)


def _target(value: str) -> str:
    """The identifier that an attribute points to; empty where it points to none."""
    found = re.fullmatch(r"#(.+)|url\(#(.+)\)", value)
    return (found[1] or found[2]) if found else ""


def _renamed(one: ET.Element, name: str, used: set[str]) -> None:
    """Identifiers begin with the name of the chart; colours are those of the page."""
    identifier = one.attrib.pop("id", "")
    if identifier in used:
        one.set("id", f"{name}-{identifier}")
    if XLINK in one.attrib:
        one.set("href", one.attrib.pop(XLINK))
    for key, value in list(one.attrib.items()):
        if target := _target(value):
            one.set(key, value.replace(target, f"{name}-{target}"))
        elif key == "style":
            one.set(key, _style(value))


def _style(value: str) -> str:
    for colour, variable in VARIABLES.items():
        value = value.replace(colour, variable)
    return re.sub(r"font-family: [^;]*;? ?", "", value)


def bare(axes: "Axes", *, left: bool = False) -> None:
    """Leave a panel its bottom line alone, and that at its left if asked."""
    axes.spines["left"].set_visible(left)
    axes.tick_params(left=left, length=2.5, width=0.6)
    for side in ("left", "bottom"):
        axes.spines[side].set_linewidth(0.6)


# --- The curves and intervals of a sheet, drawn for a page ---------------------------------------

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


def chart_of(block: Curves | Intervals, name: str, width: float = WIDTH) -> str:
    """A block as SVG of a width [in], whose identifiers begin with a name."""
    if isinstance(block, Intervals):
        labels = [one.name for one in block.lines]
        height, draw = ROW * len(labels) + 0.55, partial(_intervals, block=block)
    else:
        labels = [*block.curves]
        charts = 1 if block.together else len(labels)
        height = 2.6 if charts == 1 else 0.5 + 0.7 * charts
        draw = partial(_together if block.together else _below_each_other, block=block)
        labels += [words for _, _, words in block.names]
    words = {_mark(row): one_line(label, LABELLED) for row, label in enumerate(labels)}
    return drawn(name, (width, height), draw, words)


def _mark(row: int) -> str:
    """What is drawn in the place of words that may come from a file."""
    return f"@{row}@"


def _below_each_other(figure: "Figure", block: Curves) -> None:
    """Each curve in a panel of its own, all along the same axis."""
    count = len(block.curves)
    panels = figure.subplots(count, 1, sharex=True, squeeze=False)[:, 0]
    alone = count == 1
    figure.subplots_adjust(left=0.13, right=0.96, top=0.9 if alone else 0.93, bottom=0.16)
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
    _named(panels[0], block)
    if not block.points:
        panels[0].set_xlim(float(block.along[0]), float(block.along[-1]))
    panels[-1].set_xlabel(block.across, labelpad=2)


APART = 0.075
"""Share of the height of a chart by which words below each other are apart."""


def _named(axes: "Axes", block: Curves) -> None:
    """Words below the first curve, right of where they belong, as far as they do not meet."""
    values = next(iter(block.curves.values()))
    least = APART * float(np.ptp(values)) or 1.0
    last = -np.inf
    for row, (across, up, _) in enumerate(block.names, len(block.curves)):
        if up - last < least:
            continue
        last = up
        late = across > float(np.mean(axes.get_xlim()))
        near = {"xytext": (-3, -3), "ha": "right"} if late else {"xytext": (4, -3), "ha": "left"}
        axes.annotate(
            _mark(row), (across, up), textcoords="offset points", va="top", fontsize=7.5, **near
        )


def _ground(axes: "Axes", along: FloatArray, height: FloatArray) -> None:
    low, high = float(np.min(height)), float(np.max(height))
    axes.fill_between(along, height, low - FLAT, color=SOFT, linewidth=0)
    axes.plot(along, height, color=INK, linewidth=0.9)
    level = max(0.0, 0.5 * (FLAT - (high - low)))
    axes.set_ylim(low - level, high + level + 1.0)


def _together(figure: "Figure", block: Curves) -> None:
    """All curves in one chart, with their standard uncertainties where these are known."""
    axes = figure.add_axes((0.2, 0.16, 0.77, 0.6))
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
    across = axes.get_yaxis_transform()
    for row, one in enumerate(block.lines):
        _interval(axes, row, one)
        axes.text(0.0, row - 0.32, _mark(row), transform=across, fontsize=8.5)
    axes.margins(x=0.06)
    axes.set_xlabel(f"{block.across}: {block.left} | {block.right}".lstrip(": "), labelpad=2)
    bare(axes)


def _interval(axes: "Axes", row: int, one: Drawn, ink: str = INK, paper: str = PAPER) -> None:
    if one.low is not None and one.high is not None:
        clear = one.low > 0 or one.high < 0
        axes.plot([one.low, one.high], [row, row], color=ink, linewidth=1.3)
        face = ink if clear else paper
        axes.plot(one.value, row, "o", color=ink, markersize=5.0, markerfacecolor=face)
    else:
        axes.plot(one.value, row, "x", color=ink, markersize=6.0, markeredgewidth=1.4)


# --- One result to post, as a picture of its own -------------------------------------------------

POSTED: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "text.parse_math": False,
    "svg.fonttype": "path",
    "svg.hashsalt": "racecalc",
    **dict.fromkeys(("axes.edgecolor", "xtick.color", "axes.labelcolor"), "#545b64"),
}

SIZE, DOTS = (6.0, 3.15), 200
"""Size of the picture [in], as wide for its height as pages that share links show it, and dots an
inch."""

BLUE, GREY = "#0f5168", "#545b64"


def picture_of(posted: Posted, form: Literal["png", "svg"]) -> bytes:
    """One result as a picture; letters are outlines in SVG, so that it needs no font."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with _DRAWING, rc_context(POSTED):
        figure = Figure(figsize=SIZE, facecolor="white")
        FigureCanvasAgg(figure)
        _posted(figure, posted)
        buffer = BytesIO()
        kept = {"Date": None, "Creator": "racecalc"} if form == "svg" else {"Software": "racecalc"}
        figure.savefig(buffer, format=form, dpi=DOTS, metadata=kept)
    return buffer.getvalue()


def _posted(figure: "Figure", posted: Posted) -> None:
    """What, how much, how sure, under which conditions, and from where."""
    figure.text(0.05, 0.87, posted.name, fontsize=13, fontweight="bold")
    figure.text(0.05, 0.66, posted.saved, fontsize=30, fontweight="bold", color=BLUE)
    figure.text(0.05, 0.575, posted.sure, fontsize=9.5)
    axes = figure.add_axes((0.05, 0.4, 0.9, 0.12))
    _interval(axes, 0, posted.drawn, BLUE, "white")
    axes.axvline(0.0, color="black", linewidth=1.0)
    axes.set_xlabel("seconds saved", fontsize=8, labelpad=1)
    axes.set_yticks([])
    axes.set_ylim(0.7, -0.7)
    axes.margins(x=0.08)
    axes.tick_params(labelsize=8, length=2.5)
    axes.locator_params(axis="x", nbins=6)
    axes.grid(visible=True, axis="x", color="#e3e7ea", linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    for row, line in enumerate(posted.conditions):
        figure.text(0.05, 0.215 - 0.052 * row, line, fontsize=7.5)
    figure.text(0.05, 0.035, posted.source, fontsize=6.5, color=GREY)
