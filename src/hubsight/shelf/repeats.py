"""Repeat measurements of one model of hub: their scatter beside their stated uncertainties."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from scipy.special import chdtri

from hubsight.model.catalogue import ON_SHELF
from hubsight.model.stated import SideName
from hubsight.model.uncertainty import COVERAGE
from hubsight.shelf.model import Measured, ShelvedSide


@dataclass(frozen=True)
class Repeated:
    """One figure of several measurements.

    Attributes
    ----------
    name
        As in the catalogue.
    values
        In the order of `Repeats.sides`; None where one was not measured.
    mean, scatter
        Of the values; the scatter is their standard deviation, mm.
    stated
        Root mean square of the stated standard uncertainties, mm.
    birge
        Birge ratio: the square root of chi squared per degree of freedom; 1 where scatter and stated
        uncertainties are alike (R. T. Birge, Phys. Rev. 40, 207 (1932); from memory).
    explained
        Whether the stated uncertainties explain the scatter (chi squared below its 95 % point).
    """

    name: str
    values: tuple[Measured | None, ...]
    mean: float
    scatter: float
    stated: float
    birge: float
    explained: bool


@dataclass(frozen=True)
class Repeats:
    """All measurements of one side of one model of hub, side by side."""

    hub: str
    side: SideName
    sides: tuple[ShelvedSide, ...]
    figures: tuple[Repeated, ...]


def repeats(sides: Iterable[ShelvedSide]) -> list[Repeats]:
    """Gather repeat measurements: sides whose hub has the same name, from different photos.

    Parameters
    ----------
    sides
        From the shelf, the newest first. Of several measurements of the same photos the newest counts: the
        others are no repeats.

    Notes
    -----
    Different hubs of one model differ themselves; scatter beyond the stated uncertainties may come from that.
    Measurements that share a gauge or a print have errors in common, which the scatter does not show.
    """
    groups: dict[tuple[str, SideName], dict[str, ShelvedSide]] = defaultdict(dict)
    for side in sides:
        if side.hub.strip():
            groups[" ".join(side.hub.casefold().split()), side.side].setdefault(side.photos, side)
    return [
        Repeats(next(iter(group.values())).hub, name, tuple(group.values()), _figures(tuple(group.values())))
        for (_, name), group in sorted(groups.items())
        if len(group) > 1
    ]


def _figures(sides: Sequence[ShelvedSide]) -> tuple[Repeated, ...]:
    found = (_repeated(name, tuple(side.figures.get(name) for side in sides)) for name in ON_SHELF)
    return tuple(item for item in found if item is not None)


def _repeated(name: str, values: tuple[Measured | None, ...]) -> Repeated | None:
    known = [value for value in values if value is not None and value.u > 0]
    if len(known) < 2:
        return None
    weights = [1 / item.u**2 for item in known]
    centre = math.fsum(w * item.value for w, item in zip(weights, known, strict=True)) / math.fsum(weights)
    chi_squared = math.fsum(((item.value - centre) / item.u) ** 2 for item in known)
    freedom = len(known) - 1
    return Repeated(
        name,
        values,
        mean=fmean(item.value for item in known),
        scatter=stdev(item.value for item in known),
        stated=math.sqrt(fmean(item.u**2 for item in known)),
        birge=math.sqrt(chi_squared / freedom),
        explained=chi_squared <= float(chdtri(freedom, 1.0 - COVERAGE)),
    )
