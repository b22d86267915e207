"""See a gauge spoke that lies on the sheet: its far end, and the seat under its head."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Ruler
from hubsight.scene.usual import WIRE_RADIUS_MM
from hubsight.see.flat.ends import LENGTH_SLACK, RulerEnds, field_segments, outline_height, steepest
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.end import RIM_ROUNDING_MM
from hubsight.see.ribbon import STEP_MM, Ribbon, unroll
from hubsight.target.geometry import TargetGeometry

LEAST_SEGMENT_MM = 8.0
"""Shortest edge that counts, mm; raising it loses gauges in pieces."""
SAME_LINE = (2.5, 0.03)
"""Distance (mm) and angle (rad) within which edges lie along one line; raising them mixes in other edges."""
LEAST_SHARE = 0.5
"""Length of edges that makes a line, as a share of the gauge's; raising it finds fewer gauges."""
BEYOND_MM = 9.0
"""Paper beyond both ends that is unrolled, mm."""
EDGE_SLACK_MM, ALONG_MM = 0.25, 0.8
"""Distance from its place within which an edge of the wire is looked for, and the length over which it is
averaged, mm; raising them bears worse lines and blurs the ends."""
PAPER_AND_WIRE = (0.1, 0.75)
"""Quantiles of the edges' strength along the line that stand for paper and for wire; a quarter of it is
paper."""
EDGE_SHARE = 0.4
"""Strength from which an edge is the wire's, between paper (0) and wire (1); raising it makes gaps."""
GAP_MM = 5.0
"""Longest stretch over which a wire may be hidden, or as bright as the paper, mm; raising it joins other
things."""
END_STRIP = 0.5
"""Share of the wire's radius in which its end is read; raising it reads the rounded rim too."""
REACH_MM = 2.0
"""Distance from where the wire's edges end within which its outline is looked for, mm."""
HEAD_STRIP_MM, FAR_MM = (0.3, 0.7), (2.6, 3.1)
"""Strips beside the wire's edge in which a head stands out of it, and beside its line in which there is
paper, mm."""
MOST_SHADOW = 0.4
"""Relative darkening of the paper beside the wire from which it lies in a lamp's shadow; raising it bears
harder light (found on ray-traced pictures)."""
LEAST_END_STEP, LEAST_HEAD_STEP = 0.1, 0.03
"""Least contrast to the paper of an end, and of a head beside the wire, linear light; raising them refuses
brighter gauges."""
AGREE_MM = 0.25
"""Farthest that both sides of the seat lie apart, mm; raising it bears worse pictures."""
HEAD_MM, HEAD_RADIUS_MM = (0.4, 1.4), (1.3, 2.8)
"""Stretch behind the seat in which the head's radius is read, and radii that it may have, mm."""
U_MM, COMMON_U_MM = (0.025, 0.02), (0.03, 0.02)
"""Standard uncertainties of seat and end, mm: in one photo (found on drawn pictures, widened for real ends),
and of what more photos do not mend, the fillet under the head and the cut's burr (common practice, no
source)."""
HEIGHT_U_MM = (0.2, 0.1)
"""Standard uncertainties of the outline's height at seat and end, mm: a head rests on its rim, paper and
burr."""


@dataclass(frozen=True)
class _Side:
    """One end of the wire in the ribbon: row of the last wire edges, and the sign of the way outwards."""

    row: int
    outwards: int


def see_lying_gauge(
    picture: Picture, view: View, geometry: TargetGeometry, ruler: Ruler
) -> RulerEnds | Refusal:
    """Return seat and far end of a gauge that lies on the sheet's blank field.

    Parameters
    ----------
    picture
        (H, W) grey picture as stored.
    view
        Camera and pose.
    geometry
        The sheet.
    ruler
        The gauge as stated.

    Returns
    -------
    RulerEnds or Refusal
        Seat first.
    """
    length = ruler.length.value
    radius = WIRE_RADIUS_MM if ruler.diameter is None else ruler.diameter.value / 2
    if ruler.tip == "nipple":
        return Refusal(
            reason="a gauge with a nipple on its end does not lie flat",
            remedy="Lay a caliper locked at a stated opening on the sheet instead",
        )
    line = _line(picture, view, geometry, length)
    if line is None:
        return Refusal(
            reason="no gauge is seen on the sheet's blank field",
            remedy="Lay it on the field with nothing else, blacken it with a felt pen if it is bright, and "
            "photograph it from above",
        )
    ribbon = _ribbon(picture, view, line, length)
    rows = _presence(ribbon, line.width)
    if rows is None:
        return _not_as_long(0.0, length)
    seen = (rows[1] - rows[0]) * STEP_MM
    if abs(seen / length - 1) > LENGTH_SLACK:
        return _not_as_long(seen, length)
    turned = _seat_and_end(ribbon, radius, rows)
    return turned if isinstance(turned, Refusal) else _ends(ribbon, view, radius, *turned)


