"""``racecalc breakeven`` as text and as JSON."""

from typing import Any

import numpy as np

from racecalc.decisions.break_even import BreakEven, BreakEvenAnswer
from racecalc.decisions.riding import Ridden
from racecalc.quantities.showing import System, show
from racecalc.views.as_json import basis_json
from racecalc.views.basis import basis_text
from racecalc.views.chart import curve_chart
from racecalc.views.tables import bullets, chance_text, paragraph, signed, table


def break_even_json(base: Ridden, found: BreakEvenAnswer) -> dict[str, Any]:
    """Answer of ``racecalc breakeven``."""
    return {
        "baseline_time_s": base.time,
        "name": found.option.name,
        "acts_on": found.option.acts_on,
        "test_speed_m_s": found.test_speed_m_s,
        "test_power_w": found.test_power_w,
        "claim_w": found.claim_w,
        "doubt_w": found.doubt_w,
        "saved_s": found.saved_s,
        "break_evens": [_row_json(row, found.option.acts_on) for row in found.rows],
        "curve": [
            {"watts_w": watts, "saved_s": seconds}
            for watts, seconds in zip(found.curve_w.tolist(), found.curve_s.tolist(), strict=True)
        ],
        "assumptions_of_test": list(found.assumptions),
        **basis_json(base.race),
    }


AMOUNTS = {"air": "cda_m2", "tyres": "crr", "drivetrain": "drivetrain_loss"}


def _row_json(row: BreakEven, acts_on: str) -> dict[str, Any]:
    return {
        "reason": row.reason,
        "to_gain_s": row.seconds,
        "watts_w": row.watts,
        AMOUNTS[acts_on]: row.amount,
        "margin_w": row.margin_w,
        "chance": row.chance,
    }


def break_even_text(base: Ridden, found: BreakEvenAnswer, units: System) -> str:
    """From which saving on it pays, for each reason, and the curve of net seconds against watts."""
    at = _conditions(found, units)
    return (
        paragraph(f"{found.option.name} on {base.race.name}: from which saving on it pays")
        + "\n"
        + paragraph(_claim(found, at))
        + "\n"
        + table(
            ("<to make up for", "seconds", "pays from", "which is", "to spare", "chance"),
            [_row(row, found.option.acts_on) for row in found.rows],
        )
        + "\n"
        + paragraph(
            f"Watts {at}. To spare: what it states beyond that; chance: that it saves as much, by"
            " its own doubt alone; ? where that is not stated."
        )
        + curve_chart(found.curve_w, found.curve_s, _title(found), _marks(found))
        + bullets("About its test", found.assumptions)
        + basis_text(base.race, units)
    )


def _conditions(found: BreakEvenAnswer, units: System) -> str:
    if found.test_speed_m_s:
        return f"at {show(found.test_speed_m_s, 'speed', units)}"
    return f"at {show(found.test_power_w, 'power', units)}"


def _claim(found: BreakEvenAnswer, at: str) -> str:
    if found.claim_w is None or found.saved_s is None:
        return "It states no saving; the watts below are what it would need."
    band = found.band_w
    sure = f" ({band[0]:.1f} to {band[1]:.1f} in 95 of 100 cases)" if band else ", doubt not stated"
    held = "" if found.option.holding.always else " and the time in which it is held"
    return (
        f"It states {found.claim_w:.1f} W {at}{sure}; with its weight{held} that is"
        f" {signed(found.saved_s)} s here."
    )


def _row(row: BreakEven, acts_on: str) -> tuple[str, ...]:
    return (
        row.reason,
        f"{row.seconds:.1f} s",
        _watts(row.watts),
        _amount(row.amount, acts_on),
        "-" if row.margin_w is None else f"{signed(row.margin_w)} W",
        "?" if row.chance is None else chance_text(row.chance),
    )


def _watts(watts: float | None) -> str:
    if watts is None:
        return "too much"
    return "nothing" if watts <= 0 else f"{watts:.2f} W"


def _amount(amount: float | None, acts_on: str) -> str:
    if amount is None or amount <= 0:
        return "-"
    return {
        "air": f"{amount:.4f} m^2",
        "tyres": f"{amount:.5f} of Crr",
        "drivetrain": f"{100 * amount:.2f} % of power",
    }[acts_on]


def _title(found: BreakEvenAnswer) -> str:
    title = "net seconds over watts saved"
    if found.claim_w is None:
        return title
    return f"{title}; X as stated" + (", o its 95 % interval" if found.band_w else "")


def _marks(found: BreakEvenAnswer) -> list[tuple[np.ndarray, np.ndarray, str]]:
    """No gain at all as a line, the interval of the claim along the curve, and the claim."""
    across = found.curve_w
    marks = [(across, np.zeros_like(across), "-")]
    if found.claim_w is None:
        return marks
    stated = [found.claim_w]
    if found.band_w:
        band = np.linspace(*found.band_w, 2 * len(across))
        marks.append((band, np.interp(band, across, found.curve_s), "o"))
    return [*marks, (np.array(stated), np.interp(stated, across, found.curve_s), "X")]
