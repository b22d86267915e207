"""Time and memory of `hubsight calibrate` on 20 drawn photos of 12 megapixels; run it by hand, alone.

python tests/accuracy/calibrate_speed.py [--photos N]
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.tool import run_tool

from hubsight.camera import View
from scenes import SIZE, poses
from sheet_pictures import photograph

CAMERA = np.array([3050.0, 2020.0, 1490.0, 0, 0, 0, 0, 0])
LONGEST_S, LARGEST_MB = 40.0, 1000.0


def main() -> int:
    """Draw, calibrate, and compare with the limits."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--photos", type=int, default=20)
    count = parser.parse_args().photos
    with tempfile.TemporaryDirectory(prefix="hubsight-speed-") as folder:
        files = []
        for k, pose in enumerate(poses(count)):
            view = View(CAMERA, np.concatenate([np.zeros(3), pose]))
            picture = photograph(view, SIZE, blur_px=1.2, noise=2.0, seed=k)
            files.append(f"{folder}/IMG_{k:02}.jpg")
            Image.fromarray(picture).convert("RGB").save(files[-1], quality=92)
        run = run_tool("calibrate", *files, "--json")
    if run.code:
        print(run.errors)
        return 1
    found = json.loads(run.output)
    off = found["focal_px"]["value"] / CAMERA[0] - 1
    print(
        f"{count} photos of 12 MP: {run.seconds:.1f} s, {run.peak_mb:.0f} MB; focal length {100 * off:+.3f} %"
    )
    return int(run.seconds > LONGEST_S or run.peak_mb > LARGEST_MB)


if __name__ == "__main__":
    sys.exit(main())
