"""A first look at one photo, within seconds of its arrival: what is seen, and what to do better.

It measures nothing. The set is measured by `hubsight.measure`; this tells somebody with the phone in hand
whether to take the photo again, and which one is still missing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.camera.observe import view_in
from hubsight.model.corrections import Pixel
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, Reading, TipKind
from hubsight.photo import Photo
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.end import see_ends
from hubsight.see.gauge.find import LONGEST_MM, RoughLine, lines_at_heights, segments
from hubsight.see.gauge.sighting import ANCHORS
from hubsight.target.find import find_target, grey
from hubsight.target.geometry import STATION_MM, target_geometry
from hubsight.target.quality import sheet_view
from hubsight.target.sheet import sheet_problem, uncalibrated

USUAL_HEIGHTS_MM = (75.0, 95.0, 55.0)
"""Heights of a gauge above the paper, tried one after the other (common practice, no source)."""
CANDIDATES = 3
"""Lines of a photo that are tracked as possible gauges; more are slower."""
LEAST_POINTS = 8
"""Axis points of a line that is taken for the gauge."""
SMALL_SIDE_PX = 2400
"""Phones save larger pictures: one of a shorter long side was shrunk on its way."""
STEEP_DEG = 12.0
"""Tilt below which a photo counts as the one from above, degrees; raising it asks for less."""
FLAT_DEG = 42.0
"""A photo that leans more shows the hub's side rather than its face."""
LEAST_AROUND = 3
"""Photos from around the hub, besides the one from above."""
FIRST_AROUND_DEG = 270.0
"""Direction of somebody who begins, degrees: at the sheet's lower edge."""
WIDEST_GAP_DEG = 190.0
"""Widest gap between the directions of photos from around the hub, degrees; raising it asks for less."""
MARGIN_SHARE = 0.012
"""Distance from the border, per longer side, below which a gauge's end may run on beyond it."""
FAR_MM, NEAR_MM = 650.0, 200.0
"""Distances of the phone beyond which it is told to come nearer or to step back."""


class FirstLook(Frozen):
    """What a first look at one photo shows.

    Attributes
    ----------
    width, height, orientation
        Of the array as stored, and how to turn it for looking at it.
    corners
        Target corners seen, px as stored.
    gauge
        The gauge's axis from the hub to the far end, or empty.
    gauge_end
        The far end, if it is seen.
    tilt_deg, around_deg
        Direction from the sheet to the lens: off the vertical, and anticlockwise from the sheet's +x.
    better
        What to do better, a sentence each.
    """

    width: int
    height: int
    orientation: int
    corners: tuple[Pixel, ...]
    gauge: tuple[Pixel, ...] = ()
    gauge_end: Pixel | None = None
    tilt_deg: float
    around_deg: float
    better: tuple[str, ...] = ()


def look_at(photo: Photo, paper: PaperName = "a4", tip: TipKind = "flat") -> FirstLook | Refusal:
    """Look at one photo.

    Parameters
    ----------
    photo
        As read.
    paper, tip
        As stated: the printed target, and what is on the gauge's end.

    Returns
    -------
    FirstLook or Refusal
        A refusal when the photo shows no target.
    """
    picture = grey(photo.pixels)
    geometry = target_geometry(paper)
    sighting = find_target(picture, geometry)
    if isinstance(sighting, Refusal):
        return sighting.model_copy(update={"photo": photo.file})
    focal = photo.focal_prior_px
    prior = uncalibrated(photo.width, photo.height, None if focal is None else Reading(focal.value, focal.u))
    view = view_in(sheet_problem([sighting], prior, (None, None), max(photo.width, photo.height)).solve(), 0)
    line = gauge_in(picture, view, tip)
    off = view.position - np.array([*STATION_MM, 0.0])
    better = [
        *_as_sent(photo),
        *sheet_view(picture, sighting).sentences(),
        *_distance(float(np.linalg.norm(off))),
        *_gauge_words(line, photo),
    ]
    return FirstLook(
        width=photo.width,
        height=photo.height,
        orientation=photo.orientation,
        corners=tuple((float(x), float(y)) for x, y in sighting.pixels),
        gauge=() if line is None else line[0],
        gauge_end=None if line is None else line[1],
        tilt_deg=float(np.degrees(np.arctan2(np.hypot(off[0], off[1]), off[2]))),
        around_deg=float(np.degrees(np.arctan2(off[1], off[0]))),
        better=tuple(better),
    )


def gauge_in(
    picture: NDArray[np.uint8], view: View, tip: TipKind
) -> tuple[tuple[Pixel, ...], Pixel | None] | None:
    """Find the gauge in one photo: its axis in the picture, and its end; its height is not known.

    Returns
    -------
    axis, end
        In pixels as stored, from the hub outwards; no end where it is not seen. None where no gauge is.
    """
    found_segments = segments(picture)
    best = None
    for height in USUAL_HEIGHTS_MM:
        rough = lines_at_heights(found_segments, view, height, height, ANCHORS, count=CANDIDATES)
        best = _longest([picture], [view], rough)
        if best is not None:
            break
    if best is None:
        return None
    seen, line = best
    found = see_ends([picture], [view], seen.end, seen.direction, width=seen.width, tip=tip)
    shift = 0.0 if found is None else found.shift
    back = np.linspace(line.high - line.low, -shift, 12)
    axis = view.project(seen.end - back[:, None] * seen.direction)
    end = None if found is None or found.ends[0] is None else found.ends[0].pixel
    return tuple((float(x), float(y)) for x, y in axis), None if end is None else (
        float(end[0]),
        float(end[1]),
    )


