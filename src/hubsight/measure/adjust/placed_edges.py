"""Points placed on turned edges of a standing hub: against what was seen, and in the figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Solution
from hubsight.measure.adjust.judged import CONTRADICTS_SIGMAS, Conflict, Judged
from hubsight.measure.adjust.placed import between
from hubsight.model.corrections import Corrections, PlacedEdge
from hubsight.scene.turned import Circle, HubAxis
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.marks import Mark, Marks
from hubsight.see.turned.end_face import EndFace
from hubsight.see.turned.ends import EndsSeen
from hubsight.see.turned.placed import off_circle, placed_ring, u_mm
from hubsight.see.turned.rings import Ring, circle_equations

EDGE_HEIGHT_U_MM, EDGE_BESIDE_U_MM = 0.2, 0.15
"""Standard uncertainties of a seen edge, of its height, and of its place and radius, mm; raising them
believes marks that are further off (found on rendered hubs)."""
RIM_U_MM = 0.1
"""Standard uncertainty of a seen rim's radius, mm; raising it lets marks count more (found on rendered
hubs)."""


@dataclass(frozen=True)
class Edges:
    """Turned edges as seen, with the adjustment by which marks are compared with them."""

    files: Sequence[str]
    solution: Solution
    bosses: BossSighting
    ends: EndsSeen

    def judged(self, judged: Judged) -> Judged:
        """Return the same judgement with that of marks on edges, of which nobody said yet which is right."""
        marks = judged.believed
        worst: dict[tuple[PlacedEdge, ...], Conflict] = {}
        for mark in marks.edges:
            if mark.photo not in self.files or marks.believed(mark) is not None:
                continue
            found, own = self._conflict(mark), marks.together(mark)
            if found is not None and found.sigmas > max(CONTRADICTS_SIGMAS, _sigmas(worst.get(own))):
                worst[own] = found
        wrong = [mark for own in worst for mark in own]
        return Judged(marks.without_marks(wrong), (*judged.conflicts, *worst.values())) if worst else judged

    def marked_ends(self, believed: Corrections) -> EndsSeen:
        """Return the ends with what was placed on the end face, beside what was seen or in its place."""
        marks = self._marks(believed).edge("end_face")
        seen = self.ends.end_face
        if not marks:
            return self.ends
        near = None if seen is None else min(seen.rings, key=lambda ring: self._off(marks, ring))
        against = near is None or self._off(marks, near) > CONTRADICTS_SIGMAS
        ring = placed_ring(marks, len(self.files), self.axis, near, agrees=not against)
        if ring is None:
            return self.ends
        if seen is None or against:
            return replace(self.ends, end_face=EndFace((ring,), False, False, by_hand=True))
        return replace(self.ends, end_face=replace(seen, placed=ring))

    def marked_rim(self, believed: Corrections) -> tuple[float | None, float]:
        """Return the radius of a radial flange's rim with what was placed on it, and what its u adds, mm."""
        seen, rim = self.bosses.rim_radius, self._rim
        marks = self._marks(believed).edge("rim")
        if rim is None or seen is None or self.bosses.by_hand or not marks:
            return seen, 0.0
        placed = [(rim.radius + _off_mm(mark, rim), u_mm(mark, rim)) for mark in marks]
        against = any(off_circle(m, rim, 0.0, RIM_U_MM) > CONTRADICTS_SIGMAS for m in marks)
        radius, u = between(placed, rim.radius, np.inf if against else RIM_U_MM)
        return seen * radius / rim.radius, u

    @cached_property
    def axis(self) -> HubAxis:
        """The hub's axis as adjusted."""
        pattern = self.solution["pattern"]
        return HubAxis(pattern[:2], float(pattern[2]), -pattern[3:5])

    @cached_property
    def _rim(self) -> Circle | None:
        pose, seen = self.bosses.pose, self.bosses.rim_radius
        if self.bosses.kind != "radial" or seen is None:
            return None
        pattern, axis = self.solution["pattern"], self.axis
        return Circle(axis.point, axis.height, seen * float(pattern[5]) / pose.radius, axis.slope)

    def _marks(self, corrections: Corrections) -> Marks:
        return Marks(corrections, self.files, [view_in(self.solution, k) for k in range(len(self.files))])

    def _off(self, marks: Sequence[Mark], ring: Circle) -> float:
        """How far the worst mark lies off an end face's edge, in standard uncertainties."""
        return max(off_circle(mark, ring, self._height_u, EDGE_BESIDE_U_MM) for mark in marks)

    @cached_property
    def _height_u(self) -> float:
        own = None if self.ends.end_face is None else self.ends.end_face.own
        return float(np.hypot(EDGE_HEIGHT_U_MM, 0.0 if own is None else own.u_together))

    def _conflict(self, mark: PlacedEdge) -> Conflict | None:
        """Compare a mark with what was seen of the same edge; None where nothing was."""
        (own,) = self._marks(Corrections(edges=(mark,))).edge(mark.edge, mark.number)
        if mark.edge == "rim":
            rim = None if self.bosses.by_hand else self._rim
            shown = tuple(self.files[k] for k in np.unique(self.bosses.matches.photo))
            return None if rim is None else Conflict(mark, off_circle(own, rim, 0.0, RIM_U_MM), shown)
        face = self.ends.end_face
        if face is None or mark.edge != "end_face":
            return None
        return Conflict(mark, min(self._off([own], ring) for ring in face.rings), self._showing(face.rings))

    def _showing(self, rings: Sequence[Ring]) -> tuple[str, ...]:
        return tuple(f for k, f in enumerate(self.files) if any(len(ring.pixels[k]) for ring in rings))


def _sigmas(conflict: Conflict | None) -> float:
    return 0.0 if conflict is None else conflict.sigmas


def _off_mm(mark: Mark, circle: Circle) -> float:
    """How far outside of a circle a mark lies, mm."""
    own = circle_equations(mark.view, mark.pixels, circle)
    return 0.0 if own is None else float(own.right[3])
