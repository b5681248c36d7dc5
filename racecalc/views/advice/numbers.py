"""Numbers with no more digits than their doubt allows, in plain words."""

from collections.abc import Iterable

from racecalc.answers.columns import clock_text, step_for
from racecalc.decisions.pacing.card import Target
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System, show_number
from racecalc.views.advice.sheet import Line, Number
from racecalc.views.tables import chance_text

LONG = 600.0
"""Seconds from which whole minutes are told; our choice."""


def _rounded(seconds: float, half: float | None) -> str:
    step = step_for(half)
    return f"{step * round(seconds / step):.{1 if step < 1.0 else 0}f}"


def seconds_text(seconds: float, half: float | None) -> str:
    """The size of a number of seconds; what rounds to nothing is told as less than a unit.

    Examples
    --------
    >>> seconds_text(9.23, 4.0), seconds_text(-9.23, 0.3), seconds_text(0.2, 4.0)
    ('9 s', '9.2 s', 'less than 1 s')
    >>> seconds_text(429.0, 87.0), seconds_text(1064.0, None)
    ('430 s', '18 min')
    """
    if abs(seconds) >= LONG:
        return f"{abs(seconds) / 60.0:.0f} min"
    shown = _rounded(abs(seconds), half)
    return f"{shown} s" if float(shown) else f"less than {step_for(half):.3g} s"


def signed_seconds(seconds: float, half: float | None) -> str:
    """Seconds with their sign, for a table.

    Examples
    --------
    >>> signed_seconds(9.23, 4.0), signed_seconds(-9.23, 0.3), signed_seconds(0.2, 4.0)
    ('+9', '-9.2', '0')
    """
    shown = _rounded(abs(seconds), half)
    if not float(shown):
        return shown
    return f"{'+' if seconds > 0 else '-'}{shown}"


def about(seconds: float, half: float | None, key: str) -> Number:
    """The size of a number of seconds, in a sentence that says of what."""
    text = seconds_text(seconds, half)
    return Number(text if text.startswith("less") else f"about {text}", seconds, key)


def faster(seconds: float, half: float | None, key: str) -> Line:
    """Seconds saved, in a sentence."""
    return about(seconds, half, key), " faster" if seconds >= 0 else " slower"


def between(low: float, high: float, half: float, keys: tuple[str, str]) -> Line:
    """An interval of seconds saved, in a sentence that says what is won and what is lost."""
    minutes = max(abs(low), abs(high)) >= LONG
    unit = " min" if minutes else " s"

    def end(value: float, key: str) -> Number:
        size = f"{abs(value) / 60.0:.0f}" if minutes else _rounded(abs(value), half)
        return Number(size, value, key)

    one, other = end(low, keys[0]), end(high, keys[1])
    if low >= 0:
        return "between ", one, " and ", other, unit
    if high <= 0:
        return "between ", other, " and ", one, f"{unit} slower"
    return "between ", one, f"{unit} slower and ", other, f"{unit} faster"


def clock(seconds: float, half: float, key: str) -> Number:
    """A time on the clock that a command gives."""
    return Number(clock_text(seconds, half), seconds, key)


def chance(share: float, key: str) -> Number:
    """A chance, never shown as certain."""
    return Number(chance_text(share), share, key)


def money(amount: float, currency: str, key: str) -> Number:
    """An amount of money that was worked out."""
    return Number(amount_text(amount, currency), amount, key)


def powers(targets: Iterable[Target], units: System) -> Line:
    """The least and the most of the targets that are pedalled, not those where a limit decides."""
    numbered = [(target.power_w, at) for at, target in enumerate(targets) if target.pedalled]
    if not numbered:
        return ()
    ends = [min(numbered), max(numbered)]
    least, most = (
        Number(show_number(watts, "power", units), watts, f"pace/targets/{at}/power_w")
        for watts, at in ends
    )
    return (least, " W") if least.text == most.text else (least, " to ", most, " W")
