"""Turned edges that a person placed: points on a circle about the hub's axis, in one photo or several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.model.arrays import Array
from hubsight.scene.turned import Circle, HubAxis
from hubsight.see.marks import Mark
from hubsight.see.turned.likelihood import SECTORS, Evidence
from hubsight.see.turned.rings import CircleEquations, Ring, changed, circle_equations

AXIS_U_MM = 0.3
"""Standard uncertainty of the axis at the hub's end, carried on from the bosses, mm; raising it lets marks
shift a circle sideways rather than raise it."""
SAME_RADIUS_MM, OTHER_RADIUS_MM = 0.15, 1.0
"""How far the radii of a placed edge and of the one seen may differ, mm, where both are the same and where
they are not; raising them takes more marks to tell a height."""
RADII_MM = (4.0, 13.5)
"""Usual radii of end caps and locknuts, mm (common practice, no source)."""
HEIGHTS_MM = np.arange(3.0, 78.0, 3.0)
"""Heights above the bosses' faces from which a placed end face is looked for, mm; a finer step is slower."""
STEPS = 8
"""Steps of the fit; more are slower."""
LEAST_SURE_MM = 2.0
"""Standard uncertainty of a height from which marks do not tell it, mm; raising it takes marks from one photo
for a height."""


@dataclass(frozen=True)
class PlacedRing(Ring):
    """An edge by hand.

    Attributes
    ----------
    weights
        Per photo the weights (N,) of its points, mm^-2.
    known
        What is known of the circle besides, about the circle itself.
    height_u
        Standard uncertainty of its height, mm.
    """

    weights: tuple[Array, ...]
    known: CircleEquations
    height_u: float

    def only_photos(self, keep: Sequence[int]) -> PlacedRing:
        """Return the same ring as it was placed in some of the photos."""
        return replace(
            self,
            evidence=self.evidence.only_photos(keep),
            pixels=tuple(self.pixels[k] for k in keep),
            weights=tuple(self.weights[k] for k in keep),
        )


def placed_ring(
    marks: Sequence[Mark], photos: int, axis: HubAxis, near: Circle | None = None, *, agrees: bool = False
) -> PlacedRing | None:
    """Return the circle about the axis that passes placed points; None where they do not tell its height.

    Parameters
    ----------
    marks
        One point each.
    photos
        Their number.
    axis
        Of the hub, at the height of the bosses' faces.
    near
        An edge that was seen: another one is about as large. Without one, usual radii are all that is known.
    agrees
        Whether it is the same edge.
    """
    if not marks:
        return None
    if near is None:
        known = _Known(axis, float(np.mean(RADII_MM)), float(np.ptp(RADII_MM)) / 2)
    else:
        known = _Known(axis, near.radius, SAME_RADIUS_MM if agrees else OTHER_RADIUS_MM)
    levels = axis.height + HEIGHTS_MM if near is None else np.array([near.height])
    tried = [_settled(marks, known, known.circle(float(level))) for level in levels]
    circle, cost = min((one for one in tried if one is not None), key=lambda one: one[1], default=(None, 0.0))
    if circle is None:
        return None
    total, right = np.zeros((4, 4)), np.zeros(4)
    for equations in (*_equations(marks, circle), known.about(circle)):
        total, right = total + equations.normal, right + equations.right
    height_u = float(np.sqrt(np.linalg.inv(total)[2, 2] * max(cost / max(len(marks), 1), 1.0)))
    if not height_u < LEAST_SURE_MM:
        return None
    own = [[m for m in marks if m.photo == k] for k in range(photos)]
    return PlacedRing(
        circle.centre,
        circle.height,
        circle.radius,
        circle.slope,
        evidence=Evidence(np.zeros((photos, SECTORS))),
        pixels=tuple(np.concatenate([np.empty((0, 2)), *(m.pixels for m in some)]) for some in own),
        weights=tuple(np.array([u_mm(m, circle) ** -2.0 for m in some]) for some in own),
        known=known.about(circle),
        height_u=height_u,
    )


def u_mm(mark: Mark, circle: Circle) -> float:
    """Return a mark's standard uncertainty at a circle's height, mm."""
    at = mark.view.at_height(mark.pixels, circle.height)[0]
    return mark.u_px * float((at - mark.view.position) @ mark.view.rotation[2]) / mark.view.focal


def off_circle(mark: Mark, circle: Circle, height_u: float, beside_u: float) -> float:
    """Return how far a mark lies off a circle, in standard uncertainties of the difference.

    ``height_u`` and ``beside_u`` are those of the circle's height and of its place and radius, mm.
    """
    own = circle_equations(mark.view, mark.pixels, circle)
    if own is None:
        return 0.0
    off, by_height = float(own.right[3]), float(own.normal[2, 3])
    return abs(off) / float(np.sqrt(u_mm(mark, circle) ** 2 + (by_height * height_u) ** 2 + beside_u**2))


@dataclass(frozen=True)
class _Known:
    """What is known of a placed circle: the axis, and its radius with a standard uncertainty, mm."""

    axis: HubAxis
    radius: float
    radius_u: float

    def circle(self, height: float) -> Circle:
        return Circle(self.axis.at(height), height, self.radius, self.axis.slope)

    def about(self, circle: Circle) -> CircleEquations:
        weight = np.array([AXIS_U_MM**-2, AXIS_U_MM**-2, 0.0, self.radius_u**-2])
        off = np.array([*(self.axis.at(circle.height) - circle.centre), 0.0, self.radius - circle.radius])
        return CircleEquations(np.diag(weight), weight * off)


def _equations(marks: Sequence[Mark], circle: Circle) -> list[CircleEquations]:
    found = [
        circle_equations(mark.view, mark.pixels, circle, np.array([u_mm(mark, circle) ** -2.0]))
        for mark in marks
    ]
    return [equations for equations in found if equations is not None]


def _settled(marks: Sequence[Mark], known: _Known, start: Circle) -> tuple[Circle, float] | None:
    """Return the fitted circle and the sum of its squared residuals; None where it runs away."""
    circle = start
    for _ in range(STEPS):
        try:
            circle = changed(circle, [*_equations(marks, circle), known.about(circle)])
        except np.linalg.LinAlgError:
            return None
        if not known.axis.height < circle.height < known.axis.height + 2 * HEIGHTS_MM[-1]:
            return None
    cost = sum((e.right[3] ** 2) / e.normal[3, 3] for e in _equations(marks, circle))
    off = (circle.radius - known.radius) / known.radius_u
    return circle, float(cost) + off**2
