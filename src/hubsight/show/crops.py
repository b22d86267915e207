"""Which close-ups show what a figure hangs on: the one list that page, report and pictures lay out.

Per gauge its far end and its exit from the boss in every photo, every boss in the photo that shows it best,
end faces in every photo. What disagrees comes first, and says by how much.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hubsight.model.agreement import Agreement, Feature, Opinion, PhotosAgree
from hubsight.model.arrays import Array, Flags
from hubsight.model.hub import LyingMeasurement
from hubsight.model.side import FaceGeometry, PhotoEvidence, Pixel, SideMeasurement
from hubsight.wheel.manual import NOMINAL_GAUGE_MM

CropKind = Literal["gauge_end", "exit", "boss", "rim", "end_face", "lying_end", "lying_flange"]


@dataclass(frozen=True)
class CloseUp:
    """How much a close-up shows.

    Attributes
    ----------
    end_mm, exit_mm
        Half the width of what is shown round a gauge's end, and round its exit from the boss.
    longest_boss, usual_exit
        Share of a gauge's length within which it leaves its boss, and where it does if no outline
        says so.
    room
        Width of a close-up over that of what it shows.
    least_px
        Half the width that it has at least, photo pixels: finer ones show pixels only.
    """

    end_mm: float = 6.0
    exit_mm: float = 9.0
    longest_boss: float = 0.3
    usual_exit: float = 0.06
    room: float = 1.35
    least_px: float = 40.0


CLOSE = CloseUp()
"""As the program cuts them."""


@dataclass(frozen=True)
class Crop:
    """A square close-up of one photo.

    Attributes
    ----------
    photo
        The photo's file name.
    words
        What it shows, beside the photo's name.
    centre, half
        Its middle and half its width, pixels as stored.
    seen
        Whether this photo itself shows it; else the others, or the model, put it there.
    odd
        What disagrees with the rest, in words; empty where nothing does.
    """

    photo: str
    words: str
    centre: Pixel
    half: float
    seen: bool = True
    odd: tuple[str, ...] = ()


@dataclass(frozen=True)
class CropGroup:
    """Close-ups of the same thing.

    Attributes
    ----------
    title
        What they show.
    figures
        Names of the figures that hang on it.
    crops
        Those that disagree first.
    """

    kind: CropKind
    title: str
    figures: tuple[str, ...]
    crops: tuple[Crop, ...]

    @property
    def odd(self) -> bool:
        """Whether anything in it disagrees."""
        return any(crop.odd for crop in self.crops)


def side_crops(side: SideMeasurement) -> tuple[CropGroup, ...]:
    """Return the close-ups of a measured side, groups with something that disagrees first."""
    return crops_of(side.photos, side.agreement, side.face)


def crops_of(
    photos: Sequence[PhotoEvidence],
    agreement: PhotosAgree | None = None,
    face: FaceGeometry | None = None,
) -> tuple[CropGroup, ...]:
    """Return the close-ups of what was seen in photos, figures or not."""
    doubts = _Doubts(agreement or PhotosAgree())
    gauges = max((len(photo.gauges) for photo in photos), default=0)
    groups = [
        *(_ends(photos, k, gauges, doubts, _length(face, k)) for k in range(gauges)),
        *(_exits(photos, k, gauges, doubts, face) for k in range(gauges)),
        _bosses(photos, doubts),
        *_turned(photos, doubts, lying=gauges == 0),
    ]
    return _in_order(groups)


def lying_crops(lying: LyingMeasurement) -> tuple[CropGroup, ...]:
    """Return the close-ups of a lying hub: both end faces in every photo, and both flanges."""
    return crops_of(lying.evidence)


def _in_order(groups: Sequence[CropGroup]) -> tuple[CropGroup, ...]:
    sorted_groups = [
        replace(group, crops=tuple(sorted(group.crops, key=lambda crop: not crop.odd)))
        for group in groups
        if group.crops
    ]
    return tuple(sorted(sorted_groups, key=lambda group: not group.odd))


def _length(face: FaceGeometry | None, gauge: int) -> float:
    known = face is not None and gauge < len(face.gauges)
    return face.gauges[gauge].length if known and face is not None else NOMINAL_GAUGE_MM


def _of(gauge: int, gauges: int) -> str:
    return "the gauge" if gauges == 1 else f"gauge {gauge + 1}"


def _px_per_mm(line: Sequence[Pixel], length: float) -> float:
    """Return the scale at a gauge's far end; its points are equally far apart in space."""
    step = np.linalg.norm(np.subtract(line[-1], line[-2]))
    return float(step) * (len(line) - 1) / length


def _along(line: Sequence[Pixel], shares: Array) -> Array:
    """Return the (N, 2) points at (N,) shares of a gauge's length from its seat."""
    at, places = shares * (len(line) - 1), np.arange(len(line))
    return np.stack([np.interp(at, places, [point[axis] for point in line]) for axis in (0, 1)], -1)


