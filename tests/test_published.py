"""Every published value that racecalc is checked against, each row with its source.

The rows stand in the TOML files of `tests/published`; `pytest -s` shows how many digits agree.
"""

import math
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import pytest
from scipy.optimize import brentq

from tests.published.calculations import (
    CALCULATIONS,
    Stretch,
    calculated,
    race_of,
    steady_time,
)

FOLDER = Path(__file__).parent / "published"

KNOWN = {
    "read": "read in the publication",
    "read in a secondary page": "read in a page that reports the publication",
    "from memory": "from memory",
    "independent calculation": "worked out by an independent implementation",
    "by hand": "worked out by hand",
    "common practice": "common practice, no source",
}

WIDEST_TOLERANCE = 0.06
"""As a share of the expected value, but for the rows of `WIDER` and `WIDER_KINDS`."""

WIDER = {
    "riders: small savings together less their sum": (
        0.35,
        "0.03 s, a difference of rounded values",
    ),
    "riders: 150 g more on the flat": (0.07, "0.08 s, printed to 0.01 s"),
    "wind_and_forces: yaw at 40 km/h in 1 m/s": (0.1, "5 deg, printed to whole degrees"),
    "wind_and_forces: yaw at 30 km/h in 1 m/s": (0.08, "7 deg, printed to whole degrees"),
}

WIDER_KINDS = {"rolling on surface": (0.45, "a range of a factor of two is all that is known")}
"""The same by kind."""


class Case:
    """A row of a data file, with the words of its tables filled in."""

    def __init__(self, file: str, row: dict[str, Any], tables: dict[str, Any]) -> None:
        self.name = f"{file}: {row['id']}"
        self.kind: str = row["kind"]
        self.expected = float(row["expected"])
        self.unit: str = row["unit"]
        self.tolerance = float(row["tolerance"])
        self.why: str = tables["tolerances"][row["why"]]
        self.source: str = tables["sources"][row["source"]]
        self.known: str = row["known"]
        self.inputs = dict(tables["riders"][row["rider"]]) if "rider" in row else {}
        if "course" in row:
            self.inputs["stretches"] = tables["courses"][row["course"]]
        self.inputs |= row["inputs"]

    def value(self) -> float:
        return calculated(self.kind, self.inputs, self.unit)


def digits_of_agreement(value: float, expected: float) -> float:
    """Number of decimal digits to which two values agree: -log10 of the relative difference."""
    difference = abs(value - expected)
    return 15.0 if difference == 0 else min(15.0, -math.log10(difference / abs(expected)))


def files() -> dict[str, dict[str, Any]]:
    return {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
        for path in sorted(FOLDER.glob("*.toml"))
    }


CASES = [Case(file, row, tables) for file, tables in files().items() for row in tables["case"]]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_published_value(case):
    value = case.value()
    digits = digits_of_agreement(value, case.expected)
    line = (
        f"{case.name}: {value:.7g} {case.unit}, published {case.expected:.7g}"
        f" +- {case.tolerance:.2g} ({case.why}), {digits:.1f} digits;"
        f" {KNOWN[case.known]}: {case.source}"
    )
    print(line)
    assert abs(value - case.expected) <= case.tolerance, line


def test_every_row_says_where_it_comes_from():
    for case in CASES:
        assert case.known in KNOWN, case.name
        assert len(case.source) > 40, case.name
        assert len(case.why) > 20, case.name
        assert case.kind in CALCULATIONS, case.name
        own_numbers = "an independent implementation's" in case.source.casefold()
        assert (case.known == "independent calculation") == own_numbers, case.name


def test_tolerances_are_narrow():
    for case in CASES:
        by_kind = WIDER_KINDS.get(case.kind, (WIDEST_TOLERANCE, ""))
        widest, _ = WIDER.get(case.name, by_kind)
        assert 0 < case.tolerance <= widest * abs(case.expected) * (1 + 1e-9), case.name


def test_every_calculation_and_table_is_used():
    assert {case.kind for case in CASES} == set(CALCULATIONS)
    for name, tables in files().items():
        rows = tables["case"]
        for table, key in (
            ("sources", "source"),
            ("tolerances", "why"),
            ("riders", "rider"),
            ("courses", "course"),
        ):
            unused = set(tables.get(table, {})) - {row.get(key) for row in rows}
            assert not unused, f"{name}: {table} {unused}"


def test_names_of_rows_differ():
    names = [case.name for case in CASES]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("value", "expected", "digits"),
    [(1.0, 1.0, 15.0), (1.001, 1.0, 3.0), (-99.0, -100.0, 2.0), (2.0, 1.0, 0.0)],
)
def test_digits_of_agreement(value, expected, digits):
    assert digits_of_agreement(value, expected) == pytest.approx(digits, abs=1e-9)


class TestConstantSpeedUphill:
    """For a mean power, constant speed is the quickest way up whatever the slope.

    Bos L, Slawinski MA, Slawinski RA, Stanoev T. On minimizing cyclists' ascent times.
    arXiv:2403.03363, abstract (read). Steady speeds, as there.
    """

    RIDER: ClassVar = {
        "power": "300 W",
        "mass": "80 kg",
        "cda": "0.30 m^2",
        "crr": "0.004",
        "loss": "2.5 %",
        "density": "1.15 kg/m^3",
    }

    def both_times(self, grades):
        """Time at constant power, and at the constant speed that takes the same mean power."""
        built = race_of(self.RIDER)
        stretches = [Stretch(1000.0, grade, 0.0, None) for grade in grades]
        by_power = sum(steady_time(built, stretch) for stretch in stretches)
        wanted = built.rider.power

        def power_for(speed, stretch):
            return brentq(
                lambda power: steady_time(built, replace(stretch, power=power)) - 1000.0 / speed,
                60.0,
                900.0,
                xtol=1e-9,
            )

        def excess(speed):
            return sum(power_for(speed, one) for one in stretches) / len(stretches) - wanted

        return by_power, 1000.0 * len(stretches) / brentq(excess, 3.0, 6.0, xtol=1e-9)

    def test_slower_by_constant_power_on_changing_slopes(self):
        by_power, by_speed = self.both_times([0.04, 0.08])
        assert by_speed < by_power - 1.0

    def test_same_time_on_one_slope(self):
        by_power, by_speed = self.both_times([0.06, 0.06])
        assert by_speed == pytest.approx(by_power, rel=1e-7)  # twice the tolerance of the roots
