"""Both bores' mouths on the bosses' side faces: the centreline, and the faces where the bores pass them.

A gauge says where one bore runs; the other mirrors it about the centreline at another height. So a few
unknowns tell where all four mouths of a boss lie, and all bosses in all photos show the same four. Where they
may be is found by votes of edge points for the middles of holes; each possibility is fitted to the edge
points near the mouths' rims, and weighed by the edge likelihood, sector by sector of every rim.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from hubsight.camera import View
from hubsight.estimate.robust import Known, cauchy_weight, spread
from hubsight.model.arrays import Array, Flags, Indices, Picture
from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss, SideFace
from hubsight.scene.boss_shape import BossShape
from hubsight.scene.pattern_pose import PatternPose
from hubsight.scene.usual import BORE_RADIUS_MM, HEAD_BORE_RADIUS_MM
from hubsight.see.bosses.folded import STEP_PX, Folded, Look, fold
from hubsight.see.turned.likelihood import INDEPENDENT, POINTS_PER_PX, SEEN_SHARE

TURNS_RAD = np.radians(np.arange(-3.6, 3.7, 0.3))
"""Turns of the centreline from the outline's that are tried, rad; more are slower."""
STAGGERS_MM = np.array([s for k in range(14, 43) for s in (-0.1 * k, 0.1 * k)])
"""Heights of the second bore over the first that are tried, mm; more are slower (common practice, no
source)."""
SHIFTS_MM = (-0.6, -0.2, 0.2, 0.6)
"""Distances of a face from where its upper edge has it that are tried, mm; more are slower."""
VOTE_STEP_MM, VOTE_BLUR = 0.1, 1.5
"""Step of the votes' maps, mm, and their blur, steps; raising the second bears worse faces and mixes
neighbouring holes."""
ACROSS_MM, UP_MM = np.arange(-1.5, 1.55, VOTE_STEP_MM), np.arange(-11.0, 2.05, VOTE_STEP_MM)
"""Where a hole's middle may be, across its bore and up, from the pattern's upper edges, mm."""
STARTS = 4
"""Possibilities that are fitted; more are slower and miss less."""
ALIGNED = 0.9
"""Cosine of the angle between an edge's direction and a rim's from which they belong together; raising it
drops edges of small arcs."""
ROUNDS_PX = ((6.0, 3.0), (5.0, 2.5), (4.0, 2.0), (3.0, 1.5), (3.0, 1.2), (2.5, 1.0), (2.5, 1.0), (2.5, 1.0))
"""Per round of a fit the distance from a rim within which points count, and that at which one counts half,
px; raising the last mixes neighbouring edges."""
LAST_ROUNDS = 4
"""Rounds that are done again by the mouths that are seen."""
KNOWN = np.array(
    [np.radians(4.0), np.radians(0.35), 0.12, 0.2, 0.4, 0.02, 0.08, 0.25, *[0.5, 0.12, 0.02, 0.12] * 2, 0.15, 0.15]
)
"""Standard deviations of a boss' unknowns about what gauge and upper edges say of them, see
`BoredBoss.unknowns`: a gauge has play in its bore, and a face leans; raising them trusts the mouths alone
(common practice, no source)."""
MISS, SHIFT = 2, slice(16, 18)
"""Places of the gauge's distance from the axis and of the axis' shift among the unknowns."""
STEPS = np.array([1e-4, 1e-4, 1e-3, 1e-3, 1e-3, 1e-4, 1e-3, 1e-3, *[1e-3, 1e-4, 1e-5, 1e-4] * 2, 1e-3, 1e-3])
"""Steps of the derivatives by the unknowns; uncritical."""
ALIKE = 8.0
"""Neighbouring edge points that share one error: the blur's width in px, on both sides."""
LEAST_SCATTER_PX = 0.5
"""Scatter of edge points about a rim at least, px; raising it widens all uncertainties."""
SECTORS = 16
"""Sectors of a rim; more are less sure each."""
BAND_PX, EDGE_PX = 8.0, 1.0
"""Distance from a rim over which chance edges are counted, and the standard deviation of its own edge, px."""
CHANCE_PER_PX = 0.02
"""Share of a sector's arc that chance edges cover per px across it, added to what is seen; raising it bounds
the ratio lower."""
POSSIBILITIES = len(TURNS_RAD) * len(STAGGERS_MM)
"""Places of a side's mouths, of which each is as likely before the photos are looked at."""
CENTRELINE_U_MM, FACE_U_MM = 0.06, 0.15
"""Light in the bores and faces that are no planes shift centreline, at the crossing point, and faces, mm
(found on rendered hubs)."""
LARGEST_U_MM = 0.2
"""Standard uncertainty of the centreline, at the crossing point, from which too few mouths are seen, mm; raising
it takes in chance edges."""
AROUND = (np.arange(SECTORS) + 0.5) * 2 * np.pi / SECTORS - np.pi
"""Directions of the sectors' middles, rad."""


