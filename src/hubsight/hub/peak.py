"""The place of a peak between the steps of a sampled profile."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def sub_step(three: NDArray[np.float64]) -> float:
    """Return how far a parabola through three samples peaks from the middle one, in steps, or 0."""
    a, m, c = three
    bend = a - 2 * m + c
    return float(0.5 * (a - c) / bend) if bend < 0 else 0.0
