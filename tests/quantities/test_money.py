"""Prices with the code of their currency."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import (
    CURRENCIES,
    CurrencyMismatch,
    Money,
    amount_text,
    read_money,
)

CODE = "write a code of ISO 4217 in three capital letters, as in '240 EUR'"


@pytest.mark.parametrize(
    ("text", "amount", "currency", "shown"),
    [
        ("240 EUR", "240", "EUR", "240 EUR"),
        ("EUR 240", "240", "EUR", "240 EUR"),
        ("240EUR", "240", "EUR", "240 EUR"),
        ("1 234.50 EUR", "1234.50", "EUR", "1234.50 EUR"),
        ("1.234,50 EUR", "1234.50", "EUR", "1234.50 EUR"),
        ("CHF 1,234.50", "1234.50", "CHF", "1234.50 CHF"),
        ("96,5 GBP", "96.5", "GBP", "96.50 GBP"),
        ("0.125 USD", "0.125", "USD", "0.125 USD"),
        ("1200 JPY", "1200", "JPY", "1200 JPY"),
        ("0 EUR", "0", "EUR", "0 EUR"),
        ("240.00 EUR", "240.00", "EUR", "240 EUR"),
    ],
)
def test_reads_and_shows(text: str, amount: str, currency: str, shown: str):
    money = read_money(text)
    assert money == Money(Decimal(amount), currency)
    assert str(money) == shown


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "€5",
            "the sign '€' in '€5' is not the code of a currency; "
            "write the code it stands for, EUR, as in '240 EUR'",
        ),
        (
            "$20",
            "the sign '$' in '$20' is not the code of a currency; write the code it stands for, "
            "USD, CAD, AUD, NZD, SGD, HKD or another, as in '240 EUR'",
        ),
        (
            "200 kr",
            "the sign 'kr' in '200 kr' is not the code of a currency; "
            "write the code it stands for, SEK, NOK, DKK or ISK, as in '240 EUR'",
        ),
        ("240", "'240' has no currency; write its code, as in '240 EUR'"),
        (
            "240 eur",
            f"'eur' is not the code of a currency in use; did you mean 'EUR'? {CODE}",
        ),
        ("240 XXX", f"'XXX' is not the code of a currency in use; {CODE}"),
        ("-5 EUR", "'-5 EUR' is not a price; write an amount of zero or more"),
        ("EUR -5", "'-5 EUR' is not a price; write an amount of zero or more"),
        (
            "1,200 EUR",
            "'1,200 EUR' can be read in two ways, its comma may separate thousands or decimals; "
            "write '1200 EUR' or '1.200 EUR'",
        ),
        (
            "1e3 EUR",
            "'1e3 EUR' has an exponent; write the amount without an exponent, as in '240 EUR'",
        ),
        ("EUR", "'EUR' has no number, a price is needed; write for example '240 EUR'"),
        ("", "it is empty, a price is needed; write for example '240 EUR'"),
    ],
)
def test_refuses(text: str, message: str):
    with pytest.raises(QuantityError) as caught:
        read_money(text)
    assert str(caught.value) == message


def test_sums_are_exact():
    total = Money(Decimal("0.10"), "EUR") + Money(Decimal("0.20"), "EUR")
    assert total.amount == Decimal("0.30")
    assert str(total + total) == "0.60 EUR"


@pytest.mark.parametrize(
    ("amount", "shown"),
    [(9.994, "9.99"), (9.996, "10"), (-9.994, "-9.99"), (-9.996, "-10"), (0.004, "0")],
)
def test_cents_are_shown_below_ten(amount: float, shown: str):
    assert amount_text(amount) == shown


def test_over_is_how_many_times():
    assert Money(Decimal(300), "EUR").over(Money(Decimal("2.50"), "EUR")) == 120.0
    with pytest.raises(QuantityError, match="0 EUR is not a price per second"):
        Money(Decimal(300), "EUR").over(Money(Decimal(0), "EUR"))


def test_currencies_do_not_mix():
    with pytest.raises(CurrencyMismatch) as caught:
        Money(Decimal(240), "EUR") + Money(Decimal(20), "USD")
    assert isinstance(caught.value, ValueError)
    assert str(caught.value) == (
        "20 USD cannot be added to 240 EUR; give every price in one currency, at a rate of your own"
    )


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-1"])
def test_construction_refuses_what_is_no_price(amount: str):
    with pytest.raises(QuantityError, match="is not a price; write an amount of zero or more"):
        Money(Decimal(amount), "EUR")


@given(st.decimals(0, 10**9, places=2), st.sampled_from(sorted(CURRENCIES)))
def test_shown_money_reads_back(amount: Decimal, currency: str):
    # A drawn zero may carry a sign, which no price has.
    money = Money(abs(amount), currency)
    assert read_money(str(money)) == money


@given(st.text(max_size=40))
def test_any_text_gives_money_or_a_quantity_error(text: str):
    try:
        money = read_money(text)
    except QuantityError as error:
        assert error.remedy  # noqa: PT017 - both outcomes are right
    else:
        assert money.amount >= 0
