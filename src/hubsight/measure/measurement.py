"""From the sightings of a side to its measurement."""

from __future__ import annotations

from hubsight.measure.side_figures import side_evidence, side_measurement
from hubsight.measure.sightings import Sightings
from hubsight.model.refusal import Refusal
from hubsight.model.side import PhotoEvidence, SideMeasurement


def measurement_of(seen: Sightings) -> SideMeasurement | Refusal:
    """Turn what was seen of a side into its figures."""
    return side_measurement(seen)


def evidence_of(seen: Sightings) -> tuple[PhotoEvidence, ...]:
    """Return what was seen in each photo, even where `measurement_of` refuses the figures."""
    return side_evidence(seen)