def _ends(
    photos: Sequence[PhotoEvidence], gauge: int, gauges: int, doubts: _Doubts, length: float
) -> CropGroup:
    crops = []
    for photo in photos:
        taken = photo.gauge_end_outlines or photo.gauge_ends
        if gauge >= len(photo.gauges) or gauge >= len(taken):
            continue
        half = max(CLOSE.end_mm * _px_per_mm(photo.gauges[gauge], length), CLOSE.least_px)
        own = photo.ends_seen[gauge] is not None if gauge < len(photo.ends_seen) else True
        odd = doubts.of_end(photo.file, gauge)
        crops.append(Crop(photo.file, "far end", taken[gauge], half, seen=own, odd=odd))
    figures = ("spoke_offset", "reach", "protrusion")
    return CropGroup("gauge_end", f"Far end of {_of(gauge, gauges)}", figures, tuple(crops))


def _exits(
    photos: Sequence[PhotoEvidence], gauge: int, gauges: int, doubts: _Doubts, face: FaceGeometry | None
) -> CropGroup:
    length, crops = _length(face, gauge), []
    for photo in photos:
        if gauge >= len(photo.gauges) or len(photo.gauges[gauge]) < 2:
            continue
        line, outlines = photo.gauges[gauge], photo.boss_outlines
        at = exit_of(line, outlines)
        half = max(CLOSE.exit_mm * _px_per_mm(line, length), CLOSE.least_px)
        odd = doubts.of_exit(photo.file, gauge)
        crops.append(Crop(photo.file, "exit from the boss", at, half, odd=odd))
    figures = ("spoke_offset", "protrusion", "boss_width")
    return CropGroup("exit", f"Where {_of(gauge, gauges)} leaves its boss", figures, tuple(crops))


def exit_of(line: Sequence[Pixel], outlines: Sequence[Sequence[Pixel]]) -> Pixel:
    """Return where a gauge leaves the last outline that it crosses near its seat.

    Parameters
    ----------
    line
        Of the gauge, from its seat to its end.
    outlines
        Of the bosses.
    """
    shares = np.linspace(0.0, CLOSE.longest_boss, 91)
    points = _along(line, shares)
    inside = np.any([_holds(outline, points) for outline in outlines], axis=0) if outlines else [False]
    last = float(shares[np.flatnonzero(inside)[-1]]) if np.any(inside) else CLOSE.usual_exit
    x, y = _along(line, np.array([last]))[0].tolist()
    return x, y


def _holds(outline: Sequence[Pixel], points: Array) -> Flags:
    """Tell which of (N, 2) points an outline holds: a ray from each crosses it an odd number of times."""
    x, y = points[:, :1], points[:, 1:]
    a = np.asarray(outline, dtype=np.float64)
    b = np.roll(a, -1, axis=0)
    above = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    crossed = above & (x < a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0]))
    return np.asarray(crossed.sum(axis=1) % 2 == 1)


def _bosses(photos: Sequence[PhotoEvidence], doubts: _Doubts) -> CropGroup:
    count = max((len(photo.boss_outlines) for photo in photos), default=0)
    if count == 1:
        rims = [_around(photo, photo.boss_outlines[0], "rim of the flange") for photo in photos]
        odd = tuple(replace(crop, odd=doubts.of_bosses(crop.photo)) for crop in rims)
        return CropGroup("rim", "Rim of the flange", ("flange_diameter", "spoke_offset"), odd)
    crops = []
    for boss in range(count):
        best = max(photos, key=lambda photo: (photo.shows_boss(boss), _area(photo.boss_outlines[boss])))
        crop = _around(best, best.boss_outlines[boss], f"boss {boss + 1}")
        crops.append(replace(crop, seen=best.shows_boss(boss), odd=doubts.of_boss(boss)))
    figures = ("flange_diameter", "spoke_offset", "boss_width")
    return CropGroup("boss", "Every boss, in the photo that shows it best", figures, tuple(crops))


def _turned(photos: Sequence[PhotoEvidence], doubts: _Doubts, *, lying: bool) -> tuple[CropGroup, ...]:
    ends = tuple(
        replace(crop, odd=() if lying else doubts.of_end_face(photo.file))
        for photo in photos
        for crop in _edge_crops(photo, "end_face", "end face")
    )
    flanges = tuple(crop for photo in photos for crop in _edge_crops(photo, "flange", "flange"))
    if not lying:
        return (CropGroup("end_face", "Upper end face", ("over_locknut", "centre_to_flange"), ends),)
    centres = ("centre_to_flange_ds", "centre_to_flange_nds")
    return (
        CropGroup("lying_end", "End faces of the lying hub", ("over_locknut", *centres), ends),
        CropGroup("lying_flange", "Flanges of the lying hub", centres, flanges),
    )