Mouth = tuple[int, int]
"""A side, and the bore that opens there."""


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

    def known(self) -> Array:
        """Return the (18, 18) forms of the unknowns that are known beforehand: when the axis moves, so does
        its distance from the gauge."""
        rows = np.eye(len(KNOWN))
        rows[MISS, SHIFT] = -self.left
        return rows


@dataclass(frozen=True)
class BoreMouths:
    """A boss with its bores as all photos show their mouths.

    Attributes
    ----------
    boss
        As fitted.
    normals, rights
        (P, 18, 18) and (P, 18) what each photo adds to the normal equations of its unknowns.
    known
        (18, 18) normal matrix of what was known beforehand.
    sure
        Log-odds of the left and of the right face's mouths, against edges by chance.
    """

    boss: BoredBoss
    normals: Array
    rights: Array
    known: Array
    sure: tuple[float, float]

    @property
    def covariance(self) -> Array:
        """(18, 18) of the boss' unknowns."""
        return np.linalg.inv(self.normals.sum(0) + self.known)

    def shows(self, side: int) -> bool:
        """Tell whether mouths are seen on a side's face."""
        return self.sure[0 if side > 0 else 1] > 0

    @property
    def shows_centreline(self) -> bool:
        """Whether the second bore's exit is seen: the first one's axis is known by its gauge."""
        known = self.centreline_u * self.boss.left.radius < LARGEST_U_MM
        return known and self.shows(self.boss.exits(SECOND))

    @property
    def centreline_u(self) -> float:
        """Standard uncertainty of the centreline, rad."""
        own, radius = float(np.sqrt(self.covariance[0, 0])), self.boss.left.radius
        return float(np.hypot(own, CENTRELINE_U_MM / radius))

    def faces(self, turn: float) -> BossShape:
        """Return the faces where a bore passes them, seen along the axis.

        Parameters
        ----------
        turn
            Positive for the bore that leaves by the left face, negative for the other.
        """
        left, right = (self.boss.face(side).seen_at(self._opening(turn, side)[2]) for side in (1, -1))
        return BossShape(left, right, (self.boss.centreline,))

    def face_u(self, turn: float, side: int) -> float:
        """Return the standard uncertainty of a face where a bore passes it, mm along the bore."""
        x = self.boss.unknowns()

        def far(values: Array) -> float:
            moved = replace(self, boss=self.boss.with_unknowns(values))
            return float(moved._opening(turn, side) @ self.boss.bore(self._bore(turn)).along)

        slope = np.array([(far(x + step) - far(x)) / step.sum() for step in np.diag(STEPS)])
        return float(np.hypot(np.sqrt(slope @ self.covariance @ slope), FACE_U_MM))

    def _bore(self, turn: float) -> int:
        return FIRST if turn * self.boss.exits(FIRST) > 0 else SECOND

    def _opening(self, turn: float, side: int) -> Array:
        """Return the (3,) middle of a bore's mouth on a side."""
        bore = self.boss.bore(self._bore(turn))
        return self.boss.face(side).met(bore.foot, bore.along)

    def only_photos(self, keep: Sequence[int]) -> BoreMouths:
        """Return what some of the photos show of it, by the same edge points."""
        own = list(keep)
        less = replace(self, normals=self.normals[own], rights=self.rights[own])
        change = less.covariance @ (less.rights.sum(0) - self.rights.sum(0))
        return replace(less, boss=self.boss.with_unknowns(self.boss.unknowns() + change))


