"""Two gauges in one boss whose offsets contradict each other: which of them is to be believed, by odds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.measure.gauge_consistency import TWO_GAUGES_MM
from hubsight.measure.kept_sightings import kept_of, sightings_of
from hubsight.measure.sightings import Sightings
from hubsight.model.refusal import Refusal
from hubsight.model.stated import StatedGauge
from hubsight.model.verdict import Reason
from hubsight.scene.usual import Usual
from hubsight.see.gauge.end_odds import SURE
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.wheel.geometry import USUAL_OFFSETS_MM

OFFSETS_MM = Usual(float(np.mean(USUAL_OFFSETS_MM)), float(np.ptp(USUAL_OFFSETS_MM)) / 4)
"""Spoke offsets of usual hubs, of which 95 in 100 lie within the usual range."""
OTHER_LENGTH = 1 / 50
"""Probability that a gauge is not the one that is stated, and so not as long (prior)."""
ELSE_UNSEEN = -50.0
"""Log-odds of an end where the photos were not looked at."""


@dataclass(frozen=True)
class Believed:
    """The gauge that is believed of two, counted from 0, and what is said of the other one's offset."""

    gauge: int
    offsets: tuple[float, ...]

    @property
    def apart(self) -> float:
        """How far the offsets lie apart, mm."""
        return max(self.offsets) - min(self.offsets)


def believed_gauge(
    gauges: Sequence[GaugeSighting], stated: Sequence[StatedGauge], offsets: Sequence[float]
) -> Believed | None:
    """Return which of two gauges is read right where only one can be, or None where the odds are near.

    Parameters
    ----------
    gauges, stated
        Both gauges, as seen and as stated.
    offsets
        The spoke offset that each one makes, mm.

    Notes
    -----
    One gauge is right; then the other's end lies where it makes the same offset, and the photos misread it,
    or it is not as long as stated. The photos say how likely its end is there, the statement how likely what
    is on it, and usual hubs how likely the offset.
    """
    if len(gauges) != 2 or max(offsets) - min(offsets) < TWO_GAUGES_MM:
        return None
    right = [
        np.log(OFFSETS_MM.likely(offsets[k]))
        + _as_stated(gauges[k], stated[k])
        + np.logaddexp(_end_at(gauges[1 - k], offsets[1 - k] - offsets[k]), np.log(OTHER_LENGTH))
        for k in (0, 1)
    ]
    if abs(right[0] - right[1]) < SURE:
        return None
    return Believed(int(np.argmax(right)), tuple(float(offset) for offset in offsets))


def _end_at(gauge: GaugeSighting, beyond: float) -> float:
    """Return the log-odds of a gauge's end so far beyond the one that was taken, 0 at most."""
    odds = gauge.odds
    if odds is None or not odds.ahead[0] < odds.chosen + beyond < odds.ahead[-1]:
        return ELSE_UNSEEN
    return min(float(odds.at(odds.chosen + beyond).sum() - odds.total.max()), 0.0)


def _as_stated(gauge: GaugeSighting, stated: StatedGauge) -> float:
    """Return the log-odds of what is stated to be on a gauge's end against what is seen there, 0 at most."""
    if gauge.odds is None or stated.tip == gauge.tip:
        return 0.0
    return gauge.odds.log_odds.get(stated.tip, 0.0)


def with_one_gauge(seen: Sightings, gauge: int) -> Sightings | Refusal:
    """Adjust what was seen of a side once more with one of its gauges alone, counted from 0."""
    side = replace(seen.stated.side, gauges=(seen.stated.side.gauges[gauge],))
    kept = replace(
        kept_of(seen),
        gauges=(replace(seen.gauges[gauge], beside=seen.gauges[0].beside),),
        mouths=(seen.mouths[gauge],),
    )
    return sightings_of(kept, replace(seen.stated, side=side))


def pair_doubt(believed: Believed, seen: Sightings) -> Reason:
    """Return the doubt that remains where one of two gauges is believed."""
    lengths = [gauge.length.value for gauge in seen.stated.side.gauges]
    one, other = believed.gauge, 1 - believed.gauge
    return Reason(
        sentence=f"the two gauges make offsets that lie {believed.apart:.1f} mm apart: the one of "
        f"{lengths[one]:.2f} mm is believed ({believed.offsets[one]:.2f} mm); the one of "
        f"{lengths[other]:.2f} mm was misread or covered, or has another length "
        f"({believed.offsets[other]:.2f} mm)",
        remedy="Look at both ends in the photos, and place the one left out by hand; or read both lengths "
        "again",
        about=f"{seen.side.name}.spoke_offset",
        severity="check",
    )
