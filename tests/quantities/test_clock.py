"""Durations on the clock."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.quantities.clock import read_duration, show_duration
from racecalc.quantities.measured import QuantityError

REMEDY = "write for example '58:30', '1:02:30', '3750 s' or '1 h 2 min'"


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("12:34", 754.0),
        ("12:34 min:s", 754.0),
        ("12:34 h:min", 45240.0),
        ("75:00", 4500.0),
        ("1:02:30", 3750.0),
        ("1:02:30 h:m:s", 3750.0),
        ("1:02:30 H:MIN:S", 3750.0),
        ("58:30.5", 3510.5),
        ("58:30,500", 3510.5),
        ("0:00", 0.0),
        ("3750 s", 3750.0),
        ("62.5 min", 3750.0),
        ("1h 2min 30s", 3750.0),
        ("1 h 2 min", 3720.0),
        ("1h2min", 3720.0),
        ("2 hours", 7200.0),
    ],
)
def test_reads(text: str, seconds: float):
    assert read_duration(text) == pytest.approx(seconds, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("1:75", f"in '1:75' a number after a colon is 60 or more; {REMEDY}"),
        ("1:60:00", f"in '1:60:00' a number after a colon is 60 or more; {REMEDY}"),
        ("-1:30", f"'-1:30' is not a time on the clock; {REMEDY}"),
        ("1:2:3:4", f"'1:2:3:4' is not a time on the clock; {REMEDY}"),
        ("12:3", f"'12:3' is not a time on the clock; {REMEDY}"),
        ("-5 s", f"'-5 s' is negative; {REMEDY}"),
        ("", "it is empty, a time is needed; write for example '58:30'"),
        ("5 m", "'m' cannot be a unit of time; write min for minutes"),
        (
            "12:34 h:m:s",
            f"'12:34 h:m:s' has 2 numbers, but its label names 3 units; {REMEDY}",
        ),
        (
            "12:34 a:b",
            "'a:b' in '12:34 a:b' does not say which units are meant; write one of "
            "min:s, m:s, mm:ss, h:m:s, h:min:s, hh:mm:ss, h:m, h:min, hh:mm, or none",
        ),
        (
            "1 h 75 min",
            "'75 min' in '1 h 75 min' is not less than one unit before it; "
            "write larger units first, and less than one of them in each smaller unit",
        ),
    ],
)
def test_refuses(text: str, message: str):
    with pytest.raises(QuantityError) as caught:
        read_duration(text)
    assert str(caught.value) == message


def test_a_clock_beyond_all_numbers_is_refused():
    with pytest.raises(QuantityError, match="too many for a value"):
        read_duration("9" * 400 + ":00")


@pytest.mark.parametrize(
    ("seconds", "decimals", "text"),
    [
        (1417.0, 0, "23:37"),
        (3750.0, 0, "1:02:30"),
        (59.96, 1, "1:00.0"),
        (59.96, 2, "0:59.96"),
        (3599.6, 0, "1:00:00"),
        (0.0, 0, "0:00"),
        (-65.2, 1, "-1:05.2"),
        (-0.2, 0, "0:00"),
    ],
)
def test_shows(seconds: float, decimals: int, text: str):
    assert show_duration(seconds, decimals) == text


@given(st.integers(0, 10**8), st.integers(0, 3))
def test_shown_duration_reads_back(ticks: int, decimals: int):
    seconds = ticks / 10**decimals
    assert read_duration(show_duration(seconds, decimals)) == pytest.approx(seconds, rel=1e-12)
