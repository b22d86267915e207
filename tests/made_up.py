"""Made-up figures and sides, for tests of what is done with them."""

import math
from pathlib import Path

from hubsight.model.figure import Figure
from hubsight.model.side import FaceGauge, FaceGeometry, PhotoEvidence, SaddleEvidence, SideMeasurement


def make_figure(value, u=0.1, **more):
    return Figure(value=value, u=u, low=value - 1.96 * u, high=value + 1.96 * u, **more)


def make_evidence(file, width=400, height=300, **more):
    """What could have been seen in a small photo, in pixels as stored."""
    seen = {
        "focal_px": 320.0,
        "residual_px": 0.05,
        "saddles": (
            SaddleEvidence(pixel=(40.0, 50.0), residual=(0.1, 0.0), used=True),
            SaddleEvidence(pixel=(360.0, 250.0), residual=(3.0, 3.0), used=False),
        ),
        "gauges": (((180.0, 120.0), (250.0, 125.0), (330.0, 130.0)),),
        "gauge_ends": ((330.0, 130.0),),
        "seats": ((180.0, 120.0),),
        "crossing_points": ((190.0, 121.0),),
        "boss_outlines": (((170.0, 110.0), (200.0, 110.0), (200.0, 135.0), (170.0, 135.0)),),
        "centrelines": (((185.0, 100.0), (185.0, 140.0)),),
        "axis": (185.0, 180.0),
        **more,
    }
    return PhotoEvidence(file=file, width=width, height=height, used=True, **seen)


def make_side(name="drive", photos=(), *, kind="paired", boss_count=6, crosses=2, figures=None, **more):
    """A plausible measurement of a side."""
    usual = {
        "flange_diameter": make_figure(47.0),
        "spoke_offset": make_figure(2.2, 0.05, warnings=("the head may not be seated",)),
        "protrusion": make_figure(93.8, 0.05),
        "flange_height": make_figure(90.0, 0.2),
    }
    return SideMeasurement(
        name=name,
        kind=kind,
        boss_count=boss_count,
        crosses=crosses,
        figures=usual if figures is None else figures,
        photos=tuple(make_evidence(Path(photo).name) for photo in photos),
        **more,
    )


def make_face(*, radius=23.5, degrees=-79.0, reach=97.8, length=100.0):
    """A face as six plain bosses would have it, the gauge to the right of its boss' centreline."""
    direction = math.radians(degrees)
    return FaceGeometry(
        boss_outline=((21.5, 4.2), (26.7, 4.2), (26.7, -4.2), (21.5, -4.2)),
        gauges=(
            FaceGauge(
                boss=0,
                radius=radius,
                outward=math.cos(direction),
                sideways=math.sin(direction),
                reach=reach,
                length=length,
            ),
        ),
    )
