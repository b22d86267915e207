"""Turned edges of a standing hub: rings, the upper end face, undersides."""
