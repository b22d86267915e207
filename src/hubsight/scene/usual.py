"""Usual sizes of hubs, gauges and spokes: what is known of any hub before its photos are looked at.

All are common practice, no source, and hold for straight-pull hubs of road, track and mountain bicycles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.model.arrays import Array


@dataclass(frozen=True)
class Usual:
    """A size that differs from hub to hub: its mean and its standard deviation."""

    mean: float
    sigma: float

    def likely(self, values: Array | float) -> Array:
        """Return the likelihood (...) of values (...), 1 at the mean."""
        return np.asarray(np.exp(-0.5 * ((values - self.mean) / self.sigma) ** 2))


WIRE_RADIUS_MM = 1.0
"""Radius of a gauge's wire, mm; raising it moves the ends of an unstated gauge outwards."""
NIPPLE_RADIUS_MM = Usual(1.95, 0.15)
"""Radius of a nipple's body, mm; a larger sigma lets streaks of light on it pass for its edges."""
HEAD_RADIUS_MM = Usual(1.85, 0.15)
"""Radius of a straight-pull spoke's head, mm; a larger sigma lets other edges pass for it."""
BORE_RADIUS_MM = 1.2
"""Radius of a spoke's bore, mm; raising it widens the dark crescent that is looked for."""
HEAD_BORE_RADIUS_MM = 2.3
"""Radius of a bore's wide part for the spoke's head, mm; raising it widens the dark spot looked for."""
ROUNDING_MM = 0.7
"""Radius at which a boss' edges are rounded off, mm; raising it moves faces out from where they are seen."""
TURNED_RADII_MM = (2.5, 22.0)
"""Radii of turned ends, from an axle's bore to a freehub body, mm; a wider range is slower and adds chance
circles."""
FLANGE_RADII_MM = (18.0, 37.0)
"""Radii of flanges at their bosses' outer faces, mm; a wider range is slower and adds chance flanges."""
COUNTS_PAIRED = range(4, 11)
"""Numbers of bosses with two bores each on one flange, for 16 to 40 spokes; more numbers repeat by chance."""
COUNTS_RADIAL = range(6, 21)
"""Numbers of radial spokes on one flange, for 12 to 40 spokes; more numbers repeat by chance."""
BOSS_WIDTHS_MM = np.arange(5.0, 13.1, 1.0)
"""Widths of a boss' outer face across the axis that are tried, mm; more are slower."""
RESTING_SHARE = 0.94
"""Height of a lying hub's axis over its flange's radius, which rests on one boss or on two; raising it
expects the axis higher."""
LEAST_RESTING_SHARE = 0.8
"""Least such share, on two of four bosses; raising it excludes flanges that rest between two bosses."""
