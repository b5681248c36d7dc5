"""Recordings of an invented test day with a known truth, all runs of it at once.

Newton's law moves the rider along a loop of two straights and two half circles, in the wind of the
moment: a mean from a random direction, and gusts of 29 % of it (a logarithmic profile over open
fields, the deviation 2.5 times the friction velocity; from memory) that last 4 s and 40 s. Power is
the mean of the second that ends at the stamp, as meters write it; the lap button is pressed 0.3 s
off. Nothing here is taken from the package but the records that it reads.
"""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from racecalc.decisions.measuring.balance import Setup
from racecalc.decisions.measuring.measure import measure
from racecalc.decisions.measuring.measured import Asked, TestDay
from racecalc.decisions.measuring.signals import signals_of
from racecalc.domain.race import Air
from racecalc.domain.run_sheet import RunSheet, SheetRun, Span
from racecalc.files.recordings import Lap, Recording

G = 9.80665
STEP = 0.1
SETUP = Setup(82.0, 0.004, 0.976, 0.0, 0.0, 1.45)
"""82 kg, Crr 0.004, 2.4 % lost, no bearings, and the wheels of Martin et al. 1998 (from memory)."""

START = 1_777_788_000.0
"""3 May 2026, 6:00 in universal time."""


@dataclass(frozen=True)
class World:
    wind: float = 1.0
    order: str = "ABBAABBA"
    cda: tuple[float, float] = (0.240, 0.236)
    laps: int = 2
    length: float = 3000.0
    power: tuple[float, ...] = (250.0,)
    """Of the runs in turn [W]."""
    mass: float = 82.0
    density: float = 1.19
    speed_noise: float = 0.03
    button: float = 0.3
    zero_drift: float = 0.0
    """What the meter comes to show too much over the session [W]."""
    touched: tuple[int, ...] = ()
    """Runs with a touch of the brakes that takes 1.5 m/s."""
    reverse: bool = False
    there_and_back: bool = False
    """Ways of `length` with turns at 4.5 m/s; the marks are 200 m inside."""


@dataclass(frozen=True)
class Course:
    """Heading [rad], slope, and highest speed [m/s] at each metre of a lap; they close."""

    head: np.ndarray
    slope: np.ndarray
    fastest: np.ndarray
    marks: tuple[float, ...]
    """Where the button is pressed on each lap [m]."""


def course(world: World, seed: int) -> Course:
    draw = np.random.default_rng(1000 + seed % 5)
    n = int(world.length)
    waves = [(draw.normal() * 1.2 / k, draw.uniform(0, 6)) for k in range(1, 9)]

    def height(period: float, count: int) -> np.ndarray:
        at = np.arange(count + 1)
        return sum(
            size * np.sin(2 * np.pi * k * at / period + phase)
            for k, (size, phase) in enumerate(waves, 1)
        )

    if world.there_and_back:
        turn = 30
        up = np.diff(height(2.0 * n, n))
        half = np.linspace(0, np.pi, turn)
        head = np.concatenate([np.zeros(n), half, np.full(n, np.pi), np.pi + half])
        slope = np.concatenate([up, np.zeros(turn), -up[::-1], np.zeros(turn)])
        fastest = np.full(2 * (n + turn), 99.0)
        fastest[n : n + turn] = fastest[2 * n + turn :] = 4.5
        for at in range(2 * len(fastest) - 1, -1, -1):
            here, after = at % len(fastest), (at + 1) % len(fastest)
            fastest[here] = min(fastest[here], np.sqrt(fastest[after] ** 2 + 3.0))
        marks = (200.0, n - 200.0, n + turn + 200.0, 2.0 * n + turn - 200.0)
        return Course(head, slope, fastest, marks)
    at, third, half = np.arange(n), n // 3, n // 2
    head = np.pi * np.clip((at % half - third) / (half - third), 0, 1) + np.pi * (at >= half)
    slope = np.diff(height(n, n))
    if world.reverse:
        head, slope = head[::-1] + np.pi, -slope[::-1]
    return Course(head, slope, np.full(n, 99.0), (0.0,))


