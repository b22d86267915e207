"""The boss pattern, the mean boss and its faces, walls, and the mouths of its bores."""
