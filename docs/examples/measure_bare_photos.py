"""Measure one side from photos in memory, without a job: for pictures from a camera that a program drives.

The arrays are read from files here. What matters is that they are as the camera stored them, neither turned
nor cut, and that the focal length is known roughly: 3 % will do.
"""

import numpy as np
from PIL import Image

from hubsight import (
    Reading,
    StatedGauge,
    StatedSide,
    StatedTarget,
    StatedWheel,
    find_sample_job,
    measure_side,
    photo_of_array,
)

FOCAL_PX = 3145.0  # a lens of 27 mm on 35 mm film, over 4032 x 3024 pixels: 27 / 43.27 of the diagonal

files = sorted((find_sample_job() / "drive").glob("*.jpg"))[:3]
photos = [photo_of_array(np.asarray(Image.open(file)), file.name, focal_px=FOCAL_PX) for file in files]

side = StatedSide(name="drive", photos=(), gauges=(StatedGauge(length=Reading(100.08, 0.03)),))
target = StatedTarget(paper="a4", bar_x=Reading(119.27, 0.1), bar_y=Reading(119.54, 0.1))
found = measure_side(side, target, StatedWheel(spokes=24, crosses=2), photos=photos)

if not found:  # a Refusal is falsy
    raise SystemExit(found.sentence())
for name in ("flange_diameter", "spoke_offset", "boss_width"):
    figure = found.figures[name]
    print(f"{name:16} {figure.value:6.2f} mm, 95 % between {figure.low:.2f} and {figure.high:.2f}")
print(f"{found.boss_count} bosses, drilled for {found.crosses} crosses")
