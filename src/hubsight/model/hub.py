"""The whole hub, measured: over-locknut and centre to flange of both sides."""

from __future__ import annotations

from hubsight.model.agreement import Question
from hubsight.model.catalogue import HubFigureName
from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.side import PhotoEvidence


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
    """A hub lying on its flanges, measured.

    ``evidence`` says what was seen in each of the photos that were used, ``placed_by_hand`` what a person
    placed in them, ``questions`` where that contradicts what was seen.
    """

    figures: dict[HubFigureName, Figure]
    warnings: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    evidence: tuple[PhotoEvidence, ...] = ()
    placed_by_hand: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
