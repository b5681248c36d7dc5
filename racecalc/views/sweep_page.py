"""``racecalc trial`` on a sweep over yaw, as text and JSON."""

import math
from dataclasses import asdict
from typing import Any

from racecalc.decisions.evidence.judging import shown
from racecalc.decisions.evidence.sweep import Sweep, SweepAnswer
from racecalc.views.tables import paragraph, table


def sweep_text(found: SweepAnswer) -> str:
    """Drag area by yaw, weighted by the yaw of a race, and held against field runs."""
    text = f"{found.source}: a sweep over yaw\n\n" + _table(found.sweeps) + "\n"
    known = any(one.standard_error for sweep in found.sweeps for one in sweep.points)
    text += paragraph(
        "Axial drag area in m^2 +- one standard error of the mean, from the scatter of all repeats."
        if known
        else "Axial drag area in m^2. No yaw was repeated, or all repeats agree to the last digit:"
        " nothing tells the doubt."
    )
    text += (
        _weighted_text(found)
        if found.areas
        else "\n"
        + paragraph(
            "Which yaw counts depends on course and wind: --race RACE weights the sweep by the yaw"
            " that the race meets. The best yaw alone is no saving."
        )
    )
    return text + _checks_text(found)


def _table(sweeps: tuple[Sweep, ...]) -> str:
    yaws = sorted({one.yaw for sweep in sweeps for one in sweep.points})
    rows = [(f"{math.degrees(yaw):+.1f}", *(_cell(sweep, yaw) for sweep in sweeps)) for yaw in yaws]
    return table(("yaw [deg]", *(sweep.item for sweep in sweeps)), rows)


def _cell(sweep: Sweep, yaw: float) -> str:
    for one in sweep.points:
        if one.yaw == yaw:
            error = "" if one.standard_error is None else f" +- {one.standard_error:.4f}"
            return f"{one.area:.4f}{error}"
    return "-"


def _weighted_text(found: SweepAnswer) -> str:
    rows = [(found.sweeps[0].item, shown(found.areas[0].area, "cda"), "baseline")]
    rows += [
        (one.name, shown(area.area, "cda"), _plus_minus(one.saving, one.doubt))
        for one, area in zip(found.saved, found.areas[1:], strict=True)
    ]
    area = found.areas[0]
    text = f"\nBy the yaw of {found.race}\n" + table(("<item", "drag area", "saves"), rows)
    if area.outside:
        text += "\n" + paragraph(
            f"For {100 * area.outside:.0f} % of the time the yaw lies outside the sweep"
            f" ({math.degrees(area.lowest_yaw):.0f} to {math.degrees(area.highest_yaw):.0f} deg);"
            " its end value is used there."
        )
    return text


def _plus_minus(value: float, error: float | None) -> str:
    return shown(value, "cda", sign=True) + ("" if error is None else f" +- {error:.4f}")


def _checks_text(found: SweepAnswer) -> str:
    if not found.checks:
        return ""
    rows = [
        (
            one.name,
            _plus_minus(one.sweep.saving, one.sweep.doubt),
            _plus_minus(one.field.saving, one.field.doubt),
            one.agreement.verdict,
        )
        for one in found.checks
    ]
    at = math.degrees(found.checks[0].at_yaw)
    return (
        f"\nHeld against the field runs, at their yaw of {at:.1f} deg\n"
        + table(("<item", "sweep saves", "field saves", "<both"), rows)
        + "\n"
        + "".join(paragraph(f"{one.name}: {one.agreement.words}.") for one in found.checks)
    )


def sweep_json(found: SweepAnswer) -> dict[str, Any]:
    """Answer of ``racecalc trial`` on a sweep: drag areas in m^2, yaws in degrees."""
    return {
        "source": found.source,
        "unit": "m^2",
        "items": [
            {
                "name": sweep.item,
                "yaw_deg": [math.degrees(one.yaw) for one in sweep.points],
                "mean": [one.area for one in sweep.points],
                "standard_error": [one.standard_error for one in sweep.points],
                "runs": [one.runs for one in sweep.points],
            }
            for sweep in found.sweeps
        ],
        "race": found.race or None,
        "weighted": [
            {
                "name": sweep.item,
                "mean": area.area,
                "standard_error": area.standard_error,
                "share_of_time_outside": area.outside,
            }
            for sweep, area in zip(found.sweeps, found.areas, strict=False)
        ],
        "saved": [asdict(one) for one in found.saved],
        "checks": [asdict(one) for one in found.checks],
    }
