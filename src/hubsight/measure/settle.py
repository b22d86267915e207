"""Adjust what was seen of a side and see whether the photos agree; and again under other statements."""

from __future__ import annotations

from collections.abc import Container, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Problem, Solution
from hubsight.measure.adjust.judged import Judged, judge
from hubsight.measure.adjust.placed import placed_blocks
from hubsight.measure.adjust.placed_pattern import placed_bosses
from hubsight.measure.adjust.side import SideAdjustment, StatedHeights, adjust_side
from hubsight.measure.consistency import OddPhotos, odd_photos, zoomed_photos
from hubsight.measure.gauge_consistency import bent_gauge
from hubsight.measure.sheet import sheet_of, sheet_trouble
from hubsight.measure.sightings import Sightings, Stated, only_photos
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedSide
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.placed import WireHeights, placed_lines, strays
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.marks import Marks
from hubsight.see.turned.ends import NOTHING_SEEN
from hubsight.target.sheet import FOCAL_DEPARTURE

FACES_ABOVE_MIDDLE_MM, FACES_ABOVE_MIDDLE_U_MM = 3.6, 0.6
"""Visible upper edges of the bosses above the flange's mid-plane (common practice, no source)."""


@dataclass(frozen=True)
class HubSeen:
    """What enters the adjustment of a hub beside the sheet: sightings, stated heights and marks by hand.

    ``by_hand`` are the marks from which gauges were looked for.
    """

    gauges: Sequence[GaugeSighting]
    bosses: BossSighting
    heights: StatedHeights
    files: Sequence[str]
    corrections: Corrections
    by_hand: Corrections = NO_CORRECTIONS


@dataclass(frozen=True)
class Settled:
    """An adjustment, and what it shows to be wrong: photos that do not fit, a bent gauge, a photo's zoom.

    ``seen_alone`` is that of what was seen, without marks by hand, and ``marks`` are those that count in it.
    """

    adjusted: SideAdjustment
    seen_alone: SideAdjustment
    marks: Judged
    odd: OddPhotos | None
    bent: Refusal | None
    zoomed: OddPhotos | None

    def refusal(self, files: Sequence[str]) -> Refusal | None:
        """Refuse what is wrong, in photos of these names."""
        if self.bent is not None:
            return self.bent
        odd = self.odd or self.zoomed
        return None if odd is None else odd.refusal(files)


def settle(
    problem: Problem, sheet: Solution, hub: HubSeen, seen_alone: SideAdjustment | None = None
) -> Settled:
    """Adjust sheet and hub together, and test the adjustment.

    Parameters
    ----------
    problem, sheet
        Of the sheet, to which the hub is added, and its solution, from which the hub was sighted.
    hub
        What was seen, stated and placed.
    seen_alone
        The adjustment without marks by hand, if it is known.
    """
    marks = Judged(hub.corrections)
    if hub.corrections.marks():
        seen_alone = seen_alone or adjust_side(deepcopy(problem), sheet, hub.gauges, hub.bosses, hub.heights)
        # Marks from which a gauge was looked for are what was seen of it.
        if hub.by_hand == NO_CORRECTIONS:
            marks = judge(hub.corrections, hub.files, seen_alone.solution, hub.gauges, hub.bosses)
    placed = placed_blocks(marks.believed, hub.files, sheet, hub.gauges, hub.bosses)
    adjusted = adjust_side(problem, sheet, hub.gauges, hub.bosses, hub.heights, placed=placed)
    solution, blocks, photos = adjusted.solution, adjusted.hub_blocks, len(hub.files)
    by_hand = hub.by_hand != NO_CORRECTIONS or hub.bosses.by_hand
    return Settled(
        adjusted,
        seen_alone or adjusted,
        marks,
        odd_photos(solution, blocks, adjusted.references, photos, by_hand=by_hand),
        bent_gauge(solution, blocks, adjusted.references, hub.gauges),
        zoomed_photos(solution, photos, FOCAL_DEPARTURE),
    )


