"""Integer programs of yes and no, solved exactly."""

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import scipy

from racecalc.arrays import FloatArray


def best_choice(
    objective: FloatArray,
    rows: FloatArray,
    low: FloatArray,
    high: FloatArray,
    bounds: tuple[FloatArray, FloatArray] | None = None,
) -> FloatArray | None:
    """Choose zeros and ones with the greatest objective under linear conditions.

    Branch and cut by the HiGHS solver (`scipy.optimize.milp`), without a gap. Rows are scaled to
    coefficients near one: with others the solver mends tiny violations, and prints about it to
    the output that holds the answer.
    """
    size = np.max(np.abs(rows), axis=1, initial=0.0)
    size = np.where(size > 0, size, 1.0)
    worth = float(np.max(np.abs(objective), initial=0.0)) or 1.0
    with _nothing_printed():
        found = scipy.optimize.milp(
            -objective / worth,
            integrality=np.ones(len(objective)),
            bounds=scipy.optimize.Bounds(*(bounds or (0.0, 1.0))),
            constraints=scipy.optimize.LinearConstraint(
                rows / size[:, None], low / size, high / size
            ),
            options={"mip_rel_gap": 0.0},
        )
    return None if found.x is None else np.asarray(np.round(found.x))


@contextmanager
def _nothing_printed() -> Iterator[None]:
    """Keep compiled code off the standard output, where it would be in the middle of an answer.

    Now and then the solver mends a solution even so, and says it there; no option stops that.
    """
    try:
        kept = os.dup(1)
    except OSError:  # There is no standard output.
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        yield
    finally:
        # What C has buffered would come out later.
        with suppress(AttributeError, OSError, TypeError):
            ctypes.CDLL(None).fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
