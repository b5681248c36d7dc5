"""The test day of the demo: two recordings of an invented day with a known truth, and its sheet.

Run as a program it writes them into course_demo/. Newton's law moves the rider around a loop of a
kilometre that rises and falls, in a light wind that blows in gusts; the meter writes the mean of
each second. Nothing here is taken from the package.
"""

from pathlib import Path

import numpy as np

COURSE_DEMO = Path(__file__).parents[2] / "course_demo"

OLD, NEW = "Old skinsuit", "Tarrowick suit"
SAVES = 0.0055
"""True saving of the new suit [m^2]."""

AREA, MASS, CRR, LOSS, DENSITY = 0.2380, 76.4, 0.0040, 0.026, 1.2046
"""Of the old suit [m^2], all that rolls [kg], and of dry air at 18 degC and 1007 hPa [kg/m^3]: its
pressure over 287.05 J/(kg K) and the temperature."""

BEARING, BEARING_SLOPE, ROTATING = 0.091, 0.0087, 0.14 / 0.311**2
"""Martin et al. 1998, J Appl Biomech 14:276-291 (from memory) [N], [N s/m], [kg]."""

ORDER = (OLD, NEW, NEW, OLD, OLD, NEW, NEW, OLD)
LAPS, LENGTH, STEP, BREAK = 4, 1000.0, 0.1, 60
"""Laps a run, their length [m], step [s], and seconds shown between two runs."""

LORRY, DROPOUT, HELMET = (1, 2), (5, 1), 12
"""Run and lap in which a lorry passed and in which the meter fell silent for 5 s, from 0; and the
run that was ridden in another helmet, which took 0.006 m^2 more."""

WIND, GUST = 0.5, 0.15
"""Mean and standard deviation of the wind [m/s]."""


def ridden() -> list[dict[str, np.ndarray]]:
    """Time, power, speed and lap of each run, at 1 Hz."""
    draw, runs = np.random.default_rng(20320517), 2 * len(ORDER)
    area = AREA - SAVES * np.array([item == NEW for item in ORDER * 2])
    area[HELMET] += 0.006
    # Each run is begun 100 m before the line.
    place, speed, gust = np.full(runs, -100.0), np.full(runs, 11.0), np.zeros((2, runs))
    effort, rows = np.zeros(runs), []
    keep = np.exp(-STEP / 5.0)
    count = int((LAPS * LENGTH + 160.0) / 9.0 / STEP)
    for _ in range(count):
        fresh = draw.normal(size=(3, runs)) * np.sqrt(1.0 - keep**2)
        gust, effort = keep * gust + GUST * fresh[:2], keep * effort + 12.0 * fresh[2]
        angle = 2.0 * np.pi * place / LENGTH
        ahead = speed + (WIND + gust[0]) * np.cos(angle) + gust[1] * np.sin(angle)
        across = (WIND + gust[0]) * np.sin(angle) - gust[1] * np.cos(angle)
        behind = (np.arange(runs) == LORRY[0]) & (np.abs(place - (LORRY[1] + 0.4) * LENGTH) < 60.0)
        ahead = ahead - 4.0 * behind
        power = 265.0 + effort
        rows.append((place, speed, power))
        slope = 0.008 * np.cos(angle + 0.7)
        force = 0.5 * DENSITY * area * np.hypot(ahead, across) * ahead
        force += MASS * 9.80665 * (CRR + slope) + BEARING + BEARING_SLOPE * speed
        after = speed + STEP * ((1.0 - LOSS) * power / speed - force) / (MASS + ROTATING)
        place, speed = place + 0.5 * STEP * (speed + after), after
    places, speeds, powers = np.moveaxis(np.array(rows), 1, 0)
    return [
        _recorded(draw, run, places[:, run], speeds[:, run], powers[:, run]) for run in range(runs)
    ]


def _recorded(draw, run: int, place, speed, power) -> dict[str, np.ndarray]:
    """One run as a device writes it, the lap button pressed 0.2 s off."""
    each = round(1.0 / STEP)
    last = int(np.searchsorted(place, LAPS * LENGTH + 30.0))
    ends = np.arange(0, last, each)
    means = power[: len(ends) * each].reshape(-1, each).mean(axis=1)
    watts = np.round(np.append(means[0], means[:-1]) + draw.normal(0.0, 1.5, len(ends)))
    lap = np.minimum(np.floor(place[ends] / LENGTH), LAPS).astype(int)
    if run == DROPOUT[0]:
        inside = np.flatnonzero(lap == DROPOUT[1])[30:35]
        watts[inside] = 0.0
    wheel = speed[ends] + draw.normal(0.0, 0.02, len(ends))
    return {"time": np.arange(len(ends)), "watts": watts, "speed": wheel, "lap": lap}


def recording(runs: list[dict[str, np.ndarray]]) -> str:
    """Runs of a session one after the other, soft pedalling between them."""
    lines, clock, laps = ["time [s],power [W],speed [m/s],cadence,lap"], 0, 0
    for one in runs:
        for second in range(BREAK):
            lines.append(f"{clock + second},120,8.000,80,{laps + 1}")
        clock, laps = clock + BREAK, laps + 1
        for second, watts, speed, lap in zip(*one.values(), strict=True):
            lines.append(f"{clock + second},{watts:.0f},{speed:.3f},92,{laps + lap + 1}")
        clock, laps = clock + len(one["time"]), laps + LAPS
    return "\n".join(lines) + "\n"


def sheet() -> str:
    """The sheet of the day: the laps of each run, and what the tester wrote."""
    head = "order,item,session,recording,lap,temperature [degC],pressure [hPa],humidity [%]"
    lines = [
        "# An invented test day on a quiet loop of a kilometre, two sittings. Try:",
        "#",
        "#     racecalc measure testday.csv testday_race.toml -o runs.csv",
        "#     racecalc trial runs.csv",
        "#     racecalc value testday_race.toml",
        head + ",excluded,note",
    ]
    for run, item in enumerate(ORDER * 2):
        session, number = ("morning", "evening")[run // len(ORDER)], run % len(ORDER)
        # Between two runs lies a lap of soft pedalling.
        first = 2 + number * (LAPS + 1)
        why = "ridden in the road helmet" if run == HELMET else ""
        note = "a lorry passed" if run == LORRY[0] else ""
        lines.append(
            f"{run + 1},{item},{session},testday_{session}.csv,{first}-{first + LAPS - 1}"
            f",18,1007,0,{why},{note}"
        )
    return "\n".join(lines) + "\n"


def files() -> dict[str, str]:
    """Name to text of each file."""
    runs = ridden()
    return {
        "testday.csv": sheet(),
        "testday_morning.csv": recording(runs[: len(ORDER)]),
        "testday_evening.csv": recording(runs[len(ORDER) :]),
    }


if __name__ == "__main__":
    for name, text in files().items():
        (COURSE_DEMO / name).write_text(text, encoding="utf-8")
