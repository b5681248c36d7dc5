"""The splits of the demo race as it was ridden: invented, with known truth.

Run as a program it writes them into course_demo/. In truth the rider had more drag area than her
race file says, the wind blew a little harder than forecast, and her power went up and down; the
clock was read to whole seconds. The truth stands here, so that tests can hold what racecalc finds
against it.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np

from racecalc.decisions.pacing.plans import ridden_at
from racecalc.decisions.riding import ride
from racecalc.decisions.timing import cut_at
from racecalc.domain.loading import load_race
from racecalc.domain.race import DragArea
from racecalc.quantities.clock import show_duration

COURSE_DEMO = Path(__file__).parents[2] / "course_demo"
RIDDEN = COURSE_DEMO / "ridden.csv"

AREA = 0.243
"""True drag area [m^2]; the race file says 0.236."""

WIND = 6.2
"""True wind at its stated height [m/s]; the race file says 5.5."""

ENDS = (3.0, 6.45, 10.0, 14.0, 16.5, 20.0, 22.9, 25.0, 28.0, 30.0, 33.0)
"""Where the splits end but for the last, which ends at the finish [km]."""

POWER = 258.0
POWER_SCATTER = 9.0
"""Mean and standard deviation from split to split of the power where nothing limits [W]."""

HEADING = """\
# Invented splits of a ride of the demo race: a clock on the bars, read to whole seconds, and the
# mean power of each split. Try:
#
#     racecalc review race.toml ridden.csv          plan and ride, and which input was off
#     racecalc review race.toml ridden.csv --card   against the card of racecalc pace
to [km],elapsed [h:m:s],power [W]
"""


def ridden_splits() -> str:
    """The table as it stands in the demo."""
    stated = load_race(COURSE_DEMO / "race.toml")
    race = replace(
        stated,
        bike=replace(stated.bike, cda=DragArea((AREA,))),
        air=replace(stated.air, wind=replace(stated.air.wind, speed=WIND)),
    )
    base = ride(race)
    limits = np.array([0.0, *(1000.0 * end for end in ENDS), race.course.length])
    power = POWER + np.random.default_rng(20310904).normal(0.0, POWER_SCATTER, len(limits) - 1)
    split = np.searchsorted(limits, base.solution.ride.middle) - 1
    rows = [
        f"{one.to_m / 1000:.2f},{show_duration(one.elapsed_s)},{one.power_w:.0f}"
        for one in cut_at(ridden_at(base, power[split]).ridden, limits)
    ]
    return HEADING + "\n".join(rows) + "\n"


if __name__ == "__main__":
    RIDDEN.write_text(ridden_splits(), encoding="utf-8")
