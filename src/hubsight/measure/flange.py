"""A gauge against its flange: geometry and figures as functions of the adjusted unknowns, with budgets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from hubsight.estimate.problem import Solution
from hubsight.measure.sightings import Sightings
from hubsight.model.arrays import Array
from hubsight.model.figure import BudgetItem, Figure, confidence_word
from hubsight.model.stated import TipKind
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.scene.boss_shape import width_along
from hubsight.scene.gauge import gauge_line
from hubsight.scene.pattern_pose import PatternPose, hub_frame
from hubsight.see.bosses.bore_fit import BoreLine
from hubsight.see.bosses.holes import GaugeInBoss
from hubsight.see.bosses.mouth import Expected
from hubsight.see.bosses.sighting import INSIDE_BOSS_MM, BossSighting
from hubsight.see.gauge.sighting import GaugeSighting

SEATING_U_MM = 0.03
"""Head not fully home: 0.05 mm, one-sided, taken as a rectangle (common practice, no source)."""
END_SHAPE_U_MM: dict[TipKind, float] = {"flat": 0.03, "nipple": 0.12}
"""The cut's rounded rim; a nipple's head is rounder, and mirrors more of its surroundings (found on rendered
gauges)."""
APPEARANCE_U_MM = 0.035
"""Light and shade on the bosses shift the pattern's centre (found on rendered hubs)."""
RIM_INSET_MM, RIM_INSET_U_MM = 0.04, 0.055
"""The visible rim of a radial flange lies on the rounding, inside it (found on rendered hubs)."""
WIDTH_U_MM = 0.21
"""Both of a boss' faces at the bore, together, against their upper edges (found on rendered hubs)."""
ONE_PHOTO_FACE_U_MM, ONE_PHOTO_WIDTH_U_MM = 0.2, 0.32
"""One face, and both together, in one photo, which shows some of the faces badly (found on rendered hubs)."""
SEEN_SHARE = 0.93
"""Share of a wire's width that is seen before paper (found on rendered gauges)."""


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
class SideGeometry:
    """Functions of the unknowns: each gauge against its boss."""

    seen: Sightings
    bosses: tuple[int, ...]
    angle: float
    known: dict[tuple[bytes, float | None], list[GaugeGeometry]] = field(default_factory=dict, compare=False)
    """What was worked out for which unknowns: the gradients of all figures take the same steps."""

    def gauges(self, x: Array, angle: float | None = None) -> list[GaugeGeometry]:
        """Return the gauges' geometry at ``x``, for another ``angle`` of the centreline if given."""
        key = self.key(x), angle
        found = self.known.get(key)
        if found is None:
            self.known[key] = found = self._gauges(x, angle)
        return found

    def key(self, x: Array) -> bytes:
        """Return what of ``x`` the geometry depends on."""
        layout = self.seen.solution.layout
        names = ["pattern", *(f"gauge{k}" for k in range(len(self.bosses)))]
        return np.concatenate([x[layout[name]] for name in names]).tobytes()

    def _gauges(self, x: Array, angle: float | None) -> list[GaugeGeometry]:
        solution, bosses = self.seen.solution, self.seen.bosses
        pattern = x[solution.layout["pattern"]]
        out = []
        for k, boss in enumerate(self.bosses):
            end, direction = gauge_of(solution, x, f"gauge{k}", self.seen.adjusted.references[k])
            if bosses.kind == "radial":
                out.append(gauge_on_rim(end, direction, pattern, self.rim(x)))
            else:
                own = self.angle if angle is None else angle
                at = pattern[6] + own + 2 * np.pi * boss / bosses.pose.count
                out.append(gauge_on_boss(end, direction, pattern, at))
        return out

    def rim(self, x: Array) -> float:
        """Return the radius of a radial flange's outer rim at ``x``, mm.

        It was seen by the sheet's adjustment alone: whatever makes the pattern larger makes the rim larger.
        """
        pose, radius = self.seen.bosses.pose, x[self.seen.solution.layout["pattern"]][5]
        return (self.seen.marked_bosses.rim_radius or 0.0) * float(radius) / pose.radius + RIM_INSET_MM


def boss_of_gauge(
    solution: Solution, bosses: BossSighting, gauge: int, *, start: Array, reference: Array
) -> int:
    """Return the boss whose crossing point lies where it should behind where the gauge comes out.

    Parameters
    ----------
    solution, bosses
        The adjustment and the bosses.
    gauge
        Its number.
    start
        (3,) where it comes out of the hub, roughly.
    reference
        Its reference direction in the adjustment.
    """
    pose, pattern = bosses.pose, solution["pattern"]
    end, direction = gauge_of(solution, solution.x, f"gauge{gauge}", reference)
    if bosses.kind == "radial":
        angle = np.arctan2(direction[1], direction[0])
        return int(np.rint((angle - pattern[6]) / (2 * np.pi / pose.count))) % pose.count
    visible = float((end - start) @ direction)
    crossings = [
        gauge_on_boss(end, direction, pattern, pattern[6] + 2 * np.pi * k / pose.count)
        for k in range(pose.count)
    ]
    near = [k for k, crossing in enumerate(crossings) if crossing.radius > 0]
    return min(near, key=lambda k: abs(crossings[k].reach - visible - INSIDE_BOSS_MM))


