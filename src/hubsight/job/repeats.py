"""Repeated photo sets of one side, the gauge moved to another boss or bore: combined and compared."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hubsight.measure.hub_figures import apart, combined, odd_one
from hubsight.model.catalogue import OF_SIDE, FigureName
from hubsight.model.figure import Figure
from hubsight.model.side import SideMeasurement
from hubsight.model.verdict import Reason

OF_THE_SIDE = (
    "rounding of the faces",
    "lopsided bosses",
    "rounding of the end face",
    "rounding of the rim",
    "block thickness",
)
"""Sources of error that lie in the shape of the side's bosses and end, which every set sees."""
OF_THE_GAUGE = ("gauge length", "gauge end's shape")
"""Those that lie in the gauge."""


def with_repeats(first: SideMeasurement, repeats: Sequence[SideMeasurement]) -> SideMeasurement:
    """Return a side's measurement with the figures of its repeated sets combined.

    Parameters
    ----------
    first
        Of the side's own photos; what is seen in photos stays its own.
    repeats
        Of the repeated sets that were measured, in their order.

    Returns
    -------
    SideMeasurement
        With a note on the scatter of each figure that matters, and a warning on a set that stands out.
    """
    if not repeats:
        return first
    figures = dict(first.figures)
    notes: list[str] = []
    warnings = list(_other_hub(first, repeats))
    for name, entry in OF_SIDE.items():
        if not entry.combined:
            continue
        own = _named(name, first, repeats)
        if len(own) < 2:
            continue
        sides = [side for side in (first, *repeats) if name in side.figures]
        figures[name] = combined([figure for _, figure in own], _common(sides))
        trouble = _trouble(entry.words, own)
        if trouble is not None:
            warnings.append(trouble)
            figures[name] = _warned(figures[name], trouble)
        elif entry.scatter_told:
            notes.append(_scatter(entry.words, [figure for _, figure in own]))
    first_holes = _first_holes(first, repeats)
    return first.model_copy(
        update={
            "figures": figures,
            "warnings": (*first.warnings, *warnings),
            "repeats": (*first.repeats, *notes),
            "doubts": _doubts(first, repeats, first_holes),
            "first_holes": first_holes,
        }
    )


def _first_holes(first: SideMeasurement, repeats: Sequence[SideMeasurement]) -> tuple[int, ...]:
    """Return the first holes that the sets leave possible: those that any of them settled, if one did."""
    settled = [side.first_holes[0] for side in (first, *repeats) if len(side.first_holes) == 1]
    return tuple(dict.fromkeys(settled)) or first.first_holes


def _doubts(
    first: SideMeasurement, repeats: Sequence[SideMeasurement], first_holes: tuple[int, ...]
) -> tuple[Reason, ...]:
    """Return the doubts of all sets, but for that of a first hole which one of them settled."""
    settled = f"sides.{first.name}.first_hole" if len(first_holes) == 1 else ""
    doubts = (doubt for side in (first, *repeats) for doubt in side.doubts)
    return tuple(dict.fromkeys(doubt for doubt in doubts if doubt.about != settled))


def _common(sides: Sequence[SideMeasurement]) -> dict[str, tuple[float, ...]]:
    """Return the errors that the sets of one side share, each with its sign in each set.

    All sets see the same bosses and end face. An error of the centreline moves the offsets by gauges of the
    two hands in opposite directions; a gauge that is in several sets brings the same length.
    """
    signs: dict[str, tuple[float, ...]] = dict.fromkeys(OF_THE_SIDE, (1.0,) * len(sides))
    gauges = [side.face.gauges if side.face is not None else () for side in sides]
    if not all(gauges):
        return signs
    signs["boss centreline"] = tuple(
        sum(math.copysign(1.0, gauge.sideways) for gauge in own) / len(own) for own in gauges
    )
    if len({tuple(gauge.length for gauge in own) for own in gauges}) == 1:
        signs.update(dict.fromkeys(OF_THE_GAUGE, (1.0,) * len(sides)))
    return signs


def _named(
    name: FigureName, first: SideMeasurement, repeats: Sequence[SideMeasurement]
) -> list[tuple[str, Figure]]:
    sets = [("first set", first), *((f"repeat {k}", r) for k, r in enumerate(repeats, 1))]
    return [(where, side.figures[name]) for where, side in sets if name in side.figures]


def _other_hub(first: SideMeasurement, repeats: Sequence[SideMeasurement]) -> list[str]:
    return [
        f"repeat {k} shows {r.boss_count} bosses, the first set {first.boss_count}: is it the same side of "
        "the same hub?"
        for k, r in enumerate(repeats, 1)
        if r.boss_count != first.boss_count or r.kind != first.kind
    ]


def _trouble(words: str, own: Sequence[tuple[str, Figure]]) -> str | None:
    low, high = (pick(own, key=lambda o: o[1].value) for pick in (min, max))
    if not apart(low[1], high[1]):
        return None
    values = ", ".join(f"{figure.value:.2f} mm ({where})" for where, figure in own)
    odd = odd_one(own)
    which = "was a" if odd is None else f"{odd} stands out: was its"
    return (
        f"{words}: the photo sets differ by more than they should: {values}; {which} head "
        "not seated, or a boss worn?"
    )


def _scatter(words: str, figures: Sequence[Figure]) -> str:
    mean = sum(f.value for f in figures) / len(figures)
    scatter = math.sqrt(sum((f.value - mean) ** 2 for f in figures) / (len(figures) - 1))
    stated = math.sqrt(sum(f.u**2 for f in figures) / len(figures))
    return (
        f"{words}: {len(figures)} photo sets scatter by {scatter:.2f} mm, where ± {stated:.2f} mm is stated "
        "of each"
    )


def _warned(figure: Figure, warning: str) -> Figure:
    worse = "fair" if figure.confidence == "good" else figure.confidence
    return figure.model_copy(update={"warnings": (*figure.warnings, warning), "confidence": worse})
