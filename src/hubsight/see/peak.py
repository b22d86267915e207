"""Peaks of sampled profiles: which they are, and their place between the steps."""

from __future__ import annotations

import numpy as np

from hubsight.model.arrays import Array, Indices


def sub_step(three: Array) -> Array:
    """Return how far parabolas through three samples (3, ...) peak from the middle ones, in steps, or 0."""
    a, m, c = three
    bend = a - 2 * m + c
    return np.asarray(np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1.0), 0.0))


def peaks_of(rows: Array) -> Array:
    """Return profiles (N, S) without their first and last step, 0 where a neighbour is higher."""
    inner = rows[:, 1:-1]
    return np.where((inner >= rows[:, :-2]) & (inner >= rows[:, 2:]), inner, 0.0)


def refined(rows: Array, at: Indices) -> Array:
    """Return the places (N,) of the peaks of profiles (N, S) near steps (N,), in steps, at most one off."""
    each = np.arange(len(rows))
    three = np.stack([rows[each, at + k] for k in (-1, 0, 1)])
    return np.asarray(at + np.clip(sub_step(three), -1, 1))
