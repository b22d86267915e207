"""The lower edges of a flange's walls, seen from the side: how thick the flange is at its bosses, or its rim.

Below a wall that looks towards the camera, the picture is followed straight down: at the wall's lower edge
metal ends and paper or shell begins, at one height all round and in all photos.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import peak_prominences

from hubsight.camera import View
from hubsight.model.arrays import Array, Light, Picture
from hubsight.see.bosses.walls import Wall, faces_seen
from hubsight.see.peak import sub_step
from hubsight.see.sampling import pixels_of, softened_round

BLUR_PX = 1.0
"""Blur of the photos, px; raising it lessens noise and fine edges."""
DEPTH_STEP_MM = 0.1
"""Step of the heights that are looked at, mm; raising it is faster and less exact."""
DEPTHS_MM = np.arange(-13.0, 3.0, DEPTH_STEP_MM)
"""Heights that are looked at, from the upper edges, mm."""
THICKNESSES_MM = (4.5, 10.5)
"""Visible thickness of bosses and radial rims, mm; a wider range takes in shadows (common practice, no
source)."""
QUIET = 3.0
"""Change of grey per step at which a profile's strongest counts half; raising it trusts faint edges less."""

STANDS_OUT = 0.25
"""Share of its height by which a line rises above what parts it from a higher one, from which it counts
fully; raising it trusts shoulders less. Without it trifles decide whether a shoulder is a line."""


@dataclass(frozen=True)
class Underside:
    """Where lower edges may be: (K,) heights from the upper ones, mm, and their weights."""

    depth: Array
    weight: Array


def see_underside(
    pictures: Sequence[Picture], views: Sequence[View], walls: Sequence[Wall]
) -> Underside | None:
    """Return where the lower edges of a flange's walls may be.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras.
    walls
        Of the flange as adjusted.

    Returns
    -------
    Underside or None
        None where no wall is seen from the side.
    """
    profiles = []
    for picture, view in zip(pictures, views, strict=True):
        places = [_places(view, wall.foot) for wall in faces_seen(view, walls)]
        if places:
            soft = softened_round(picture, places, BLUR_PX)
            profiles += [_profile(soft.sampled(at)) for at in places]
    if not profiles:
        return None
    return lower_edges(np.mean(profiles, axis=0))


def lower_edges(profile: Array) -> Underside | None:
    """Return which lines of a profile (D,) of grey's changes at `DEPTHS_MM` may be a lower edge."""
    thin, thick = THICKNESSES_MM
    inside = np.abs(DEPTHS_MM + (thin + thick) / 2) < (thick - thin) / 2
    tops = [k for k in range(2, len(profile) - 2) if inside[k] and profile[k] == profile[k - 2 : k + 3].max()]
    if not tops:
        return None
    depth = [DEPTHS_MM[k] + DEPTH_STEP_MM * sub_step(profile[k - 1 : k + 2]) for k in tops]
    rises, _, _ = peak_prominences(profile, tops)
    share = np.minimum(rises / (STANDS_OUT * profile[tops]), 1.0)
    return Underside(np.array(depth), profile[tops] * share)


def _places(view: View, foot: Array) -> Light:
    """Return the pixels (N, D, 2) above and below the foot points (N, 3) of a wall."""
    return pixels_of(view, foot[:, None, :] + np.array([0.0, 0.0, 1.0]) * DEPTHS_MM[None, :, None])


def _profile(grey: Array) -> Array:
    """Return how strongly grey (N, D) changes on the way down a wall, from 0 to 1."""
    change = np.median(np.abs(np.gradient(gaussian_filter1d(grey, 1.5, axis=1), axis=1)), axis=0)
    return np.asarray(change / (change.max() + QUIET), dtype=np.float64)
