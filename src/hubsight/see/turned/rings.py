"""Turned edges of the hub: circles about its axis on which the photos together show an edge.

Hypotheses are the peaks of the likelihood over height and radius. Each is fitted to its edge points; then
they are taken in the order of their support, and a point that one edge explains speaks for no other: two
edges seen from one side and from the other would else make a third.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import maximum_filter

from hubsight.camera import View
from hubsight.estimate.robust import Known, robust_fit
from hubsight.model.arrays import Array, Flags
from hubsight.photo.at_once import at_once
from hubsight.scene.turned import Circle, HubAxis
from hubsight.see.edge_odds import BESIDE_MM
from hubsight.see.turned.edge_points import EdgePoints
from hubsight.see.turned.likelihood import ALIGNED, SIGMAS_MM, STEP_MM, Evidence, scan, support

HEIGHT_STEP_MM = 0.5
"""Step of the search in height, mm; raising it is faster and loses edges seen from the side."""
AXIS_U_MM = (0.3, 0.1)
"""Standard uncertainty of the axis at the hub's end, mm: carried on from the bosses, and through clear edges
there; raising them takes in other circles (found on rendered hubs)."""
APART = (3, 7)
"""Steps of height and radius between two hypotheses; raising them leaves fewer."""
HYPOTHESES = 24
"""Hypotheses that are fitted; more are slower and find fainter edges."""
AXIS_RINGS = 4
"""Clearest edges from which the axis is taken anew."""
FIT = ((0.35, 0.15), (0.3, 0.1), (0.3, 0.08))
"""Distance within which points are fitted, in turn, and the robust scale of their distances, mm; raising them
mixes neighbouring edges."""
BAND_MM = 1.5
"""Distance from its start to which a circle may run in height and radius, mm; a wider one is slower."""
ALIKE = 8.0
"""Neighbouring edge points that share one error: the blur's width in px, on both sides."""
ON_EDGE_SIGMAS = 2.5
"""Distance from an edge within which it explains points, in `SIGMAS_MM`; raising it takes points from
neighbouring edges."""
STANDS_MM = 1.0
"""Height above an edge from which what is narrower stands on it and hides part of it, mm; lowering it takes
both edges of one face for two steps."""
OWN_REACH_MM, FAR_REACH_MM, OWN_STEP_MM = 2.0, 10.0, 0.2
"""Distances within which each photo's own height of a face is looked for, first and where it shows none
there, and their step, mm; raising the first two is slower and finds photos that show another face farther
off."""


@dataclass(frozen=True)
class Ring(Circle):
    """A turned edge as the photos show it.

    Attributes
    ----------
    evidence
        Log-likelihood ratios of it.
    pixels
        Per photo (N, 2) points on the edge.
    """

    evidence: Evidence
    pixels: tuple[Array, ...]

    def only_photos(self, keep: Sequence[int]) -> Ring:
        """Return the same ring as some of the photos show it."""
        pixels = tuple(self.pixels[k] for k in keep)
        return replace(self, evidence=self.evidence.only_photos(keep), pixels=pixels)


@dataclass(frozen=True)
class OwnHeights:
    """Where each photo by itself shows a face: (photos,) above where all of them show it, and its u, mm.

    NaN and infinite where a photo does not show it.
    """

    above: Array
    u: Array

    @property
    def u_together(self) -> float:
        """Standard uncertainty of their mean, mm, wider where they contradict each other (Birge's ratio)."""
        shown = np.isfinite(self.above)
        if not shown.any():
            return 0.0
        above, weight = self.above[shown], self.u[shown] ** -2.0
        mean = np.average(above, weights=weight)
        chi2 = float(weight @ (above - mean) ** 2) / max(len(above) - 1, 1)
        return float(np.sqrt(max(chi2, 1.0) / weight.sum()))

    def only_photos(self, keep: Sequence[int]) -> OwnHeights:
        """Return what some of the photos show."""
        return OwnHeights(self.above[list(keep)], self.u[list(keep)])


