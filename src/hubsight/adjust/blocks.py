"""Observation blocks of the adjustment: what was seen in one photo, as residuals and derivatives.

World points are functions of the unknowns; each block gives the points and their derivatives by its own
unknowns, and `chain` carries them through the camera.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.adjust.problem import Layout, Linearised, view_of
from hubsight.camera import project_with_derivatives

Array = NDArray[np.float64]
Part = tuple[slice, Array]
"""Where in the unknowns, and (N, 3, k) derivatives of N points by those k unknowns."""


def chain(layout: Layout, x: Array, photo: int, points: Array, parts: list[Part]) -> tuple[Array, Array]:
    """Project points; return (N, 2) pixels and their (N, 2, n) derivatives by all unknowns."""
    p = project_with_derivatives(view_of(layout, x, photo), points)
    jac = np.zeros((len(points), 2, layout.size))
    jac[..., layout["camera"]] = p.shared
    jac[..., layout[f"photo{photo}"]] = p.own
    for where, derivative in parts:
        jac[..., where] += p.point @ derivative
    return p.pixels, jac


def pairs(residual: Array, jacobian: Array, sigma: Array | float) -> Linearised:
    """Flatten (N, 2) residuals to one row each, both coordinates weighed together."""
    n = len(residual)
    scale = np.broadcast_to(np.asarray(sigma, dtype=np.float64).reshape(-1, 1), (n, 2))
    return Linearised(
        (residual / scale).ravel(),
        (jacobian / scale[..., None]).reshape(2 * n, -1),
        np.repeat(np.arange(n), 2),
    )


def across(residual: Array, jacobian: Array, normals: Array, sigma: Array) -> Linearised:
    """Keep of (N, 2) residuals what lies along unit normals (N, 2), one row each; ``sigma`` is (N,), px."""
    rows = np.einsum("nk,nkp->np", normals, jacobian) / sigma[:, None]
    return Linearised(np.sum(residual * normals, 1) / sigma, rows, np.arange(len(residual)))


@dataclass(frozen=True)
class SaddleBlock:
    """Saddle points of the target in one photo.

    Attributes
    ----------
    photo
        Which photo.
    nominal
        (N, 2) nominal target coordinates, mm.
    rows
        (N,) which entries of the unknown paper heights belong to them.
    pixels
        (N, 2) seen.
    sigma
        Standard uncertainty of a coordinate, px.
    """

    photo: int
    nominal: Array
    rows: NDArray[np.intp]
    pixels: Array
    sigma: float
    kind: str = "target corners"

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        n = len(self.nominal)
        scale, paper = layout["scale"], layout["paper"]
        points = np.column_stack([self.nominal * x[scale], x[paper][self.rows]])
        by_scale = np.zeros((n, 3, 2))
        by_scale[:, 0, 0], by_scale[:, 1, 1] = self.nominal.T
        by_paper = np.zeros((n, 3, paper.stop - paper.start))
        by_paper[np.arange(n), 2, self.rows] = 1.0
        pixels, jac = chain(layout, x, self.photo, points, [(scale, by_scale), (paper, by_paper)])
        return pairs(pixels - self.pixels, jac, self.sigma)


def perpendiculars(direction: Array) -> tuple[Array, Array]:
    """Return two unit vectors square to ``direction`` (3,) and to each other."""
    helper = np.array([0.0, 0.0, 1.0]) if abs(direction[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    first = np.cross(helper, direction)
    first /= np.linalg.norm(first)
    return first, np.cross(direction, first)


def gauge_line(x: Array, reference: Array) -> tuple[Array, Array, Array]:
    """Return end (3,), unit direction (3,) and d direction/d slopes (3, 2) of a gauge.

    ``x`` (5,) is the end and two slopes against the unit ``reference`` direction, which points from the seat
    to the end.
    """
    e1, e2 = perpendiculars(reference)
    raw = reference + x[3] * e1 + x[4] * e2
    length = np.linalg.norm(raw)
    unit = raw / length
    across = np.stack([e1, e2], -1)
    return x[:3], unit, (across - np.outer(unit, unit @ across)) / length


def _gauge_points(
    layout: Layout, x: Array, name: str, reference: Array, back: Array
) -> tuple[Array, list[Part]]:
    """Points ``back`` mm (N,) before the gauge's end, and their derivatives by the gauge's unknowns."""
    where = layout[name]
    end, unit, by_slope = gauge_line(x[where], reference)
    points = end - back[:, None] * unit
    derivative = np.zeros((len(back), 3, 5))
    derivative[:, [0, 1, 2], [0, 1, 2]] = 1.0
    derivative[:, :, 3:] = -back[:, None, None] * by_slope
    return points, [(where, derivative)]


@dataclass(frozen=True)
class GaugeAxisBlock:
    """Points on the gauge's axis seen in one photo, each known only across the gauge.

    Attributes
    ----------
    gauge, reference
        Name of the gauge's unknowns and its reference direction.
    back
        (N,) distance before the end, mm: which point of the axis is compared; uncritical.
    pixels, normals
        (N, 2) seen axis points and unit normals of the axis in the picture.
    sigma
        (N,) standard uncertainty across, px.
    """

    photo: int
    gauge: str
    reference: Array
    back: Array
    pixels: Array
    normals: Array
    sigma: Array
    kind: str = "gauge axis"

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        points, parts = _gauge_points(layout, x, self.gauge, self.reference, self.back)
        pixels, jac = chain(layout, x, self.photo, points, parts)
        return across(pixels - self.pixels, jac, self.normals, self.sigma)


@dataclass(frozen=True)
class GaugeEndBlock:
    """The gauge's end seen in one photo, known along the gauge only.

    Attributes
    ----------
    pixel, tangent
        (2,) seen outline on the axis, and the axis' unit direction in the picture.
    rim
        (3,) vector from the end's centre to the rim point that makes the outline, mm.
    sigma
        Standard uncertainty along the tangent, px.
    """

    photo: int
    gauge: str
    reference: Array
    pixel: Array
    tangent: Array
    rim: Array
    sigma: float
    kind: str = "gauge end"

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        points, parts = _gauge_points(layout, x, self.gauge, self.reference, np.zeros(1))
        pixels, jac = chain(layout, x, self.photo, points + self.rim, parts)
        residual = (pixels[0] - self.pixel) @ self.tangent / self.sigma
        return Linearised(
            np.array([residual]), (self.tangent @ jac[0] / self.sigma)[None], np.zeros(1, np.intp)
        )
