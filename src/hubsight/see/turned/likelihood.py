"""How likely an edge lies along a circle about the hub's axis, against no edge there, by photo and sector.

In one sector of one photo, edge points lie anywhere with some density if no edge runs along the circle; if
one does, points cover the sector's arc at its radius. The ratio of the two is bounded on either side, so that
a streak or a shadow in one sector cannot decide; sectors and photos add up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from hubsight.model.arrays import Array
from hubsight.photo.at_once import at_once
from hubsight.scene.turned import Circle, HubAxis, hidden
from hubsight.see.edge_odds import BESIDE_MM, edge_log_odds
from hubsight.see.turned.edge_points import EdgePoints

Floats = NDArray[np.floating[Any]]

SECTORS = 24
"""Sectors of the way round; more are less sure each and trust neighbours as independent (edges of a few mm
are: streaks and shadows are as wide)."""
MIDDLES = (np.arange(SECTORS) + 0.5 - SECTORS / 2) * 2 * np.pi / SECTORS
"""Directions of the sectors' middles, rad."""
ALIGNED = np.cos(np.radians(15.0))
"""Cosine of the angle between an edge point's direction and the radius up to which it may belong to a circle;
raising it drops edges of small arcs and of leaning axes."""
CHANCE_PER_MM = 0.02
"""Share of a sector's arc that chance edges cover per mm of the radius, added to what is seen; raising it
bounds the ratio lower."""
STEP_MM = 0.1
"""Step of radii, mm; raising it is faster and blurs neighbouring edges."""
POINTS_PER_PX = 0.8
"""Edge points along an edge per px of its length (between 0.7 of a slanting and 1 of a level one)."""
SIGMAS_MM = (0.12, 0.08)
"""Standard deviation of an edge's radius about the circle's, mm: in the search, where axis and height are
known to a step, and once the circle is fitted; raising them mixes neighbouring edges (found on rendered
hubs)."""
INDEPENDENT = 0.5
"""Share of the sectors that are independent of each other: what light does to one it does to its neighbours;
raising it makes chance circles likelier (a test holds it against circles where no edge is)."""
ENOUGH = 4
"""Photos of which one can be spared; raising it asks for less support in sets of few."""
CIRCLES = 15000.0
"""Circles of different height and radius that a hub's end could show (150 steps of height, 100 of the
radius), of which each is as likely to be there before its photos are looked at; raising it asks for more
support."""


@dataclass(frozen=True)
class Evidence:
    """How the photos speak for an edge on a circle.

    Attributes
    ----------
    ratios
        (photos, `SECTORS`) log-likelihood ratios against no edge.
    """

    ratios: Array

    @property
    def by_photo(self) -> Array:
        """(photos,) log-likelihood ratios."""
        return np.asarray(INDEPENDENT * self.ratios.sum(1))

    @property
    def log_odds(self) -> float:
        """Log-odds of an edge there, after the photos."""
        return float(self.by_photo.sum() - np.log(CIRCLES))

    @property
    def probability(self) -> float:
        """Probability of an edge there that does not hang on one photo.

        The best one is left out; of few photos it counts as much as the second best.
        """
        said = np.sort(self.by_photo)
        best = said[-2] if len(said) < ENOUGH else 0.0
        return float(expit(said[:-1].sum() + best - np.log(CIRCLES)))

    def only_photos(self, keep: Sequence[int]) -> Evidence:
        """Return what some of the photos say."""
        return Evidence(self.ratios[list(keep)])


def scan(photos: Sequence[EdgePoints], axis: HubAxis, heights: Array, radii: Array) -> Array:
    """Return log-likelihood ratios (photos, heights, radii) of edges on circles about an axis.

    Parameters
    ----------
    photos
        Edge points of each photo.
    axis, heights, radii
        Of the circles; radii are `STEP_MM` apart.
    """

    def one(points: EdgePoints) -> Array:
        # The search needs no double precision, and takes half the time without.
        start = (points.at(axis.height) - axis.point).astype(np.float32)
        shift = (points.shift - axis.slope).astype(np.float32)
        across, scale = points.across.astype(np.float32), points.px_per_mm.astype(np.float32)
        offs = (start + np.float32(above) * shift for above in heights - axis.height)
        return np.stack([_by_radius(off, across, scale, radii, SIGMAS_MM[0]).sum(0) for off in offs])

    return np.stack(list(at_once(one, photos)))


def support(photos: Sequence[EdgePoints], circle: Circle, above: Sequence[Circle] = ()) -> Evidence:
    """Return how the photos speak for an edge on one fitted circle.

    Parameters
    ----------
    photos, circle
        Edge points, and the circle.
    above
        Turned ends that stand on the part of which this is an edge; sectors behind them say nothing.
    """
    count = int(BESIDE_MM / 2 / STEP_MM)
    radii = circle.radius + STEP_MM * np.arange(-count, count + 1)
    ratios = []
    for points in photos:
        off = points.at(circle.height) - circle.centre
        off = off - (off @ circle.slope)[:, None] * points.shift
        by_radius = _by_radius(off, points.across, points.px_per_mm, radii, SIGMAS_MM[1])
        behind = hidden(points.eye, circle.points(MIDDLES), above)
        ratios.append(np.where(behind, 0.0, by_radius[:, count]))
    return Evidence(np.stack(ratios))


def _by_radius(off: Floats, across: Floats, scale: Floats, radii: Floats, sigma: float) -> Array:
    """Return ratios (sectors, radii) of edges about the origin.

    Parameters
    ----------
    off, across
        (N, 2) places and directions of edge points in the circles' plane.
    scale
        (N,) px per mm there.
    radii, sigma
        Of the circles, and the standard deviation of an edge's radius about them, mm.
    """
    x, y = off[:, 0], off[:, 1]
    square, along = x * x + y * y, x * across[:, 0] + y * across[:, 1]
    least, most = max(radii[0] - STEP_MM, 0.0), radii[-1] + STEP_MM
    used = np.flatnonzero(
        (along * along > ALIGNED**2 * square) & (square > least * least) & (square < most * most)
    )
    far = np.sqrt(square[used])
    sector = ((np.arctan2(y[used], x[used]) / (2 * np.pi) + 0.5) * SECTORS).astype(int) % SECTORS
    column = np.clip(np.rint((far - radii[0]) / STEP_MM).astype(int), 0, len(radii) - 1)
    arc = 2 * np.pi / SECTORS * np.maximum(far, STEP_MM) * scale[used] * POINTS_PER_PX
    points = np.bincount(sector * len(radii) + column, 1 / arc, SECTORS * len(radii))
    covered = np.minimum(points.reshape(SECTORS, len(radii)), 1.0)
    return edge_log_odds(covered, STEP_MM, sigma, CHANCE_PER_MM)
