"""Intervals in the rows of a table, all along one axis."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from racecalc.answers.columns import seconds_text
from racecalc.answers.sheet import Drawn

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
    label = Markup('<span style="left:{:.1f}%">{}</span>')
    labels = [label.format(100.0 * axis.share(one), seconds_text(one)) for one in axis.ticks]
    return Markup('<div class="scale" aria-hidden="true">{}</div>').format(Markup("").join(labels))


def bar(axis: Axis, one: Drawn) -> Markup:
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
    head = Markup('<svg class="bar" viewBox="0 0 {:.0f} {:.0f}" aria-hidden="true">')
    return head.format(WIDE, HIGH) + Markup("").join(parts) + Markup("</svg>")
