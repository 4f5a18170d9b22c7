"""The one array type of the core: double precision, any shape."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]
"""Positions in an array."""
Flags = NDArray[np.bool_]
"""Yes or no for each of something."""
