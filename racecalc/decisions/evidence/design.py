"""The design of a test: which item was ridden when, and which sessions can show a drift."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray

IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Design:
    """Which item was ridden when; numbers count from 0, item 0 is the baseline.

    Parameters
    ----------
    item, session : IntArray, shape (n,)
        Number of the item and of the session of each run.
    order : FloatArray, shape (n,)
        Clock or counter within the session.
    drift : array of bool, shape (sessions,)
        Sessions with a drift term.
    """

    item: IntArray
    session: IntArray
    order: FloatArray
    drift: NDArray[np.bool_]

    @property
    def items(self) -> int:
        """Number of items, the baseline included."""
        return int(self.item.max()) + 1

    @property
    def sessions(self) -> int:
        """Number of sessions."""
        return len(self.drift)

    @cached_property
    def cell(self) -> IntArray:
        """Number of each run's item in its session, without gaps; shape (n,)."""
        _, numbers = np.unique(self.session * self.items + self.item, return_inverse=True)
        return np.asarray(numbers, dtype=np.intp)


def design_of(item: IntArray, session: IntArray, order: FloatArray) -> Design:
    """Design of a test, with drift terms where they can be carried.

    A session carries a drift term if it has at least two runs more than it has items (A-B-B-A
    does, A-B and A-B-A do not): then one run is left over to judge the spread by.

    Parameters
    ----------
    item, session : IntArray, shape (n,)
        Numbers from 0, without gaps.
    order : FloatArray, shape (n,)
        Clock or counter within the session.

    Returns
    -------
    Design
        The same with its drift terms.
    """
    plain = Design(item, session, order, np.zeros(int(session.max()) + 1, bool))
    runs = np.bincount(session)
    first_of_cell = np.unique(plain.cell, return_index=True)[1]
    held = np.bincount(session[first_of_cell], minlength=len(runs))
    # A drift term needs orders that differ within one item.
    apart = np.bincount(session, centred(order, plain.cell) ** 2) > 0
    return replace(plain, drift=(runs >= held + 2) & apart)


def centred(values: FloatArray, group: IntArray) -> FloatArray:
    """Take the mean of its group from each value; shape (n,)."""
    count = np.bincount(group)
    return np.asarray(values - (np.bincount(group, values) / count)[group])
