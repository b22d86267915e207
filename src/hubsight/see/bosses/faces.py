"""Place a mean boss' faces by their silhouettes.

A boss' upper edge is rounded, so what a photo shows of a face depends on how it looks at it. A face turned
away from the lens ends in a silhouette on the rounding, inside the face's own plane by a distance that grows
with the tangent of the angle by which it is turned away. Every face of every boss in every photo has its own
such angle; the line through their silhouettes, followed to angle zero, is the face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from hubsight.camera import View
from hubsight.estimate.robust import FromMedian, Known, cauchy_weight, robust_fit
from hubsight.model.arrays import Array
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.scene.pattern_pose import Matches, PatternPose
from hubsight.scene.usual import ROUNDING_MM, Usual
from hubsight.see.bosses.pattern import EDGE_SIGMA_MM, LEAST_MATCH, WINDOW_MM, WINDOW_STEP_MM, mean_boss
from hubsight.see.bosses.shape import FACE_SPAN_MM, outermost_face
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import STEP_MM

TURNED_AWAY = (-0.06, 0.9)
"""Tangents of the angle, away from the lens, at which a face's outline is its silhouette; a wider range takes
in flanks and faces seen too flatly."""
SURELY_TURNED_AWAY = 0.07
"""Tangent from which a face is surely turned away; raising it leaves fewer silhouettes that are surer."""
LOOK_MM = 1.5
"""Farthest distance from a face's line at which its silhouette is looked for, mm; raising it is slower."""
REACHES_MM = (0.4, 0.4, 0.25, 0.25, 0.25, 0.25)
"""Distance from its expected place within which a silhouette is looked for, in turn, mm; raising it finds
faces farther off and more wrong edges."""
LEAST_SILHOUETTES = 4
"""Silhouettes of one face that are needed to follow them to angle zero; raising it uses the usual inset more
often."""
LEAST_TURNED_AWAY = 2
"""Faces of one side turned away without which their line is not looked for, one in one photo; raising it
keeps more shapes of the mean boss, whose flanks reach beyond the face."""
INSET = Usual(0.4, 0.15)
"""Inset of a silhouette per tangent, mm: the rounding's radius less how far the pattern's plane lies below
the top; raising the mean widens the boss (found on rendered hubs)."""
INSET_DIFFERENCE_SIGMA = 0.1
"""Standard deviation of the difference of that inset between a boss' two faces, mm; raising it lets one face
move alone."""
DOUBT_SHARE = 0.5
"""Uncertainty of a face as a share of how far it lies from where the usual inset puts it; raising it widens
the width's uncertainty. The edge seen may be the rounding's inner line, or something beyond it."""
STEEP = 0.6
"""Tangent at which a silhouette counts half; raising it trusts silhouettes farther from angle zero."""


@dataclass(frozen=True)
class _Silhouettes:
    """Of one face: edge strength square to its line, (M, D), and the tangents of its angles, (M,)."""

    profiles: Array
    tangents: Array


def face_silhouettes(
    windows: Array,
    views: Sequence[View],
    pose: PatternPose,
    matches: Matches,
    shape: BossShape,
) -> BossShape:
    """Return the boss' shape with its faces where their silhouettes point at.

    Parameters
    ----------
    windows
        (photos, bosses, X, y) edge strength of all bosses in all photos, see `patches`.
    views
        Per photo camera and pose.
    pose, matches
        The pattern, and how well each boss in each photo matches the mean one.
    shape
        Of the mean boss; returned as it is where too few faces are turned away from the lens.
    """
    quality = np.zeros((len(views), pose.count))
    quality[matches.photo, matches.boss] = matches.quality
    tangents = _tangents(pose, views)
    faces, seen = [], []
    for side, of_side in zip((1, -1), np.moveaxis(tangents, -1, 0), strict=True):
        away = (of_side > TURNED_AWAY[0]) & (of_side < TURNED_AWAY[1]) & (quality > LEAST_MATCH)
        if away.sum() < min(LEAST_TURNED_AWAY, len(views)):
            return shape
        sure = away & (of_side > SURELY_TURNED_AWAY)
        chosen = sure if sure.sum() >= LEAST_SILHOUETTES else away
        face = outermost_face(mean_boss(windows, np.where(chosen, quality, 0.0)), side)
        faces.append(face)
        seen.append(_Silhouettes(_profiles(windows[away], face), of_side[away]))
    usual = np.array([INSET.mean * np.mean(np.maximum(s.tangents, 0)) for s in seen])
    followed = all(np.sum(s.tangents > SURELY_TURNED_AWAY) >= LEAST_SILHOUETTES for s in seen)
    outward = _at_angle_zero(seen) if followed else usual
    left, right = (
        replace(face, offset=face.offset + float(out), doubt=DOUBT_SHARE * float(abs(out - expected)))
        for face, out, expected in zip(faces, outward, usual, strict=True)
    )
    return replace(shape, left=left, right=right)


