"""A job file that names a drawer of the kit: what is in it goes into the job's tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hubsight.kit.drawer import KitDrawer, load_drawer
from hubsight.kit.store import Kit, KitError
from hubsight.model.result import KitUsed
from hubsight.wheel.lot import Lot


def put_drawer(tables: dict[str, Any], kit: Kit, complain: Callable[[str, str, str], None]) -> KitUsed | None:
    """Put the lots of the drawer that ``[spokes]`` names into that table; return which drawer it was."""
    spokes = tables.get("spokes")
    name = spokes.get("drawer") if isinstance(spokes, dict) else None
    if not isinstance(name, str) or not isinstance(spokes, dict):
        return None
    try:
        drawer, file = load_drawer(kit, name)
    except KitError as error:
        complain("spokes.drawer", error.what, error.remedy)
        return None
    if not spokes.get("lots"):
        spokes["lots"] = [lot.model_dump() for lot in drawer.lots]
    says = f"{drawer.spokes} spokes in {len(drawer.lots)} lengths, on {drawer.date}"
    return KitUsed(kind="drawer", name=name, file=str(file), says=says)


def lots_of(drawer: KitDrawer) -> tuple[Lot, ...]:
    """Return what is in a drawer, for a wheel to choose from."""
    return tuple(Lot(lot.length, lot.count, lot.wire, lot.head) for lot in drawer.lots)
