"""Photographs that are already in memory."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

from hubsight.photo.load import MIN_SIDE_PX, Photo, pixels_digest
from hubsight.photo.tags import FOCAL_PRIOR_RELATIVE_U, CameraTag, FocalPrior

NO_TAGS = CameraTag()
"""Of a camera that no tags name."""


def photo_of_array(
    pixels: npt.ArrayLike,
    name: str,
    *,
    focal_px: float | tuple[float, float] | None = None,
    camera: CameraTag = NO_TAGS,
    orientation: int = 1,
) -> Photo:
    """Return a photograph from an array, as if it had been read from a file.

    Parameters
    ----------
    pixels
        (H, W, 3) RGB or (H, W) grey, 8 bits, as the camera stored it: neither turned nor cut.
    name
        What the photo is called in figures, warnings and refusals, as a file's name.
    focal_px
        Focal length in pixels, with or without its standard uncertainty; 3 % if that is not given. Without it
        what ``camera`` says holds.
    camera
        What tags would say of the camera: photos of one set have to agree in it.
    orientation
        How to turn the array for looking at it, as in EXIF, 1 to 8.

    Returns
    -------
    Photo
        For :func:`hubsight.measure_side` and :func:`hubsight.look_at`.

    Raises
    ------
    ValueError
        If the array is no picture of 8 bits, or the focal length is not positive.

    Examples
    --------
    >>> import numpy as np
    >>> photo = photo_of_array(np.zeros((300, 400), np.uint8), "a", focal_px=(320.0, 2.0))
    >>> photo.width, photo.focal_prior_px
    (400, FocalPrior(value=320.0, u=2.0))
    """
    array = _rgb(np.asarray(pixels), name)
    return Photo(
        path=Path(name),
        pixels=array,
        orientation=orientation,
        camera=camera,
        sha256="",
        pixels_sha256=pixels_digest(array),
        focal=None if focal_px is None else _focal(focal_px, name),
    )


def _rgb(array: npt.NDArray[np.generic], name: str) -> npt.NDArray[np.uint8]:
    colours = array.ndim == 3 and array.shape[2] == 3
    if array.dtype != np.uint8 or not (colours or array.ndim == 2) or min(array.shape[:2]) < MIN_SIDE_PX:
        msg = (
            f"{name}: {array.dtype} of shape {array.shape} is no picture: give (H, W, 3) or (H, W) of uint8, "
            f"{MIN_SIDE_PX} pixels or more a side"
        )
        raise ValueError(msg)
    picture = array if colours else np.repeat(array[:, :, None], 3, axis=2)
    own = np.array(picture, dtype=np.uint8, order="C")
    own.setflags(write=False)
    return own


def _focal(stated: float | tuple[float, float], name: str) -> FocalPrior:
    value, u = stated if isinstance(stated, tuple) else (stated, FOCAL_PRIOR_RELATIVE_U * stated)
    if not (value > 0 and u > 0):
        msg = f"{name}: a focal length of {value:g} px, known to {u:g} px: both have to be more than 0"
        raise ValueError(msg)
    return FocalPrior(float(value), float(u))
