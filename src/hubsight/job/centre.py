"""Centre to flange: one value for every place where it is shown or used; mm."""

from __future__ import annotations

from collections.abc import Sequence

from hubsight.job.file.load import Job, JobSide
from hubsight.measure.hub_figures import apart
from hubsight.model.catalogue import CENTRE
from hubsight.model.figure import BudgetItem, Figure, normal_figure
from hubsight.model.hub import HubFigures
from hubsight.model.result import MeasuredSide
from hubsight.model.stated import BLOCK_U_MM

BY_HEIGHT = "flange height less half the over-locknut"
"""What a centre to flange rests on that follows from a caliper reading."""


def one_centre(
    job: Job, sides: Sequence[MeasuredSide], hub: HubFigures | None
) -> tuple[tuple[MeasuredSide, ...], HubFigures | None]:
    """Return the sides and the hub with one centre to flange for each side, the surest.

    Compared are what the side's own photos show, what all photo sets of the job agree on, and the flange's
    height less half the over-locknut that was read with a caliper. Where they lie apart the figure is warned.
    """
    stated = {side.stated.name: side for side in job.sides}
    out = []
    for side in sides:
        centre = None if side.measurement is None else _surest(side, stated[side.name], hub)
        if side.measurement is None or centre is None:
            out.append(side)
            continue
        figures = {**side.measurement.figures, "centre_to_flange": centre}
        measurement = side.measurement.model_copy(update={"figures": figures})
        out.append(side.model_copy(update={"measurement": measurement}))
        if hub is not None and CENTRE[side.name] in hub.figures:
            hub = hub.model_copy(update={"figures": {**hub.figures, CENTRE[side.name]: centre}})
    return tuple(out), hub


def _surest(side: MeasuredSide, stated: JobSide, hub: HubFigures | None) -> Figure | None:
    own = None if side.measurement is None else side.measurement.figures.get("centre_to_flange")
    agreed = None if hub is None else hub.figures.get(CENTRE[side.name])
    seen = _photos_own(_if_seen(own), _if_seen(agreed))
    by_height = centre_by_height(side, stated)
    if own is not None and own.seen == BY_HEIGHT and by_height is not None and own.value == by_height.value:
        return own  # what it was compared with is no longer here
    if seen is None or by_height is None:
        return seen or by_height
    surest = by_height if by_height.u <= seen.u else seen
    if not apart(seen, by_height):
        return surest
    return surest.warned(
        f"centre to flange is {seen.value:.2f} mm by what the photos show of the hub's ends, and "
        f"{by_height.value:.2f} mm by the flange's height and the stated over-locknut: measure over-locknut "
        "and block again"
    )


def _if_seen(figure: Figure | None) -> Figure | None:
    """Return a figure if photos alone gave it: by height it follows from what is stated now."""
    return None if figure is None or figure.seen == BY_HEIGHT else figure


def _photos_own(own: Figure | None, agreed: Figure | None) -> Figure | None:
    """Return what all sets agree on, unless it is no surer than the side's own, or contradicts it."""
    if own is None or agreed is None:
        return own or agreed
    return own if agreed.warnings or agreed.u >= own.u or apart(agreed, own) else agreed


def centre_by_height(side: MeasuredSide, stated: JobSide) -> Figure | None:
    """Return centre to flange by the flange's height and the caliper's over-locknut; None without them."""
    height = None if side.measurement is None else side.measurement.figures.get("flange_height")
    width, block = stated.wheel.over_locknut, stated.stated.block_thickness
    if height is None or width is None:
        return None
    budget = (
        BudgetItem(source="flange height", u=height.u),
        BudgetItem(source="over-locknut", u=width.u / 2.0),
        BudgetItem(source="block thickness", u=BLOCK_U_MM if block else 0.0),
    )
    return normal_figure(height.value - block - width.value / 2.0, budget, BY_HEIGHT)
