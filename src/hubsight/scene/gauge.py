"""Observation blocks of the adjustment: what was seen in one photo, as residuals and derivatives.

World points are functions of the unknowns; each block gives the points and their derivatives by its own
unknowns, and `chain` carries them through the camera.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.camera.observe import Part, across, chain
from hubsight.estimate.problem import Layout, Linearised
from hubsight.model.arrays import Array


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
    """Return points ``back`` mm (N,) before the gauge's end, and derivatives by the gauge's unknowns."""
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
        return across(pixels - self.pixel, jac, self.tangent[None], np.array([self.sigma]))
