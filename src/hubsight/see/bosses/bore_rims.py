"""Rims of a bored boss' mouths against edge points: how far off these lie, how likely an edge runs there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.model.arrays import Array, Flags, Indices
from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss
from hubsight.see.bosses.folded import STEP_PX, Folded, Look
from hubsight.see.edge_odds import SEEN_SHARE
from hubsight.see.turned.likelihood import INDEPENDENT, POINTS_PER_PX

ALIGNED = 0.9
"""Cosine of the angle between an edge's direction and a rim's from which they belong together; raising it
drops edges of small arcs."""
SECTORS = 16
"""Sectors of a rim; more are less sure each."""
AROUND = (np.arange(SECTORS) + 0.5) * 2 * np.pi / SECTORS - np.pi
"""Directions of the sectors' middles, rad."""
HIDDEN = 0.5
"""Share of mouths on faces turned to a photo that something hides; raising it holds missing rims less
against a mouth (prior)."""
BAND_PX, EDGE_PX = 8.0, 1.0
"""Distance from a rim over which chance edges are counted, and the standard deviation of its own edge, px."""
CHANCE_PER_PX = 0.02
"""Share of a sector's arc that chance edges cover per px across it, added to what is seen; raising it bounds
the ratio lower."""

Mouth = tuple[int, int]
"""A side, and the bore that opens there."""


@dataclass(frozen=True)
class OffRim:
    """How edge points lie to a mouth's rim: (N,) px outside it, mm to the px, and whether along it."""

    off: Array
    mm_per_px: Array
    along: Flags


def off_rim(boss: BoredBoss, mouth: Mouth, at: Array) -> OffRim:
    """Return how points, and those a step off, (3, N, 3) on a face lie to a mouth's rim."""
    bore, radius = boss.mouth(mouth[1], mouth[0])
    off = bore.off(at) - radius
    outward, sideways = (off[1] - off[0]) / STEP_PX, (off[2] - off[0]) / STEP_PX
    scale = np.maximum(np.hypot(outward, sideways), 1e-9)
    return OffRim(off[0] / scale, scale, outward > ALIGNED * scale)


def evidence_of(boss: BoredBoss, looks: Sequence[Look], points: Mapping[int, Folded]) -> dict[Mouth, Array]:
    """Return per mouth the (looks,) log-likelihood ratios of its rim against chance edges."""
    out = {}
    for side, own in points.items():
        at = own.on_face(boss, side)
        for which in (FIRST, SECOND):
            rim = off_rim(boss, (side, which), at)
            near = rim.along & (np.abs(rim.off) < BAND_PX)
            bore, _ = boss.mouth(which, side)
            level, up = bore.across()
            flat = at[0][near] - bore.foot
            turn = np.arctan2(flat @ up, flat @ level) / (2 * np.pi) + 0.5
            sector = own.look[near] * SECTORS + (turn * SECTORS).astype(int) % SECTORS
            out[side, which] = _ratios(boss, (side, which), looks, sector, rim.off[near])
    return out


def _ratios(boss: BoredBoss, mouth: Mouth, looks: Sequence[Look], sector: Indices, off: Array) -> Array:
    """Return (looks,) log-likelihood ratios of a rim, by the sectors of points and their distance, px."""
    shape = len(looks), SECTORS
    edge = np.exp(-0.5 * (off / EDGE_PX) ** 2) / (np.sqrt(2 * np.pi) * EDGE_PX)
    arcs = _arcs(boss, mouth, looks) * POINTS_PER_PX
    covered = np.bincount(sector, edge, shape[0] * shape[1]).reshape(shape) / arcs
    chance = np.bincount(sector, minlength=shape[0] * shape[1]).reshape(shape) / (2 * BAND_PX) / arcs
    chance = (chance + np.roll(chance, 1, 1) + np.roll(chance, -1, 1)) / 3 + CHANCE_PER_PX
    ratios = np.log(1 - SEEN_SHARE + SEEN_SHARE * np.minimum(covered, 1.0) / chance)
    own = np.array([look.side == mouth[0] for look in looks])
    return np.where(own, INDEPENDENT * ratios.sum(1), 0.0)


def _arcs(boss: BoredBoss, mouth: Mouth, looks: Sequence[Look]) -> Array:
    """Return the lengths (looks, sectors) of a rim's sectors in the photos, px."""
    rim = boss.rim(mouth[1], mouth[0], AROUND)
    out = np.ones((len(looks), SECTORS))
    for k, look in enumerate(looks):
        if look.side == mouth[0]:
            pixels = look.pixels(rim)
            ahead = np.linalg.norm(np.roll(pixels, -1, 0) - pixels, axis=1)
            out[k] = np.maximum((ahead + np.roll(ahead, 1)) / 2, 1.0)
    return out


def shown(evidence: Mapping[Mouth, Array], side: int) -> float:
    """Return the log-likelihood ratio of the mouths on a side, each of which may be hidden in each look."""
    ratios = np.concatenate([r for (of, _), r in evidence.items() if of == side] or [np.zeros(0)])
    return float(np.sum(np.logaddexp(np.log(HIDDEN), np.log(1 - HIDDEN) + ratios)))
