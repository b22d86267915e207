"""What is known of a camera before the photos of a set are looked at."""

from __future__ import annotations

from dataclasses import dataclass

from hubsight.model.arrays import Array


@dataclass(frozen=True)
class CameraPrior:
    """What is known of the shared camera: (8,) values and (8, 8) covariance, see `camera.model.SHARED`."""

    value: Array
    covariance: Array
    kind: str = "camera"