def find_rings(
    photos: Sequence[EdgePoints], axis: HubAxis, heights: tuple[float, float], radii: tuple[float, float]
) -> list[Ring]:
    """Return the turned edges between two heights and two radii, the best supported first.

    Parameters
    ----------
    photos
        Edge points of at least two.
    axis
        Of the hub, as far as known.
    heights, radii
        Lowest and highest, mm.
    """
    levels, steps = np.arange(*heights, HEIGHT_STEP_MM), np.arange(*radii, STEP_MM)
    total = scan(photos, axis, levels, steps).sum(0)
    peaks = np.argwhere((total == maximum_filter(total, APART)) & (total > 0))
    peaks = peaks[np.argsort(-total[peaks[:, 0], peaks[:, 1]])][:HYPOTHESES]
    starts = [
        Circle(axis.at(levels[i]), float(levels[i]), float(steps[j]), axis.slope) for i, j in peaks.tolist()
    ]
    clear = [fit_circle(photos, start, axis, AXIS_U_MM[0]) for start in starts[:AXIS_RINGS]]
    axis = through([circle for circle in clear if circle is not None], axis)
    starts = [replace(start, centre=axis.at(start.height)) for start in starts]
    fitted = at_once(lambda start: fit_circle(photos, start, axis, AXIS_U_MM[1]), starts)
    return _in_turn(photos, [circle for circle in fitted if circle is not None], axis)


def through(circles: Sequence[Circle], axis: HubAxis) -> HubAxis:
    """Return the axis shifted to the middle of turned edges: it comes from the bosses, far below."""
    if len(circles) < 2:
        return axis
    shift = np.median([circle.centre - axis.at(circle.height) for circle in circles], axis=0)
    return replace(axis, point=axis.point + shift)


def _in_turn(photos: Sequence[EdgePoints], circles: Sequence[Circle], axis: HubAxis) -> list[Ring]:
    """Return the rings that are supported, the best first, each by points that no better one explains."""
    left, out = list(photos), list[Ring]()
    weighed = [(support(left, circle), circle) for circle in _different(circles)]
    while weighed := [(e, c) for e, c in weighed if e.log_odds > 0]:
        known, circle = weighed.pop(max(range(len(weighed)), key=lambda k: weighed[k][0].log_odds))
        again = fit_circle(left, circle, axis, AXIS_U_MM[1])
        if again is None:
            continue
        evidence = support(left, again, [ring for ring in out if _stands_on(ring, again)])
        # Others have taken points from it since it was weighed.
        if any(other.log_odds > evidence.log_odds for other, _ in weighed):
            if evidence.log_odds < known.log_odds:
                weighed.append((evidence, again))
            continue
        if evidence.log_odds > 0:
            on_edge = [_on(points, again) for points in left]
            pixels = tuple(points.pixels[on] for points, on in zip(left, on_edge, strict=True))
            out.append(
                Ring(again.centre, again.height, again.radius, again.slope, evidence=evidence, pixels=pixels)
            )
            left = [points.only(~on) for points, on in zip(left, on_edge, strict=True)]
    return out


def _stands_on(end: Circle, circle: Circle) -> bool:
    """Tell whether a turned end stands on the part of which a circle is the edge."""
    return end.height > circle.height + STANDS_MM and end.radius < circle.radius


def _different(circles: Sequence[Circle]) -> list[Circle]:
    """Return circles of which no two are the same."""
    out: list[Circle] = []
    for one in circles:
        same = (
            max(abs(one.height - other.height), abs(one.radius - other.radius)) < STEP_MM for other in out
        )
        if not any(same):
            out.append(one)
    return out


def _off(points: EdgePoints, circle: Circle) -> tuple[Array, Array]:
    """Return where lines of sight (N, 2) pass the circle's plane, from its centre, and how far off (N,)."""
    off = points.at(circle.height) - circle.centre
    off = off - (off @ circle.slope)[:, None] * points.shift
    return off, np.hypot(off[:, 0], off[:, 1])


def _near(points: EdgePoints, circle: Circle, reach: float) -> tuple[Array, Array, Flags]:
    off, far = _off(points, circle)
    near = np.abs(far - circle.radius) < reach
    near[near] = np.abs(np.sum(off[near] * points.across[near], 1)) > ALIGNED * far[near]
    return off, far, near


def _on(points: EdgePoints, circle: Circle) -> Flags:
    return _near(points, circle, ON_EDGE_SIGMAS * SIGMAS_MM[1])[2]


def fit_circle(photos: Sequence[EdgePoints], start: Circle, axis: HubAxis, axis_u: float) -> Circle | None:
    """Return the circle fitted to the edge points near another one; None if it runs away.

    Parameters
    ----------
    photos, start
        Edge points, and where the edge is about.
    axis, axis_u
        On which its centre lies, and that axis' standard uncertainty there, mm.
    """
    circle = start
    band = [points.only(np.abs(_off(points, start)[1] - start.radius) < BAND_MM) for points in photos]
    for reach, scale in FIT:
        rows, off = [], []
        for points in band:
            flat, far, near = _near(points, circle, reach)
            outward = flat[near] / far[near, None]
            by_height = -np.sum(outward * points.shift[near], 1)
            rows.append(np.column_stack([outward, by_height, np.ones(len(outward))]))
            off.append(far[near] - circle.radius)
        seen, design = np.concatenate(off), np.concatenate(rows)
        if len(seen) < design.shape[1]:
            return None
        expected = [*(axis.at(circle.height) - circle.centre), 0.0, 0.0]
        known = Known.single(expected, [axis_u, axis_u, np.inf, np.inf], unit=SIGMAS_MM[1] * ALIKE**0.5)
        try:
            change = robust_fit(design, seen, np.ones(len(seen)), scale, known).x
        except np.linalg.LinAlgError:
            return None
        circle = Circle(
            circle.centre + change[:2], circle.height + change[2], circle.radius + change[3], circle.slope
        )
        if abs(circle.radius - start.radius) + abs(circle.height - start.height) > BAND_MM:
            return None
    return circle


