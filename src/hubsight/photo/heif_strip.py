"""Taking private tags off a HEIC file in place: nothing moves, so that every offset in it stays true.

What is overwritten: EXIF items (with the tags that stay), XMP and other text items, and thumbnails, which are
also unlinked and hidden. Box layout as in `hubsight.photo.heif`; ``iloc`` says where items lie, ``iinf`` what
they are, ``iref`` which are thumbnails (ISO/IEC 14496-12, 8.11; field sizes from memory, tried on a file with
all of them).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from hubsight.photo.heif import FULL_BOX_HEADER


@dataclass(frozen=True)
class _Box:
    """Where a box's content lies in the file."""

    kind: bytes
    start: int
    end: int


@dataclass(frozen=True)
class _Item:
    kind: bytes
    entry: int
    """Where its entry in ``iinf`` has its flags."""


def strip_heif(data: bytes, tags: bytes) -> bytes:
    """Return a HEIC file of the same length without private tags.

    Parameters
    ----------
    data
        The file.
    tags
        TIFF structure of the tags that stay.

    Raises
    ------
    ValueError
        If the file is not built as it should be, or the tags do not fit where they were.
    """
    out = bytearray(data)
    meta = _one(_boxes(data, 0, len(data)), b"meta")
    inner = {box.kind: box for box in _boxes(data, meta.start + FULL_BOX_HEADER, meta.end)}
    items = dict(_items(data, inner[b"iinf"]))
    places = dict(_places(data, inner[b"iloc"], inner.get(b"idat")))
    thumbnails = set(_unlink_thumbnails(out, inner[b"iref"])) if b"iref" in inner else set()
    for number, item in items.items():
        extents = places.get(number, [])
        if item.kind == b"Exif":
            # Before the TIFF structure stands how far it is from there.
            _overwrite(out, extents, (6).to_bytes(4) + b"Exif\0\0" + tags if tags else b"")
        elif item.kind in (b"mime", b"uri "):
            _overwrite(out, extents, b"", fill=b" ")
        elif number in thumbnails:
            _overwrite(out, extents, b"")
            out[item.entry + 2] |= 1  # hidden: not to be shown by itself
    return bytes(out)


def _boxes(data: bytes, start: int, end: int) -> Iterator[_Box]:
    while start + 8 <= end:
        size, kind, header = int.from_bytes(data[start : start + 4]), data[start + 4 : start + 8], 8
        if size == 1:
            size, header = int.from_bytes(data[start + 8 : start + 16]), 16
        elif size == 0:
            size = end - start
        if size < header or start + size > end:
            raise ValueError("a box is cut short")
        yield _Box(kind, start + header, start + size)
        start += size


def _one(boxes: Iterator[_Box], kind: bytes) -> _Box:
    for box in boxes:
        if box.kind == kind:
            return box
    raise ValueError(f"it has no {kind.decode()} box")


class _Reader:
    """Reads numbers one after the other."""

    def __init__(self, data: bytes, place: int) -> None:
        self._data, self.place = data, place

    def number(self, width: int) -> int:
        self.place += width
        return int.from_bytes(self._data[self.place - width : self.place])


def _items(data: bytes, iinf: _Box) -> Iterator[tuple[int, _Item]]:
    """Yield every item's number and kind."""
    count_width = 2 if data[iinf.start] == 0 else 4
    for box in _boxes(data, iinf.start + FULL_BOX_HEADER + count_width, iinf.end):
        version = data[box.start]
        if box.kind != b"infe" or version < 2:
            raise ValueError("its items are described in an old way")
        read = _Reader(data, box.start + FULL_BOX_HEADER)
        number = read.number(2 if version == 2 else 4)
        read.number(2)  # protection
        yield number, _Item(data[read.place : read.place + 4], box.start + 1)


def _places(data: bytes, iloc: _Box, idat: _Box | None) -> Iterator[tuple[int, list[tuple[int, int]]]]:
    """Yield every item's number and where its parts lie in the file: start and length."""
    version = data[iloc.start]
    read = _Reader(data, iloc.start + FULL_BOX_HEADER)
    sizes = read.number(2)
    offset_width, length_width, base_width, index_width = (sizes >> shift & 15 for shift in (12, 8, 4, 0))
    for _ in range(read.number(2 if version < 2 else 4)):
        number = read.number(2 if version < 2 else 4)
        method = read.number(2) & 15 if version > 0 else 0
        read.number(2)  # which file
        base = read.number(base_width)
        if method == 1:
            if idat is None:
                raise ValueError("it has no idat box")
            base += idat.start
        extents = []
        for _ in range(read.number(2)):
            if version > 0:
                read.number(index_width)
            offset, length = read.number(offset_width), read.number(length_width)
            extents.append((base + offset, length))
        if method > 1:
            raise ValueError("an item is made of others in a way that is not known here")
        yield number, extents


def _unlink_thumbnails(out: bytearray, iref: _Box) -> Iterator[int]:
    """Yield the items that are thumbnails, and let nothing point to them any more."""
    width = 2 if out[iref.start] == 0 else 4
    for box in _boxes(bytes(out), iref.start + FULL_BOX_HEADER, iref.end):
        if box.kind == b"thmb":
            out[box.start - 4 : box.start] = b"free"
            yield int.from_bytes(out[box.start : box.start + width])


def _overwrite(
    out: bytearray, extents: list[tuple[int, int]], content: bytes, *, fill: bytes = b"\0"
) -> None:
    """Put content over an item, and ``fill`` over what is left of it."""
    room = sum(length for _, length in extents)
    if len(content) > room:
        raise ValueError("the tags that stay do not fit")
    content = content.ljust(room, fill)
    for start, length in extents:
        if start + length > len(out):
            raise ValueError("an item lies beyond the file's end")
        out[start : start + length] = content[:length]
        content = content[length:]
