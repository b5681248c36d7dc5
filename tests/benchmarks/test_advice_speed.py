"""What the page of a race costs, and what a squad of 200 takes in time and memory.

``pytest tests/benchmarks/test_advice_speed.py --override-ini addopts= -s``
"""

import resource
import shutil
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from racecalc.decisions.advice.advice import advise
from racecalc.domain.loading import load_race
from racecalc.views.advice import PageRequest, advice_on, squad, written

DEMO = Path(__file__).parents[2] / "course_demo"
RIDERS = 200
AT_FIRST = 20


def squad_in(folder: Path, riders: int) -> list[Path]:
    """The demo for riders who all differ in mass and power, each with own option prices."""
    for file in DEMO.iterdir():
        shutil.copy(file, folder)
    text = (DEMO / "race.toml").read_text("utf-8")
    paths = []
    for number in range(riders):
        own = text.replace('mass = "67 kg"', f'mass = "{55 + 0.15 * number:.2f} kg"')
        own = own.replace('power = "262 W"', f'power = "{225 + 0.2 * number:.1f} W"')
        paths.append(folder / f"rider{number:03d}.toml")
        paths[-1].write_text(
            own.replace('price = "48 EUR"', f'price = "{30 + number} EUR"'), "utf-8"
        )
    return paths


def peak(who: int) -> float:
    """Largest memory so far [MiB]; Linux counts in KiB."""
    return resource.getrusage(who).ru_maxrss / 1024.0


def test_where_the_time_of_a_page_goes() -> None:
    asked = PageRequest()
    written(advice_on(DEMO / "race.toml", asked)[1], "html", "metric")
    seconds = {"reading": 0.0, "solving": 0.0, "writing": 0.0}
    for _ in range(5):
        began = time.perf_counter()
        race = load_race(DEMO / "race.toml")
        read = time.perf_counter()
        advise(race)
        solved = time.perf_counter()
        _, sheet = advice_on(DEMO / "race.toml", asked)
        before = time.perf_counter()
        written(sheet, "html", "metric")
        after = time.perf_counter()
        seconds["reading"] += (read - began) / 5
        seconds["solving"] += (solved - read) / 5
        seconds["writing"] += (after - before) / 5
    whole = sum(seconds.values())
    for name, some in seconds.items():
        print(f"{name}: {some:.3f} s, {100 * some / whole:.0f} %")


def test_a_squad_in_time_and_memory(tmp_path: Path) -> None:
    races = squad_in(tmp_path, RIDERS)
    began = time.perf_counter()
    with ProcessPoolExecutor(2, get_context("spawn")) as executor:
        for number, made in enumerate(squad(races, executor=executor), 1):
            assert made.page is not None, made.problem
            if number in (AT_FIRST, RIDERS // 2, RIDERS):
                took = time.perf_counter() - began
                here = peak(resource.RUSAGE_SELF)
                print(f"{number} pages after {took:.0f} s; parent at most {here:.0f} MiB")
                for process in executor._processes.values():
                    status = Path(f"/proc/{process.pid}/status").read_text("ascii")
                    (line,) = (one for one in status.splitlines() if one.startswith("VmHWM"))
                    print(f"  a worker at most {int(line.split()[1]) / 1024:.0f} MiB")
