"""What is on the gauge's far end: the bare wire, or a nipple, twice as thick.

The edges on both sides of the axis tell: before a bare end they lie a wire apart, before the end of a nipple
a nipple apart. A nipple that was not expected begins where the bare wire seems to end, and shows beyond it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Flags, Picture
from hubsight.model.stated import TipKind
from hubsight.see.ribbon import unroll

STEP_MM = (0.25, 0.06)
"""Steps along and across the gauge, mm; raising them is faster."""
REACH_MM = (16.0, 3.6)
"""What is unrolled to either side of the end, along and across, mm."""
BLUR_MM = (0.5, 0.09)
"""Blur along and across before edges are taken, mm; raising it lessens noise and hides thin edges."""
NIPPLE_HALF_MM = (1.5, 2.4)
"""Distances of a nipple's edges from the axis, mm; those of wire lie within 1.25 (common practice, no
source)."""
BEFORE_MM, BEYOND_MM = (1.0, 8.0), (-9.0, -3.0)
"""Stretches before the end in which a nipple shows, and beyond it in which an unexpected one does, mm."""
HEAD_BEFORE_MM, HEAD_BEYOND_MM = (0.3, 1.3), (-1.3, -0.3)
"""The same stretches for a spoke's head, mm, which is about 1.5 mm thick (common practice, no source)."""
LEAST_SEEN = 0.5
"""Share of such a stretch that a photo has to show; raising it asks fewer photos."""
NIPPLE_EDGES = 0.2
"""Strength of edges from which they are a nipple's, as a share of the strongest along the gauge, in the
middle one of the photos; raising it sees fewer nipples (found on rendered gauges: bare ends show 0.04,
nipples 0.48 and more; single photos up to 2 where something runs beside the wire)."""


@dataclass(frozen=True)
class TipSeen:
    """What is on a gauge's end, and per photo how strong a nipple's edges are; None where it is not shown."""

    kind: TipKind
    by_photo: tuple[float | None, ...]


def see_tip(
    pictures: Sequence[Picture], views: Sequence[View], end: Array, direction: Array
) -> TipSeen | None:
    """Tell what is on a gauge's end; at least two photos are needed to be sure. None where none shows it.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose.
    end, direction
        (3,) the end as found and the unit direction to it.
    """
    stretches = _shown(pictures, views, end, direction, (BEFORE_MM, BEYOND_MM))
    if not stretches:
        return None
    shown, by_photo = max(stretches, key=lambda stretch: stretch[0])
    return TipSeen("nipple" if shown > NIPPLE_EDGES else "flat", tuple(by_photo))


def see_head(pictures: Sequence[Picture], views: Sequence[View], end: Array, direction: Array) -> float:
    """Return how clearly a spoke's head shows at an end: its edges over the strongest along the wire.

    Parameters are those of `see_tip`. More than `NIPPLE_EDGES` is a head; 0 where no photo shows the end.
    """
    shown = _shown(pictures, views, end, direction, (HEAD_BEFORE_MM, HEAD_BEYOND_MM))
    return max((middle for middle, _ in shown), default=0.0)


def _shown(
    pictures: Sequence[Picture],
    views: Sequence[View],
    end: Array,
    direction: Array,
    stretches: Sequence[tuple[float, float]],
) -> list[tuple[float, list[float | None]]]:
    """Return the strength of wide edges in each stretch about the end that photos show.

    The middle photo's, and every photo's own.
    """
    back = np.arange(REACH_MM[0], -REACH_MM[0], -STEP_MM[0])
    edges = [
        _edges(picture, view, end, direction, back=back)
        for picture, view in zip(pictures, views, strict=True)
    ]
    strengths = [[_strength(e, _stretch(back, stretch)) for e in edges] for stretch in stretches]
    return [(middle, own) for own in strengths if (middle := _middle(own)) is not None]


def _middle(values: Sequence[float | None]) -> float | None:
    """Return the median of what is seen; of an even number of values the lower one in the middle."""
    seen = sorted(value for value in values if value is not None)
    return seen[(len(seen) - 1) // 2] if seen else None


def _edges(picture: Picture, view: View, end: Array, direction: Array, *, back: Array) -> Array:
    """Return the strength (S, U) of edges on both sides at once, over the strongest ones before the end.

    NaN outside the picture.
    """
    across = np.arange(-REACH_MM[1], REACH_MM[1] + 1e-9, STEP_MM[1])
    ribbon = unroll(picture, view, end, direction, back=back, across=across)
    smooth = gaussian_filter1d(np.nan_to_num(ribbon.light), BLUR_MM[1] / STEP_MM[1], axis=1)
    smooth = gaussian_filter1d(smooth, BLUR_MM[0] / STEP_MM[0], axis=0)
    slope = np.abs(np.asarray(np.gradient(smooth, STEP_MM[1], axis=1)))
    pair = np.minimum(slope, slope[:, ::-1])
    level = max(float(np.median(pair[back > BEFORE_MM[0]].max(1))), 1e-6)
    return np.where(np.all(np.isfinite(ribbon.light), axis=1, keepdims=True), pair / level, np.nan)


def _stretch(back: Array, limits: tuple[float, float]) -> Flags:
    return np.asarray((back > limits[0]) & (back < limits[1]))


def _strength(edges: Array, rows: Flags) -> float | None:
    """Return the mean over rows of the strongest pair of edges that a nipple can have."""
    columns = np.arange(edges.shape[1]) * STEP_MM[1] - REACH_MM[1]
    nipple = (columns > NIPPLE_HALF_MM[0]) & (columns < NIPPLE_HALF_MM[1])
    strongest: Array = edges[rows][:, nipple].max(axis=1)
    seen: Flags = np.isfinite(strongest)
    return float(strongest[seen].mean()) if seen.mean() > LEAST_SEEN else None
