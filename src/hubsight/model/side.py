"""What a measurement of one side of a hub returns: figures, warnings and what was seen in each photo."""

from __future__ import annotations

from typing import Literal

from hubsight.model.agreement import PhotosAgree
from hubsight.model.catalogue import FigureName
from hubsight.model.corrections import Pixel
from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import SideName
from hubsight.model.verdict import Reason

__all__ = [
    "AdjustedCamera",
    "EdgeKind",
    "FaceGauge",
    "FaceGeometry",
    "FigureName",
    "PhotoEvidence",
    "Pixel",
    "PrintScale",
    "SaddleEvidence",
    "SeenEdge",
    "SideMeasurement",
]


class SaddleEvidence(Frozen):
    """One saddle of the target: seen at ``pixel``, ``residual`` = seen minus adjusted, px."""

    pixel: Pixel
    residual: Pixel
    used: bool


EdgeKind = Literal["end_face", "flange", "hub_axis"]
"""End face of the hub, middle of a flange, axis of the hub."""


class SeenEdge(Frozen):
    """An edge of the hub in one photo.

    Attributes
    ----------
    kind, number
        What it is; of a lying hub's two end faces and flanges 0 or 1, in the order along its axis.
    points
        Polyline, px.
    seen
        For each point whether this photo shows the edge there; elsewhere it is inferred or hidden.
    """

    kind: EdgeKind
    number: int = 0
    points: tuple[Pixel, ...]
    seen: tuple[bool, ...]


class PhotoEvidence(Frozen):
    """What was seen in one photo, in pixels as stored; drawn by the overlays.

    Attributes
    ----------
    saddles
        Target corners with residuals.
    gauges
        Per gauge the projected axis from seat to end (polyline, lens distortion included).
    other_gauges
        The same, from boss to end, of gauges that are seen but were not stated.
    gauge_ends, seats, crossing_points
        Per gauge the projected end, head seat and crossing point C.
    gauge_end_outlines
        Per gauge where the end's outline crosses the axis: what an eye sees of the end.
    boss_outlines
        Per boss the projected outline of its upper face (closed polyline).
    centrelines
        Per boss the projected centreline segment.
    axis
        Projected hub axis at the flange's height.
    ends_seen
        Per gauge where this photo itself shows the end's outline, by sight or placed by hand; None where it
        does not.
    bosses_seen
        Numbers of the bosses that were found in this photo, the others follow from the pattern; None where
        that was not noted.
    edges
        Of end faces, and of a lying hub.
    orientation
        EXIF orientation of a lying hub's photo, by which it is turned upright.
    """

    file: str
    width: int
    height: int
    used: bool
    note: str = ""
    focal_px: float | None = None
    residual_px: float | None = None
    saddles: tuple[SaddleEvidence, ...] = ()
    gauges: tuple[tuple[Pixel, ...], ...] = ()
    other_gauges: tuple[tuple[Pixel, ...], ...] = ()
    gauge_ends: tuple[Pixel, ...] = ()
    gauge_end_outlines: tuple[Pixel, ...] = ()
    seats: tuple[Pixel, ...] = ()
    crossing_points: tuple[Pixel, ...] = ()
    boss_outlines: tuple[tuple[Pixel, ...], ...] = ()
    centrelines: tuple[tuple[Pixel, Pixel], ...] = ()
    axis: Pixel | None = None
    ends_seen: tuple[Pixel | None, ...] = ()
    bosses_seen: tuple[int, ...] | None = None
    edges: tuple[SeenEdge, ...] = ()
    orientation: int = 1

    def shows_boss(self, boss: int) -> bool:
        """Tell whether a boss was found in this photo."""
        return self.bosses_seen is None or boss in self.bosses_seen


class AdjustedCamera(Frozen):
    """The camera that the photos of a side share, as adjusted.

    Attributes
    ----------
    focal_px, focal_u_px
        Focal length and its standard uncertainty.
    principal_point_px
        Column, row.
    distortion
        k1 k2 p1 p2 k3 of Brown and Conrady, in OpenCV's sense.
    """

    focal_px: float
    focal_u_px: float
    principal_point_px: Pixel
    distortion: tuple[float, ...]


class PrintScale(Frozen):
    """Printed over nominal lengths of the target along its long (x) and short (y) side, as adjusted."""

    x: float
    x_u: float
    y: float
    y_u: float


class FaceGauge(Frozen):
    """A gauge, seen along the hub axis; mm.

    Attributes
    ----------
    boss
        The boss that it is in, counted anticlockwise from that of the first gauge.
    radius
        Of its crossing point (radial hubs: where it leaves the flange) about the axis.
    outward, sideways
        Its unit direction along the boss' centreline, and to the left of that.
    reach, length
        From the crossing point to its end, and from its seat to its end.
    """

    boss: int
    radius: float
    outward: float
    sideways: float
    reach: float
    length: float


class FaceGeometry(Frozen):
    """The flange seen from above along its axis; mm, the axis is the origin.

    Attributes
    ----------
    boss_outline
        Of the first gauge's boss, its centreline along +x; the others are turned by equal steps. Empty on
        radial hubs.
    rim_radius
        The flange's outside on radial hubs.
    gauges
        In the order stated.
    """

    boss_outline: tuple[tuple[float, float], ...] = ()
    rim_radius: float | None = None
    gauges: tuple[FaceGauge, ...] = ()


class SideMeasurement(Frozen):
    """One side of a hub, measured.

    Attributes
    ----------
    figures
        By name; a figure that could not be measured is absent and explained in ``refusals``.
    boss_count
        Found, not asked.
    crosses
        What the gauge's direction says the hub was drilled for, 0 on radial hubs; None if unreadable.
    first_holes
        Which first holes of a stated row of rim holes the gauge's direction allows, likeliest first; empty
        where that is no question.
    doubts
        What contradicts what in the photos and the marks by hand, by how much, and what would settle it.
    repeats
        How repeated photo sets of this side scatter; their figures are combined.
    advice
        Which further photo or reading would help most.
    diameter_offset_correlation
        Of flange diameter and spoke offset, which come from one adjustment.
    camera, print_scale, face
        As adjusted, for record and drawing.
    agreement
        What each photo says of what the figures hang on, and each figure without each photo.
    placed_by_hand
        What a person placed or left out, one sentence each.
    """

    name: SideName
    kind: Literal["paired", "radial"]
    boss_count: int
    crosses: int | None
    figures: dict[FigureName, Figure]
    warnings: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    photos: tuple[PhotoEvidence, ...] = ()
    diameter_offset_correlation: float | None = None
    camera: AdjustedCamera | None = None
    print_scale: PrintScale | None = None
    face: FaceGeometry | None = None
    placed_by_hand: tuple[str, ...] = ()
    repeats: tuple[str, ...] = ()
    first_holes: tuple[int, ...] = ()
    doubts: tuple[Reason, ...] = ()
    agreement: PhotosAgree = PhotosAgree()
