"""The printed scale target: one description, from which both the drawing and the finding come."""

from hubsight.target.geometry import (
    CheckBar,
    TargetGeometry,
    all_papers_dictionary,
    paper_of_marker,
    target_geometry,
)

__all__ = [
    "CheckBar",
    "TargetGeometry",
    "all_papers_dictionary",
    "paper_of_marker",
    "target_geometry",
]
