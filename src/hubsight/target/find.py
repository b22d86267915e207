"""Find the printed target in one photo: its markers, then every saddle to hundredths of a pixel."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.linalg import convolution_matrix

from hubsight.model.arrays import Array, Flags, Indices, Picture
from hubsight.model.refusal import Refusal
from hubsight.target.geometry import TargetGeometry, all_papers_dictionary, paper_of_marker
from hubsight.target.sharpness import nothing_sharp

MARKER_SEARCH_SIDE_PX = 2000
"""Long side of the copy in which markers are looked for, px; raising it is slower. Their place only starts
the search for saddles."""
USUAL_WINDOW_PX, ALL_WINDOWS_PX = (51, 51), (5, 45)
"""Smallest and largest window of the local threshold, usually and where too few markers are read, px; a wider
range is slower. One window reads as many markers of a usual photo as all, in a quarter of the time; a wide
one follows grain and streaks less, which leaves fewer shapes to look through."""
MIN_MARKERS, MIN_SADDLES = 6, 14
"""Markers and saddles that a photo has to show; raising them refuses more. A fifth of the ring holds a pose
and a focal length."""
SMOOTHING_PX = 2.0
"""Gaussian smoothing before the saddle fit, px; raising it lessens noise and needs larger squares."""
SMOOTHING_SIGMAS = 4
"""Reach of that Gaussian, standard deviations; raising it changes nothing more."""
MAX_RADIUS_PX, RADIUS_PER_SQUARE = 8.0, 0.13
"""Half width of the saddle fit's window, at most in px and per side of a square; raising them lessens noise
and takes in markers."""
WINDOW_SIGMAS = 2.5
"""Half width of the window in standard deviations of its Gaussian weight; raising it weighs the middle
more."""
MIN_SQUARE_PX = 14.0
"""Side of a square below which the target is too small in the picture, px; raising it refuses more."""
HOMOGRAPHY_SHARE = 0.006
"""Distance from a homography within which points take part in it, as a share of the target's extent; raising
it bears more distortion and more wrong points."""
NEAR_POINTS = 6
"""Neighbours by which a saddle is predicted and judged; raising it bears more wrong points and less
distortion."""
ODD_SHARE = 0.12
"""Departure of a saddle from its neighbours, as a share of a square, from which it is dropped; raising it
keeps more wrong ones. Lens and paper bend less."""
MAX_STEPS, CONVERGED_PX = 8, 0.01
"""Steps of the saddle fit at most, and the step at which it has settled, px."""
SADDLE_SIGMA_PX = 0.05
"""Standard uncertainty of one coordinate of a saddle, px; raising it trusts priors more (found on rendered
photos; the adjustment corrects it by the residuals)."""


@dataclass(frozen=True)
class TargetSighting:
    """The saddle points of one photo.

    Attributes
    ----------
    geometry
        Which target.
    index
        (N,) rows of ``geometry.saddles``.
    pixels
        (N, 2) sub-pixel positions, as stored.
    contrast
        (N,) strength of the saddle, grey levels per px^2.
    square_px
        Median side of a square, px.
    """

    geometry: TargetGeometry
    index: Indices
    pixels: Array
    contrast: Array
    square_px: float

    @property
    def nominal(self) -> Array:
        """(N, 2) nominal target coordinates of the saddles, mm."""
        return self.geometry.saddles[self.index]


def grey(pixels: Picture) -> Picture:
    """Return the luma of an (H, W, 3) RGB picture."""
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def find_target(picture: Picture, geometry: TargetGeometry) -> TargetSighting | Refusal:
    """Return the target's saddle points in a grey picture.

    Parameters
    ----------
    picture
        (H, W) grey picture as stored.
    geometry
        The target that was printed.

    Returns
    -------
    TargetSighting or Refusal
        A refusal says whether no sheet, a mirrored picture, another paper or a useless view was seen.
    """
    corners, ids = _markers(picture, geometry)
    known = np.isin(ids, geometry.marker_ids)
    if known.sum() < MIN_MARKERS:
        other = _other_paper(ids, geometry)
        return _why_no_markers(picture, geometry) if other is None else other
    corners, ids = corners[known], ids[known]
    sheet = geometry.marker_corners[np.searchsorted(geometry.marker_ids, ids)]
    good = _consistent(sheet, corners)
    if good.sum() < MIN_MARKERS:
        return Refusal(
            reason="markers were read but do not lie as on one flat sheet",
            remedy="Photograph one target only, flat, without reflections of it",
        )
    corners, sheet = corners[good], sheet[good]
    square_px = float(np.median(np.linalg.norm(corners - np.roll(corners, 1, 1), axis=2)))
    square_px *= geometry.square / geometry.marker
    if square_px < MIN_SQUARE_PX:
        return Refusal(
            reason=f"the target is too small in the picture (a square is only {square_px:.0f} pixels wide)",
            remedy="Go closer, so that the ring fills the frame, and send the photo in full size",
        )
    found = _refine_all(picture, geometry, sheet.reshape(-1, 2), corners.reshape(-1, 2), square_px)
    if len(found[0]) < MIN_SADDLES:
        return Refusal(
            reason=f"only {len(found[0])} of the target's {len(geometry.saddles)} corners can be seen "
            "clearly",
            remedy="Keep the whole ring in the picture, sharp and without glare",
        )
    return TargetSighting(geometry, found[0], found[1], found[2], square_px)


def _detector(windows: tuple[int, int]) -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = windows
    parameters.adaptiveThreshWinSizeStep = 10
    parameters.minMarkerPerimeterRate = 0.015
    return cv2.aruco.ArucoDetector(all_papers_dictionary(), parameters)


def _markers(picture: Picture, geometry: TargetGeometry) -> tuple[Array, Indices]:
    """Return the markers of a reduced copy; if few, read harder and in the full picture.

    Returns (M,4,2) corners and (M,) ids.
    """
    long_side = max(picture.shape)
    shrink = max(1.0, long_side / MARKER_SEARCH_SIDE_PX)
    best = _read_markers(picture, shrink, USUAL_WINDOW_PX)
    for enough, harder in ((2, shrink), (3, 1.0)):
        if len(best[1]) < len(geometry.marker_ids) // enough:
            again = _read_markers(picture, harder, ALL_WINDOWS_PX)
            best = again if len(again[1]) > len(best[1]) else best
    return best


def _read_markers(picture: Picture, shrink: float, windows: tuple[int, int]) -> tuple[Array, Indices]:
    small = picture
    if shrink > 1:
        size = (round(picture.shape[1] / shrink), round(picture.shape[0] / shrink))
        small = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    corners, ids, _ = _detector(windows).detectMarkers(small)
    if ids is None or len(corners) == 0:
        return np.empty((0, 4, 2)), np.empty(0, dtype=np.intp)
    scale = np.array([picture.shape[1] / small.shape[1], picture.shape[0] / small.shape[0]])
    found = (np.asarray(corners, dtype=np.float64).reshape(-1, 4, 2) + 0.5) * scale - 0.5
    labels = np.asarray(ids, dtype=np.intp).ravel()
    _, first = np.unique(labels, return_index=True)
    return found[first], labels[first]


def _consistent(sheet: Array, corners: Array) -> Flags:
    """Tell which markers fit one homography (loosely: lens distortion bends it)."""
    side = float(np.median(np.linalg.norm(corners - np.roll(corners, 1, 1), axis=2)))
    h, inlier = cv2.findHomography(
        sheet.reshape(-1, 2), corners.reshape(-1, 2), cv2.RANSAC, max(4.0, 0.5 * side)
    )
    if h is None:
        return np.zeros(len(sheet), dtype=bool)
    return np.asarray(inlier.reshape(-1, 4).all(1), dtype=bool)


def _why_no_markers(picture: Picture, geometry: TargetGeometry) -> Refusal:
    small = np.ascontiguousarray(picture[:, ::-1])
    if len(_markers(small, geometry)[1]) >= MIN_MARKERS:
        return Refusal(
            reason="the picture is mirrored, as selfie cameras make it",
            remedy="Use the main camera on the phone's back, and no mirroring editor",
        )
    if nothing_sharp(picture):
        return Refusal(
            reason="the picture is too blurred to read the target",
            remedy="Hold the phone still, wipe the lens, tap on the hub to focus, and take more light",
        )
    return Refusal(
        reason="the printed target was not found",
        remedy="Photograph the hub on the printed target with the whole ring in view, sharp and evenly lit",
    )


def _other_paper(ids: Indices, stated: TargetGeometry) -> Refusal | None:
    papers = [paper for paper in map(paper_of_marker, map(int, ids)) if paper and paper != stated.paper]
    if len(papers) < MIN_MARKERS:
        return None
    paper = max(set(papers), key=papers.count)
    return Refusal(
        reason=f"the sheet in the picture is the {paper.upper()} target, not {stated.paper.upper()}",
        remedy=f'State paper = "{paper}" for the target (--paper {paper} on the command line)',
        about="target.paper",
    )


def _refine_all(
    picture: Picture, geometry: TargetGeometry, sheet: Array, pixels: Array, square_px: float
) -> tuple[Indices, Array, Array]:
    """Return all saddles, predicted from the markers, fitted, and the missing ones looked for again."""
    radius = float(np.clip(RADIUS_PER_SQUARE * square_px, 3.0, MAX_RADIUS_PX))
    start = _predict(geometry.saddles, sheet, pixels)
    fitted, contrast, ok = fit_saddles(picture, start, radius)
    ok &= np.linalg.norm(np.nan_to_num(fitted - start), axis=1) < 0.25 * square_px
    ok = _plausible(geometry.saddles, fitted, contrast, ok, square_px)
    if MIN_SADDLES <= ok.sum() < len(ok):
        known = np.concatenate([sheet, geometry.saddles[ok]]), np.concatenate([pixels, fitted[ok]])
        again = _predict(geometry.saddles[~ok], *known)
        late, late_contrast, late_ok = fit_saddles(picture, again, radius)
        late_ok &= np.linalg.norm(np.nan_to_num(late - again), axis=1) < 0.12 * square_px
        fitted[~ok], contrast[~ok] = late, late_contrast
        ok[~ok] = late_ok
        ok = _plausible(geometry.saddles, fitted, contrast, ok, square_px)
    return np.flatnonzero(ok), fitted[ok], contrast[ok]


def _through(sheet: Array, pixels: Array, wanted: Array) -> Array:
    """Return the pixels of sheet points by one homography, fitted robustly; NaN where there is none."""
    spread = float(np.ptp(pixels, axis=0).max())
    h, _ = cv2.findHomography(sheet, pixels, cv2.RANSAC, max(2.0, HOMOGRAPHY_SHARE * spread))
    if h is None:
        return np.full((len(wanted), 2), np.nan)
    q = np.column_stack([wanted, np.ones(len(wanted))]) @ h.T
    return np.asarray(q[:, :2] / np.where(np.abs(q[:, 2:]) > 1e-9, q[:, 2:], np.nan), dtype=np.float64)


def _predict(wanted: Array, sheet: Array, pixels: Array) -> Array:
    """Return the pixels of sheet points by a homography and what the nearest known points depart from it.

    The departures (lens distortion, bent paper) vary slowly. A homography of the near points alone would be
    worthless: along a side of the ring they lie on a line.
    """
    departure = pixels - _through(sheet, pixels, sheet)
    out = _through(sheet, pixels, wanted)
    for k, point in enumerate(wanted):
        near = np.argsort(np.linalg.norm(sheet - point, axis=1))[:NEAR_POINTS]
        out[k] += np.median(departure[near], axis=0)
    return out


def _plausible(sheet: Array, pixels: Array, contrast: Array, ok: Flags, square_px: float) -> Flags:
    """Tell which saddles have contrast and lie as their neighbours say."""
    if ok.sum() < MIN_SADDLES:
        return ok
    floor = max(0.2 * float(np.median(contrast[ok])), 0.12 * float(np.quantile(contrast[ok], 0.9)))
    ok = ok & (contrast > floor)
    for _ in range(2):
        rows = np.flatnonzero(ok)
        if len(rows) < MIN_SADDLES:
            return ok
        departure = pixels[rows] - _through(sheet[rows], pixels[rows], sheet[rows])
        distance = np.linalg.norm(sheet[rows][:, None] - sheet[rows], axis=2)
        near = np.argsort(distance, axis=1)[:, 1 : NEAR_POINTS + 1]
        odd = np.linalg.norm(departure - np.median(departure[near], axis=1), axis=1)
        ok = ok.copy()
        ok[rows[odd > ODD_SHARE * square_px]] = False
    return ok


def fit_saddles(picture: Picture, start: Array, radius: float) -> tuple[Array, Array, Flags]:
    """Return the saddle points of quadratic surfaces fitted to the smoothed grey values round each start.

    Parameters
    ----------
    picture
        (H, W) grey picture.
    start
        (N, 2) starting pixels; NaN for none.
    radius
        Half width of the window, px.

    Returns
    -------
    pixels, contrast, ok
        (N, 2) saddle points, (N,) square root of minus the Hessian's determinant (grey levels per px^2),
        (N,) whether the fit converged on a saddle inside the picture.
    """
    reach = int(np.ceil(radius)) + 1
    v, u = (grid.ravel() for grid in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    limit = np.array([picture.shape[1], picture.shape[0]]) - reach - 1
    at = np.clip(start, -1e6, 1e6)
    ok = np.asarray(np.isfinite(at).all(1))
    contrast = np.zeros(len(at))
    for _ in range(MAX_STEPS):
        ok &= (np.nan_to_num(at) > reach).all(1) & (np.nan_to_num(at) < limit).all(1)
        rows = np.flatnonzero(ok)
        pixel = np.rint(at[rows]).astype(np.intp)
        c = _quadratics(
            _smoothed(picture, pixel, reach),
            u + (pixel - at[rows])[:, :1],
            v + (pixel - at[rows])[:, 1:],
            radius,
        )
        det = c[:, 3] * c[:, 5] - c[:, 4] ** 2
        saddle = det < 0
        step = np.stack([c[:, 4] * c[:, 2] - c[:, 5] * c[:, 1], c[:, 4] * c[:, 1] - c[:, 3] * c[:, 2]], -1)
        step /= np.where(saddle, det, -1.0)[:, None]
        length = np.linalg.norm(step, axis=1, keepdims=True)
        at[rows] += step * np.minimum(1.0, 0.5 * radius / np.maximum(length, 1e-9))
        contrast[rows] = np.sqrt(np.where(saddle, -det, 0.0))
        ok[rows] = saddle
        if np.all(length[saddle] < CONVERGED_PX):
            break
    moved = np.linalg.norm(np.nan_to_num(at - start), axis=1)
    return at, contrast, ok & (moved < 4 * radius)


def _smoothed(picture: Picture, pixel: Indices, reach: int) -> Array:
    """Return the grey values (N, P) within ``reach`` of pixels (N, 2), row by row, smoothed by a Gaussian.

    Only there: the whole picture would take a hundred times as long. Beyond its border the picture is
    mirrored.
    """
    kernel = cv2.getGaussianKernel(2 * round(SMOOTHING_SIGMAS * SMOOTHING_PX) + 1, SMOOTHING_PX).ravel()
    blur = convolution_matrix(kernel, 2 * reach + 1).T
    around = np.arange(blur.shape[1]) - blur.shape[1] // 2
    last = np.array([picture.shape[1], picture.shape[0]]) - 1
    columns, rows = (last[k] - np.abs(last[k] - np.abs(pixel[:, k, None] + around)) for k in (0, 1))
    patch = picture[rows[:, :, None], columns[:, None, :]]
    return np.asarray(blur @ patch @ blur.T, dtype=np.float64).reshape(len(pixel), (2 * reach + 1) ** 2)


def _quadratics(patch: Array, x: Array, y: Array, radius: float) -> Array:
    """Return weighted least-squares quadratics (N, 6) of grey values (N, P): value, gradient, Hessian.

    The Gaussian weight is centred on x = y = 0, not on a whole pixel: off-centre it would pull the saddle.
    """
    weight = np.exp(-(x**2 + y**2) / (2 * (radius / WINDOW_SIGMAS) ** 2))
    basis = np.stack([np.ones_like(x), x, y, x * x / 2, x * y, y * y / 2], -1)
    weighted = basis * weight[..., None]
    normal = np.swapaxes(weighted, 1, 2) @ basis
    right = np.swapaxes(weighted, 1, 2) @ patch[..., None]
    return np.asarray(np.linalg.solve(normal, right)[..., 0], dtype=np.float64)
