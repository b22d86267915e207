"""What is on the gauge's far end: the bare wire, or a nipple, twice as thick.

The edges on both sides of the axis tell: before a bare end they lie a wire apart, before the end of a nipple
a nipple apart. A nipple that was not expected begins where the bare wire seems to end, and shows beyond it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.model.stated import TipKind
from hubsight.see.ribbon import unroll

Array = NDArray[np.float64]

ALONG_STEP_MM, ACROSS_STEP_MM = 0.25, 0.06
REACH_MM, HALF_MM = 16.0, 3.6
ALONG_BLUR_MM, ACROSS_BLUR_MM = 0.5, 0.09
NIPPLE_HALF_MM = (1.5, 2.4)
"""Where the edges of a nipple lie beside the axis (common practice, no source); those of wire lie within
1.25."""
BEFORE_MM, BEYOND_MM = (1.0, 8.0), (-9.0, -3.0)
"""Stretches before the end where a nipple shows, and beyond it where an unexpected one does."""
LEAST_SEEN = 0.5
"""Share of such a stretch that a photo has to show."""
NIPPLE_EDGES = 0.2
"""A nipple's edges against the strongest edges along the gauge, in the middle one of the photos. On rendered
gauges bare ends show 0.04 there, nipples 0.48 and more; single photos show up to 2 where something runs
beside the wire."""


@dataclass(frozen=True)
class TipSeen:
    """What is on a gauge's end, and per photo how strong a nipple's edges are; None where it is not shown."""

    kind: TipKind
    by_photo: tuple[float | None, ...]


def see_tip(
    lights: Sequence[NDArray[np.float32]], views: Sequence[View], end: Array, direction: Array
) -> TipSeen | None:
    """Tell what is on a gauge's end; at least two photos are needed to be sure. None where none shows it.

    Parameters
    ----------
    lights, views
        Per photo linear light, camera and pose.
    end, direction
        (3,) the end as found and the unit direction to it.
    """
    back = np.arange(REACH_MM, -REACH_MM, -ALONG_STEP_MM)
    edges = [
        _edges(light, view, end, direction, back=back) for light, view in zip(lights, views, strict=True)
    ]
    strengths = [[_strength(e, _stretch(back, stretch)) for e in edges] for stretch in (BEFORE_MM, BEYOND_MM)]
    stretches = [(m, own) for own in strengths if (m := _middle(own)) is not None]
    if not stretches:
        return None
    shown, by_photo = max(stretches, key=lambda stretch: stretch[0])
    return TipSeen("nipple" if shown > NIPPLE_EDGES else "flat", tuple(by_photo))


def _middle(values: Sequence[float | None]) -> float | None:
    """Median of what is seen; of an even number of values the lower one of the two in the middle."""
    seen = sorted(value for value in values if value is not None)
    return seen[(len(seen) - 1) // 2] if seen else None


def _edges(light: NDArray[np.float32], view: View, end: Array, direction: Array, *, back: Array) -> Array:
    """Strength of edges on both sides at once, (S, U), against the strongest ones before the end.

    NaN outside the picture.
    """
    across = np.arange(-HALF_MM, HALF_MM + 1e-9, ACROSS_STEP_MM)
    ribbon = unroll(light, view, end, direction, back=back, across=across)
    smooth = gaussian_filter1d(np.nan_to_num(ribbon.light), ACROSS_BLUR_MM / ACROSS_STEP_MM, axis=1)
    smooth = gaussian_filter1d(smooth, ALONG_BLUR_MM / ALONG_STEP_MM, axis=0)
    slope = np.abs(np.asarray(np.gradient(smooth, ACROSS_STEP_MM, axis=1)))
    pair = np.minimum(slope, slope[:, ::-1])
    level = max(float(np.median(pair[back > BEFORE_MM[0]].max(1))), 1e-6)
    return np.where(np.all(np.isfinite(ribbon.light), axis=1, keepdims=True), pair / level, np.nan)


def _stretch(back: Array, limits: tuple[float, float]) -> NDArray[np.bool_]:
    return np.asarray((back > limits[0]) & (back < limits[1]))


def _strength(edges: Array, rows: NDArray[np.bool_]) -> float | None:
    """Mean over rows of the strongest pair of edges that a nipple can have; None where half are not seen."""
    columns = np.arange(edges.shape[1]) * ACROSS_STEP_MM - HALF_MM
    nipple = (columns > NIPPLE_HALF_MM[0]) & (columns < NIPPLE_HALF_MM[1])
    strongest: Array = edges[rows][:, nipple].max(axis=1)
    seen: NDArray[np.bool_] = np.isfinite(strongest)
    return float(strongest[seen].mean()) if seen.mean() > LEAST_SEEN else None
