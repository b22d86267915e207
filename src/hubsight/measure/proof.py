"""The length of a rod that lies free above the sheet, from photos: what a caliper can prove right or wrong.

A rod has two ends in space, so its length takes print, camera, poses and heights, as every figure of a hub
does, and needs neither bosses nor a seated head. One adjustment holds the sheet and the rod; the length is
one of its unknowns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hubsight.camera import CameraProfile, View
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Problem, Solution
from hubsight.measure.consistency import zoomed_photos
from hubsight.measure.flange import END_SHAPE_U_MM, Model, figure
from hubsight.measure.sheet import camera_prior, sheet_of, sheet_trouble
from hubsight.model.arrays import Array
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.stated import StatedTarget
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock, gauge_line
from hubsight.scene.rod import OtherEndBlock
from hubsight.see.gauge.axis import AxisSighting
from hubsight.see.gauge.end import END_SIGMA_MM, EndSighting
from hubsight.see.gauge.rod import RodSighting, lies_low, see_rod
from hubsight.target.geometry import target_geometry
from hubsight.target.quality import BAD, sheet_view
from hubsight.target.sheet import FOCAL_DEPARTURE
from hubsight.target.shots import Shot, take_shots

RodBlock = GaugeAxisBlock | GaugeEndBlock | OtherEndBlock

ROD, LENGTH = "rod", "rod length"
"""Names of the unknowns."""


@dataclass(frozen=True)
class Limits:
    """From which a proof is refused or doubted.

    Attributes
    ----------
    photos
        Photos of which one can be shown to be wrong; fewer leave nothing over.
    height_mm
        Lowest rod that proves something about hubs, whose flanges stand 40 to 110 mm above the sheet.
    moved_mm
        Largest distance of the rod's axis in one photo from where the others show it. A smaller limit
        refuses rods that only the light moves: paper below lifts the axis of bright wire by up to 0.2
        mm (found on rendered gauges).
    axis_share
        Share of the other photos' axis points below which a photo shows the rod elsewhere, or not at
        all.
    ends_sigmas
        Distance of an end in one photo from where the others show it, in its standard uncertainty,
        that is worth a word. Of 100 simulated right sets of four photos two had one beyond it.
    ends_mm
        That distance from which no length is given: the photos show different things there. On a
        rendered rod of bright steel, photos that saw streaks of light for the end lay 0.5 mm apart.
    """

    photos: int = 3
    height_mm: float = 40.0
    moved_mm: float = 0.3
    axis_share: float = 0.25
    ends_sigmas: float = 3.5
    ends_mm: float = 0.3


LIMITS = Limits()
"""As the program judges."""


HEAD_SHAPE_U_MM = 0.1
"""Standard uncertainty of where a spoke's head ends, mm: its back is domed (common practice, no source)."""
ENDS_U_MM = 2 * END_SHAPE_U_MM["flat"]
"""Standard uncertainty of both cut ends, mm: they look alike and stand in the same light, so their shapes'
uncertainties add up."""

_AGAIN = "Photograph the rod again, and touch neither rod, blocks nor sheet between the photos"
"""Remedy where photos contradict each other."""


@dataclass(frozen=True)
class RodLength:
    """A measured rod.

    Attributes
    ----------
    figure
        Length from end to end, mm.
    height
        Of the axis above the sheet, in the rod's middle, mm.
    photos
        Names of those used.
    notes
        Photos that were left out, and what else to know.
    """

    figure: Figure
    height: float
    photos: tuple[str, ...]
    notes: tuple[str, ...]


def measure_rod(
    paths: Sequence[Path],
    target: StatedTarget,
    length: float,
    *,
    head: bool = False,
    profile: CameraProfile | None = None,
) -> RodLength | Refusal:
    """Measure a rod that lies over two blocks or across a mug, from photos around it.

    Parameters
    ----------
    paths
        The photos, three or more.
    target
        The sheet and its check bars' readings.
    length
        The rod's length as stated, mm. It tells the rod from other things; the result does not depend on it.
    head
        Whether one end is a spoke's head, and the length is over all.
    profile
        Of a calibrated camera; without one the photos' EXIF focal length is used.

    Returns
    -------
    RodLength or Refusal
        A refusal says what is wrong, in which photo where one is to blame, and what to do.
    """
    taken = take_shots(paths, target_geometry(target.paper))
    if isinstance(taken, Refusal):
        return taken
    shots, notes = _sharp(*taken)
    if len(shots) < LIMITS.photos:
        return _too_few(len(shots), notes)
    files = [shot.photo.file for shot in shots]
    sheet = _sheet(shots, target, profile)
    if isinstance(sheet, Refusal):
        return sheet
    views = [view_in(sheet.solution, k) for k in range(len(shots))]
    rod = see_rod([shot.picture for shot in shots], views, length, head=head)
    if isinstance(rod, Refusal):
        return rod
    ends_u = ENDS_U_MM / 2 + HEAD_SHAPE_U_MM if head else ENDS_U_MM
    return adjust_rod(sheet, rod, files, [*notes, *sheet.notes], ends_u=ends_u)