def _seat_and_end(ribbon: Ribbon, radius: float, rows: tuple[int, int]) -> tuple[_Side, _Side] | Refusal:
    """Tell which end of the wire has the head, where no shadow can be taken for it."""
    if _shadow(ribbon, radius, rows) > MOST_SHADOW:
        return Refusal(
            reason="a lamp throws a shadow beside the lying gauge, which hides where its ends are",
            remedy="Photograph it in soft light from all sides, as at a window on a dull day",
        )
    sides = (_Side(rows[0], -1), _Side(rows[1], 1))
    heads = [_head_contrast(ribbon, radius, side) for side in sides]
    if max(heads) < LEAST_HEAD_STEP or max(heads) < 2 * min(heads):
        return Refusal(
            reason="the gauge's head cannot be told from its far end",
            remedy="Show the whole gauge, head and end uncovered, on plain paper",
        )
    return sides if heads[0] > heads[1] else (sides[1], sides[0])


def _not_as_long(seen: float, length: float) -> Refusal:
    return Refusal(
        reason=f"what lies on the sheet is {seen:.0f} mm long, the stated gauge {length:.0f} mm",
        remedy="Lay the stated gauge on the blank field, uncovered over its whole length",
    )


def _line(
    picture: Picture,
    view: View,
    geometry: TargetGeometry,
    length: float,
) -> SeenLine | None:
    """Return the line along which most straight edges lie, with the wire's two edges tracked along it."""
    _, ends = field_segments(picture, view, geometry, WIRE_RADIUS_MM)
    across = ends[:, 1] - ends[:, 0]
    size = np.linalg.norm(across, axis=1)
    ends, across, size = (values[size > LEAST_SEGMENT_MM] for values in (ends, across, size))
    if len(size) == 0:
        return None
    unit = across / size[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], -1)
    middle = ends.mean(1)
    apart = np.abs(np.einsum("ijk,ik->ij", middle[None] - middle[:, None], normal))
    turned = np.abs(np.einsum("ik,jk->ij", normal, unit))
    mates = (apart < SAME_LINE[0]) & (turned < SAME_LINE[1])
    support = mates @ size
    seed = int(support.argmax())
    if support[seed] < LEAST_SHARE * length:
        return None
    points = ends[mates[seed]].reshape(-1, 2)
    centre = points.mean(0)
    direction = np.linalg.svd(points - centre)[2][0]
    along = (points - centre) @ direction
    end = np.append(centre + along.max() * direction, WIRE_RADIUS_MM)
    return track_axis([picture], [view], end, np.append(direction, 0.0), float(np.ptp(along)) - 1.5)


def _ribbon(picture: Picture, view: View, line: SeenLine, length: float) -> Ribbon:
    """Return the wire unrolled at its height, with paper beyond both ends; rows run along its direction."""
    flat = np.append(line.direction[:2] / np.linalg.norm(line.direction[:2]), 0.0)
    start = np.append(line.end[:2], line.width / 2)
    along = np.arange(-(length + 2 * BEYOND_MM), 2 * BEYOND_MM, STEP_MM)
    across = np.arange(-3.2, 3.2 + 1e-9, STEP_MM)
    return unroll(picture, view, start, flat, back=-along, across=across)


def _presence(ribbon: Ribbon, width: float) -> tuple[int, int] | None:
    """Return first and last row of the longest stretch in which the wire's two edges are seen."""
    smooth = gaussian_filter1d(np.nan_to_num(ribbon.light), 0.3 / STEP_MM, axis=0)
    slope = np.abs(np.gradient(gaussian_filter1d(smooth, 1.2, axis=1), STEP_MM, axis=1))
    sides = [
        slope[:, np.abs(ribbon.across - sign * width / 2) <= EDGE_SLACK_MM].max(1) for sign in (-1.0, 1.0)
    ]
    both = gaussian_filter1d(np.minimum(*sides), ALONG_MM / STEP_MM)
    paper, wire = np.quantile(both, PAPER_AND_WIRE)
    seen = both > paper + EDGE_SHARE * (wire - paper)
    gap = round(GAP_MM / STEP_MM)
    rows = np.flatnonzero(seen)
    if len(rows) == 0:
        return None
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > gap) + 1)
    longest = max(runs, key=lambda run: int(run[-1] - run[0]))
    return int(longest[0]), int(longest[-1])


def _strip(ribbon: Ribbon, low: float, high: float) -> Array:
    """Return the (S,) mean light between two offsets."""
    columns = (ribbon.across >= low) & (ribbon.across <= high)
    return np.asarray(ribbon.light[:, columns].mean(1))


def _beside(ribbon: Ribbon, radius: float) -> tuple[Array, Array]:
    """Return the light left and right of the wire, where a head stands out of it."""
    low, high = (radius + offset for offset in HEAD_STRIP_MM)
    return _strip(ribbon, -high, -low), _strip(ribbon, low, high)


