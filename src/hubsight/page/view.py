"""What the viewer draws over one photo, in pixels of the upright picture, and what it says of the figures."""

from __future__ import annotations

from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from hubsight.corrections import (
    Corrections,
    Pixel,
    PlacedAxis,
    PlacedCentreline,
    PlacedEnd,
    PlacedFace,
    placed_u_px,
)
from hubsight.job.overlay import displayed, displayed_evidence
from hubsight.measurement import PhotoEvidence
from hubsight.page.looking import Looked

What = Literal["end", "axis", "face", "centreline"]

_INVERSE = {6: 8, 8: 6}


class Handle(BaseModel):
    """Something that can be moved.

    Attributes
    ----------
    what, gauge
        What it is, and of which gauge.
    point
        0 or 1 for the two points of an axis, else 0.
    boss
        Of faces and centrelines, from 0; None for the gauge.
    at, label
        Where it is, and its name.
    """

    model_config = ConfigDict(frozen=True)

    what: What
    gauge: int = 0
    point: int = 0
    boss: int | None = None
    at: Pixel
    label: str


class Drawing(BaseModel):
    """One photo's overlay."""

    model_config = ConfigDict(frozen=True)

    width: int
    height: int
    corners: tuple[Pixel, ...] = ()
    unused: tuple[Pixel, ...] = ()
    gauges: tuple[tuple[Pixel, ...], ...] = ()
    ends: tuple[Pixel, ...] = ()
    seats: tuple[Pixel, ...] = ()
    crossings: tuple[Pixel, ...] = ()
    outlines: tuple[tuple[Pixel, ...], ...] = ()
    centrelines: tuple[tuple[Pixel, Pixel], ...] = ()
    axis: Pixel | None = None
    handles: tuple[Handle, ...] = ()
    bosses: int = 0
    gauge_boss: int = 0


def upright_size(looked: Looked) -> tuple[int, int]:
    """Return width and height of a photo as it is looked at."""
    turned = looked.orientation >= 5
    return (looked.height, looked.width) if turned else (looked.width, looked.height)


def as_stored(point: Pixel, looked: Looked) -> Pixel:
    """Carry a pixel of the upright picture back to the array as stored."""
    width, height = upright_size(looked)
    return displayed(point, _INVERSE.get(looked.orientation, looked.orientation), width, height)


def first_drawing(looked: Looked) -> Drawing:
    """Draw what a first look saw."""
    width, height = upright_size(looked)
    look = looked.look
    if look is None:
        return Drawing(width=width, height=height)

    def turn(point: Pixel) -> Pixel:
        return displayed(point, looked.orientation, looked.width, looked.height)

    return Drawing(
        width=width,
        height=height,
        corners=tuple(turn(p) for p in look.corners),
        gauges=(tuple(turn(p) for p in look.gauge),) if look.gauge else (),
        ends=() if look.gauge_end is None else (turn(look.gauge_end),),
    )


def measured_drawing(evidence: PhotoEvidence, looked: Looked, corrections: Corrections) -> Drawing:
    """Draw what was measured, with handles at what can be moved."""
    seen = displayed_evidence(evidence, looked.orientation)
    return Drawing(
        width=seen.width,
        height=seen.height,
        corners=tuple(s.pixel for s in seen.saddles if s.used),
        unused=tuple(s.pixel for s in seen.saddles if not s.used),
        gauges=seen.gauges,
        ends=seen.gauge_end_outlines,
        seats=seen.seats,
        crossings=seen.crossing_points,
        outlines=seen.boss_outlines,
        centrelines=seen.centrelines,
        axis=seen.axis,
        handles=_handles(seen, looked, corrections),
        bosses=len(seen.centrelines),
        gauge_boss=_gauge_boss(seen),
    )


def _gauge_boss(seen: PhotoEvidence) -> int:
    """Return the boss in which the first gauge is."""
    if not seen.centrelines or not seen.crossing_points:
        return 0
    middles = np.array(seen.centrelines).mean(axis=1)
    return int(np.linalg.norm(middles - np.array(seen.crossing_points[0]), axis=1).argmin())