def corrected(seen: Sightings, corrections: Corrections) -> Sightings | Refusal:
    """Adjust what was seen once more with other corrections, without looking at the pictures again.

    Parameters
    ----------
    seen
        Of the side; its photos marked as unusable stay away.
    corrections
        All that was put right, in place of the corrections so far. The mean boss stays as it was seen in all
        photos, those now marked as unusable included: `see_side` looks anew.
    """
    return restated(seen, seen.stated.with_corrections(corrections))


def restated(seen: Sightings, stated: Stated) -> Sightings | Refusal:
    """Adjust what was seen once more under other statements, without looking at the pictures again.

    Parameters
    ----------
    seen
        Of the side.
    stated
        All that is stated, in place of the statements so far.

    Returns
    -------
    Sightings or Refusal
        A refusal where the statements contradict the photos, and where they change what is looked for: the
        paper, the number of gauges, what is on their ends, the photos, the camera's profile, and with one
        photo the hub's width.
    """
    new_look = _needs_new_look(seen, stated)
    if new_look is not None:
        return new_look
    corrections = stated.side.corrections
    keep = [k for k, file in enumerate(seen.files) if file not in corrections.unusable]
    if not keep:
        return Refusal(reason="every photo is marked as unusable", remedy="Add photos, or use one of them")
    printed = _printed_anew(only_photos(seen, keep), stated)
    if isinstance(printed, Refusal):
        return printed
    same = not _adjusted_otherwise(seen, stated, len(keep))
    problem, seen = printed
    heights = stated_heights(stated.side, len(keep))
    if isinstance(heights, Refusal):
        return heights
    seen = replace(seen, stated=stated, heights=heights if len(keep) == 1 else wire_only(heights))
    if corrections.bosses is not None:
        marks = Marks(corrections, seen.files, [view_in(seen.sheet, k) for k in range(len(keep))])
        bosses = placed_bosses(marks, seen.gauges, heights.faces)
        if isinstance(bosses, Refusal):
            return bosses
        seen = replace(seen, bosses=bosses, ends=NOTHING_SEEN, mouths=(None,) * len(seen.gauges))
    hub = HubSeen(seen.gauges, seen.bosses, seen.heights, seen.files, corrections, seen.by_hand)
    settled = settle(problem, seen.sheet, hub, seen.seen_alone if same else None)
    adjusted, seen_alone = settled.adjusted, settled.seen_alone
    again = replace(seen, adjusted=adjusted, seen_alone=seen_alone, marks=settled.marks)
    return settled.refusal(seen.files) or again.edges_judged()


def _needs_new_look(seen: Sightings, stated: Stated) -> Refusal | None:
    """Refuse statements under which something else would be looked for."""
    was, now = seen.stated, stated
    changed = [
        what
        for what, before, after in (
            ("the paper", was.target.paper, now.target.paper),
            ("the photos", was.side.photos, now.side.photos),
            ("the camera's profile", was.camera_profile, now.camera_profile),
            (
                "the number of gauges, or what is on their ends",
                [g.tip for g in was.side.gauges],
                [g.tip for g in now.side.gauges],
            ),
        )
        if before is not after and before != after
    ]
    if len(seen.files) == 1 and _end_height(was) != _end_height(now):
        changed.append("the hub's width, by which one photo finds the axis")
    if not changed:
        return None
    return Refusal(
        reason=f"with another statement of {' and '.join(changed)} something else would be looked for",
        remedy="Measure the photos anew",
    )


def _adjusted_otherwise(seen: Sightings, stated: Stated, photos: int) -> bool:
    """Tell whether what was seen is adjusted otherwise under other statements, marks by hand apart."""
    was, now = seen.stated, stated
    by_hand = seen.bosses.by_hand or now.side.corrections.bosses is not None
    heights = [stated_heights(one.side, photos) for one in (was, now)]
    return by_hand or photos != len(seen.files) or was.target != now.target or heights[0] != heights[1]


