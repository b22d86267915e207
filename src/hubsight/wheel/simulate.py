"""Risks of a stock length by Monte Carlo (JCGM 101), as a check of the linear propagation. Lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.model.stated import Reading
from hubsight.model.uncertainty import FloatArray, sample_normal
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import SpokeLength, length_inputs, lengths_of
from hubsight.wheel.nipple import Window

DRAWS = 100_000
"""A probability of 5 % is then known to 0.07 %."""


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
    drawn = sample_normal(*length_inputs(side, rim), draws, rng)
    return np.column_stack([lengths_of(drawn, side.name, spoke.alpha, spoke.bore) for spoke in spokes])


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
    lengths
        Draws of the needed lengths, see `sample_lengths`.
    ordered
        Stock length.
    sits
        What tension adds to the end's position.
    window
        Of the nipple.
    u_cut
        Standard uncertainty of the spokes as delivered.
    rng
        Random numbers.
    """
    draws = len(lengths)
    seat = ordered + rng.normal(sits.value, sits.u, draws) + rng.normal(0.0, u_cut, draws)
    ends = seat[:, np.newaxis] - lengths
    return SampledRisk(
        p_too_short=float(np.mean(np.any(ends < window.low, axis=1))),
        p_too_long=float(np.mean(np.any(ends > window.high, axis=1))),
    )
