"""See the gauge's far end: where the wire's inside stops looking like wire, along the axis already known.

At the axis the outline of a square-cut end lies not at the end's centre but on its rim, one radius nearer to
or farther from the lens; so the observation is tied to that rim point, whose place follows from the line of
sight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.scene.usual import HEAD_RADIUS_MM, NIPPLE_RADIUS_MM, Usual
from hubsight.see.gauge.split import common_end
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import END_BLUR_MM, STEP_MM, Ribbon, unroll

EndKind = Literal["flat", "nipple", "head"]
"""What ends a wire: a cut, a nipple, or a spoke's own head, seen from its back."""

LOOK_MM = (26.0, 22.0)
"""Stretches before and beyond the rough end in which the end is looked for, mm; longer ones take in other
edges."""
RIM_ROUNDING_MM: dict[EndKind, float] = {"flat": 0.08, "nipple": 0.3, "head": 0.3}
"""Rounding of the end's rim, mm: a deburred cut, a nipple's or a spoke's head; raising it moves ends outwards
(common practice, no source)."""
WIDE_ENDS: dict[EndKind, tuple[Usual, tuple[float, float]]] = {
    "nipple": (NIPPLE_RADIUS_MM, (2.0, 9.0)),
    "head": (HEAD_RADIUS_MM, (0.4, 1.2)),
}
"""Ends that are wider than the wire: usual radius, and the stretch before the end in which it is read, mm."""
END_SIGMA_MM = 0.05
"""Standard uncertainty of one photo's end along the axis, mm; raising it trusts ends less."""
FINE_REACH_MM, VOTE_REACH_MM = 0.22, 1.2
"""Distances within which one photo's end is looked for, and all photos' common one, mm; raising them bears
worse starts and takes in other edges."""
VOTE_BLUR_MM = 0.08
"""Blur of the photos' steps before they vote, mm; raising it bears worse poses."""
FIRST_SHARE, END_WIDTH_MM = 0.25, 0.6
"""Strength from which the first step is a bare wire's end in one photo, as a share of the strongest, and the
width of that end, mm; raising the share takes printed edges for the end."""
WIRE_ENOUGH = 0.5
"""Strength of a row's edges, as a share of sure rows', from which it counts as wire; raising it loses nipples
over a dark bench, which show less than the wire over paper."""
DARK_LIGHT = 0.02
"""Light that is noise in a phone's picture, of a full scale of 1; raising it makes dark edges count less."""
LEAST_GROUND = 0.6
"""Share of the ground just beyond the end that has to be in the picture; lowering it takes the picture's
border for an end."""
SAME_END_MM = 0.35
"""Distance below which ends that photos show are the same one, mm; raising it hears fewer contradictions.
Photos scatter by a third of it (found on rendered hubs)."""
LEAST_STEP = 2.0
"""Step at the end over the background's unrest; raising it finds fewer ends."""


@dataclass(frozen=True)
class EndSighting:
    """The end as one photo shows it.

    Attributes
    ----------
    pixel
        (2,) where the outline crosses the axis.
    tangent
        (2,) unit direction of the gauge in the picture, away from the boss.
    rim
        (3,) vector from the end's centre to the point of its rim that makes the outline, mm.
    sigma_px
        Standard uncertainty along the tangent.
    beyond
        The end's centre beyond the rough end, mm along the gauge.
    strength
        Step of light at the end over the noise.
    """

    pixel: Array
    tangent: Array
    rim: Array
    sigma_px: float
    beyond: float
    strength: float


@dataclass(frozen=True)
class EndVotes:
    """What each photo says of where the gauge ends, along the axis that all photos share.

    Attributes
    ----------
    ahead
        (S,) places of the end's centre beyond the line's end, mm, ascending.
    steps
        (P, S) each photo's step of light there, 1 for its strongest near the end; 0 outside the picture.
    wire
        (P, S) how much each photo shows wire at the place, 0 to 1; NaN outside the picture.
    chosen
        The place on which the photos agreed.
    own
        (P,) where each photo by itself ends the gauge; NaN where it shows no end.
    clear
        (P,) the step of light there over the unrest beyond it.
    backing
        (P,) the step of light at the place chosen over that at its own.
    """

    ahead: Array
    steps: Array
    wire: Array
    chosen: float
    own: Array
    clear: Array
    backing: Array

    def only_photos(self, keep: Sequence[int]) -> EndVotes:
        """Return the votes of some of the photos."""
        own = list(keep)
        return EndVotes(
            self.ahead,
            self.steps[own],
            self.wire[own],
            self.chosen,
            self.own[own],
            self.clear[own],
            self.backing[own],
        )


