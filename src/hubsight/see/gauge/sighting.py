"""The gauge spokes of a photo set, from the first rough line to axis and end in every photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.model.refusal import Refusal
from hubsight.model.stated import StatedGauge, TipKind
from hubsight.photo.at_once import at_once
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.end import EndsFound, EndSighting, see_ends
from hubsight.see.gauge.end_odds import EndOdds
from hubsight.see.gauge.find import RoughLine, find_lines, same_line, segments
from hubsight.target.geometry import STATION_MM

ANCHORS = np.array([STATION_MM, (0.0, 0.0)])
"""Places (2, 2) where a hub stands, mm: the station and the sheet's centre."""
EXTRA_CANDIDATES = 2
"""Lines that are tracked beyond the stated number; raising it is slower."""
LEAST_AXIS_POINTS = 12
"""Axis points over all photos below which a line is no gauge; raising it finds fewer gauges."""
END_MARGIN_MM = 6.0
"""Stretch beyond the end that has to be seen to know it for the end, mm."""
SECOND_GAUGE_POINTS, SECOND_GAUGE_PHOTOS = 0.45, 0.75
"""Share of the first gauge's axis points, and of the photos, in which an unannounced second one shows;
raising them warns less often of what two photos alone make up."""
ONLY_THE_FIRST = "one photo does not tell how high a second gauge lies: only the first one is used"
"""Warning where a set of one photo states two gauges."""


@dataclass(frozen=True)
class GaugeSighting:
    """One gauge in all photos.

    Attributes
    ----------
    line
        Axis in space with its points in the photos.
    end
        (3,) centre of the far end, mm.
    ends
        Per photo the end's sighting, or None where it is not seen.
    start
        (3,) where the gauge comes out of the hub, roughly.
    tip
        What is likeliest on its end; one photo alone does not tell, and leaves it as stated.
    odds
        How the photos speak for where it ends and what is on its end; None where its end was placed by hand.
    beside
        (2, 3) start and end of each gauge that is seen beside the stated ones, with the first of these.
    """

    line: SeenLine
    end: Array
    ends: tuple[EndSighting | None, ...]
    start: Array
    tip: TipKind = "flat"
    odds: EndOdds | None = None
    beside: tuple[Array, ...] = ()

    def only_photos(self, keep: Sequence[int]) -> GaugeSighting:
        """Return what some of the photos show of it."""
        return replace(
            self,
            line=replace(self.line, axes=tuple(self.line.axes[k] for k in keep)),
            ends=tuple(self.ends[k] for k in keep),
            odds=None if self.odds is None else self.odds.only_photos(keep),
        )

    def scaled(self, by: float) -> GaugeSighting:
        """Return it as the same pictures show it over a print that is ``by`` times as large."""
        axes = tuple(replace(axis, back=axis.back * by) for axis in self.line.axes)
        line = replace(self.line, end=self.line.end * by, width=self.line.width * by, axes=axes)
        beside = tuple(other * by for other in self.beside)
        return replace(self, line=line, end=self.end * by, start=self.start * by, beside=beside)


def see_gauges(
    pictures: Sequence[Picture],
    views: Sequence[View],
    stated: Sequence[StatedGauge],
    rough: Sequence[RoughLine] | None = None,
    *,
    files: Sequence[str] = (),
) -> tuple[list[GaugeSighting], list[str]] | Refusal:
    """Return the stated gauges as the photos show them, with warnings.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose.
    stated
        The gauges that are in the hub, the one that points most to the sheet's right first.
    rough
        Where they are, if known; else they are looked for.
    files
        Per photo its name, for what is said; without them photos are counted from 1.

    Returns
    -------
    sightings, warnings
        Or a refusal with the reason. One photo alone gives the first gauge only, and so do photos that do
        not show the second one's end.
    """
    if rough is None:
        rough = find_lines(list(at_once(segments, pictures)), views, ANCHORS, len(stated) + EXTRA_CANDIDATES)
    seen: list[tuple[RoughLine, SeenLine]] = []
    for line in rough:
        tracked = track_axis(
            pictures, views, line.point + line.high * line.direction, line.direction, line.high - line.low
        )
        if tracked is not None and sum(len(a.back) for a in tracked.axes) >= LEAST_AXIS_POINTS * min(
            len(views), 2
        ):
            seen.append((line, tracked))
    seen = each_once(sorted(seen, key=lambda s: -sum(len(a.back) for a in s[1].axes)))
    if len(seen) < len(stated):
        return Refusal(
            reason="no gauge spoke was found"
            if not seen
            else f"only {len(seen)} of {len(stated)} gauge spokes found",
            remedy="Show the whole gauge over the white field in every photo, sharp, and nothing else "
            "as long and thin",
        )
    warnings = _unannounced(seen, len(stated), files)
    beside = tuple(_span(*one) for one in seen[len(stated) : len(stated) + 1]) if warnings else ()
    seen = sorted(seen[: len(stated)], key=lambda s: -s[1].direction[0])
    sightings: list[GaugeSighting] = []
    used = list(zip(seen, stated, strict=True))
    if len(views) == 1 and len(stated) > 1:
        used = used[:1]
        warnings = [*warnings, ONLY_THE_FIRST]
    for (line, tracked), gauge in used:
        found = see_gauge_end(pictures, views, tracked, gauge.tip)
        if found is None or not any(found.ends):
            trouble = _no_end(pictures, views, tracked)
            if not sightings:
                return trouble
            return sightings, [*warnings, f"the second gauge is left out: {trouble.reason}"]
        sightings.append(gauge_sighting(line, tracked, found, stated=gauge.tip))
    sightings[0] = replace(sightings[0], beside=beside)
    return sightings, warnings


