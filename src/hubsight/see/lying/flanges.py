"""Flanges of a lying hub: pairs of edges square to its axis, a flange's thickness apart, far from it.

On a cylinder about the axis through the outer faces of the bosses, both edges of each face stand at the same
two places along the axis, all the way round and in every photo. On other cylinders they do not. That finds a
flange, but its web's rim looks the same and need not lie in its middle: so the bosses' outer faces are looked
for near it, and fitted, and of the three the middle one counts. A radial flange is all rim.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import binary_dilation, gaussian_filter1d, maximum_filter1d, median_filter

from hubsight.estimate.robust import Growing
from hubsight.model.arrays import Array, Flags
from hubsight.scene.usual import FLANGE_RADII_MM, LEAST_RESTING_SHARE, Usual
from hubsight.see.lying.axis import SHARP
from hubsight.see.lying.boss_fit import fit_flange
from hubsight.see.lying.boss_tops import find_tops
from hubsight.see.lying.caps import SoftPhoto
from hubsight.see.lying.frame import LyingFrame, before_paper
from hubsight.see.lying.pattern import find_pattern

STEP_MM = 0.1
"""Step along the axis, mm; raising it is faster and less exact."""
PLACES_MM = np.arange(-100.0, 100.0, STEP_MM)
"""Places along the axis that are looked at, mm."""
AROUND = np.radians(np.arange(-80.0, 80.1, 2.0))
"""Angles from straight up at which edges are looked for, rad."""
THICKNESSES_MM, THICKNESS_MM = np.arange(5.0, 10.01, 0.2), Usual(7.5, 1.8)
"""Visible thicknesses of flanges that are tried, and the usual one, mm: at bosses, and at the thinner rim of
radial ones; a larger sigma lets one edge and a slot's end pass for a flange (common practice, no source)."""
RADII_MM = np.arange(FLANGE_RADII_MM[0], FLANGE_RADII_MM[1], 0.5)
"""Outer radii of flanges that are tried, mm."""
LEAST_ASIDE_MM = 17.8
"""Reach to both sides that only flanges have, mm; raising it loses small flanges (common practice, no
source)."""
HEIGHT_SLACK_MM = 1.0
"""Error of the axis' height by which a flange's radius may be smaller, mm; raising it bears worse axes."""
ASIDE_SHARE, ASIDE_SLACK_MM = 0.66, 1.5
"""Least reach aside of a flange as a share of its radius, and how much farther than the radius it may reach,
mm; raising the share excludes more radii."""
FARTHEST_SLACK_MM, FARTHEST_PERCENT = 4.0, 97
"""Amount by which a flange may reach less far aside than the percentile of its half of the hub, mm; raising
it takes shoulders for flanges."""
ASIDE_MM = np.arange(8.0, 38.0, 0.2)
"""Distances aside at which the hub's outline is looked for, mm."""
SMOOTH_STEPS, SLACK_STEPS = 1.5, 3
"""Blur before edges are taken, and steps within which edges of all photos are at one place; raising the
second bears worse axes."""
CHANGE = (0.15, 8.0)
"""Steepness of an edge that is unrest, and that counts at most, grey levels per step; raising the first drops
faint edges, raising the second lets strong ones outweigh others."""
LEAST_CHANGE = 1.5
"""Steepness of an outline against paper, grey levels per step; raising it loses bright hubs' outlines."""
CLEAR_MM = (12.0, 5.0)
"""Least distance of flanges' middles from the end faces and from the hub's middle, mm; raising it excludes
more places (common practice, no source)."""
SHARPNESS = 16.0
"""Sharpness of the weight of places, exp(`SHARPNESS` * (strength / greatest strength - 1)); raising it trusts
the best place more."""
NEAR_MM, ELSEWHERE_MM = 1.2, 2.5
"""Distances from the best place within which places are weighed with it, and beyond which they are rivals,
mm."""
RIM_U_MM = Growing(0.15, 0.6)
"""Uncertainty of a middle by a flange's edges all round, with their scatter, mm (found on rendered hubs)."""
WHOLE_RIM, WHOLE_RIM_U_MM = 2.9, 0.12
"""Strength against the unrest from which both edges run all the way round, as of a radial flange, and the
uncertainty of its middle, mm; raising the first finds fewer radial flanges (found on rendered hubs)."""
RESTING = 1.05
"""Radius of such a rim over the axis' height at most, for it rests on the paper; raising it bears worse
axes."""
AGREED_U_MM = Growing(0.17, 0.4)
"""Uncertainty of the middle one of three middles, with their range, mm (found on rendered hubs)."""
DOUBT_MM, DOUBT_RIVAL = 1.0, 0.9
"""Range of the three middles, mm, and strength of another place as a share of the best, from which a flange
is doubtful; raising them doubts fewer (found on rendered hubs)."""
FAR_MM = 8.0
"""Farthest that a doubtful flange is from there, mm; raising it finds other parts of the hub."""
SHIFT_SIGMA_MM = (0.1, 0.3)
"""Standard deviations of the axis sideways and up when faces are fitted, mm; raising them follows the faces
more."""