def _handles(seen: PhotoEvidence, looked: Looked, corrections: Corrections) -> tuple[Handle, ...]:
    """Put handles where something was placed by hand, else where the adjustment has it."""

    def turn(point: Pixel) -> Pixel:
        return displayed(point, looked.orientation, looked.width, looked.height)

    out: list[Handle] = []
    for k, (line, end) in enumerate(zip(seen.gauges, seen.gauge_end_outlines, strict=True)):
        name = "gauge" if len(seen.gauges) == 1 else f"gauge {k + 1}"
        own_end = [m.pixel for m in corrections.ends if (m.photo, m.gauge) == (seen.file, k)]
        own_axis = [m.pixels for m in corrections.axes if (m.photo, m.gauge) == (seen.file, k)]
        near, far = own_axis[0] if own_axis else (None, None)
        ends = (turn(near), turn(far)) if near and far else (line[len(line) // 3], line[(3 * len(line)) // 4])
        out += [
            Handle(
                what="end", gauge=k, at=turn(own_end[0]) if own_end else end, label=f"Far end of the {name}"
            ),
            Handle(what="axis", gauge=k, point=0, at=ends[0], label=f"Axis of the {name}, at the hub"),
            Handle(what="axis", gauge=k, point=1, at=ends[1], label=f"Axis of the {name}, near its end"),
        ]
    if not seen.centrelines:
        return tuple(out)
    faces = {(m.boss, m.face): turn(m.pixel) for m in corrections.faces if m.photo == seen.file}
    lines = {m.boss: turn(m.pixel) for m in corrections.centrelines if m.photo == seen.file}
    for k, (outline, centreline) in enumerate(zip(seen.boss_outlines, seen.centrelines, strict=True)):
        quarter = (len(outline) - 1) // 4
        sides = (outline[quarter], outline[-2 - quarter])
        out += [
            Handle(
                what="face", boss=k, point=p, at=faces.get((k, p), at), label=f"Boss {k + 1}, face {p + 1}"
            )
            for p, at in enumerate(sides)
        ]
        at = lines.get(k, centreline[1])
        out.append(Handle(what="centreline", boss=k, at=at, label=f"Boss {k + 1}, centreline"))
    return tuple(out)


class Placed(BaseModel):
    """What the viewer sends when somebody moved a handle.

    Attributes
    ----------
    points
        In the upright picture: two for an axis, else one.
    scale
        Screen pixels per photo pixel when it was placed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    photo: str = Field(max_length=64)
    what: What
    gauge: int = Field(0, ge=0, le=1)
    point: int = Field(0, ge=0, le=1)
    boss: int = Field(0, ge=0, le=99)
    points: tuple[Pixel, ...] = Field(min_length=1, max_length=2)
    scale: float = Field(gt=0, le=1000)


def with_placed(corrections: Corrections, placed: Placed, file: str, looked: Looked) -> Corrections:
    """Return the corrections with a mark more, in place of an earlier one of the same thing in the photo.

    Raises
    ------
    ValueError
        If a point lies outside the photo, or an axis has not two.
    """
    width, height = upright_size(looked)
    if not all(-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5 for x, y in placed.points):
        raise ValueError("outside the photo")
    points = [as_stored(p, looked) for p in placed.points]
    u_px, gauge = min(placed_u_px(placed.scale), 200.0), placed.gauge
    if placed.what == "end":
        others = tuple(m for m in corrections.ends if (m.photo, m.gauge) != (file, gauge))
        mark = PlacedEnd(photo=file, gauge=gauge, pixel=points[0], u_px=u_px)
        return corrections.model_copy(update={"ends": (*others, mark)})
    if placed.what == "axis":
        first, second = points
        if np.hypot(first[0] - second[0], first[1] - second[1]) < 20 * u_px:
            raise ValueError("the two points of an axis must lie apart")
        lines = tuple(m for m in corrections.axes if (m.photo, m.gauge) != (file, gauge))
        axis = PlacedAxis(photo=file, gauge=gauge, pixels=(first, second), u_px=u_px)
        return corrections.model_copy(update={"axes": (*lines, axis)})
    if placed.what == "face":
        own = (file, placed.boss, placed.point)
        faces = tuple(m for m in corrections.faces if (m.photo, m.boss, m.face) != own)
        face = PlacedFace(photo=file, boss=placed.boss, face=placed.point, pixel=points[0], u_px=u_px)
        return corrections.model_copy(update={"faces": (*faces, face)})
    rest = tuple(m for m in corrections.centrelines if (m.photo, m.boss) != (file, placed.boss))
    line = PlacedCentreline(photo=file, boss=placed.boss, pixel=points[0], u_px=u_px)
    return corrections.model_copy(update={"centrelines": (*rest, line)})
