"""Fit a bored boss to the edge points near its rims, held by what gauge and upper edges tell of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.estimate.robust import Known, cauchy_weight, spread
from hubsight.model.arrays import Array, Flags, Indices
from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss, SideFace
from hubsight.scene.boss_shape import BossShape
from hubsight.scene.pattern_pose import PatternPose
from hubsight.scene.usual import BORE_RADIUS_MM, HEAD_BORE_RADIUS_MM
from hubsight.see.bosses.bore_rims import Mouth, off_rim
from hubsight.see.bosses.folded import Folded, Look

ROUNDS_PX = ((6.0, 3.0), (5.0, 2.5), (4.0, 2.0), (3.0, 1.5), (3.0, 1.2), (2.5, 1.0), (2.5, 1.0), (2.5, 1.0))
"""Per round of a fit the distance from a rim within which points count, and that at which one counts half,
px; raising the last mixes neighbouring edges."""
LAST_ROUNDS = 6
"""Rounds that are done again by the mouths that are seen."""
KNOWN = np.array(
    [
        np.radians(4.0),
        np.radians(0.35),
        0.12,
        0.2,
        0.4,
        0.02,
        0.08,
        0.25,
        *[0.5, 0.12, 0.02, 0.12] * 2,
        0.15,
        0.15,
    ]
)
"""Standard deviations of a boss' unknowns about what gauge and upper edges say of them, see
`BoredBoss.unknowns`: a gauge has play in its bore, and a face leans; raising them trusts the mouths alone
(common practice, no source)."""
MISS, SHIFT = 2, slice(16, 18)
"""Places of the gauge's distance from the axis and of the axis' shift among the unknowns."""
OF_BORES, OF_FACE = range(8), {1: range(8, 12), -1: range(12, 16)}
"""Places of the bores' unknowns, and of each face's."""
STEPS = np.array([1e-4, 1e-4, 1e-3, 1e-3, 1e-3, 1e-4, 1e-3, 1e-3, *[1e-3, 1e-4, 1e-5, 1e-4] * 2, 1e-3, 1e-3])
"""Steps of the derivatives by the unknowns; uncritical."""
ALIKE = 8.0
"""Neighbouring edge points that share one error: the blur's width in px, on both sides."""
LEAST_SCATTER_PX = 0.5
"""Scatter of edge points about a rim at least, px; raising it widens all uncertainties."""

Seen = Mapping[Mouth, Flags]
"""Per mouth the (looks,) that show it."""


@dataclass(frozen=True)
class BoreLine:
    """The bore in which a gauge sits, in the frame of its boss, see `BoredBoss`: as the gauge lies in it.

    Attributes
    ----------
    held
        Bosses that hold gauges, this one first.
    direction, miss, height, rise
        Of the gauge.
    left
        (2,) unit direction to its left, in the target's frame.
    """

    held: tuple[int, ...]
    direction: float
    miss: float
    height: float
    rise: float
    left: Array


@dataclass(frozen=True)
class Beforehand:
    """What is known of a boss before its mouths are looked at, by its upper edges and a gauge.

    ``boss``' second bore lies as high as its first.
    """

    boss: BoredBoss
    gauge: BoreLine

    @classmethod
    def of(cls, pose: PatternPose, shape: BossShape, gauge: BoreLine) -> Beforehand:
        """Return what upper edges and gauge tell."""
        left, right = (
            SideFace(face.side, pose.radius, face.offset, face.slope, face.bend)
            for face in (shape.left, shape.right)
        )
        heights, radii = (gauge.height, gauge.height), (BORE_RADIUS_MM, HEAD_BORE_RADIUS_MM)
        boss = BoredBoss(
            shape.mirror[0], gauge.direction, gauge.miss, heights, gauge.rise, radii, left, right
        )
        return cls(boss, gauge)

    def near(self, boss: BoredBoss) -> Known:
        """Return what is known of a boss near this one.

        When the axis moves, so does its distance from the gauge; the second bore's height is not known.
        """
        rows = np.eye(len(KNOWN))
        rows[MISS, SHIFT] = -self.gauge.left
        heights = self.boss.heights[FIRST], boss.heights[SECOND]
        return Known.of(rows, rows @ replace(self.boss, heights=heights).unknowns(), KNOWN, unit=1.0)


