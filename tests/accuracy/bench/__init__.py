"""The accuracy benchmark: rendered photographs with exact truth, measured as a user would measure them."""