def _tangents(pose: PatternPose, views: Sequence[View]) -> Array:
    """Return tangents (photos, bosses, 2) of the angles by which left and right faces are turned away."""
    out = np.zeros((len(views), pose.count, 2))
    for boss in range(pose.count):
        angle = pose.phase + 2 * np.pi * boss / pose.count
        left = np.array([-np.sin(angle), np.cos(angle)])
        at = pose.to_target(boss, np.array(0.0), np.array(0.0))
        for photo, view in enumerate(views):
            ray = at - view.position
            out[photo, boss] = np.array([1, -1]) * (ray[:2] @ left) / -ray[2]
    return out


def _profiles(windows: Array, face: Face) -> Array:
    """Return the edge strength (windows, distances) over the distance outward from a face's line."""
    x = np.arange(FACE_SPAN_MM[0] + 0.2, FACE_SPAN_MM[1] - 0.2 + 1e-9, WINDOW_STEP_MM)
    distance = np.arange(-LOOK_MM, LOOK_MM + 1e-9, STEP_MM)
    half = (windows.shape[2] - 1) / 2 * WINDOW_STEP_MM
    y = face.y(x)[:, None] + face.side * distance
    rows = np.broadcast_to((x[:, None] - WINDOW_MM[0]) / WINDOW_STEP_MM, y.shape)
    at = [rows, (y + half) / WINDOW_STEP_MM]
    return np.array(
        [np.median(map_coordinates(gaussian_filter(w, 0.8), at, order=1, mode="nearest"), 0) for w in windows]
    )


def _at_angle_zero(faces: Sequence[_Silhouettes]) -> Array:
    """Return distances (2,) from the faces' lines at which the silhouettes point, mm outward."""
    profiles = np.concatenate([f.profiles for f in faces])
    t = np.concatenate([f.tangents for f in faces])
    left = np.concatenate([np.full(len(f.tangents), i == 0) for i, f in enumerate(faces)])
    bend = ROUNDING_MM * (np.hypot(1, t) - 1)
    design = np.stack([left, ~left, -t, np.where(left, -t, t)], -1).astype(np.float64)
    expected = [0.0, 0.0, INSET.mean, 0.0]
    known = Known.single(expected, [100.0, 100.0, INSET.sigma, INSET_DIFFERENCE_SIGMA], EDGE_SIGMA_MM)
    x = np.array(expected)
    for face, silhouettes in enumerate(faces):
        x[face] = INSET.mean * float(np.mean(np.maximum(silhouettes.tangents, 0)))
    for reach in REACHES_MM:
        place, strength = _peaks(profiles, design @ x + bend, reach)
        weight = strength * cauchy_weight(t**2, STEEP)
        x = robust_fit(design, place - bend, weight, FromMedian(0.06), known).x
    return np.asarray(x[:2])


def _peaks(profiles: Array, expected: Array, reach: float) -> tuple[Array, Array]:
    """Return each profile's strongest place near the expected one, mm, and its strength, little off peaks."""
    last = profiles.shape[1] - 2
    steps = round(reach / STEP_MM)
    row = np.arange(len(profiles))
    start = np.rint((expected + LOOK_MM) / STEP_MM).astype(int)
    near = np.clip(start[:, None] + np.arange(-steps, steps + 1), 1, last)
    k = near[row, np.take_along_axis(profiles, near, 1).argmax(1)]
    three = np.stack([profiles[row, k + o] for o in (-1, 0, 1)])
    before, top, after = three
    peak = (top >= before) & (top >= after)
    sub = np.where(peak, np.clip(sub_step(three), -1, 1), 0.0)
    return (k + sub) * STEP_MM - LOOK_MM, np.where(peak, top, 0.02)
