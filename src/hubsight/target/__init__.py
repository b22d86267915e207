"""The printed scale target: one description, from which both the drawing and the finding come.

Drawing is in :mod:`hubsight.target.draw` and not imported here, since measuring needs no PDF writer.
"""

from hubsight.target.geometry import (
    CheckBar,
    TargetGeometry,
    all_papers_dictionary,
    paper_of_marker,
    target_geometry,
)
from hubsight.target.print_scale import PrintCheck, check_print, print_scale, swapped_bars

__all__ = [
    "CheckBar",
    "PrintCheck",
    "TargetGeometry",
    "all_papers_dictionary",
    "check_print",
    "paper_of_marker",
    "print_scale",
    "swapped_bars",
    "target_geometry",
]
