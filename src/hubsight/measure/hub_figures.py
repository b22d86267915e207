"""Figures of the whole hub, from all photo sets of a job: over-locknut and centre to flange of both sides.

Every set gives them by itself; here they are combined, compared with each other and with what is stated, and
what does not go together is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.measure.heights import STANDARD_OVER_LOCKNUT_MM
from hubsight.model.arrays import Array
from hubsight.model.catalogue import CENTRE, OF_HUB, HubFigureName, figure_words
from hubsight.model.figure import BudgetItem, Figure, confidence_word
from hubsight.model.hub import HubFigures
from hubsight.model.stated import Reading, SideName
from hubsight.model.uncertainty import APART_SIGMAS, COVERAGE_FACTOR

COMMON_SOURCES = ("print scale",)
"""Sources of error that all photo sets of a job share."""
SAME_MM = 0.2
"""Difference of figures, beyond chance, above which they do not belong to one hub, mm; raising it warns
less."""
CONTRADICTED = "the photo sets contradict each other about it"
"""Warning of a figure on which sets differ."""
MOST_STANDARD = 2
"""Standard widths that a measured one may fit and still be named after them."""
STANDARD_SLACK_MM = 0.2
"""Departure of hubs from their standard width, mm."""
REAR_MM = 118.0
"""Over-locknut above which a hub is a rear hub, mm, as a rule with the drive side's flange nearer to the
centre (common practice, no source)."""
SWAPPED_MM = 3.0
"""Difference of the flanges from which on the sides of a rear hub may be swapped."""


@dataclass(frozen=True)
class SetFigures:
    """What one photo set says of the whole hub: its name in a sentence, and its figures."""

    name: str
    figures: Mapping[HubFigureName, Figure]


@dataclass(frozen=True)
class StatedHub:
    """What is stated of the whole hub."""

    over_locknut: Reading | None = None
    centre_to_flange: Mapping[SideName, Reading] | None = None


def hub_figures(sets: Sequence[SetFigures], stated: StatedHub) -> HubFigures | None:
    """Combine what the photo sets of a job say of the whole hub.

    A figure with a warning is compared with the others, and used where every set's has one. Where sets
    contradict each other the odd one is left out, or else all but the surest, and the figure says so.

    Parameters
    ----------
    sets
        Every set that was measured.
    stated
        Readings to compare with; the figures stay as they were seen.

    Returns
    -------
    HubFigures or None
        None if no set shows any of them.
    """
    figures: dict[HubFigureName, Figure] = {}
    notes: list[str] = []
    warnings: list[str] = []
    for name in OF_HUB:
        own = [(s.name, s.figures[name]) for s in sets if name in s.figures]
        if not own:
            continue
        said = _agreement(name, own)
        figures[name] = combined([figure for _, figure in _surest(own if said is None else said.kept)])
        if said is not None and said.agree:
            notes.append(said.sentence)
        elif said is not None:
            warnings.append(said.sentence)
            figures[name] = figures[name].warned(CONTRADICTED)
    if not figures:
        return None
    width = figures.get("over_locknut")
    return HubFigures(
        figures=figures,
        standard=() if width is None else standard_widths(width),
        notes=(*notes, *_width_note(width)),
        warnings=(
            *warnings,
            *_ends_exchanged(sets),
            *_against_stated(figures, stated),
            *_swapped(figures, stated),
        ),
    )


def combined(figures: Sequence[Figure], common: Mapping[str, Sequence[float]] | None = None) -> Figure:
    """Return the weighted mean of one figure from several photo sets.

    Parameters
    ----------
    figures
        One of each set.
    common
        Sources of error that the sets share beside `COMMON_SOURCES`, each with its sign in each set.

    Notes
    -----
    What errs alike in all sets is not averaged away. Where the sets scatter more than they say, the rest is
    widened by the Birge ratio (as in the adjustment of physical constants).
    """
    if len(figures) == 1:
        return figures[0]
    signs = {**dict.fromkeys(COMMON_SOURCES, (1.0,) * len(figures)), **(common or {})}
    values = np.array([figure.value for figure in figures])
    covariance = _covariance(figures, signs)
    weights = np.linalg.inv(covariance)
    shares = weights.sum(0) / weights.sum()
    value = float(shares @ values)
    birge = math.sqrt(max(1.0, float((values - value) @ weights @ (values - value)) / (len(figures) - 1)))
    budget = _shared_budget(figures, shares, birge, signs)
    u = math.hypot(*(item.u for item in budget))
    warnings = tuple(dict.fromkeys(w for f in figures for w in f.warnings))
    return Figure(
        value=value,
        u=u,
        low=value - COVERAGE_FACTOR * u,
        high=value + COVERAGE_FACTOR * u,
        budget=budget,
        seen=f"{len(figures)} photo sets",
        confidence=confidence_word(u, warned=bool(warnings)),
        warnings=warnings,
    )


def _covariance(figures: Sequence[Figure], signs: Mapping[str, Sequence[float]]) -> Array:
    """(n, n) covariance of one figure in several sets, as far as it tells them apart.

    What errs alike in all of them is left out; what errs in opposite directions tells them apart most.
    """
    shared = [math.hypot(*(b.u for b in f.budget if b.source in signs), 0.0) for f in figures]
    out = np.diag([max(f.u**2 - c**2, 1e-8) for f, c in zip(figures, shared, strict=True)])
    for source, sign in signs.items():
        if min(sign) < 0.0 < max(sign):
            part = [
                s * math.hypot(*(b.u for b in f.budget if b.source == source), 0.0)
                for f, s in zip(figures, sign, strict=True)
            ]
            out += np.outer(part, part)
    return out


def _shared_budget(
    figures: Sequence[Figure],
    shares: Array,
    birge: float,
    signs: Mapping[str, Sequence[float]],
) -> tuple[BudgetItem, ...]:
    """Budget of a weighted mean: common sources add up, the others average out."""
    items: dict[str, float] = {}
    for k, (figure, share) in enumerate(zip(figures, shares, strict=True)):
        for item in _whole_budget(figure):
            part, old, sign = float(share) * item.u, items.get(item.source, 0.0), signs.get(item.source)
            items[item.source] = math.hypot(old, birge * part) if sign is None else old + sign[k] * part
    ordered = sorted(items.items(), key=lambda item: -abs(item[1]))
    return tuple(BudgetItem(source=source, u=abs(u)) for source, u in ordered)


def _whole_budget(figure: Figure) -> tuple[BudgetItem, ...]:
    """Return a figure's budget, with what it does not name of the figure's uncertainty."""
    named = math.fsum(item.u**2 for item in figure.budget)
    rest = figure.u**2 - named
    return (*figure.budget, BudgetItem(source="other", u=math.sqrt(rest))) if rest > 1e-9 else figure.budget


def standard_widths(width: Figure) -> tuple[int, ...]:
    """Return the standard over-locknut widths that a measured one fits; none where it fits many."""
    slack = COVERAGE_FACTOR * width.u + STANDARD_SLACK_MM
    fits = tuple(w for w in STANDARD_OVER_LOCKNUT_MM if abs(width.value - w) <= slack)
    return fits if len(fits) <= MOST_STANDARD else ()


def _width_note(width: Figure | None) -> list[str]:
    fits = () if width is None else standard_widths(width)
    if not fits:
        return []
    return [f"the over-locknut fits the standard width of {' or '.join(str(w) for w in fits)} mm"]


_Own = Sequence[tuple[str, Figure]]
"""A figure as several sets show it, each with the set's name."""


