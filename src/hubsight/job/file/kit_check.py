"""Whether a piece of kit can be right, before it is kept: by the rules by which jobs are judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pydantic_core import PydanticCustomError

from hubsight.job.file.from_kit import READ_BAR, READ_GAUGE
from hubsight.kit.model import KitGauge, KitTarget
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
    if isinstance(item, KitGauge | KitTarget) and item.caliper is not None:
        kit.load("caliper", item.caliper)


def _check(readings: Sequence[float], name: str, read: Callable[[object], object]) -> None:
    try:
        read(list(readings))
    except PydanticCustomError as error:
        what, _, remedy = error.message().partition(". ")
        raise KitError(f"{name}: {what}", remedy or "Measure again") from error
