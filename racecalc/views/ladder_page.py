"""What more money buys, as a table and as a chart of money against seconds."""

from collections.abc import Sequence

import numpy as np

from racecalc.decisions.basket.basket import Rung
from racecalc.decisions.value import OptionValue
from racecalc.quantities.money import amount_text
from racecalc.views.chart import curve_chart
from racecalc.views.tables import paragraph, signed, table

CHARTED = 4
"""Steps of the ladder from which it is drawn as well."""


def ladder_text(steps: Sequence[Rung], currency: str) -> str:
    """The best set for every amount of money, and the frontier they make."""
    if len(steps) < 2:
        return ""
    text = _steps_text(steps, currency)
    if len(steps) < CHARTED:
        return text
    title = f"seconds saved over {currency}; o is a set of the list"
    return text + _frontier(steps, title, [])


def _steps_text(steps: Sequence[Rung], currency: str) -> str:
    rows = [_rung_row(step) for step in steps]
    return (
        "\nWhat more money buys\n"
        + table(("for", "saves", "a second more", "<in (+) and out (-)"), rows, wrapped=3)
        + "\n"
        + paragraph(
            f"Each line is the best set found for its money in {currency}; a second"
            " more: what each further second costs against the line above. Steps of less than half"
            " a second are left out, and what the doubts make of them is not in these lines."
        )
    )


def frontier_text(
    steps: Sequence[Rung],
    gains: Sequence[OptionValue],
    used: tuple[float, float] | None,
    currency: str,
) -> str:
    """The frontier with every single option and the set in use on it, then the steps."""
    if len(steps) < 2:
        return paragraph("No sets with prices to compare: give the options prices.")
    priced = [gain for gain in gains if gain.option.to_pay is not None]
    alone = (
        np.array([gain.option.to_pay or 0.0 for gain in priced]),
        np.array([gain.saved_s for gain in priced]),
        "*",
    )
    marks = [alone, *([(np.array(used[:1]), np.array(used[1:]), "X")] if used else [])]
    title = f"seconds saved over {currency}: o best sets, * one option alone" + (
        ", X switched on" if used else ""
    )
    return _frontier(steps, title, marks).lstrip("\n") + _steps_text(steps, currency)


def _frontier(
    steps: Sequence[Rung], title: str, marks: Sequence[tuple[np.ndarray, np.ndarray, str]]
) -> str:
    money = np.array([float(step.cost) for step in steps])
    seconds = np.array([step.saved_s for step in steps])
    return curve_chart(*stairs(money, seconds), title, [(money, seconds, "o"), *marks])


def stairs(money: np.ndarray, seconds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The corners of a frontier: money that does not reach the next set buys no more."""
    return np.repeat(money, 2)[1:], np.repeat(seconds, 2)[:-1]


def _rung_row(step: Rung) -> tuple[str, ...]:
    moves = [f"+ {name}" for name in step.added] + [f"- {name}" for name in step.dropped]
    return (
        f"{step.cost:.2f}" if step.cost % 1 else f"{step.cost:.0f}",
        f"{signed(step.saved_s)} s",
        amount_text(step.per_second_more) if step.per_second_more is not None else "-",
        ", ".join(moves) or "nothing",
    )
