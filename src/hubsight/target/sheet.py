"""Cameras, poses and print scale from the target's saddles alone: the first stage of every adjustment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import cv2
import numpy as np

from hubsight.camera import CameraPrior
from hubsight.camera.observe import chain, pairs
from hubsight.camera.prior import CENTRE_DEPARTURE
from hubsight.estimate.problem import Layout, Linearised, Problem, Solution
from hubsight.model.arrays import Array, Indices
from hubsight.model.stated import Reading
from hubsight.target.find import SADDLE_SIGMA_PX

__all__ = ["Board", "BoardSighting", "CameraPrior", "sheet_problem", "start_pose", "uncalibrated"]


FOCAL_DEPARTURE = 0.0015
"""Relative standard deviation of one photo's focal length from the shared one; raising it trusts the shared
camera less (autofocus; common practice, no source)."""
CENTRE_PRIOR = 0.008
"""Standard uncertainty of the principal point about the picture's middle, per long side; raising it bears
cut-outs (common practice, no source)."""
DISTORTION_PRIORS = (0.15, 0.25, 0.001, 0.001, 0.15)
"""Standard uncertainties of k1, k2, p1, p2, k3 about zero, 1, for phones' main lenses; raising them bears
odder lenses (from memory)."""
USUAL_FOCAL = (0.8, 0.25)
"""Focal length per long side of the picture where no tag states one, and its relative standard uncertainty;
raising the second trusts it less (from memory)."""
PRINT_SCALE_PRIOR = 0.01
"""Relative standard uncertainty of the scale of an unmeasured print; raising it trusts printers less (common
practice, no source)."""
PAPER_HEIGHT_PRIOR_MM = 0.12
"""Standard deviation of the paper's height above the plane at one saddle, mm; raising it bears wavier sheets
(common practice, no source)."""


class Board(Protocol):
    """A flat board with known points: ``saddles`` (M, 2), nominal mm."""

    @property
    def saddles(self) -> Array:
        """See the class."""
        ...


class BoardSighting(Protocol):
    """A board's points in one photo, see `TargetSighting`; plain boards of other making have them too."""

    @property
    def geometry(self) -> Board:
        """The board."""
        ...

    @property
    def index(self) -> Indices:
        """(N,) rows of the board's points."""
        ...

    @property
    def pixels(self) -> Array:
        """(N, 2) where they are seen."""
        ...

    @property
    def nominal(self) -> Array:
        """(N, 2) their nominal coordinates, mm."""
        ...


def uncalibrated(width: int, height: int, focal: Reading | None) -> CameraPrior:
    """Return the prior of a camera of which at most the EXIF focal length (px) is known."""
    long_side = max(width, height)
    f = focal or Reading(USUAL_FOCAL[0] * long_side, USUAL_FOCAL[0] * USUAL_FOCAL[1] * long_side)
    centre = CENTRE_PRIOR * long_side
    value = np.array([f.value, (width - 1) / 2, (height - 1) / 2, 0, 0, 0, 0, 0], dtype=np.float64)
    sigma = np.array([f.u, centre, centre, *DISTORTION_PRIORS])
    return CameraPrior(value, np.diag(sigma**2))


def start_pose(sighting: BoardSighting, camera: Array) -> Array | None:
    """Return (6,) rotation vector and shift from one photo's saddles, or None."""
    matrix = np.array([[camera[0], 0, camera[1]], [0, camera[0], camera[2]], [0, 0, 1.0]])
    points = np.column_stack([sighting.nominal, np.zeros(len(sighting.index))])
    ok, r, t = cv2.solvePnP(points, sighting.pixels, matrix, camera[3:], flags=cv2.SOLVEPNP_IPPE)
    if not ok:
        return None
    r, t = cv2.solvePnPRefineLM(points, sighting.pixels, matrix, camera[3:], r, t)
    return np.concatenate([r.ravel(), t.ravel()])


def sheet_problem(
    sightings: Sequence[BoardSighting],
    prior: CameraPrior,
    print_scale: tuple[Reading | None, Reading | None],
    picture_long_side: int,
) -> Problem:
    """Return the adjustment of camera, print scale, paper and poses, with priors and saddle observations.

    Parameters
    ----------
    sightings
        One per photo; all of the same target and camera.
    prior
        Of the shared camera.
    print_scale
        Printed over nominal length in x and y, if the check bars were measured.
    picture_long_side
        px, scales the principal point's departures.
    """
    geometry = sightings[0].geometry
    layout = Layout()
    camera, scale = layout.add("camera", 8), layout.add("scale", 2)
    paper = layout.add("paper", len(geometry.saddles))
    for k in range(len(sightings)):
        layout.add(f"photo{k}", 9)
    problem = Problem(layout, np.zeros(layout.size))
    x = problem.start
    x[camera] = prior.value
    _whitened_prior(problem, camera.start, prior)
    for axis, reading in enumerate(print_scale):
        known = reading or Reading(1.0, PRINT_SCALE_PRIOR)
        x[scale.start + axis] = known.value
        problem.prior("print scale", scale.start + axis, known.value, known.u)
    for row in range(paper.start, paper.stop):
        problem.prior("paper flatness", row, 0.0, PAPER_HEIGHT_PRIOR_MM)
    for k, sighting in enumerate(sightings):
        own = layout[f"photo{k}"]
        pose = start_pose(sighting, prior.value)
        x[own.start + 3 : own.stop] = np.zeros(6) if pose is None else pose
        problem.prior("focus and stabilisation", own.start, 0.0, FOCAL_DEPARTURE)
        for i in (1, 2):
            problem.prior("focus and stabilisation", own.start + i, 0.0, CENTRE_DEPARTURE * picture_long_side)
        problem.blocks.append(
            SaddleBlock(k, sighting.nominal, sighting.index, sighting.pixels, SADDLE_SIGMA_PX)
        )
    return problem


def camera_strain(prior: CameraPrior, solution: Solution) -> float:
    """Return how far the adjusted camera lies from its prior: chi-square of eight degrees of freedom."""
    off = solution["camera"] - prior.value
    return float(off @ np.linalg.solve(prior.covariance, off))


def _whitened_prior(problem: Problem, first: int, prior: CameraPrior) -> None:
    """Add a prior with full covariance as independent rows."""
    root = np.linalg.inv(np.linalg.cholesky(prior.covariance))
    for row in root:
        used = np.flatnonzero(np.abs(row) > 0)
        problem.add_prior(prior.kind, first + used, row[used], float(row @ prior.value))


@dataclass(frozen=True)
class SaddleBlock:
    """Saddle points of the target in one photo.

    Attributes
    ----------
    photo
        Which photo.
    nominal
        (N, 2) nominal target coordinates, mm.
    rows
        (N,) which entries of the unknown paper heights belong to them.
    pixels
        (N, 2) seen.
    sigma
        Standard uncertainty of a coordinate, px.
    """

    photo: int
    nominal: Array
    rows: Indices
    pixels: Array
    sigma: float
    kind: str = "target corners"

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        n = len(self.nominal)
        scale, paper = layout["scale"], layout["paper"]
        points = np.column_stack([self.nominal * x[scale], x[paper][self.rows]])
        by_scale = np.zeros((n, 3, 2))
        by_scale[:, 0, 0], by_scale[:, 1, 1] = self.nominal.T
        by_paper = np.zeros((n, 3, paper.stop - paper.start))
        by_paper[np.arange(n), 2, self.rows] = 1.0
        pixels, jac = chain(layout, x, self.photo, points, [(scale, by_scale), (paper, by_paper)])
        return pairs(pixels - self.pixels, jac, self.sigma)
