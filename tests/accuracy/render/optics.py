"""The camera: pinhole, Brown-Conrady distortion in OpenCV's order, thin lens; poses that show what they must.

Pixel coordinates are OpenCV's: pixel centres are integers, in the array as stored, before any EXIF rotation.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from render.design import Phone
from render.mesh import Array

NEAREST_STEP_MM = 4.0
"""Step in which a camera backs off until everything is in the picture."""


def distort(points: npt.ArrayLike, terms: npt.ArrayLike) -> Array:
    """Return distorted image points (..., 2) on the plane z = 1; ``terms`` are k1 k2 p1 p2 k3."""
    k1, k2, p1, p2, k3 = np.asarray(terms, float)
    plane = np.asarray(points, float)
    x, y = plane[..., 0], plane[..., 1]
    r2 = x * x + y * y
    radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    return np.stack(
        [
            x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
            y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
        ],
        -1,
    )


@dataclass(frozen=True, kw_only=True)
class View:
    """A posed camera.

    Attributes
    ----------
    width, height, fx, fy, cx, cy
        Pixels.
    distortion
        k1 k2 p1 p2 k3.
    rotation, translation
        x_camera = rotation @ x_target + translation; x right, y down, z forward; mm.
    aperture, focus_z
        Diameter of the opening, and the distance along z that is sharp, mm.
    """

    width: int
    height: int
    fx: float
    fy: float
    cx: float
    cy: float
    distortion: tuple[float, float, float, float, float]
    rotation: Array
    translation: Array
    aperture: float
    focus_z: float

    @property
    def eye(self) -> Array:
        """Where the lens is, in the target frame."""
        return -self.rotation.T @ self.translation

    def project(self, points: npt.ArrayLike) -> Array:
        """Return pixels (n, 2) of target-frame points (n, 3)."""
        camera = np.atleast_2d(points) @ self.rotation.T + self.translation
        plane = distort(camera[:, :2] / camera[:, 2:], self.distortion)
        return plane * [self.fx, self.fy] + [self.cx, self.cy]

    def inside(self, pixels: Array, margin: float) -> npt.NDArray[np.bool_]:
        """Tell which pixels keep a margin from the picture's edges, as a share of width and height."""
        across, down = pixels[:, 0], pixels[:, 1]
        low_x, low_y = margin * self.width, margin * self.height
        high_x, high_y = (1 - margin) * self.width, (1 - margin) * self.height
        return (across > low_x) & (across < high_x) & (down > low_y) & (down < high_y)

    def scaled(self, divisor: int) -> View:
        """Return the same camera with pixels ``divisor`` times as large."""
        return replace(
            self,
            width=self.width // divisor,
            height=self.height // divisor,
            fx=self.fx / divisor,
            fy=self.fy / divisor,
            cx=(self.cx + 0.5) / divisor - 0.5,
            cy=(self.cy + 0.5) / divisor - 0.5,
        )


def look_at(eye: npt.ArrayLike, aim: npt.ArrayLike, roll_deg: float) -> tuple[Array, Array]:
    """Return rotation and translation of a camera; roll 0 has the frame's x to the right, or nearly."""
    position, target = np.asarray(eye, float), np.asarray(aim, float)
    z = target - position
    z /= np.linalg.norm(z)
    x = np.array([1.0, 0, 0])
    x -= z * (x @ z)
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    rotation = np.stack([c * x + s * y, -s * x + c * y, z])
    return rotation, -rotation @ position


@dataclass(frozen=True)
class Tags:
    """What a photo says of itself in EXIF, and its JPEG quality."""

    make: str
    model: str
    orientation: int
    taken: str
    f_mm: float
    f35: int
    f_number: float
    iso: int
    quality: int


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One photo to take.

    Attributes
    ----------
    view
        The posed camera.
    focus_on
        ``flange``, ``paper``, ``near`` or ``far``.
    distance, tilt_deg, azimuth_deg, roll_deg
        To the point aimed at; from the vertical; of the lens as seen from there; about the lens' axis.
    tags
        For EXIF.
    motion
        Streak during the exposure, (px, direction in degrees), or None.
    """

    view: View
    focus_on: str
    distance: float
    tilt_deg: float
    azimuth_deg: float
    roll_deg: float
    tags: Tags
    motion: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Framing:
    """How a camera is placed.

    Attributes
    ----------
    tilt_deg, azimuth_deg, roll_deg, aim, focus
        Direction and points (3,), target frame.
    saddles, needed
        Points (n, 3) of which a ``share`` has to be in the picture, and all.
    nearest, farthest, stretch
        Distances to try; and up to how much farther than needed it stands, as a ratio.
    """

    tilt_deg: float
    azimuth_deg: float
    roll_deg: float
    aim: Array
    focus: Array
    saddles: Array
    needed: Array
    nearest: float
    farthest: float = 600.0
    share: float = 0.9
    stretch: float = 1.05


def frame_camera(phone: Phone, how: Framing, generator: np.random.Generator) -> tuple[View, float]:
    """Return the nearest camera that shows what it must, stepped back a little, and its distance."""
    tilt, azimuth = np.radians(how.tilt_deg), np.radians(how.azimuth_deg)
    direction = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
    f = phone.f * generator.uniform(0.9985, 1.0015)
    cx, cy = phone.cx + generator.uniform(-2, 2), phone.cy + generator.uniform(-2, 2)

    def placed(distance: float) -> View:
        rotation, translation = look_at(how.aim + direction * distance, how.aim, how.roll_deg)
        return View(
            width=phone.width,
            height=phone.height,
            fx=f,
            fy=f,
            cx=cx,
            cy=cy,
            distortion=phone.distortion,
            rotation=rotation,
            translation=translation,
            aperture=phone.aperture,
            focus_z=float((rotation @ how.focus + translation)[2]),
        )

    for distance in np.arange(how.nearest, how.farthest + 1, NEAREST_STEP_MM):
        view = placed(distance)
        if (
            view.inside(view.project(how.needed), 0.02).all()
            and view.inside(view.project(how.saddles), 0.004).mean() >= how.share
        ):
            break
    back = min(distance * generator.uniform(1.0, how.stretch), how.farthest)
    return placed(back), float(back)
