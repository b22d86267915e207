"""What is seen of the hub in the photos, in pixels: gauge spokes and the boss pattern."""
