"""Calibration: one camera from photos of a flat board, by the adjustment of `adjust.sheet`.

Which terms of distortion are taken in is decided by evidence: the robust cost of the residuals plus two for
every term (Akaike's criterion). A term that is left out is not declared to be zero exactly: it is held
there within what these photos could have told of it, so that a lean model does not promise too small an
uncertainty.

Residuals tell the sampling error only. What no term of the model describes (cardboard that bends between
photos) shows in how far the camera moves when photos are left out, the delete-a-group jackknife: where it
moves by more than the covariance allows, the covariance is widened to it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from hubsight.calibrate.boards import (
    BEFORE,
    LOOSE,
    MODELS,
    BoardSet,
    ModelName,
    Noise,
    Start,
    board_problem,
    focal_guess,
    found_noise,
    loose_prior,
    photo_residual,
    set_residual,
    start_from,
)
from hubsight.camera.prior import CameraPrior
from hubsight.estimate.problem import Problem, Solution
from hubsight.estimate.robust import CAUCHY_SIGMAS
from hubsight.model.arrays import Array
from hubsight.model.refusal import Refusal
from hubsight.target.find import SADDLE_SIGMA_PX
from hubsight.target.sheet import start_pose

LEAST_PHOTOS = 4
"""Photos that a calibration needs; lowering it mixes the lens with the poses and the paper."""


@dataclass(frozen=True)
class Fitting:
    """How a calibration is fitted.

    Attributes
    ----------
    penalty
        Price of one more term of the lens, in squared sigmas; raising it chooses simpler lenses
        (Akaike 1974, from memory).
    rounds
        Times that the photos' scatter is found anew; raising it is slower.
    folds
        Groups of photos that are left out in turn, at most; raising it is slower.
    disagreement
        Mean square of the jackknife over the covariance beyond which the latter is widened, 1;
        raising it widens fewer (chi-square of 24: reached by chance once in forty).
    """

    penalty: float = 2.0
    rounds: int = 3
    folds: int = 4
    disagreement: float = 1.6


FITTING = Fitting()
"""As the program fits it."""


HOW_TO = (
    "Take ten or more with one lens and without zoom, from straight above and tilted by 20 to 35 degrees "
    "to every side"
)
"""Remedy for photos that do not calibrate."""


@dataclass(frozen=True)
class ModelTrial:
    """One distortion model: Akaike's value above the best one's, and the residual, px."""

    name: ModelName
    above_best: float
    residual_px: float


@dataclass(frozen=True)
class Calibration:
    """A calibrated camera with all that was adjusted for it.

    Attributes
    ----------
    photos
        What was adjusted.
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
    widened
        Factor on the standard uncertainties, because parts of the set contradict each other.
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
    widened: float = 1.0

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
    if photos < LEAST_PHOTOS:
        return []
    count = min(FITTING.folds, photos)
    return [tuple(range(k, photos, count)) for k in range(count)]


def steps(photos: int) -> int:
    """Return how often `calibrate` reports progress."""
    return FITTING.rounds + len(MODELS) + len(folds(photos)) + 1


