"""Builders of runs for the tests of evidence."""

from collections.abc import Iterable, Sequence

import numpy as np

from racecalc.domain.trial import Measure, Runs


def runs_of(
    items: Iterable[str],
    values: Sequence[float] | np.ndarray,
    sessions: Sequence[str] | None = None,
    order: Sequence[float] | np.ndarray | None = None,
    measure: Measure = "cda",
    speed: float = np.nan,
    density: float = np.nan,
    riders: Sequence[str] | None = None,
    days: Sequence[str] = (),
) -> Runs:
    """Runs in the order given; one session, and counted from 1, unless said otherwise."""
    items = tuple(items)
    count = len(items)
    return Runs(
        source="runs.csv",
        measure=measure,
        item=items,
        rider=("",) * count if riders is None else tuple(riders),
        session=("one",) * count if sessions is None else tuple(sessions),
        order=np.arange(1.0, count + 1) if order is None else np.asarray(order, float),
        value=np.asarray(values, float),
        speed=np.full(count, speed),
        density=np.full(count, density),
        yaw=np.full(count, np.nan),
        note=("",) * count,
        line=tuple(range(2, count + 2)),
        day=tuple(days),
    )
