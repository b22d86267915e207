"""Calibration: one camera from photos of a flat board, by the adjustment of `adjust.sheet`.

Which terms of distortion are taken in is decided by evidence: the robust cost of the residuals plus two for every term
(Akaike's criterion). A term that is left out is not declared to be nought exactly: it is held there within what
these photos could have told of it, so that a lean model does not promise too small an uncertainty.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from hubsight.adjust.blocks import SaddleBlock
from hubsight.adjust.problem import CAUCHY_SIGMAS, Problem, Solution
from hubsight.adjust.sheet import PAPER_HEIGHT_PRIOR_MM, BoardSighting, CameraPrior, sheet_problem, start_pose
from hubsight.measurement import Refusal
from hubsight.stated import Reading
from hubsight.target.find import SADDLE_SIGMA_PX

Array = NDArray[np.float64]
ModelName = Literal["none", "k1-k2", "full"]

MODELS: dict[ModelName, tuple[int, ...]] = {"none": (), "k1-k2": (3, 4), "full": (3, 4, 5, 6, 7)}
"""Distortion models: which of the shared camera's values are free besides focal length and principal point."""
LEAST_PHOTOS = 4
"""Fewer do not tell the lens from the poses and the paper."""
LOOSE_DISTORTION = (0.6, 1.5, 0.01, 0.01, 2.0)
"""Standard uncertainties of k1, k2, p1, p2, k3 before the photos: any lens that is no fisheye (from memory)."""
LOOSE_CENTRE = 0.03
"""Standard uncertainty of the principal point about the picture's middle, per long side."""
LOOSE_FOCAL = 0.25
"""Relative standard uncertainty of a focal length that no tag states."""
USUAL_FOCAL = 0.9
"""Focal length per long side from which the search starts where nothing is known."""
HELD = 1e-7
"""Standard uncertainty of a term that is held at nought."""
PENALTY = 2.0
"""Akaike's price of one more term."""
WEIGHING_ROUNDS = 3
BEFORE = "before the photos"
"""Kind of the loose prior of the camera."""
LARGEST_SIGMA_PX = 3.0
MAX_FOLDS = 4
BENT = 1.3
"""A sheet whose heights scatter by more than this times their prior gets a wider one."""
MEDIAN_TO_SIGMA = 1.4826


@dataclass(frozen=True)
class BoardSet:
    """Photos of one board by one camera.

    Attributes
    ----------
    sightings
        One per photo.
    width, height
        Of the pictures, px.
    focal
        What the tags say, px; None if nothing.
    scales
        Printed over nominal length in x and y; None if not measured.
    """

    sightings: tuple[BoardSighting, ...]
    width: int
    height: int
    focal: Reading | None = None
    scales: tuple[Reading | None, Reading | None] = (None, None)

    @property
    def long_side(self) -> int:
        """Of the pictures, px."""
        return max(self.width, self.height)

    def without(self, left_out: Sequence[int]) -> BoardSet:
        """Return the set without some photos."""
        kept = tuple(s for k, s in enumerate(self.sightings) if k not in left_out)
        return replace(self, sightings=kept)


@dataclass(frozen=True)
class Noise:
    """Scatter of the points in each photo, px, and of the board's heights, mm, as the residuals show them."""

    sigma: tuple[float, ...]
    flatness: float = PAPER_HEIGHT_PRIOR_MM

    def without(self, left_out: Sequence[int]) -> Noise:
        """Return it without some photos."""
        return replace(self, sigma=tuple(s for k, s in enumerate(self.sigma) if k not in left_out))


@dataclass(frozen=True)
class ModelTrial:
    """One distortion model: its Akaike value above the best, and residuals of photos used and held out, px."""

    name: ModelName
    above_best: float
    residual_px: float
    held_out_px: float | None


@dataclass(frozen=True)
class Calibration:
    """A calibrated camera with all that was adjusted for it.

    Attributes
    ----------
    camera, covariance
        (8,) and (8, 8), see `camera.model.SHARED`.
    model
        The distortion model that the photos asked for.
    trials
        All models that were tried.
    residual_px, held_out_px
        Root mean square of a coordinate's residual, weighed robustly; of photos held out in turn.
    photo_residual_px
        The first per photo.
    noise
        Scatter that was found.
    """

    photos: BoardSet
    solution: Solution
    camera: Array
    covariance: Array
    model: ModelName
    trials: tuple[ModelTrial, ...]
    residual_px: float
    held_out_px: float | None
    photo_residual_px: tuple[float, ...]
    noise: Noise

    @property
    def prior(self) -> CameraPrior:
        """The camera as a prior for further photos of the same focus."""
        return CameraPrior(self.camera, self.covariance)

    def residuals(self, photo: int) -> Array:
        """Return (N, 2) residuals of one photo, seen minus adjusted, px."""
        return -self.solution.residuals[photo].reshape(-1, 2) * self.noise.sigma[photo]

    def weights(self, photo: int) -> Array:
        """Return (N,) robust weights of one photo's points."""
        return np.asarray(self.solution.weights[photo][::2])


