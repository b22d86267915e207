"""What is common to all rulers on the sheet: straight edges on the field, and where two of them lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.see.gauge.find import segments
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import END_BLUR_MM, STEP_MM
from hubsight.target.geometry import TargetGeometry

NEARLY_AS_STEEP = 0.5
"""Steepness from which a rival is as steep, as a share of the steepest; raising it finds the first of several
steps less often."""
CLEAR_OF_RING_MM = 2.0
"""Distance from the ring from which edges are the ruler's, mm; raising it loses edges near the ring."""
LENGTH_SLACK = 0.04
"""Relative difference from the stated length up to which what lies on the sheet is the ruler; raising it
takes other things for it."""


@dataclass(frozen=True)
class RulerEnds:
    """The two ends of a ruler in one photo.

    Attributes
    ----------
    pixels
        (2, 2) where the outline of each end crosses the ruler's line.
    heights
        (2,) of the points of the ends that make the outline, above the paper, mm.
    height_u
        (2,) their standard uncertainties.
    u
        (2,) standard uncertainties of the ends along the line, mm, which other photos do not share.
    common_u
        (2,) those which all photos of the same ruler share: its own edges, and how light falls on them.
    """

    pixels: Array
    heights: Array
    height_u: Array
    u: Array
    common_u: Array

    def length(self, view: View) -> Array:
        """Return the (2,) vector between the ends along the paper, mm of the view's target frame."""
        points = np.concatenate([view.at_height(self.pixels[k : k + 1], self.heights[k]) for k in range(2)])
        return np.asarray(points[1, :2] - points[0, :2])


def field_segments(
    picture: Picture, view: View, geometry: TargetGeometry, height: float
) -> tuple[Array, Array]:
    """Return (N, 4) straight edges in the blank field, px, and their (N, 2, 2) ends on the paper, mm."""
    found = segments(picture)
    if len(found) == 0:
        return found, np.empty((0, 2, 2))
    on_paper = np.stack([view.at_height(found[:, k : k + 2], height)[:, :2] for k in (0, 2)], 1)
    half = np.array(geometry.field) / 2 - CLEAR_OF_RING_MM
    inside = (np.abs(on_paper) < half).all((1, 2))
    return found[inside], on_paper[inside]


def steepest(profile: Array, low: int, high: int, *, first: int = 0) -> tuple[float, float] | None:
    """Return where a profile in steps of `STEP_MM` is steepest, in steps, and how steep; None at a border.

    Parameters
    ----------
    profile
        (S,) light.
    low, high
        Steps between which to look.
    first
        1 or -1: of all steps nearly as steep as the steepest take the one that comes first in this direction.
    """
    slope = np.abs(np.gradient(gaussian_filter1d(profile, END_BLUR_MM / STEP_MM)))
    low, high = max(low, 1), min(high, len(profile) - 1)
    if high - low < 3 or not np.isfinite(slope[low:high]).all():
        return None
    inner = np.arange(low + 1, high - 1)
    tops = inner[(slope[inner] >= slope[inner - 1]) & (slope[inner] > slope[inner + 1])]
    if len(tops) == 0:
        return None
    k = int(tops[slope[tops].argmax()])
    if first:
        rivals = tops[slope[tops] > NEARLY_AS_STEEP * slope[k]]
        k = int(rivals[0] if first > 0 else rivals[-1])
    return k + float(sub_step(slope[k - 1 : k + 2])), float(slope[k])


def outline_height(
    view: View, point: Array, outward: Array, low: float, high: float, *, outer: bool
) -> float:
    """Return which height of an end that stands square on the paper makes its outline.

    Parameters
    ----------
    view
        Camera and pose.
    point
        (3,) the end.
    outward
        (2,) unit direction away from the ruler.
    low, high
        Of the end above the paper, mm.
    outer
        Whether the end faces along ``outward`` (a wire's end); else against it (the seat under a head).

    Notes
    -----
    The line of sight through a point at height z meets the paper further out, the higher z is, as long as the
    lens is above the ruler's side of the end.
    """
    from_inside = float((point[:2] - view.position[:2]) @ outward) > 0
    return high if from_inside == outer else low
