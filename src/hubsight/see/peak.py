"""The place of a peak between the steps of a sampled profile."""

from __future__ import annotations

import numpy as np

from hubsight.model.arrays import Array


def sub_step(three: Array) -> Array:
    """Return how far parabolas through three samples (3, ...) peak from the middle ones, in steps, or 0."""
    a, m, c = three
    bend = a - 2 * m + c
    return np.asarray(np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1.0), 0.0))
