"""How round a rim is, from diameters read round it; lengths in mm, angles in degrees from the valve hole.

A diameter shows what repeats after half a turn. A rim with three corners has the same diameter everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from hubsight.model.uncertainty import COVERAGE
from hubsight.wheel.rim import ERD_READING_U_MM

FEWEST_READINGS = 3
"""Readings in different directions that an oval takes: mean, size and direction of it."""
SAME_DIRECTION_DEG = 1.0
"""Readings whose directions agree to this are readings of one diameter."""


@dataclass(frozen=True)
class Roundness:
    """The oval that fits the diameters best.

    Attributes
    ----------
    mean
        Mean diameter of the oval.
    oval, u
        Largest less smallest diameter, and its standard uncertainty.
    largest_at
        Direction of the largest diameter, 0 to 180.
    seen
        Whether the readings show it: one of 20 round rims looks like that by the scatter of its readings.
    visible
        Smallest oval that these readings would show.
    """

    mean: float
    oval: float
    u: float
    largest_at: float
    seen: bool
    visible: float

    def diameter(self, direction: float) -> float:
        """Return the oval's diameter in a direction."""
        return self.mean + self.oval / 2.0 * math.cos(2.0 * math.radians(direction - self.largest_at))

    def sentence(self) -> str:
        """Say how round the rim is."""
        if not self.seen:
            return f"round, as far as the readings show: an oval of {self.visible:.1f} mm would have shown"
        return (
            f"oval by {self.oval:.1f} ± {self.u:.1f} mm, largest {self.largest_at:.0f}° from the valve hole:"
            f" single spokes end up to {self.oval / 4.0:.1f} mm from where they should"
        )


def reading_directions(count: int, holes: int | None = None, at: Sequence[int] = ()) -> tuple[float, ...]:
    """Return the directions of diameters, in the order in which they were read.

    Parameters
    ----------
    count
        Of the readings.
    holes, at
        Spoke holes of the rim, and the hole at which each reading was taken: 1 is the first one after the
        valve hole. Without them the readings are taken to be spread evenly over half a turn, from the valve
        hole on.
    """
    if holes is None or len(at) != count:
        return tuple(180.0 * number / count for number in range(count))
    return tuple((360.0 * (hole - 0.5) / holes) % 180.0 for hole in at)


def roundness(
    diameters: Sequence[float], directions: Sequence[float], u_reading: float = ERD_READING_U_MM
) -> Roundness | None:
    """Return how oval a rim is; None where fewer than `FEWEST_READINGS` directions were read.

    Parameters
    ----------
    diameters, directions
        One of each a reading.
    u_reading
        Standard uncertainty of one reading; a larger scatter about the oval counts instead.

    Notes
    -----
    Least squares of D = m + a cos(2 t) + b sin(2 t). The oval is 2 sqrt(a^2 + b^2). It is seen where
    (a, b) C^-1 (a, b)' exceeds the chi-squared quantile of two degrees of freedom, C their covariance.
    """
    folded = np.sort(np.asarray(directions, dtype=np.float64) % 180.0)
    gaps = np.diff(folded, append=folded[:1] + 180.0)
    if int(np.sum(gaps > SAME_DIRECTION_DEG)) < FEWEST_READINGS:
        return None
    turn = 2.0 * np.radians(np.asarray(directions, dtype=np.float64))
    design = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
    values = np.asarray(diameters, dtype=np.float64)
    solution, *_ = np.linalg.lstsq(design, values, rcond=None)
    freedom = len(values) - 3
    about = float(np.sqrt(np.sum((values - design @ solution) ** 2) / freedom)) if freedom else 0.0
    covariance = max(u_reading, about) ** 2 * np.linalg.inv(design.T @ design)
    mean, a, b = map(float, solution)
    half = math.hypot(a, b)
    along = np.array([a, b]) / half if half > 0.0 else np.array([1.0, 0.0])
    inner = covariance[1:, 1:]
    limit = float(chdtri(2, 1.0 - COVERAGE))
    visible = 2.0 * math.sqrt(limit * float(np.max(np.linalg.eigvalsh(inner))))
    return Roundness(
        mean=mean,
        oval=2.0 * half,
        u=2.0 * math.sqrt(float(along @ inner @ along)),
        largest_at=(math.degrees(math.atan2(b, a)) / 2.0) % 180.0,
        seen=bool(np.array([a, b]) @ np.linalg.solve(inner, np.array([a, b])) > limit),
        visible=visible,
    )
