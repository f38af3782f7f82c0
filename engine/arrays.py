"""What signatures call arrays and the numbers that stand for one."""

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
