"""From figures to spoke lengths: pure arithmetic, no image in sight."""

from hubsight.wheel.geometry import (
    HolePattern,
    RimGeometry,
    SideGeometry,
    j_bend_side,
    pattern_from_letters,
)
from hubsight.wheel.length import (
    LengthResult,
    Sensitivities,
    SpokeLength,
    lateral_distance,
    sensitivities,
    side_length,
    straight_distance,
)

__all__ = [
    "HolePattern",
    "LengthResult",
    "RimGeometry",
    "Sensitivities",
    "SideGeometry",
    "SpokeLength",
    "j_bend_side",
    "lateral_distance",
    "pattern_from_letters",
    "sensitivities",
    "side_length",
    "straight_distance",
]
