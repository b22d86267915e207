"""What an alternative changes of a job's wheel, put into the job file's tables."""

from __future__ import annotations

import copy
from typing import Any

from hubsight.job.file.rim_of_kit import ERD_WAYS

Table = dict[str, Any]

WHEEL_TABLES = ("rim", "wheel", "spokes", "nipple")
"""Tables of the job file that describe the wheel and not the hub."""
SIDE_FIELDS = ("crosses", "wire", "segments", "blade", "rim_holes", "rim_holes_period", "first_hole")
"""Fields of ``[sides.SIDE]`` that describe the wheel and not the hub."""
RIM_FIELDS = (*ERD_WAYS, "washer", "correction", "offset", "mass")
"""Fields of ``[rim]`` that change by themselves, the rim staying the same."""
WIRE_FIELDS = ("wire", "segments", "blade")
"""Fields that state a spoke's wire together."""
STOCK_FIELDS = ("stock_step", "stock_lengths", "cut_to_order")
"""Fields that state together which lengths can be had."""


def changed(raw: Table, changes: Table) -> Table:
    """Return a job file's tables with an alternative's changes.

    Parameters
    ----------
    raw
        The job file as TOML gives it.
    changes
        Tables of `WHEEL_TABLES` and ``sides``, and the table ``this_rim`` of single fields of the rim. A
        table ``rim`` and a table ``nipple`` stand for another rim and another nipple: nothing of the job's is
        kept. What is stated for the whole wheel holds for both sides.

    Notes
    -----
    Fields that belong together go together: another way to state the ERD, another wire, another stock take
    the place of the job's.
    """
    tables = copy.deepcopy(raw)
    for name in ("rim", "nipple"):
        if name in changes:
            tables[name] = copy.deepcopy(changes[name])
    if "this_rim" in changes:
        rim = tables.get("rim", {})
        tables["rim"] = _put({"kit": rim} if isinstance(rim, str) else rim, changes["this_rim"])
    sides = tables.get("sides", {})
    for name in ("wheel", "spokes"):
        if name in changes:
            tables[name] = _put(tables.get(name, {}), changes[name])
            for side in sides.values():
                _drop(side, _together(changes[name], (*WIRE_FIELDS, "crosses")))
    for name, stated in changes.get("sides", {}).items():
        sides[name] = _put(sides[name], stated)
    return tables


def _put(table: Table, stated: Table) -> Table:
    """Return a table with fields that are stated now, without those whose place they take."""
    kept = dict(table)
    _drop(kept, _together(stated, tuple(kept)))
    return kept | copy.deepcopy(stated)


def _together(stated: Table, among: tuple[str, ...]) -> set[str]:
    """Return which of some fields go when others are stated."""
    gone = set(stated)
    for group in (ERD_WAYS, WIRE_FIELDS, STOCK_FIELDS):
        if gone & set(group):
            gone |= set(group)
    return gone & set(among)


def _drop(table: Table, fields: set[str]) -> None:
    for field in fields:
        table.pop(field, None)
