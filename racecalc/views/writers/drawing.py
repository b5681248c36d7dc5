"""Charts as SVG that takes its colours and letters from the page that holds it.

This is the one place that draws with matplotlib. What a chart says in words of a file never
passes through it: labels are drawn as marks, and the words put in their place afterwards, so that
no name can be read as a formula or as markup.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Mapping
from io import BytesIO
from threading import Lock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, LINE, PAPER = "#010101", "#020202", "#030303", "#040404"
"""Stand-ins for the colours of the page: lines and letters, areas, grids, and the ground."""

VARIABLES = {INK: "var(--ink)", SOFT: "var(--soft)", LINE: "var(--line)", PAPER: "var(--paper)"}

WIDTH = 4.6
"""Width of a chart [in]: its letters stay readable on a telephone, 360 pixels wide."""

SVG = "http://www.w3.org/2000/svg"
XLINK = "{http://www.w3.org/1999/xlink}href"

STYLE: Any = {
    "svg.fonttype": "none",
    "svg.hashsalt": "racecalc",
    "font.family": "sans-serif",
    "font.size": 9.0,
    "text.color": INK,
    "text.parse_math": False,
    "axes.labelcolor": INK,
    "axes.edgecolor": LINE,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "grid.color": SOFT,
    "grid.linewidth": 0.6,
    "lines.color": INK,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
    "savefig.facecolor": "none",
}

# One style holds for the whole process while a chart is drawn.
_DRAWING = Lock()


def drawn(
    name: str,
    height: float,
    draw: Callable[["Figure"], None],
    words: Mapping[str, str] | None = None,
) -> str:
    """Draw a chart."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with _DRAWING, rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, height))
        FigureCanvasSVG(figure)
        draw(figure)
        buffer = BytesIO()
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return _for_page(buffer.getvalue(), name, words or {})


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
