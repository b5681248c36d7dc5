"""``racecalc time`` as text."""

from racecalc.decisions.bands import TimeBand
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import PowerShares, Split, Timing
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show, show_number, shown_unit
from racecalc.views.band_page import band_text
from racecalc.views.basis import basis_text
from racecalc.views.tables import bullets, paragraph, table

CAUTION = (
    "An estimate, not a promise, and no target: traffic, road surface, weather, law and your"
    " own skill decide how fast to descend and corner."
)
MOST_SLOWED = 6

NOTHING = 0.05
"""Watts that are shown as none."""

SHARE_NAMES = {
    "air_w": "air",
    "rolling_w": "rolling",
    "drivetrain_w": "drivetrain",
    "bearings_w": "wheel bearings",
    "climbing_w": "climbing, net",
    "speed_gained_w": "speed gained, start to finish",
    "braking_w": "brakes",
}
"""What the watts go into, by the fields of `PowerShares`."""


def time_text(
    ridden: Ridden, timed: Timing, units: System, chart: bool, band: TimeBand | None = None
) -> str:
    """Time, splits, where the watts go, and what it all rests on."""
    parts = [
        paragraph(f"{ridden.race.name}: {show_duration(timed.time_s)}"),
        paragraph(_summary(timed, units)),
        band_text(band) if band else paragraph(_model_error(timed)),
        "\n" + table(_split_headings(units), [_split_row(one, units) for one in timed.splits]),
    ]
    if chart:
        from racecalc.views.chart import profile_chart

        parts.append(profile_chart(ridden, units))
    parts += [
        "\nWhere the watts go\n" + table(("<", "W", "%"), share_rows(timed.shares)),
        _slowed_text(timed, units),
        bullets("Mind", timed.warnings),
        basis_text(ridden.race, units),
        "\n" + paragraph(CAUTION),
    ]
    return "".join(parts)


def _model_error(timed: Timing) -> str:
    return (
        f"How sure: the model itself errs by about 2.7 W, here {timed.model_error_s:.0f} s"
        " either way (one standard error). Doubt in power, CdA, Crr and weather comes on top:"
        " state yours (power_doubt, cda_doubt, wind_doubt ...) for a band."
    )


def _summary(timed: Timing, units: System) -> str:
    return (
        f"{show(timed.distance_m, 'course_distance', units)} at"
        f" {show(timed.mean_speed_m_s, 'speed', units)} with"
        f" {show(timed.mean_power_w, 'power', units)},"
        f" {show(timed.ascent_m, 'elevation', units)} of climbing;"
        f" air {show(timed.air_density_kg_m3, 'density', units)},"
        f" {_wind_summary(timed, units)}."
    )


def _wind_summary(timed: Timing, units: System) -> str:
    if timed.wind_at_rider_m_s == 0:
        return "no wind"
    return (
        f"wind at the rider {show(timed.wind_at_rider_m_s, 'wind_speed', units)},"
        f" yaw below {timed.yaw_90_deg:.0f} deg for 90 % of the time"
    )


def _split_headings(units: System) -> tuple[str, ...]:
    return (
        f"to {shown_unit('course_distance', units)}",
        "split",
        "elapsed",
        shown_unit("speed", units),
        "W",
        "grade %",
        f"head wind {shown_unit('wind_speed', units)}",
    )


def _split_row(split: Split, units: System) -> tuple[str, ...]:
    return (
        show_number(split.to_m, "course_distance", units),
        show_duration(split.time_s),
        show_duration(split.elapsed_s),
        show_number(split.speed_m_s, "speed", units),
        show_number(split.power_w, "power", units),
        show_number(split.grade, "grade", units, signed=True),
        show_number(split.head_wind_m_s, "wind_speed", units, signed=True),
    )


def share_rows(shares: PowerShares) -> list[tuple[str, str, str]]:
    """What the watts go into: name, watts and percent, without what is next to nothing."""
    named = ((name, float(getattr(shares, field))) for field, name in SHARE_NAMES.items())
    return [
        (name, f"{watts:.1f}", _percent(shares.percent(watts)))
        for name, watts in named
        if abs(watts) >= NOTHING
    ]


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{share:.1f}"


def _slowed_text(timed: Timing, units: System) -> str:
    if not timed.slowed:
        return ""
    slowest = sorted(timed.slowed, key=lambda one: one.speed_m_s)[:MOST_SLOWED]
    lines = [
        f"{show(one.from_m, 'course_distance', units)} to"
        f" {show(one.to_m, 'course_distance', units)}: {one.cause}, down to"
        f" {show(one.speed_m_s, 'speed', units)}"
        for one in sorted(slowest, key=lambda one: one.from_m)
    ]
    shown = "" if len(timed.slowed) <= MOST_SLOWED else f", the slowest {MOST_SLOWED} of them"
    return bullets(
        f"Speed limits and bends cost {timed.lost_to_limits_s:.1f} s at"
        f" {len(timed.slowed)} place{'s' if len(timed.slowed) > 1 else ''}{shown}",
        lines,
    )