def expected_mouth(
    solution: Solution, bosses: BossSighting, gauge: int, *, sighting: GaugeSighting, reference: Array
) -> Expected | None:
    """Return where a gauge should come out of its boss' face; None on a radial hub.

    Parameters are those of `boss_of_gauge`, with the gauge as sighted.
    """
    shape, pattern = bosses.shape, solution["pattern"]
    if shape is None:
        return None
    boss = boss_of_gauge(solution, bosses, gauge, start=sighting.start, reference=reference)
    end, direction = gauge_of(solution, solution.x, f"gauge{gauge}", reference)
    g = gauge_on_boss(end, direction, pattern, pattern[6] + 2 * np.pi * boss / bosses.pose.count)
    start = g.radius - bosses.pose.radius
    ahead, _ = width_along(shape, start, g.outward, g.sideways)
    face = shape.left if g.sideways > 0 else shape.right
    _, _, out, left = hub_frame(pattern, pattern[6] + 2 * np.pi * boss / bosses.pose.count)
    normal = face.side * left - face.slope_at(start + ahead * g.outward) * out
    radius = sighting.line.width / (2 * SEEN_SHARE)
    return Expected(end, direction, g.reach - ahead, normal / np.linalg.norm(normal), radius)


def first_gauge_in_boss(
    solution: Solution, bosses: BossSighting, gauges: Sequence[GaugeSighting], references: Sequence[Array]
) -> GaugeInBoss | None:
    """Return the first gauge against the outline of its boss, and which bosses hold one; None on radial hubs.

    Parameters
    ----------
    solution, bosses
        The adjustment and the bosses.
    gauges, references
        As sighted, and their reference directions in the adjustment.
    """
    shape, pattern = bosses.shape, solution["pattern"]
    if shape is None:
        return None
    held = tuple(
        boss_of_gauge(solution, bosses, k, start=g.start, reference=r)
        for k, (g, r) in enumerate(zip(gauges, references, strict=True))
    )
    end, direction = gauge_of(solution, solution.x, "gauge0", references[0])
    angle = pattern[6] + shape.mirror[0] + 2 * np.pi * held[0] / bosses.pose.count
    g = gauge_on_boss(end, direction, pattern, angle)
    rise = float(direction[2] / np.hypot(direction[0], direction[1]))
    return GaugeInBoss(held, g.radius - float(pattern[5]), g.outward, g.sideways, rise)


def bore_of_first_gauge(
    solution: Solution, bosses: BossSighting, gauges: Sequence[GaugeSighting], references: Sequence[Array]
) -> BoreLine | None:
    """Return the bore of the first gauge in the frame of its boss; None on radial hubs.

    Parameters are those of `first_gauge_in_boss`.
    """
    if bosses.shape is None:
        return None
    held = tuple(
        boss_of_gauge(solution, bosses, k, start=g.start, reference=r)
        for k, (g, r) in enumerate(zip(gauges, references, strict=True))
    )
    pose = PatternPose.of_unknowns(solution["pattern"], bosses.pose.count)
    origin, axes = pose.frame(held[0])
    end, direction = gauge_of(solution, solution.x, "gauge0", references[0])
    end, direction = axes @ (end - origin), axes @ direction
    flat = float(np.hypot(direction[0], direction[1]))
    cos, sin, rise = direction / flat
    return BoreLine(
        held,
        float(np.arctan2(sin, cos)),
        float(end[0] * sin - end[1] * cos),
        float(end[2] - rise * (end[0] * cos + end[1] * sin)),
        float(rise),
        axes[:2, :2].T @ np.array([-sin, cos]),
    )


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


def slope(model: Model, solution: Solution, relevant: Sequence[str]) -> Array:
    """Return a figure's derivatives by all unknowns of an adjustment; parameters are those of `figure`."""
    sigma = np.zeros(len(solution.x))
    for name in relevant:
        where = solution.layout[name]
        sigma[where] = np.sqrt(np.maximum(np.diag(solution.covariance)[where], 1e-24))
    return gradient(model.function, solution.x, sigma)


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
        The adjustment. One without ``parts`` gives the value, and the further inputs as its uncertainty.
    relevant
        Names of the unknowns on which the function depends.
    warnings, reasons
        Sentences to go with the figure.
    """
    x = solution.x
    g = slope(model, solution, relevant) if solution.parts else np.zeros(len(x))
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
        low=value - COVERAGE_FACTOR * u,
        high=value + COVERAGE_FACTOR * u,
        budget=budget,
        seen=model.seen,
        confidence=confidence_word(u, warned=bool(warnings)),
        reasons=tuple(reasons),
        warnings=tuple(warnings),
    )