@dataclass(frozen=True)
class EndsFound:
    """A gauge's end: ``shift`` of its centre past the rough end, mm, each photo's sighting, the votes."""

    shift: float
    ends: tuple[EndSighting | None, ...]
    votes: EndVotes | None = None


def rim_vector(view: View, end: Array, direction: Array, radius: float, rounding: float) -> Array:
    """Return the vector from the end's centre to the rim point that makes its outline on the axis in a view.

    For a cylinder of ``radius`` whose rim is rounded by ``rounding``: the outline at the axis is made by the
    upper rim when the lens is on the boss' side of the end and by the lower rim when it is beyond it.
    """
    sight = end - view.position
    sight = sight / np.linalg.norm(sight)
    along = float(sight @ direction)
    up = -(sight - along * direction)
    across = float(np.linalg.norm(up))
    up = up / across
    side = 1.0 if along > 0 else -1.0
    tilt = abs(along)
    return np.asarray(
        direction * rounding * (across - 1.0) + side * up * (radius - rounding + rounding * tilt)
    )


def face_seen(view: View, end: Array, direction: Array, radius: float) -> float:
    """Return how far before the outline of a cut end the near rim of its face shows on the axis, mm.

    A lens beyond the end sees the face between both rims: two steps of light, one end. 0 where the face
    looks away. ``end`` and ``direction`` (3,) are those of the axis, ``radius`` is the end's, mm.
    """
    outer = rim_vector(view, end, direction, radius, 0.0)
    if float((end - view.position) @ direction) > 0:
        return 0.0
    return _ahead_of(view, end, direction, end + outer) - _ahead_of(view, end, direction, end - outer)


def see_ends(
    pictures: Sequence[Picture],
    views: Sequence[View],
    end: Array,
    direction: Array,
    *,
    width: float,
    tip: EndKind,
) -> EndsFound | None:
    """Return the gauge's end in all photos.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose.
    end, direction
        (3,) a point of the axis near the far end and the unit direction to it.
    width
        Wire diameter as seen, mm.
    tip
        What is on the end.

    Returns
    -------
    EndsFound or None
        The end's centre by the photos' common vote, and each photo's sighting (None where it is not seen);
        None when no common end is seen.
    """
    back = np.arange(LOOK_MM[0], -LOOK_MM[1], -STEP_MM)
    across = np.arange(-3.6, 3.61, 0.06)
    ribbons = [
        unroll(picture, view, end, direction, back=back, across=across)
        for picture, view in zip(pictures, views, strict=True)
    ]
    presence = [_presence(r, width, tip) for r in ribbons]
    shift = common_end(presence, -back)
    if shift is None:
        return None
    half = _half_width(ribbons, shift, width, tip)
    rims = [
        rim_vector(view, end + shift * direction, direction, half, RIM_ROUNDING_MM[tip]) for view in views
    ]
    offsets = [
        _ahead_of(view, end, direction, end + shift * direction + rim) - shift
        for view, rim in zip(views, rims, strict=True)
    ]
    steps = [_steps(ribbon, half) for ribbon in ribbons]
    alone = len(steps) == 1 and tip == "flat"
    voting = [_first_step(steps[0], offsets[0], -back, shift)] if alone else steps
    shift = _vote(voting, offsets, -back, shift)
    sightings = tuple(
        _fine_end(ribbon, step, shift + offset, shift, rim)
        for ribbon, step, offset, rim in zip(ribbons, steps, offsets, rims, strict=True)
    )
    return EndsFound(shift, sightings, _votes(steps, presence, offsets, -back, shift))


