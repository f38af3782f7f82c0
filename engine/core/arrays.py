"""What arrays are called in signatures; their shapes stand in docstrings."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
