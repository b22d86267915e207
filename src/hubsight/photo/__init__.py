"""Photographs: read from file with their camera's tags, and checked as a set; refused in plain sentences."""

from hubsight.photo.array import photo_of_array
from hubsight.photo.header import PhotoHeader, read_header
from hubsight.photo.load import Photo, load_photo
from hubsight.photo.picture_set import (
    CameraSignature,
    camera_name,
    camera_signature,
    check_photo_set,
    earlier_copy,
    same_camera,
    same_picture,
    strangers,
)
from hubsight.photo.tags import CameraTag, FocalPrior
from hubsight.photo.turn import as_stored, upright

__all__ = [
    "CameraSignature",
    "CameraTag",
    "FocalPrior",
    "Photo",
    "PhotoHeader",
    "as_stored",
    "camera_name",
    "camera_signature",
    "check_photo_set",
    "earlier_copy",
    "load_photo",
    "photo_of_array",
    "read_header",
    "same_camera",
    "same_picture",
    "strangers",
    "upright",
]
