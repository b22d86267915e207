"""Which photos show the same set-up: one hub and gauge that nobody touched between them.

In photos of one set-up the rays to the gauge's end meet in one point above the sheet; after the hub was
turned over and the gauge pulled out again they do not. One photo alone sees the end less surely than a
measured set, so this tells gross differences only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from hubsight.camera.observe import view_in
from hubsight.measure.first_look import gauge_in
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, Reading, TipKind
from hubsight.photo import Photo, load_photo
from hubsight.target.find import find_target, grey
from hubsight.target.geometry import target_geometry
from hubsight.target.sheet import sheet_problem, uncalibrated

ONE_END_MM = 6.0
"""Distance from the common point beyond which a photo shows another set-up, mm; raising it lets photos of two
set-ups pass for one. On rendered photos of one set-up it is 0.1 to 2 mm."""
ON_SHEET_MM = 12.0
"""Height below which the gauge lies on the sheet itself, mm."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class EndRay:
    """The ray from the lens to the gauge's end: where it begins, and its unit direction; mm, target frame."""

    start: Array
    direction: Array

    def distance(self, point: Array) -> float:
        """Return the distance of a point from the ray, mm."""
        off = point - self.start
        return float(np.linalg.norm(off - (off @ self.direction) * self.direction))


@dataclass(frozen=True)
class SeenInPhoto:
    """What a photo shows of a set-up.

    Attributes
    ----------
    file
        The photo.
    refusal
        Why nothing can be said: no photo, no target, another paper's target.
    sha256
        Of the file; empty where it cannot be read.
    gauge
        Whether a gauge is seen.
    end
        The ray to its end, where that is seen.
    """

    file: Path
    refusal: Refusal | None = None
    sha256: str = ""
    gauge: bool = False
    end: EndRay | None = None


def see_in_photo(file: Path, paper: PaperName = "a4", tip: TipKind = "flat") -> SeenInPhoto:
    """Return what one photo shows of a set-up, by itself."""
    photo = load_photo(file)
    if isinstance(photo, Refusal):
        return SeenInPhoto(file, photo)
    picture = grey(photo.pixels)
    sighting = find_target(picture, target_geometry(paper))
    if isinstance(sighting, Refusal):
        return SeenInPhoto(file, sighting.model_copy(update={"photo": photo.file}), photo.sha256)
    prior = uncalibrated(photo.width, photo.height, _focal(photo))
    view = view_in(sheet_problem([sighting], prior, (None, None), max(photo.width, photo.height)).solve(), 0)
    found = gauge_in(picture, view, tip)
    if found is None or found[1] is None:
        return SeenInPhoto(file, None, photo.sha256, found is not None)
    pixel = np.array([[found[1]]], dtype=np.float64)
    u, v = cv2.undistortPoints(pixel, view.matrix, view.distortion)[0, 0]
    direction = view.rotation.T @ np.array([u, v, 1.0])
    ray = EndRay(view.position, direction / np.linalg.norm(direction))
    return SeenInPhoto(file, None, photo.sha256, True, ray)


def _focal(photo: Photo) -> Reading | None:
    focal = photo.focal_prior_px
    return None if focal is None else Reading(focal.value, focal.u)


def common_end(rays: Sequence[EndRay]) -> Array | None:
    """Return the point that lies nearest to all rays, mm; None of fewer than two, or of parallel ones."""
    if len(rays) < 2:
        return None
    across = [np.eye(3) - np.outer(ray.direction, ray.direction) for ray in rays]
    normal = np.sum(across, axis=0)
    if np.linalg.cond(normal) > 1e6:
        return None
    right = np.sum([a @ ray.start for a, ray in zip(across, rays, strict=True)], axis=0)
    return np.asarray(np.linalg.solve(normal, right), dtype=np.float64)


def standing_out(photos: Sequence[SeenInPhoto]) -> tuple[SeenInPhoto, ...]:
    """Return the photos of a set that show another set-up than the rest; all of them where nobody can tell.

    The photo without which the others agree best is left out until they agree. Two that disagree blame each
    other.
    """
    left = [photo for photo in photos if photo.end is not None]
    out: list[SeenInPhoto] = []
    while _worst(left) > ONE_END_MM:
        if len(left) == 2:
            return tuple(photos)
        k = min(range(len(left)), key=lambda k: _worst([*left[:k], *left[k + 1 :]]))
        out.append(left.pop(k))
    return tuple(photos) if out and len(out) >= len(left) else tuple(out)


def _worst(photos: Sequence[SeenInPhoto]) -> float:
    """Return the largest distance of a photo's ray from the end that all share, mm; 0 without one."""
    rays = [photo.end for photo in photos if photo.end is not None]
    end = common_end(rays)
    return 0.0 if end is None else max(ray.distance(end) for ray in rays)