@dataclass(frozen=True)
class _Said:
    agree: bool
    sentence: str
    kept: _Own


def _surest(own: _Own) -> _Own:
    return [one for one in own if not one[1].warnings] or own


def _agreement(name: HubFigureName, own: _Own) -> _Said | None:
    """Say whether the sets agree on a figure, and which one stands out."""
    if len(own) < 2:
        return None
    values = ", ".join(f"{figure.value:.2f} mm ({where})" for where, figure in own)
    low, high = (f(own, key=lambda o: o[1].value) for f in (min, max))
    if not apart(low[1], high[1]):
        return _Said(True, f"{figure_words(name)}: the photo sets agree: {values}", own)
    odd = odd_one(own)
    if odd is None:
        kept = [min(_surest(own), key=lambda one: one[1].u)]
    else:
        kept = [one for one in own if one[0] != odd]
    which = "" if odd is None else f"; the {odd} stands out"
    return _Said(
        False,
        f"{figure_words(name)}: the photo sets contradict each other: {values}{which}. Is it one hub, with "
        "the right side up in each, and is the block's thickness right?",
        kept,
    )


def apart(a: Figure, b: Figure | Reading) -> bool:
    """Tell whether two values of one figure, or a figure and a reading, lie further apart than by chance."""
    return abs(a.value - b.value) > max(APART_SIGMAS * math.hypot(a.u, b.u), SAME_MM)