@dataclass(frozen=True)
class _Rows:
    """Edge points near rims: derivatives (M, 18), px outside (M,), their photos' looks (M,)."""

    design: Array
    off: Array
    look: Indices


def _rows(
    boss: BoredBoss, points: Mapping[int, Folded], reach: float, seen: Seen | None = None
) -> _Rows | None:
    """Return the points within a reach, px, of the rims; each belongs to the nearest one."""
    parts = []
    for side, own in points.items():
        at = own.on_face(boss, side)
        rims = [off_rim(boss, (side, which), at) for which in (FIRST, SECOND)]
        off = np.stack([np.where(rim.along, np.abs(rim.off), np.inf) for rim in rims])
        for which, rim in enumerate(rims):
            near = (off[which] < reach) & (off[which] <= off[1 - which])
            if seen is not None:
                near &= seen[side, which][own.look]
            if near.any():
                mine = own.only(near)
                design = _design(boss, (side, which), mine) / rim.mm_per_px[near, None]
                parts.append(_Rows(design, rim.off[near], mine.look))
    if not parts:
        return None
    return _Rows(
        np.concatenate([p.design for p in parts]),
        np.concatenate([p.off for p in parts]),
        np.concatenate([p.look for p in parts]),
    )


def _design(boss: BoredBoss, mouth: Mouth, points: Folded) -> Array:
    """Return the derivatives (N, 18) of points' distances outside a rim, mm, by the unknowns."""
    side, which = mouth
    x, met = boss.unknowns(), points.centres(boss, side)
    here = boss.bore(which).off(met) - boss.mouth(which, side)[1]
    out = np.zeros((len(here), len(x)))
    for k, step in enumerate(STEPS):
        if k in OF_FACE[-side]:
            continue
        other = boss.with_unknowns(x + np.eye(len(x))[k] * step)
        at = met if k in OF_BORES else points.centres(other, side)
        bore, radius = other.mouth(which, side)
        out[:, k] = (bore.off(at) - radius - here) / step
    return out


def fit(
    boss: BoredBoss,
    before: Beforehand,
    points: Mapping[int, Folded],
    rounds: Sequence[tuple[float, float]] = ROUNDS_PX,
    *,
    seen: Seen | None = None,
) -> BoredBoss | None:
    """Return the boss fitted to edge points near its rims; None where there are none."""
    known = before.near(boss)
    for reach, half in rounds:
        rows = _rows(boss, points, reach, seen)
        if rows is None:
            return None
        normal, right = _normal(rows, half)
        x = boss.unknowns()
        change = np.linalg.solve(normal + known.normal, right + known.right - known.normal @ x)
        boss = boss.with_unknowns(x + np.clip(change, -3 * KNOWN, 3 * KNOWN))
    return boss


def _normal(rows: _Rows, half: float) -> tuple[Array, Array]:
    """Return normal matrix and right-hand side of edge points, their scatter found from themselves."""
    variance = ALIKE * max(spread(rows.off), LEAST_SCATTER_PX) ** 2
    weighed = rows.design * cauchy_weight(rows.off**2, half)[:, None] / variance
    return rows.design.T @ weighed, -weighed.T @ rows.off


def by_photo(
    boss: BoredBoss,
    looks: Sequence[Look],
    points: Mapping[int, Folded],
    seen: Seen,
    photos: int,
) -> tuple[Array, Array]:
    """Return what each photo adds to the normal equations."""
    size = len(KNOWN)
    normals, rights = np.zeros((photos, size, size)), np.zeros((photos, size))
    reach, half = ROUNDS_PX[-1]
    rows = _rows(boss, points, reach, seen)
    if rows is not None:
        variance = ALIKE * max(spread(rows.off), LEAST_SCATTER_PX) ** 2
        weighed = rows.design * cauchy_weight(rows.off**2, half)[:, None] / variance
        photo = np.array([look.photo for look in looks])[rows.look]
        for k in range(photos):
            own = photo == k
            normals[k] = rows.design[own].T @ weighed[own]
            rights[k] = -weighed[own].T @ rows.off[own]
    return normals, rights
