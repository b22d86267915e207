"""Height of a standing hub's upper end face, from its edges as seen and as placed by hand."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from hubsight.camera.observe import view_of
from hubsight.estimate.problem import Solution
from hubsight.model.arrays import Array
from hubsight.scene.turned import Circle
from hubsight.scene.usual import Usual
from hubsight.see.turned.end_face import EndFace
from hubsight.see.turned.placed import PlacedRing
from hubsight.see.turned.rings import CircleEquations, Ring, changed, circle_equations, ring_circle

OUTER_EDGE_MM = Usual(0.15, 0.2)
"""Height of a face above its outer edge as it is seen, rounded off, and its standard uncertainty, mm; raising
the first makes hubs wider (found on rendered hubs)."""
INNER_EDGE_MM = Usual(0.17, 0.13)
"""The same of its inner edge."""
ENOUGH_PHOTOS = 4
"""Photos of the sets on which those were found; fewer show fewer sides of a rounding, and are less sure by as
much."""
FACE_U_MM = 0.05
"""Standard uncertainty that both edges have in common, mm."""
TUBE_U_MM = 0.5
"""A lone edge as small as an axle's bore may be that of a tube that ends below the face."""


@dataclass(frozen=True)
class FaceHeight:
    """The height of an end face as a function of the adjusted unknowns.

    Attributes
    ----------
    solution, photos
        The adjustment, and the number of its photos.
    face
        As seen and placed.
    """

    solution: Solution
    photos: int
    face: EndFace
    asked: dict[tuple[int, int, bytes], CircleEquations | None] = field(default_factory=dict, compare=False)
    """What a photo said of an edge: most steps of a gradient leave it as it is."""

    def at(self, x: Array) -> float:
        """Return the face's height above the sheet, mm, at unknowns ``x``."""
        edges = self.face.rings
        heights = np.array([self._edge(number, x) for number in range(len(edges))])
        above, u = self._above
        seen, share = float(np.average(heights + above, weights=u**-2)), self._share
        if not share:
            return seen
        return (1 - share) * seen + share * (self._edge(len(edges), x) + OUTER_EDGE_MM.mean)

    @cached_property
    def u(self) -> float:
        """Standard uncertainty of the height on account of the face's edges, mm.

        That is their shape, how far outer and inner one and the photos contradict each other, and what else
        may be the end.
        """
        return (1 - self._share) * self._seen_u

    @cached_property
    def placed_u(self) -> float:
        """What the uncertainty of marks by hand brings to the height, mm."""
        if self.face.placed is not None:
            return self._share * self.face.placed.height_u
        return sum(ring.height_u for ring in self.face.rings if isinstance(ring, PlacedRing))

    @cached_property
    def _share(self) -> float:
        """Weight of an edge placed by hand beside what was seen, between 0 and 1."""
        if self.face.placed is None:
            return 0.0
        seen = self._seen_u**2
        return seen / (seen + self.face.placed.height_u**2 + OUTER_EDGE_MM.sigma**2)

    def _edge(self, number: int, x: Array) -> float:
        """Height of an edge, from where it lies as adjusted."""
        circle, ring, layout = self._adjusted[number], self._rings[number], self.solution.layout
        placed = ring if isinstance(ring, PlacedRing) else None
        equations = [] if placed is None else [placed.known]
        for k in range(self.photos):
            key = number, k, np.append(x[layout["camera"]], x[layout[f"photo{k}"]]).tobytes()
            if key not in self.asked:
                weights = None if placed is None else placed.weights[k]
                self.asked[key] = circle_equations(view_of(layout, x, k), ring.pixels[k], circle, weights)
            said = self.asked[key]
            equations += [] if said is None else [said]
        return changed(circle, equations).height

    @property
    def _rings(self) -> tuple[Ring, ...]:
        placed = self.face.placed
        return self.face.rings if placed is None else (*self.face.rings, placed)

    @cached_property
    def _adjusted(self) -> list[Circle]:
        views = [view_of(self.solution.layout, self.solution.x, k) for k in range(self.photos)]
        return [r if isinstance(r, PlacedRing) else ring_circle(views, r) for r in self._rings]

    @cached_property
    def _seen_u(self) -> float:
        face = self.face
        above, u = self._above
        heights = np.array([ring.height for ring in face.rings]) + above
        mean = np.average(heights, weights=u**-2)
        apart = max(float(np.sum(((heights - mean) / u) ** 2)), 1.0)
        tube = TUBE_U_MM if face.doubtful else 0.0
        rival = face.rival
        other = 0.0 if rival is None else rival.above * (rival.probability * (1 - rival.probability)) ** 0.5
        shape = max(ENOUGH_PHOTOS / self.photos, 1.0) * (apart / np.sum(u**-2)) ** 0.5
        photos = 0.0 if face.own is None else face.own.u_together
        return float(np.sqrt(shape**2 + FACE_U_MM**2 + photos**2 + tube**2 + other**2))

    @cached_property
    def _above(self) -> tuple[Array, Array]:
        """How far the face lies above its edges as seen, and how well that is known."""
        inner = np.array([self.face.inner(ring) for ring in self.face.rings])
        return (
            np.where(inner, INNER_EDGE_MM.mean, OUTER_EDGE_MM.mean),
            np.where(inner, INNER_EDGE_MM.sigma, OUTER_EDGE_MM.sigma),
        )
