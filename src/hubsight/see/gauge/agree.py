"""Which photo of a set spoils the gauge: the one without which all others agree on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hubsight.camera import View
from hubsight.estimate.robust import CAUCHY_SIGMAS, cauchy_weight
from hubsight.model.arrays import Array, Picture
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.find import find_lines, segments

CLEARLY = 1.15
"""Ratio of what is seen of a gauge without one photo to that without any other, from which that photo is the
odd one; raising it finds fewer odd photos."""


def odd_one_out(pictures: Sequence[Picture], views: Sequence[View], anchors: Array) -> int | None:
    """Return the photo without which the others show the same gauge best.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose; three or more.
    anchors
        (A, 2) where a hub may stand, target frame.

    Returns
    -------
    int or None
        Its number from 0; None where no photo stands out.
    """
    found = [segments(p) for p in pictures]
    shown = np.zeros(len(views))
    for k in range(len(views)):
        left = [i for i in range(len(views)) if i != k]
        own = [views[i] for i in left]
        for line in find_lines([found[i] for i in left], own, anchors):
            end = line.point + line.high * line.direction
            seen = track_axis([pictures[i] for i in left], own, end, line.direction, line.high - line.low)
            if seen is not None:
                shown[k] = max(shown[k], _shown(seen, own))
    order = np.argsort(shown)
    return int(order[-1]) if shown[order[-1]] > CLEARLY * shown[order[-2]] else None


def _shown(seen: SeenLine, views: Sequence[View]) -> float:
    """Return the number of axis points of all photos, those off the line counting less."""
    total = 0.0
    for axis, view in zip(seen.axes, views, strict=True):
        if len(axis.back) == 0:
            continue
        off = view.project(seen.end - axis.back[:, None] * seen.direction) - axis.pixels
        sigmas = np.sum(off * axis.normals, 1) / axis.sigma_px
        total += float(np.sum(cauchy_weight(sigmas**2, CAUCHY_SIGMAS)))
    return total
