"""The integer program behind baskets and whole-step targets: exact, and silent."""

from itertools import product

import numpy as np
import pytest

from racecalc.decisions.integer_program import best_choice

# From a card of eight sections, to four digits: seconds saved by the next 5 W in each, and the
# room above critical power that each takes at the end of every section.
GAIN = np.array([9.831, 4.099, 3.284, 3.451, 0.977, 0.2942, 0.9109, 5.416])
ROWS = np.array(
    [
        [3.759e-04, -6.927e-02, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [3.751e-04, -6.914e-02, -3.430e-04, 0.0, 0.0, 0.0, 0.0, 0.0],
        [1.819e-04, -3.362e-02, -5.322e-02, -5.539e-02, 0.0, 0.0, 0.0, 0.0],
        [1.819e-04, -3.362e-02, -5.322e-02, -5.539e-02, -3.111e-04, 0.0, 0.0, 0.0],
        [1.743e-04, -3.221e-02, -5.099e-02, -5.307e-02, -3.578e-02, -1.140e-04, 0.0, 0.0],
        [
            5.740e-05,
            -1.061e-02,
            -1.679e-02,
            -1.748e-02,
            -1.160e-02,
            -9.238e-03,
            -3.928e-02,
            -1.699e-01,
        ],
    ]
)
LEAST = np.array([-0.01864, -0.021, -0.05518, -0.05549, -0.1302, -0.1906])


def test_nothing_is_printed_into_an_answer(capfd: pytest.CaptureFixture[str]):
    """The solver writes a line about this one to the standard output if it is let."""
    found = best_choice(GAIN, ROWS, LEAST, np.full(len(LEAST), np.inf))
    print("the answer", flush=True)
    assert capfd.readouterr().out == "the answer\n"
    assert found is not None
    tried = [np.array(one) for one in product((0.0, 1.0), repeat=len(GAIN))]
    best = max(GAIN @ one for one in tried if np.all(ROWS @ one >= LEAST - 1e-12))
    assert GAIN @ found == pytest.approx(best)
    assert np.all(ROWS @ found >= LEAST)


def test_without_a_standard_output(monkeypatch: pytest.MonkeyPatch):
    def closed(_: int) -> int:
        raise OSError

    monkeypatch.setattr("os.dup", closed)
    assert best_choice(np.ones(2), np.ones((1, 2)), np.zeros(1), np.ones(1)) is not None