Progress = Callable[[], None]
"""Called after each step of `calibrate`; there are `steps` of them."""


def folds(photos: int) -> list[tuple[int, ...]]:
    """Return which photos are held out together, each once; empty where too few would remain."""
    if photos <= LEAST_PHOTOS:
        return []
    count = min(MAX_FOLDS, photos)
    return [tuple(range(k, photos, count)) for k in range(count)]


def steps(photos: int) -> int:
    """Return how often `calibrate` reports progress."""
    return WEIGHING_ROUNDS + len(MODELS) * (1 + len(folds(photos))) + 1


def calibrate(photos: BoardSet, *, progress: Progress = lambda: None) -> Calibration | Refusal:
    """Calibrate a camera from photos of one flat board.

    Parameters
    ----------
    photos
        At least four, of the same board, by one camera without zoom.
    progress
        Told after each step.

    Returns
    -------
    Calibration or Refusal
        A refusal says why these photos hold no calibration.
    """
    count = len(photos.sightings)
    if count < LEAST_PHOTOS:
        return Refusal(
            reason=f"{count} usable photo{'s' * (count != 1)} of the target cannot calibrate a camera",
            remedy="Take ten or more of the target alone, from straight above and tilted by 20 to 35 degrees to every side",
        )
    photos = replace(photos, focal=photos.focal or _focal_guess(photos))
    noise = Noise((SADDLE_SIGMA_PX,) * count)
    for _ in range(WEIGHING_ROUNDS):
        full = _adjust(photos, noise, _prior(photos, "full"))
        noise = _noise(full, noise)
        progress()
    trials = _try_models(photos, noise, progress)
    best = min(trials, key=lambda trial: trial.above_best)
    full = _adjust(photos, noise, _prior(photos, "full"))
    solution = _adjust(photos, noise, _prior(photos, best.name, _uncertainty(full)))
    progress()
    if not solution.converged or not np.all(np.isfinite(solution.x)):
        return Refusal(
            reason="the adjustment of these photos does not settle",
            remedy="Take the photos with one lens and without zoom, tilted to every side, the whole target in the picture",
        )
    where = solution.layout["camera"]
    return Calibration(
        photos=photos,
        solution=solution,
        camera=solution.x[where],
        covariance=solution.covariance[where, where],
        model=best.name,
        trials=tuple(trials),
        residual_px=_residual(solution, noise),
        held_out_px=best.held_out_px,
        photo_residual_px=tuple(_photo_residual(solution, noise, k) for k in range(count)),
        noise=noise,
    )


def _prior(photos: BoardSet, model: ModelName, left_out: Array | None = None) -> CameraPrior:
    """Return the loose prior of a model; ``left_out`` (8,) widths within which left-out terms are held at nought."""
    focal = photos.focal or Reading(
        USUAL_FOCAL * photos.long_side, LOOSE_FOCAL * USUAL_FOCAL * photos.long_side
    )
    centre = LOOSE_CENTRE * photos.long_side
    value = np.array([focal.value, (photos.width - 1) / 2, (photos.height - 1) / 2, 0, 0, 0, 0, 0])
    sigma = np.array([focal.u, centre, centre, *LOOSE_DISTORTION])
    for index in range(3, 8):
        if index not in MODELS[model]:
            sigma[index] = HELD if left_out is None else left_out[index]
    return CameraPrior(value, np.diag(sigma**2), kind=BEFORE)


def _focal_guess(photos: BoardSet) -> Reading:
    """Return a focal length from the views' homographies, with so wide an uncertainty that it only starts the search.

    With the principal point in the middle and square pixels every view gives two equations, linear in 1/f^2: the
    images of the board's two directions are square to each other and of equal length.
    """
    middle = np.array([(photos.width - 1) / 2, (photos.height - 1) / 2])
    rows = []
    for sighting in photos.sightings:
        h, _ = cv2.findHomography(sighting.nominal, (sighting.pixels - middle) / photos.long_side, 0)
        if h is None:
            continue
        a, b = h[:, 0] / np.linalg.norm(h[:, 0]), h[:, 1] / np.linalg.norm(h[:, 0])
        rows.append([a[0] * b[0] + a[1] * b[1], a[2] * b[2]])
        rows.append([a[0] ** 2 + a[1] ** 2 - b[0] ** 2 - b[1] ** 2, a[2] ** 2 - b[2] ** 2])
    left = np.array(rows).reshape(-1, 2)
    power = float(left[:, 0] @ left[:, 0])
    inverse_square = -float(left[:, 0] @ left[:, 1]) / power if power > 0 else 0.0
    ratio = inverse_square**-0.5 if inverse_square > 0 else USUAL_FOCAL
    value = float(np.clip(ratio, 0.3, 8.0)) * photos.long_side
    return Reading(value, LOOSE_FOCAL * value)


