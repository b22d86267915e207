"""From photos of a ruler on the sheet to the print's scale along it, and what the check bars say to that.

What a photo gives is one length: stated over seen. Along the ruler's direction (cosines a and b) it fixes the
combination a^2 scale_x + b^2 scale_y; the ratio of the two scales every set of photos shows by itself, since
cameras have square pixels. So the ruler enters an adjustment as one observation of that combination.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hubsight.camera import CameraPrior, CameraProfile, View, prior_for
from hubsight.camera.observe import view_in, view_of
from hubsight.estimate.problem import Problem, Solution
from hubsight.measure.sheet import UNSETTLED, sheet_of
from hubsight.model.arrays import Array
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, Ruler, ScaleAlong, StatedTarget
from hubsight.model.uncertainty import APART_SIGMAS
from hubsight.see.flat.caliper import see_lying_caliper
from hubsight.see.flat.ends import RulerEnds
from hubsight.see.flat.gauge import see_lying_gauge
from hubsight.target.geometry import TargetGeometry, target_geometry
from hubsight.target.print_scale import print_scale
from hubsight.target.sheet import uncalibrated
from hubsight.target.shots import Shot, take_shots

ALONG = 0.9
"""A squared cosine above this is along the axis."""
DERIVATIVE_STEP = 0.05
"""Step of a numerical derivative, in the standard uncertainty of the unknown."""


@dataclass(frozen=True)
class FlatScale:
    """What photos of a ruler on the sheet say of the print.

    Attributes
    ----------
    along
        The observation, for further adjustments; widened where the check bars contradict it.
    photos
        Names of those used.
    seen
        Per photo the ruler's length if the print were at 100 %, mm.
    sentences, warnings
        What it means, and what is wrong.
    scales
        In x and y, by both bars and ruler together; None where not both bars were read.
    bar_factor
        By how much the bars' uncertainties have to be widened; 1 where they agree.
    """

    along: ScaleAlong
    photos: tuple[str, ...]
    seen: tuple[float, ...]
    sentences: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    scales: tuple[Reading, Reading] | None = None
    bar_factor: float = 1.0

    def target(self, stated: StatedTarget) -> StatedTarget:
        """Return the target with the ruler's scale, and with bars that do not contradict it any more."""
        x, y = (
            None if bar is None else replace(bar, u=bar.u * self.bar_factor)
            for bar in (stated.bar_x, stated.bar_y)
        )
        return StatedTarget(stated.paper, x, y, self.along)


def scale_from_photos(
    paths: Sequence[Path], target: StatedTarget, ruler: Ruler, *, profile: CameraProfile | None = None
) -> FlatScale | Refusal:
    """Find the print's scale from photos of a ruler that lies on the sheet.

    Parameters
    ----------
    paths
        One photo or several, by one camera, from above; the ruler may lie otherwise in each.
    target
        The sheet; its bars, if read, are compared with the ruler.
    ruler
        What lies on it.
    profile
        Of the camera, if calibrated.

    Returns
    -------
    FlatScale or Refusal
        A refusal says in which photo the ruler was not found, if in none.
    """
    geometry = target_geometry(target.paper)
    taken = take_shots(paths, geometry)
    if isinstance(taken, Refusal):
        return taken
    shots, notes = taken
    camera, strange = _camera(shots, profile)
    solution = _sheet(shots, camera, target).solve()
    if not solution.converged:
        return UNSETTLED
    seen = [_see(shot, view_in(solution, k), geometry, ruler) for k, shot in enumerate(shots)]
    used = [k for k, ends in enumerate(seen) if isinstance(ends, RulerEnds)]
    refusals = [
        ends.model_copy(update={"photo": shot.photo.file})
        for shot, ends in zip(shots, seen, strict=True)
        if isinstance(ends, Refusal)
    ]
    if not used:
        return refusals[0]
    lengths = [_length(solution, k, ends) for k, ends in enumerate(seen) if isinstance(ends, RulerEnds)]
    along = _along(lengths, ruler.length)
    alone = FlatScale(
        along=along,
        photos=tuple(shots[k].photo.file for k in used),
        seen=tuple(one.nominal for one in lengths),
        sentences=(*strange, _meaning(along, ruler, len(used))),
        warnings=(*notes, *(f"{r.photo} was not used: {r.reason}. {r.remedy}" for r in refusals)),
    )
    found = _with_bars(target, alone)
    if found is alone:
        return found
    again = _sheet(shots, camera, found.target(target))
    again.start = solution.x
    scales = _scales(again.solve())
    return replace(found, scales=scales, sentences=(*found.sentences, _together(scales)))


def _camera(shots: Sequence[Shot], profile: CameraProfile | None) -> tuple[CameraPrior, list[str]]:
    """Return what is known of the camera; a profile of another one is left aside, and that is said."""
    photo = shots[0].photo
    if profile is not None:
        prior = prior_for(profile, [shot.photo for shot in shots])
        if not isinstance(prior, Refusal):
            return prior, []
    tagged = photo.focal_prior_px
    focal = None if tagged is None else Reading(tagged.value, tagged.u)
    note = "The photos of the ruler are of another camera: the profile was not used for them"
    return uncalibrated(photo.width, photo.height, focal), [] if profile is None else [note]


def _sheet(shots: Sequence[Shot], camera: CameraPrior, target: StatedTarget) -> Problem:
    photo = shots[0].photo
    return sheet_of([shot.sighting for shot in shots], camera, target, (photo.width, photo.height))


def _see(shot: Shot, view: View, geometry: TargetGeometry, ruler: Ruler) -> RulerEnds | Refusal:
    if ruler.kind == "caliper":
        return see_lying_caliper(shot.picture, view, geometry, ruler.length.value)
    return see_lying_gauge(shot.picture, view, geometry, ruler)


