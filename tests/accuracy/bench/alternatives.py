"""What the two obvious alternatives give on the same pictures: the reason for doing it the long way.

*Sheet scale*: one number of pixels per millimetre, read off the sheet, applied to the hub.
*Homography*: the picture rectified to a plane at the stated flange height, the gauge taken as lying in it;
camera from EXIF, no distortion.

Both are flattered: they get the true positions of every feature in the near-vertical photo.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from bench.corpus import Side, Vector

DIAGONAL_35MM = float(np.hypot(36.0, 24.0))
"""Of the picture that a 35 mm equivalent focal length refers to, mm."""

Plane = Callable[[Vector], Vector]
"""From pixels (n, 2) to millimetres (n, 2) in some plane."""


def _points(photo: dict[str, Any], name: str) -> Vector:
    return np.array([point["px"] for point in photo["points"][name]], dtype=np.float64)


def _saddles(photo: dict[str, Any], side: Side) -> tuple[Vector, Vector]:
    """Return pixels, and positions on the sheet by the user's readings of the check bars."""
    true = np.array([point["xyz"][:2] for point in photo["points"]["saddles"]], dtype=np.float64)
    actual = np.array([side.truth_file["print_scale_x"], side.truth_file["print_scale_y"]])
    believed = np.array([side.job["checkbar_x"], side.job["checkbar_y"]]) / 120.0
    return _points(photo, "saddles"), true / actual * believed


def sheet_scale(photo: dict[str, Any], side: Side) -> Plane:
    """One scale for everything: mean distance between saddles, in pixels and in millimetres."""
    pixels, sheet = _saddles(photo, side)

    def mean_distance(points: Vector) -> float:
        return float(np.linalg.norm(points[:, None] - points[None], axis=2).mean())

    per_mm = mean_distance(pixels) / mean_distance(sheet)
    return lambda points: points / per_mm


def homography(photo: dict[str, Any], side: Side) -> Plane:
    """Rectify to the stated flange height, with the pose of a camera as EXIF describes it."""
    camera = photo["camera"]
    focal = camera["exif_f35"] / DIAGONAL_35MM * np.hypot(camera["width"], camera["height"])
    matrix = np.array(
        [[focal, 0, (camera["width"] - 1) / 2], [0, focal, (camera["height"] - 1) / 2], [0, 0, 1]]
    )
    pixels, sheet = _saddles(photo, side)
    flat = np.column_stack([sheet, np.zeros(len(sheet))])
    _, rotation, translation = cv2.solvePnP(flat, pixels, matrix, None)
    turn = cv2.Rodrigues(rotation)[0]
    height = side.stated["flange_mid_height"]
    onto_plane = matrix @ np.column_stack([turn[:, 0], turn[:, 1], turn[:, 2] * height + translation.ravel()])
    back = np.linalg.inv(onto_plane)

    def to_plane(points: npt.NDArray[np.float64]) -> Vector:
        rays = np.column_stack([points, np.ones(len(points))]) @ back.T
        return np.asarray(rays[:, :2] / rays[:, 2:])

    return to_plane


def _circle_centre(points: Vector) -> Vector:
    """Return the centre of the least-squares circle through points all around it."""
    design = np.column_stack([2.0 * points, np.ones(len(points))])
    solution = np.linalg.lstsq(design, (points**2).sum(axis=1), rcond=None)[0]
    return np.asarray(solution[:2])


def figures(photo: dict[str, Any], side: Side, plane: Plane) -> dict[str, float]:
    """Return what a plane gives for the figures, from the first gauge."""
    bosses = plane(_points(photo, "lump_C"))
    exit_point, tip = (plane(_points(photo, name))[0] for name in ("gauge_exit", "gauge_tip"))
    centre = _circle_centre(bosses)
    diameter = 2.0 * float(np.linalg.norm(bosses - centre, axis=1).mean())
    length = side.stated["gauge_stated_length"][0]
    protrusion = float(np.linalg.norm(tip - exit_point))
    found = {"flange_diameter": diameter, "protrusion": protrusion}
    if side.kind == "radial":
        return {**found, "spoke_offset": length - protrusion}
    gauge = side.truth_file["sets"][side.side]["gauges"][0]
    radial = bosses[gauge["lump"]] - centre
    normal = np.array([-radial[1], radial[0]])
    crossing = tip + (tip - exit_point) * (normal @ (centre - tip)) / (normal @ (tip - exit_point))
    reach = float(np.linalg.norm(tip - crossing))
    return {**found, "reach": reach, "spoke_offset": length - reach}


ALTERNATIVES: dict[str, Callable[[dict[str, Any], Side], Plane]] = {
    "pixels per mm at the sheet": sheet_scale,
    "homography at the stated flange height": homography,
}


def errors(side: Side, alternative: str) -> dict[str, float]:
    """Return the errors, mm, of an alternative on the near-vertical photo of a side."""
    photo = side.truth_file["sets"][side.side]["photos"][0]
    found = figures(photo, side, ALTERNATIVES[alternative](photo, side))
    return {name: value - side.truth[name] for name, value in found.items()}