def _votes(
    steps: Sequence[Array], presence: Sequence[Array], offsets: Sequence[float], ahead: Array, shift: float
) -> EndVotes:
    """Bring each photo's steps and wire to one scale: places of the end's centre."""
    near, wire = [], []
    for step, row, offset in zip(steps, presence, offsets, strict=True):
        blurred = gaussian_filter1d(np.nan_to_num(step), VOTE_BLUR_MM / STEP_MM)
        top = blurred[np.abs(ahead - shift - offset) < 1.5 * VOTE_REACH_MM].max(initial=1e-9)
        near.append(np.interp(ahead + offset, ahead, blurred / top))
        wire.append(np.interp(ahead + offset, ahead, row))
    own = [
        _own_end(np.interp(ahead + offset, ahead, step), row, ahead, shift)
        for step, row, offset in zip(steps, wire, offsets, strict=True)
    ]
    return EndVotes(ahead, np.array(near), np.array(wire), shift, *np.array(own).T)


def _own_end(step: Array, wire: Array, ahead: Array, shift: float) -> tuple[float, float, float]:
    """Return where one photo by itself ends the gauge, how clearly, and how much it backs ``shift``."""
    rough = common_end([wire], ahead)
    if rough is None:
        return np.nan, 0.0, 0.0
    inside = np.where(np.abs(ahead - rough) < VOTE_REACH_MM, np.nan_to_num(step), 0.0)
    k = int(inside.argmax())
    ground = step[(ahead > ahead[k] + 1.0) & (ahead < ahead[k] + 6.0)]
    seen = ground[np.isfinite(ground)]
    noise = float(np.median(seen)) + 1e-4 if len(seen) else np.inf
    at_shift = np.nan_to_num(step[np.abs(ahead - shift) < SAME_END_MM]).max(initial=0.0)
    top = max(float(inside[k]), 1e-9)
    return float(ahead[k]), top / noise, float(at_shift) / top


def _steps(ribbon: Ribbon, half: float) -> Array:
    """Return the strength of the step of light along the middle of the wire, (S,); NaN near the border."""
    core = _strip(ribbon, -1.0, 0.35 * half)
    smooth = gaussian_filter1d(np.nan_to_num(core), END_BLUR_MM / STEP_MM)
    slope = np.abs(np.gradient(smooth, STEP_MM))
    outside = gaussian_filter1d((~np.isfinite(core)).astype(float), 3 * END_BLUR_MM / STEP_MM) > 1e-3
    return np.where(outside, np.nan, slope)


def _vote(steps: Sequence[Array], offsets: Sequence[float], ahead: Array, shift: float) -> float:
    """Return the end on which the photos' steps agree best, within `VOTE_REACH_MM` of ``shift``, mm."""
    trial = shift + np.arange(-VOTE_REACH_MM, VOTE_REACH_MM + 1e-9, 0.02)
    total = np.zeros(len(trial))
    for slope, offset in zip(steps, offsets, strict=True):
        near = np.abs(ahead - shift - offset) < 1.5 * VOTE_REACH_MM
        top = np.nanmax(slope[near], initial=0.0) if near.any() else 0.0
        if top > 0:
            wide = gaussian_filter1d(np.nan_to_num(slope / top), VOTE_BLUR_MM / STEP_MM)
            total += np.interp(trial + offset, ahead, wide)
    return float(trial[(total - 0.05 * np.abs(trial - shift)).argmax()])


def _first_step(slope: Array, offset: float, ahead: Array, shift: float) -> Array:
    """Return the steps (S,) of one photo with those beyond the first strong one attenuated.

    A bare wire looks alike all along, so the first strong step is its end; what follows may be a printed
    edge, sharper than the end because the paper is in focus.
    """
    near = np.abs(ahead - shift - offset) < VOTE_REACH_MM
    strong = np.where(near, np.nan_to_num(slope), 0.0)
    first = ahead[int(np.argmax(strong >= FIRST_SHARE * strong.max()))]
    return np.where(ahead > first + END_WIDTH_MM, FIRST_SHARE * slope, slope)


def _strip(ribbon: Ribbon, low: float, high: float) -> Array:
    """Return the mean light over columns low < |offset| <= high, (S,)."""
    columns = (np.abs(ribbon.across) > low) & (np.abs(ribbon.across) <= high)
    return _mean_of_seen(ribbon.light[:, columns], 1)