@dataclass(frozen=True)
class _Length:
    """The ruler in one photo: length on a print at 100 % and on the sheet as adjusted, mm; squared cosines.

    Standard uncertainties: ``u_own`` is this photo's alone, ``u_common`` is shared by all photos of the ruler
    (its edges and heights).
    """

    nominal: float
    on_sheet: float
    cosines: Array
    u_own: float
    u_common: float


def _length(solution: Solution, photo: int, ends: RulerEnds) -> _Length:
    """Return the ruler's length with what camera, pose, ends and heights leave open."""
    layout = solution.layout
    scale = layout["scale"]

    def nominal(x: Array, lying: RulerEnds) -> float:
        vector = lying.length(view_of(layout, x, photo))
        return float(np.linalg.norm(vector / x[scale]))

    on_sheet = ends.length(view_in(solution, photo))
    vector = on_sheet / solution["scale"]
    value = float(np.linalg.norm(vector))
    where = np.r_[layout["camera"], layout[f"photo{photo}"], scale]
    sigma = np.sqrt(np.diag(solution.covariance))
    slope = np.zeros(len(where))
    for row, index in enumerate(where):
        step = DERIVATIVE_STEP * sigma[index]
        if step > 0:
            shifted = solution.x.copy()
            shifted[index] += step
            slope[row] = (nominal(shifted, ends) - value) / step
    u_pose = float(np.sqrt(max(slope @ solution.covariance[np.ix_(where, where)] @ slope, 0.0)))
    by_height = []
    for k in range(2):
        higher = ends.heights.copy()
        higher[k] += ends.height_u[k]
        by_height.append(nominal(solution.x, replace(ends, heights=higher)) - value)
    return _Length(
        value,
        float(np.linalg.norm(on_sheet)),
        (vector / value) ** 2,
        float(np.linalg.norm([u_pose, *ends.u])),
        float(np.linalg.norm([*by_height, *ends.common_u])),
    )


def _along(lengths: Sequence[_Length], stated: Reading) -> ScaleAlong:
    """Combine photos: each errs by itself, and all alike in the ruler's length, edges and heights.

    Where the ruler points elsewhere it is longer or shorter on the print, by the ratio of the two scales: so
    lengths are compared on the sheet as adjusted. Its ratio of scales is right, its mean scale need not be.
    """
    seen = np.array([one.on_sheet for one in lengths])
    own = np.array([one.u_own for one in lengths])
    weight = own**-2 / np.sum(own**-2)
    mean = float(weight @ seen)
    scatter = float(np.sqrt(np.sum(weight * (seen - mean) ** 2) / max(len(seen) - 1, 1)))
    u_mean = max(float(np.sum(own**-2) ** -0.5), scatter)
    u_common = float(weight @ np.array([one.u_common for one in lengths]))
    x, y = weight @ np.array([one.cosines for one in lengths])
    value = stated.value / mean * float(weight @ np.array([one.on_sheet / one.nominal for one in lengths]))
    u = value * float(np.sqrt((stated.u / stated.value) ** 2 + (np.hypot(u_mean, u_common) / mean) ** 2))
    return ScaleAlong(x=float(x), y=float(y), value=value, u=u)


def _meaning(along: ScaleAlong, ruler: Ruler, photos: int) -> str:
    where = next((f"along {axis}" for axis in "xy" if getattr(along, axis) > ALONG), "where it lay")
    percent = 100 * (along.value - 1)
    return (
        f"By the {ruler.kind} of {ruler.length.value:.2f} mm in {photos} photo{'s' * (photos > 1)} the "
        f"print is, "
        f"{where}, {abs(percent):.2f} % too {'large' if percent > 0 else 'small'}: scale "
        f"{along.value:.4f} with standard uncertainty {along.u:.4f}"
    )


def _scales(solution: Solution) -> tuple[Reading, Reading]:
    """Return the print's scales in x and y as adjusted; the photos show their ratio."""
    u = np.sqrt(solution.covariance.diagonal()[solution.layout["scale"]])
    x, y = (Reading(float(value), float(sigma)) for value, sigma in zip(solution["scale"], u, strict=True))
    return x, y


def _together(scales: tuple[Reading, Reading]) -> str:
    x, y = scales
    return (
        f"Bars and ruler together: scale {x.value:.4f} along x and {y.value:.4f} along y, each with standard "
        f"uncertainty {100 * max(x.u, y.u):.3f} %"
    )


def _with_bars(target: StatedTarget, found: FlatScale) -> FlatScale:
    """Compare the ruler with the check bars; where they contradict each other neither can be trusted."""
    x, y = print_scale(target.bar_x), print_scale(target.bar_y)
    if x is None or y is None:
        return found
    along = found.along
    bars = along.x * x.value + along.y * y.value
    u = float(np.sqrt((along.x * x.u) ** 2 + (along.y * y.u) ** 2 + along.u**2))
    off = (along.value - bars) / u
    if abs(off) < APART_SIGMAS:
        agree = f"The check bars' readings give {bars:.4f} along it: they agree, and both count"
        return replace(found, sentences=(*found.sentences, agree))
    factor = abs(off)
    said = (
        f"the ruler on the sheet gives a print scale of {along.value:.4f}, the check bars' readings "
        f"{bars:.4f} along it: they contradict each other, and all uncertainties were widened by "
        f"{factor:.0f}; measure both bars and the ruler again"
    )
    wide = ScaleAlong(along.x, along.y, along.value, along.u * factor)
    return replace(found, along=wide, warnings=(*found.warnings, said), bar_factor=factor)
