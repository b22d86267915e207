"""Where the boss centreline lies: what outline and gauge's direction say of it, and whom to believe.

A boss' outline gives its centreline when it is its own mirror image. Otherwise it lies, and on a boss whose
faces are merely shifted it lies without showing it. The bores know better: they mirror each other about it,
and photos that show their mouths tell where they run. So does the gauge, if less exactly: a straight-pull
bore points at its rim hole, and the direction from the crossing point to the rim hole follows from bosses,
crosses and rim. How the rim is drilled is a hypothesis, too: there is an opinion for each row of holes, first
hole and crosses. All are weighed, each with two hypotheses on the boss, mirror-symmetric or not; two gauges
in one boss settle the question, because their offsets must agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.scene.boss_shape import BossShape

SYMMETRIC_SIGMA_MM = 0.035
"""Standard deviation of the outline's centreline on mirror-symmetric bosses (found on rendered hubs), at the
crossing point."""
ASYMMETRIC_SIGMA_MM = 0.4
"""The same on bosses that are not (found on rendered hubs)."""
PLAY_RAD = np.radians(0.35)
"""Direction of a 1.8 to 2.0 wire in its bore, seen along the axis (common practice, no source)."""
DRILLING_RAD = np.radians(0.25)
"""A bore's direction against that to its rim hole: hubs are drilled for a range of rims (common practice, no
source)."""
PAIR_SIGMA_MM = 0.08
"""How far the offsets of a boss' two gauges may differ: seating, play and drilling."""
LEAST_DOUBT, DOUBT_AT_MM, DOUBT_WIDTH_MM = 0.3, 0.12, 0.02
"""Prior probability that a boss is not mirror-symmetric though it looks so, and the disagreement of its
outline's inner and outer part at which it is one half (found on rendered hubs: of 22 bosses that looked
symmetric 9 were not; real hubs are less wilful)."""

PLACED_DOUBT = 0.5
"""The same of a boss of which a person placed two faces, and nothing says how its outline runs."""


@dataclass(frozen=True)
class Centreline:
    """Angle of the centreline in the pattern's frame, rad, and how it was come by.

    Attributes
    ----------
    angle, u
        Best estimate and standard uncertainty.
    doubt
        Probability that the boss is not mirror-symmetric.
    settled
        Whether two gauges in one boss settled it, or the mouths of both bores.
    odds
        Probability of each way in which the hub may be drilled, in their order.
    """

    angle: float
    u: float
    doubt: float
    settled: bool
    odds: tuple[float, ...] = ()


@dataclass(frozen=True)
class Opinion:
    """Another source's angle and its standard uncertainty, rad."""

    angle: float
    u: float


@dataclass(frozen=True)
class Drilled:
    """What the gauges' directions say of the centreline if the hub is drilled in one of the possible ways.

    Attributes
    ----------
    opinions
        One of each gauge.
    prior
        Probability of this way beforehand.
    """

    opinions: tuple[Opinion, ...]
    prior: float = 1.0


def outline_doubt(shape: BossShape, radius: float) -> float:
    """Probability, before any gauge is asked, that a boss is not mirror-symmetric."""
    if len(shape.mirror) == 1:
        return PLACED_DOUBT
    unrest = abs(shape.mirror[1] - shape.mirror[2]) * radius
    seen = 1 / (1 + np.exp(-(unrest - DOUBT_AT_MM) / DOUBT_WIDTH_MM))
    return float(LEAST_DOUBT + (0.98 - LEAST_DOUBT) * seen)


def weigh(
    shape: BossShape,
    radius: float,
    gauges: Sequence[Drilled] = (),
    pair: Opinion | None = None,
    *,
    placed: Opinion | None = None,
    bores: Opinion | None = None,
) -> Centreline:
    """Weigh outline, gauge's direction, the bores' mouths, and the agreement of two gauges in one boss.

    Parameters
    ----------
    shape
        The mean boss.
    radius
        Of the crossing point, mm.
    gauges
        What their directions say, for each way in which the hub may be drilled.
    pair
        Centreline on which the offsets of a boss' two gauges agree.
    placed
        Centreline as a person placed it.
    bores
        Centreline about which both bores' mouths mirror each other.

    Notes
    -----
    A mixture of normal hypotheses, two on the boss for each on its drilling: in each the sources are combined
    by their weights, and each is weighed by how well its sources agree. Value and uncertainty are the
    mixture's mean and standard deviation.
    """
    outline = shape.mirror[0]
    doubt = outline_doubt(shape, radius)
    boss = ((1 - doubt, SYMMETRIC_SIGMA_MM), (doubt, ASYMMETRIC_SIGMA_MM))
    means, variances, weights = [], [], []
    for drilled in gauges or (Drilled(()),):
        others = [*drilled.opinions, *(o for o in (pair, placed, bores) if o is not None)]
        for probability, sigma in boss:
            mean, variance, likelihood = _combine([Opinion(outline, sigma / radius), *others])
            means.append(mean)
            variances.append(variance)
            weights.append(probability * likelihood * drilled.prior)
    w = np.array(weights) / np.sum(weights)
    angle = float(w @ means)
    u = float(np.sqrt(w @ (np.array(variances) + (np.array(means) - angle) ** 2)))
    by_boss = w.reshape(-1, len(boss))
    return Centreline(
        angle,
        u,
        doubt=float(by_boss[:, 1].sum()),
        settled=pair is not None or bores is not None,
        odds=tuple(by_boss.sum(1).tolist()) if gauges else (),
    )


def _combine(opinions: Sequence[Opinion]) -> tuple[float, float, float]:
    """Weighted mean, its variance, and the likelihood of the opinions' differences."""
    values = np.array([o.angle for o in opinions])
    precision = 1 / np.square([o.u for o in opinions])
    mean = float(precision @ values / precision.sum())
    chi2 = float(precision @ (values - mean) ** 2)
    likelihood = np.exp(-chi2 / 2) * np.sqrt(np.prod(precision) / precision.sum())
    return mean, float(1 / precision.sum()), float(likelihood) + 1e-300
