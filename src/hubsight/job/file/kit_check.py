"""Whether a piece of kit can be right, before it is kept: by the rules by which jobs are judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pydantic_core import PydanticCustomError

from hubsight.job.file.build_tables import RimTable
from hubsight.job.file.model import GaugeTable, TargetTable
from hubsight.job.file.readings import reader
from hubsight.job.file.rim_of_kit import fitting_of, rim_erd
from hubsight.kit.model import KitGauge, KitRim, KitTarget
from hubsight.kit.store import Kit, KitError, KitItem
from hubsight.target.print_scale import check_print


def check_item(item: KitItem, kit: Kit) -> None:
    """Raise `KitError` for readings that cannot be right, and for a caliper that is not in the kit."""
    if isinstance(item, KitGauge):
        _check(item.length, "length", reader(GaugeTable, "length"))
        if item.diameter:
            _check(item.diameter, "diameter", reader(GaugeTable, "diameter"))
    elif isinstance(item, KitTarget):
        for refusal in check_print(item.bar_x, item.bar_y, item.paper).refusals:
            raise KitError(refusal.reason, refusal.remedy)
        _check(item.bar_x, "bar_x", reader(TargetTable, "bar_x"))
        _check(item.bar_y, "bar_y", reader(TargetTable, "bar_y"))
    elif isinstance(item, KitRim):
        _check_rim(item)
    if isinstance(item, KitGauge | KitTarget) and item.caliper is not None:
        kit.load("caliper", item.caliper)


def _check_rim(rim: KitRim) -> None:
    if rim.erd and (rim.rods or rim.gaps):
        raise KitError("the ERD is stated in two ways", "Keep the readings, or the rods and their gaps")
    _check((), "the ERD", lambda _: rim_erd(rim))
    _check((), "the nipple or washer", lambda _: fitting_of(rim))
    for name in ("offset", "hole_stagger"):
        if getattr(rim, name):
            _check(getattr(rim, name), name.replace("_", " "), reader(RimTable, name))
    if not rim.at:
        return
    if rim.holes is None or len(rim.at) != len(rim.diameters):
        what = f"{len(rim.at)} holes are named for {len(rim.diameters)} readings"
        raise KitError(what, "Name one --at for each reading, and how many --holes the rim has")
    if max(rim.at) > rim.holes:
        raise KitError(f"hole {max(rim.at)} is not on a rim of {rim.holes} holes", "Count from the valve on")


def _check(readings: Sequence[float], name: str, read: Callable[[object], object]) -> None:
    try:
        read(list(readings))
    except PydanticCustomError as error:
        what, _, remedy = error.message().partition(". ")
        raise KitError(f"{name}: {what}", remedy or "Measure again") from error
