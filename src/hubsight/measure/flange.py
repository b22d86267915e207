"""The figures of one flange as functions of the adjusted unknowns, with their budgets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.estimate.problem import Solution
from hubsight.model.figure import BudgetItem, Figure, confidence_word
from hubsight.model.stated import TipKind
from hubsight.scene.gauge import gauge_line

Array = NDArray[np.float64]

SEATING_U_MM = 0.03
"""Head not fully home: 0.05 mm, one-sided, taken as a rectangle (common practice, no source)."""
END_SHAPE_U_MM: dict[TipKind, float] = {"flat": 0.03, "nipple": 0.12}
"""The cut's rounded rim; a nipple's head is rounder, and mirrors more of its surroundings (found on rendered
gauges)."""
APPEARANCE_U_MM = 0.035
"""Light and shade on the bosses shift the pattern's centre (found on rendered hubs)."""
RIM_INSET_MM, RIM_INSET_U_MM = 0.04, 0.055
"""The visible rim of a radial flange lies on the rounding, inside it (found on rendered hubs)."""
FACE_U_MM, WIDTH_U_MM = 0.13, 0.21
"""A boss' face at the bore against its upper edge, and both faces together (found on rendered hubs)."""
ONE_PHOTO_FACE_U_MM, ONE_PHOTO_WIDTH_U_MM = 0.2, 0.32
"""The same in one photo, which shows some of the faces badly (found on rendered hubs)."""
COVERAGE = 1.96
"""Standard uncertainties to a 95 % limit."""


@dataclass(frozen=True)
class GaugeGeometry:
    """A gauge against the flange, mm.

    Attributes
    ----------
    crossing
        (3,) crossing point C (radial: where the axis leaves the flange's outer cylinder).
    reach
        From there to the gauge's end, along the gauge.
    radius
        Of C about the hub axis.
    miss
        Signed distance of the gauge's axis from the hub axis, seen along it.
    outward, sideways
        Components of the gauge's direction along the centreline and to its left.
    """

    crossing: Array
    reach: float
    radius: float
    miss: float
    outward: float
    sideways: float


def hub_frame(pattern: Array, angle: float) -> tuple[Array, Array, Array, Array]:
    """Return a point of the hub axis, and unit vectors: up it, out along ``angle``, to the left of that."""
    point = np.array([pattern[0], pattern[1], pattern[2]])
    axis = np.array([-pattern[3], -pattern[4], 1.0])
    axis /= np.linalg.norm(axis)
    out = np.array([np.cos(angle), np.sin(angle), 0.0])
    out = out - (out @ axis) * axis
    out /= np.linalg.norm(out)
    return point, axis, out, np.cross(axis, out)


def gauge_on_boss(end: Array, direction: Array, pattern: Array, angle: float) -> GaugeGeometry:
    """Crossing point and reach of a gauge in the boss whose centreline lies at ``angle`` (tangent pairs)."""
    point, axis, out, left = hub_frame(pattern, angle)
    reach = float((end - point) @ left / (direction @ left))
    crossing = end - reach * direction
    return GaugeGeometry(
        crossing,
        reach,
        float((crossing - point) @ out),
        _miss(end, direction, point, axis),
        float(direction @ out),
        float(direction @ left),
    )


def gauge_on_rim(end: Array, direction: Array, pattern: Array, rim_radius: float) -> GaugeGeometry:
    """Where a radial gauge leaves the flange's outer cylinder, and its reach from there."""
    point, axis, _, _ = hub_frame(pattern, 0.0)
    flat = direction - (direction @ axis) * axis
    rel = (end - point) - ((end - point) @ axis) * axis
    a, b, c = float(flat @ flat), float(rel @ flat), float(rel @ rel) - rim_radius**2
    reach = float((b - np.sqrt(max(b * b - a * c, 0.0))) / a)
    crossing = end - reach * direction
    return GaugeGeometry(crossing, reach, rim_radius, _miss(end, direction, point, axis), 1.0, 0.0)


def _miss(end: Array, direction: Array, point: Array, axis: Array) -> float:
    across = np.cross(axis, direction)
    return float((end - point) @ across / np.linalg.norm(across))


def gauge_of(solution: Solution, x: Array, name: str, reference: Array) -> tuple[Array, Array]:
    """End and unit direction of a gauge at ``x``."""
    end, direction, _ = gauge_line(x[solution.layout[name]], reference)
    return end, direction


@dataclass(frozen=True)
class Model:
    """A figure as a function of the unknowns, plus independent inputs that are not unknowns: (source, u)."""

    function: Callable[[Array], float]
    extra: tuple[tuple[str, float], ...] = ()
    seen: str = ""


def gradient(function: Callable[[Array], float], x: Array, sigma: Array) -> Array:
    """Central-difference gradient with steps of a tenth of each unknown's standard uncertainty."""
    out = np.zeros(len(x))
    for k in np.flatnonzero(sigma > 0):
        step = np.zeros(len(x))
        step[k] = 0.1 * sigma[k]
        out[k] = (function(x + step) - function(x - step)) / (2 * step[k])
    return out


def figure(
    model: Model,
    solution: Solution,
    relevant: Sequence[str],
    warnings: Sequence[str] = (),
    reasons: Sequence[str] = (),
) -> Figure:
    """Evaluate a figure with its budget.

    Parameters
    ----------
    model
        The figure's function and further inputs.
    solution
        The adjustment.
    relevant
        Names of the unknowns on which the function depends.
    warnings, reasons
        Sentences to go with the figure.
    """
    x = solution.x
    sigma = np.zeros(len(x))
    for name in relevant:
        where = solution.layout[name]
        sigma[where] = np.sqrt(np.maximum(np.diag(solution.covariance)[where], 1e-24))
    g = gradient(model.function, x, sigma)
    shares: dict[str, float] = {}
    for kind, part in solution.parts.items():
        shares[kind] = float(g @ part @ g)
    for source, u in model.extra:
        shares[source] = shares.get(source, 0.0) + u**2
    variance = sum(shares.values())
    u = float(np.sqrt(variance))
    value = model.function(x)
    budget = tuple(
        BudgetItem(source=kind, u=float(np.sqrt(max(share, 0.0))))
        for kind, share in sorted(shares.items(), key=lambda item: -item[1])
    )
    return Figure(
        value=value,
        u=u,
        low=value - COVERAGE * u,
        high=value + COVERAGE * u,
        budget=budget,
        seen=model.seen,
        confidence=confidence_word(u, warned=bool(warnings)),
        reasons=tuple(reasons),
        warnings=tuple(warnings),
    )
