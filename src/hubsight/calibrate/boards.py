"""Photos of one flat board as an adjustment: loose priors of the lens, and the scatter that shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np

from hubsight.estimate.problem import Problem, Solution
from hubsight.estimate.robust import spread
from hubsight.model.arrays import Array, Indices
from hubsight.model.stated import Reading
from hubsight.target.find import SADDLE_SIGMA_PX
from hubsight.target.sheet import (
    PAPER_HEIGHT_PRIOR_MM,
    BoardSighting,
    CameraPrior,
    SaddleBlock,
    sheet_problem,
)

ModelName = Literal["none", "k1-k2", "full"]
Start = dict[str, Array]
"""Starting values of unknowns by name."""

MODELS: dict[ModelName, tuple[int, ...]] = {"none": (), "k1-k2": (3, 4), "full": (3, 4, 5, 6, 7)}
"""Distortion models: the shared camera's values that are free besides focal length and centre."""


@dataclass(frozen=True)
class Loose:
    """What is known of a lens before its photos: standard uncertainties, loose enough for any phone.

    Attributes
    ----------
    distortion
        Of k1, k2, p1, p2, k3, 1; raising them bears odder lenses, of which a fisheye is none (from
        memory).
    focal
        Focal length per long side of the picture from which the search starts where nothing tells it,
        and its relative standard uncertainty; lowering either loses long lenses (common practice, no
        source).
    centre
        Of the principal point about the picture's middle, per long side; raising it bears cut-outs
        (common practice, no source).
    held
        Of a term that is held at zero, its own unit.
    """

    distortion: tuple[float, float, float, float, float] = (0.6, 1.5, 0.01, 0.01, 2.0)
    focal: tuple[float, float] = (0.9, 0.25)
    centre: float = 0.03
    held: float = 1e-7


LOOSE = Loose()
"""As every calibration begins."""


BEFORE = "before the photos"
"""Kind of the loose prior of the camera."""
LARGEST_SIGMA_PX = 3.0
"""Largest scatter of a photo's points that is believed, px; raising it trusts blurred photos less."""
BENT = 1.3
"""Factor below the prior from which the scatter of a sheet's heights widens it, and by which it does; raising
it bears flatter and more bent sheets (found on rendered photos)."""


@dataclass(frozen=True, eq=False)
class PlainBoard:
    """A flat board of any making: its points ``saddles`` (M, 2), nominal mm."""

    saddles: Array


@dataclass(frozen=True, eq=False)
class PlainSighting:
    """Points of a plain board in one photo: which (N,), and where (N, 2), px."""

    geometry: PlainBoard
    index: Indices
    pixels: Array

    @property
    def nominal(self) -> Array:
        """(N, 2) nominal coordinates, mm."""
        return self.geometry.saddles[self.index]


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

    def only(self, kept: Sequence[int]) -> BoardSet:
        """Return the set with some of its photos."""
        return replace(self, sightings=tuple(self.sightings[k] for k in kept))


@dataclass(frozen=True)
class Noise:
    """Scatter of the points in each photo, px, and of the board's heights, mm, as the residuals show them."""

    sigma: tuple[float, ...]
    flatness: float = PAPER_HEIGHT_PRIOR_MM

    def only(self, kept: Sequence[int]) -> Noise:
        """Return it for some of the photos."""
        return replace(self, sigma=tuple(self.sigma[k] for k in kept))


def loose_prior(photos: BoardSet, model: ModelName, left_out: Array | None = None) -> CameraPrior:
    """Return what is known of any lens before the photos.

    Parameters
    ----------
    photos
        With a focal length, from tags or `focal_guess`.
    model
        Its terms are free.
    left_out
        (8,) standard uncertainties within which the other terms are held at zero; exactly if not given.
    """
    long_side = photos.long_side
    focal = photos.focal or Reading(LOOSE.focal[0] * long_side, LOOSE.focal[0] * LOOSE.focal[1] * long_side)
    centre = LOOSE.centre * long_side
    value = np.array([focal.value, (photos.width - 1) / 2, (photos.height - 1) / 2, 0, 0, 0, 0, 0])
    sigma = np.array([focal.u, centre, centre, *LOOSE.distortion])
    for index in range(3, 8):
        if index not in MODELS[model]:
            sigma[index] = LOOSE.held if left_out is None else left_out[index]
    return CameraPrior(value, np.diag(sigma**2), kind=BEFORE)


def focal_guess(photos: BoardSet) -> Reading:
    """Return a focal length from the views' homographies, so uncertain that it only starts the search.

    With the principal point in the middle and square pixels every view gives two equations, linear in 1/f^2:
    the images of the board's two directions are square to each other and of equal length.
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
    ratio = inverse_square**-0.5 if inverse_square > 0 else LOOSE.focal[0]
    value = float(np.clip(ratio, 0.3, 8.0)) * photos.long_side
    return Reading(value, LOOSE.focal[1] * value)


def board_problem(photos: BoardSet, noise: Noise, prior: CameraPrior, start: Start | None = None) -> Problem:
    """Return the adjustment of `target.sheet` with the scatter that was found."""
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
    for name, values in (start or {}).items():
        problem.start[problem.layout[name]] = values
    return problem


def start_from(solution: Solution, kept: Sequence[int]) -> Start:
    """Return starting values for the adjustment of some of a solution's photos."""
    shared = {name: solution[name] for name in ("camera", "scale", "paper")}
    return shared | {f"photo{new}": solution[f"photo{old}"] for new, old in enumerate(kept)}


def found_noise(solution: Solution, before: Noise) -> Noise:
    """Return each photo's scatter by its median residual, and the board's bending by its heights."""
    scatter = []
    for residual, sigma in zip(solution.residuals, before.sigma, strict=True):
        seen = spread(residual) * sigma
        scatter.append(float(np.clip(seen, SADDLE_SIGMA_PX, LARGEST_SIGMA_PX)))
    heights = float(np.sqrt(np.mean(solution["paper"] ** 2)))
    bent = heights > PAPER_HEIGHT_PRIOR_MM / BENT
    return Noise(tuple(scatter), max(before.flatness, BENT**2 * heights) if bent else before.flatness)


def photo_residual(solution: Solution, noise: Noise, photo: int) -> float:
    """Return the root mean square of a coordinate's residual in one photo, weighed robustly, px."""
    residual, weight = solution.residuals[photo], solution.weights[photo]
    return float(noise.sigma[photo] * np.sqrt(np.sum(weight * residual**2) / np.sum(weight)))


def set_residual(solution: Solution, noise: Noise) -> float:
    """Return the same over all photos, px."""
    squares = [photo_residual(solution, noise, k) ** 2 for k in range(len(noise.sigma))]
    return float(np.sqrt(np.mean(squares)))