def odd_one(own: Sequence[tuple[str, Figure]]) -> str | None:
    """Name the set without which the others agree, if there is just one."""
    if len(own) < 3:
        return None
    odd = [
        where
        for k, (where, _) in enumerate(own)
        if not any(
            apart(a, b)
            for i, (_, a) in enumerate(own)
            for j, (_, b) in enumerate(own)
            if i < j and k not in (i, j)
        )
    ]
    return odd[0] if len(odd) == 1 else None


def _readings(stated: StatedHub) -> list[tuple[HubFigureName, Reading]]:
    out: list[tuple[HubFigureName, Reading]] = []
    if stated.over_locknut is not None:
        out.append(("over_locknut", stated.over_locknut))
    out += [(CENTRE[side], reading) for side, reading in (stated.centre_to_flange or {}).items()]
    return out


def _against_stated(figures: Mapping[HubFigureName, Figure], stated: StatedHub) -> list[str]:
    return [
        f"{figure_words(name)}: {reading.value:.2f} mm is stated, but the photos show "
        f"{figures[name].value:.2f} mm: measure it again; the stated value is used as it is"
        for name, reading in _readings(stated)
        if name in figures and apart(figures[name], reading)
    ]


def _ends_exchanged(sets: Sequence[SetFigures]) -> list[str]:
    """Say if a set that shows both flanges shows each where the other sets show the other one."""
    ds, nds = CENTRE["drive"], CENTRE["non_drive"]
    out = []
    for both in sets:
        if ds not in both.figures or nds not in both.figures:
            continue
        others = {
            name: [s.figures[name] for s in sets if s is not both and name in s.figures] for name in (ds, nds)
        }
        pairs = [(name, other, figure) for name, other in ((ds, nds), (nds, ds)) for figure in others[name]]
        if pairs and all(
            apart(both.figures[name], figure) and not apart(both.figures[other], figure)
            for name, other, figure in pairs
        ):
            out.append(
                f"the {both.name} shows each side's flange where the other photos show the other side's: is "
                "the drive side stated at the right end?"
            )
    return out


def _swapped(figures: Mapping[HubFigureName, Figure], stated: StatedHub) -> list[str]:
    """Say if drive and non-drive side seem to be exchanged."""
    ds, nds = figures.get("centre_to_flange_ds"), figures.get("centre_to_flange_nds")
    if ds is None or nds is None:
        return []
    readings = stated.centre_to_flange or {}
    if len(readings) == 2:
        own, other = readings["drive"], readings["non_drive"]
        exchanged = not apart(ds, other) and not apart(nds, own)
        if exchanged and (apart(ds, own) or apart(nds, other)):
            return [
                "the stated centre to flange of each side is what the photos show of the other one: are "
                "drive and non-drive side swapped?"
            ]
        return []
    width = figures.get("over_locknut")
    if width is None or width.value < REAR_MM or ds.value < nds.value + SWAPPED_MM:
        return []
    return [
        f"on this rear hub the drive side's flange lies {ds.value - nds.value:.1f} mm farther out than the "
        "other one, where most have it nearer to the centre: are drive and non-drive side swapped?"
    ]
