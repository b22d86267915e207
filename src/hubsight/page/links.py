"""Where on the page something is: the step, the field, or the place in a photo that a sentence is about."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from hubsight.model.stated import SIDES, SideName
from hubsight.model.verdict import Reason
from hubsight.page.fields import (
    FIRST_GAUGE,
    SECOND_GAUGE,
    SHEET,
    SPOKES,
    TYPED,
    WHEEL,
    WHEEL_MORE,
    known_fields,
    label_fields,
    side_fields,
)
from hubsight.page.state import JobState

Place = Literal["end", "bosses", ""]
PLACES: dict[str, Place] = {
    "protrusion": "end",
    "reach": "end",
    "spoke_offset": "end",
    "spoke_offset_by_width": "end",
    "gauge_end": "end",
    "boss_width": "bosses",
    "boss_width_across": "bosses",
    "flange_diameter": "bosses",
}
"""Where in a photo a figure is to be looked at."""
_FILE = re.compile(r"[\w. -]*\w\.(?:jpe?g|png|tiff?|hei[cf])", re.IGNORECASE)
"""Name of a photo in a sentence."""


@dataclass(frozen=True)
class Link:
    """A place on the page.

    Attributes
    ----------
    step
        Its step.
    field
        Identifier of the input there; empty if none is meant.
    photo, at
        The photo to show, and where in it to look.
    """

    step: str
    field: str = ""
    photo: str = ""
    at: Place = ""


def field_id(name: str, prefix: str = "f") -> str:
    """Return the identifier of a field's input."""
    return f"{prefix}-{name.replace('.', '-')}"


ELSEWHERE = {
    "gauges": Link("sheet", field_id(f"gauges.{FIRST_GAUGE}.tip")),
    "crosses": Link("wheel", field_id("wheel.crosses")),
    "spoke_length": Link("wheel"),
}
"""What is typed elsewhere than its side's other fields."""


def link_of_field(name: str) -> Link | None:
    """Return where a field is typed; None for one that the page does not have."""
    gauge = name.split(".")[1] if name.startswith("gauges.") and name.count(".") > 1 else FIRST_GAUGE
    if name not in known_fields((gauge,), SECOND_GAUGE):
        return None
    if any(f.name == name for f in (*SHEET, *label_fields())) or name.startswith("gauges."):
        return Link("sheet", field_id(name))
    if any(f.name == name for f in (*WHEEL, *WHEEL_MORE, *SPOKES)):
        return Link("wheel", field_id(name))
    if ".caliper." in name:
        return Link("figures", field_id(name, "c"))
    on_photos = any(f.name == name for side in SIDES for f in side_fields(side)) or name.endswith(".gauges")
    return Link("photos", field_id(name, "p")) if on_photos else None


def link_of(reason: Reason, state: JobState) -> Link:
    """Return where to look, or to type, for a reason of the verdict."""
    parts = reason.about.split(".")
    if parts[0] == "sides":
        parts = parts[1:]
    side = next((side for side in SIDES if side == parts[0]), None)
    if side is None:
        return _of_job(reason, state)
    what = ".".join(parts[1:])
    shown = _named_photo(state, side, reason)
    if shown is not None:
        return Link("look", photo=shown, at=PLACES.get(what, ""))
    return _of_side(side, what.removeprefix("caliper."), state)


def _of_side(side: SideName, what: str, state: JobState) -> Link:
    """Return where to type or to look for something of a side of which no photo is named."""
    first = next((photo.file.id for photo in state.side_photos(side)), "")
    if what in TYPED:
        return Link("figures", field_id(f"sides.{side}.caliper.{what}", "c"))
    if what in PLACES or what.startswith("photos"):
        return Link("look", photo=first, at=PLACES.get(what, ""))
    return link_of_field(f"sides.{side}.{what}") or ELSEWHERE.get(what, Link("figures"))


def _of_job(reason: Reason, state: JobState) -> Link:
    """Return where to type or to look for something of the job as a whole."""
    about = "target.bar_x" if reason.about == "target" else reason.about
    shown = (found for side in SIDES if (found := _named_photo(state, side, reason)) is not None)
    field, photo = link_of_field(about), next(shown, None)
    if field is not None:
        return field
    if photo is not None:
        return Link("look", photo=photo)
    step = {"rim": "wheel", "wheel": "wheel", "spokes": "wheel", "nipple": "wheel", "gauges": "sheet"}
    return Link(step.get(about.partition(".")[0], "figures"))


def _named_photo(state: JobState, side: SideName, reason: Reason) -> str | None:
    """Return the first of a side's photos that a reason names."""
    own = {photo.file.path.name: photo.file.id for photo in state.side_photos(side)}
    named = (*(name for name in own if reason.about.endswith(name)), *_FILE.findall(reason.sentence))
    for name in named:
        if name.strip() in own:
            return own[name.strip()]
    return next((known for name, known in own.items() if name in reason.sentence), None)
