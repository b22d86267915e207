"""Drawn pictures of a rod over two blocks above the sheet: true shapes in space, no lens distortion."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from flat_pictures import FINE, FlatPicture
from hub_pictures import rod
from hubsight.camera import View
from scenes import look_at

SMALL, LARGE = (2016, 1512), (4032, 3024)
CENTRE = np.array([0.003, -0.004])
"""Of the lens' axis from the picture's middle, per long side."""
FOCAL = 0.757
"""Per long side."""
STEEL, BLOCK = 0.12, 0.5
"""Linear light."""
PHOTOS = ((0.0, 3.0), (22.0, 40.0), (24.0, 160.0), (20.0, 280.0))
"""Tilt and azimuth, degrees."""


@dataclass(frozen=True)
class RodScene:
    """A rod and its photos; lengths in mm, angles in degrees.

    ``moved`` shifts the rod in the last photo, ``head`` is the thickness of a spoke's head at one end,
    ``blur`` that of all photos, px.
    """

    length: float = 100.0
    height: float = 80.0
    middle: tuple[float, float] = (2.0, 3.0)
    turned: float = 8.0
    slope: float = 0.0
    diameter: float = 2.0
    scales: tuple[float, float] = (1.0, 1.0)
    blocks: float | None = 20.0
    photos: tuple[tuple[float, float], ...] = PHOTOS
    distance: float = 410.0
    size: tuple[int, int] = SMALL
    light: float = STEEL
    moved: tuple[float, float, float] = (0.0, 0.0, 0.0)
    head: float = 0.0
    blur: float = 0.0
    seed: int = 0

    def direction(self):
        a, s = np.radians([self.turned, self.slope])
        return np.array([np.cos(a) * np.cos(s), np.sin(a) * np.cos(s), np.sin(s)])

    def camera(self):
        long = max(self.size)
        middle = (np.array(self.size) - 1) / 2 + CENTRE * long
        return np.array([FOCAL * long, *middle, 0, 0, 0, 0, 0])

    def view(self, photo):
        tilt, azimuth = self.photos[photo]
        random = np.random.default_rng([self.seed, photo])
        own = random.standard_normal(3) * np.array([5e-4, 1.0, 1.0])
        pose = look_at(
            azimuth + random.uniform(-8, 8), tilt, self.distance + random.uniform(-15, 15), 5 * photo
        )
        return View(self.camera(), np.concatenate([own, pose]))

    def draw(self, photo):
        """One photo, (H, W)."""
        picture = FlatPicture(self.view(photo), self.scales, self.size)
        out = self.direction()
        middle = np.array([*self.middle, self.height])
        if photo == len(self.photos) - 1:
            middle = middle + self.moved
        end = middle + self.length / 2 * out
        wire = rod(end, out, self.length, self.diameter)
        if self.diameter:
            picture.shade(wire, (0.35, 0.2), softness=3.0)
        for sign in () if self.blocks is None else (-1, 1):
            picture.fill(self.block(sign), BLOCK)
        if self.diameter:
            picture.fill(wire, self.light)
        if self.head:
            picture.fill(
                rod(end - (self.length - self.head) * out, out, self.head, 3.7, rounding=0.0), self.light
            )
        if self.blur:
            picture.canvas = cv2.GaussianBlur(picture.canvas, (0, 0), FINE * self.blur)
        return picture.developed(seed=10 * self.seed + photo)

    def block(self, sign):
        """Corners of one of the two blocks under the rod, its top just below it."""
        across = np.array([-self.direction()[1], self.direction()[0], 0.0])
        along = np.array([*self.direction()[:2], 0.0])
        foot = np.array([*self.middle, 0.0]) + sign * self.blocks * along
        top = self.height - self.diameter / 2
        return np.array(
            [
                foot + x * along + y * across + [0, 0, z]
                for x in (-5, 5)
                for y in (-12, 12)
                for z in (0.0, top)
            ]
        )

    def save(self, folder, *, model="One"):
        """Write all photos with a focal length in their tags that is 1 % off, as tags are."""
        exif = Image.Exif()
        exif[0x010F], exif[0x0110] = "Invented", model
        exif.get_ifd(0x8769).update(
            {0x920A: 4.2, 0xA405: 1.01 * FOCAL * max(self.size) * np.hypot(36, 24) / np.hypot(*self.size)}
        )
        folder.mkdir(exist_ok=True)
        files = [folder / f"rod{k}.jpg" for k in range(len(self.photos))]
        for k, file in enumerate(files):
            Image.fromarray(self.draw(k)).convert("RGB").save(file, quality=92, exif=exif)
        return files
