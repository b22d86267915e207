"""What was seen in a side's photos, in a form that a file can keep: figures without a new look at them."""

from __future__ import annotations

from dataclasses import dataclass

from hubsight.camera import CameraPrior
from hubsight.measure.settle import HubSeen, settle, stated_heights, wire_only
from hubsight.measure.sheet import sheet_of
from hubsight.measure.sightings import Sightings, Stated
from hubsight.model.corrections import Corrections
from hubsight.model.refusal import Refusal
from hubsight.see.bosses.mouth import Mouth
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.turned.ends import EndsSeen
from hubsight.target.find import TargetSighting


@dataclass(frozen=True)
class KeptSightings:
    """The sightings of a side without what follows from them; attributes are those of `Sightings`."""

    files: tuple[str, ...]
    sizes: tuple[tuple[int, int], ...]
    targets: tuple[TargetSighting, ...]
    prior: CameraPrior
    gauges: tuple[GaugeSighting, ...]
    bosses: BossSighting
    ends: EndsSeen
    mouths: tuple[Mouth | None, ...]
    warnings: tuple[str, ...]
    by_hand: Corrections
    harmless: tuple[str, ...] = ()


def kept_of(seen: Sightings) -> KeptSightings:
    """Return what a file has to keep of sightings."""
    return KeptSightings(
        files=seen.files,
        sizes=seen.sizes,
        targets=seen.targets,
        prior=seen.prior,
        gauges=seen.gauges,
        bosses=seen.bosses,
        ends=seen.ends,
        mouths=seen.mouths,
        warnings=seen.warnings,
        by_hand=seen.by_hand,
        harmless=seen.harmless,
    )


def sightings_of(kept: KeptSightings, stated: Stated) -> Sightings | Refusal:
    """Return the sightings again, adjusted as they were when the photos were looked at.

    Parameters
    ----------
    kept
        From `kept_of`.
    stated
        What was stated then.

    Returns
    -------
    Sightings or Refusal
        A refusal where the statements do not go with them.
    """
    heights = stated_heights(stated.side, len(kept.files))
    if isinstance(heights, Refusal):
        return heights
    heights = heights if len(kept.files) == 1 else wire_only(heights)
    problem = sheet_of(kept.targets, kept.prior, stated.target, kept.sizes[0])
    sheet = problem.solve()
    corrections = stated.side.corrections
    hub = HubSeen(kept.gauges, kept.bosses, heights, kept.files, corrections, kept.by_hand)
    settled = settle(problem, sheet, hub)
    refusal = settled.refusal(kept.files)
    if refusal is not None:
        return refusal
    return Sightings(
        stated=stated,
        files=kept.files,
        sizes=kept.sizes,
        targets=kept.targets,
        prior=kept.prior,
        sheet=sheet,
        heights=heights,
        gauges=kept.gauges,
        bosses=kept.bosses,
        adjusted=settled.adjusted,
        seen_alone=settled.seen_alone,
        ends=kept.ends,
        mouths=kept.mouths,
        warnings=kept.warnings,
        by_hand=kept.by_hand,
        marks=settled.marks,
        harmless=kept.harmless,
    ).edges_judged()
