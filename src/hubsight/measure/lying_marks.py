"""Points placed by hand on end faces and flanges of a lying hub: against what was seen, and in its figures.

A mark is worth what it says along the axis; beside the axis it may lie anywhere on the edge.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hubsight.camera import View
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Solution
from hubsight.measure.adjust.judged import CONTRADICTS_SIGMAS, Conflict
from hubsight.measure.adjust.placed import between
from hubsight.model.agreement import Question
from hubsight.model.catalogue import HubFigureName
from hubsight.model.corrections import EDGE_WORDS, MARKS_DISAGREE, Corrections, Edge, PlacedEdge, index_of
from hubsight.model.figure import Figure
from hubsight.model.hub import LyingMeasurement
from hubsight.model.refusal import Refusal
from hubsight.see.lying.frame import LyingFrame
from hubsight.see.lying.place import Flanges, Placed
from hubsight.see.marks import Mark, Marks

EDGE_U_MM = {"end_face": 0.15, "flange": 0.2}
"""Standard uncertainty of an edge along the axis as seen, mm, beside what the photos say of it; raising it
believes marks that are further off (found on rendered hubs)."""
AROUND = np.radians(np.arange(-90.0, 91.0, 3.0))
"""Directions about the axis in which a marked edge may be seen, rad from straight up."""
ROUNDS = 4
"""Rounds of the fit; more are slower."""
HARDLY_MM = 0.01
"""A mark that moves a figure by less has nothing to do with it, mm."""

LyingEdge = Literal["end_face", "flange"]
EDGES: tuple[tuple[LyingEdge, int], ...] = (
    ("end_face", 0),
    ("end_face", 1),
    ("flange", 0),
    ("flange", 1),
)
"""Edges that can be placed, each at both ends of the hub."""


@dataclass(frozen=True)
class ByHand:
    """What marks make of a lying hub.

    Attributes
    ----------
    placed, flanges
        With the marks that count.
    u
        By edge what the marks' uncertainty brings, mm.
    instead
        Edges that marks put in the place of what was seen.
    conflicts
        Marks that contradict the photos, of which nobody said yet which is right; the worst of each edge in
        each photo.
    """

    placed: Placed
    flanges: Flanges
    u: dict[tuple[LyingEdge, int], float]
    instead: frozenset[tuple[LyingEdge, int]] = frozenset()
    conflicts: tuple[Conflict, ...] = ()


def with_marks(
    placed: Placed, flanges: Flanges, corrections: Corrections, files: Sequence[str], sheet: Solution
) -> ByHand:
    """Return a lying hub with what a person placed on it.

    Parameters
    ----------
    placed, flanges
        As seen.
    corrections, files
        Marks in other photos are passed over.
    sheet
        The adjustment of the sheet, with the photos in this order.
    """
    marks = Marks(corrections, files, [view_in(sheet, k) for k in range(len(files))])
    out = ByHand(placed, flanges, {})
    for edge, number in EDGES:
        seen, radius, seen_u = _seen(placed, flanges, edge, number)
        own = [m for m in corrections.edge_marks(edge) if m.number == number and m.photo in files]
        said = zip(own, marks.edge(edge, number), strict=True)
        places = [(mark, *_place(placed.frame, seen, radius, at)) for mark, at in said]
        out = _with_edge(out, (edge, number), corrections, seen=seen, seen_u=seen_u, places=places)
    return out


def _seen(placed: Placed, flanges: Flanges, edge: LyingEdge, number: int) -> tuple[float, float, float]:
    """Return an edge's place along the axis, its radius and its standard uncertainty, mm."""
    if edge == "end_face":
        u = float(np.hypot(EDGE_U_MM[edge], placed.length_u / 2**0.5))
        return placed.ends[number], placed.radii[number], u
    flange = flanges[number]
    return flange.middle, flange.radius, float(np.hypot(EDGE_U_MM[edge], flange.u))


def _with_edge(
    hub: ByHand,
    which: tuple[LyingEdge, int],
    corrections: Corrections,
    *,
    seen: float,
    seen_u: float,
    places: Sequence[tuple[PlacedEdge, float, float]],
) -> ByHand:
    """Return the hub with the marks on one edge."""
    against: list[Conflict] = []
    taken: list[tuple[float, float]] = []
    instead = False
    for mark, at, u in places:
        sigmas = abs(at - seen) / float(np.hypot(u, seen_u))
        answer = corrections.believed(mark)
        if answer == "photos":
            continue
        if answer is None and sigmas > CONTRADICTS_SIGMAS:
            against.append(Conflict(mark, sigmas, ()))
            continue
        taken.append((at, u))
        instead |= sigmas > CONTRADICTS_SIGMAS
    conflicts = _worst(against, corrections)
    taken = [] if conflicts and not instead else taken
    if not taken:
        return replace(hub, conflicts=(*hub.conflicts, *conflicts))
    value, u = between(taken, seen, np.inf if instead else seen_u)
    moved = _moved(hub, which, value)
    return replace(
        moved,
        u=hub.u | {which: u},
        instead=hub.instead | {which} if instead else hub.instead,
        conflicts=(*hub.conflicts, *conflicts),
    )


