"""A picture of all built wheels: where the ends came to lie against the prediction, side by side; mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean
from typing import Literal

from markupsafe import Markup

from hubsight.job.as_built import BuiltDocument, BuiltSide
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.show.vector import Frame, Vector, round_step
from hubsight.wheel.built import AsBuilt, over_jobs

By = Literal["rim", "nipple", "hub"]

FRAME = Frame(width=900.0, left=330.0, right=40.0, top=128.0, row=24.0)
"""Room of the picture, drawing units."""
LEAST_RANGE_MM = 1.0
"""Least range of the scale on both sides of zero, mm, so that small scatter looks small."""


def built_picture(document: BuiltDocument, by: By = "rim") -> Markup:
    """Return the built sides as SVG, one row each, grouped by what they were built of.

    The zero line is the prediction. A dot is observed less predicted, its bar the stated 95 % interval of
    that; a hollow diamond contradicts. The pale band is the mean of all and its scatter. A group's mean
    stands beside its name.
    """
    sides = [(side, side.result) for side in document.sides if side.result is not None]
    groups: dict[str, list[tuple[BuiltSide, AsBuilt]]] = {}
    for side, result in sides:
        groups.setdefault(str(getattr(side, by)) or "not named", []).append((side, result))
    rows = len(sides) + len(groups)
    bottom = FRAME.top + FRAME.row * rows + 8.0
    picture = Vector(FRAME.width, bottom + 66.0)
    limit = max([LEAST_RANGE_MM, *(abs(one.difference) + _half(one) for _, one in sides)])

    def x(mm: float) -> float:
        return FRAME.x((1.0 + mm / limit) / 2)

    _head(picture, [result for _, result in sides])
    if document.overall is not None:
        bias, scatter = document.overall.bias.value, document.overall.scatter
        picture.band((x(max(bias - scatter, -limit)), FRAME.top), (x(min(bias + scatter, limit)), bottom))
    _scale(picture, limit, bottom)
    y = FRAME.top + FRAME.row * 0.7
    for name, members in groups.items():
        mean = fmean(result.difference for _, result in members)
        picture.words((16, y), f"{name}: {mean:+.2f} mm", kind="head")
        y += FRAME.row
        for side, result in members:
            picture.words((34, y), f"{side.job}, {SIDE_WORDS[side.side].lower()}, {side.length:g} mm")
            _mark(picture, result, x(result.difference), x(_half(result)) - x(0.0), y - 4.0)
            y += FRAME.row
    return picture.svg(
        f"Ends of {len(sides)} built sides against the prediction, by {by}",
        "; ".join(f"{side.job} {side.side} {result.difference:+.2f} mm" for side, result in sides),
    )


def _half(result: AsBuilt) -> float:
    """Return the half width of the 95 % interval of a difference."""
    return COVERAGE_FACTOR * math.hypot(result.predicted.u, result.observed.u)


def _head(picture: Vector, results: Sequence[AsBuilt]) -> None:
    picture.words((16, 30), "Where the spokes' ends came to lie, observed less predicted", kind="title")
    stated = math.sqrt(fmean((_half(one) / COVERAGE_FACTOR) ** 2 for one in results))
    together = over_jobs(results)
    if together:
        bias = f"bias {together.bias.value:+.2f} ± {together.bias.u:.2f} mm"
        said = f"{bias}, scatter {together.scatter:.2f} mm, stated u {stated:.2f} mm"
        picture.words((16, 54), f"{said}; {together.inside} of {together.sides} within their 95 % interval")
    else:
        picture.words((16, 54), f"one side, stated u {stated:.2f} mm")
    said = "dot: as computed; hollow diamond: contradicts; bar: stated 95 %; band: mean of all and scatter"
    picture.words((16, 74), said, kind="small")


def _scale(picture: Vector, limit: float, bottom: float) -> None:
    """Draw the lines of the scale, and what each end of it means."""
    step = round_step(limit / 5.0)
    count = int(limit / step)
    for number in range(-count, count + 1):
        at = FRAME.x((1.0 + number * step / limit) / 2)
        picture.line([(at, FRAME.top), (at, bottom)], "pale" if number else "line")
        picture.words(
            (at, FRAME.top - 8), f"{number * step:+g}" if number else "0", anchor="middle", kind="small"
        )
    picture.words((FRAME.left, bottom + 22), "farther in: longer spokes needed", kind="small")
    picture.words((FRAME.end, bottom + 22), "farther out: shorter spokes needed", anchor="end", kind="small")
    picture.words((FRAME.x(0.5), bottom + 42), "mm", anchor="middle", kind="small")


def _mark(picture: Vector, result: AsBuilt, x: float, half: float, y: float) -> None:
    off = abs(result.e_n) > 1.0
    picture.line([(x - half, y), (x + half, y)], "offbar" if off else "bar")
    if off:
        picture.diamond((x, y), 7.0, "off")
    else:
        picture.circle((x, y), 5.0, "dot")
