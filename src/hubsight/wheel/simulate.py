"""Risks of a stock length by Monte Carlo (JCGM 101), as a check of the linear propagation. Lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.stated import Reading
from hubsight.uncertainty import FloatArray, sample_normal
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import SpokeLength, straight_distance
from hubsight.wheel.nipple import Window

DRAWS = 100_000
"""A probability of 5 % is then known to 0.07 %."""

_OUTWARD = {"mean": 0.0, "outer": 1.0, "inner": -1.0}


@dataclass(frozen=True)
class SampledRisk:
    """Fractions of the draws in which at least one sort of spoke was too short, and too long."""

    p_too_short: float
    p_too_long: float


def sample_lengths(
    side: SideGeometry,
    rim: RimGeometry,
    spokes: tuple[SpokeLength, ...],
    draws: int,
    rng: np.random.Generator,
) -> FloatArray:
    """Return (draws, len(spokes)) lengths of the sorts of spoke, from draws of all inputs."""
    d, o, w = side.flange_diameter, side.spoke_offset, side.centre_to_flange
    stagger = side.stagger or Reading(0.0, 0.0)
    inputs = (d, o, w, rim.erd, rim.offset, rim.hole_stagger, stagger)
    covariance = np.diag([reading.u**2 for reading in inputs])
    covariance[0, 1] = covariance[1, 0] = side.covariance
    drawn = sample_normal([reading.value for reading in inputs], covariance, draws, rng)
    toward = 1.0 if side.name == "drive" else -1.0
    columns = []
    for spoke in spokes:
        lateral = drawn[:, 2] - toward * drawn[:, 4] - drawn[:, 5] + _OUTWARD[spoke.bore] * drawn[:, 6]
        columns.append(straight_distance(drawn[:, 3], drawn[:, 0], lateral, spoke.alpha) + drawn[:, 1])
    return np.column_stack(columns)


def sampled_risk(
    lengths: FloatArray,
    ordered: float,
    *,
    sits: Reading,
    window: Window,
    u_cut: float,
    rng: np.random.Generator,
) -> SampledRisk:
    """Return how often spokes of length ``ordered`` end outside of the nipple's window.

    Parameters
    ----------
    lengths : draws of the needed lengths, see `sample_lengths`
    ordered : stock length
    sits : what tension adds to the end's position
    window : of the nipple
    u_cut : standard uncertainty of the spokes as delivered
    rng : random numbers
    """
    draws = len(lengths)
    seat = ordered + rng.normal(sits.value, sits.u, draws) + rng.normal(0.0, u_cut, draws)
    ends = seat[:, np.newaxis] - lengths
    return SampledRisk(
        p_too_short=float(np.mean(np.any(ends < window.low, axis=1))),
        p_too_long=float(np.mean(np.any(ends > window.high, axis=1))),
    )
