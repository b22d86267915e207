"""What is known of a camera before the photos of a set are looked at."""

from __future__ import annotations

from dataclasses import dataclass

from hubsight.model.arrays import Array

CENTRE_DEPARTURE = 3.0 / 4000
"""Standard deviation of one photo's principal point from the set's, and of a set's from the calibration's,
per long side of the picture; raising it trusts the shared camera less (stabilisation; common practice, no
source)."""


@dataclass(frozen=True)
class CameraPrior:
    """What is known of the shared camera: (8,) values and (8, 8) covariance, see `camera.model.SHARED`."""

    value: Array
    covariance: Array
    kind: str = "camera"
