"""Draw for as long as is wanted and count what came of it: ``python -m tests.fuzz.long_run 120``.

Every batch of cases runs in a process of its own, which tells the memory that it took; the first
case of each failure is printed whole.
"""

import multiprocessing
import random
import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

from hypothesis import Phase
from hypothesis.errors import HypothesisException, UnsatisfiedAssumption

from tests.fuzz import test_hostile, test_invariants
from tests.fuzz.outcome import Check, draw, with_demo

CHECKS = {**test_hostile.CHECKS, **test_invariants.CHECKS}
BATCH = 60

Batch = tuple[Counter[str], dict[str, str], float, float]
"""Cases by what came of them, the first of each failure, the longest [s] and the memory [MiB]."""


def counted(
    check: Check, counts: Counter[str], failures: dict[str, str], times: list[float]
) -> Check:
    """The check, which counts what comes of it and goes on after a failure."""

    def run(folder: Path, **drawn: Any) -> None:
        begun = time.process_time()
        try:
            counts["answered" if check(folder, **drawn) in {None, True} else "refused"] += 1
        except UnsatisfiedAssumption:
            counts["refused"] += 1
        except HypothesisException:
            raise
        except Exception as fault:
            counts["failed"] += 1
            failures.setdefault(_named(fault), f"{drawn}\n{traceback.format_exc()}")
        finally:
            times.append(time.process_time() - begun)

    return run


def _named(fault: Exception) -> str:
    """Where it happened, so that one fault is told once."""
    last = traceback.extract_tb(fault.__traceback__)[-1]
    first_line = str(fault).splitlines()[0][:200] if str(fault) else ""
    return f"{type(fault).__name__} at {Path(last.filename).name}:{last.lineno}: {first_line}"


def batch(name: str, seed: int) -> Batch:
    """Some cases of one check."""
    from hypothesis import core

    core.global_force_seed = seed
    counts: Counter[str] = Counter()
    failures: dict[str, str] = {}
    times = [0.0]
    check, drawn = CHECKS[name]
    with tempfile.TemporaryDirectory() as folder:
        draw(
            counted(check, counts, failures, times),
            drawn,
            with_demo(Path(folder)),
            BATCH,
            phases=[Phase.generate],
            database=None,
        )
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return counts, failures, max(times), memory


def main(minutes: float) -> int:
    """Go round the checks until the time is up; the exit status is 1 if anything failed."""
    ends = time.monotonic() + 60 * minutes
    counts: dict[str, Counter[str]] = {name: Counter() for name in CHECKS}
    worst = dict.fromkeys(CHECKS, (0.0, 0.0))
    known: set[str] = set()
    context = multiprocessing.get_context("spawn")
    while time.monotonic() < ends:
        for name in CHECKS:
            with context.Pool(1) as pool:
                found, failures, longest, memory = pool.apply(
                    batch, (name, random.randrange(2**32))
                )
            counts[name] += found
            worst[name] = max(worst[name][0], longest), max(worst[name][1], memory)
            for what in failures.keys() - known:
                print(f"--- {name}: {what}\n{failures[what]}", flush=True)
            known |= failures.keys()
        show(counts, worst)
    return 1 if known else 0


def show(counts: dict[str, Counter[str]], worst: dict[str, tuple[float, float]]) -> None:
    """A line for each check."""
    print(f"{'cases of':34}{'answered':>9}{'refused':>9}{'failed':>8}{'longest s':>11}{'MiB':>6}")
    for name, found in counts.items():
        parts = f"{found['answered']:9}{found['refused']:9}{found['failed']:8}"
        print(f"{name:34}{parts}{worst[name][0]:11.1f}{worst[name][1]:6.0f}", flush=True)


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1])))
