"""Prices: an exact amount with the code of its currency; nothing is ever exchanged."""

import re
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches

from racecalc.quantities.measured import QuantityError, in_quotes, split_digits, tidy

_ACTIVE = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN
BZD CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL
GHS GIP GMD GNF GTQ GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF
KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN
MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD
SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH
UGX USD UYU UZS VED VES VND VUV WST XAF XCD XCG XOF XPF YER ZAR ZMW ZWG
"""
CURRENCIES = frozenset(_ACTIVE.split())
"""Active codes of ISO 4217, from memory, as of the middle of 2025; without metals and funds."""

_SIGNS = {
    "€": "EUR",
    "$": "USD, CAD, AUD, NZD, SGD, HKD or another",
    "£": "GBP, EGP or another",
    "¥": "JPY or CNY",
    "₹": "INR",
    "₩": "KRW",
    "₽": "RUB",
    "₺": "TRY",
    "₴": "UAH",
    "₪": "ILS",
    "₫": "VND",
    "₱": "PHP",
    "₦": "NGN",
    "kr": "SEK, NOK, DKK or ISK",
    "Kč": "CZK",
    "zł": "PLN",
    "Fr": "CHF",
    "Rs": "INR, PKR, LKR or another",
}
"""Codes that a sign may stand for; from memory."""

_CODE_FIRST = re.compile(r"([A-Za-z]+) ?([^A-Za-z]+)")
_SIGN_OR_WORD = re.compile(r"[^\W\d_]+|[^\w\s]")
_EXAMPLE = "240 EUR"
_ONE_CURRENCY = "give every price in one currency, at a rate of your own"


class CurrencyMismatch(QuantityError):  # noqa: N818 - the name is the finding
    """Amounts in different currencies were to be added."""


@dataclass(frozen=True)
class Money:
    """An amount of money.

    Raises `QuantityError` if the amount is negative or not finite, or the code is not known.

    >>> str(Money(Decimal("96.5"), "EUR") + Money(Decimal(200), "EUR"))
    '296.50 EUR'
    """

    amount: Decimal
    """In whole units of the currency, zero or more, finite; kept exactly."""
    currency: str
    """Active code of ISO 4217, as in "EUR"."""

    def __post_init__(self) -> None:
        if self.currency not in CURRENCIES:
            raise _unknown_code(self.currency)
        if not self.amount.is_finite() or self.amount.is_signed():
            problem = f"{in_quotes(f'{self.amount} {self.currency}')} is not a price"
            raise QuantityError(problem, "write an amount of zero or more")

    def __add__(self, other: "Money") -> "Money":
        if self.currency != other.currency:
            raise CurrencyMismatch(f"{other} cannot be added to {self}", _ONE_CURRENCY)
        return Money(self.amount + other.amount, self.currency)

    def over(self, other: "Money") -> float:
        """How many times `other`, more than zero and of the same currency, this amount is."""
        if self.currency != other.currency:
            raise CurrencyMismatch(f"{self} cannot be measured in {other.currency}", _ONE_CURRENCY)
        if not other.amount:
            raise QuantityError(f"{other} is not a price per second", "write more than zero")
        return float(self.amount / other.amount)

    def __str__(self) -> str:
        return f"{exact_text(self.amount)} {self.currency}"


def exact_text(amount: Decimal) -> str:
    """An amount as it was stated; never with one decimal: 96.5 is 96.50, but 240.00 is 240."""
    written = max(0, -int(amount.normalize().as_tuple().exponent))
    return f"{amount:.{max(2, written) if written else 0}f}"


def amount_text(amount: float | None, currency: str = "") -> str:
    """An amount of money that was worked out, with cents below 10; "?" where it is not known.

    >>> amount_text(-17.4), amount_text(3.456, "EUR"), amount_text(-0.001), amount_text(None)
    ('-17', '3.46 EUR', '0', '?')
    """
    if amount is None:
        return "?"
    shown = f"{amount:.0f}" if abs(amount) >= 9.995 else f"{amount:.2f}"
    return f"{'0' if float(shown) == 0 else shown} {currency}".rstrip()


def price_text(price: Money | None, *, owned: bool = False, bare: bool = False) -> str:
    """A purchase price, or the one word for it; `bare` leaves the currency to a heading.

    >>> price_text(read_money("680 EUR")), price_text(read_money("0 EUR")), price_text(None)
    ('680 EUR', 'free', '?')
    """
    if owned or price is None:
        return "owned" if owned else "?"
    if not price.amount:
        return "free"
    return amount_text(float(price.amount)) if bare else str(price)


def read_money(text: str, currency: str = "") -> Money:
    """Read a price exactly as written, with the code of its currency before or behind it.

    With a `currency`, an amount without any is in it, and a sign that may stand for it does.

    Raises `QuantityError` if the code is missing or unknown, a sign stands in its place, or the
    amount is negative.

    >>> str(read_money("EUR 1 234,50")), str(read_money("500", "EUR"))
    ('1234.50 EUR', '500 EUR')
    """
    whole = _in_currency(tidy(text), currency)
    _refuse_sign(whole)
    code_first = _CODE_FIRST.fullmatch(whole)
    digits, code = split_digits(
        " ".join(code_first.group(2, 1)) if code_first else whole, "a price", _EXAMPLE
    )
    if not code:
        remedy = f"write its code, as in '{_EXAMPLE}'"
        raise QuantityError(f"{in_quotes(whole)} has no currency", remedy)
    if "e" in digits:
        remedy = f"write the amount without an exponent, as in '{_EXAMPLE}'"
        raise QuantityError(f"{in_quotes(whole)} has an exponent", remedy)
    return Money(Decimal(digits), code)


def _in_currency(whole: str, currency: str) -> str:
    """The text with a currency where it has none, or in the place of a sign for it."""
    if not currency:
        return whole
    signs = [sign for sign in _SIGN_OR_WORD.findall(whole) if currency in _SIGNS.get(sign, "")]
    if signs:
        return f"{whole.replace(signs[0], '', 1).strip()} {currency}"
    return whole if re.search(r"[^\W\d_]{2}", whole) else f"{whole} {currency}"


def _refuse_sign(whole: str) -> None:
    sign = next((sign for sign in _SIGN_OR_WORD.findall(whole) if sign in _SIGNS), None)
    if sign:
        raise QuantityError(
            f"the sign '{sign}' in {in_quotes(whole)} is not the code of a currency",
            f"write the code it stands for, {_SIGNS[sign]}, as in '{_EXAMPLE}'",
        )


def _unknown_code(code: str) -> QuantityError:
    near = get_close_matches(code.upper(), sorted(CURRENCIES), n=1)
    remedy = f"write a code of ISO 4217 in three capital letters, as in '{_EXAMPLE}'"
    return QuantityError(
        f"{in_quotes(code)} is not the code of a currency in use",
        f"did you mean '{near[0]}'? {remedy}" if near else remedy,
    )
