"""Draw the pictures of calibration/CAMERA.md: good and poor sets of photos; run by hand.

python tests/calibrate/how_to_pictures.py calibration
"""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

sys.path.insert(0, str(Path(__file__).parents[1]))

from hubsight.calibrate.plots import write_trust
from hubsight.camera import View, load_profile
from scenes import look_at
from sheet_pictures import photograph

SIZE = (264, 198)
CAMERA = np.array([200.0, 131.5, 98.5, 0, 0, 0, 0, 0])
GAP, TEXT = 8, 30
INK, GROUND = (40, 46, 56), (228, 232, 238)


def taken(azimuth=0.0, tilt=0.0, distance=330.0, roll=0.0, aside=(0.0, 0.0)):
    """Return a photo; ``aside`` moves the sheet in the picture, px."""
    view = View(CAMERA + np.r_[0, aside, np.zeros(5)], np.r_[0, 0, 0, look_at(azimuth, tilt, distance, roll)])
    return photograph(view, SIZE)


def wavy():
    """Return a photo of a sheet that is not flat."""
    v, u = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float32)
    bent = cv2.remap(taken(90, 25), u, v + 5 * np.sin(u / 24), cv2.INTER_LINEAR, borderValue=120)
    return np.asarray(bent)


def shaken():
    """Return a photo that moved while it was taken."""
    return cv2.filter2D(taken(200, 22), -1, np.eye(9, dtype=np.float32) / 9)


def mirrored_lamp():
    """Return a photo with a lamp's reflection in the print."""
    v, u = np.mgrid[: SIZE[1], : SIZE[0]]
    lamp = 260 * np.exp(-(((u - 90) / 30) ** 2 + ((v - 55) / 18) ** 2))
    return np.clip(taken(20, 18) + lamp, 0, 255).astype(np.uint8)


def rows():
    """Return title and photos of each set."""
    good = [taken(roll=4), taken(0, 26), taken(90, 28, 340), taken(180, 24), taken(270, 30, 345)]
    more = [
        taken(45, 22, aside=(-45, -30)),
        taken(135, 24, aside=(45, -30)),
        taken(225, 26, aside=(45, 30)),
        taken(315, 24, aside=(-45, 30)),
        taken(20, 12, 480),
    ]
    above = [taken(30 * k, 3, 330 + 3 * k, 5 * k) for k in range(5)]
    side = [taken(75 + 8 * k, 22 + 2 * k, 335) for k in range(5)]
    small = [taken(72 * k, 24, 650) for k in range(5)]
    spoilt = [shaken(), wavy(), mirrored_lamp(), taken(0, 62, 380), taken(0, 0, 190)]
    return [
        ("Good: from above and tilted to all four sides ...", good),
        ("... and off-centre, so that the sheet comes near each corner, and one from further away", more),
        ("Poor: all from straight above", above),
        ("Poor: all from one side", side),
        ("Poor: the sheet small and in the middle", small),
        ("Spoilt: shaken; wavy; a lamp in the print; too slanting; the ring cut off", spoilt),
    ]


def sheet_of_sets():
    """Return all rows as one picture."""
    sets = rows()
    width = GAP + 5 * (SIZE[0] + GAP)
    picture = Image.new("L", (width, len(sets) * (SIZE[1] + TEXT + GAP)), GROUND[0])
    draw = ImageDraw.Draw(picture)
    for row, (title, photos) in enumerate(sets):
        top = row * (SIZE[1] + TEXT + GAP)
        draw.text((GAP, top + 4), title, fill=INK[0], font=ImageFont.load_default(20))
        for column, photo in enumerate(photos):
            picture.paste(Image.fromarray(photo), (GAP + column * (SIZE[0] + GAP), top + TEXT))
    return picture


def main(folder: Path) -> None:
    """Write the pictures."""
    sheet_of_sets().save(folder / "photo-sets.jpg", quality=72, optimize=True)
    write_trust(load_profile(folder / "example-camera.json"), 6e-4, folder / "example-trust.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
