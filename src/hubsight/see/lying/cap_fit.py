"""The axis of a lying hub and its two end faces, fitted to the outlines of both end caps in all photos."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hubsight.estimate.robust import Known, RobustFit, robust_fit
from hubsight.model.arrays import Array, Flags
from hubsight.scene.usual import Usual
from hubsight.see.lying.caps import Cap, Part, SoftPhoto, edge_across, outline
from hubsight.see.lying.frame import FAR_MM, LyingFrame

EDGE_SIGMA_MM = 0.06
"""Scatter of an edge about its place, mm; raising it lets edges of other things pull more."""
RADIUS_MM = Usual(9.3, 1.0)
"""Radius of end caps and locknuts, mm; a larger sigma follows the edges more (common practice, no source)."""
ALIKE_SIGMA_MM = 0.6
"""Standard deviation of the difference between both ends' radii, mm; raising it lets them differ (common
practice, no source)."""
COURSE_SIGMA_MM = 1.2
"""Standard deviation of the axis from where one photo shows it by the hub's outlines, mm; raising it follows
the caps more (found on rendered hubs)."""
NEIGHBOURS = 20.0
"""Neighbouring points whose edges err alike; raising it trusts the priors more and widens the
uncertainties."""
UNKNOWNS = 8
"""The axis' four, and each cap's place and radius."""
STEP_LIMIT_MM = 1.2
"""Largest change in one round, mm; raising it bears worse starts and runs away more often."""
NARROWING = 0.85
"""Factor on reach and robust scale from round to round; raising it is slower and bears worse starts."""
OUTERMOST_FROM_MM = 0.75
"""Reach from which the outermost edge is taken, mm; raising it takes it sooner."""
ON_EDGE_MM, MISSED_MM = 0.15, 0.6
"""Distances from an outline within which an edge is its own, and beyond which it is missed, mm."""
INNER_WEIGHT, SIDE_WEIGHT = 0.4, 0.3
"""Weights of inner rims and of sides in the score of a fit, against the outer rim."""
PRIOR_WEIGHTS = (0.006, 0.016)
"""Score that the axis' height and course, and unlike radii cost, per variance; raising them trusts the priors
more (found on rendered hubs)."""


@dataclass(frozen=True)
class Fit:
    """End caps fitted to photos.

    Attributes
    ----------
    frame, caps
        The axis, and both caps, the first one first.
    risen
        (2,) mm by which the axis lies above where it was expected, at -`FAR_MM` and `FAR_MM`.
    height_sigma
        Of that expectation, mm.
    eye, aside
        (3,) where the first photo was taken from, and the unit vector square to the plane in which the axis
        is seen there.
    white
        Half length and half width of the white field that bright caps mirror, mm; None for dull caps.
    """

    frame: LyingFrame
    caps: tuple[Cap, Cap]
    risen: Array
    height_sigma: float
    eye: Array
    aside: Array
    white: tuple[float, float] | None = None

    def off_course(self) -> Array:
        """Return (2,) mm by which the axis lies beside where the first photo shows it, at both far points."""
        return np.array([(self.frame.at(s) - self.eye) @ self.aside for s in (-FAR_MM, FAR_MM)])


@dataclass(frozen=True)
class Way:
    """How a fit goes on: rounds, first and least reach and scale, mm, and the weight of the caps' sides."""

    rounds: int
    reach: float
    least_reach: float
    scale: float
    side_weight: float


@dataclass(frozen=True)
class _Seen:
    design: Array
    off: Array
    ok: Flags
    group: NDArray[np.int_]
    """(N, 3): cap, photo and part."""


def _look(photos: Sequence[SoftPhoto], fit: Fit, reach: float) -> _Seen:
    rows, offs, oks, groups = [], [], [], []
    for k, cap in enumerate(fit.caps):
        for i, photo in enumerate(photos):
            seen = outline(photo.eye, fit.frame, cap, fit.white)
            off, ok = edge_across(photo, seen, reach, outermost=reach < OUTERMOST_FROM_MM)
            design = np.zeros((len(off), UNKNOWNS))
            design[:, :4], design[:, 4 + 2 * k : 6 + 2 * k] = seen.by_axis, seen.by_cap
            rows.append(design)
            offs.append(off)
            oks.append(ok)
            groups.append(
                np.column_stack([np.full_like(seen.part, k), np.full_like(seen.part, i), seen.part])
            )
    return _Seen(*(np.concatenate(part) for part in (rows, offs, oks, groups)))


def _is_side(group: NDArray[np.int_]) -> Flags:
    return np.asarray((group[:, 2] != Part.RIM) & (group[:, 2] != Part.INNER_RIM))