@dataclass(frozen=True)
class FlangeSeen:
    """A flange as seen.

    Attributes
    ----------
    middle, radius
        Its middle along the axis and its outer radius, mm.
    u
        Standard uncertainty of the middle, about this axis, mm.
    doubtful
        Whether it may be something else, or its edges all round and its bosses' faces say different places.
    """

    middle: float
    radius: float
    u: float
    doubtful: bool


@dataclass(frozen=True)
class _Rim:
    """A flange by its edges all round: as `FlangeSeen`, and how nearly equal places scatter, mm."""

    middle: float
    radius: float
    scatter: float
    rival: float


def aside(photo: SoftPhoto, frame: LyingFrame, field: tuple[float, float]) -> Array:
    """Return (2, places) how far the hub's sharp outline reaches aside, left and right, at `PLACES_MM`."""
    every = 4
    places = PLACES_MM[::every]
    out = []
    for sign in (1.0, -1.0):
        points = frame.points(places, sign * ASIDE_MM, np.zeros_like(ASIDE_MM))
        grey = gaussian_filter1d(photo.sharp(points), 1.0, axis=0)
        fine = np.abs(gaussian_filter1d(grey, SMOOTH_STEPS, axis=1, order=1))
        soft = np.abs(gaussian_filter1d(grey, 4 * SMOOTH_STEPS, axis=1, order=1))
        edge = (fine > LEAST_CHANGE) & (fine > SHARP * soft) & before_paper(photo.view, points, field)
        last = ASIDE_MM[len(ASIDE_MM) - 1 - np.argmax(edge[:, ::-1], axis=1)]
        out.append(median_filter(np.where(edge.any(1), last, 0.0), 5))
    return np.array([np.interp(PLACES_MM, places, row) for row in out])


def find_flanges(
    photos: Sequence[SoftPhoto],
    frame: LyingFrame,
    ends: tuple[float, float],
    field: tuple[float, float],
) -> tuple[FlangeSeen, FlangeSeen] | None:
    """Return both flanges, the first one first.

    Parameters
    ----------
    photos
        The most vertical one first; all are used.
    frame
        Of the hub.
    ends
        Places of both end faces along its axis, mm.
    field
        Half length and half width of the target's blank field, mm.
    """
    less = median_filter(aside(photos[0], frame, field).min(0), 41)
    middle = (ends[0] + ends[1]) / 2
    inside = (ends[0] + CLEAR_MM[0] < PLACES_MM) & (ends[1] - CLEAR_MM[0] > PLACES_MM)
    halves = (inside & (middle - CLEAR_MM[1] > PLACES_MM), inside & (middle + CLEAR_MM[1] < PLACES_MM))
    found = [_flange(photos, frame, less, half) for half in halves if half.any()]
    if len(found) < 2 or found[0] is None or found[1] is None:
        return None
    spans = (ends[0] + CLEAR_MM[0], middle - CLEAR_MM[1]), (middle + CLEAR_MM[1], ends[1] - CLEAR_MM[0])
    return _with_faces(photos, frame, found[0], spans[0]), _with_faces(photos, frame, found[1], spans[1])


