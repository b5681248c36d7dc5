"""What a page draws itself: the road of a plan, and the intervals in the rows of a table."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from racecalc.answers.columns import seconds_text
from racecalc.answers.sheet import Drawn, Effort, Group, Road, Step
from racecalc.quantities.plain_text import shortened

# --- The road: its profile falls as bands into columns of equal width ----------------------------

WIDTH = 1860.0
"""Width of the drawing; a tenth of a millimetre on paper is one of its units."""

RISE, DROP, COLUMN = 130.0, 66.0, 94.0
"""Heights of the profile, of the bands that fall from it, and of the columns they fall into."""

LEVEL = 24.0
"""Ground below the lowest point."""

FLAT = 20.0
"""Least range of heights that is drawn in full, in the unit of the profile."""

FLAG, NOTE = 36.0, 36.0
"""Heights of the name at a flag, and of the note below it."""

MOST_ROWS = 3
"""Flags above each other; where more would run into each other, a flag has no name."""

NAMED, TOLD = 34, 52
"""Characters of a landmark and of its note; both are shortened at a word."""

BOLD, PLAIN = 17.5, 14.0
"""Width of a character of each, on average."""


@dataclass(frozen=True)
class _Flag:
    """A landmark as it is drawn."""

    across: float
    step: Step
    row: int | None
    """From the top; None without a name."""
    left: bool
    """Whether its name is at the left of its mast."""


def curtain(road: Road, name: str) -> Markup:
    """The profile with its flags, the bands, the columns with watts, and a ruler at the cuts.

    Parameters
    ----------
    road : Road
        What is drawn.
    name : str
        What its identifiers begin with.
    """
    flags = _flags(road)
    rows = 1 + max((one.row for one in flags if one.row is not None), default=-1)
    # Notes give way where names need the room; they are in the table of landmarks.
    noted = NOTE if rows == 1 and any(one.step.note for one in flags) else 0.0
    top = rows * (FLAG + noted) + (14.0 if flags else 0.0)
    foot = top + RISE + LEVEL
    columns = foot + DROP
    parts = [
        _hatch(name, 14, 2.0),
        *_bands(road, name, top, foot),
        _ridge(road, top),
        *(part for one in flags for part in _flag(one, road, top, noted)),
        *_figures(road, columns),
        *_ruler(road, columns + COLUMN + 56.0),
    ]
    height = columns + COLUMN + 56.0 + 84.0
    return _drawing("curtain", WIDTH, height, parts)


def outline(road: Road, name: str) -> Markup:
    """The profile alone with flags that have no names, for a narrow screen."""
    top = 40.0
    parts = [
        _hatch(f"{name}-small", 36, 5.0),
        *_profile_bands(road, f"{name}-small", top, top + RISE + LEVEL),
        _ridge(road, top),
        *(_mast(_across(road, one.at), 4.0, _up(road, one.at, top)) for one in road.landmarks),
    ]
    return _drawing("outline", WIDTH, top + RISE + LEVEL, parts)


def _drawing(kind: str, width: float, height: float, parts: Sequence[Markup]) -> Markup:
    head = Markup('<svg class="{}" viewBox="0 0 {:.0f} {:.0f}" aria-hidden="true">')
    return head.format(kind, width, height) + Markup("").join(parts) + Markup("</svg>")


def _across(road: Road, at: float) -> float:
    return WIDTH * at / float(road.along[-1])


def _up(road: Road, at: float, top: float) -> float:
    """Where the ground at a place is, from the top of the drawing."""
    low, high = float(np.min(road.height)), float(np.max(road.height))
    range_of = max(high - low, FLAT)
    here = float(np.interp(at, road.along, road.height))
    return top + RISE * (1.0 - (here - low) / range_of)


def _points(road: Road, start: float, end: float, top: float) -> list[tuple[float, float]]:
    """The ground between two places."""
    inside = road.along[(road.along > start) & (road.along < end)].tolist()
    return [(_across(road, at), _up(road, at, top)) for at in (start, *inside, end)]


def _polygon(kind: str, points: Sequence[tuple[float, float]], fill: str = "") -> Markup:
    drawn = " ".join(f"{across:.1f},{up:.1f}" for across, up in points)
    filled = Markup(' fill="url(#{})"').format(fill) if fill else ""
    return Markup('<polygon class="{}" points="{}"{}/>').format(kind, drawn, filled)


def _band_class(effort: Effort, name: str) -> tuple[str, str]:
    return f"band {effort}", f"{name}-hatch" if effort == "ease" else ""


def _columns(road: Road) -> list[tuple[Step, Step, float, float]]:
    """Each stretch with the ends of its column."""
    stretches = road.stretches
    wide = WIDTH / len(stretches)
    gap = 5.0 if len(stretches) > 1 else 0.0
    return [
        (
            one,
            end,
            wide * at + (gap if at else 0.0),
            wide * (at + 1) - gap * (at + 1 < len(stretches)),
        )
        for at, (one, end) in enumerate(stretches)
    ]


def _bands(road: Road, name: str, top: float, foot: float) -> Iterator[Markup]:
    for one, end, left, right in _columns(road):
        ground = _points(road, one.at, end.at, top)
        below = [
            (_across(road, end.at), foot),
            (right, foot + DROP),
            (right, foot + DROP + COLUMN),
            (left, foot + DROP + COLUMN),
            (left, foot + DROP),
            (_across(road, one.at), foot),
        ]
        kind, fill = _band_class(one.effort or "hold", name)
        yield _polygon(kind, [*ground, *below], fill)


def _profile_bands(road: Road, name: str, top: float, foot: float) -> Iterator[Markup]:
    for one, end in road.stretches:
        ground = _points(road, one.at, end.at, top)
        below = [(_across(road, end.at), foot), (_across(road, one.at), foot)]
        kind, fill = _band_class(one.effort or "hold", name)
        yield _polygon(kind, [*ground, *below], fill)


def _hatch(name: str, size: int, wide: float) -> Markup:
    return Markup(
        '<defs><pattern id="{0}-hatch" width="{1}" height="{1}" patternUnits="userSpaceOnUse"'
        ' patternTransform="rotate(45)"><rect width="{1}" height="{1}" class="ground"/>'
        '<line x1="{3}" x2="{3}" y2="{1}" class="hatch" stroke-width="{2}"/></pattern></defs>'
    ).format(name, size, wide, size // 2)


def _ridge(road: Road, top: float) -> Markup:
    points = _points(road, 0.0, float(road.along[-1]), top)
    drawn = " ".join(f"{across:.1f},{up:.1f}" for across, up in points)
    return Markup('<polyline class="ridge" points="{}"/>').format(drawn)


def _text(kind: str, across: float, up: float, words: str, anchor: str = "middle") -> Markup:
    return Markup('<text class="{}" x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>').format(
        kind, across, up, anchor, escape(words)
    )


def _figures(road: Road, columns: float) -> Iterator[Markup]:
    """Watts in the columns, and what each stretch is known by below them."""
    for one, _, left, right in _columns(road):
        middle = 0.5 * (left + right)
        yield _text(f"watts on-{one.effort}", middle, columns + 0.5 * COLUMN + 26.0, str(one.power))
        yield _text("cue", middle, columns + COLUMN + 34.0, str(one.cue))


def _ruler(road: Road, up: float) -> Iterator[Markup]:
    """Distance and clock at the cuts."""
    yield Markup('<line class="ruler" x2="{:.0f}" y1="{:.0f}" y2="{:.0f}"/>').format(WIDTH, up, up)
    cuts = [*(one for one, _ in road.stretches), road.steps[-1]]
    unit = road.headings[0].rpartition(" ")[2]
    for number, one in enumerate(cuts):
        anchor = "start" if not number else "middle" if one.effort else "end"
        at = WIDTH * number / (len(cuts) - 1)
        tick = Markup('<line class="ruler" x1="{0:.1f}" x2="{0:.1f}" y1="{1:.0f}" y2="{2:.0f}"/>')
        yield tick.format(at, up - 8.0, up + 8.0)
        where = f"{unit} {float(one.where.text):g}" if not number else one.where.text
        yield _text("at", at, up + 40.0, where, anchor)
        # Hours need the room of another two figures.
        kind = "clock" if len(str(cuts[-1].clock)) <= len("59:59") else "clock hours"
        yield _text(kind, at, up + 78.0, str(one.clock), anchor)


# --- flags ---------------------------------------------------------------------------------------


def _flags(road: Road) -> list[_Flag]:
    """The landmarks, each a row lower where its name would run into the one before."""
    found: list[_Flag] = []
    taken = [0.0] * MOST_ROWS
    for step in road.landmarks:
        across = _across(road, step.at)
        wide = max(
            BOLD * (len(shortened(str(step.cue), NAMED)) + len(str(step.clock)) + 1),
            PLAIN * len(shortened(_note(step), TOLD)),
        )
        left = across + 40.0 + wide > WIDTH
        begin, end = (across - wide - 20.0, across) if left else (across, across + 40.0 + wide)
        row = next((at for at, edge in enumerate(taken) if edge <= begin), None)
        if row is not None and begin >= 0.0:
            taken[row:] = [end, *(max(one, across + 12.0) for one in taken[row + 1 :])]
        else:
            row = None
        found.append(_Flag(across, step, row, left))
    return found


def _note(step: Step) -> str:
    return "" if step.note is None else step.note.text


def _mast(across: float, up: float, down: float) -> Markup:
    return Markup(
        '<line class="mast" x1="{0:.1f}" x2="{0:.1f}" y1="{1:.1f}" y2="{2:.1f}"/>'
        '<path class="flag" d="M{0:.1f} {1:.1f} l26 11 l-26 11 z"/>'
    ).format(across, up, down)


def _flag(one: _Flag, road: Road, top: float, noted: float) -> Iterator[Markup]:
    up = 4.0 + (one.row or 0) * (FLAG + noted) if one.row is not None else top - 30.0
    yield _mast(one.across, up, _up(road, one.step.at, top))
    if one.row is None:
        return
    beside, anchor = (-14.0, "end") if one.left else (36.0, "start")
    name = f"{shortened(str(one.step.cue), NAMED)} {one.step.clock}".rstrip()
    yield _text("landmark", one.across + beside, up + 24.0, name, anchor)
    if one.step.note and noted:
        note = shortened(_note(one.step), TOLD)
        yield _text("note", one.across + beside, up + 62.0, note, anchor)


# --- Intervals in the rows of a table, all along one axis ----------------------------------------

WIDE, HIGH = 460.0, 36.0
"""Units of a bar."""

FURTHER = 1.6
"""How much further than the reach of most rows a bar is drawn before it is cut; our choice."""


@dataclass(frozen=True)
class Axis:
    """From where to where the rows of a table reach."""

    low: float
    high: float

    @classmethod
    def of(cls, rows: Iterable[Drawn]) -> "Axis":
        """An axis that holds every best value, zero, and all intervals but those far wider."""
        every = list(rows)
        reach = sorted(max(abs(end) for end in _ends(one)) for one in every)
        usual = FURTHER * reach[len(reach) // 2] if reach else 1.0
        most = max([usual, *(abs(one.value) for one in every)])
        low = min([0.0, *(end for one in every for end in _ends(one) if -end <= most)])
        high = max([0.0, *(end for one in every for end in _ends(one) if end <= most)])
        cut_low = any(end < low for one in every for end in _ends(one))
        cut_high = any(end > high for one in every for end in _ends(one))
        low, high = (-most if cut_low else low), (most if cut_high else high)
        spare = 0.04 * max(high - low, 1e-9)
        return cls(low - spare, high + spare)

    def share(self, value: float) -> float:
        """Where a value is, from 0 at the left to 1 at the right."""
        return (value - self.low) / (self.high - self.low)

    @property
    def ticks(self) -> list[float]:
        """Round values, three to six of them."""
        most = (self.high - self.low) / 3.0
        power = 10.0 ** math.floor(math.log10(most))
        step = max(power * one for one in (1.0, 2.0, 5.0) if power * one <= most)
        first, last = math.ceil(self.low / step), math.floor(self.high / step)
        return [step * one for one in range(first, last + 1)]


def _ends(one: Drawn) -> Sequence[float]:
    return [end for end in (one.low, one.value, one.high) if end is not None]


def scale(axis: Axis) -> Markup:
    """The numbers along an axis."""
    label = Markup('<text x="{:.1f}" y="28" text-anchor="middle">{}</text>')
    labels = [label.format(WIDE * axis.share(one), seconds_text(one)) for one in axis.ticks]
    head = Markup('<svg class="scale" viewBox="0 0 {:.0f} {:.0f}" aria-hidden="true">')
    return head.format(WIDE, HIGH) + Markup("").join(labels) + Markup("</svg>")


def bar(axis: Axis, one: Drawn, group: Group | None = None) -> Markup:
    """A row: filled where it is proved, a ring where not, a cross where no doubt is stated."""

    def at(value: float) -> float:
        return min(max(WIDE * axis.share(value), 2.0), WIDE - 2.0)

    middle = HIGH / 2.0
    line = Markup('<line class="{}" x1="{:.1f}" x2="{:.1f}" y1="{:.1f}" y2="{:.1f}"/>')
    parts = [
        line.format("grid" if value else "zero", at(value), at(value), -20.0, HIGH + 20.0)
        for value in dict.fromkeys([0.0, *axis.ticks])
    ]
    if one.low is None or one.high is None:
        cross = Markup('<path class="cross" d="M{:.1f} {:.1f} l16 16 m0 -16 l-16 16"/>')
        parts.append(cross.format(at(one.value) - 8.0, middle - 8.0))
    else:
        parts.append(line.format("reach", at(one.low), at(one.high), middle, middle))
        for end, way in ((one.low, 1.0), (one.high, -1.0)):
            if 0.0 <= axis.share(end) <= 1.0:
                ends = at(end), at(end), middle - 8.0, middle + 8.0
                parts.append(line.format("cap", *ends))
            else:
                arrow = Markup('<path class="arrow" d="M{:.1f} {:.1f} l{:.1f} -8 v16 z"/>')
                parts.append(arrow.format(at(end), middle, 14.0 * way))
        dot = Markup('<circle class="{}" cx="{:.1f}" cy="{:.1f}" r="9"/>')
        proved = one.low > 0.0 or one.high < 0.0
        parts.append(dot.format("dot" if proved else "ring", at(one.value), middle))
    head = Markup('<svg class="bar {}" viewBox="0 0 {:.0f} {:.0f}" aria-hidden="true">')
    return head.format(group or "none", WIDE, HIGH) + Markup("").join(parts) + Markup("</svg>")
