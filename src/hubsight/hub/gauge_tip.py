"""What is on the gauge's far end: the bare wire, or a nipple, twice as thick.

The edges on both sides of the axis tell: before a bare end they lie a wire apart, before the end of a nipple
a nipple apart. A nipple that was not expected begins where the bare wire seems to end, and shows beyond it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.hub.ribbon import unroll
from hubsight.stated import TipKind

Array = NDArray[np.float64]

ALONG_STEP_MM, ACROSS_STEP_MM = 0.25, 0.06
REACH_MM, HALF_MM = 16.0, 3.6
ALONG_BLUR_MM, ACROSS_BLUR_MM = 0.5, 0.09
WIRE_HALF_MM, NIPPLE_HALF_MM = (0.6, 1.25), (1.5, 2.4)
"""Where the edges of a spoke's wire and of a nipple lie beside the axis (common practice, no source)."""
BEFORE_MM, BEYOND_MM = (1.0, 8.0), (-9.0, -3.0)
"""Stretches before the end where a nipple shows, and beyond it where an unexpected one does."""
NIPPLE_OVER_WIRE, NIPPLE_BEYOND = 0.85, 0.28
"""A nipple's edges against the wire's before the end, and against the strongest before it, beyond. On
rendered gauges bare ends show at most 0.6 and 0.11, nipples at least 1.2 and 0.42."""


def see_tip(
    lights: Sequence[NDArray[np.float32]], views: Sequence[View], end: Array, direction: Array
) -> TipKind:
    """Tell what is on a gauge's end.

    Parameters
    ----------
    lights, views
        Per photo linear light, camera and pose.
    end, direction
        (3,) the end as found and the unit direction to it.
    """
    edges, back = _edges(lights, views, end, direction)
    before, beyond = _stretch(back, BEFORE_MM), _stretch(back, BEYOND_MM)
    wire, nipple = _strength(edges, before, WIRE_HALF_MM), _strength(edges, before, NIPPLE_HALF_MM)
    thick = _strength(edges, beyond, NIPPLE_HALF_MM)
    return "nipple" if nipple > NIPPLE_OVER_WIRE * wire or thick > NIPPLE_BEYOND else "flat"


def _edges(
    lights: Sequence[NDArray[np.float32]], views: Sequence[View], end: Array, direction: Array
) -> tuple[Array, Array]:
    """Edge strength on both sides at once, (S, U), mean over photos, and (S,) distance before the end."""
    back = np.arange(REACH_MM, -REACH_MM, -ALONG_STEP_MM)
    across = np.arange(-HALF_MM, HALF_MM + 1e-9, ACROSS_STEP_MM)
    total = np.zeros((len(back), len(across)))
    for light, view in zip(lights, views, strict=True):
        ribbon = unroll(light, view, end, direction, back=back, across=across)
        smooth = gaussian_filter1d(np.nan_to_num(ribbon.light), ACROSS_BLUR_MM / ACROSS_STEP_MM, axis=1)
        smooth = gaussian_filter1d(smooth, ALONG_BLUR_MM / ALONG_STEP_MM, axis=0)
        slope = np.abs(np.asarray(np.gradient(smooth, ACROSS_STEP_MM, axis=1)))
        pair = np.minimum(slope, slope[:, ::-1])
        total += pair / max(float(np.median(pair[back > BEFORE_MM[0]].max(1))), 1e-6)
    return total / len(lights), back


def _stretch(back: Array, limits: tuple[float, float]) -> NDArray[np.bool_]:
    return np.asarray((back > limits[0]) & (back < limits[1]))


def _strength(edges: Array, rows: NDArray[np.bool_], half: tuple[float, float]) -> float:
    """Mean over rows of the strongest pair of edges at ``half`` mm beside the axis."""
    columns = np.arange(edges.shape[1]) * ACROSS_STEP_MM - HALF_MM
    return float(edges[rows][:, (columns > half[0]) & (columns < half[1])].max(1).mean())
