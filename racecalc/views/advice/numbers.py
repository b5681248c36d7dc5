"""Numbers with no more digits than their doubt allows, in plain words."""

from collections.abc import Iterable

from racecalc.decisions.pacing.card import Target
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System, show_number
from racecalc.views.advice.sheet import Line, Number
from racecalc.views.tables import chance_text

TENTHS = 1.0
"""Half of a 95 % interval below which tenths of a second are shown [s]; our choice: such a tenth
is no smaller than a fifth of the standard uncertainty."""

TENS = 30.0
"""Half of a 95 % interval from which a finish time is shown to 10 s [s]; our choice."""


def decimals_for(half: float | None) -> int:
    """Decimals of seconds whose 95 % interval has such a half [s]; None where it is not known.

    Examples
    --------
    >>> decimals_for(0.4), decimals_for(3.0), decimals_for(None)
    (1, 0, 0)
    """
    return 1 if half is not None and half < TENTHS else 0


def seconds_text(seconds: float, half: float | None) -> str:
    """The size of a number of seconds; what rounds to nothing is told as less than a unit.

    Examples
    --------
    >>> seconds_text(9.23, 4.0), seconds_text(-9.23, 0.3), seconds_text(0.2, 4.0)
    ('9 s', '9.2 s', 'less than 1 s')
    """
    decimals = decimals_for(half)
    shown = f"{abs(seconds):.{decimals}f}"
    return f"{shown} s" if float(shown) else f"less than {10.0**-decimals:.{decimals}f} s"


def signed_seconds(seconds: float, half: float | None) -> str:
    """Seconds with their sign, for a table.

    Examples
    --------
    >>> signed_seconds(9.23, 4.0), signed_seconds(-9.23, 0.3), signed_seconds(0.2, 4.0)
    ('+9', '-9.2', '0')
    """
    shown = f"{seconds:+.{decimals_for(half)}f}"
    return shown if float(shown) else shown[1:]


def about(seconds: float, half: float | None, key: str) -> Number:
    """A number of seconds, in a sentence."""
    text = seconds_text(seconds, half)
    return Number(text if text.startswith("less") else f"about {text}", seconds, key)


def between(low: float, high: float, half: float, keys: tuple[str, str]) -> Line:
    """An interval of seconds saved, in a sentence that says what is won and what is lost."""
    decimals = decimals_for(half)

    def end(value: float, key: str) -> Number:
        return Number(f"{abs(value):.{decimals}f}", value, key)

    one, other = end(low, keys[0]), end(high, keys[1])
    if low >= 0:
        return "between ", one, " and ", other, " s"
    if high <= 0:
        return "between ", other, " and ", one, " s slower"
    return "between ", one, " s slower and ", other, " s faster"


def clock(seconds: float, half: float | None, key: str) -> Number:
    """A time on the clock, to 10 s where it is that doubtful."""
    step = 10 if half is not None and half >= TENS else 1
    return Number(show_duration(step * round(seconds / step)), seconds, key)


def chance(share: float, key: str) -> Number:
    """A chance, never shown as certain."""
    return Number(chance_text(share), share, key)


def money(amount: float, currency: str, key: str) -> Number:
    """An amount of money that was worked out."""
    return Number(amount_text(amount, currency), amount, key)


def powers(targets: Iterable[Target], units: System) -> Line:
    """The least and the most of the targets of a card."""
    numbered = [(target.power_w, at) for at, target in enumerate(targets)]
    ends = [min(numbered), max(numbered)]
    least, most = (
        Number(show_number(watts, "power", units), watts, f"pace/targets/{at}/power_w")
        for watts, at in ends
    )
    return (least, " W") if least.text == most.text else (least, " to ", most, " W")
