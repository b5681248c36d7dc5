"""What is drawn and said of options: intervals on one axis, what more money buys, break-evens."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from rich.text import Text

from racecalc.answers.cells import Cell, quoted, verdict
from racecalc.answers.columns import Made
from racecalc.answers.sheet import Block, Line, Table
from racecalc.decisions.advice.advice import Advice
from racecalc.decisions.basket.basket import Rung
from racecalc.decisions.value import OptionValue
from racecalc.quantities.money import exact_text
from racecalc.views.workspace.drawing import (
    coloured,
    filled,
    interval_bar,
    names_above,
    reach_of,
    scale_below,
)

LEGEND = "\u25cf proved   \u25cb not proved   \u00d7 no doubt stated   x in use   r rival"

MARGIN, LEAST_STAIRS = 7, 10
"""Columns before the chart of money, and lines from which on it is drawn."""

LEFT_TO_ASK = ("seconds", "same as")
"""Columns of a break-even that Ask shows and for which there is no room here."""


def _interval(row: OptionValue) -> tuple[float | None, float, float | None]:
    return row.saved_s_low, row.saved_s, row.saved_s_high


def bars(rows: Sequence[OptionValue], columns: int) -> Made:
    """The column of the intervals, all on one axis."""
    reach = reach_of([_interval(row) for row in rows])
    zero = round(-reach[0] / (reach[1] - reach[0]) * (columns - 1))
    left, right = ("slower" if zero > 6 else ""), ("faster" if columns - zero > 7 else "")
    heading = f"{left:<{zero}}0{right:>{columns - zero - 1}}"

    def bar(row: OptionValue) -> Cell:
        return Cell(interval_bar(_interval(row), reach, columns), verdict(row.verdict).tone)

    return Made(heading, "", bar, left=True)


def stairs(advice: Advice, columns: int, height: int, styles: Mapping[str, str]) -> list[Text]:
    """What more money buys: the best seconds for every amount, the advised set marked."""
    steps, basket, budget = advice.shopping.steps, advice.shopping.basket, advice.spending.budget
    if basket is None or len(steps) < 2 or not steps[-1].cash:
        return []
    across = columns - MARGIN
    most = max(float(steps[-1].cash), float(budget.amount) if budget else 0.0)
    spent = np.linspace(0.0, most, across)
    cash, saved = [float(one.cash) for one in steps], np.array([one.saved_s for one in steps])
    values = saved[(np.searchsorted(cash, spent + 1e-9, "right") - 1).clip(0)]
    paid, currency = float(basket.cash), basket.price.currency
    marks = [(paid, f"advised, {exact_text(basket.cash)} {currency}")]
    if budget:
        marks.append((float(budget.amount), f"budget {exact_text(budget.amount)}"))
    placed = [(round(at / most * (across - 1)), words) for at, words in marks]
    above = names_above(placed, across, 2)
    rows = filled(values, max(height - len(above) - 4, 1), 0.0, float(values.max()))
    tints = [styles["hold" if one <= paid else "ease"] for one in spent]
    ends = {0: f"{values.max():.0f} s", len(rows) - 1: "0"}
    scale = scale_below(most, currency, across)
    return [
        Text(LEGEND, styles["faint"]),
        Text(),
        Text("what more money buys", "bold"),
        *(Text(f"{'':{MARGIN}}{line}") for line in above),
        *(
            Text.assemble((f"{ends.get(at, ''):>{MARGIN - 1}} ", styles["faint"]), line)
            for at, line in enumerate(coloured(row, tints) for row in rows)
        ),
        Text(f"{'':{MARGIN}}{scale}", styles["faint"]),
    ]


def step_words(step: Rung) -> Line:
    """A step of money: what it saves, and what comes in and goes out."""
    moves = [f"+ {name}" for name in step.added] + [f"- {name}" for name in step.dropped]
    saved = Cell(f"{step.saved_s:+.0f} s", "strong")
    return f"{exact_text(step.cash)} to pay: ", saved, "; ", quoted(", ".join(moves))


def in_short(block: Block) -> Block:
    """A break-even without what Ask has room for."""
    if not isinstance(block, Table) or block.path != "break_evens":
        return block
    reason = Made("for", "", lambda row: row.reason.partition(",")[0], left=True)
    _, *others = (one for one in block.shown if one.heading not in LEFT_TO_ASK)
    return replace(block, columns=[reason, *others])
