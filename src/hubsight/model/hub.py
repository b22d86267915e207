"""The whole hub, measured: over-locknut and centre to flange of both sides."""

from __future__ import annotations

from typing import Literal

from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.stated import SideName

HubFigureName = Literal["over_locknut", "centre_to_flange_ds", "centre_to_flange_nds"]


CENTRE: dict[SideName, HubFigureName] = {
    "drive": "centre_to_flange_ds",
    "non_drive": "centre_to_flange_nds",
}


SIDE_WORDS: dict[SideName, str] = {"drive": "drive side", "non_drive": "non-drive side"}


FIGURE_WORDS: dict[HubFigureName, str] = {
    "over_locknut": "over-locknut",
    "centre_to_flange_ds": "centre to flange, drive side",
    "centre_to_flange_nds": "centre to flange, non-drive side",
}


class HubFigures(Frozen):
    """The whole hub, measured.

    Attributes
    ----------
    figures
        Combined over all photo sets that show them.
    standard
        Standard widths that the over-locknut fits; a name, never a correction.
    notes
        How the sets agree.
    warnings
        What does not go together.
    """

    figures: dict[HubFigureName, Figure]
    standard: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


class LyingMeasurement(Frozen):
    """A hub lying on its flanges, measured: figures by name, warnings, and the photos that were used."""

    figures: dict[HubFigureName, Figure]
    warnings: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
