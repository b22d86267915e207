"""Where a gauge ends and what is on its end: hypotheses compared by the edges of all photos together.

A hypothesis is a kind of end and a place. It says which edges run along the gauge: the wire's two sides up to
a bare end; up to a nipple the wire's and then, along the nipple, the nipple's; and the outline of the end
across them. Beyond the end nothing is expected, so that printed squares there speak for no hypothesis. Each
photo's edges speak by `edge_log_odds`, piece by piece; pieces and photos add up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, uniform_filter1d
from scipy.special import logsumexp

from hubsight.model.arrays import Array, Flags
from hubsight.scene.usual import HEAD_RADIUS_MM, NIPPLE_RADIUS_MM
from hubsight.see.edge_odds import edge_log_odds
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import STEP_MM, Ribbon

EndKind = Literal["flat", "nipple", "head"]
"""What ends a wire: a cut, a nipple, or a spoke's own head, seen from its back."""

RADIUS_MM: Mapping[EndKind, float] = {"nipple": NIPPLE_RADIUS_MM.mean, "head": HEAD_RADIUS_MM.mean}
"""Radius of ends that are wider than the wire, mm."""
LENGTHS_MM: Mapping[EndKind, Array] = {
    "nipple": np.arange(10.0, 17.1, 1.0),
    "head": np.arange(0.75, 2.1, 0.25),
}
"""Lengths that a nipple or a head may have, mm, each as likely (common practice, no source)."""
WIRE_SLACK_MM = 0.25
"""How far the wire's sides may show from where its width puts them, mm; raising it takes in streaks of light
and other edges."""
WIDE_SLACK_MM = (0.6, 0.3)
"""How far inside and outside its radius a wide end's sides may show, mm: bright metal mirrors the paper near
its limb. Raising them takes in the wire's own sides and shadows."""
LEAST_UNRESTS = 6.0
"""Steepness from which a point is an edge's, in the ribbon's median; raising it drops faint edges, lowering
it takes the grain of blank paper for edges."""
DARK_LIGHT = 0.003
"""Light, of 1, at which a picture's own noise no longer falls with it; raising it drops edges in the dark."""
SIDE_BLUR_MM, OUTLINE_BLUR_MM = (0.3, 0.09), (0.15, 0.1)
"""Blur along and across an edge before its points are taken, mm: of the gauge's sides, and of its end's
outline; raising them lessens noise and drops fine edges."""
RIVAL_MM = 1.0
"""Stretch to either side in which an outline's steepness counts against the steepest, mm: the halo of a
sharpened edge is less steep than that. Raising it takes in printed edges."""
COVER_MM = 0.6
"""Stretch along a side over which its points are counted, mm; raising it blurs where a side stops."""
SIGMA_MM = 0.08
"""Standard deviation of an edge's place, mm; raising it mixes neighbouring edges."""
SIDE_CHANCE, OUTLINE_CHANCE = 0.02, 0.1
"""Share that chance edges cover per mm, added to what is seen; raising it bounds the odds lower."""
PIECE_MM = 2.0
"""Length of a side that is independent of the next, mm: streaks and printed squares are as long. Raising it
makes every hypothesis less sure."""
OUTLINE_PIECES = 3.0
"""Independent pieces of the end's outline; raising it trusts it more against the sides."""
OUTLINE_SHARE = 0.8
"""Share of the end's width across which its outline is followed; its rim is rounded beyond."""
STATED_ODDS = 20.0
"""Odds of the kind of end that is stated against another one, before the photos are looked at: one statement
in twenty is of another gauge (prior)."""
SURE = float(np.log(20.0))
"""Log-odds from which the likelier of two ends, or of two kinds of end, is sure: one in twenty is another.
Raising it finds fewer ends and names more rivals (of 90 right ends on rendered hubs none has a rival below 7,
and three of 350 photos by themselves prefer another end by more than 3)."""
NEVER = -1e3
"""Log-likelihood of what cannot be: an end nearer to the first row than it is long."""
SAME_END_MM = 0.35
"""Distance below which ends that photos show are the same one, mm; raising it hears fewer contradictions.
Photos scatter by a third of it (found on rendered hubs)."""


