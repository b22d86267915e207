"""The sheet by itself: its adjustment, and whether print, camera and photos belong together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hubsight.camera import CameraProfile, prior_for
from hubsight.estimate.problem import Problem, Solution
from hubsight.model.refusal import Refusal
from hubsight.model.stated import CHECK_BAR_NOMINAL_MM, Reading, StatedTarget
from hubsight.model.uncertainty import FAR_SIGMAS
from hubsight.target.find import TargetSighting
from hubsight.target.print_scale import check_print, print_scale, swapped_bars
from hubsight.target.sheet import CENTRE_PRIOR, CameraPrior, sheet_problem, uncalibrated
from hubsight.target.shots import Shot

NOT_FLAT_MM = 0.5
"""Height of a part of the ring off the sheet's plane, beyond chance, from which it is said; raising it says
less of curled sheets."""
NOT_FLAT, BADLY_CURLED = "the sheet is not flat", "the sheet is far from flat"
"""How the warnings of a curled sheet begin."""
CURLED_MM = 1.0
"""Height up to which the corners' own heights in the adjustment, and the lift, hold what a sheet does: it
bears on heights alone. Raising it doubts fewer figures of curled sheets (found on rendered sheets, whose
curls of 1.6 mm show as 0.6)."""
LOOSE_SCALE = 0.02
"""Prior of a scale of which nothing is known, relative; it only keeps the equations solvable."""


def camera_prior(shots: Sequence[Shot], profile: CameraProfile | CameraPrior | None) -> CameraPrior | Refusal:
    """Return what is known of the camera of a photo set: a profile's prior, or the EXIF focal length."""
    width, height = shots[0].photo.width, shots[0].photo.height
    focal = shots[0].photo.focal_prior_px
    prior = profile or uncalibrated(width, height, None if focal is None else Reading(focal.value, focal.u))
    return prior_for(prior, [shot.photo for shot in shots]) if isinstance(prior, CameraProfile) else prior


def sheet_of(
    targets: Sequence[TargetSighting], prior: CameraPrior, target: StatedTarget, size: tuple[int, int]
) -> Problem:
    """Set up the adjustment of the sheet alone, see `sheet_problem`; ``size`` is that of the photos, px."""
    scales = (print_scale(target.bar_x), print_scale(target.bar_y))
    problem = sheet_problem(targets, prior, scales, max(size))
    if target.along is not None:
        where, along = problem.layout["scale"], target.along
        index, cosines = np.arange(where.start, where.stop), np.array([along.x, along.y])
        problem.add_prior("print scale", index, cosines / along.u, along.value / along.u)
    return problem


UNSETTLED = Refusal(
    reason="the photos of the sheet contradict each other: their adjustment does not settle",
    remedy="Photograph the set again with one lens, without zoom, the sheet flat and its whole frame in each",
)
"""Where the adjustment of the sheet alone does not settle."""


def sheet_trouble(solution: Solution, target: StatedTarget, size: tuple[int, int]) -> Refusal | list[str]:
    """Check the adjusted sheet and camera against what was stated.

    Parameters
    ----------
    solution
        The sheet's adjustment.
    target
        What is stated of the print.
    size
        Of the photos, px.

    Returns
    -------
    Refusal or list of str
        A refusal of the print's readings, or warnings of a sheet that is not flat and of cut-out pictures.
    """
    if not solution.converged:
        return UNSETTLED
    x, y = (None if bar is None else bar.value for bar in (target.bar_x, target.bar_y))
    refusals = check_print(x, y, target.paper).refusals
    refused = refusals[0] if refusals else _print_readings(solution, target)
    if refused is not None:
        return refused.model_copy(update={"about": "target.bars"})
    return [*_not_flat(solution), *_cut_out(solution, size)]


def seen_scale_ratio(solution: Solution, target: StatedTarget) -> Reading:
    """Scale of the print in x over that in y, as the photos alone show it.

    The bars' readings are taken out of the solution again, as far as it is linear.
    """
    where = solution.layout["scale"]
    known = [Reading(1.0, 0.01) if b is None else _ratio(b) for b in (target.bar_x, target.bar_y)]
    before, after = np.diag([1 / k.u**2 for k in known]), np.linalg.inv(solution.covariance[where, where])
    loose = np.eye(2) / LOOSE_SCALE**2
    precision = after - before + loose
    mean = np.array([k.value for k in known])
    value = np.linalg.solve(precision, after @ solution["scale"] - before @ mean + loose @ np.ones(2))
    slope = np.array([1 / value[1], -value[0] / value[1] ** 2])
    return Reading(float(value[0] / value[1]), float(np.sqrt(slope @ np.linalg.solve(precision, slope))))


def _ratio(bar: Reading) -> Reading:
    return Reading(bar.value / CHECK_BAR_NOMINAL_MM, bar.u / CHECK_BAR_NOMINAL_MM)


def _print_readings(solution: Solution, target: StatedTarget) -> Refusal | None:
    if target.bar_x is None or target.bar_y is None:
        return None
    seen = seen_scale_ratio(solution, target)
    swapped = swapped_bars(target.bar_x, target.bar_y, seen)
    if swapped is not None:
        return swapped
    stated = target.bar_x.value / target.bar_y.value
    u = float(np.hypot(seen.u, np.hypot(target.bar_x.u, target.bar_y.u) / CHECK_BAR_NOMINAL_MM))
    if abs(stated - seen.value) <= FAR_SIGMAS * u:
        return None
    return Refusal(
        reason="by the check bars' readings the print's scales in x and y differ by "
        f"{100 * (stated - 1):+.2f} %, "
        f"but the photos show {100 * (seen.value - 1):+.2f} %",
        remedy="Measure both bars again, from the middle of one tick to the middle of the other",
    )


def _not_flat(solution: Solution) -> list[str]:
    paper = solution.layout["paper"]
    u = np.sqrt(np.diag(solution.covariance)[paper])
    heights = solution.x[paper] - np.median(solution.x[paper])
    lifted = (np.abs(heights) > NOT_FLAT_MM) & (np.abs(heights) > FAR_SIGMAS * u)
    if not lifted.any():
        return []
    most = float(np.abs(heights[lifted]).max())
    start = NOT_FLAT if most < CURLED_MM else BADLY_CURLED
    return [
        f"{start}: parts of its ring lie {most:.1f} mm off its plane; tape it to something flat and "
        "photograph the set again"
    ]


def _cut_out(solution: Solution, size: tuple[int, int]) -> list[str]:
    camera = solution["camera"]
    off = camera[1:3] - (np.array(size) - 1) / 2
    if np.all(np.abs(off) < FAR_SIGMAS * CENTRE_PRIOR * max(size)):
        return []
    return [
        f"the lens' axis lies {np.hypot(*off):.0f} pixels off the pictures' middle: they seem to be cut out "
        "of larger ones; use them "
        "as the phone saved them"
    ]
