"""A camera from photos of the sheet: the adjustment, its trust, its profile."""
