"""Other ends of a gauge that photos show: runners-up of the one that was taken."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import RunnerUp
from hubsight.model.arrays import Array, Flags
from hubsight.see.gauge.end import SAME_END_MM, VOTE_REACH_MM, WIDE_ENDS, EndVotes, face_seen
from hubsight.see.gauge.split import common_end, rival_end

NEAR_SHARE = 0.5
"""Support of a step of light near the end, over the end's own, from which it is a runner-up; raising it hides
rivals (on 39 rendered sides one right end has a rival of 0.58, all others stay below 0.45)."""
CLEAR, LEAST_BACKING = 5.0, 0.3
"""Least step of a photo that shows another end, over the unrest of the ground beyond, and largest share of it
that the step at the end that was taken then has; raising the first says less (found on rendered gauges)."""
RIVAL_MISFIT = 1.5
"""Another place parts wire from no wire nearly as well when its misfit is less than this times the least.
Raising it says more of nipples, which fade out; sharp ends leave rivals of 17 and more (found on rendered
gauges)."""
ONE_GROUP_MM = 0.7
"""Photos whose ends lie within this show the same one."""
FROM_SADDLE = 1.05
"""Reach of printed ground from the target's corners, in squares."""


def runners_up(seen: Sightings) -> tuple[RunnerUp, ...]:
    """Return the other ends of each gauge that photos support, the best supported first."""
    out: list[RunnerUp] = []
    for k, gauge in enumerate(seen.gauges):
        if gauge.votes is not None:
            own = [end is not None for end in gauge.ends]
            out += [
                *_near(seen, k, gauge.votes),
                *_parted(gauge.votes, k, seen.files),
                *_far(seen, k, gauge.votes, own),
            ]
    return tuple(sorted(out, key=lambda r: -r.share))


def _near(seen: Sightings, gauge: int, votes: EndVotes) -> list[RunnerUp]:
    """Find a second place near the end on which the photos' steps of light agree."""
    off, total = votes.ahead - votes.chosen, votes.steps.sum(0)
    at = np.flatnonzero(np.abs(off) < SAME_END_MM)
    rival = votes.steps * ~_explained(seen, gauge, off)
    other = rival.sum(0)
    peaks = np.flatnonzero((total[1:-1] >= total[:-2]) & (total[1:-1] > total[2:])) + 1
    peaks = peaks[(np.abs(off[peaks]) >= SAME_END_MM) & (np.abs(off[peaks]) < VOTE_REACH_MM)]
    if len(seen.files) < 2 or len(peaks) == 0:
        return []
    k = int(peaks[other[peaks].argmax()])
    share = float(other[k] / max(float(total[at].max()), 1e-9))
    if share < NEAR_SHARE:
        return []
    there, here = rival[:, np.abs(off - off[k]) < SAME_END_MM / 2].max(1), votes.steps[:, at].max(1)
    photos = [file for file, strong in zip(seen.files, there > NEAR_SHARE * here, strict=True) if strong]
    others = [file for file, strong in zip(seen.files, here > NEAR_SHARE * there, strict=True) if strong]
    return [
        RunnerUp(
            gauge=gauge,
            beyond=float(off[k]),
            share=min(share, 1.0),
            photos=tuple(photos),
            others=tuple(others),
        )
    ]


def _explained(seen: Sightings, gauge: int, off: Array) -> Flags:
    """Tell (photo, place) where the end that was taken makes a second step of light, or print may.

    The face of the end, where a photo looks at it, has two rims.
    """
    sighting = seen.gauges[gauge]
    radius = WIDE_ENDS[sighting.tip][0].mean if sighting.tip in WIDE_ENDS else sighting.line.width / 2
    out = np.zeros((len(seen.files), len(off)), dtype=bool)
    for k in range(len(seen.files)):
        face = face_seen(view_in(seen.sheet, k), sighting.end, sighting.line.direction, radius)
        out[k] = np.abs(off + face) < SAME_END_MM if face > 0 else False
        for beyond in np.unique(np.round(off[np.abs(off) < VOTE_REACH_MM])):
            if _over_print(seen, gauge, k, float(beyond)):
                out[k] |= np.abs(off - beyond) <= 0.5
    return out


def _parted(votes: EndVotes, gauge: int, files: Sequence[str]) -> list[RunnerUp]:
    """Find another place at which all photos together might as well end the gauge.

    One where wire is parted from no wire nearly as well, or that is taken as soon as one photo is missing.
    """
    if len(files) < 2:
        return []
    rival = rival_end(votes.wire, votes.ahead, 2 * VOTE_REACH_MM)
    places = [] if rival is None or rival[1] > RIVAL_MISFIT else [(rival[0], 1.0 / rival[1])]
    if len(files) > 2:
        for k in range(len(files)):
            place = common_end(np.delete(votes.wire, k, 0), votes.ahead)
            if place is not None:
                places.append((place, 1.0 - 1.0 / len(files)))
    far = [(place, share) for place, share in places if abs(place - votes.chosen) > 2 * VOTE_REACH_MM]
    if not far:
        return []
    place, share = max(far, key=lambda one: one[1])
    there = np.abs(votes.own - place) < VOTE_REACH_MM
    photos = [file for file, own in zip(files, there, strict=True) if own] or list(files)
    others = [file for file, own in zip(files, there, strict=True) if not own]
    beyond = place - votes.chosen
    return [RunnerUp(gauge=gauge, beyond=beyond, share=share, photos=tuple(photos), others=tuple(others))]


def _far(seen: Sightings, gauge: int, votes: EndVotes, own: Sequence[bool]) -> list[RunnerUp]:
    """Group the photos that by themselves show the end elsewhere, over plain ground."""
    beyond = votes.own - votes.chosen
    elsewhere = [
        k
        for k in range(len(seen.files))
        if np.isfinite(beyond[k])
        and abs(beyond[k]) > SAME_END_MM
        and votes.clear[k] > CLEAR
        and votes.backing[k] < LEAST_BACKING
        and not _over_print(seen, gauge, k, float(beyond[k]))
    ]
    out = []
    while elsewhere:
        first = float(np.median(beyond[elsewhere]))
        nearest = min(elsewhere, key=lambda k: abs(beyond[k] - first))
        group = [k for k in elsewhere if abs(beyond[k] - beyond[nearest]) < ONE_GROUP_MM]
        elsewhere = [k for k in elsewhere if k not in group]
        others = [f for k, f in enumerate(seen.files) if k not in group and own[k]]
        out.append(
            RunnerUp(
                gauge=gauge,
                beyond=float(np.mean(beyond[group])),
                share=len(group) / max(len(others), 1),
                photos=tuple(seen.files[k] for k in group),
                others=tuple(others),
            )
        )
    return out


def _over_print(seen: Sightings, gauge: int, photo: int, beyond: float) -> bool:
    """Tell whether a photo shows an end before printed ground, or off the sheet: its edges look like ends."""
    sighting, view = seen.gauges[gauge], view_in(seen.sheet, photo)
    geometry = seen.targets[photo].geometry
    saddles = geometry.saddles * seen.sheet["scale"]
    ends = sighting.end + np.array([[beyond - 1.0], [beyond + 1.0]]) * sighting.line.direction
    rays = ends - view.position
    ground = (view.position - rays * (view.position[2] / rays[:, 2:]))[:, :2]
    near = np.linalg.norm(ground[:, None] - saddles, axis=2).min(1) < FROM_SADDLE * geometry.square
    outside = np.any(np.abs(ground) > np.abs(saddles).max(0), axis=1)
    return bool(np.any(near | outside))
