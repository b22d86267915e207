"""A photo of a hub that is in its wheel: no spoke length comes from it, and why."""

from __future__ import annotations

from pathlib import Path

from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName
from hubsight.photo import load_photo
from hubsight.target.find import find_target, grey
from hubsight.target.geometry import target_geometry
from hubsight.wheel.neighbours import HAND_ROUTE


def photo_in_wheel(photo: Path, paper: PaperName = "a4") -> Refusal:
    """Return why a photo of a hub in its wheel gives no spoke length, and what to measure by hand.

    Parameters
    ----------
    photo
        Its file.
    paper
        That the target is printed on.
    """
    loaded = load_photo(photo)
    if isinstance(loaded, Refusal):
        return loaded.model_copy(update={"remedy": f"{loaded.remedy.rstrip('.')}. {HAND_ROUTE}"})
    found = find_target(grey(loaded.pixels), target_geometry(paper))
    if isinstance(found, Refusal):
        reason = "no target is seen in it, so that it has no scale; and head seats and ends lie hidden anyway"
    else:
        reason = (
            "the target lies beside the hub, not under it: it gives the scale of the paper, not of a spoke "
            "above"
            " it; head seats lie inside their bosses and ends inside their nipples, where no photo reaches"
        )
    return Refusal(reason=reason, remedy=HAND_ROUTE, photo=photo.name)
