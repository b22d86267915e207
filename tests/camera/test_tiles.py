"""Many points are projected in tiles, each as it would be alone."""

import numpy as np

from hubsight.camera import View
from hubsight.camera.model import TILE


def test_points_of_several_tiles_fall_where_each_falls_alone():
    view = View(
        np.array([3100.0, 2016, 1512, 0.01, -0.02, 1e-4, 2e-4, 0.01]),
        np.array([0.001, 1, -2, 0.1, 0.2, 3.0, -10, 20, 330.0]),
    )
    points = np.random.default_rng(7).uniform(-100, 100, (2 * TILE + 5, 3))
    whole = view.project(points)
    some = [0, TILE - 1, TILE, 2 * TILE, 2 * TILE + 4]
    assert whole.shape == (len(points), 2)
    assert np.allclose(whole[some], [view.project(points[k])[0] for k in some], rtol=0, atol=1e-9)