def see_bore_mouths(
    pictures: Sequence[Picture],
    views: Sequence[View],
    pose: PatternPose,
    shape: BossShape,
    gauge: BoreLine,
) -> BoreMouths | None:
    """Return the boss with its two bores as their mouths show them.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras.
    pose, shape
        The boss pattern as adjusted, and the mean boss by its upper edges.
    gauge
        In one of the bores.

    Returns
    -------
    BoreMouths or None
        None where no photo shows a face of an empty boss.
    """
    start = _by_edges(pose, shape, gauge)
    looks, points = fold(pictures, views, pose, start, gauge.held)
    if not points:
        return None
    best: tuple[float, BoredBoss] | None = None
    for possible in _possible(start, points):
        fitted = _fit(possible, start, points, ROUNDS_PX, gauge)
        if fitted is not None:
            total = sum(ratios.sum() for ratios in _evidence(fitted, looks, points).values())
            if best is None or total > best[0]:
                best = float(total), fitted
    if best is None:
        return None
    evidence = _evidence(best[1], looks, points)
    sure = {side: _sure(evidence, side) for side in (1, -1)}
    seen = {mouth: (by_look > 0) & (sure[mouth[0]] > 0) for mouth, by_look in evidence.items()}
    fitted = _fit(best[1], start, points, ROUNDS_PX[-LAST_ROUNDS:], gauge, seen)
    if fitted is None:
        return None
    normals, rights = _by_photo(fitted, looks, points, seen, len(pictures))
    known = _known(fitted, start, gauge).normal
    return BoreMouths(fitted, normals, rights, known, (sure[1], sure[-1]))


def _sure(evidence: dict[Mouth, Array], side: int) -> float:
    """Return the log-odds of the mouths on a side, by the looks that show them, against edges by chance."""
    shown = sum(np.maximum(ratios, 0.0).sum() for mouth, ratios in evidence.items() if mouth[0] == side)
    return float(shown - np.log(POSSIBILITIES))


def _by_edges(pose: PatternPose, shape: BossShape, gauge: BoreLine) -> BoredBoss:
    """Return the boss that upper edges and gauge tell of; its second bore lies as high as the first."""
    left, right = (
        SideFace(face.side, pose.radius, face.offset, face.slope, face.bend)
        for face in (shape.left, shape.right)
    )
    return BoredBoss(
        shape.mirror[0],
        gauge.direction,
        gauge.miss,
        (gauge.height, gauge.height),
        gauge.rise,
        (BORE_RADIUS_MM, HEAD_BORE_RADIUS_MM),
        left,
        right,
    )


# ---------- where the mouths may be ----------


def _possible(start: BoredBoss, points: dict[int, Folded]) -> list[BoredBoss]:
    """Return the likeliest bosses by the votes of edge points for the middles of their mouths."""
    total = np.zeros((len(TURNS_RAD), len(STAGGERS_MM)))
    choices = {}
    for side, own in points.items():
        by_shift = np.stack([_votes(_moved(start, side, shift), side, own) for shift in SHIFTS_MM])
        choices[side] = by_shift.argmax(0)
        total += by_shift.max(0)
    order = np.argsort(STAGGERS_MM)
    ordered = total[:, order]
    tops = np.argwhere(ordered == maximum_filter(ordered, (5, 7)))
    tops = tops[np.argsort(-ordered[tops[:, 0], tops[:, 1]])][:STARTS]
    out = []
    for turn, place in tops.tolist():
        k = int(order[place])
        boss = replace(
            start,
            centreline=start.centreline + float(TURNS_RAD[turn]),
            heights=(start.heights[0], start.heights[0] + float(STAGGERS_MM[k])),
        )
        for side, choice in choices.items():
            boss = _moved(boss, side, SHIFTS_MM[int(choice[turn, k])])
        out.append(boss)
    return out


def _moved(boss: BoredBoss, side: int, outward: float) -> BoredBoss:
    """Return the boss with one face moved outward, mm."""
    face = boss.face(side)
    moved = replace(face, offset=face.offset + outward)
    return replace(boss, left=moved) if side > 0 else replace(boss, right=moved)


