"""Where a flange is, by all its bosses together, as they must lie when it rests on the paper.

A flange's bosses are spaced evenly, and the lowest one or two rest on the paper: the axis' height ties their
radius, number and turn together. Of all such patterns the one counts whose faces have the strongest edges.
This is rougher than single faces, but a disc mount, a shoulder or a slot does not look like it.
"""

from __future__ import annotations

import numpy as np

from hubsight.model.arrays import Array
from hubsight.see.lying.boss_tops import (
    AROUND,
    INSET_MM,
    STEP_MM,
    STEP_RAD,
    THICKNESS_SIGMA_MM,
    THICKNESSES_MM,
    USUAL_THICKNESS_MM,
    Photos,
    face_edges,
    running_mean,
)
from hubsight.see.lying.frame import LyingFrame

WIDTHS_MM = np.arange(5.0, 12.01, 1.0)
"""Of bosses' outer faces (common practice, no source)."""
COUNTS = np.arange(4, 11)
"""Bosses a flange (common practice, no source)."""
RADIUS_STEP_MM, LEAST_RADIUS_MM, MOST_RADIUS_MM = 0.5, 17.0, 37.0
LOWEST_SHARE, SLACK_MM = 0.8, 0.8
"""A flange's radius is at least the axis' height less the slack, and at most that over this share."""
RESTS_MM, RESTS_SIGMA_MM = 0.7, 0.5
"""How far from the paper a pattern's lowest boss may be, at most and usually."""
GAP_SHARE = 0.85
"""Faces take up no more of the circle."""
FARTHEST = np.radians(72.0)
"""Faces that are turned farther from straight up are not looked at."""
USUAL_EDGE = 70
"""Percentile of the edges' strengths that unrest reaches."""
SIDE_MM = 1.5
"""An edge along the axis counts as so much length of those across."""
USUAL_WEIGHT = 2.0
WHOLE = 0.52
"""From this mean strength on, over unrest, a rim is one edge all the way round (found on rendered hubs)."""


def find_pattern(photos: Photos, frame: LyingFrame, span: tuple[float, float]) -> float | None:
    """Find a flange's middle, mm along the axis.

    Parameters
    ----------
    photos
        Grey pictures with their cameras.
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
    least, most = max(height - SLACK_MM, LEAST_RADIUS_MM), min(height / LOWEST_SHARE, MOST_RADIUS_MM)
    found = [_best(photos, frame, along, r, height) for r in np.arange(least, most, RADIUS_STEP_MM)]
    return max(found)[1] if found else None


def _best(
    photos: Photos, frame: LyingFrame, along: Array, radius: float, height: float
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
        usual = -0.5 * USUAL_WEIGHT * ((thickness - USUAL_THICKNESS_MM) / THICKNESS_SIGMA_MM) ** 2
        scores = [_patterns(pair, beside, radius, width, turns[width]) for width in WIDTHS_MM]
        if abs(radius - height) < SLACK_MM and pair.sum(1).max() > WHOLE * facing.sum() * STEP_RAD * radius:
            scores.append(pair.sum(1))
        score = np.max(scores, axis=0)
        best = max(best, (float(score.max() + usual), float(along[k + int(score.argmax())])))
    return best


def _facing(photos: Photos, frame: LyingFrame, place: float, radius: float) -> Array:
    """Return (angles,) how much faces there count, none where a photo does not see them."""
    outward = frame.outward(AROUND)
    points = frame.at(place) + radius * outward
    seen = [np.sum((view.position - points) * outward, -1) > 0 for _, view in photos]
    return np.asarray(np.sqrt(np.cos(AROUND)) * np.all(seen, axis=0))


def _turns(radius: float, height: float) -> dict[float, list[tuple[Array, float]]]:
    """Return, for each width, patterns that rest: steps of their faces' angles, and what being off costs."""
    out: dict[float, list[tuple[Array, float]]] = {}
    for width in WIDTHS_MM:
        out[width] = []
        for count in COUNTS[width / radius < GAP_SHARE * 2 * np.pi / COUNTS]:
            every = 2 * np.pi / count
            for turn in np.arange(0.0, every, STEP_RAD):
                angles = turn + every * np.arange(-count, count)
                reach = -radius * np.cos(angles) + width / 2 * np.abs(np.sin(angles))
                off = float(reach.max()) - height
                if abs(off) < RESTS_MM:
                    up = angles[np.abs(angles) < FARTHEST]
                    steps = np.round((up - AROUND[0]) / STEP_RAD).astype(int)
                    out[width].append((steps, 0.5 * (off / RESTS_SIGMA_MM) ** 2))
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
