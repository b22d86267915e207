"""What photos may misread: features, how likely, and by how much their figures are then wrong together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Misread:
    """A feature that photos may misread.

    Attributes
    ----------
    feature, odds, what, remedy
        Its path, the prior odds, words for it, and what to do.
    cases
        Share, mean in standard deviations, and what one standard deviation puts off together, mm.
    """

    feature: str
    odds: float
    what: str
    remedy: str
    cases: tuple[tuple[float, float, Mapping[str, float]], ...]


MISREAD: tuple[Misread, ...] = (
    Misread(
        "over_locknut",
        0.05,
        "end face",
        "Measure the over-locknut with the caliper, or add a photo that shows the upper end from the side",
        # a shoulder below the face is taken for it, seldom the end of an axle above it
        ((0.6, 0.0, {"end_face": 1.0}), (0.35, -1.2, {"end_face": 5.0}), (0.05, 1.0, {"end_face": 4.0})),
    ),
    Misread(
        "boss_width",
        0.03,
        "bosses' faces",
        "Measure boss width and protrusion with the caliper",
        (
            (0.4, 0.0, {"boss_width": 0.5, "boss_width_across": 0.5, "protrusion": -0.5}),
            (0.3, 0.0, {"boss_width": 0.5, "boss_width_across": 0.5}),
            (0.3, 0.0, {"boss_width": 0.8, "boss_width_across": 0.8, "protrusion": -0.4}),
        ),
    ),
    Misread(
        "gauge_end",
        0.004,
        "gauge's end",
        "Measure how far the gauge sticks out of the boss, and look at its end in the photos",
        (
            (0.5, 0.0, {"reach": 0.4, "protrusion": 0.4}),
            (0.5, 0.0, {"reach": 1.5, "protrusion": 1.5}),
        ),
    ),
    Misread(
        "centreline",
        0.005,
        "boss centreline",
        "Photograph the side once more with the gauge in the same boss' other bore",
        ((1.0, 0.0, {"reach": 0.5}),),
    ),
    Misread(
        "flange_height",
        0.02,
        "flange's middle",
        "Measure from the end face in to the flange's middle with the caliper",
        ((1.0, 0.0, {"flange_height": 0.8}),),
    ),
    Misread(
        "flange_diameter",
        0.01,
        "flange diameter",
        "Measure the flange diameter with the caliper",
        ((1.0, 0.0, {"flange_diameter": 0.8}),),
    ),
)
"""What photos may misread; rarities and sizes are those of rendered hubs that had not been seen."""
