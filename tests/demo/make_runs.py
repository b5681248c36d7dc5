"""The run tables of the demo: invented tests with known truth, noise and faults.

Run as a program it writes them into course_demo/. The truth stands here, so that tests can hold
what racecalc finds against it.
"""

from pathlib import Path

import numpy as np

COURSE_DEMO = Path(__file__).parents[2] / "course_demo"

SUITS = {
    "Old suit": 0.0,
    "Brinnoth Lowtide suit": -0.0040,
    "Brinnoth Hightide suit": -0.0005,
    "Brinnoth Ebb suit": -0.0012,
}
"""Item to true change of drag area [m^2]."""

SUIT_AREA = 0.2405
SUIT_SCATTER = 0.0016
SUIT_DRIFT = {"still evening": -0.00030, "second evening": 0.00025}
"""Session to drift of the drag area a run [m^2]: cooling air and a tiring rider."""

OUTLIER = 18
"""Run of the suit test, from 0, in which a lorry passed."""

BOTTLE = "Kelmund bottle between the arms"
FRAME = "Bottle on the frame"
BOTTLE_SAVES = {
    "Rider A": 4.2,
    "Rider B": 5.6,
    "Rider C": -3.4,
    "Rider D": 3.1,
    "Rider E": 0.8,
    "Rider F": 5.2,
    "Rider G": -1.9,
}
"""Rider to true saving [W] at 42 km/h: it suits some and not others."""

BOTTLE_POWER = {"A": 231, "B": 244, "C": 219, "D": 252, "E": 226, "F": 238, "G": 247}
BOTTLE_SCATTER = 1.6

WHEEL = "Dunquill deep front wheel"
SHALLOW = "Shallow front wheel"
YAWS = (-15, -10, -5, 0, 5, 10, 15)
WHEEL_AREAS = {
    SHALLOW: (0.2440, 0.2402, 0.2371, 0.2360, 0.2373, 0.2404, 0.2441),
    WHEEL: (0.2379, 0.2352, 0.2350, 0.2354, 0.2349, 0.2351, 0.2382),
}
"""Item to true axial drag area [m^2] at each of `YAWS` [deg]."""

WHEEL_SCATTER = 0.0004


def suit_runs() -> str:
    """Two evenings of one rider, in an order balanced against drift."""
    noise = np.random.default_rng(20310611)
    old, low, high, ebb = SUITS
    there, other = (old, low, high, ebb), (old, ebb, high, low)
    orders = {
        "still evening": there + there[::-1] + there + there[::-1],
        "second evening": other + other[::-1] + other + other[::-1],
    }
    rows = ["item,session,order,cda [m^2],speed [km/h],density [kg/m^3],note"]
    for session, order in orders.items():
        shift = noise.normal(0.0, 0.0012)
        for number, item in enumerate(order):
            area = SUIT_AREA + SUITS[item] + shift + number * SUIT_DRIFT[session]
            area += noise.normal(0.0, SUIT_SCATTER)
            note = ""
            if len(rows) - 1 == OUTLIER:
                area -= 0.0120
                note = "a lorry passed"
            rows.append(f"{item},{session},{number + 1},{area:.4f},44.0,1.204,{note}")
    return "# One rider on a quiet straight road, both ways a run; invented.\n" + _text(rows)


def bottle_runs() -> str:
    """Seven riders, one session each, A B B A A B: watts at 42 km/h."""
    noise = np.random.default_rng(20310702)
    rows = ["item,rider,session,order,power [W],speed [km/h],density [kg/m^3]"]
    for rider, saved in BOTTLE_SAVES.items():
        for number, item in enumerate((FRAME, BOTTLE, BOTTLE, FRAME, FRAME, BOTTLE)):
            power = BOTTLE_POWER[rider[-1]] - (saved if item == BOTTLE else 0.0)
            power += 0.25 * number + noise.normal(0.0, BOTTLE_SCATTER)
            session = f"{rider[-1]} on the track"
            rows.append(f"{item},{rider},{session},{number + 1},{power:.1f},42.0,1.190")
    return "# Seven riders on a covered track; invented.\n" + _text(rows)


def wheel_sweep() -> str:
    """A wind-tunnel sweep over yaw, out and home."""
    noise = np.random.default_rng(20310720)
    rows = ["item,session,order,yaw [deg],cda [m^2],speed [km/h],density [kg/m^3]"]
    order = 0
    for item in (SHALLOW, WHEEL):
        for sweep in (range(len(YAWS)), reversed(range(len(YAWS)))):
            for place in sweep:
                order += 1
                area = WHEEL_AREAS[item][place] + noise.normal(0.0, WHEEL_SCATTER)
                rows.append(f"{item},tunnel,{order},{YAWS[place]},{area:.4f},45.0,1.185")
    return "# Wind tunnel, axial drag over dynamic pressure; invented.\n" + _text(rows)


def _text(rows: list[str]) -> str:
    return "\n".join(rows) + "\n"


TABLES = {"suits.csv": suit_runs, "bottles.csv": bottle_runs, "wheel_sweep.csv": wheel_sweep}

if __name__ == "__main__":
    for name, table in TABLES.items():
        (COURSE_DEMO / name).write_text(table(), encoding="utf-8")