def see_gauge_end(
    pictures: Sequence[Picture], views: Sequence[View], line: SeenLine, stated: TipKind
) -> EndsFound | None:
    """Return a gauge's end along its line; several photos tell whether it is of another kind than stated."""
    others = [kind for kind in get_args(TipKind) if kind != stated] if len(views) > 1 else []
    return see_ends(pictures, views, line.end, line.direction, width=line.width, tip=stated, kinds=others)


def gauge_sighting(rough: RoughLine, line: SeenLine, found: EndsFound, *, stated: TipKind) -> GaugeSighting:
    """Return a gauge put together from its line, and from `see_gauge_end`'s answer along it."""
    at = line.end + found.shift * line.direction
    start = line.end + (rough.low - rough.high) * line.direction
    kind = stated if found.odds is None else found.odds.kind
    return GaugeSighting(line, at, found.ends, start, stated if kind == "head" else kind, found.odds)


def _no_end(pictures: Sequence[Picture], views: Sequence[View], line: SeenLine) -> Refusal:
    """Say why the end was not found: out of every picture, or covered."""
    beyond = line.end + END_MARGIN_MM * line.direction
    sizes = [np.array([picture.shape[1], picture.shape[0]]) for picture in pictures]
    places = [view.project(beyond[None])[0] for view in views]
    if not any(np.all((p > 0) & (p < size - 1)) for p, size in zip(places, sizes, strict=True)):
        return Refusal(
            reason="the gauge's far end is outside the picture in every photo",
            remedy="Keep the whole gauge in view, with a finger's breadth of paper beyond its end",
        )
    return Refusal(
        reason="the gauge's far end was not found",
        remedy="Keep the far end inside the picture, uncovered and sharp, in two photos or more",
    )


def each_once(seen: Sequence[tuple[RoughLine, SeenLine]]) -> list[tuple[RoughLine, SeenLine]]:
    """Drop lines that turned out to be a better one's, once their axes were tracked."""
    out: list[tuple[RoughLine, SeenLine]] = []
    for line, tracked in seen:
        ends = _span(line, tracked)
        if not any(same_line(better.end, better.direction, ends) for _, better in out):
            out.append((line, tracked))
    return out


def _span(line: RoughLine, tracked: SeenLine) -> Array:
    """Return where a gauge begins and ends, (2, 3)."""
    return tracked.end + np.array([[line.low - line.high], [0.0]]) * tracked.direction


def _unannounced(seen: Sequence[tuple[RoughLine, SeenLine]], count: int, files: Sequence[str]) -> list[str]:
    if len(seen) <= count or len(seen[0][1].axes) < 2:
        return []
    first, more = (np.array([len(a.back) for a in seen[k][1].axes]) for k in (0, count))
    shown = np.mean(more >= SECOND_GAUGE_POINTS * first)
    if shown < SECOND_GAUGE_PHOTOS:
        return []
    clearest = int(more.argmax())
    photo = files[clearest] if files else f"photo {clearest + 1}"
    return [
        f"more gauges than the {count} stated can be seen, most clearly in {photo}: state every gauge in the "
        "hub, else its length may be taken for another's"
    ]