def _edge_crops(photo: PhotoEvidence, kind: str, words: str) -> Iterable[Crop]:
    """Yield a close-up of each end face or flange of a photo: edges of one number belong together."""
    edges = [edge for edge in photo.edges if edge.kind == kind]
    for number in sorted({edge.number for edge in edges}):
        own = [edge for edge in edges if edge.number == number]
        named = words if len({edge.number for edge in edges}) == 1 else f"{words} {number + 1}"
        crop = _around(photo, [point for edge in own for point in edge.points], named)
        yield replace(crop, seen=any(any(edge.seen) for edge in own))


def _around(photo: PhotoEvidence, points: Sequence[Pixel], words: str) -> Crop:
    low, high = np.min(points, axis=0), np.max(points, axis=0)
    middle = (low + high) / 2
    half = max(float(np.max(high - low)) / 2 * CLOSE.room, CLOSE.least_px)
    return Crop(photo.file, words, (float(middle[0]), float(middle[1])), half)


def _area(outline: Sequence[Pixel]) -> float:
    x, y = np.asarray(outline, dtype=np.float64).T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2


@dataclass(frozen=True)
class _Doubts:
    """What photos, bosses and marks disagree on, in words."""

    agreement: PhotosAgree

    def of_end(self, photo: str, gauge: int) -> tuple[str, ...]:
        """Say what a photo's view of a gauge's end contradicts."""
        said = [*self._opinions(("gauge_end", "tip"), photo, gauge), *self._marks("end", photo, gauge)]
        for rival in self.agreement.runners_up:
            if rival.gauge == gauge and photo in rival.photos and photo not in rival.others:
                way = "farther out" if rival.beyond > 0 else "nearer the hub"
                said.append(f"shows another end {abs(rival.beyond):.1f} mm {way}")
        return tuple(said)

    def of_exit(self, photo: str, gauge: int) -> tuple[str, ...]:
        """Say what a photo's view of the gauge in its boss contradicts."""
        said = [*self._opinions(("gauge_axis", "bore_mouth"), photo, gauge), *self.of_bosses(photo)]
        return (*said, *self._marks("axis", photo, gauge))

    def of_bosses(self, photo: str) -> tuple[str, ...]:
        """Say what a photo's view of the bosses contradicts."""
        return tuple(
            self._opinions(("bosses", "boss_centreline", "boss_left_face", "boss_right_face"), photo, None)
        )

    def of_end_face(self, photo: str) -> tuple[str, ...]:
        """Say what a photo's view of the upper end face contradicts."""
        return tuple(self._opinions(("end_face",), photo, None))

    def of_boss(self, boss: int) -> tuple[str, ...]:
        """Say what a boss contradicts over all photos."""
        odd = ((f, o) for f in self.agreement.features for o in f.odd if o.boss == boss)
        marks = (line for mark in ("face", "centreline") for line in self._marks(mark, None, boss))
        return (*(_said(feature, opinion) for feature, opinion in odd), *marks)

    def _opinions(self, features: Sequence[Feature], photo: str, gauge: int | None) -> Iterable[str]:
        for feature in self.agreement.features:
            if feature.feature in features and feature.gauge == gauge:
                yield from (_said(feature, opinion) for opinion in feature.odd if opinion.photo == photo)

    def _marks(self, mark: str, photo: str | None, index: int) -> Iterable[str]:
        for question in self.agreement.questions:
            if (question.mark, question.index) == (mark, index) and photo in (None, question.photo):
                yield "your mark contradicts the photos"


_HOW: dict[Feature, str] = {
    "tip": "shows another kind of end than the others",
    "gauge_axis": "the wire {:.2f} mm aside of where the others have it",
    "bore_mouth": "the mouth {:.2f} mm from where the others have it",
    "bosses": "the bosses {:.2f} mm round the axis from where the others have them",
    "boss_centreline": "the centreline {:.2f} mm aside of the others'",
    "boss_left_face": "the left faces {:.2f} mm aside of the others'",
    "boss_right_face": "the right faces {:.2f} mm aside of the others'",
}
"""How a photo differs from the others, by feature; the amount in mm is filled in."""


def _said(agreement: Agreement, opinion: Opinion) -> str:
    if agreement.feature == "gauge_end":
        way = "farther out" if opinion.value > 0 else "nearer the hub"
        return f"the end {abs(opinion.value):.2f} mm {way} than where the others have it"
    if opinion.boss is not None:
        return f"{abs(opinion.value):.2f} mm round the axis from its place between the others"
    how = _HOW.get(agreement.feature, f"{agreement.words} {{:.2f}} mm from where the others have it")
    return how.format(abs(opinion.value))
