"""How the photos of a side agree."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from hubsight.model.side import SideMeasurement
from hubsight.plot.axes import INK, MIDDLE, axes_or_new


def plot_agreement(side: SideMeasurement, *, ax: Axes | None = None) -> Axes:
    """Draw, photo by photo, how far the target's corners lie from where all photos together put them.

    Parameters
    ----------
    side
        A measured side.
    ax
        To draw on; a new figure's if not given.

    Returns
    -------
    matplotlib.axes.Axes
        With the distances of each photo's used corners as pale dots and their root mean square as a bar, px.
        A photo whose bar stands far above the others does not go with them.
    """
    ax = axes_or_new(ax)
    photos = [photo for photo in side.photos if photo.used and any(s.used for s in photo.saddles)]
    for k, photo in enumerate(photos):
        sizes = np.array([np.hypot(*s.residual) for s in photo.saddles if s.used])
        ax.plot(np.full(len(sizes), k), sizes, ".", color=MIDDLE, label=f"_{photo.file}")
    rms = [
        float(np.sqrt(np.mean([np.hypot(*s.residual) ** 2 for s in photo.saddles if s.used])))
        for photo in photos
    ]
    ax.plot(range(len(photos)), rms, "_", color=INK, ms=24, mew=3, label="root mean square")
    ax.set_xticks(range(len(photos)), [photo.file for photo in photos], rotation=20)
    ax.set_xlim(-0.5, len(photos) - 0.5)
    ax.set_ylim(bottom=0.0)
    ax.set_ylabel("corner seen from adjusted, px")
    ax.legend(frameon=False)
    return ax
