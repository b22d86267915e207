"""A photo without what is nobody's business: place, owner, serial numbers, maker notes, thumbnails.

The picture's coded data is copied as it is; only TIFF is written anew, without loss. Of the tags those stay
that measuring reads (`hubsight.photo.tags`), and nothing else: what is unknown goes.

JPEG: segments of ITU-T T.81, annex B. PNG: chunks of the W3C PNG specification, section 11.
"""

from __future__ import annotations

import io
import warnings
import zlib
from collections.abc import Callable, Iterator
from enum import IntEnum

import numpy as np
from PIL import Image, TiffImagePlugin
from PIL.ExifTags import IFD, Base

from hubsight.model.refusal import Refusal
from hubsight.photo.heif_strip import strip_heif
from hubsight.photo.load import own_size_limit
from hubsight.photo.turn import as_stored

KEPT_TAGS = (Base.Make, Base.Model, Base.Orientation)
"""Tags of the picture itself that measuring reads."""
KEPT_DETAILS = (
    Base.FocalLength,
    Base.FocalLengthIn35mmFilm,
    Base.DigitalZoomRatio,
    Base.LensModel,
    Base.ExifImageWidth,
    Base.ExifImageHeight,
    Base.FocalPlaneXResolution,
    Base.FocalPlaneYResolution,
    Base.FocalPlaneResolutionUnit,
    Base.ColorSpace,
)
"""Tags of how it was taken that measuring reads."""
_EXIF = b"Exif\0\0"
"""How a segment of tags begins (EXIF 2.32, 4.7.2)."""


class _Marker(IntEnum):
    """JPEG markers: start and end of the picture, start of coded data, comment (ITU-T T.81, table B.1)."""

    SOI = 0xD8
    EOI = 0xD9
    SOS = 0xDA
    COM = 0xFE


_PNG_HEAD = b"\x89PNG\r\n\x1a\n"
"""How a PNG file begins."""
_PNG_KEPT = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT", b"pHYs"}
)
"""Chunks that say how the picture looks."""


class CannotStripError(ValueError):
    """A file that is not built as its format says."""


