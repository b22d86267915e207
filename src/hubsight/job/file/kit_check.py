"""Whether a piece of kit can be right, before it is kept: by the rules by which jobs are judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from pydantic_core import PydanticCustomError

from hubsight.job.file.from_kit import READ_BAR, READ_GAUGE
from hubsight.job.file.readings import RIM_OFFSET, SMALL_DISTANCE, read_reading
from hubsight.job.file.rim_of_kit import fitting_of, rim_erd
from hubsight.kit.model import KitGauge, KitRim, KitTarget
from hubsight.kit.store import Kit, KitError, KitItem
from hubsight.target.print_scale import check_print


def check_item(item: KitItem, kit: Kit) -> None:
    """Raise `KitError` for readings that cannot be right, and for a caliper that is not in the kit."""
    if isinstance(item, KitGauge):
        _check(item.length, "length", READ_GAUGE["length"])
        if item.diameter:
            _check(item.diameter, "diameter", READ_GAUGE["diameter"])
    elif isinstance(item, KitTarget):
        for refusal in check_print(item.bar_x, item.bar_y, item.paper).refusals:
            raise KitError(refusal.reason, refusal.remedy)
        for bar, read in READ_BAR.items():
            _check(getattr(item, bar), bar, read)
    elif isinstance(item, KitRim):
        _check_rim(item)
    if isinstance(item, KitGauge | KitTarget) and item.caliper is not None:
        kit.load("caliper", item.caliper)


def _check_rim(rim: KitRim) -> None:
    if rim.erd and (rim.rods or rim.gaps):
        raise KitError("the ERD is stated in two ways", "Keep the readings, or the rods and their gaps")
    _check((), "the ERD", lambda _: rim_erd(rim))
    _check((), "the nipple or washer", lambda _: fitting_of(rim))
    for name, kind in (("offset", RIM_OFFSET), ("hole_stagger", SMALL_DISTANCE)):
        if getattr(rim, name):
            _check(getattr(rim, name), name.replace("_", " "), partial(read_reading, kind=kind))
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
