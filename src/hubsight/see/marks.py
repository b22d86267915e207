"""What a person placed in the photos of a set, with each photo's camera and pose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array
from hubsight.model.corrections import Corrections, Edge, Pixel, PlacedFace


@dataclass(frozen=True)
class Mark:
    """Points (N, 2) placed in one photo, px, with the standard uncertainty of a coordinate."""

    photo: int
    view: View
    pixels: Array
    u_px: float


@dataclass(frozen=True)
class Marks:
    """Everything that was placed in a set; marks in other photos are passed over.

    Attributes
    ----------
    corrections
        As placed.
    files, views
        Per photo its name, camera and pose.
    """

    corrections: Corrections
    files: Sequence[str]
    views: Sequence[View]

    def _mark(self, file: str, pixels: Sequence[Pixel], u_px: float) -> Mark:
        photo = self.files.index(file)
        return Mark(photo, self.views[photo], np.array(pixels), u_px)

    def axes(self, gauge: int) -> list[Mark]:
        """Return a gauge's axes, two points each, the one nearer to the hub first."""
        own = [a for a in self.corrections.axes if a.gauge == gauge and a.photo in self.files]
        return [self._mark(a.photo, a.pixels, a.u_px) for a in own]

    def ends(self, gauge: int) -> list[Mark]:
        """Return a gauge's far ends, one point each."""
        own = [e for e in self.corrections.ends if e.gauge == gauge and e.photo in self.files]
        return [self._mark(e.photo, [e.pixel], e.u_px) for e in own]

    def edge(self, edge: Edge, number: int = 0) -> list[Mark]:
        """Return the points placed on a turned edge, one each."""
        own = [m for m in self.corrections.edge_marks(edge) if m.number == number and m.photo in self.files]
        return [self._mark(m.photo, [m.pixel], m.u_px) for m in own]

    def face_pairs(self) -> list[Mark]:
        """Return the bosses of which both faces were placed, two points each."""
        pairs: dict[tuple[str, int], list[PlacedFace]] = {}
        for face in self.corrections.faces:
            if face.photo in self.files:
                pairs.setdefault((face.photo, face.boss), []).append(face)
        return [
            self._mark(photo, [f.pixel for f in pair], float(np.hypot(pair[0].u_px, pair[1].u_px)) / 2**0.5)
            for (photo, _), pair in pairs.items()
            if len(pair) == 2
        ]

    def halfway(self) -> list[Mark]:
        """Return the points half-way between two placed faces, one each."""
        return [
            Mark(m.photo, m.view, m.pixels.mean(axis=0)[None], m.u_px / 2**0.5) for m in self.face_pairs()
        ]

    def centrelines(self) -> list[Mark]:
        """Return the points of bosses' centrelines, those half-way between two faces among them."""
        own = [m for m in self.corrections.centrelines if m.photo in self.files]
        return [*self.halfway(), *(self._mark(m.photo, [m.pixel], m.u_px) for m in own)]