def _end_height(stated: Stated) -> float | None:
    width = stated.wheel.over_locknut
    return None if width is None else width.value + stated.side.block_thickness


def _printed_anew(seen: Sightings, stated: Stated) -> tuple[Problem, Sightings] | Refusal:
    """Return the sheet's problem as now stated, and what was seen brought to its scale.

    A print that is larger makes everything seen larger, alike in all directions as far as that matters for
    where the hub's adjustment starts.
    """
    problem = sheet_of(seen.targets, seen.prior, stated.target, seen.sizes[0])
    if stated.target == seen.stated.target:
        return problem, seen
    sheet = problem.solve()
    trouble = sheet_trouble(sheet, stated.target, seen.sizes[0])
    if isinstance(trouble, Refusal):
        return trouble
    scale = float(np.mean(sheet["scale"]) / np.mean(seen.sheet["scale"]))
    return problem, replace(
        seen,
        sheet=sheet,
        gauges=tuple(gauge.scaled(scale) for gauge in seen.gauges),
        bosses=seen.bosses.scaled(scale),
    )


def needs_no_look(seen: Sightings, corrections: Corrections) -> bool:
    """Tell whether adjusting anew with other corrections makes what looking at the pictures anew would.

    Photos that are used again, gauges that are placed elsewhere and bosses that are no longer placed have to
    be looked at; so have photos that are left out now, to the last digit.
    """
    side = seen.stated.side
    if not covers(seen, corrections) or set(corrections.unusable) != set(side.corrections.unusable):
        return False
    if seen.by_hand != NO_CORRECTIONS:
        return corrections.gauge_marks({axis.gauge for axis in seen.by_hand.axes}) == seen.by_hand
    marks = Marks(corrections, seen.files, [view_in(seen.sheet, k) for k in range(len(seen.files))])
    heights = WireHeights(side.gauge_height_at_boss, side.gauge_height_at_end)
    return not misled(seen.gauges, marks, placed_lines(marks, len(seen.gauges), heights))


def covers(seen: Sightings, corrections: Corrections) -> bool:
    """Tell whether sightings are good enough to adjust with other corrections, if not to the last digit."""
    marked = corrections.marked_photos() - set(corrections.unusable)
    return marked <= set(seen.files) and (corrections.bosses is not None or not seen.bosses.by_hand)


def misled(gauges: Sequence[GaugeSighting], marks: Marks, placed: Container[int]) -> bool:
    """Tell whether the detector took something else for a gauge than a person placed.

    Parameters
    ----------
    gauges
        As the detector saw them.
    marks
        What was placed.
    placed
        The gauges whose axes make a line in space, see `placed_lines`.
    """
    return any(k in placed and strays(g.end, g.line.direction, marks, k) for k, g in enumerate(gauges))


def stated_heights(side: StatedSide, photos: int) -> StatedHeights | Refusal:
    """Return the heights as stated; one photo alone is refused without those of the wire."""
    heights = StatedHeights(
        None
        if side.flange_height is None
        else Reading(
            side.flange_height.value + FACES_ABOVE_MIDDLE_MM,
            float(np.hypot(side.flange_height.u, FACES_ABOVE_MIDDLE_U_MM)),
        ),
        side.gauge_height_at_boss if len(side.gauges) == 1 or photos == 1 else None,
        side.gauge_height_at_end if len(side.gauges) == 1 or photos == 1 else None,
    )
    if photos == 1 and (heights.gauge_at_boss is None or heights.gauge_at_end is None):
        return Refusal(
            reason="one photo alone does not tell how high the gauge lies",
            remedy="Add three photos from around the hub, or measure and state the wire's height above "
            "the paper at the boss and at its far end",
        )
    return heights


def wire_only(heights: StatedHeights) -> StatedHeights:
    """With several photos the faces' height is seen better than it can be stated."""
    return StatedHeights(None, heights.gauge_at_boss, heights.gauge_at_end)
