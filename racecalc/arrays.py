"""The one array type of the package, and what solves banded systems."""

import sys
from contextlib import suppress
from functools import cache
from importlib import import_module
from importlib.machinery import PathFinder
from importlib.util import find_spec, module_from_spec
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]


@cache
def compiled(library: str) -> Any:
    """The compiled routines of "blas" or "lapack".

    They are taken from their own file, since all of `scipy.linalg` around them takes longer to load
    than a race to solve; where scipy has no such file, by that way.
    """
    name, scipy = f"scipy.linalg._f{library}", find_spec("scipy")
    places = scipy.submodule_search_locations if scipy else None
    spec = PathFinder.find_spec(name, [str(Path(place, "linalg")) for place in places or ()])
    if name not in sys.modules and spec and spec.loader:
        with suppress(ImportError):
            module = module_from_spec(spec)
            spec.loader.exec_module(module)
            sys.modules[name] = module
    return sys.modules.get(name) or import_module(f"scipy.linalg.{library}")


def solve_banded(band: FloatArray, right_side: FloatArray, *, lower: bool = False) -> FloatArray:
    """Solve a symmetric system by the Cholesky factor of its band.

    Parameters
    ----------
    band : FloatArray, shape (u + 1, n)
        The diagonal in the last row, and above it those above it; or below it, in the first row,
        those below it.
    right_side : FloatArray, shape (n,) or (n, k)

    Raises
    ------
    numpy.linalg.LinAlgError
        If the system is not positive definite.
    """
    if len(band) == 2:
        diagonal, beside = (band[0], band[1, :-1]) if lower else (band[1], band[0, 1:])
        _, _, found, wrong = compiled("lapack").dptsv(diagonal, beside, right_side)
    else:
        _, found, wrong = compiled("lapack").dpbsv(band, right_side, lower=lower)
    if wrong:
        problem = "the system is not positive definite"
        raise np.linalg.LinAlgError(problem)
    return np.asarray(found)