@dataclass(frozen=True)
class EndOdds:
    """How the photos speak for each place of a gauge's end, if the likeliest kind of end is on it.

    Attributes
    ----------
    ahead
        (S,) places of the end's centre beyond the line's end, mm, ascending.
    by_photo
        (P, S) each photo's log-likelihood, up to a constant of each photo.
    kind
        What is on the end.
    kinds
        Per kind (P,) each photo's log-likelihood of it, where all photos together would put it.
    stated
        The kind that was stated.
    """

    ahead: Array
    by_photo: Array
    kind: EndKind
    kinds: Mapping[EndKind, Array]
    stated: EndKind

    @property
    def total(self) -> Array:
        """(S,) log-likelihood of all photos."""
        return np.asarray(self.by_photo.sum(0))

    @property
    def chosen(self) -> float:
        """The likeliest place, mm beyond the line's end."""
        return peak_of(self.total, self.ahead)

    @property
    def own(self) -> Array:
        """(P,) where each photo by itself would end the gauge, mm beyond the line's end."""
        return np.array([peak_of(row, self.ahead) for row in self.by_photo])

    def at(self, place: float) -> Array:
        """Return each photo's log-likelihood (P,) of the end at a place, or hardly beside it."""
        near = np.abs(self.ahead - place) < SAME_END_MM
        return np.asarray(self.by_photo[:, near].max(1)) if near.any() else self.by_photo.min(1)

    def rival(self) -> tuple[float, float] | None:
        """Return the next likely place that is another one, and its log-odds against the one chosen."""
        total = self.total
        tops = np.flatnonzero((total[1:-1] >= total[:-2]) & (total[1:-1] > total[2:])) + 1
        tops = tops[np.abs(self.ahead[tops] - self.chosen) > SAME_END_MM]
        if len(tops) == 0:
            return None
        k = tops[total[tops].argmax()]
        return float(self.ahead[k]), float(total[k] - total.max())

    @property
    def log_odds(self) -> Mapping[EndKind, float]:
        """Log-odds of each other kind of end against the one chosen, the statement included."""
        told = _told(self.kinds, self.stated)
        return {k: v - told[self.kind] for k, v in told.items() if k != self.kind}

    def for_kind(self, kind: EndKind) -> Array:
        """Return each photo's log-odds (P,) of a kind of end against the likeliest other one."""
        others = [v for k, v in self.kinds.items() if k != kind]
        return np.asarray(self.kinds[kind] - max(others, key=lambda v: float(v.sum())))

    def only_photos(self, keep: Sequence[int]) -> EndOdds:
        """Return what some of the photos say."""
        own = list(keep)
        kinds = {kind: values[own] for kind, values in self.kinds.items()}
        return replace(self, by_photo=self.by_photo[own], kinds=kinds)


def _told(kinds: Mapping[EndKind, Array], stated: EndKind) -> dict[EndKind, float]:
    """Return each kind's log-odds by all photos and the statement, up to a constant."""
    return {k: float(v.sum() + np.log(STATED_ODDS) * (k == stated)) for k, v in kinds.items()}


def likeliest(kinds: Mapping[EndKind, Array], stated: EndKind) -> EndKind:
    """Return the likeliest kind of end, by each photo's log-likelihoods (P,) and by what is stated."""
    told = _told(kinds, stated)
    return max(told, key=lambda kind: told[kind])


def peak_of(row: Array, ahead: Array) -> float:
    """Return the place of the highest of a row's values, between the steps."""
    k = int(np.clip(row.argmax(), 1, len(row) - 2))
    return float(ahead[k] + np.clip(sub_step(row[k - 1 : k + 2]), -1, 1) * (ahead[1] - ahead[0]))


def end_odds(
    ribbons: Sequence[Ribbon],
    width: float,
    outlines: Mapping[EndKind, Sequence[float]],
    stated: EndKind,
) -> EndOdds | None:
    """Weigh where a gauge ends and what is on its end.

    Parameters
    ----------
    ribbons
        Each photo unrolled along the gauge's axis, all at the same places.
    width
        Of the wire as seen, mm.
    outlines
        Kinds of end that are possible, and per photo how far beyond the end's centre each one's outline shows
        on the axis, mm.
    stated
        The kind that is stated.

    Returns
    -------
    EndOdds or None
        None where the photos do not surely speak for an end, against a wire that runs on and against none.
    """
    ahead = -ribbons[0].back
    edges = [_Edges(ribbon, width) for ribbon in ribbons]
    said: dict[EndKind, Array] = {}
    for kind, ahead_of_centre in outlines.items():
        rows = [e.of_kind(kind, off) for e, off in zip(edges, ahead_of_centre, strict=True)]
        each_length = np.stack(rows, axis=1)
        said[kind] = each_length[int(each_length.sum(1).max(1).argmax())]
    places = {kind: int(rows.sum(0).argmax()) for kind, rows in said.items()}
    kinds = {kind: rows[:, places[kind]] for kind, rows in said.items()}
    best = likeliest(kinds, stated)
    runs_on = sum(e.wire[-1] for e in edges)
    if kinds[best].sum() < max(runs_on, 0.0) + SURE:
        return None
    return EndOdds(ahead, said[best], best, kinds, stated)