def _with_faces(
    photos: Sequence[SoftPhoto], frame: LyingFrame, rim: _Rim, span: tuple[float, float]
) -> FlangeSeen:
    """Return a flange by the outer faces of its bosses and by its edges all round.

    Each of the three may take a web, a slot or a boss' side for an edge, so the middle one counts. A radial
    flange has no bosses; one photo alone does not show how far from the axis a face lies: there the edges all
    round stand alone.
    """
    rivalled = rim.rival > DOUBT_RIVAL
    if len(photos) == 1:
        return FlangeSeen(rim.middle, rim.radius, RIM_U_MM.of(rim.scatter), rivalled)
    if _is_whole(photos, frame, rim):
        return FlangeSeen(rim.middle, rim.radius, WHOLE_RIM_U_MM, rivalled)
    seen = _agreed(photos, frame, rim, rim.middle)
    if not (seen.doubtful or rivalled):
        return seen
    near = max(span[0], rim.middle - FAR_MM), min(span[1], rim.middle + FAR_MM)
    place = find_pattern(photos, frame, near)
    if place is None:
        return replace(seen, doubtful=True)
    if abs(place - seen.middle) < ELSEWHERE_MM / 2:
        return seen
    # Something else than a flange may have been found: what all bosses together say counts instead.
    return replace(_agreed(photos, frame, rim, place), doubtful=True)


def _agreed(photos: Sequence[SoftPhoto], frame: LyingFrame, rim: _Rim, place: float) -> FlangeSeen:
    """Return the middle one of a place, of the faces found near it, and of those fitted."""
    tops = find_tops(photos, frame, place)
    if tops is None:
        return FlangeSeen(place, rim.radius, RIM_U_MM.of(rim.scatter), doubtful=True)
    fitted = fit_flange(photos, frame, tops, SHIFT_SIGMA_MM)
    middles = [place, tops.middle, fitted.middle]
    apart = max(middles) - min(middles)
    u = AGREED_U_MM.of(apart)
    return FlangeSeen(float(np.median(middles)), fitted.radius, u, apart > DOUBT_MM)


def _is_whole(photos: Sequence[SoftPhoto], frame: LyingFrame, rim: _Rim) -> bool:
    """Tell whether both edges of a flange that rests on the paper run all the way round."""
    margin = THICKNESSES_MM[-1] / 2 + NEAR_MM
    places = np.arange(rim.middle - margin, rim.middle + margin, STEP_MM)
    together = _changes(photos, frame, places, rim.radius)
    pairs = [_about_middle(_both(together, t)) for t in THICKNESSES_MM]
    j = int(
        np.argmax(
            [
                pair.mean(1).max() * w
                for pair, w in zip(pairs, THICKNESS_MM.likely(THICKNESSES_MM), strict=True)
            ]
        )
    )
    row = pairs[j][int(pairs[j].mean(1).argmax())] + CHANGE[0]
    strength = float(np.exp(np.log(row).mean()) / (np.median(together) + CHANGE[0]))
    return strength > WHOLE_RIM and rim.radius < RESTING * float(frame.at(rim.middle)[2])


