"""The print's scale from photos of a ruler lying flat on the sheet: the gauge, or a locked caliper."""

from hubsight.flat.scale import FlatScale, scale_from_photos

__all__ = ["FlatScale", "scale_from_photos"]