def strip_tags(data: bytes, name: str) -> bytes | Refusal:
    """Return a photo without private tags.

    Parameters
    ----------
    data
        The file.
    name
        For sentences.

    Returns
    -------
    bytes or Refusal
        A refusal where the file is not built as it should be, or cannot be freed without changing its pixels.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with own_size_limit():
                picture = Image.open(io.BytesIO(data))
            with picture:
                kind, tags = picture.format or "", measuring_tags(picture.getexif())
                aside = picture.info.get("original_orientation")
            if aside:  # the HEIC decoder turns the picture, and takes the tag off
                tags[Base.Orientation] = aside
            strip = _STRIPPERS.get(kind)
            return strip(data, tags) if strip else _refusal(name, f"of a {kind} file")
    except (CannotStripError, ValueError, IndexError, KeyError, OSError) as error:
        return _refusal(name, f"of this file ({error})")


def _refusal(name: str, what: str) -> Refusal:
    remedy = "Leave this photo out, or take its tags off with another program"
    return Refusal(reason=f"private tags cannot be taken out {what}", remedy=remedy, photo=name)


def measuring_tags(exif: Image.Exif) -> Image.Exif:
    """Return the tags that measuring reads, and no others."""
    kept = Image.Exif()
    for tag in KEPT_TAGS:
        if tag in exif:
            kept[tag] = exif[tag]
    details = exif.get_ifd(IFD.Exif)
    for tag in KEPT_DETAILS:
        if tag in details:
            kept.get_ifd(IFD.Exif)[tag] = details[tag]
    return kept


def _tiff_block(tags: Image.Exif) -> bytes:
    """Return tags as the TIFF structure that EXIF is, without the name before it; empty without tags."""
    return tags.tobytes().removeprefix(_EXIF) if len(tags) or tags.get_ifd(IFD.Exif) else b""


def _strip_jpeg(data: bytes, tags: Image.Exif) -> bytes:
    out = [bytes((0xFF, _Marker.SOI))]
    block = _tiff_block(tags)
    exif = _EXIF + block
    wanted = _segment(0xE1, exif) if block else b""
    for marker, content in _jpeg_parts(data):
        if marker == 0xE0 and content.startswith(b"JFIF\0"):
            # Version, density, and no thumbnail; JFIF comes before everything else.
            out.append(_segment(0xE0, content[:12] + b"\0\0"))
            continue
        out.append(wanted)
        wanted = b""
        if marker is None:
            out.append(content)
        elif _kept_in_jpeg(marker, content):
            out.append(_segment(marker, content))
    out.append(bytes((0xFF, _Marker.EOI)))
    return b"".join(out)


def _segment(marker: int, content: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(content) + 2).to_bytes(2) + content


def _kept_in_jpeg(marker: int, content: bytes) -> bool:
    """Tell whether decoding needs a segment, the colour profile among them."""
    if marker == _Marker.COM:
        return False
    if 0xE0 <= marker <= 0xEF:
        needed = {0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
        return marker in needed and content.startswith(needed[marker])
    return True


def _jpeg_parts(data: bytes) -> Iterator[tuple[int | None, bytes]]:
    """Yield segments as marker and content, and coded data between them as ``None`` and data.

    Ends with the picture: further pictures and anything else that phones put behind it is left out.
    """
    if data[:2] != bytes((0xFF, _Marker.SOI)):
        raise CannotStripError("it does not begin as a JPEG")
    place = 2
    while True:
        while data[place] == 0xFF and data[place + 1] == 0xFF:  # fill bytes
            place += 1
        if data[place] != 0xFF:
            raise CannotStripError("a segment is missing")
        marker = data[place + 1]
        if marker == _Marker.EOI:
            return
        length = int.from_bytes(data[place + 2 : place + 4])
        end = place + 2 + length
        if length < 2 or end > len(data):
            raise CannotStripError("it is cut short")
        yield marker, data[place + 4 : end]
        place = end
        if marker == _Marker.SOS:
            place = _end_of_coded(data, end)
            yield None, data[end:place]


def _end_of_coded(data: bytes, place: int) -> int:
    """Return where coded data ends: at a marker that is neither a stuffed byte nor a restart."""
    while True:
        place = data.index(b"\xff", place)
        following = data[place + 1]
        if following not in (0x00, 0x01, 0xFF, *range(0xD0, 0xD8)):
            return place
        place += 1 if following == 0xFF else 2


def _strip_png(data: bytes, tags: Image.Exif) -> bytes:
    out, place, block = [_PNG_HEAD], len(_PNG_HEAD), _tiff_block(tags)
    if not data.startswith(_PNG_HEAD):
        raise CannotStripError("it does not begin as a PNG")
    kind = b""
    while kind != b"IEND":
        size, kind = int.from_bytes(data[place : place + 4]), data[place + 4 : place + 8]
        end = place + size + 12
        if end > len(data):
            raise CannotStripError("it is cut short")
        if kind in _PNG_KEPT:
            out.append(data[place:end])
        if kind == b"IHDR" and block:
            out.append(_chunk(b"eXIf", block))
        place = end
    return b"".join(out)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return len(content).to_bytes(4) + kind + content + zlib.crc32(kind + content).to_bytes(4)


def _strip_tiff(data: bytes, tags: Image.Exif) -> bytes:
    """Return a TIFF written anew: its tags and its pixels share one structure."""
    with Image.open(io.BytesIO(data)) as picture:
        if picture.mode not in ("RGB", "L"):
            raise CannotStripError(f"a TIFF with pixels of the kind {picture.mode}")
        orientation = tags.get(Base.Orientation, 1)
        pixels = as_stored(np.asarray(picture), orientation)
    out = io.BytesIO()
    directory = TiffImagePlugin.ImageFileDirectory_v2()
    for tag in tags:
        directory[tag] = tags[tag]
    details = tags.get_ifd(IFD.Exif)
    if details:
        directory[IFD.Exif] = details
    # Uncompressed: with compression the writer cannot write the camera's tags.
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "TIFF", tiffinfo=directory)
    return out.getvalue()


_STRIPPERS: dict[str, Callable[[bytes, Image.Exif], bytes]] = {
    "JPEG": _strip_jpeg,
    "MPO": _strip_jpeg,
    "PNG": _strip_png,
    "TIFF": _strip_tiff,
    "HEIF": lambda data, tags: strip_heif(data, _tiff_block(tags)),
}
"""By kind of file what takes its private tags off."""