def _votes(boss: BoredBoss, side: int, points: Folded) -> Array:
    """Return the votes (turns, staggers) for both mouths on one side."""
    out = np.zeros((len(TURNS_RAD), len(STAGGERS_MM)))
    at = points.on_face(boss, side)
    for which in (FIRST, SECOND):
        bore, radius = boss.mouth(which, side)
        level, up = bore.across()
        flat = np.stack([(at - bore.foot) @ level, (at - bore.foot) @ up], -1)
        along = flat[2] - flat[0]
        length = np.maximum(np.linalg.norm(along, axis=1), 1e-9)
        out_of = np.stack([along[:, 1], -along[:, 0]], -1) / length[:, None]
        out_of *= np.sign(np.sum(out_of * (flat[1] - flat[0]), 1))[:, None]
        middle = flat[0] - radius * out_of
        votes = _map(middle[:, 0], middle[:, 1] + bore.foot[2], length / (2 * np.pi * radius))
        far = (boss.face(side).met(bore.foot, bore.along) - bore.foot) @ bore.along
        turns, heights = np.meshgrid(TURNS_RAD, boss.heights[0] + STAGGERS_MM, indexing="ij")
        if which == FIRST:
            out += _sampled(votes, np.zeros(1), np.array([boss.heights[0]]))[0]
        else:
            out += _sampled(votes, 2 * turns * far, heights)
    return out


def _map(across: Array, up: Array, weight: Array) -> Array:
    """Return the blurred sums (across, up) of weights at places."""
    i = np.rint((across - ACROSS_MM[0]) / VOTE_STEP_MM).astype(int)
    j = np.rint((up - UP_MM[0]) / VOTE_STEP_MM).astype(int)
    inside = (i >= 0) & (i < len(ACROSS_MM)) & (j >= 0) & (j < len(UP_MM))
    shape = len(ACROSS_MM), len(UP_MM)
    flat = np.bincount(i[inside] * shape[1] + j[inside], weight[inside], shape[0] * shape[1])
    return np.asarray(gaussian_filter(flat.reshape(shape), VOTE_BLUR, mode="constant"))


def _sampled(votes: Array, across: Array, up: Array) -> Array:
    """Return the votes at places, 0 outside."""
    i = np.rint((across - ACROSS_MM[0]) / VOTE_STEP_MM).astype(int)
    j = np.rint((up - UP_MM[0]) / VOTE_STEP_MM).astype(int)
    inside = (i >= 0) & (i < len(ACROSS_MM)) & (j >= 0) & (j < len(UP_MM))
    values = votes[np.clip(i, 0, len(ACROSS_MM) - 1), np.clip(j, 0, len(UP_MM) - 1)]
    return np.where(inside, values, 0.0)


# ---------- how well a boss goes with the edge points ----------



@dataclass(frozen=True)
class _OffRims:
    """How edge points lie to a mouth's rim: (N,) px outside it, mm to the px, and whether along it."""

    off: Array
    mm_per_px: Array
    along: Flags


def _off_rim(boss: BoredBoss, mouth: Mouth, at: Array) -> _OffRims:
    """Return how points, and those a step off, (3, N, 3) on a face lie to a mouth's rim."""
    bore, radius = boss.mouth(mouth[1], mouth[0])
    off = bore.off(at) - radius
    outward, sideways = (off[1] - off[0]) / STEP_PX, (off[2] - off[0]) / STEP_PX
    scale = np.maximum(np.hypot(outward, sideways), 1e-9)
    return _OffRims(off[0] / scale, scale, outward > ALIGNED * scale)


def _evidence(boss: BoredBoss, looks: Sequence[Look], points: dict[int, Folded]) -> dict[Mouth, Array]:
    """Return per mouth the (looks,) log-likelihood ratios of its rim against chance edges."""
    out = {}
    for side, own in points.items():
        at = own.on_face(boss, side)
        for which in (FIRST, SECOND):
            rim = _off_rim(boss, (side, which), at)
            near = rim.along & (np.abs(rim.off) < BAND_PX)
            bore, _ = boss.mouth(which, side)
            level, up = bore.across()
            flat = at[0][near] - bore.foot
            turn = np.arctan2(flat @ up, flat @ level) / (2 * np.pi) + 0.5
            sector = own.look[near] * SECTORS + (turn * SECTORS).astype(int) % SECTORS
            out[side, which] = _ratios(boss, (side, which), looks, sector, rim.off[near])
    return out


