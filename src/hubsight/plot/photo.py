"""One photo: what was seen in it, and the residuals of the sheet's corners."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes

from hubsight.model.side import PhotoEvidence, Pixel
from hubsight.plot.axes import INK, MIDDLE, axes_or_new

RESIDUAL_LENGTH = 0.04
"""Length of the arrow of a typical residual, as a share of the photo's width."""


def plot_photo(photo: PhotoEvidence, picture: npt.ArrayLike | None = None, *, ax: Axes | None = None) -> Axes:
    """Draw what was seen in a photo, in its pixels as stored, before any turning by the EXIF tag.

    Parameters
    ----------
    photo
        Of a side's measurement.
    picture
        (H, W) or (H, W, 3) array of the photo, shown pale behind the drawing; white if not given.
    ax
        To draw on; a new figure's if not given.

    Returns
    -------
    matplotlib.axes.Axes
        Labelled in its legend: corners of the target, gauge and its end, head seat, bosses, their
        centrelines, crossing point, hub axis.

    Raises
    ------
    ValueError
        If the picture has another size than the photo.
    """
    ax = axes_or_new(ax)
    if picture is not None:
        _lay_under(ax, np.asarray(picture), photo)
    _points(ax, [s.pixel for s in photo.saddles if s.used], "corners of the target", marker=".", color=MIDDLE)
    _points(ax, [s.pixel for s in photo.saddles if not s.used], "corners left out", marker="x", color=MIDDLE)
    _lines(ax, [(*o, o[0]) for o in photo.boss_outlines if o], "bosses", lw=1.2)
    _lines(ax, photo.centrelines, "centrelines", lw=0.8, ls="--")
    _lines(ax, photo.gauges, "gauge", lw=2.0)
    _points(ax, photo.gauge_end_outlines or photo.gauge_ends, "gauge's end", marker="|", ms=14, mew=2)
    _points(ax, photo.seats, "head seat", marker="s", mfc="none")
    _points(ax, photo.crossing_points, "crossing point", marker="o", mfc="white")
    _points(ax, [] if photo.axis is None else [photo.axis], "hub axis", marker="+", ms=14)
    _frame(ax, photo)
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False)
    return ax


def plot_sheet_residuals(
    photo: PhotoEvidence, *, ax: Axes | None = None, magnified: float | None = None
) -> Axes:
    """Draw where the target's corners were seen against where the adjustment puts them, magnified.

    Parameters
    ----------
    photo
        Of a side's measurement.
    ax
        To draw on; a new figure's if not given.
    magnified
        How many times longer than in the photo an arrow is drawn; chosen to suit if not given.

    Returns
    -------
    matplotlib.axes.Axes
        With an arrow from each used corner's adjusted towards its seen place, and a cross at each corner that
        was left out.
    """
    ax = axes_or_new(ax)
    used = [s for s in photo.saddles if s.used]
    places = np.array([s.pixel for s in used]).reshape(-1, 2)
    residuals = np.array([s.residual for s in used]).reshape(-1, 2)
    size = np.linalg.norm(residuals, axis=1)
    if magnified is None:
        typical = float(np.median(size)) if len(size) else 0.0
        magnified = RESIDUAL_LENGTH * photo.width / typical if typical > 0 else 1.0
    ax.quiver(
        *places.T,
        *(magnified * residuals).T,
        angles="xy",
        scale_units="xy",
        scale=1.0,
        width=0.003,
        color=INK,
    )
    _points(ax, [s.pixel for s in photo.saddles if not s.used], "left out", marker="x", color=MIDDLE)
    _frame(ax, photo)
    rms = float(np.sqrt(np.mean(size**2))) if len(size) else float("nan")
    ax.set_title(f"{photo.file}: residuals of {len(used)} corners, rms {rms:.3f} px, x {magnified:.0f}")
    return ax


def _lay_under(ax: Axes, picture: npt.NDArray[np.generic], photo: PhotoEvidence) -> None:
    if picture.shape[:2] != (photo.height, photo.width):
        size = " x ".join(str(n) for n in picture.shape[1::-1])
        msg = f"{photo.file} has {photo.width} x {photo.height} pixels, the picture {size}: give it as stored"
        raise ValueError(msg)
    ax.imshow(picture, cmap="gray", alpha=0.6, interpolation="nearest")


def _points(ax: Axes, points: Sequence[Pixel], label: str, **style: Any) -> None:
    if points:
        ax.plot(*np.array(points).T, label=label, **{"ls": "none", "color": INK, **style})


def _lines(ax: Axes, lines: Sequence[Sequence[Pixel]], label: str, **style: Any) -> None:
    for k, line in enumerate(lines):
        name = label if k == 0 else f"_{label} {k}"
        ax.plot(*np.array(line).T, label=name, **{"color": INK, **style})


def _frame(ax: Axes, photo: PhotoEvidence) -> None:
    """Show the whole photo, rows downwards, the centre of the first pixel at (0, 0)."""
    ax.set_xlim(-0.5, photo.width - 0.5)
    ax.set_ylim(photo.height - 0.5, -0.5)
    ax.set_aspect("equal")
    ax.set_xlabel("column, px")
    ax.set_ylabel("row, px")
    ax.set_title(photo.file)