def _worst(against: Sequence[Conflict], corrections: Corrections) -> tuple[Conflict, ...]:
    worst: dict[tuple[PlacedEdge, ...], Conflict] = {}
    for one in sorted(against, key=lambda c: c.sigmas):
        if isinstance(one.mark, PlacedEdge):
            worst[corrections.together(one.mark)] = one
    return tuple(worst.values())


def _moved(hub: ByHand, which: tuple[LyingEdge, int], value: float) -> ByHand:
    edge, number = which
    if edge == "end_face":
        ends = (value, hub.placed.ends[1]) if number == 0 else (hub.placed.ends[0], value)
        return replace(hub, placed=replace(hub.placed, ends=ends))
    first, last = hub.flanges
    moved = replace(hub.flanges[number], middle=value)
    return replace(hub, flanges=(moved, last) if number == 0 else (first, moved))


def _place(frame: LyingFrame, start: float, radius: float, mark: Mark) -> tuple[float, float]:
    """Return where along the axis a mark puts the edge of a circle, and its standard uncertainty, mm."""
    place, u = start, 0.0
    for _ in range(ROUNDS):
        step, u = _step(mark.view, frame, place, radius, mark)
        place += step
    return place, u


def _step(view: View, frame: LyingFrame, place: float, radius: float, mark: Mark) -> tuple[float, float]:
    """Return by how much a mark lies further along the axis than the circle there, and its u, mm."""
    rings = frame.round(np.array([place - 0.5, place + 0.5]), radius, AROUND)
    before, after = (view.project(ring) for ring in rings)
    along = after - before
    off = mark.pixels[0] - (before + after) / 2
    sideways = off[:, 0] * along[:, 1] - off[:, 1] * along[:, 0]
    nearest = int(np.argmin(np.abs(sideways) / np.linalg.norm(along, axis=1)))
    per_mm = float(np.linalg.norm(along[nearest]))
    return float(off[nearest] @ along[nearest]) / per_mm**2, mark.u_px / per_mm


def with_questions(
    measured: LyingMeasurement,
    conflicts: Sequence[Conflict],
    corrections: Corrections,
    if_right: Callable[[Corrections], LyingMeasurement | Refusal],
) -> LyingMeasurement:
    """Return a lying hub's figures wide enough to hold marks that contradict the photos, with what to ask.

    Parameters
    ----------
    measured, conflicts
        Without those marks, and the marks.
    corrections, if_right
        What makes figures of other answers.
    """
    figures, questions = dict(measured.figures), []
    for one in conflicts:
        other = if_right(corrections.answered(one.mark, "mark"))
        instead = {} if isinstance(other, Refusal) else other.figures
        moved = {n: instead[n].value - figures[n].value for n in figures if n in instead}
        name = max(moved, key=lambda n: abs(moved[n]), default=None)
        words = f"{EDGE_WORDS[_edge_of(one)]} in {one.mark.photo}"
        sentence = f"{words}: your mark contradicts the photos of the lying hub: say which is right"
        questions.append(_question(one, name, instead, measured.figures))
        for moving in (n for n, by in moved.items() if abs(by) > HARDLY_MM):
            holding = figures[moving].holding(instead[moving].value, MARKS_DISAGREE)
            figures[moving] = holding.warned(sentence)
    return measured.model_copy(update={"figures": figures, "questions": tuple(questions)})


def _edge_of(conflict: Conflict) -> Edge:
    assert isinstance(conflict.mark, PlacedEdge)
    return conflict.mark.edge


def _question(
    conflict: Conflict,
    name: HubFigureName | None,
    by_mark: dict[HubFigureName, Figure],
    by_photos: dict[HubFigureName, Figure],
) -> Question:
    return Question(
        photo=conflict.mark.photo,
        mark=_edge_of(conflict),
        index=index_of(conflict.mark),
        sigmas=conflict.sigmas,
        figure=name or "over_locknut",
        by_mark=None if name is None else by_mark[name].value,
        by_photos=None if name is None else by_photos[name].value,
    )
