"""Short names of the array types that pass between functions; shapes stand in their docstrings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""Numbers."""
Flags = NDArray[np.bool_]
"""Yes or no."""
Indices = NDArray[np.intp]
"""Whole numbers that count rows."""
Picture = NDArray[np.uint8]
"""A grey picture (H, W) as the camera stored it."""
Light = NDArray[np.float32]
"""A picture (H, W) made from one: linear light, softened grey levels, edge strength."""
