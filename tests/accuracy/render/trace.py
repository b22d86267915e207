"""Path tracing through the bench's own camera: lens and distortion are traced per ray, not resampled."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np
import numpy.typing as npt

from render.mesh import Array
from render.optics import View

BOUNCES = 8

UNDISTORTING_STEPS = 12
"""Fixed-point steps from a distorted image point to the true one; 12 leave far less than 0.001 px."""

PILOT_DIVISOR, PILOT_SAMPLES, PILOT_PERCENTILE = 16, 32, 80
"""The small picture that finds the paper's level."""

SLACK_MM = 0.4
"""A point counts as seen if what the ray meets lies no farther than this in front of it."""


def hidden(scene: Any, view: View, points: Array) -> npt.NDArray[np.bool_]:
    """Tell which points (n, 3) something stands in front of, seen from the lens' centre."""
    if not len(points):
        return np.zeros(0, bool)
    away = points - view.eye
    distance = np.linalg.norm(away, axis=1)
    away = away / distance[:, None]
    origin = mi.Point3f(*view.eye.tolist())
    dr.make_opaque(origin)
    columns = [mi.Float(np.ascontiguousarray(away[:, i], np.float32)) for i in range(3)]
    met = np.array(scene.ray_intersect_preliminary(mi.Ray3f(origin, mi.Vector3f(*columns))).t)
    blocked: npt.NDArray[np.bool_] = met < distance - SLACK_MM
    return blocked


class _Lens:
    """A view's numbers on the renderer's side; none is constant in the kernel, so that it compiles once."""

    def __init__(self, view: View) -> None:
        self.turn = mi.Matrix3f(np.ascontiguousarray(view.rotation.T))
        self.eye = mi.Point3f(*[float(value) for value in view.eye])
        self.terms = [mi.Float(float(term)) for term in view.distortion]
        self.cx, self.cy = mi.Float(float(view.cx)), mi.Float(float(view.cy))
        self.per_fx, self.per_fy = mi.Float(float(1 / view.fx)), mi.Float(float(1 / view.fy))
        self.radius, self.focus_z = mi.Float(view.aperture / 2), mi.Float(float(view.focus_z))
        dr.make_opaque(self.turn, self.eye, *self.terms, self.cx, self.cy)
        dr.make_opaque(self.per_fx, self.per_fy, self.radius, self.focus_z)

    def ray(self, x: Any, y: Any, on_lens: Any) -> Any:
        """Return the ray through a pixel; ``on_lens`` is a point of the unit square."""
        xd, yd = (x - self.cx) * self.per_fx, (y - self.cy) * self.per_fy
        px, py = self._undistorted(xd, yd)
        q = mi.warp.square_to_uniform_disk_concentric(on_lens) * self.radius
        direction = dr.normalize(mi.Vector3f(px * self.focus_z - q.x, py * self.focus_z - q.y, self.focus_z))
        origin = self.eye + self.turn @ mi.Vector3f(q.x, q.y, 0)
        return mi.RayDifferential3f(origin, self.turn @ direction)

    def _undistorted(self, xd: Any, yd: Any) -> tuple[Any, Any]:
        k1, k2, p1, p2, k3 = self.terms
        x, y = mi.Float(xd), mi.Float(yd)
        for _ in range(UNDISTORTING_STEPS):
            r2 = x * x + y * y
            radial = dr.fma(r2, dr.fma(r2, dr.fma(r2, k3, k2), k1), 1)
            x, y = (
                (xd - (2 * p1 * x * y + p2 * (r2 + 2 * x * x))) / radial,
                (yd - (p1 * (r2 + 2 * y * y) + 2 * p2 * x * y)) / radial,
            )
        return x, y


def trace(scene: Any, view: View, *, samples: int, brightest: float, seed: int, chunk: int = 1) -> Array:
    """Return linear red, green, blue (height, width, 3), each pixel the mean over its square.

    Parameters
    ----------
    samples
        Per pixel; ``chunk`` of them are traced at a time, which takes memory.
    brightest
        A sample brighter than this is scaled down to it: few samples would leave it as a speck.
    """
    lens = _Lens(view)
    integrator = mi.load_dict({"type": "path", "max_depth": BOUNCES, "rr_depth": 20})
    sampler = mi.load_dict({"type": "independent"})
    pixels = view.width * view.height
    limit, width = mi.Float(brightest), mi.UInt32(view.width)
    count, total = mi.UInt32(pixels), dr.zeros(mi.Float, pixels * 3)
    dr.make_opaque(limit, count, width, total)
    index = dr.arange(mi.UInt32, pixels * chunk) % count
    column, row = mi.Float(index % width), mi.Float(index // width)
    dr.eval(index, column, row)
    passes = max(1, samples // chunk)
    for number in range(passes):
        sampler.seed(seed * 7919 + number, pixels * chunk)
        jitter, on_lens = sampler.next_2d(), sampler.next_2d()
        ray = lens.ray(column + jitter.x - 0.5, row + jitter.y - 0.5, on_lens)
        light, _, _ = integrator.sample(scene, sampler, ray, None, mi.Bool(True))
        peak = dr.max(light)
        light = dr.select(dr.isfinite(peak), light * dr.minimum(1, limit / dr.maximum(peak, 1e-8)), 0)
        for channel in range(3):
            dr.scatter_reduce(dr.ReduceOp.Add, total, light[channel], index * 3 + channel)
        dr.eval(total)
    return np.array(total).reshape(view.height, view.width, 3) / (passes * chunk)


def paper_level(scene: Any, view: View, seed: int) -> float:
    """Return the paper's brightness, which sets exposure and the brightest sample."""
    picture = trace(
        scene, view.scaled(PILOT_DIVISOR), samples=PILOT_SAMPLES, brightest=1e3, seed=seed, chunk=8
    )
    return float(np.percentile(picture.mean(2), PILOT_PERCENTILE))
