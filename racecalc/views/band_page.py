"""How sure an answer is, as text."""

from racecalc.decisions.doubt import TimeBand
from racecalc.quantities.clock import show_duration
from racecalc.views.tables import paragraph

MOST_CAUSES = 4
LEAST_SHARE = 0.01


def band_text(band: TimeBand) -> str:
    """The interval of a finish time, what drives it, and how it was worked out."""
    spread, error = band.spread, band.surrogate_error_s
    low, high, lowest, highest = (
        show_duration(one)
        for one in (spread.low_80_s, spread.high_80_s, spread.low_95_s, spread.high_95_s)
    )
    causes = [cause for cause in band.causes if cause.share >= LEAST_SHARE][:MOST_CAUSES]
    shares = ", ".join(f"{cause.words} {100 * cause.share:.0f} %" for cause in causes)
    return paragraph(
        f"How sure: {low} to {high} in 80 of 100 cases, {lowest} to {highest} in 95; half of"
        f" them faster than {show_duration(spread.median_s)}. What drives the doubt, in shares"
        f" of the variance: {shares}. {band.draws} draws, seed {band.seed}, through a"
        f" quadratic fit of the course time, off by {error.rms:.2g} s ({error.largest:.2g} s at"
        f" most) at {error.solves} draws solved in full."
    )
