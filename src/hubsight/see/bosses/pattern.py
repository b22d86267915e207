"""Place the boss pattern exactly: every boss in every photo is matched with the mean of all of them.

In the plane of the bosses' upper faces all bosses of all photos are brought to one frame (X outward along the
centreline, y to the left of it, mm) and averaged. Where one boss in one photo lies off that mean, the hub's
centre, the height of the faces or the axis' tilt is wrong, each with its own signature over bosses and
photos; solving for them and averaging anew sharpens the mean until nothing moves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.estimate.robust import FromMedian, Known, robust_fit
from hubsight.model.arrays import Array, Indices
from hubsight.scene.pattern_pose import TILT_PRIOR, Matches, PatternPose
from hubsight.see.bosses.find import EdgeMap

WINDOW_STEP_MM = 0.1
"""Step of a boss' window, mm; raising it is faster and places the pattern less exactly."""
WINDOW_MM, HALF_WIDTH_MM = (-5.0, 7.0), 8.0
"""Extent of a boss' window, outward from the radius of the crossing point and to either side, mm; a larger
one takes in more outline and more of the neighbours."""
MATCH_REACH_MM = 1.2
"""Farthest shift at which a boss is matched with the mean one, mm; raising it bears worse starts and matches
more wrong edges."""
LEAST_MATCH = 0.35
"""Correlation below which a boss is hidden or spoilt in a photo; raising it leaves fewer, better bosses."""
LEAST_BOSSES = 3
"""Bosses that one photo has to match at least; raising it refuses more hubs, of which some bosses hide."""
EDGE_SIGMA_MM = 0.1
"""Scatter of one match, or of one point of a boss' outline, mm, against which priors are weighed; raising it
trusts the priors more."""
ROUNDS = 80
"""Rounds of averaging and matching at most; hubs of which few bosses match take 40."""
SETTLED_MM = 0.0005, 0.002
"""Change of centre and height in one round below which the pattern has settled, mm. Rounds gain little on the
one before where few bosses match: ten times as much left the height up to 0.15 mm from where it settles, and
trifles decided where."""
SHIFT_SCALE = FromMedian(0.04)
"""Robust scale of a match, mm; raising its least value lets odd bosses pull more."""


def window_axes(half_width: float = HALF_WIDTH_MM) -> tuple[Array, Array]:
    """Return X (rows) and y (columns) of a boss' window, mm."""
    return np.arange(WINDOW_MM[0], WINDOW_MM[1] + 1e-9, WINDOW_STEP_MM), np.arange(
        -half_width, half_width + 1e-9, WINDOW_STEP_MM
    )


def half_width(count: int, radius: float) -> float:
    """Return the half width of a window that does not reach into the neighbouring bosses, mm."""
    return float(min(HALF_WIDTH_MM, np.pi / count * (radius - 1.0)))


def patches(edges: Sequence[EdgeMap], views: Sequence[View], pose: PatternPose, lift: float = 0.0) -> Array:
    """Return the edge strength of all bosses in all photos, (photos, bosses, X, y)."""
    x, y = window_axes(half_width(pose.count, pose.radius))
    grid = np.meshgrid(x, y, indexing="ij")
    world = np.stack([pose.to_target(k, grid[0], grid[1], lift) for k in range(pose.count)])
    out = []
    for edge, view in zip(edges, views, strict=True):
        px = view.project(world.reshape(-1, 3)).reshape(*world.shape[:-1], 2)
        out.append(np.stack([edge.sample(p) for p in px]))
    return np.array(out)


def mean_boss(stack: Array, quality: Array | None = None) -> Array:
    """Return the mean (X, y) of (photos, bosses, X, y) windows; better matching ones weigh more."""
    weight = np.ones(stack.shape[:2]) if quality is None else np.clip(quality, 0.05, None) ** 2
    return np.asarray(np.tensordot(weight, stack, 2) / weight.sum())


def match(stack: Array, template: Array) -> tuple[Array, Array]:
    """Return shifts (photos, bosses, 2), mm, that bring the template onto each window; correlations there."""
    m = round(MATCH_REACH_MM / WINDOW_STEP_MM)
    core = np.ascontiguousarray(template[m:-m, m:-m], dtype=np.float32)
    shift, quality = np.zeros((*stack.shape[:2], 2)), np.zeros(stack.shape[:2])
    for i in range(stack.shape[0]):
        for k in range(stack.shape[1]):
            score = cv2.matchTemplate(stack[i, k].astype(np.float32), core, cv2.TM_CCOEFF_NORMED)
            q, c = np.unravel_index(score.argmax(), score.shape)
            quality[i, k] = score[q, c]
            if 0 < q < score.shape[0] - 1 and 0 < c < score.shape[1] - 1:
                shift[i, k] = (
                    np.array([q, c]) + _top(score[q - 1 : q + 2, c - 1 : c + 2]) - m
                ) * WINDOW_STEP_MM
            else:
                quality[i, k] = 0.0
    return shift, quality


