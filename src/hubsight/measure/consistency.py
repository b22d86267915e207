"""Whether photos, print and hub belong together: each contradiction gets its own sentence, with the remedy.

The functions take what was seen and adjusted, and return a refusal, warnings, or the photos that do not fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Solution
from hubsight.measure.adjust.motion import HubBlock, Motion, hub_motions
from hubsight.measure.gauge_consistency import short_gauge
from hubsight.model.arrays import Array
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.stated import StatedSide, StatedWheel
from hubsight.model.uncertainty import APART_SIGMAS
from hubsight.scene.bosses import PatternBlock
from hubsight.scene.gauge import GaugeAxisBlock
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.wheel.geometry import USUAL_OFFSETS_MM


@dataclass(frozen=True)
class Limits:
    """From which a photo does not fit the others.

    Attributes
    ----------
    moved_mm, moved_gain
        A hub that moved in one photo: its displacement, and what allowing for it gains in squared
        sigmas. On rendered sets, where nothing moved, photos reach either limit but never both.
    turn
        A motion is called a turn when the axis itself moves by less than this share of the gauge's
        end.
    axis_points, axis_share, agreeing
        A photo with fewer gauge points, alone or against the others, and a smaller share of its
        bosses in place (half of it where there are some points) shows something else.
    in_place_mm
        Farthest that a boss in place is seen from it.
    zoom, zoom_sigmas
        A photo of another focal length: by how much, relative, and in standard deviations. On 58
        rendered sides, each by one lens, four photos exceed the second limit, by up to 1.2 % (misread
        hubs), and none both.
    """

    moved_mm: float = 0.6
    moved_gain: float = 40.0
    turn: float = 0.5
    axis_points: int = 2
    axis_share: float = 0.25
    agreeing: float = 0.5
    in_place_mm: float = 0.4
    zoom: float = 0.015
    zoom_sigmas: float = 5.0


LIMITS = Limits()
"""As the program judges."""


ENOUGH_WITHOUT = 4
"""From so many photos on, one that does not fit is left out."""
HEIGHT_SLACK_MM = 1.0
"""Height of a flange, beyond chance, above where its centre to flange puts it, that is worth a word."""


@dataclass(frozen=True)
class OddPhotos:
    """Photos that do not fit the others: their numbers from 0, and why, as a clause.

    One ``stands_out`` when the others agree clearly better without it.
    """

    photos: tuple[int, ...]
    why: str
    stands_out: bool = False

    def refusal(self, files: Sequence[str]) -> Refusal:
        """Refuse the set because of them."""
        one = len(self.photos) == 1
        names = " and ".join(files[k] for k in self.photos)
        return Refusal(
            reason=self.why if one else f"{names}: {self.why}",
            remedy="Use photos of one hub and side only, and touch neither hub, gauge nor sheet between them",
            photo=names if one else None,
        )

    def note(self, files: Sequence[str]) -> str:
        """Say that it was left out."""
        return f"{files[self.photos[0]]} was left out: {self.why}; if that is wrong, photograph the set again"


def odd_photos(
    solution: Solution,
    blocks: Sequence[HubBlock],
    references: Sequence[Array],
    photos: int,
    *,
    by_hand: bool = False,
) -> OddPhotos | None:
    """Find the photos in which the hub is not where the others show it.

    Parameters
    ----------
    solution, blocks, references
        The adjustment, its observations of the hub, and the gauges' reference directions.
    photos
        Number of photos.
    by_hand
        Whether gauge or bosses were placed by hand: then a photo may show nothing of them.
    """
    if photos < 2:
        return None
    lost = tuple(k for k in range(photos) if _shows_something_else(solution, blocks, k))
    if lost and not by_hand:
        return OddPhotos(lost, _elsewhere(lost))
    motions = hub_motions(solution, blocks, references, photos)
    worst = max(range(photos), key=lambda k: motions[k].gain if motions[k].size > LIMITS.moved_mm else 0.0)
    if motions[worst].size <= LIMITS.moved_mm or motions[worst].gain <= LIMITS.moved_gain:
        return None
    return OddPhotos((worst,), _what_moved(motions[worst]))


def odd_photo_out(odd: int) -> OddPhotos:
    """Blame a photo without which the others agree on the gauge."""
    return OddPhotos((odd,), _elsewhere((odd,)), stands_out=True)


def not_found(refusal: Refusal, gauges: Sequence[GaugeSighting], photos: int) -> Refusal:
    """Say more of bosses that were not found: the gauge is bent, or the photos do not belong together."""
    short = short_gauge(gauges)
    if short is not None:
        return short
    if photos == 1:
        return refusal
    more = "make sure that all photos show one hub and side, and that nothing was moved between them"
    return refusal.model_copy(update={"remedy": f"{refusal.remedy}; {more}"})


def close_rival(bosses: BossSighting) -> list[str]:
    """Say so where another pattern is nearly as well supported as the one that was taken."""
    rival = bosses.rival
    if rival is None or bosses.stands_out:
        return []
    other = f"of {rival.count}" if rival.count != bosses.pose.count else "round another place"
    return [
        f"{bosses.pose.count} bosses were found on this side, but a pattern {other} is nearly as well "
        "supported: count them; state the number of spokes, or add photos from around the hub"
    ]


def _elsewhere(lost: Sequence[int]) -> str:
    return (
        f"{'it shows' if len(lost) == 1 else 'they show'} gauge and bosses not where the others do: "
        "another hub or side, a hub that was moved, or a gauge that is hard to see"
    )


def _shows_something_else(solution: Solution, blocks: Sequence[HubBlock], photo: int) -> bool:
    """Tell whether a photo has next to nothing of the gauge where the others have it, nor of the bosses."""
    points: dict[int, int] = {}
    for block in blocks:
        if isinstance(block, GaugeAxisBlock):
            points[block.photo] = points.get(block.photo, 0) + len(block.back)
    own, usual = points.get(photo, 0), float(np.median(list(points.values())))
    if own >= max(LIMITS.axis_points, LIMITS.axis_share * usual):
        return False
    in_place, count = 0, 1
    for block in blocks:
        if isinstance(block, PatternBlock) and block.photo == photo:
            count = block.count
            off = block.linearise(solution.layout, solution.x).residual.reshape(-1, 2) * block.sigma[:, None]
            near = np.linalg.norm(off, axis=1) < LIMITS.in_place_mm * _px_per_mm(solution, photo)
            in_place += int(near.sum())
    return in_place < (LIMITS.agreeing if own < LIMITS.axis_points else LIMITS.agreeing / 2) * count


def _px_per_mm(solution: Solution, photo: int) -> float:
    view = view_in(solution, photo)
    return float(view.focal / ((solution["pattern"][:3] - view.position) @ view.rotation[2]))


def _what_moved(motion: Motion) -> str:
    shift, end = float(np.hypot(*motion.shift)), float(np.hypot(*motion.at_end))
    if shift < LIMITS.turn * end:
        return (
            f"its shell is turned by about {abs(np.degrees(motion.turn)):.1f} degrees, or the gauge's end "
            f"moved by {end:.1f} mm, against the other photos"
        )
    return f"the hub stands about {max(shift, end):.1f} mm from where the other photos show it"


def zoomed_photos(solution: Solution, photos: int, focal_departure: float) -> OddPhotos | None:
    """Find a photo whose focal length differs from the others' by more than autofocus does.

    What is known beforehand, that one lens took them all, hides a zoom: poses give way instead. It is taken
    out of the solution again, as far as that is linear.

    Parameters
    ----------
    solution
        Of the sheet, or of sheet and hub, which knows a photo's focal length better.
    photos
        Number of photos.
    focal_departure
        Standard deviation that was taken for known, relative.
    """
    strangest, worst = 0.0, -1
    for k in range(photos):
        where = solution.layout[f"photo{k}"].start
        variance = float(solution.covariance[where, where])
        precision = 1 / variance - 1 / focal_departure**2
        if precision <= 0:
            continue
        own = float(solution.x[where]) / variance / precision
        sigmas = abs(own) * np.sqrt(precision)
        if abs(own) > LIMITS.zoom and sigmas > max(LIMITS.zoom_sigmas, strangest):
            strangest, worst = sigmas, k
    return (
        None if worst < 0 else OddPhotos((worst,), "it was taken with another zoom or lens than the others")
    )


def unexpected_height(side: StatedSide, wheel: StatedWheel, height: Figure | None) -> list[str]:
    """Compare the flange's height with what is stated of the hub: a forgotten block."""
    if height is None or wheel.over_locknut is None or side.centre_to_flange is None:
        return []
    expected = side.block_thickness + wheel.over_locknut.value / 2 + side.centre_to_flange.value
    u = np.sqrt(height.u**2 + (wheel.over_locknut.u / 2) ** 2 + side.centre_to_flange.u**2)
    excess = height.value - expected
    if abs(excess) < APART_SIGMAS * u + HEIGHT_SLACK_MM:
        return []
    if excess > 0:
        why = "a block under the hub that is not stated, or thicker than stated?"
    elif side.block_thickness > 0:
        why = "is the stated block under the hub, and as thick as stated?"
    else:
        why = "check over-locknut and centre to flange, and which side is up"
    return [
        f"the flange lies {abs(excess):.1f} mm {'higher' if excess > 0 else 'lower'} over the paper than "
        "over-locknut, centre to "
        f"flange and block make it: {why}"
    ]


def unusual_offset(side: StatedSide, offset: Figure | None) -> list[str]:
    """Say so where the offset is one that hardly any hub has: an unlikely gauge length, an end misread."""
    if offset is None or USUAL_OFFSETS_MM[0] < offset.value < USUAL_OFFSETS_MM[1]:
        return []
    length = side.gauges[0].length.value
    return [
        f"a spoke offset of {offset.value:.1f} mm is unusual: check the gauge's stated length of "
        f"{length:.1f} mm, that its head sits "
        "home, what is on its end, and that nothing covers the end"
    ]
