"""A rod with two free ends as observations of the adjustment.

Its unknowns are those of a gauge, one end and two slopes, and its length: so the length is an unknown, with
its uncertainty in the solution. The first end is a `GaugeEndBlock`, the axis a `GaugeAxisBlock`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.camera.observe import across, chain
from hubsight.estimate.problem import Layout, Linearised
from hubsight.model.arrays import Array
from hubsight.scene.gauge import gauge_line


@dataclass(frozen=True)
class OtherEndBlock:
    """The rod's other end seen in one photo, known along the rod only.

    Attributes
    ----------
    rod, length
        Names of the rod's unknowns (end and slopes) and of its length.
    reference
        (3,) unit direction, towards the first end.
    pixel, tangent
        (2,) seen outline on the axis, and the axis' unit direction in the picture.
    rim
        (3,) vector from the end's centre to the rim point that makes the outline, mm.
    sigma
        Standard uncertainty along the tangent, px.
    """

    photo: int
    rod: str
    length: str
    reference: Array
    pixel: Array
    tangent: Array
    rim: Array
    sigma: float
    kind: str = "rod ends"

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        where, own = layout[self.rod], layout[self.length]
        end, unit, by_slope = gauge_line(x[where], self.reference)
        length = x[own.start]
        by_rod = np.concatenate([np.eye(3), -length * by_slope], axis=1)
        point = end - length * unit + self.rim
        parts = [(where, by_rod[None]), (own, -unit[None, :, None])]
        pixels, jac = chain(layout, x, self.photo, point[None], parts)
        return across(pixels - self.pixel, jac, self.tangent[None], np.array([self.sigma]))