def _top(nine: NDArray[Any]) -> Array:
    """Return the sub-step place of the top of a 3 x 3 neighbourhood (least-squares quadratic)."""
    s = nine.astype(np.float64)
    gr, gc = (s[2].sum() - s[0].sum()) / 6, (s[:, 2].sum() - s[:, 0].sum()) / 6
    hrr = (s[0].sum() - 2 * s[1].sum() + s[2].sum()) / 3
    hcc = (s[:, 0].sum() - 2 * s[:, 1].sum() + s[:, 2].sum()) / 3
    hrc = (s[0, 0] + s[2, 2] - s[0, 2] - s[2, 0]) / 4
    h = np.array([[hrr, hrc], [hrc, hcc]])
    if np.linalg.det(h) <= 0 or hrr >= 0:
        return np.zeros(2)
    return np.clip(-np.linalg.solve(h, [gr, gc]), -1, 1)


def _design(pose: PatternPose, views: Sequence[View], photo: Indices, boss: Indices) -> Array:
    """Return derivatives (M, 2, 7) of the shifts by centre, height, tilt and the mean boss' own offset."""
    a = pose.phase + 2 * np.pi * boss / pose.count
    out_, left = np.stack([np.cos(a), np.sin(a)], -1), np.stack([-np.sin(a), np.cos(a)], -1)
    frame = np.stack([out_, left], 1)
    arm = pose.radius * out_
    eyes = np.array([v.position for v in views])[photo]
    lean = (pose.centre + arm - eyes[:, :2]) / (eyes[:, 2] - pose.height)[:, None]
    by_height = np.einsum("mij,mj->mi", frame, lean)
    d = np.zeros((len(photo), 2, 7))
    d[:, :, :2] = frame
    d[:, :, 2] = by_height
    d[:, :, 3:5] = by_height[..., None] * arm[:, None, :]
    d[:, :, 5:] = np.eye(2)
    return d


def place_pattern(
    edges: Sequence[EdgeMap], views: Sequence[View], pose: PatternPose, height_sigma: float | None = None
) -> tuple[PatternPose, Matches, Array, Array] | None:
    """Return the pattern with its centre, height and tilt refined; the adjustment gives their covariance.

    Parameters
    ----------
    edges, views
        Per photo edge strength, camera and pose.
    pose
        Starting values; the phase stays (it only names the frame of the mean boss).
    height_sigma
        Standard uncertainty of the starting height; None where the photos' parallax shall find it freely.

    Returns
    -------
    pose, matches, windows, mean boss
        The windows are those of `patches` at the pose. None when too few bosses match each other.
    """
    quality: Array | None = None
    sigmas = [1e4, 1e4, height_sigma or 1e4, TILT_PRIOR, TILT_PRIOR, 1e4, 1e4]
    known = Known.single([0.0] * 7, sigmas, EDGE_SIGMA_MM)
    for _ in range(ROUNDS):
        stack = patches(edges, views, pose)
        shift, quality = match(stack, mean_boss(stack, quality))
        photo, boss = np.nonzero(quality > LEAST_MATCH)
        if len(photo) < (pose.count if len(views) > 1 else max(LEAST_BOSSES, pose.count // 2)):
            return None
        design = _design(pose, views, photo, boss)
        x = robust_fit(design, shift[photo, boss], quality[photo, boss], SHIFT_SCALE, known).x
        pose = replace(
            pose,
            centre=pose.centre + x[:2],
            height=pose.height + float(x[2]),
            tilt=pose.tilt + x[3:5],
            radius=pose.radius,
        )
        if np.hypot(*x[:2]) < SETTLED_MM[0] and abs(x[2]) < SETTLED_MM[1]:
            break
    stack = patches(edges, views, pose)
    template = mean_boss(stack, quality)
    shift, quality = match(stack, template)
    photo, boss = np.nonzero(quality > LEAST_MATCH)
    return pose, Matches(photo, boss, shift[photo, boss], quality[photo, boss]), stack, template
