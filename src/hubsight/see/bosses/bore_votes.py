"""Where a boss' mouths may lie: edge points vote for the middles of holes of known radius and direction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from hubsight.model.arrays import Array, Flags, Indices
from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss
from hubsight.see.bosses.bore_rims import Mouth
from hubsight.see.bosses.folded import Folded

TURNS_RAD = np.radians(np.arange(-3.6, 3.7, 0.3))
"""Turns of the centreline from the outline's that are tried, rad; more are slower."""
STAGGERS_MM = 0.1 * np.array([*range(-42, -13), *range(14, 43)])
"""Heights of the second bore over the first that are tried, mm; more are slower (common practice, no
source)."""
SHIFTS_MM = (-0.6, -0.2, 0.2, 0.6)
"""Distances of a face from where its upper edge has it that are tried, mm; more are slower."""
VOTE_STEP_MM, VOTE_BLUR = 0.1, 1.5
"""Step of the votes' maps, mm, and their blur, steps; raising the second bears worse faces and mixes
neighbouring holes."""
ACROSS_MM, UP_MM = np.arange(-1.5, 1.55, VOTE_STEP_MM), np.arange(-11.0, 2.05, VOTE_STEP_MM)
"""Where a hole's middle may be, across its bore and up, from the pattern's upper edges, mm."""
APART = (5, 7)
"""Steps of turn and height between two possibilities; raising them leaves fewer."""
STARTS = 6
"""Possibilities that are fitted; more are slower and miss less."""
POSSIBILITIES = len(TURNS_RAD) * len(STAGGERS_MM)
"""Places of a side's mouths, of which each is as likely before the photos are looked at."""


def possible(start: BoredBoss, points: Mapping[int, Folded]) -> list[BoredBoss]:
    """Return the likeliest bosses by the votes of edge points for the middles of their mouths."""
    total = np.zeros((len(TURNS_RAD), len(STAGGERS_MM)))
    choices = {}
    for side, own in points.items():
        by_shift = np.stack([_votes(_moved(start, side, shift), side, own) for shift in SHIFTS_MM])
        choices[side] = by_shift.argmax(0)
        total += by_shift.max(0)
    tops = np.argwhere(total == maximum_filter(total, APART))
    out = []
    for turn, stagger in tops[np.argsort(-total[tops[:, 0], tops[:, 1]])][:STARTS].tolist():
        boss = replace(
            start,
            centreline=start.centreline + float(TURNS_RAD[turn]),
            heights=(start.heights[0], start.heights[0] + float(STAGGERS_MM[stagger])),
        )
        for side, choice in choices.items():
            boss = _moved(boss, side, SHIFTS_MM[int(choice[turn, stagger])])
        out.append(boss)
    return out


def _moved(boss: BoredBoss, side: int, outward: float) -> BoredBoss:
    """Return the boss with one face moved outward, mm."""
    face = boss.face(side)
    moved = replace(face, offset=face.offset + outward)
    return replace(boss, left=moved) if side > 0 else replace(boss, right=moved)


def _votes(boss: BoredBoss, side: int, points: Folded) -> Array:
    """Return the votes (turns, staggers) for both mouths on one side."""
    at = points.on_face(boss, side)
    turns, heights = np.meshgrid(TURNS_RAD, boss.heights[FIRST] + STAGGERS_MM, indexing="ij")
    known = _sampled(_middles(boss, (side, FIRST), at), np.zeros(1), np.array([boss.heights[FIRST]]))
    # A turned centreline turns the second bore twice as far, about its foot.
    bore = boss.bore(SECOND)
    far = (boss.face(side).met(bore.foot, bore.along) - bore.foot) @ bore.along
    return np.asarray(known + _sampled(_middles(boss, (side, SECOND), at), 2 * turns * far, heights))


def _middles(boss: BoredBoss, mouth: Mouth, at: Array) -> Array:
    """Return the map of votes for a mouth's middle, by edge points, and those a step off, (3, N, 3)."""
    bore, radius = boss.mouth(mouth[1], mouth[0])
    level, up = bore.across()
    flat = np.stack([(at - bore.foot) @ level, (at - bore.foot) @ up], -1)
    along = flat[2] - flat[0]
    length = np.maximum(np.linalg.norm(along, axis=1), 1e-9)
    outward = np.stack([along[:, 1], -along[:, 0]], -1) / length[:, None]
    outward *= np.sign(np.sum(outward * (flat[1] - flat[0]), 1))[:, None]
    middle = flat[0] - radius * outward
    return _map(middle[:, 0], middle[:, 1] + bore.foot[2], length / (2 * np.pi * radius))


def _map(across: Array, up: Array, weight: Array) -> Array:
    """Return the blurred sums (across, up) of weights at places."""
    cell, inside = _cells(across, up)
    shape = len(ACROSS_MM), len(UP_MM)
    sums = np.bincount(cell[inside], weight[inside], shape[0] * shape[1]).reshape(shape)
    return np.asarray(gaussian_filter(sums, VOTE_BLUR, mode="constant"))


def _sampled(votes: Array, across: Array, up: Array) -> Array:
    """Return the votes at places, 0 outside."""
    cell, inside = _cells(across, up)
    return np.where(inside, votes.ravel()[np.where(inside, cell, 0)], 0.0)


def _cells(across: Array, up: Array) -> tuple[Indices, Flags]:
    """Return the numbers of a map's cells at places, and which of them are inside."""
    i = np.rint((across - ACROSS_MM[0]) / VOTE_STEP_MM).astype(int)
    j = np.rint((up - UP_MM[0]) / VOTE_STEP_MM).astype(int)
    inside = (i >= 0) & (i < len(ACROSS_MM)) & (j >= 0) & (j < len(UP_MM))
    return i * len(UP_MM) + j, inside
