"""A picture of a rim out of round: the diameters that were read, enlarged about their mean; mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

from markupsafe import Markup

from hubsight.job.file.rim_of_kit import directions_of, rim_erd, rim_roundness
from hubsight.kit.model import KitRim
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.show.vector import Place, Vector
from hubsight.wheel.rim import ERD_READING_U_MM


@dataclass(frozen=True)
class Dial:
    """Of the picture, drawing units.

    Attributes
    ----------
    size, centre
        Of the picture, and where the rim's middle lies.
    radius
        Of the mean diameter.
    reach
        How far the largest deviation comes from the mean circle.
    rings_mm
        Deviations of which one is drawn as two rings: the largest that comes within `reach`.
    least_mm
        Deviation of a diameter that is drawn at `reach` at least, so that a good rim looks round.
    """

    size: tuple[float, float] = (640.0, 620.0)
    centre: tuple[float, float] = (320.0, 340.0)
    radius: float = 180.0
    reach: float = 50.0
    rings_mm: tuple[float, float, float, float] = (0.5, 1.0, 2.0, 5.0)
    least_mm: float = 1.0


DIAL = Dial()
"""As the program draws it."""


def rim_picture(name: str, rim: KitRim) -> Markup:
    """Return a rim's readings as SVG: each at both ends of its diameter, with its 95 % interval.

    Deviations from the mean diameter are enlarged. The valve hole is on top; holes count clockwise. The curve
    is the oval that fits best.
    """
    erd, directions = rim_erd(rim), directions_of(rim)
    deviations = [value - erd.value for value in rim.diameters]
    largest = max(DIAL.least_mm, *(abs(value) for value in deviations))
    scale = DIAL.reach / largest
    picture = Vector(*DIAL.size)
    picture.words((24, 32), f"{name}: ERD {erd.value:.2f} ± {erd.u:.2f} mm", kind="title")
    found = rim_roundness(rim)
    spread = max(rim.diameters) - min(rim.diameters)
    picture.words((24, 54), f"largest less smallest reading {spread:.2f} mm")
    if found is not None:
        for line, text in enumerate(found.sentence().split(": ")):
            picture.words((24, 72 + 18 * line), text)
    picture.circle(DIAL.centre, DIAL.radius, "line")
    step = max(ring for ring in DIAL.rings_mm if ring <= largest)
    for ring in (-step, step):
        picture.circle(DIAL.centre, DIAL.radius + ring * scale, "pale")
        picture.words(_at(160.0, DIAL.radius + ring * scale + 14), f"{ring:+.1f} mm", kind="small")
    _valve(picture)
    if found is not None:
        turns = [float(step) for step in range(0, 361, 3)]
        radii = [DIAL.radius + (found.diameter(turn) - erd.value) * scale for turn in turns]
        curve = [_at(turn, radius) for turn, radius in zip(turns, radii, strict=True)]
        picture.line(curve, "curve")
    half = COVERAGE_FACTOR * ERD_READING_U_MM * scale
    for value, deviation, direction in zip(rim.diameters, deviations, directions, strict=True):
        for turn in (direction, direction + 180.0):
            radius = DIAL.radius + deviation * scale
            picture.line([_at(turn, radius - half), _at(turn, radius + half)], "bar")
            picture.circle(_at(turn, radius), 4.5, "dot")
        x, y = _at(direction, DIAL.radius - 96.0)
        picture.words((x, y + 4), f"{value:.1f}", anchor="middle")
    magnified = f"Deviations of diameters are drawn {scale * erd.value / DIAL.radius:.0f} times too large"
    picture.words((24, DIAL.size[1] - 34), f"{magnified}; bars: 95 % of one reading.", kind="small")
    unseen = "Diameters show what repeats after half a turn: not a rim with three corners."
    picture.words((24, DIAL.size[1] - 16), unseen, kind="small")
    said = f"{len(rim.diameters)} readings from {min(rim.diameters):.2f} to {max(rim.diameters):.2f} mm"
    return picture.svg(f"Rim {name}, how round it is", said)


def _at(turn: float, radius: float) -> Place:
    """Return a place on the picture: degrees from the valve hole on top, clockwise."""
    angle = math.radians(turn)
    return DIAL.centre[0] + radius * math.sin(angle), DIAL.centre[1] - radius * math.cos(angle)


def _valve(picture: Vector) -> None:
    x, y = _at(0.0, DIAL.radius - 70.0)
    picture.circle((x, y), 5, "line")
    picture.words((x + 10, y + 4), "valve hole", kind="small")
