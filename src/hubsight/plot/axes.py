"""Axes to draw on, and the greys of all plots."""

from __future__ import annotations

import matplotlib.pyplot as plt
from matplotlib.axes import Axes

INK, MIDDLE, PALE = "0.0", "0.45", "0.85"
"""Lightness of what counts, of what stands beside it, and of areas; 0 is black."""


def axes_or_new(ax: Axes | None) -> Axes:
    """Return ``ax``, or the axes of a new figure."""
    if ax is not None:
        return ax
    _, new = plt.subplots(layout="constrained")
    return new
