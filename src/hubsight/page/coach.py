"""What the phone shows: the sheet with the places taken and the next one wanted, each photo's sentence."""

from __future__ import annotations

from typing import Any

from hubsight.measure.first_look import FirstLook, next_place, place_of, still_missing
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.corrections import NO_CORRECTIONS
from hubsight.model.stated import SIDES, SideName
from hubsight.page.state import JobState, PhotoState
from hubsight.page.view import first_drawing

GOOD = "Good: target and gauge are seen."
"""What the phone shows where nothing could be better."""


def coached(job: JobState, side: SideName, owner: str) -> dict[str, object]:
    """Return all that the phone shows of one side.

    Parameters
    ----------
    job, side
        What is photographed.
    owner
        The phone's session: it sees its own photos, and the places of all.
    """
    looks = _looks(job, side)
    wanted = next_place(looks)
    missing = still_missing(looks)
    return {
        "job": job.folder.resolve().name,
        "side": side,
        "sides": [
            {
                "name": name,
                "words": SIDE_WORDS[name],
                "photos": len(job.side_photos(name)),
                "complete": not still_missing(_looks(job, name)),
            }
            for name in SIDES
        ],
        "taken": [place_of(look).model_dump() for look in looks],
        "wanted": None if wanted is None else wanted.model_dump(),
        "missing": missing,
        "photos": [_told(photo) for photo in job.side_photos(side) if photo.owner == owner],
    }


def _looks(job: JobState, side: SideName) -> list[FirstLook]:
    found = (p.looked.look for p in job.side_photos(side) if p.looked is not None)
    return [look for look in found if look is not None]


def _told(photo: PhotoState) -> dict[str, Any]:
    """Return what the phone shows of one photo: its state, one sentence, and what was seen in it."""
    looked, trouble = photo.looked, photo.trouble
    look = None if looked is None else looked.look
    told: dict[str, Any] = {"id": photo.file.id, "state": "looking", "sentence": "Being looked at …"}
    if trouble:
        return told | {"state": "trouble", "sentence": trouble}
    if looked is None or look is None:
        return told
    drawing = first_drawing(looked, photo.file.path.name, NO_CORRECTIONS, 0)
    better = look.better[0] if look.better else ""
    return told | {
        "state": "better" if better else "good",
        "sentence": f"{better[:1].upper()}{better[1:]}." if better else GOOD,
        "seen": drawing.model_dump(include={"width", "height", "corners", "gauges", "ends"}),
    }