@dataclass(frozen=True)
class SheetSeen:
    """The adjustment of the sheet alone, from which the rod is looked for, and what is to be said of it."""

    problem: Problem
    solution: Solution
    notes: list[str]


def _sheet(shots: Sequence[Shot], target: StatedTarget, profile: CameraProfile | None) -> SheetSeen | Refusal:
    prior = camera_prior(shots, profile)
    if isinstance(prior, Refusal):
        return prior
    size = (shots[0].photo.width, shots[0].photo.height)
    problem = sheet_of([shot.sighting for shot in shots], prior, target, size)
    solution = problem.solve()
    trouble = sheet_trouble(solution, target, size)
    if isinstance(trouble, Refusal):
        return trouble
    zoomed = zoomed_photos(solution, len(shots), FOCAL_DEPARTURE)
    if zoomed is not None:
        return zoomed.refusal([shot.photo.file for shot in shots])
    return SheetSeen(problem, solution, trouble)


def _sharp(shots: Sequence[Shot], notes: Sequence[str]) -> tuple[list[Shot], list[str]]:
    """Leave out photos that are blurred: an end of a rod is a few hundredths of a millimetre."""
    blur = [sheet_view(shot.picture, shot.sighting).blur_mm or 0.0 for shot in shots]
    sharp = [shot for shot, mm in zip(shots, blur, strict=True) if mm <= BAD.blur_mm]
    left = [shot.photo.file for shot, mm in zip(shots, blur, strict=True) if mm > BAD.blur_mm]
    said = [note for note in notes if not any(note.startswith(f"{file}: ") for file in left)]
    return sharp, [*said, *(f"{file} was left out: it is blurred. Hold the phone still" for file in left)]


def _too_few(count: int, notes: Sequence[str]) -> Refusal:
    usable = "one photo" if count == 1 else f"{count or 'no'} photos"
    why = f" ({'; '.join(notes)})" if notes else ""
    return Refusal(
        reason=f"only {usable} can be used, and a proof needs {LIMITS.photos}{why}",
        remedy="Take four: one from straight above and three from around, tilted by 15 to 30 degrees",
    )


def adjust_rod(
    sheet: SheetSeen, rod: RodSighting, files: Sequence[str], notes: Sequence[str], *, ends_u: float
) -> RodLength | Refusal:
    """Adjust sheet and rod in one, see whether the photos agree, and return the length.

    Parameters
    ----------
    sheet, rod
        As seen in the photos.
    files
        The photos' names.
    notes
        So far.
    ends_u
        Standard uncertainty of the length by the shapes of both ends, mm.
    """
    unseen = _unseen(rod, files)
    if isinstance(unseen, Refusal):
        return unseen
    blocks = _add_rod(sheet.problem, sheet.solution, rod)
    solution = sheet.problem.solve()
    if not solution.converged:
        return Refusal(reason="the rod's place in space could not be computed", remedy=_AGAIN)
    without = [_without(sheet.problem, solution, blocks, photo) for photo in range(len(files))]
    moved = _moved(without, blocks, rod, files)
    if moved is not None:
        return moved
    doubts = _ends_apart(without, blocks, files)
    if isinstance(doubts, Refusal):
        return doubts
    end, direction, _ = gauge_line(solution[ROD], rod.line.direction)
    length = float(solution[LENGTH][0])
    height = float((end - length / 2 * direction)[2])
    if height < LIMITS.height_mm:
        return lies_low()
    where = solution.layout[LENGTH].start
    seen = f"{len(files)} photos"
    model = Model(lambda x: float(x[where]), (("shape of the ends", ends_u),), seen)
    return RodLength(figure(model, solution, [LENGTH], doubts), height, tuple(files), (*notes, *unseen))


def _add_rod(problem: Problem, sheet: Solution, rod: RodSighting) -> list[RodBlock]:
    """Add the rod's unknowns and what was seen of it to the sheet's problem; return the observations."""
    problem.start[: len(sheet.x)] = sheet.x
    reference = rod.line.direction
    problem.add(ROD, np.concatenate([rod.far, np.zeros(2)]))
    problem.add(LENGTH, np.array([rod.length]))
    shift = float((rod.far - rod.line.end) @ reference)
    blocks: list[RodBlock] = [
        *(_axis(photo, reference, axis, shift) for photo, axis in enumerate(rod.line.axes) if len(axis.back)),
        *(
            GaugeEndBlock(photo, ROD, reference, end.pixel, end.tangent, end.rim, end.sigma_px, "rod ends")
            for photo, end in enumerate(rod.far_ends)
            if end is not None
        ),
        *(
            OtherEndBlock(photo, ROD, LENGTH, reference, end.pixel, end.tangent, end.rim, end.sigma_px)
            for photo, end in enumerate(rod.near_ends)
            if end is not None
        ),
    ]
    problem.blocks.extend(blocks)
    return blocks


