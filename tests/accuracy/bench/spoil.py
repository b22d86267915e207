"""Photos and marks, spoilt: a gauge's end painted away, a mark placed beside what it marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from bench.careful import Case
from bench.corpus import SIDES, Side

PAINTED_MM = 3.0
"""How much of the gauge's end is painted away."""
BESIDE_WIRE = 2.2
"""Half width of what is painted, in diameters of what is on the gauge's end."""
MARK_U_PX = 1.5
"""Standard uncertainty of a mark as a person places it."""
MARKS = ("gauge end", "gauge axis", "boss face", "centreline")
"""Handles that a person can place."""
MARKED_PHOTO = 1
"""The photo of a side in which marks are placed, from 0."""

Vector = npt.NDArray[np.float64]


def _points(side: Side) -> dict[str, dict[str, Any]]:
    """Return the true places of things in each photo, by the photo's file name."""
    photos = side.truth_file["sets"][side.side]["photos"]
    return {Path(photo["file"]).name: photo for photo in photos}


def _pixel(photo: Mapping[str, Any], what: str, index: int = 0) -> Vector:
    found = photo["points"][what]
    return np.array((found[index] if isinstance(found, list) else found)["px"], float)


def painted_end(case: Case, side: Side, count: int) -> Case | None:
    """Paint the gauge's end away in ``count`` of a side's photos, so that the wire ends earlier."""
    name, points = SIDES[side.side], _points(side)
    files = list(case.photos[name])
    gauge = side.truth_file["sets"][side.side]["gauges"][0]
    if count >= len(files) or not all(file in points for file in files):
        return None
    spoilt = {}
    for file in files[-count:]:
        picture = case.photos[name][file]
        content = picture if isinstance(picture, bytes) else picture.read_bytes()
        spoilt[file] = _paint(content, points[file], gauge)
    return replace(case, photos={**case.photos, name: {**case.photos[name], **spoilt}})


def _paint(content: bytes, photo: Mapping[str, Any], gauge: Mapping[str, Any]) -> bytes:
    """Fill the last `PAINTED_MM` of a gauge with what surrounds it, and save the photo with its tags."""
    pixels = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    tip, exit_ = _pixel(photo, "gauge_tip"), _pixel(photo, "gauge_exit")
    way = tip - exit_
    per_mm = float(np.linalg.norm(way)) / gauge["protrusion"]
    along = way / np.linalg.norm(way)
    across = np.array([-along[1], along[0]])
    half = BESIDE_WIRE * per_mm * (gauge.get("nipple_dia") or gauge["dia"]) / 2
    near, far = tip - PAINTED_MM * per_mm * along, tip + 2 * half * along
    corners = np.array([near - half * across, near + half * across, far + half * across, far - half * across])
    mask = np.zeros(pixels.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(corners).astype(np.int32), 255)
    filled = cv2.inpaint(pixels, mask, 5, cv2.INPAINT_TELEA)
    soft = cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), 1.2)[..., None]
    mixed = np.round(pixels * (1 - soft) + filled * soft).astype(np.uint8)
    encoded = cv2.imencode(".jpg", mixed, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
    return with_tags_of(content, encoded)


def with_tags_of(original: bytes, changed: bytes) -> bytes:
    """Return a JPEG with the EXIF segment of another one."""
    at = 2
    while original[at] == 0xFF and original[at + 1] != 0xDA:
        length = int.from_bytes(original[at + 2 : at + 4], "big")
        if original[at + 1] == 0xE1:
            return changed[:2] + original[at : at + 2 + length] + changed[2:]
        at += 2 + length
    return changed


def marked(handle: str, px: float, case: Case, side: Side) -> Case | None:
    """Place one mark in a photo of a side, ``px`` beside what it is to mark."""
    name, points = SIDES[side.side], _points(side)
    file = list(case.photos[name])[MARKED_PHOTO]
    if file not in points or (side.kind == "radial" and handle in ("boss face", "centreline")):
        return None
    photo, gauge = points[file], side.truth_file["sets"][side.side]["gauges"][0]
    tip, exit_ = _pixel(photo, "gauge_tip"), _pixel(photo, "gauge_exit")
    along = (tip - exit_) / np.linalg.norm(tip - exit_)
    across = np.array([-along[1], along[0]])
    mark: dict[str, Any] = {"photo": file, "u_px": MARK_U_PX}
    if handle == "gauge end":
        key, mark["pixel"] = "ends", (end_outline(photo["camera"], gauge) + px * along).tolist()
    elif handle == "gauge axis":
        half = 0.5 * (tip + exit_)
        key, mark["pixels"] = "axes", [(half + px * across).tolist(), (tip + px * across).tolist()]
    elif handle == "boss face":
        edge = face_edge(photo, gauge)
        if edge is None:
            return None
        key, mark["pixel"] = "faces", (edge + px * along).tolist()
    else:
        boss = next(
            (k for k, one in enumerate(photo["points"]["lump_C_on_top_face"]) if one["visible"]), None
        )
        if boss is None:
            return None
        place = _pixel(photo, "lump_C_on_top_face", boss)
        out = place - _pixel(photo, "axis_top")
        sideways = np.array([-out[1], out[0]]) / np.linalg.norm(out)
        key, mark["pixel"], mark["boss"] = "centrelines", (place + px * sideways).tolist(), boss
    return replace(case, corrections={name: {key: [mark]}})


def end_outline(camera: Mapping[str, Any], gauge: Mapping[str, Any]) -> Vector:
    """Return the pixel (2,) at which the outline of a gauge's far end crosses its axis.

    The end is a disc square to the axis; its picture is an ellipse about the tip, which the picture of the
    axis leaves at the outline.
    """
    tip, way = np.array(gauge["tip_target"]), np.array(gauge["u_target"])
    radius = (gauge.get("nipple_dia") or gauge["dia"]) / 2
    one = np.cross(way, [0.0, 0.0, 1.0])
    one /= np.linalg.norm(one)
    two = np.cross(way, one)
    centre, before, *rim = pixels_of(camera, [tip, tip - way, tip + radius * one, tip + radius * two])
    along = (centre - before) / np.linalg.norm(centre - before)
    # Conjugate half-diameters: where cos a * p + sin a * q runs along the axis.
    p, q = (point - centre for point in rim)
    turn = np.arctan2(p[0] * along[1] - p[1] * along[0], q[1] * along[0] - q[0] * along[1])
    reach = abs(float((np.cos(turn) * p + np.sin(turn) * q) @ along))
    return np.asarray(centre + reach * along)


def face_edge(photo: Mapping[str, Any], gauge: Mapping[str, Any]) -> Vector | None:
    """Return the pixel (2,) of the upper edge of a boss' face, above the place where the gauge leaves it.

    None where the edge of this boss cannot be seen.
    """
    top = photo["points"]["lump_C_on_top_face"][gauge["lump"]]
    exit_ = photo["points"]["gauge_exit"][0]["xyz"]
    return pixels_of(photo["camera"], [[*exit_[:2], top["xyz"][2]]])[0] if top["visible"] else None


def pixels_of(camera: Mapping[str, Any], places: Sequence[Any]) -> Vector:
    """Return the pixels (N, 2) of places (N, 3) on the sheet by a photo's true camera."""
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1.0]])
    turned = cv2.Rodrigues(np.array(camera["R"], float))[0]
    shift, bent = np.array(camera["t"], float), np.array(camera["dist"], float)
    return cv2.projectPoints(np.array(places, float), turned, shift, matrix, bent)[0].reshape(-1, 2)