class _Edges:
    """How one photo's edges speak for the gauge's sides and for the outline of its end."""

    def __init__(self, ribbon: Ribbon, width: float) -> None:
        self.half = width / 2
        self.across = ribbon.across
        self.shown: Flags = np.asarray(np.isfinite(ribbon.light).all(1))
        step = ribbon.across[1] - ribbon.across[0]
        sides = _edge_points(ribbon, 1, SIDE_BLUR_MM[0] / STEP_MM, SIDE_BLUR_MM[1] / step)
        covered = uniform_filter1d(sides, round(COVER_MM / STEP_MM) + 1, axis=0)
        odds = edge_log_odds(covered, step, SIGMA_MM, SIDE_CHANCE)
        self._sides = np.cumsum(odds * self.shown[:, None] * (STEP_MM / PIECE_MM), axis=0)
        along, across = OUTLINE_BLUR_MM[0] / step, OUTLINE_BLUR_MM[1] / STEP_MM
        self._outline = _edge_points(ribbon, 0, along, across, beside=round(RIVAL_MM / STEP_MM))
        self._wire_sides = self.half - WIRE_SLACK_MM, self.half + WIRE_SLACK_MM
        self.wire = self._along(*self._wire_sides, 0)

    def of_kind(self, kind: EndKind, beyond: float) -> Array:
        """Return the log-likelihood (lengths, S) of an end of each length, and its centre at each place.

        ``beyond`` is how far beyond its centre the end's outline shows on the axis, mm.
        """
        radius = RADIUS_MM.get(kind, self.half)
        outline = self.outline(radius, beyond)
        if kind not in RADIUS_MM:
            return np.asarray((self.wire + outline)[None])
        rows = []
        for length in LENGTHS_MM[kind]:
            count = round(float(length) / STEP_MM)
            wide = self._along(radius - WIDE_SLACK_MM[0], radius + WIDE_SLACK_MM[1], count)
            # Streaks of light on it may lie where the wire's sides would.
            wide += np.logaddexp(self._along(*self._wire_sides, count), 0.0) - np.log(2.0)
            never = np.full(count, NEVER)
            rows.append(np.concatenate([never, self.wire[:-count] + wide]) + outline)
        return np.asarray(np.array(rows) - np.log(len(rows)))

    def _along(self, low: float, high: float, count: int) -> Array:
        """Return how both sides show between two distances from the axis, over all rows or ``count`` ones.

        Where between them a side shows is not known, but it shows at one distance.
        """
        total = 0.0
        for sign in (-1.0, 1.0):
            own = self._sides[:, (sign * self.across >= low) & (sign * self.across <= high)]
            over = own[count:] - own[:-count] if count else own
            total = total + logsumexp(over, axis=1) - np.log(over.shape[1])
        return np.asarray(total)

    def outline(self, radius: float, beyond: float) -> Array:
        """Return the log-likelihood (S,) of the end's outline, half an ellipse, by its centre's place."""
        columns = np.flatnonzero(np.abs(self.across) < OUTLINE_SHARE * radius)
        reach = beyond * np.sqrt(1 - (self.across[columns] / radius) ** 2)
        rows = np.arange(len(self._outline))
        shifted = rows[:, None] + np.rint(reach / STEP_MM).astype(int)
        inside = (shifted >= 0) & (shifted < len(rows))
        covered = (self._outline[np.clip(shifted, 0, len(rows) - 1), columns] * inside).mean(1)
        odds = edge_log_odds(covered, STEP_MM, SIGMA_MM, OUTLINE_CHANCE, axis=0)
        return np.asarray(np.where(self.shown, OUTLINE_PIECES * odds, 0.0))


def _edge_points(ribbon: Ribbon, axis: int, along: float, across: float, *, beside: int = 0) -> Array:
    """Return (S, U) 1 where light changes most steeply along an axis and not by chance, else 0.

    Blurs are in steps. With ``beside``, a point counts by its steepness against the steepest within so many
    steps. The noise of light grows with its root: divided by that, one threshold serves bright and dark.
    """
    shown = np.isfinite(ribbon.light)
    light = gaussian_filter1d(np.nan_to_num(ribbon.light), across, axis=axis)
    light = gaussian_filter1d(light, along, axis=1 - axis)
    slope = np.abs(np.gradient(light, axis=axis))
    unrest = slope / np.sqrt(np.maximum(light, 0.0) + DARK_LIGHT)
    usual = float(np.median(unrest[shown])) if shown.any() else np.inf
    inside = gaussian_filter1d((~shown).astype(float), 2 * across, axis=axis) < 1e-3
    steepest = (slope > np.roll(slope, -1, axis)) & (slope >= np.roll(slope, 1, axis))
    points = np.asarray(steepest & inside & (unrest > LEAST_UNRESTS * usual), dtype=float)
    if beside:
        points *= slope / np.maximum(maximum_filter1d(slope, 2 * beside + 1, axis=axis), 1e-12)
    return points
