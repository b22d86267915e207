"""How a HEIC file's container turns its picture.

Decoders of HEIC apply the container's own rotation and mirror, whatever EXIF says; some phones write both,
some only one. To get back to the array as stored one has to know what was applied, and only the container
tells.

The box layout is that of ISO/IEC 14496-12 and 23008-12 (field sizes from memory, tried on files of all eight
orientations): ``meta`` holds ``pitm``, the primary item's id, and ``iprp``, whose ``ipco`` lists properties
(``irot``, ``imir`` among them) that ``ipma`` assigns to items by their place in the list, in the order in
which they are applied.
"""

from __future__ import annotations

from collections.abc import Iterator

from hubsight.photo.turn import UPRIGHT, orientation_of

FULL_BOX_HEADER = 4
"""Length of a full box' version and flags, bytes (ISO/IEC 14496-12, 4.2)."""


def container_orientation(data: bytes) -> int:
    """Return what the container does to its primary picture, as an EXIF orientation.

    1 means that nothing is done, or that the container cannot be read.
    """
    try:
        return orientation_of(_primary_turns(data))
    except (IndexError, KeyError, ValueError):
        return UPRIGHT


def _boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield kind and content of the boxes that follow each other in ``data``."""
    place = 0
    while place + 8 <= len(data):
        size, kind, header = int.from_bytes(data[place : place + 4]), data[place + 4 : place + 8], 8
        if size == 1:
            size, header = int.from_bytes(data[place + 8 : place + 16]), 16
        elif size == 0:
            size = len(data) - place
        if size < header:
            raise ValueError(kind)
        yield kind, data[place + header : place + size]
        place += size


def _primary_turns(data: bytes) -> list[tuple[str, int]]:
    meta = dict(_boxes(dict(_boxes(data))[b"meta"][FULL_BOX_HEADER:]))
    primary = _primary_item(meta[b"pitm"])
    properties = dict(_boxes(meta[b"iprp"]))
    listed = list(_boxes(properties[b"ipco"]))
    turns = []
    for place in _associations(properties[b"ipma"])[primary]:
        kind, content = listed[place - 1]
        if kind == b"irot":
            turns.append(("rotate", content[0] & 3))
        elif kind == b"imir":
            turns.append(("mirror", content[0] & 1))
    return turns


def _primary_item(pitm: bytes) -> int:
    width = 2 if pitm[0] == 0 else 4
    return int.from_bytes(pitm[FULL_BOX_HEADER : FULL_BOX_HEADER + width])


def _associations(ipma: bytes) -> dict[int, list[int]]:
    """Return per item the places, from 1, of its properties in the list."""
    id_width = 2 if ipma[0] == 0 else 4
    wide = bool(ipma[3] & 1)
    width, mask = (2, 0x7FFF) if wide else (1, 0x7F)
    place = FULL_BOX_HEADER + 4
    found: dict[int, list[int]] = {}
    for _ in range(int.from_bytes(ipma[FULL_BOX_HEADER:place])):
        item, count = int.from_bytes(ipma[place : place + id_width]), ipma[place + id_width]
        place += id_width + 1
        ends = range(place, place + count * width, width)
        found[item] = [int.from_bytes(ipma[start : start + width]) & mask for start in ends]
        place += count * width
    return found
