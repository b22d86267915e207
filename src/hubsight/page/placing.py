"""What the viewer sends when somebody placed something in a photo, and the corrections that it makes."""

from __future__ import annotations

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from hubsight.model.corrections import (
    EDGE_WORDS,
    LEAST_BOSSES,
    MOST_BORES,
    MOST_POINTS,
    Corrections,
    Pixel,
    PlacedAxis,
    PlacedCentreline,
    PlacedEdge,
    PlacedEnd,
    PlacedFace,
    placed_u_px,
)
from hubsight.page.looking import Looked
from hubsight.page.view import What, as_stored, upright_size

MOST_MARKS = 64
"""In one go; more than both faces of every boss."""
LARGEST_U_PX = 200.0
"""Largest uncertainty of a mark placed by hand, px."""


class PlacedMark(BaseModel):
    """One thing that was placed.

    Attributes
    ----------
    what, gauge, point, boss
        What it is, see `hubsight.page.view.Handle`.
    points
        In the upright picture: two for an axis, else one.
    scale
        Screen pixels per photo pixel when it was placed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    what: What
    gauge: int = Field(0, ge=0, le=1)
    point: int = Field(0, ge=0, lt=MOST_POINTS)
    boss: int = Field(0, ge=0, le=99)
    points: tuple[Pixel, ...] = Field(min_length=1, max_length=2)
    scale: float = Field(gt=0, le=1000)


class Placed(BaseModel):
    """All that was placed in one photo in one go.

    Attributes
    ----------
    bosses
        Their number, where the marks begin a boss pattern: earlier marks on bosses of this photo then go.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    photo: str = Field(max_length=64)
    marks: tuple[PlacedMark, ...] = Field(min_length=1, max_length=MOST_MARKS)
    bosses: int | None = Field(None, ge=LEAST_BOSSES, le=MOST_BORES)


def with_placed(corrections: Corrections, placed: Placed, file: str, looked: Looked) -> Corrections:
    """Return the corrections with marks more, in place of earlier ones of the same things in the photo.

    Raises
    ------
    ValueError
        If a point lies outside the photo, or an axis has not two.
    """
    if placed.bosses is not None:
        corrections = corrections.model_copy(
            update={
                "bosses": placed.bosses,
                "faces": tuple(m for m in corrections.faces if m.photo != file),
                "centrelines": tuple(m for m in corrections.centrelines if m.photo != file),
                "edges": tuple(m for m in corrections.edges if (m.photo, m.edge) != (file, "rim")),
            }
        )
    for what, number in {(m.what, m.boss) for m in placed.marks if m.what in EDGE_WORDS}:
        own = [m for m in placed.marks if (m.what, m.boss) == (what, number)]
        if len(own) > 1:  # placed anew
            kept = (m for m in corrections.edges if (m.photo, m.edge, m.number) != (file, what, number))
            corrections = corrections.model_copy(update={"edges": tuple(kept)})
    for mark in placed.marks:
        corrections = _with_mark(corrections, mark, file, looked)
    return corrections


def _with_mark(corrections: Corrections, placed: PlacedMark, file: str, looked: Looked) -> Corrections:
    width, height = upright_size(looked)
    if not all(-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5 for x, y in placed.points):
        raise ValueError("outside the photo")
    points = [as_stored(p, looked) for p in placed.points]
    u_px, gauge, boss = min(placed_u_px(placed.scale), LARGEST_U_PX), placed.gauge, placed.boss
    if placed.what == "end":
        ends = tuple(m for m in corrections.ends if (m.photo, m.gauge) != (file, gauge))
        end = PlacedEnd(photo=file, gauge=gauge, pixel=points[0], u_px=u_px)
        return corrections.model_copy(update={"ends": (*ends, end)})
    if placed.what == "axis":
        first, second = points
        if np.hypot(first[0] - second[0], first[1] - second[1]) < 20 * u_px:
            raise ValueError("the two points of an axis must lie apart")
        axes = tuple(m for m in corrections.axes if (m.photo, m.gauge) != (file, gauge))
        axis = PlacedAxis(photo=file, gauge=gauge, pixels=(first, second), u_px=u_px)
        return corrections.model_copy(update={"axes": (*axes, axis)})
    if placed.what in ("end_face", "rim", "flange"):
        edge = PlacedEdge(
            photo=file, edge=placed.what, number=boss, point=placed.point, pixel=points[0], u_px=u_px
        )
        others = (
            m for m in corrections.edges if m not in corrections.together(edge) or m.point != edge.point
        )
        return corrections.model_copy(update={"edges": (*others, edge)})
    if placed.what == "face":
        same = (file, boss, placed.point)
        faces = tuple(m for m in corrections.faces if (m.photo, m.boss, m.face) != same)
        face = PlacedFace(photo=file, boss=boss, face=placed.point, pixel=points[0], u_px=u_px)
        return corrections.model_copy(update={"faces": (*faces, face)})
    lines = tuple(m for m in corrections.centrelines if (m.photo, m.boss) != (file, boss))
    line = PlacedCentreline(photo=file, boss=boss, pixel=points[0], u_px=u_px)
    return corrections.model_copy(update={"centrelines": (*lines, line)})
