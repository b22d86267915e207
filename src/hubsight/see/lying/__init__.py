"""A hub lying on its flanges: its course, end caps and flanges."""
