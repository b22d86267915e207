"""Turning pictures between the array as stored and the way they are to be looked at.

A camera's intrinsics belong to its sensor, so everything is measured in the array as stored. The EXIF
orientation says how to turn and mirror that array for looking at it.
"""

from __future__ import annotations

import numpy as np

from hubsight.model.arrays import Picture

UPRIGHT = 1
"""The EXIF orientation of an array that is stored as it is to be looked at."""

TURNED_ON_END = (5, 6, 7, 8)
"""Orientations that exchange columns and rows."""


def upright(pixels: Picture, orientation: int) -> Picture:
    """Return an array as stored, turned for looking at it.

    Parameters
    ----------
    pixels
        (H, W) or (H, W, 3).
    orientation
        EXIF orientation, 1 to 8.

    Returns
    -------
    ndarray
        A view of the turned array.
    """
    if orientation in (5, 7):
        pixels = np.swapaxes(pixels, 0, 1)
    match orientation:
        case 2:
            return pixels[:, ::-1]
        case 3 | 7:
            return pixels[::-1, ::-1]
        case 4:
            return pixels[::-1]
        case 6:
            return np.rot90(pixels, -1)
        case 8:
            return np.rot90(pixels)
    return pixels


def as_stored(turned: Picture, orientation: int) -> Picture:
    """Return the array whose :func:`upright` this is."""
    return upright(turned, {6: 8, 8: 6}.get(orientation, orientation))


def orientation_of(turns: list[tuple[str, int]]) -> int:
    """Return the EXIF orientation that equals a list of turns, applied in order.

    Parameters
    ----------
    turns
        ``("rotate", quarters)`` turns by quarters anticlockwise; ``("mirror", 0)`` exchanges top and bottom,
        ``("mirror", 1)`` left and right.
    """
    probe = np.arange(6, dtype=np.uint8).reshape(2, 3)
    turned = probe
    for kind, amount in turns:
        turned = np.rot90(turned, amount) if kind == "rotate" else np.flip(turned, amount)
    return next(value for value in range(1, 9) if np.array_equal(upright(probe, value), turned))