def _longest(
    pictures: Sequence[NDArray[np.uint8]], views: Sequence[View], rough: Sequence[RoughLine]
) -> tuple[SeenLine, RoughLine] | None:
    """Return the line along which most of a wire is seen."""
    seen = []
    for line in rough:
        end = line.point + line.high * line.direction
        tracked = track_axis(pictures, views, end, line.direction, min(line.high - line.low, LONGEST_MM))
        if tracked is not None and len(tracked.axes[0].back) >= LEAST_POINTS:
            seen.append((tracked, line))
    return max(seen, key=lambda pair: len(pair[0].axes[0].back), default=None)


def _as_sent(photo: Photo) -> list[str]:
    out = []
    if max(photo.width, photo.height) < SMALL_SIDE_PX:
        out.append(
            f"the picture has {photo.width} x {photo.height} pixels only: it was probably shrunk on its way; "
            "send it in full size"
        )
    if photo.focal_prior_px is None:
        out.append(
            "the picture came without its camera's tags, converted or edited on its way: send it as the "
            "phone saved it"
        )
    return out


def _distance(mm: float) -> list[str]:
    if mm > FAR_MM:
        return [f"the phone was about {mm / 10:.0f} cm away: go nearer, to 30 to 50 cm"]
    if mm < NEAR_MM:
        return [f"the phone was about {mm / 10:.0f} cm away: step back, to 30 to 50 cm"]
    return []


def _gauge_words(line: tuple[tuple[Pixel, ...], Pixel | None] | None, photo: Photo) -> list[str]:
    if line is None:
        return ["not sure of the gauge in this photo alone: is all of it over the white field, and sharp?"]
    axis, end = line
    x, y = axis[-1] if end is None else end
    margin = MARGIN_SHARE * max(photo.width, photo.height)
    inside = margin < x < photo.width - 1 - margin and margin < y < photo.height - 1 - margin
    if not inside:
        return ["the gauge's far end is out of view: keep it in the picture, with paper beyond it"]
    if end is None:
        return ["the gauge's far end is not seen clearly: keep it uncovered and sharp"]
    return []


def still_missing(looks: Sequence[FirstLook]) -> tuple[str, ...]:
    """Say which photos a set still lacks, seen from somebody standing at the sheet's lower edge.

    Parameters
    ----------
    looks
        At the set's photos so far.
    """
    if not looks:
        return ("Begin with one photo from almost straight above, over the gauge's far end",)
    out = []
    if not any(look.tilt_deg < STEEP_DEG for look in looks):
        out.append("One more from almost straight above, over the gauge's far end")
    around = [look.around_deg for look in looks if STEEP_DEG <= look.tilt_deg <= FLAT_DEG]
    missing = LEAST_AROUND - len(around)
    gap, middle = _widest_gap(around)
    if missing > 0 or gap > WIDEST_GAP_DEG:
        more = {1: "One more", 2: "Two more", 3: "Three more"}.get(max(missing, 1), "One more")
        where = _side_word(middle) if around else "around the hub, from different sides"
        out.append(f"{more} from {where}, tilted by 15 to 30 degrees")
    return tuple(out)


class Place(Frozen):
    """From where a photo is taken: straight above, or from around the hub at an angle, see `FirstLook`."""

    above: bool
    around_deg: float = 0.0


def place_of(look: FirstLook) -> Place:
    """Return from where a photo was taken."""
    return Place(above=look.tilt_deg < STEEP_DEG, around_deg=look.around_deg)


def next_place(looks: Sequence[FirstLook]) -> Place | None:
    """Return from where the next photo of a set is wanted; None for a complete set, see `still_missing`."""
    missing = still_missing(looks)
    if not missing:
        return None
    if not any(place_of(look).above for look in looks):
        return Place(above=True)
    around = [look.around_deg for look in looks if STEEP_DEG <= look.tilt_deg <= FLAT_DEG]
    return Place(above=False, around_deg=_widest_gap(around)[1] if around else FIRST_AROUND_DEG)


def _widest_gap(degrees: Sequence[float]) -> tuple[float, float]:
    """Widest gap between directions, and its middle, degrees."""
    if not degrees:
        return 360.0, 0.0
    turns = np.sort(np.mod(degrees, 360.0))
    gaps = np.diff(np.append(turns, turns[0] + 360.0))
    k = int(gaps.argmax())
    return float(gaps[k]), float((turns[k] + gaps[k] / 2) % 360.0)


def _side_word(degrees: float) -> str:
    """Name a side of the sheet, whose +x points to the right and whose +y points away."""
    return ("the right", "the far side", "the left", "the near side")[int(((degrees + 45) % 360) // 90)]