def own_heights(photos: Sequence[EdgePoints], rings: Sequence[Ring]) -> OwnHeights:
    """Return where each photo by itself shows a face of these edges.

    Centre and radii are those of all photos: by itself a photo would take a shift for a height. A photo that
    does not show the face near where all of them do is asked farther off.
    """
    near = _own_heights(photos, rings, OWN_REACH_MM)
    silent = np.flatnonzero(np.isnan(near.above))
    if len(silent):
        far = _own_heights([photos[int(k)] for k in silent], rings, FAR_REACH_MM)
        near.above[silent], near.u[silent] = far.above, far.u
    return near


def _own_heights(photos: Sequence[EdgePoints], rings: Sequence[Ring], reach: float) -> OwnHeights:
    ahead = np.arange(-reach, reach + OWN_STEP_MM / 2, OWN_STEP_MM)
    total = np.zeros((len(ahead), len(photos)))
    for ring in rings:
        beside = ring.radius + BESIDE_MM / 2 + reach
        band = [p.only(_off(p, ring)[1] < beside) for p in photos]
        total += [support(band, ring.raised(float(step))).by_photo for step in ahead]
    best = total.max(0)
    weight = np.exp(total - best)
    weight /= weight.sum(0)
    above = ahead @ weight
    variance = np.sum(weight * (ahead[:, None] - above) ** 2, axis=0) + OWN_STEP_MM**2 / 12
    silent = best < np.log(len(ahead))
    return OwnHeights(np.where(silent, np.nan, above), np.where(silent, np.inf, np.sqrt(variance)))


def ring_height(views: Sequence[View], ring: Ring) -> float:
    """Return the height at which a ring's points make one circle, as other cameras see them."""
    return ring_circle(views, ring).height


def ring_circle(views: Sequence[View], ring: Ring) -> Circle:
    """Return the circle that a ring's points make, as other cameras see them.

    Plain least squares: `find_rings` has already chosen the points.
    """
    circle = Circle(ring.centre, ring.height, ring.radius, ring.slope)
    for _ in range(2):
        both = [
            circle_equations(view, pixels, circle) for view, pixels in zip(views, ring.pixels, strict=True)
        ]
        circle = changed(circle, [equations for equations in both if equations is not None])
    return circle


@dataclass(frozen=True)
class CircleEquations:
    """What one photo's points say of a circle's changes: normal matrix (4, 4) and right side (4,).

    The changes are those of its centre in x and y, of its height and of its radius, mm.
    """

    normal: Array
    right: Array


def circle_equations(
    view: View, pixels: Array, circle: Circle, weights: Array | None = None
) -> CircleEquations | None:
    """Return what points (N, 2) of a photo, weighted alike or by (N,), say of a circle; None of no points."""
    if not len(pixels):
        return None
    eye, ray = view.position, view.rays(pixels)
    slope = ray[:, :2] / ray[:, 2:]
    flat = eye[:2] + (circle.height - eye[2]) * slope - circle.centre
    flat = flat - (flat @ circle.slope)[:, None] * slope
    far = np.hypot(flat[:, 0], flat[:, 1])
    outward = flat / far[:, None]
    rows = np.column_stack([outward, -np.sum(outward * slope, 1), np.ones(len(far))])
    weighted = rows if weights is None else rows * weights[:, None]
    return CircleEquations(weighted.T @ rows, weighted.T @ (far - circle.radius))


def changed(circle: Circle, equations: Sequence[CircleEquations]) -> Circle:
    """Return a circle with the changes of which all photos together tell."""
    normal, right = sum(e.normal for e in equations), sum(e.right for e in equations)
    change = np.linalg.solve(np.asarray(normal), np.asarray(right))
    return replace(
        circle,
        centre=circle.centre + change[:2],
        height=float(circle.height + change[2]),
        radius=float(circle.radius + change[3]),
    )
