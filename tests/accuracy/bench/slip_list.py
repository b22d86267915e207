"""The slips of statement, photo and hand that the bench plants, one at a time, in a careful job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

from bench.careful import Case, Table
from bench.corpus import SIDES, Hub, Side
from bench.spoil import MARKED_PHOTO, MARKS, marked, painted_end

Kind = Literal["statement", "photo", "hand"]
Plant = Callable[[Case, Side], "Case | None"]
"""Plants a slip in a case, on one side; None where the case has nothing to spoil so."""


@dataclass(frozen=True)
class Slip:
    """One slip.

    Attributes
    ----------
    name, kind
        What it is.
    plant
        See `Plant`.
    about
        Beginnings of the paths that name it, ``{side}``, ``{gauge}`` and ``{marked}`` (the photo with a mark)
        standing for the case's own. A reason about one of them names the slip.
    contradicted
        Whether a reading or photo of a careful job contradicts it. Nothing contradicts a gauge's length that
        is read wrong every time: photos and caliper measure from the same end.
    """

    name: str
    kind: Kind
    plant: Plant
    about: tuple[str, ...]
    contradicted: bool = True

    def names(self, about: str, side: Side) -> bool:
        """Tell whether a reason about this path names the slip."""
        own = {
            "side": SIDES[side.side],
            "gauge": f"{side.side}0",
            "marked": side.photos[MARKED_PHOTO].name,
        }
        return any(about.startswith(beginning.format(**own)) for beginning in self.about)


def _changed(value: Any, change: Callable[[float], float]) -> Any:
    """Apply a change to a reading, or to each of several."""
    if isinstance(value, list):
        return [round(change(float(one)), 2) for one in value]
    return round(change(float(value)), 2)


def _reading(path: tuple[str, ...], change: Callable[[float], float], case: Case, side: Side) -> Case | None:
    own = {"side": SIDES[side.side], "gauge": f"{side.side}0"}
    where = [key.format(**own) for key in path]
    value = case.at(*where)
    return None if value in (None, []) else case.with_table(*where, _changed(value, change))


def _set(path: tuple[str, ...], value: Any, case: Case, side: Side) -> Case:
    own = {"side": SIDES[side.side], "gauge": f"{side.side}0"}
    return case.with_table(*(key.format(**own) for key in path), value)


def _bars(share: float, axes: str, case: Case, _side: Side) -> Case:
    for axis in axes:
        value = case.at("target", f"bar_{axis}")
        case = case.with_table("target", f"bar_{axis}", _changed(value, lambda v: v * (1 + share)))
    return case


def _bars_exchanged(case: Case, _side: Side) -> Case | None:
    x, y = case.at("target", "bar_x"), case.at("target", "bar_y")
    if abs(sum(x) - sum(y)) / len(x) < LEAST_EXCHANGE_MM:
        return None
    return case.with_table("target", "bar_x", y).with_table("target", "bar_y", x)


LEAST_EXCHANGE_MM = 0.3
"""Bars nearer to one another than this are as good exchanged."""


def _transposed(value: float) -> float:
    """Exchange the last digit before the point and the first after it."""
    text = f"{value:.2f}"
    point = text.index(".")
    return float(text[: point - 1] + text[point + 1] + "." + text[point - 1] + text[point + 2 :])


def _other_tip(case: Case, side: Side) -> Case:
    tip = case.at("gauges", f"{side.side}0", "tip")
    return case.with_table("gauges", f"{side.side}0", "tip", "nipple" if tip == "flat" else "flat")


def _no_block(case: Case, side: Side) -> Case | None:
    path = ("sides", SIDES[side.side], "block_thickness")
    return case.with_table(*path, 0.0) if case.at(*path) else None


def _block(by: float, case: Case, side: Side) -> Case | None:
    path = ("sides", SIDES[side.side], "block_thickness")
    thickness = case.at(*path)
    return case.with_table(*path, thickness + by) if thickness else None


def _centre(change: Callable[[Hub, Side], float | None], case: Case, side: Side) -> Case | None:
    value = change(case.hub, side)
    return None if value is None else case.with_table("sides", SIDES[side.side], "centre_to_flange", value)


def _w(hub: Hub, side: Side) -> float:
    return float(side.truth_file["hub"]["sides"][side.side]["w"])


def _other_w(hub: Hub, side: Side) -> float | None:
    sides = side.truth_file["hub"]["sides"]
    other = next((float(one["w"]) for name, one in sides.items() if name != side.side), None)
    return other if other is not None and abs(other - _w(hub, side)) > LEAST_OTHER_MM else None


LEAST_OTHER_MM = 3.0
"""Sides whose flanges lie less apart from the centre are as good exchanged."""


def _from_locknut(hub: Hub, side: Side) -> float:
    return round(side.truth_file["hub"]["OLD"] / 2 - _w(hub, side), 2)


def _crosses(by: int, case: Case, side: Side) -> Case | None:
    if side.kind != "paired" or side.crosses + by < 0:
        return None
    return case.with_table("sides", SIDES[side.side], "crosses", side.crosses + by)


def _spokes(case: Case, _side: Side) -> Case | None:
    spokes = case.at("wheel", "spokes")
    return None if spokes is None else case.with_table("wheel", "spokes", spokes + 4)


def _no_row(case: Case, side: Side) -> Case | None:
    if not case.at("rim", "holes"):
        return None
    return case.with_table("rim", "holes", None).with_table("sides", SIDES[side.side], "first_hole", None)


def _first_hole(case: Case, side: Side) -> Case | None:
    first = case.at("sides", SIDES[side.side], "first_hole")
    if first is None or side.kind != "paired":
        return None
    return case.with_table("sides", SIDES[side.side], "first_hole", 1 - first)


def _sides_exchanged(case: Case, _side: Side) -> Case | None:
    if len(case.photos) < 2:
        return None
    drive, non_drive = (case.table["sides"][name] for name in ("drive", "non_drive"))
    keep: Callable[[Table, Table], Table] = lambda own, photos: {  # noqa: E731 - three words, used twice
        **own,
        "photos": photos["photos"],
        "gauges": photos["gauges"],
        "block_thickness": photos["block_thickness"],
    }
    case = case.with_table("sides", {"drive": keep(drive, non_drive), "non_drive": keep(non_drive, drive)})
    swapped = {
        "drive": [f"drive/{name}" for name in case.photos["non_drive"]],
        "non_drive": [f"non_drive/{name}" for name in case.photos["drive"]],
    }
    for name, photos in swapped.items():
        case = case.with_table("sides", name, "photos", photos)
    photos = {"drive": case.photos["non_drive"], "non_drive": case.photos["drive"]}
    return replace(case, photos=photos)


def _photo_of_the_other_side(case: Case, side: Side) -> Case | None:
    """Put the other side's second photo among this side's."""
    own, others = SIDES[side.side], [name for name in case.photos if name != SIDES[side.side]]
    if not others or len(case.photos[own]) < 2:
        return None
    stranger = list(case.photos[others[0]].values())[1]
    name = list(case.photos[own])[1]
    return replace(case, photos={**case.photos, own: {**case.photos[own], name: stranger}})


def _painted(count: int, case: Case, side: Side) -> Case | None:
    return painted_end(case, side, count)


def _second_gauge(case: Case, side: Side) -> Case | None:
    if len(case.at("sides", SIDES[side.side], "gauges")) != 1:
        return None
    gauge = f"{side.side}0"
    case = case.with_table("gauges", "second", case.at("gauges", gauge))
    return case.with_table("sides", SIDES[side.side], "gauges", [gauge, "second"])


BARS = ("target.bar", "target")
GAUGE = ("gauges.",)
CENTRE = ("sides.{side}.centre_to_flange", "{side}.centre_to_flange", "{side}.caliper.centre_to_flange")
BLOCK = ("sides.{side}.block_thickness", "{side}.block_thickness")
PHOTOS = ("{side}.",)
MARKED = ("{side}.photos.{marked}",)


def caliper(reading: str) -> tuple[str, ...]:
    """Return the paths by which a caliper reading is named, itself or the figure that it compares with."""
    return tuple(start + reading for start in ("sides.{side}.caliper.", "{side}.caliper.", "{side}."))


SLIPS: tuple[Slip, ...] = (
    *(
        Slip(f"both bars {share:.1%} too large", "statement", partial(_bars, share, "xy"), BARS)
        for share in (0.004, 0.008, 0.015)
    ),
    Slip("bar along x 1.0% too large", "statement", partial(_bars, 0.01, "x"), BARS),
    Slip("bar along y 1.0% too large", "statement", partial(_bars, 0.01, "y"), BARS),
    Slip("bars exchanged", "statement", _bars_exchanged, BARS),
    *(
        Slip(
            f"gauge length {by:+.1f}",
            "statement",
            partial(_reading, ("gauges", "{gauge}", "length"), lambda v, by=by: v + by),
            GAUGE,
            False,
        )
        for by in (1.0, -1.0, 0.3)
    ),
    Slip(
        "gauge length transposed",
        "statement",
        partial(_reading, ("gauges", "{gauge}", "length"), _transposed),
        GAUGE,
        False,
    ),
    Slip(
        "gauge length nominal",
        "statement",
        partial(_reading, ("gauges", "{gauge}", "length"), lambda _: 100.0),
        GAUGE,
        False,
    ),
    Slip("wrong tip kind", "statement", _other_tip, ("gauges.", "{side}.gauges")),
    Slip("block forgotten", "statement", _no_block, BLOCK),
    Slip("block 1 mm too thick", "statement", partial(_block, 1.0), BLOCK, False),
    *(
        Slip(
            f"over-locknut {by:+.0f}",
            "statement",
            partial(_reading, ("hub", "over_locknut"), lambda v, by=by: v + by),
            ("hub.over_locknut",),
        )
        for by in (2.0, 5.0)
    ),
    Slip(
        "over-locknut halved",
        "statement",
        partial(_reading, ("hub", "over_locknut"), lambda v: v / 2),
        ("hub.over_locknut",),
    ),
    Slip(
        "centre to flange +2",
        "statement",
        partial(_centre, lambda hub, side: round(_w(hub, side) + 2.0, 2)),
        CENTRE,
    ),
    Slip("centre to flange of the other side", "statement", partial(_centre, _other_w), CENTRE),
    Slip("centre to flange from the locknut", "statement", partial(_centre, _from_locknut), CENTRE),
    *(
        Slip(
            f"ERD {by:+.0f}",
            "statement",
            partial(_reading, ("rim", "erd"), lambda v, by=by: v + by),
            ("rim.erd",),
            False,
        )
        for by in (1.0, 10.0)
    ),
    Slip("one cross too many", "statement", partial(_crosses, 1), ("sides.{side}.crosses", "wheel.crosses")),
    Slip("one cross too few", "statement", partial(_crosses, -1), ("sides.{side}.crosses", "wheel.crosses")),
    Slip("four spokes too many", "statement", _spokes, ("wheel.spokes",)),
    Slip("row of rim holes missing", "statement", _no_row, ("rim.holes", "{side}.")),
    Slip("first hole wrong", "statement", _first_hole, ("sides.{side}.first_hole", "rim.holes")),
    Slip("wrong paper", "statement", partial(_set, ("target", "paper"), "letter"), ("target.paper",)),
    Slip(
        "boss width halved",
        "statement",
        partial(_reading, ("sides", "{side}", "caliper", "boss_width"), lambda v: v / 2),
        caliper("boss_width"),
    ),
    Slip(
        "protrusion +1",
        "statement",
        partial(_reading, ("sides", "{side}", "caliper", "protrusion"), lambda v: v + 1.0),
        caliper("protrusion"),
    ),
    Slip(
        "flange diameter to the bosses' outside",
        "statement",
        partial(_reading, ("sides", "{side}", "caliper", "flange_diameter"), lambda v: v + 7.0),
        caliper("flange_diameter"),
    ),
    Slip(
        "radius for the diameter",
        "statement",
        partial(_reading, ("sides", "{side}", "caliper", "flange_diameter"), lambda v: v / 2),
        caliper("flange_diameter"),
    ),
    Slip("sides exchanged", "photo", _sides_exchanged, ("sides", "drive", "non_drive", "hub")),
    Slip("a photo of the other side", "photo", _photo_of_the_other_side, PHOTOS),
    *(
        Slip(f"gauge end painted away in {count}", "photo", partial(_painted, count), PHOTOS)
        for count in (1, 2, 3)
    ),
    Slip("two gauges stated for one", "statement", _second_gauge, ("sides.{side}.gauges", "{side}.")),
    *(
        Slip(f"mark on the {handle} {px} px off", "hand", partial(marked, handle, px), MARKED)
        for handle in MARKS
        for px in (5, 10, 30)
    ),
)
