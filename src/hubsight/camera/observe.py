"""Points of the target frame, seen in a photo, as observations of the adjustment."""

from __future__ import annotations

import numpy as np

from hubsight.camera import View, project_with_derivatives
from hubsight.estimate.problem import Layout, Linearised, Solution
from hubsight.model.arrays import Array


def view_of(layout: Layout, x: Array, photo: int) -> View:
    """Return camera and pose of photo ``photo`` at ``x``."""
    return View(x[layout["camera"]], x[layout[f"photo{photo}"]])


def view_in(solution: Solution, photo: int) -> View:
    """Return the adjusted camera and pose of one photo."""
    return view_of(solution.layout, solution.x, photo)


Part = tuple[slice, Array]
"""Where in the unknowns, and (N, 3, k) derivatives of N points by those k unknowns."""


def chain(layout: Layout, x: Array, photo: int, points: Array, parts: list[Part]) -> tuple[Array, Array]:
    """Return (N, 2) pixels of points and their (N, 2, n) derivatives by all unknowns."""
    p = project_with_derivatives(view_of(layout, x, photo), points)
    jac = np.zeros((len(points), 2, layout.size))
    jac[..., layout["camera"]] = p.shared
    jac[..., layout[f"photo{photo}"]] = p.own
    for where, derivative in parts:
        jac[..., where] += p.point @ derivative
    return p.pixels, jac


def pairs(residual: Array, jacobian: Array, sigma: Array | float) -> Linearised:
    """Return (N, 2) residuals as one row each, both coordinates weighed together."""
    n = len(residual)
    scale = np.broadcast_to(np.asarray(sigma, dtype=np.float64).reshape(-1, 1), (n, 2))
    return Linearised(
        (residual / scale).ravel(),
        (jacobian / scale[..., None]).reshape(2 * n, -1),
        np.repeat(np.arange(n), 2),
    )


def across(residual: Array, jacobian: Array, normals: Array, sigma: Array) -> Linearised:
    """Return of (N, 2) residuals what lies along unit normals (N, 2); ``sigma`` is (N,), px."""
    rows = np.einsum("nk,nkp->np", normals, jacobian) / sigma[:, None]
    return Linearised(np.sum(residual * normals, 1) / sigma, rows, np.arange(len(residual)))
