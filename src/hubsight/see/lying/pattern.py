"""Where a flange is, by all its bosses together, as they must lie when it rests on the paper.

A flange's bosses are spaced evenly, and the lowest one or two rest on the paper: the axis' height ties their
radius, number and turn together. Of all such patterns the one counts whose faces have the strongest edges.
This is rougher than single faces, but a disc mount, a shoulder or a slot does not look like it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hubsight.model.arrays import Array
from hubsight.scene.usual import BOSS_WIDTHS_MM, COUNTS_PAIRED, FLANGE_RADII_MM, LEAST_RESTING_SHARE, Usual
from hubsight.see.lying.boss_tops import (
    AROUND,
    INSET_MM,
    STEP_MM,
    STEP_RAD,
    THICKNESS_MM,
    THICKNESSES_MM,
    face_edges,
    running_mean,
)
from hubsight.see.lying.caps import SoftPhoto
from hubsight.see.lying.frame import LyingFrame

SLACK_MM = 0.8
"""Amount by which a flange's radius may be below the axis' height, mm; raising it bears worse axes."""
RESTS_MM = Usual(0.0, 0.5)
"""Distance of a pattern's lowest boss from the paper, mm; a larger sigma lets flanges float. Patterns within
1.4 sigmas are tried."""
GAP_SHARE = 0.85
"""Share of the circle that faces take up at most; raising it tries more patterns (common practice, no
source)."""
FARTHEST = np.radians(72.0)
"""Angle from straight up within which faces are looked at, rad; raising it takes in faces seen too flatly."""
USUAL_EDGE = 70
"""Percentile of the edges' strengths that unrest reaches; raising it counts fewer edges."""
SIDE_MM = 1.5
"""Length of edges across that an edge along the axis counts as, mm; raising it prefers sharp-sided bosses."""
USUAL_WEIGHT = 2.0
"""Weight of the usual thickness against the edges; raising it trusts the photos less."""
WHOLE = 0.52
"""Mean strength over unrest from which a rim is one edge all the way round; raising it finds fewer radial
flanges (found on rendered hubs)."""


def find_pattern(photos: Sequence[SoftPhoto], frame: LyingFrame, span: tuple[float, float]) -> float | None:
    """Return a flange's middle, mm along the axis.

    Parameters
    ----------
    photos
        All of the set.
    frame
        Of the axis.
    span
        Between which places the flange's middle is, mm.

    Returns
    -------
    float or None
        None where the axis is too low or too high for any flange.
    """
    margin = THICKNESSES_MM[-1] / 2 + STEP_MM
    along = np.arange(span[0] - margin, span[1] + margin, STEP_MM)
    height = float(frame.at((span[0] + span[1]) / 2)[2])
    least = max(height - SLACK_MM, FLANGE_RADII_MM[0])
    most = min(height / LEAST_RESTING_SHARE, FLANGE_RADII_MM[1])
    found = [_best(photos, frame, along, r, height) for r in np.arange(least, most, 0.5)]
    return max(found)[1] if found else None


def _best(
    photos: Sequence[SoftPhoto], frame: LyingFrame, along: Array, radius: float, height: float
) -> tuple[float, float]:
    """Return the best score of any pattern of one radius, and its place."""
    across, lengthwise = (np.log(edges) for edges in face_edges(photos, frame, along, radius))
    facing = _facing(photos, frame, float(along.mean()), radius)
    lengthwise = (lengthwise - np.percentile(lengthwise[:, facing > 0], USUAL_EDGE)) * facing
    turns = _turns(radius, height)
    best = (-np.inf, 0.0)
    for thickness in THICKNESSES_MM:
        k = round(thickness / 2 / STEP_MM)
        inner = k - round(INSET_MM / STEP_MM)
        pair = (across[: -2 * k] + across[2 * k :]) / 2
        pair = (pair - np.percentile(pair[:, facing > 0], USUAL_EDGE)) * facing * STEP_RAD * radius
        beside = running_mean(lengthwise, 2 * inner + 1)[k - inner :][: len(pair)]
        usual = USUAL_WEIGHT * float(np.log(THICKNESS_MM.likely(thickness)))
        scores = [_patterns(pair, beside, radius, width, turns[width]) for width in BOSS_WIDTHS_MM]
        if abs(radius - height) < SLACK_MM and pair.sum(1).max() > WHOLE * facing.sum() * STEP_RAD * radius:
            scores.append(pair.sum(1))
        score = np.max(scores, axis=0)
        best = max(best, (float(score.max() + usual), float(along[k + int(score.argmax())])))
    return best


def _facing(photos: Sequence[SoftPhoto], frame: LyingFrame, place: float, radius: float) -> Array:
    """Return (angles,) how much faces there count, none where a photo does not see them."""
    outward = frame.outward(AROUND)
    points = frame.at(place) + radius * outward
    seen = [photo.sees(points, outward) for photo in photos]
    return np.asarray(np.sqrt(np.cos(AROUND)) * np.all(seen, axis=0))


def _turns(radius: float, height: float) -> dict[float, list[tuple[Array, float]]]:
    """Return, for each width, patterns that rest: steps of their faces' angles, and what being off costs."""
    out: dict[float, list[tuple[Array, float]]] = {}
    for width in BOSS_WIDTHS_MM:
        out[width] = []
        for count in COUNTS_PAIRED:
            every = 2 * np.pi / count
            if width / radius >= GAP_SHARE * every:
                continue
            for turn in np.arange(0.0, every, STEP_RAD):
                angles = turn + every * np.arange(-count, count)
                reach = -radius * np.cos(angles) + width / 2 * np.abs(np.sin(angles))
                off = float(reach.max()) - height
                if abs(off) < 1.4 * RESTS_MM.sigma:
                    up = angles[np.abs(angles) < FARTHEST]
                    steps = np.round((up - AROUND[0]) / STEP_RAD).astype(int)
                    out[width].append((steps, -float(np.log(RESTS_MM.likely(off)))))
    return out


def _patterns(
    pair: Array, beside: Array, radius: float, width: float, turns: list[tuple[Array, float]]
) -> Array:
    """Return the best score of patterns of one width at each place."""
    half = round(width / 2 / radius / STEP_RAD)
    sums = np.cumsum(np.hstack([np.zeros((len(pair), 1)), pair]), axis=1)
    faces = np.zeros_like(pair)
    middle = slice(half, pair.shape[1] - half)
    faces[:, middle] = sums[:, 2 * half + 1 :] - sums[:, : -2 * half - 1]
    faces[:, middle] += SIDE_MM * (beside[:, : -2 * half] + beside[:, 2 * half :])
    scores = [faces[:, steps].sum(1) - cost for steps, cost in turns]
    return np.max(scores, axis=0) if scores else np.full(len(pair), -np.inf)
