"""Where wire ends and no wire begins along a gauge's axis, as the photos' rows of presence part best."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import minimum_filter1d

from hubsight.model.arrays import Array

LEAST_ROWS = 100
"""Rows along the axis that have to be in a picture, `STEP_MM` apart."""
LEAST_BEFORE, LEAST_BEYOND = 60, 30
"""Rows that have to lie before and beyond an end; lowering them takes the picture's border for an end."""
BESIDE_ROWS = 20
"""Rows on either side that part the wire worse than another end; raising it hears fewer."""
LEAST_DROP = 0.25
"""Share of wire by which the rows before an end exceed those beyond; raising it finds fewer ends."""


def common_end(presence: Sequence[Array] | Array, ahead: Array) -> float | None:
    """Return the place along the axis that best parts wire from no wire, by the photos' median.

    In some photos printed squares lie beyond the end, and look like wire.

    Parameters
    ----------
    presence
        Per photo (S,) how much each row shows wire, 0 to 1; NaN outside the picture.
    ahead
        (S,) places of the rows, mm, ascending.
    """
    parted = _parted(presence, ahead)
    if parted is None:
        return None
    misfit, drop = parted
    k = int(misfit.argmin())
    return float(ahead[k]) if drop[k] > LEAST_DROP else None


def rival_end(presence: Sequence[Array] | Array, ahead: Array, apart: float) -> tuple[float, float] | None:
    """Return the best place farther than ``apart`` from the common end, and its misfit over that one's.

    Parameters are those of `common_end`; the misfit is the sum of squares about the means before and beyond.
    None where no other place parts the rows.
    """
    parted = _parted(presence, ahead)
    if parted is None:
        return None
    misfit, drop = parted
    best = int(misfit.argmin())
    least = misfit <= minimum_filter1d(misfit, 2 * BESIDE_ROWS + 1, mode="nearest")
    other = np.where(least & (np.abs(ahead - ahead[best]) > apart) & (drop > LEAST_DROP), misfit, np.inf)
    k = int(other.argmin())
    return (float(ahead[k]), float(other[k] / max(misfit[best], 1e-9))) if np.isfinite(other[k]) else None


def _parted(presence: Sequence[Array] | Array, ahead: Array) -> tuple[Array, Array] | None:
    """Return (S,) the misfit of an end at each row, infinite where none can be, and wire's drop there."""
    rows = np.array(presence)
    ok = np.isfinite(rows).any(0)
    if ok.sum() < LEAST_ROWS:
        return None
    value = np.zeros(len(ahead))
    value[ok] = np.nanmedian(rows[:, ok], 0)
    count, total = np.cumsum(ok), np.cumsum(value)
    beyond_n, beyond = count[-1] - count, total[-1] - total
    before_mean, beyond_mean = total / np.maximum(count, 1), beyond / np.maximum(beyond_n, 1)
    misfit = float(np.sum(value**2)) - count * before_mean**2 - beyond_n * beyond_mean**2
    inner = (count > LEAST_BEFORE) & (beyond_n > LEAST_BEYOND)
    if not inner.any():
        return None
    return np.where(inner, misfit, np.inf), before_mean - beyond_mean
