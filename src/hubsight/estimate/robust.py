"""Least squares that wrong edges hardly pull, with what is known of the unknowns beforehand."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def cauchy_fit(
    design: Array,
    off: Array,
    weight: NDArray[np.float64] | NDArray[np.bool_],
    scale: float,
    known: tuple[Array, Array],
    *,
    rounds: int = 10,
) -> tuple[Array, Array]:
    """Fit unknowns to offsets by iterated Cauchy weights.

    Parameters
    ----------
    design, off, weight
        (N, U) derivatives, (N,) offsets and their weights.
    scale
        Offset at which an edge counts half, in the unit of ``off``.
    known
        (U, U) normal matrix and (U,) right-hand side of what is known beforehand.
    rounds
        How often the weights are found anew.

    Returns
    -------
    x, normal
        (U,) unknowns, and the normal matrix of the last round.
    """
    before, pull = known
    x: Array = np.zeros(design.shape[1])
    normal = before
    for _ in range(rounds):
        w = weight / (1 + ((off - design @ x) / scale) ** 2)
        normal = design.T @ (design * w[:, None]) + before
        x = np.asarray(np.linalg.solve(normal, design.T @ (w * off) + pull))
    return x, normal