def calibrate(photos: BoardSet, *, progress: Progress = lambda: None) -> Calibration | Refusal:
    """Return a camera calibrated from photos of one flat board.

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
        return Refusal(reason=f"{count} photos of the target cannot calibrate a camera", remedy=HOW_TO)
    photos = replace(photos, focal=photos.focal or focal_guess(photos))
    full, noise = _weighed(photos, progress)
    start = start_from(full, range(count))
    trials = _try_models(photos, noise, start, progress)
    best = min(trials, key=lambda trial: trial.above_best)
    prior = loose_prior(photos, best.name, _uncertainty(full))
    solution = board_problem(photos, noise, prior, start).solve()
    progress()
    if not solution.converged or not np.all(np.isfinite(solution.x)):
        return Refusal(reason="the adjustment of these photos does not settle", remedy=HOW_TO)
    where = solution.layout["camera"]
    covariance = solution.covariance[where, where]
    held_out = _held_out(photos, noise, best.name, solution, progress)
    widened = _disagreement(held_out.cameras, covariance) if held_out else 1.0
    return Calibration(
        photos=photos,
        solution=solution,
        camera=solution.x[where],
        covariance=covariance * widened**2,
        model=best.name,
        trials=tuple(trials),
        residual_px=set_residual(solution, noise),
        held_out_px=held_out.residual_px if held_out else None,
        photo_residual_px=tuple(photo_residual(solution, noise, k) for k in range(count)),
        noise=noise,
        widened=widened,
    )


def _weighed(photos: BoardSet, progress: Progress) -> tuple[Solution, Noise]:
    """Return the full model, adjusted until scatter and solution agree."""
    noise = Noise((SADDLE_SIGMA_PX,) * len(photos.sightings))
    prior = loose_prior(photos, "full")
    full = board_problem(photos, noise, prior).solve()
    for _ in range(FITTING.rounds):
        noise = found_noise(full, noise)
        full = board_problem(photos, noise, prior, start_from(full, range(len(photos.sightings)))).solve()
        progress()
    return full, noise


def _uncertainty(solution: Solution) -> Array:
    where = solution.layout["camera"]
    return np.asarray(np.sqrt(np.diag(solution.covariance)[where]))


def _try_models(photos: BoardSet, noise: Noise, start: Start, progress: Progress) -> list[ModelTrial]:
    found = []
    for name, free in MODELS.items():
        problem = board_problem(photos, noise, loose_prior(photos, name), start)
        solution = problem.solve(rescale=False)
        progress()
        price = _cost(problem, solution) + FITTING.penalty * len(free)
        found.append(ModelTrial(name, price, set_residual(solution, noise)))
    least = min(trial.above_best for trial in found)
    return [replace(trial, above_best=trial.above_best - least) for trial in found]


def _cost(problem: Problem, solution: Solution) -> float:
    """Return the robust cost of the points, and what paper and departures are strained by."""
    total = 0.0
    for residual in solution.residuals:
        square = np.sum(residual.reshape(-1, 2) ** 2, 1) / CAUCHY_SIGMAS**2
        total += float(CAUCHY_SIGMAS**2 * np.sum(np.log1p(square)))
    for known in problem.priors:
        if known.kind != BEFORE:
            computed = np.array(known.coefficient) @ solution.x[list(known.index)]
            total += float((known.value - computed) / known.sigma) ** 2
    return total


@dataclass(frozen=True)
class _HeldOut:
    """Residual of photos held out, px, and the cameras (G, 8) found without each group of them."""

    residual_px: float
    cameras: Array


def _held_out(
    photos: BoardSet, noise: Noise, model: ModelName, whole: Solution, progress: Progress
) -> _HeldOut | None:
    """Return how well photos left out fit a camera calibrated from the others."""
    squares: list[float] = []
    cameras: list[Array] = []
    count = len(photos.sightings)
    for left_out in folds(count):
        kept = [k for k in range(count) if k not in left_out]
        prior, start = loose_prior(photos, model), start_from(whole, kept)
        known = board_problem(photos.only(kept), noise.only(kept), prior, start).solve()
        squares += [_seen_through(known, photos.only([k]), noise.only([k])) ** 2 for k in left_out]
        cameras.append(known["camera"])
        progress()
    return _HeldOut(float(np.sqrt(np.mean(squares))), np.array(cameras)) if squares else None


def _disagreement(cameras: Array, covariance: Array) -> float:
    """Return by how much the jackknife exceeds the standard uncertainties; 1 where that may be chance."""
    groups = len(cameras)
    whitened = np.linalg.solve(np.linalg.cholesky(covariance), (cameras - cameras.mean(0)).T)
    square = (groups - 1) / groups * float(np.sum(whitened**2)) / cameras.shape[1]
    return float(np.sqrt(square)) if square > FITTING.disagreement else 1.0


def _seen_through(known: Solution, one: BoardSet, noise: Noise) -> float:
    """Return the residual, px, of one photo's pose and departures fitted to a known camera and board."""
    camera = known["camera"]
    held = LOOSE.held**2 * np.maximum(camera**2, 1e-6)
    problem = board_problem(one, noise, CameraPrior(camera, np.diag(held)), {"paper": known["paper"]})
    for name in ("scale", "paper"):
        _hold(problem, name, known[name])
    pose = start_pose(one.sightings[0], camera)
    if pose is not None:
        own = problem.layout["photo0"]
        problem.start[own.start + 3 : own.stop] = pose
    return photo_residual(problem.solve(), noise, 0)


def _hold(problem: Problem, name: str, values: Array) -> None:
    """Turn the priors of some unknowns into certainty."""
    where = problem.layout[name]
    problem.start[where] = values
    problem.priors = [
        replace(known, value=float(values[known.index[0] - where.start]), sigma=LOOSE.held)
        if where.start <= known.index[0] < where.stop
        else known
        for known in problem.priors
    ]
