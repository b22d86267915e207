"""The obvious alternatives, on features projected by an ideal camera."""

from pathlib import Path

import numpy as np
import pytest
from bench.alternatives import DIAGONAL_35MM, errors
from bench.corpus import Side

HEIGHT, RADIUS, OFFSET, LENGTH, DISTANCE = 90.0, 22.0, 2.0, 100.0, 400.0
FOCAL_35 = 26


def looking_down(points):
    """Pixels of an ideal 12-megapixel camera above the sheet's centre."""
    focal = FOCAL_35 / DIAGONAL_35MM * np.hypot(4032, 3024)
    x, y, z = np.asarray(points, dtype=float).reshape(-1, 3).T
    depth = DISTANCE - z
    return np.column_stack([focal * x / depth + 4031 / 2, -focal * y / depth + 3023 / 2])


def seen(points):
    points = np.asarray(points, dtype=float).reshape(-1, 3)
    return [
        {"px": list(pixel), "xyz": list(xyz), "visible": True}
        for pixel, xyz in zip(looking_down(points), points, strict=True)
    ]


def side(gauge_drop=0.0, stated_height=HEIGHT):
    """A hub whose gauge leaves square to the centreline, its far end lower by ``gauge_drop``."""
    azimuths = np.radians(60.0 * np.arange(6))
    bosses = np.column_stack([RADIUS * np.cos(azimuths), RADIUS * np.sin(azimuths), np.full(6, HEIGHT)])
    level = np.sqrt((LENGTH - OFFSET) ** 2 - gauge_drop**2)
    crossing = bosses[0]
    tip = crossing + np.array([0.0, level, -gauge_drop])
    leaves = crossing + (tip - crossing) * 4.0 / (LENGTH - OFFSET)
    points = {
        "saddles": seen([(x, y, 0) for x in (-120, 0, 120) for y in (-80, 0, 80)]),
        "lump_C": seen(bosses),
        "gauge_exit": seen(leaves),
        "gauge_tip": seen(tip),
    }
    photo = {"points": points, "camera": {"width": 4032, "height": 3024, "exif_f35": FOCAL_35}}
    truth_file = {
        "print_scale_x": 1.0,
        "print_scale_y": 1.0,
        "sets": {"ds": {"photos": [photo], "gauges": [{"lump": 0}]}},
    }
    return Side(
        hub="h",
        side="ds",
        photos=(),
        near_vertical=Path("a.jpg"),
        job={"checkbar_x": 120.0, "checkbar_y": 120.0},
        stated={"flange_mid_height": stated_height, "gauge_stated_length": [LENGTH]},
        truth_file=truth_file,
        truth={
            "flange_diameter": 2 * RADIUS,
            "spoke_offset": OFFSET,
            "reach": LENGTH - OFFSET,
            "protrusion": LENGTH - OFFSET - 4.0,
        },
        boss_count=6,
        crosses=2,
        kind="paired",
        asymmetric=False,
    )


def test_the_sheets_scale_magnifies_by_the_height():
    # facts of projection: h above the paper at camera height H reads H / (H - h) too large
    found = errors(side(), "pixels per mm at the sheet")
    magnified = DISTANCE / (DISTANCE - HEIGHT)
    assert found["flange_diameter"] == pytest.approx(2 * RADIUS * (magnified - 1), rel=1e-6)
    assert found["spoke_offset"] == pytest.approx(-(LENGTH - OFFSET) * (magnified - 1), rel=1e-6)


def test_a_homography_is_right_where_all_it_assumes_holds():
    found = errors(side(), "homography at the stated flange height")
    assert max(abs(error) for error in found.values()) < 1e-3


def test_a_homography_errs_where_the_gauge_slopes():
    # the far end 9 mm lower, seen as if it lay at the flange's height (design: bores lean towards the rim)
    found = errors(side(gauge_drop=9.0), "homography at the stated flange height")
    assert found["spoke_offset"] > 1.0


def test_a_homography_errs_with_the_stated_height():
    found = errors(side(stated_height=HEIGHT + 1.0), "homography at the stated flange height")
    assert found["flange_diameter"] == pytest.approx(-2 * RADIUS / (DISTANCE - HEIGHT), rel=0.01)
