"""What each photo of a lying hub shows, as it is drawn and recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera import View
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Solution
from hubsight.measure.evidence import pixels, saddles
from hubsight.model.side import EdgeKind, PhotoEvidence, SeenEdge
from hubsight.see.lying.flanges import FlangeSeen
from hubsight.see.lying.place import Placed
from hubsight.target.find import TargetSighting

ROUND = np.radians(np.arange(0.0, 361.0, 6.0))
"""Directions about the axis in which circles are drawn, rad."""
AXIS_MM = 12.0
"""Reach of the drawn axis beyond the end faces, mm."""


@dataclass(frozen=True)
class LyingPhoto:
    """One photo of a lying hub: its name, its size and orientation as stored, and its target."""

    file: str
    width: int
    height: int
    orientation: int
    sighting: TargetSighting


def lying_evidence(
    photos: Sequence[LyingPhoto], sheet: Solution, placed: Placed, flanges: Sequence[FlangeSeen]
) -> tuple[PhotoEvidence, ...]:
    """Project a lying hub's end faces, the middles of its flanges and its axis into every photo.

    Of an end face that looks towards the camera the whole edge counts as seen, of the other the half that is
    turned to it; a flange's middle and the axis are seen nowhere.
    """
    return tuple(_in_photo(photo, sheet, k, placed, flanges) for k, photo in enumerate(photos))


def _in_photo(
    photo: LyingPhoto, sheet: Solution, k: int, placed: Placed, flanges: Sequence[FlangeSeen]
) -> PhotoEvidence:
    view = view_in(sheet, k)
    corners = saddles(sheet, view, photo.sighting)
    edges = [
        _circle(view, placed, "end_face", number, place=at, radius=radius)
        for number, (at, radius) in enumerate(zip(placed.ends, placed.radii, strict=True))
    ]
    edges += [
        _circle(view, placed, "flange", number, place=flange.middle, radius=flange.radius)
        for number, flange in enumerate(flanges)
    ]
    ends = (placed.ends[0] - AXIS_MM, placed.ends[1] + AXIS_MM)
    axis = pixels(view, np.array([placed.frame.at(s) for s in ends]))
    edges.append(SeenEdge(kind="hub_axis", points=axis, seen=(False,) * len(axis)))
    return PhotoEvidence(
        file=photo.file,
        width=photo.width,
        height=photo.height,
        used=True,
        focal_px=view.focal,
        residual_px=float(np.sqrt(np.mean([np.square(s.residual) for s in corners if s.used]))),
        saddles=corners,
        edges=tuple(edges),
        orientation=photo.orientation,
    )


def _circle(
    view: View, placed: Placed, kind: EdgeKind, number: int, *, place: float, radius: float
) -> SeenEdge:
    points = placed.frame.round(np.array([place]), radius, ROUND)[0]
    seen = np.zeros(len(points), bool)
    if kind == "end_face":
        away = placed.frame.along * (1.0 if number else -1.0)
        looks_here = away @ (view.position - placed.frame.at(place)) > 0.0
        outward = placed.frame.outward(ROUND)
        seen = looks_here | (np.sum(outward * (view.position - points), axis=-1) > 0.0)
    return SeenEdge(kind=kind, number=number, points=pixels(view, points), seen=tuple(map(bool, seen)))