def _mean_of_seen(values: Array, axis: int) -> Array:
    """Return the mean of what is not NaN; NaN where all is."""
    seen = np.isfinite(values)
    total, count = np.where(seen, values, 0.0).sum(axis), seen.sum(axis)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _presence(ribbon: Ribbon, width: float, tip: EndKind) -> Array:
    """Return how much each row looks like wire, (S,): both side edges, against sure rows; NaN outside.

    Edges count by the ratio of light on both sides: over a dark bench all light is little.
    """
    half = width / 2
    light = np.log(np.maximum(np.nan_to_num(ribbon.light), 0.0) + DARK_LIGHT)
    smooth = gaussian_filter1d(light, 0.3 / STEP_MM, axis=0)
    smooth = gaussian_filter1d(smooth, 1.2, axis=1)
    slope = np.abs(np.gradient(smooth, ribbon.across[1] - ribbon.across[0], axis=1))
    bands = [(half, 0.25)]
    if tip in WIDE_ENDS:
        wide = WIDE_ENDS[tip][0]
        bands.append((wide.mean, 3 * wide.sigma))
    found = np.zeros(len(ribbon.back))
    for place, slack in bands:
        sides = [slope[:, np.abs(ribbon.across - sign * place) <= slack].max(axis=1) for sign in (-1.0, 1.0)]
        found = np.maximum(found, np.sqrt(sides[0] * sides[1]))
    wire = (ribbon.back > 16.0) & (ribbon.back < LOOK_MM[0])
    level = np.median(found[ribbon.back > 5.0]) if tip == "nipple" else np.median(found[wire])
    found = np.minimum(found / max(WIRE_ENOUGH * float(level), 1e-6), 1.0)
    found[~np.isfinite(ribbon.light).all(1)] = np.nan
    return np.asarray(found)


def _half_width(ribbons: Sequence[Ribbon], shift: float, width: float, tip: EndKind) -> float:
    """Return the radius of what ends the gauge, mm."""
    if tip not in WIDE_ENDS:
        return width / 2
    radius, (near, far) = WIDE_ENDS[tip]
    across = ribbons[0].across
    total = np.zeros(len(across))
    for ribbon in ribbons:
        rows = (-ribbon.back < shift - near) & (-ribbon.back > shift - far)
        profile = gaussian_filter1d(np.nan_to_num(ribbon.light[rows].mean(axis=0)), 1.5)
        slope = np.abs(np.gradient(profile))
        total += slope / max(float(slope.max()), 1e-9)
    symmetric = np.minimum(total, total[::-1])
    usual = radius.likely(across)
    return float(across[(symmetric * usual).argmax()])


def _fine_end(ribbon: Ribbon, slope: Array, outline: float, shift: float, rim: Array) -> EndSighting | None:
    """Return the sub-pixel outline of the end on the axis in one photo, near where the vote expects it."""
    ahead = -ribbon.back
    near = np.abs(ahead - outline) < FINE_REACH_MM
    if near.sum() < 5 or not np.isfinite(slope[near]).all():
        return None
    ground = slope[(ahead > outline + 1.0) & (ahead < outline + 6.0)]
    if np.isfinite(ground).mean() < LEAST_GROUND:
        return None
    noise = float(np.nanmedian(ground)) + 1e-4
    inner = np.flatnonzero(near[1:-1]) + 1
    peaks = inner[(slope[inner] >= slope[inner - 1]) & (slope[inner] > slope[inner + 1])]
    if len(peaks) == 0:
        return None
    k = peaks[slope[peaks].argmax()]
    if slope[k] < LEAST_STEP * noise:
        return None
    place = k + float(sub_step(slope[k - 1 : k + 2]))
    rows = np.arange(len(ahead))
    at = np.array([np.interp(place, rows, ribbon.pixels[:, i]) for i in (0, 1)])
    tangent = ribbon.pixels[k + 1] - ribbon.pixels[k - 1]
    tangent = tangent / np.linalg.norm(tangent)
    seen = float(np.interp(place, rows, ahead))
    sigma = END_SIGMA_MM * float(ribbon.px_per_mm[k])
    return EndSighting(at, tangent, rim, sigma, seen - outline + shift, float(slope[k] / noise))


def _ahead_of(view: View, end: Array, direction: Array, point: Array) -> float:
    """Return how far beyond ``end`` along the line the picture shows ``point``, mm."""
    base, step, target = view.project(np.array([end, end + direction, point]))
    tangent = (step - base) / np.linalg.norm(step - base)
    t = 1.0
    for _ in range(4):
        here, ahead = view.project(np.array([end + t * direction, end + (t + 0.5) * direction]))
        t += 0.5 * float((target - here) @ tangent) / float((ahead - here) @ tangent)
    return t
