"""Risks of a stock length by Monte Carlo (JCGM 101), as a check of the linear propagation. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.model.stated import Reading, SideName
from hubsight.model.uncertainty import FloatArray, sample_normal
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import SpokeLength, length_inputs, lengths_of
from hubsight.wheel.nipple import Window
from hubsight.wheel.scatter import lot_and_spoke

DRAWS = 100_000
"""A probability of 5 % is then known to 0.07 %."""


@dataclass(frozen=True)
class SampledRisk:
    """Fractions of the draws in which at least one spoke was too short, and too long."""

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


@dataclass(frozen=True)
class OrderedSpokes:
    """Spokes ordered in one length: their side and sorts, the length, and what tension adds to their ends."""

    side: SideGeometry
    spokes: tuple[SpokeLength, ...]
    length: float
    sits: Reading


def wheel_risk(
    orders: Sequence[OrderedSpokes],
    rim: RimGeometry,
    *,
    window: Window,
    u_cut: float,
    draws: int,
    rng: np.random.Generator,
) -> float:
    """Return how often at least one spoke of the wheel ends outside of the nipple's window.

    Both sides share the rim, with its ERD and its holes' place, and the tension; spokes of one length are cut
    in one lot, and scatter about it. What else is drawn is drawn apart for each side.
    """
    outside = np.zeros(draws, dtype=bool)
    tension = rng.standard_normal(draws)
    common: FloatArray | None = None
    drawn_of: dict[SideName, FloatArray] = {}
    for order in orders:
        if order.side.name not in drawn_of:
            drawn = sample_normal(*length_inputs(order.side, rim), draws, rng)
            shared = [2, 4, 5]  # ERD, rim offset and hole stagger, as `length_inputs` orders them
            common = drawn[:, shared].copy() if common is None else common
            drawn[:, shared] = common
            drawn_of[order.side.name] = drawn
        inputs = drawn_of[order.side.name]
        lot, scatter = lot_and_spoke(u_cut)
        seat = order.length + order.sits.value + order.sits.u * tension + rng.normal(0.0, lot, draws)
        for spoke in order.spokes:
            end = seat - lengths_of(inputs, order.side.name, spoke.alpha, spoke.bore)
            least, most = _extremes(spoke.count, draws, rng)
            outside |= (end + scatter * least < window.low) | (end + scatter * most > window.high)
    return float(np.mean(outside))


def _extremes(count: int, draws: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest of ``count`` standard normal numbers, (draws,) each."""
    drawn = rng.standard_normal((count, draws))
    return drawn.min(axis=0), drawn.max(axis=0)


def sampled_risk(
    lengths: FloatArray,
    ordered: float,
    *,
    counts: Sequence[int],
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
    counts
        Number of spokes of each sort.
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
    lot, scatter = lot_and_spoke(u_cut)
    seat = ordered + rng.normal(sits.value, sits.u, draws) + rng.normal(0.0, lot, draws)
    extremes = [_extremes(count, draws, rng) for count in counts]
    least, most = (scatter * np.column_stack(sorts) for sorts in zip(*extremes, strict=True))
    ends = seat[:, np.newaxis] - lengths
    return SampledRisk(
        p_too_short=float(np.mean(np.any(ends + least < window.low, axis=1))),
        p_too_long=float(np.mean(np.any(ends + most > window.high, axis=1))),
    )