def _gusts(draw, runs: int, steps: int):
    """Noise of unit deviation that lasts 4 s and 40 s; shape (steps, runs)."""
    total = np.zeros((steps, runs))
    for share, lasting in ((0.6, 4.0), (0.4, 40.0)):
        keep = np.exp(-STEP / lasting)
        fresh = draw.normal(size=(steps, runs)) * np.sqrt(share * (1 - keep**2))
        now = draw.normal(size=runs) * np.sqrt(share)
        for step in range(steps):
            now = keep * now + fresh[step]
            total[step] += now
    return total


def ridden(world: World, seed: int, days: int):
    """Every step of every run: place, speed, power, head wind; shape (4, steps, runs)."""
    draw = np.random.default_rng(seed)
    way = course(world, seed)
    n, each = len(way.head), len(world.order)
    runs = days * each
    effort = np.tile(np.resize(world.power, each), days)
    least = (6.0 if world.there_and_back else 9.0) * (min(effort) / 250.0) ** 0.4
    steps = int((world.laps * n + 60.0) / least / STEP)
    area = np.tile([world.cda["AB".index(item)] for item in world.order], days)
    angle = np.repeat(draw.uniform(0, 2 * np.pi, days), each)
    spread = 0.29 * world.wind
    gusts = [
        spread * _gusts(draw, runs, steps) if spread else np.zeros((steps, runs)) for _ in "xy"
    ]
    wx, wy = (
        gust + world.wind * (along + 0.2 * draw.normal(size=runs))
        for gust, along in zip(gusts, (np.cos(angle), np.sin(angle)), strict=True)
    )
    power = effort + 15.0 * _gusts(draw, runs, steps)
    east, north = np.cos(way.head), np.sin(way.head)
    place, speed = np.zeros(runs), np.full(runs, 6.0 if world.there_and_back else 11.0)
    touched = np.isin(np.arange(runs) % each, world.touched)
    brakes = np.where(touched, 0.4 * n, np.inf)
    rows = np.empty((4, steps, runs), dtype=np.float32 if days > 1 else np.float64)
    for step in range(steps):
        here = place.astype(int) % n
        fastest = way.fastest[here]
        pedalled = np.where(speed > fastest - 0.3, 0.0, power[step])
        ahead = speed + wx[step] * east[here] + wy[step] * north[here]
        across = wy[step] * east[here] - wx[step] * north[here]
        rows[:, step] = place, speed, pedalled, ahead
        force = 0.5 * world.density * area * np.hypot(ahead, across) * ahead
        force += world.mass * G * (SETUP.crr + way.slope[here])
        pull = SETUP.efficiency * pedalled / speed - force
        after = speed + STEP * pull / (world.mass + SETUP.rotating_mass)
        braked = (place < brakes) & (place + speed * STEP >= brakes)
        after = after - 1.5 * braked
        after = np.where(after > fastest, np.maximum(fastest, speed - 1.5 * STEP), after)
        place = place + 0.5 * STEP * (speed + after)
        speed = after
    return draw, way, rows


def recordings(world: World, seed: int, days: int = 1) -> list[Recording]:
    """One recording a run, at 1 Hz; runs follow each other after 10 or 15 minutes."""
    draw, way, rows = ridden(world, seed, days)
    n, each = len(way.head), round(1 / STEP)
    north, east = (
        np.concatenate(([0.0], np.cumsum(one))) for one in (np.cos(way.head), np.sin(way.head))
    )
    presses = [n * lap + mark for lap in range(world.laps) for mark in way.marks]
    presses += [] if world.there_and_back else [float(n * world.laps)]
    found = []
    for run in range(rows.shape[2]):
        number = run % len(world.order)
        place, speed, power, ahead = rows[:, :, run].astype(float)
        clock = np.arange(len(place)) * STEP
        last = int(np.searchsorted(place, world.laps * n + 60.0))
        ends = np.arange(each, last, each)
        means = power[: len(ends) * each].reshape(-1, each).mean(axis=1)
        ends, means = np.append(0, ends), np.append(means[0], means)
        over = world.zero_drift * number / len(world.order)
        noisy = np.where(means > 0, means + over + draw.normal(0, 2, len(ends)), 0.0)
        slow = min(world.power) < 250.0 or world.there_and_back
        start = START + (900.0 if slow else 600.0) * number
        lines = np.interp(presses, place, clock)
        lines = np.maximum(lines + draw.normal(0, world.button, len(lines)), 0.0)
        at = place[ends] % n
        found.append(
            Recording(
                source=f"run{number + 1}.fit",
                time=start + clock[ends],
                has_clock=True,
                ahead=0.0,
                power=noisy,
                speed=speed[ends] + draw.normal(0, world.speed_noise, len(ends)),
                air_speed=0.93 * ahead[ends] + draw.normal(0, 0.05, len(ends)),
                latitude=55.0 + np.interp(at, np.arange(n + 1), north) / 111_320.0,
                longitude=12.0
                + np.interp(at, np.arange(n + 1), east) / (111_320.0 * np.cos(np.radians(55.0))),
                laps=tuple(Lap(start + a, start + b) for a, b in pairwise(lines.tolist())),
            )
        )
    return found