def _shadow(ribbon: Ribbon, radius: float, rows: tuple[int, int]) -> float:
    """Return by which share the paper beside the wire is darker than further off, on the darker side."""
    along = slice(*rows)
    near = [float(np.mean(strip[along])) for strip in _beside(ribbon, radius)]
    far = [float(np.mean(_strip(ribbon, *edge)[along])) for edge in (FAR_MM, (-FAR_MM[1], -FAR_MM[0]))]
    return 1 - min(near) / max(*far, 1e-6)


def _head_contrast(ribbon: Ribbon, radius: float, side: _Side) -> float:
    """Return how much the light beside the wire's line, beyond one of its ends, differs from the paper's."""
    near, far = (side.row + side.outwards * round(reach / STEP_MM) for reach in HEAD_MM)
    behind = slice(min(near, far), max(near, far))
    contrasts = []
    for strip in _beside(ribbon, radius):
        paper = np.nanmedian(strip)
        contrasts.append(abs(float(np.mean(strip[behind])) - float(paper)))
    return min(contrasts)


def _ends(ribbon: Ribbon, view: View, radius: float, seat: _Side, end: _Side) -> RulerEnds | Refusal:
    """Return both ends to a fraction of a pixel, with the heights of what makes their outlines."""
    reach = round(REACH_MM / STEP_MM)
    half = END_STRIP * radius
    cut = steepest(_strip(ribbon, -half, half), end.row - reach, end.row + reach)
    # A head is two steps, its seat and its back: the seat is the first that one meets.
    out = seat.outwards
    shoulders = [
        steepest(strip, seat.row - reach, seat.row + reach, first=out) for strip in _beside(ribbon, radius)
    ]
    rows = [shoulder[0] for shoulder in shoulders if shoulder is not None]
    apart = float(np.ptp(rows)) * STEP_MM if len(rows) == 2 else np.inf
    if cut is None or apart > AGREE_MM or _end_step(ribbon, half, end) < LEAST_END_STEP:
        which = "seat under its head" if apart > AGREE_MM else "far end"
        return Refusal(
            reason=f"the lying gauge's {which} is not seen clearly",
            remedy="Blacken the gauge with a felt pen and photograph it sharp, in soft light; "
            "or use the check bars",
        )
    head = _head_radius(ribbon, seat)
    inward = _towards_end(ribbon, view, seat, radius)
    beside = min(radius + sum(HEAD_STRIP_MM) / 2, 0.95 * head)
    head_half = float(np.sqrt(head**2 - beside**2))
    end_half = float(np.sqrt(radius**2 - (half / 2) ** 2)) - RIM_ROUNDING_MM["flat"]
    pixels = np.array([_pixel(ribbon, float(np.mean(rows))), _pixel(ribbon, cut[0])])
    places = [view.at_height(pixels[k : k + 1], z)[0] for k, z in ((0, head), (1, radius))]
    heights = [
        outline_height(view, places[0], -inward, head - head_half, head + head_half, outer=False),
        outline_height(view, places[1], inward, radius - end_half, radius + end_half, outer=True),
    ]
    return RulerEnds(
        pixels,
        np.array(heights),
        np.array(HEIGHT_U_MM),
        np.array([np.hypot(U_MM[0], apart / 2), U_MM[1]]),
        np.array(COMMON_U_MM),
    )


def _end_step(ribbon: Ribbon, half: float, end: _Side) -> float:
    """Return how much the wire's light and the paper's beyond its end differ."""
    strip = _strip(ribbon, -half, half)
    inside, outside = (
        strip[min(a, b) : max(a, b)]
        for a, b in (
            (
                end.row + end.outwards * round(sign * 2 * REACH_MM / STEP_MM),
                end.row + end.outwards * round(sign * REACH_MM / STEP_MM),
            )
            for sign in (-1, 1)
        )
    )
    return abs(float(np.mean(inside) - np.mean(outside)))


def _towards_end(ribbon: Ribbon, view: View, seat: _Side, height: float) -> Array:
    """Return the (2,) unit direction on the paper from the seat to the far end."""
    ends = view.at_height(ribbon.pixels[[0, -1]], height)[:, :2]
    along = (ends[1] - ends[0]) * -seat.outwards
    return np.asarray(along / np.linalg.norm(along))


def _pixel(ribbon: Ribbon, row: float) -> Array:
    rows = np.arange(len(ribbon.pixels))
    return np.array([np.interp(row, rows, ribbon.pixels[:, axis]) for axis in (0, 1)])


def _head_radius(ribbon: Ribbon, seat: _Side) -> float:
    """Return the head's radius from its outline just behind the seat."""
    near, far = (seat.row + seat.outwards * round(reach / STEP_MM) for reach in HEAD_MM)
    profile = gaussian_filter1d(ribbon.light[min(near, far) : max(near, far)].mean(0), 1.5)
    slope = np.abs(np.gradient(profile))
    both = np.minimum(slope, slope[::-1])
    window = (ribbon.across >= HEAD_RADIUS_MM[0]) & (ribbon.across <= HEAD_RADIUS_MM[1])
    return float(ribbon.across[window][both[window].argmax()])