def _axis(photo: int, reference: Array, axis: AxisSighting, shift: float) -> GaugeAxisBlock:
    return GaugeAxisBlock(
        photo, ROD, reference, axis.back + shift, axis.pixels, axis.normals, axis.sigma_px, "rod axis"
    )


def _without(problem: Problem, solution: Solution, blocks: Sequence[RodBlock], photo: int) -> Solution:
    """Return the adjustment without what one photo shows of the rod."""
    own = {id(block) for block in blocks if block.photo == photo}
    left = [block for block in problem.blocks if id(block) not in own]
    return replace(problem, start=solution.x, blocks=left).solve()


def _unseen(rod: RodSighting, files: Sequence[str]) -> Refusal | list[str]:
    """Refuse a rod whose ends too few photos show, or say which photos do not show one."""
    notes = []
    for ends in (rod.far_ends, rod.near_ends):
        missing = [file for file, end in zip(files, ends, strict=True) if end is None]
        if len(files) - len(missing) < LIMITS.photos:
            return Refusal(
                reason=f"one end of the rod is not seen clearly in {', '.join(missing)}: it is outside the "
                "picture, covered, not sharp, or was moved",
                remedy=f"Show both ends sharp over white paper in {LIMITS.photos} photos or more. {_AGAIN}",
            )
        notes += [f"{file}: one end of the rod is not seen clearly there" for file in missing]
    return notes


def _moved(
    without: Sequence[Solution], blocks: Sequence[RodBlock], rod: RodSighting, files: Sequence[str]
) -> Refusal | None:
    """Refuse a rod that lies elsewhere in one photo than the other photos show it."""
    axes = {block.photo: block for block in blocks if isinstance(block, GaugeAxisBlock)}
    apart = [
        _off_axis(solution, axes[photo]) if _shown(rod, photo) else np.inf
        for photo, solution in enumerate(without)
    ]
    worst = int(np.argmax(apart))
    if apart[worst] <= LIMITS.moved_mm:
        return None
    by = f", by {apart[worst]:.1f} mm" if np.isfinite(apart[worst]) else ""
    return Refusal(
        reason=f"the rod does not lie where the other photos show it{by}: it was moved between the photos, "
        "or it is covered there",
        remedy=_AGAIN,
        photo=files[worst],
    )


def _shown(rod: RodSighting, photo: int) -> bool:
    """Tell whether a photo shows the rod about where the others do."""
    usual = float(np.median([len(axis.back) for axis in rod.line.axes]))
    ends: Sequence[EndSighting | None] = (rod.far_ends[photo], rod.near_ends[photo])
    return len(rod.line.axes[photo].back) >= max(LIMITS.axis_share * usual, 1) and any(ends)


def _off_axis(solution: Solution, axis: GaugeAxisBlock) -> float:
    """Return the median distance of a photo's axis points from the axis that a solution holds, mm."""
    view: View = view_in(solution, axis.photo)
    end, direction, _ = gauge_line(solution[ROD], axis.reference)
    points = end - axis.back[:, None] * direction
    off = np.abs(np.sum((view.project(points) - axis.pixels) * axis.normals, 1))
    depth = (points - view.position) @ view.rotation[2]
    return float(np.median(off * depth / view.focal))


def _ends_apart(
    without: Sequence[Solution], blocks: Sequence[RodBlock], files: Sequence[str]
) -> Refusal | list[str]:
    """Say in which photos an end lies elsewhere than the others show it; far apart, refuse.

    The uncertainty holds what is said only.
    """
    apart: dict[int, float] = {}
    for block in blocks:
        if isinstance(block, GaugeAxisBlock):
            continue
        solution = without[block.photo]
        seen = block.linearise(solution.layout, solution.x)
        row, off = seen.jacobian[0], abs(float(seen.residual[0]))
        if off > LIMITS.ends_sigmas * np.sqrt(1 + row @ solution.covariance @ row):
            apart[block.photo] = max(apart.get(block.photo, 0.0), off * END_SIGMA_MM)
    worst = max(apart, key=lambda photo: apart[photo], default=0)
    if apart.get(worst, 0.0) > LIMITS.ends_mm:
        return Refusal(
            reason="the photos contradict each other: this one shows an end of the rod "
            f"{apart[worst]:.1f} mm from where the others do",
            remedy=f"Blacken a bright rod with a felt pen, and use four photos. {_AGAIN}",
            photo=files[worst],
        )
    return [
        f"{files[photo]} shows an end of the rod {off:.2f} mm from where the other photos do: is it "
        "covered or blurred there?"
        for photo, off in sorted(apart.items())
    ]