def track_ride(cda: float, watts: float, laps: int = 20) -> Recording:
    """A rider who leans on a track of 250 m with bends of 23 m, by the energy of the whole body.

    Straights of 38 m, bends whose curvature rises and falls evenly at their ends; half a lap turns
    by pi. Energy is that of the centre of mass, of the wheels, and of its height, which falls as
    the rider leans. 80 kg and 1.45 kg in the wheels, Crr 0.002, 1.15 kg/m^3, 2 % lost.
    """
    straight, lap, radius, height = 38.0, 250.0, 23.0, 1.1
    ramp = lap / 2 - straight - np.pi * radius
    corners = np.cumsum([0.0, straight / 2, ramp, np.pi * radius - ramp, ramp, straight / 2])
    levels = np.array([0.0, 0.0, 1.0, 1.0, 0.0, 0.0]) / radius

    def body(wheels: float, bend: float) -> tuple[float, float]:
        share = 1.0
        for _ in range(12):
            lean = np.arctan(share * wheels**2 * bend / G)
            share = 1.0 - height * bend * np.sin(lean)
        return float(lean), float(share)

    place, wheels, step = 0.0, (2 * watts / (1.15 * cda)) ** (1 / 3), 0.05
    energy = 0.5 * 81.45 * wheels**2 + 80.0 * G * height
    rows = []
    while place < laps * lap + 30.0:
        bend = float(np.interp(place % (lap / 2), corners, levels))
        for _ in range(6):
            lean, share = body(wheels, bend)
            left = energy - 80.0 * G * height * np.cos(lean)
            wheels = float(np.sqrt(2.0 * left / (80.0 * share**2 + 1.45)))
        rows.append((place, wheels))
        drag = 0.5 * 1.15 * cda * (share * wheels) ** 3
        energy += step * (0.98 * watts - drag - 0.002 * 80.0 * G / np.cos(lean) * wheels)
        place += step * wheels
    along, speed = np.array(rows).T
    clock = np.arange(len(along)) * step
    lines = np.interp(np.arange(2, laps + 1) * lap, along, clock)
    return Recording(
        "run1.fit", START + clock[::20], True, 0.0, power=np.full(len(clock[::20]), watts),
        speed=speed[::20], laps=tuple(Lap(START + a, START + b) for a, b in pairwise(lines)),
    )  # fmt: skip


def sheet_of(order: str, laps: int, *, there_and_back: bool = False) -> RunSheet:
    """A sheet that names every lap of a recording for each run."""
    spans = tuple(
        (Span("lap", 4 * lap - 3, 4 * lap - 3), Span("lap", 4 * lap - 1, 4 * lap - 1))
        if there_and_back
        else (Span("lap", lap, lap),)
        for lap in range(1, laps + 1)
    )
    runs = (
        SheetRun(
            item=item,
            order=str(number),
            line=number + 1,
            recording=Path(f"run{number}.fit"),
            laps=spans,
        )
        for number, item in enumerate(order, 1)
    )
    return RunSheet("sheet.csv", tuple(runs))


def measured(world: World, rides: list[Recording], sensor: bool = False, **asked) -> TestDay:
    """The test day as the command measures it, the recordings given instead of read."""
    sheet = asked.pop("sheet", None) or sheet_of(
        world.order, world.laps, there_and_back=world.there_and_back
    )
    settings = {"setup": SETUP, "air": Air(density=world.density), **asked}
    one = Asked(sheet, **settings)
    plain = [ride if sensor else without_sensor(ride) for ride in rides]
    read = {Path(ride.source): signals_of(ride) for ride in plain}
    return measure(one, read)


def without_sensor(ride: Recording) -> Recording:
    return Recording(**{**vars(ride), "air_speed": None})