def adjust(photos: Sequence[SoftPhoto], fit: Fit, way: Way) -> Fit:
    """Return axis and caps fitted to the edges near their outlines, with less reach each round."""
    reach = way.reach
    for k in range(way.rounds):
        scale = max(way.scale * NARROWING**k, EDGE_SIGMA_MM)
        change = _solved(_look(photos, fit, reach), fit, scale, way.side_weight).x
        fit = _stepped(fit, np.clip(change, -STEP_LIMIT_MM, STEP_LIMIT_MM))
        reach = max(reach * NARROWING, way.least_reach)
    return fit


def _stepped(fit: Fit, change: Array) -> Fit:
    first, last = (
        replace(cap, place=cap.place + change[4 + 2 * k], radius=cap.radius + change[5 + 2 * k])
        for k, cap in enumerate(fit.caps)
    )
    return replace(fit, frame=fit.frame.moved(change[:4]), caps=(first, last), risen=fit.risen + change[2:4])


def _solved(seen: _Seen, fit: Fit, scale: float, side_weight: float) -> RobustFit:
    """Return the change of the unknowns that brings the outlines onto the edges."""
    weight = seen.ok * np.where(_is_side(seen.group), side_weight, 1.0)
    return robust_fit(seen.design, seen.off, weight, scale, _known(fit, scale), rounds=10)


def _known(fit: Fit, scale: float) -> Known:
    """Return what is known beforehand of the axis' heights and course, and of the radii."""
    unit = np.eye(UNKNOWNS)
    radii = [cap.radius for cap in fit.caps]
    rows = [(unit[2 + k], -fit.risen[k], fit.height_sigma) for k in range(2)]
    aside, off = [fit.aside @ way for way in (fit.frame.left, fit.frame.up)], fit.off_course()
    rows += [(aside[0] * unit[k] + aside[1] * unit[2 + k], -off[k], COURSE_SIGMA_MM) for k in range(2)]
    rows += [(unit[5 + 2 * k], RADIUS_MM.mean - r, RADIUS_MM.sigma) for k, r in enumerate(radii)]
    rows.append((unit[7] - unit[5], radii[0] - radii[1], ALIKE_SIGMA_MM))
    rows += [(row, 0.0, 1e4) for row in unit]
    forms, values, sigmas = (np.array(part) for part in zip(*rows, strict=True))
    return Known.of(forms, values, sigmas, scale * NEIGHBOURS**0.5)


def outline_scores(photos: Sequence[SoftPhoto], fit: Fit) -> Array:
    """Return (2, photos) how well each cap's outline lies on edges in each photo, from 0 to 1."""
    seen = _look(photos, fit, MISSED_MM)
    most = np.log1p((MISSED_MM / EDGE_SIGMA_MM) ** 2)
    good = 1 - np.log1p((np.where(seen.ok, seen.off, MISSED_MM) / EDGE_SIGMA_MM) ** 2) / most
    out = np.empty((2, len(photos)))
    for k, i in np.ndindex(*out.shape):
        here = (seen.group[:, 0] == k) & (seen.group[:, 1] == i)
        by_part = {
            int(p): float(good[here & (seen.group[:, 2] == p)].mean()) for p in set(seen.group[here, 2])
        }
        inner = INNER_WEIGHT if Part.INNER_RIM in by_part else 0.0
        rims = (by_part[Part.RIM] + inner * by_part.pop(Part.INNER_RIM, 0.0)) / (1 + inner)
        sides = sum(value for p, value in by_part.items() if p != Part.RIM)
        out[k, i] = (rims + SIDE_WEIGHT * sides) / (1 + 2 * SIDE_WEIGHT)
    return out


def score(photos: Sequence[SoftPhoto], fit: Fit) -> float:
    """Return how well a fit's outlines lie on edges, from 0 to about 1."""
    against = PRIOR_WEIGHTS[0] * float(np.sum((fit.risen / fit.height_sigma) ** 2))
    against += PRIOR_WEIGHTS[0] * float(np.sum((fit.off_course() / COURSE_SIGMA_MM) ** 2))
    against += PRIOR_WEIGHTS[1] * ((fit.caps[1].radius - fit.caps[0].radius) / ALIKE_SIGMA_MM) ** 2
    return float(outline_scores(photos, fit).mean()) - against / len(photos)


def height_covariance(photos: Sequence[SoftPhoto], fit: Fit, side_weight: float) -> Array:
    """Return the (2, 2) covariance, mm^2, of the axis' heights at -`FAR_MM` and `FAR_MM`."""
    seen = _look(photos, fit, ON_EDGE_MM)
    solved = _solved(seen, fit, EDGE_SIGMA_MM, side_weight)
    return solved.covariance(EDGE_SIGMA_MM, NEIGHBOURS)[2:4, 2:4]