def _adjust(photos: BoardSet, noise: Noise, prior: CameraPrior) -> Solution:
    return _problem(photos, noise, prior).solve()


def _problem(photos: BoardSet, noise: Noise, prior: CameraPrior) -> Problem:
    problem = sheet_problem(photos.sightings, prior, photos.scales, photos.long_side)
    problem.blocks = [
        replace(block, sigma=sigma)
        for block, sigma in zip(problem.blocks, noise.sigma, strict=True)
        if isinstance(block, SaddleBlock)
    ]
    problem.priors = [
        replace(known, sigma=noise.flatness) if known.kind == "paper flatness" else known
        for known in problem.priors
    ]
    return problem


def _noise(solution: Solution, before: Noise) -> Noise:
    """Estimate each photo's scatter by its median residual, and the board's bending by its heights."""
    scatter = []
    for residual, sigma in zip(solution.residuals, before.sigma, strict=True):
        seen = MEDIAN_TO_SIGMA * float(np.median(np.abs(residual))) * sigma
        scatter.append(float(np.clip(seen, SADDLE_SIGMA_PX, LARGEST_SIGMA_PX)))
    heights = float(np.sqrt(np.mean(solution["paper"] ** 2)))
    bent = heights > PAPER_HEIGHT_PRIOR_MM / BENT and before.flatness < BENT**2 * heights
    return Noise(tuple(scatter), max(before.flatness, BENT**2 * heights) if bent else before.flatness)


def _uncertainty(solution: Solution) -> Array:
    where = solution.layout["camera"]
    return np.asarray(np.sqrt(np.diag(solution.covariance)[where]))


def _residual(solution: Solution, noise: Noise) -> float:
    squares = [_photo_residual(solution, noise, k) ** 2 for k in range(len(noise.sigma))]
    return float(np.sqrt(np.mean(squares)))


def _photo_residual(solution: Solution, noise: Noise, photo: int) -> float:
    """Root mean square of a coordinate's residual, robustly weighed, px."""
    residual, weight = solution.residuals[photo], solution.weights[photo]
    return float(noise.sigma[photo] * np.sqrt(np.sum(weight * residual**2) / np.sum(weight)))


def _try_models(photos: BoardSet, noise: Noise, progress: Progress) -> list[ModelTrial]:
    found = []
    for name, free in MODELS.items():
        problem = _problem(photos, noise, _prior(photos, name))
        solution = problem.solve(rescale=False)
        value = _cost(problem, solution) + PENALTY * len(free)
        progress()
        found.append(
            ModelTrial(name, value, _residual(solution, noise), _held_out(photos, noise, name, progress))
        )
    least = min(trial.above_best for trial in found)
    return [replace(trial, above_best=trial.above_best - least) for trial in found]


def _cost(problem: Problem, solution: Solution) -> float:
    """Return the robust cost of the points, and what paper and departures are strained by, at the solution."""
    total = 0.0
    for residual in solution.residuals:
        square = np.sum(residual.reshape(-1, 2) ** 2, 1) / CAUCHY_SIGMAS**2
        total += float(CAUCHY_SIGMAS**2 * np.sum(np.log1p(square)))
    for known in problem.priors:
        if known.kind != BEFORE:
            computed = np.array(known.coefficient) @ solution.x[list(known.index)]
            total += float((known.value - computed) / known.sigma) ** 2
    return total


def _held_out(photos: BoardSet, noise: Noise, model: ModelName, progress: Progress) -> float | None:
    """Return the residual of photos that took no part in the camera they are seen through."""
    squares: list[float] = []
    for left_out in folds(len(photos.sightings)):
        known = _adjust(photos.without(left_out), noise.without(left_out), _prior(photos, model))
        squares += [_seen_through(known, photos, noise, k) ** 2 for k in left_out]
        progress()
    return float(np.sqrt(np.mean(squares))) if squares else None


def _seen_through(known: Solution, photos: BoardSet, noise: Noise, photo: int) -> float:
    """Fit one photo's pose and departures alone; return its residual, px."""
    where = known.layout["camera"]
    prior = CameraPrior(known.x[where], np.diag(np.full(8, HELD**2)) * np.maximum(known.x[where] ** 2, 1e-6))
    one = replace(photos, sightings=(photos.sightings[photo],))
    problem = _problem(one, Noise((noise.sigma[photo],), noise.flatness), prior)
    for name in ("scale", "paper"):
        there, here = known[name], problem.layout[name]
        problem.start[here] = there
        problem.priors = [
            replace(p, value=float(there[p.index[0] - here.start]), sigma=HELD)
            if p.index[0] in range(here.start, here.stop)
            else p
            for p in problem.priors
        ]
    pose = start_pose(one.sightings[0], known.x[where])
    if pose is not None:
        problem.start[problem.layout["photo0"].start + 3 : problem.layout["photo0"].stop] = pose
    return _photo_residual(problem.solve(), Noise((noise.sigma[photo],)), 0)
