"""Whether the hub stood still and its gauges are straight: what the adjustment takes for granted.

Both are tried after the adjustment, on its linearised observations: the hub's unknowns are solved again
together with the departure, the cameras kept. What the departure explains is what speaks for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.estimate.problem import Solution
from hubsight.estimate.robust import CAUCHY_SIGMAS
from hubsight.model.arrays import Array
from hubsight.scene.bosses import CentrelineBlock, PatternBlock, RimBlock
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock, gauge_line, perpendiculars
from hubsight.scene.pattern_pose import TILT_PRIOR

HubBlock = GaugeAxisBlock | GaugeEndBlock | PatternBlock | CentrelineBlock | RimBlock

LOOSE_SHIFT_MM, LOOSE_TURN_RAD, LOOSE_BOW_MM = 5.0, 0.05, 3.0
"""Priors of the departures: they only keep the equations solvable."""
ITERATIONS = 12
"""Rounds of robust weights; more are slower."""


@dataclass(frozen=True)
class Motion:
    """How the hub stood in one photo against all others.

    Attributes
    ----------
    shift
        (2,) of the hub axis, mm.
    turn
        About it, rad.
    at_end
        (2,) what both make at the first gauge's end, mm.
    gain
        How much lower the robust cost (sum of squares in sigmas) becomes when the motion is allowed.
    """

    shift: Array
    turn: float
    at_end: Array
    gain: float

    @property
    def size(self) -> float:
        """Largest displacement of axis and gauge's end, mm."""
        return float(max(np.hypot(*self.shift), np.hypot(*self.at_end)))


@dataclass(frozen=True)
class Bow:
    """Bend of a gauge: how far its middle lies off the chord, with standard uncertainties, mm."""

    sideways: float
    upwards: float
    u_sideways: float
    u_upwards: float


@dataclass(frozen=True)
class _Rows:
    """Normalised residuals and their derivatives by the hub's unknowns, all blocks together."""

    residual: Array
    jacobian: Array
    group: NDArray[np.intp]
    photo: NDArray[np.intp]
    prior: Array


def hub_motions(
    solution: Solution, blocks: Sequence[HubBlock], references: Sequence[Array], photos: int
) -> list[Motion]:
    """Estimate for each photo how the hub moved in it against the others.

    Parameters
    ----------
    solution
        The adjustment.
    blocks
        Its observations of gauges and bosses.
    references
        Reference directions of ``gauge0``, ``gauge1``.
    photos
        Number of photos.
    """
    columns = _hub_columns(solution, len(references))
    rows = _rows(solution, blocks, columns)
    moved = rows.jacobian @ _motion_columns(solution, references)[columns]
    prior = np.array([LOOSE_SHIFT_MM, LOOSE_SHIFT_MM, LOOSE_TURN_RAD])
    still = _fit(rows, np.zeros((len(rows.residual), 3)), prior)[2]
    end = gauge_line(solution["gauge0"], references[0])[0]
    arm = (end - np.append(solution["pattern"][:2], 0.0))[:2]
    out = []
    for photo in range(photos):
        x, _, cost = _fit(rows, np.where((rows.photo == photo)[:, None], moved, 0.0), prior)
        turn = float(x[2])
        at_end = x[:2] + turn * np.array([-arm[1], arm[0]])
        out.append(Motion(x[:2], turn, at_end, still - cost))
    return out


def gauge_bow(solution: Solution, blocks: Sequence[HubBlock], references: Sequence[Array], gauge: int) -> Bow:
    """Estimate how far a gauge is bent, as a parabola between its end and where it comes out of the hub."""
    name = f"gauge{gauge}"
    own = [b for b in blocks if isinstance(b, GaugeAxisBlock) and b.gauge == name]
    where = solution.layout[name]
    columns = np.arange(where.start, where.stop)
    rows = _rows(solution, own, columns)
    direction = gauge_line(solution[name], references[gauge])[1]
    sideways = np.array([-direction[1], direction[0], 0.0]) / np.hypot(direction[0], direction[1])
    upwards = np.cross(direction, sideways)
    back = np.concatenate([b.back for b in own])
    t = back / back.max()
    # A point's derivative by the end is its derivative by any shift of its own.
    bent = (rows.jacobian[:, :3] @ np.stack([sideways, upwards], -1)) * (4 * t * (1 - t))[:, None]
    x, covariance, _ = _fit(rows, bent, np.full(2, LOOSE_BOW_MM))
    u = np.sqrt(np.diag(covariance))
    return Bow(float(x[0]), float(x[1]), float(u[0]), float(u[1]))


def _hub_columns(solution: Solution, gauges: int) -> NDArray[np.intp]:
    names = [*(f"gauge{k}" for k in range(gauges)), "pattern"]
    return np.concatenate([np.arange(solution.layout[n].start, solution.layout[n].stop) for n in names])


def _rows(solution: Solution, blocks: Sequence[HubBlock], columns: NDArray[np.intp]) -> _Rows:
    parts = [block.linearise(solution.layout, solution.x) for block in blocks]
    firsts = np.cumsum([0, *(part.group.max() + 1 for part in parts)])
    prior = np.full(len(columns), 1e-6)
    if "pattern" in solution.layout:
        tilt = solution.layout["pattern"].start + 3
        prior[(columns == tilt) | (columns == tilt + 1)] = TILT_PRIOR**-2
    return _Rows(
        np.concatenate([part.residual for part in parts]),
        np.concatenate([part.jacobian[:, columns] for part in parts]),
        np.concatenate([part.group + first for part, first in zip(parts, firsts[:-1], strict=True)]),
        np.concatenate([np.full(len(p.residual), b.photo) for p, b in zip(parts, blocks, strict=True)]),
        prior,
    )


def _motion_columns(solution: Solution, references: Sequence[Array]) -> Array:
    """(n, 3) derivatives of the unknowns by a shift of the hub in x and y and a turn about its axis."""
    out = np.zeros((solution.layout.size, 3))
    pattern = solution.layout["pattern"].start
    out[pattern, 0] = out[pattern + 1, 1] = out[pattern + 6, 2] = 1.0
    centre = solution["pattern"][:2]
    for k, reference in enumerate(references):
        first = solution.layout[f"gauge{k}"].start
        end, direction, _ = gauge_line(solution[f"gauge{k}"], reference)
        turning = np.array([-direction[1], direction[0], 0.0])
        out[first, 0] = out[first + 1, 1] = 1.0
        out[first : first + 2, 2] = -(end[1] - centre[1]), end[0] - centre[0]
        out[first + 3 : first + 5, 2] = [e @ turning for e in perpendiculars(reference)]
    return out


def _fit(rows: _Rows, departure: Array, sigma: Array) -> tuple[Array, Array, float]:
    """Solve hub and departure together; return the departure, its covariance and the robust cost."""
    a = np.hstack([rows.jacobian, departure])
    prior = np.concatenate([rows.prior, sigma**-2.0])
    weight = np.ones(len(a))
    c2 = CAUCHY_SIGMAS**2
    for _ in range(ITERATIONS):
        normal = a.T * weight @ a + np.diag(prior)
        x = -np.linalg.solve(normal, a.T * weight @ rows.residual)
        squares = np.bincount(rows.group, (rows.residual + a @ x) ** 2)
        weight = 1 / (1 + squares[rows.group] / c2)
    n = len(sigma)
    covariance = np.linalg.inv(normal)[-n:, -n:]
    return np.asarray(x[-n:]), np.asarray(covariance), float(np.sum(c2 * np.log1p(squares / c2)))
