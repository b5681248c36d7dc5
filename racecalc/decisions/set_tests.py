"""Which tests of several things as one hold for a set of them."""

from collections.abc import Collection, Hashable, Sequence
from typing import TypeVar

Thing = TypeVar("Thing", bound=Hashable)


def tests_that_hold(
    tests: Sequence[frozenset[Thing]], chosen: Collection[Thing]
) -> tuple[int, ...]:
    """Numbers of the tests that count for a set.

    A test counts where all its things are chosen; larger tests come first, and none that shares
    a thing with one that counts already.

    Parameters
    ----------
    tests : sequence of frozenset
        What each test was of.
    chosen : collection
        The set.

    Returns
    -------
    tuple of int
        The larger first.

    Examples
    --------
    >>> tests = [frozenset("ab"), frozenset("abc"), frozenset("de")]
    >>> tests_that_hold(tests, "abcde"), tests_that_hold(tests, "abd")
    ((1, 2), (0,))
    """
    found: list[int] = []
    taken: frozenset[Thing] = frozenset()
    for number in sorted(range(len(tests)), key=lambda number: -len(tests[number])):
        if tests[number] <= frozenset(chosen) and not tests[number] & taken:
            found.append(number)
            taken |= tests[number]
    return tuple(found)