def _flange(photos: Sequence[SoftPhoto], frame: LyingFrame, less: Array, half: Flags) -> _Rim | None:
    """Return the flange on one half of the hub, whose outline reaches ``less`` mm aside on both sides."""
    farthest = less >= np.percentile(less[half], FARTHEST_PERCENT) - FARTHEST_SLACK_MM
    half = half & binary_dilation(farthest, iterations=15)
    possible = half & _possible(frame, less)
    if not possible.any():
        return None
    margin = round(THICKNESSES_MM[-1] / STEP_MM)
    first, last = np.flatnonzero(half)[[0, -1]]
    part = slice(max(first - margin, 0), last + margin)
    places = PLACES_MM[part]
    fits = np.array([_pairs(photos, frame, places, r) for r in RADII_MM])
    fits *= THICKNESS_MM.likely(THICKNESSES_MM)
    fits *= possible[:, part, None]
    return _weighed(fits, places)


def _possible(frame: LyingFrame, less: Array) -> Flags:
    """Tell which radii (R, places) a flange may have: as high as it lies, as far as it reaches aside."""
    heights = frame.origin[2] + PLACES_MM * frame.along[2]
    radii = RADII_MM[:, None]
    by_height = (radii > heights - HEIGHT_SLACK_MM) & (
        radii < heights / LEAST_RESTING_SHARE + HEIGHT_SLACK_MM / 2
    )
    by_reach = (less > ASIDE_SHARE * radii) & (less < radii + ASIDE_SLACK_MM) & (less > LEAST_ASIDE_MM)
    return np.asarray(by_height & by_reach)


def _pairs(photos: Sequence[SoftPhoto], frame: LyingFrame, places: Array, radius: float) -> Array:
    """Return how strongly photos show both edges at the same angles about a place, (places, thicknesses)."""
    together = _changes(photos, frame, places, radius)
    out = np.zeros((len(places), len(THICKNESSES_MM)))
    for j, thickness in enumerate(THICKNESSES_MM):
        k = round(thickness / 2 / STEP_MM)
        out[k:-k, j] = _both(together, thickness).mean(1)
    return out


def _about_middle(rows: Array) -> Array:
    middle = len(rows) // 2
    return rows[middle - SLACK_STEPS : middle + SLACK_STEPS + 1]


def _both(together: Array, thickness: float) -> Array:
    """Return how strong edges this thick apart are at each angle, (places but those at both ends, angles)."""
    k = round(thickness / 2 / STEP_MM)
    return np.asarray(np.sqrt(together[: -2 * k] * together[2 * k :]))


def _changes(photos: Sequence[SoftPhoto], frame: LyingFrame, places: Array, radius: float) -> Array:
    """Return how strongly all photos show an edge across the axis, (places, angles)."""
    together = np.zeros((len(places), len(AROUND)))
    outward = frame.outward(AROUND)
    points = frame.round(places, radius, AROUND)
    for photo in photos:
        change = np.abs(gaussian_filter1d(photo.sharp(points), SMOOTH_STEPS, axis=0, order=1))
        change = maximum_filter1d(np.minimum(change, CHANGE[1]), SLACK_STEPS, axis=0)
        together += np.log(change * photo.sees(points, outward) + CHANGE[0]) / len(photos)
    return np.asarray(np.exp(together))


def _weighed(fits: Array, places: Array) -> _Rim | None:
    """Return the flange that (radii, places, thicknesses) near the best one make, weighed by their fit."""
    by_place = fits.max((0, 2))
    best = float(by_place.max())
    if best <= 0:
        return None
    from_best = np.abs(places - places[int(by_place.argmax())])
    near = from_best < NEAR_MM
    part = fits[:, near, :]
    weight = np.where(part > 0, np.exp(SHARPNESS * (part / best - 1)), 0.0)
    weight /= weight.sum()
    shares = weight.sum((0, 2))
    middle = float(shares @ places[near])
    return _Rim(
        middle=middle,
        radius=float(weight.sum((1, 2)) @ RADII_MM),
        scatter=float(np.sqrt(shares @ (places[near] - middle) ** 2)),
        rival=float(by_place[from_best > ELSEWHERE_MM].max(initial=0.0)) / best,
    )
