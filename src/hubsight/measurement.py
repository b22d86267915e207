"""What a measurement of one side of a hub returns: figures, warnings and what was seen in each photo."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from hubsight.figures import Figure
from hubsight.stated import SideName

FigureName = Literal[
    "flange_diameter",
    "boss_width",
    "spoke_offset",
    "spoke_offset_by_width",
    "protrusion",
    "reach",
    "flange_height",
]

Pixel = tuple[float, float]
"""Column, row; pixel centres are integers, in the array as stored, before EXIF rotation."""


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Refusal(_Frozen):
    """Why something could not be measured, where, and what to do. Falsy, so that callers can test it."""

    reason: str
    remedy: str
    photo: str | None = None

    def __bool__(self) -> Literal[False]:
        """Return False."""
        return False

    def sentence(self) -> str:
        """Return one sentence for the user: where, what is wrong, what to do."""
        where = f"{self.photo}: " if self.photo else ""
        return f"{where}{self.reason}. {self.remedy}"


class SaddleEvidence(_Frozen):
    """One saddle of the target: seen at ``pixel``, ``residual`` = seen minus adjusted, px."""

    pixel: Pixel
    residual: Pixel
    used: bool


class PhotoEvidence(_Frozen):
    """What was seen in one photo, in pixels as stored; drawn by the overlays.

    Attributes
    ----------
    saddles
        Target corners with residuals.
    gauges
        Per gauge the projected axis from seat to end (polyline, lens distortion included).
    gauge_ends, seats, crossing_points
        Per gauge the projected end, head seat and crossing point C.
    boss_outlines
        Per boss the projected outline of its upper face (closed polyline).
    centrelines
        Per boss the projected centreline segment.
    axis
        Projected hub axis at the flange's height.
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
    gauge_ends: tuple[Pixel, ...] = ()
    seats: tuple[Pixel, ...] = ()
    crossing_points: tuple[Pixel, ...] = ()
    boss_outlines: tuple[tuple[Pixel, ...], ...] = ()
    centrelines: tuple[tuple[Pixel, Pixel], ...] = ()
    axis: Pixel | None = None


class SideMeasurement(_Frozen):
    """One side of a hub, measured.

    Attributes
    ----------
    figures
        By name; a figure that could not be measured is absent and explained in ``refusals``.
    boss_count
        Found, not asked.
    crosses
        What the gauge's direction says the hub was drilled for; 0 for radial, None if unreadable.
    advice
        Which further photo or reading would help most.
    diameter_offset_correlation
        Of flange diameter and spoke offset, which come from one adjustment.
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