def _ratios(
    boss: BoredBoss, mouth: Mouth, looks: Sequence[Look], sector: Indices, off: Array
) -> Array:
    """Return (looks,) log-likelihood ratios of a rim, by the sectors of points and their distance, px."""
    shape = len(looks), SECTORS
    edge = np.exp(-0.5 * (off / EDGE_PX) ** 2) / (np.sqrt(2 * np.pi) * EDGE_PX)
    arcs = _arcs(boss, mouth, looks) * POINTS_PER_PX
    covered = np.bincount(sector, edge, shape[0] * shape[1]).reshape(shape) / arcs
    chance = np.bincount(sector, minlength=shape[0] * shape[1]).reshape(shape) / (2 * BAND_PX) / arcs
    chance = (chance + np.roll(chance, 1, 1) + np.roll(chance, -1, 1)) / 3 + CHANCE_PER_PX
    ratios = np.log(1 - SEEN_SHARE + SEEN_SHARE * np.minimum(covered, 1.0) / chance)
    ratios[[look.side != mouth[0] for look in looks]] = 0.0
    return np.asarray(INDEPENDENT * ratios.sum(1))


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


# ---------- the fit ----------

Seen = dict[Mouth, Flags]
"""Per mouth the (looks,) that show it."""


@dataclass(frozen=True)
class _Rows:
    """Edge points near rims: derivatives (M, 18), px outside (M,), their photos' looks (M,)."""

    design: Array
    off: Array
    look: Indices


def _rows(
    boss: BoredBoss, points: dict[int, Folded], reach: float, seen: Seen | None = None
) -> _Rows | None:
    """Return the points within a reach, px, of the rims; each belongs to the nearest one."""
    parts = []
    for side, own in points.items():
        at = own.on_face(boss, side)
        rims = [_off_rim(boss, (side, which), at) for which in (FIRST, SECOND)]
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
    x = boss.unknowns()

    def off(values: Array) -> Array:
        other = boss.with_unknowns(values)
        bore, radius = other.mouth(mouth[1], mouth[0])
        return bore.off(points.centres(other, mouth[0])) - radius

    here = off(x)
    return np.stack([(off(x + step) - here) / size for step, size in zip(np.diag(STEPS), STEPS, strict=True)], -1)


def _fit(
    boss: BoredBoss,
    start: BoredBoss,
    points: dict[int, Folded],
    rounds: Sequence[tuple[float, float]],
    gauge: BoreLine,
    seen: Seen | None = None,
) -> BoredBoss | None:
    """Return the boss fitted to edge points near its rims; None where there are none."""
    known = _known(boss, start, gauge)
    for reach, half in rounds:
        rows = _rows(boss, points, reach, seen)
        if rows is None:
            return None
        normal, right = _normal(rows, half)
        x = boss.unknowns()
        change = np.linalg.solve(normal + known.normal, right + known.right - known.normal @ x)
        boss = boss.with_unknowns(x + np.clip(change, -3 * KNOWN, 3 * KNOWN))
    return boss


def _known(boss: BoredBoss, start: BoredBoss, gauge: BoreLine) -> Known:
    """Return what is known of a boss near this one beforehand."""
    rows = gauge.known()
    expected = replace(start, heights=(start.heights[FIRST], boss.heights[SECOND]))
    return Known.of(rows, rows @ expected.unknowns(), KNOWN, unit=1.0)


def _normal(rows: _Rows, half: float) -> tuple[Array, Array]:
    """Return normal matrix and right-hand side of edge points, their scatter found from themselves."""
    variance = ALIKE * max(spread(rows.off), LEAST_SCATTER_PX) ** 2
    weighed = rows.design * cauchy_weight(rows.off**2, half)[:, None] / variance
    return rows.design.T @ weighed, -weighed.T @ rows.off


def _by_photo(
    boss: BoredBoss,
    looks: Sequence[Look],
    points: dict[int, Folded],
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
