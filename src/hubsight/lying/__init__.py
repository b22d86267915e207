"""A hub lying on its flanges: over-locknut, and both flanges against both end faces, along its axis."""
