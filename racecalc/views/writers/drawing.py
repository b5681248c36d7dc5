"""What a page draws itself: the road of a plan, and the intervals in the rows of a table."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from racecalc.answers.columns import seconds_text
from racecalc.answers.sheet import Drawn, Group, Road, Step
from racecalc.quantities.plain_text import shortened

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

    Identifiers begin with the name.
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
        *_bands(road, name, top, fall=True),
        _ridge(road, top),
        *(part for one in flags for part in _flag(one, road, top, noted)),
        *_figures(road, columns),
        *_ruler(road, columns + COLUMN + 56.0),
    ]
    return _drawing("curtain", WIDTH, columns + COLUMN + 140.0, parts)


def outline(road: Road, name: str) -> Markup:
    """The profile alone with flags that have no names, for a narrow screen."""
    top = 40.0
    parts = [
        _hatch(f"{name}-small", 36, 5.0),
        *_bands(road, f"{name}-small", top, fall=False),
        _ridge(road, top),
        *(_mast(_across(road, one.at), 4.0, _up(road, one.at, top)) for one in road.landmarks),
    ]
    return _drawing("outline", WIDTH, top + RISE + LEVEL, parts)


def _drawing(kind: str, width: float, height: float, parts: Iterable[Markup]) -> Markup:
    head = Markup('<svg class="{}" viewBox="0 0 {:.0f} {:.0f}" aria-hidden="true">')
    return head.format(kind, width, height) + Markup("").join(parts) + Markup("</svg>")


def _shape(tag: str, kind: str, points: Iterable[tuple[float, float]], fill: str = "") -> Markup:
    drawn = " ".join(f"{across:.1f},{up:.1f}" for across, up in points)
    filled = Markup(' fill="url(#{})"').format(fill) if fill else ""
    return Markup('<{} class="{}" points="{}"{}/>').format(tag, kind, drawn, filled)


def _line(kind: str, left: float, right: float, up: float, down: float) -> Markup:
    line = Markup('<line class="{}" x1="{:.1f}" x2="{:.1f}" y1="{:.1f}" y2="{:.1f}"/>')
    return line.format(kind, left, right, up, down)


def _text(kind: str, across: float, up: float, words: str, anchor: str = "middle") -> Markup:
    text = Markup('<text class="{}" x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>')
    return text.format(kind, across, up, anchor, words)


def _across(road: Road, at: float) -> float:
    return WIDTH * at / float(road.along[-1])


def _up(road: Road, at: float, top: float) -> float:
    """Where the ground at a place is, from the top of the drawing."""
    low, high = float(np.min(road.height)), float(np.max(road.height))
    here = float(np.interp(at, road.along, road.height))
    return top + RISE * (1.0 - (here - low) / max(high - low, FLAT))


def _points(road: Road, start: float, end: float, top: float) -> list[tuple[float, float]]:
    """The ground between two places."""
    inside = road.along[(road.along > start) & (road.along < end)].tolist()
    return [(_across(road, at), _up(road, at, top)) for at in (start, *inside, end)]


def _columns(road: Road) -> Iterator[tuple[Step, Step, float, float]]:
    """Each stretch with the ends of its column."""
    count = len(road.stretches)
    wide, gap = WIDTH / count, 5.0
    for at, (one, end) in enumerate(road.stretches):
        yield one, end, wide * at + gap * (at > 0), wide * (at + 1) - gap * (at + 1 < count)


def _bands(road: Road, name: str, top: float, *, fall: bool) -> Iterator[Markup]:
    """The ground of each stretch, which falls into its column if asked."""
    foot = top + RISE + LEVEL
    for one, end, left, right in _columns(road):
        high, low = foot + DROP, foot + DROP + COLUMN
        column = [(right, high), (right, low), (left, low), (left, high)] if fall else []
        below = [(_across(road, end.at), foot), *column, (_across(road, one.at), foot)]
        effort = one.effort or "hold"
        hatch = f"{name}-hatch" if effort == "ease" else ""
        ground = _points(road, one.at, end.at, top)
        yield _shape("polygon", f"band {effort}", [*ground, *below], hatch)


def _hatch(name: str, size: int, wide: float) -> Markup:
    return Markup(
        '<defs><pattern id="{0}-hatch" width="{1}" height="{1}" patternUnits="userSpaceOnUse"'
        ' patternTransform="rotate(45)"><rect width="{1}" height="{1}" class="ground"/>'
        '<line x1="{3}" x2="{3}" y2="{1}" class="hatch" stroke-width="{2}"/></pattern></defs>'
    ).format(name, size, wide, size // 2)


def _ridge(road: Road, top: float) -> Markup:
    return _shape("polyline", "ridge", _points(road, 0.0, float(road.along[-1]), top))


def _figures(road: Road, columns: float) -> Iterator[Markup]:
    """Watts in the columns, and what each stretch is known by below them."""
    for one, _, left, right in _columns(road):
        middle = 0.5 * (left + right)
        yield _text(f"watts on-{one.effort}", middle, columns + 0.5 * COLUMN + 26.0, str(one.power))
        yield _text("cue", middle, columns + COLUMN + 34.0, str(one.cue))


def _ruler(road: Road, up: float) -> Iterator[Markup]:
    """Distance and clock at the cuts."""
    yield _line("ruler", 0.0, WIDTH, up, up)
    cuts = [*(one for one, _ in road.stretches), road.steps[-1]]
    unit = road.headings[0].rpartition(" ")[2]
    # Hours need the room of another two figures.
    kind = "clock" if len(str(cuts[-1].clock)) <= len("59:59") else "clock hours"
    for number, one in enumerate(cuts):
        anchor = "start" if not number else "middle" if one.effort else "end"
        at = WIDTH * number / (len(cuts) - 1)
        yield _line("ruler", at, at, up - 8.0, up + 8.0)
        where = f"{unit} {float(one.where.text):g}" if not number else one.where.text
        yield _text("at", at, up + 40.0, where, anchor)
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
    flag = Markup('<path class="flag" d="M{:.1f} {:.1f} l26 11 l-26 11 z"/>').format(across, up)
    return _line("mast", across, across, up, down) + flag


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
    labels = (_text("tick", WIDE * axis.share(one), 28.0, seconds_text(one)) for one in axis.ticks)
    return _drawing("scale", WIDE, HIGH, labels)


def bar(axis: Axis, one: Drawn, group: Group | None = None) -> Markup:
    """A row: filled where it is proved, a ring where not, a cross where no doubt is stated."""

    def at(value: float) -> float:
        return min(max(WIDE * axis.share(value), 2.0), WIDE - 2.0)

    middle = HIGH / 2.0
    parts = [
        _line("grid" if value else "zero", at(value), at(value), -20.0, HIGH + 20.0)
        for value in dict.fromkeys([0.0, *axis.ticks])
    ]
    if one.low is None or one.high is None:
        cross = Markup('<path class="cross" d="M{:.1f} {:.1f} l16 16 m0 -16 l-16 16"/>')
        parts.append(cross.format(at(one.value) - 8.0, middle - 8.0))
    else:
        parts.append(_line("reach", at(one.low), at(one.high), middle, middle))
        for end, way in ((one.low, 1.0), (one.high, -1.0)):
            if 0.0 <= axis.share(end) <= 1.0:
                parts.append(_line("cap", at(end), at(end), middle - 8.0, middle + 8.0))
            else:
                arrow = Markup('<path class="arrow" d="M{:.1f} {:.1f} l{:.1f} -8 v16 z"/>')
                parts.append(arrow.format(at(end), middle, 14.0 * way))
        dot = Markup('<circle class="{}" cx="{:.1f}" cy="{:.1f}" r="9"/>')
        proved = one.low > 0.0 or one.high < 0.0
        parts.append(dot.format("dot" if proved else "ring", at(one.value), middle))
    return _drawing(f"bar {group or 'none'}", WIDE, HIGH, parts)
