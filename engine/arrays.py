"""What signatures call arrays and the numbers that stand for one; one number for each of many columns."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Reals = NDArray[np.floating[Any]]  # float64 or float32, whichever is given
Complexes = NDArray[np.complex128]
Integers = NDArray[np.int64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Number = float | Floats

_FACTORS = np.random.default_rng(7).integers(1, 2**62, 64, dtype=np.int64) | 1


def codes(whole: Integers) -> Integers:
    """A number for each column of whole numbers (k, N), k up to 64, the same for equal columns, (N,).

    Others share one by chance less often than once in 10¹²: the factors of its sum are odd and drawn once.
    """
    return np.asarray(_FACTORS[: len(whole)] @ whole)
