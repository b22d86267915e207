"""The state of one job on the page: its photos, what is being done, what came out, and what was corrected."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from hubsight.model.hub import LyingMeasurement
from hubsight.model.result import MeasuredSide
from hubsight.model.side import PhotoEvidence
from hubsight.model.stated import SetName, SideName
from hubsight.page.history import History
from hubsight.page.jobs import PhotoFile
from hubsight.page.looking import Looked
from hubsight.page.measuring import Outcome
from hubsight.page.stated import hub_of
from hubsight.show.canvas import Window


@dataclass
class PhotoState:
    """One photo on the page.

    Attributes
    ----------
    file
        Where it is.
    owner
        Session of the phone that sent it; empty for the laptop's own.
    looked
        None while it is being looked at, or waits for that.
    failed
        Why it could not be looked at.
    glanced
        Its size and orientation, where it is shown before it is looked at.
    """

    file: PhotoFile
    owner: str = ""
    looked: Looked | None = None
    failed: str = ""
    glanced: Looked | None = None

    @property
    def shown(self) -> Looked | None:
        """What tells how to draw over it: the first look, or the glance before it."""
        return self.looked if self.looked is not None or self.glanced is None else self.glanced

    @property
    def trouble(self) -> str:
        """Why it cannot be used; empty if it can."""
        refusal = None if self.looked is None else self.looked.refusal
        return self.failed if refusal is None else refusal.model_copy(update={"photo": None}).sentence()


@dataclass
class JobState:
    """One job on the page.

    Attributes
    ----------
    id, folder
        Its identifier and place.
    version
        Rises with every change that the page should show.
    photos
        By identifier.
    outcome, before
        Of the last measuring, and of the one before the last correction, to show how the figures move.
    exact
        The last outcome that is not provisional; None while a job is measured from its beginning.
    doing
        What is being done, in words; empty when nothing is.
    history
        What was corrected, to be taken back and done again.
    reported
        Whether the record, and so the report, is of the outcome.
    of_now
        Whether nothing that the outcome rests on was changed since.
    measured_at
        When the outcome was measured; None if it never was.
    restated
        Whether something else was stated while this was being measured.
    turn
        Corrections are taken one after the other.
    settling
        The exact look that follows provisional figures.
    recalled
        Whether the outcome is one that was kept: no photo was looked at for it since the page was opened.
    cuts
        Close-ups on the wall: by name the photo and the window of it.
    """

    id: str
    folder: Path
    version: int = 1
    photos: dict[str, PhotoState] = field(default_factory=dict)
    outcome: Outcome | None = None
    before: Outcome | None = None
    exact: Outcome | None = None
    doing: str = ""
    history: History = field(default_factory=History)
    reported: bool = False
    of_now: bool = True
    measured_at: datetime | None = None
    restated: bool = False
    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    settling: asyncio.Task[None] | None = None
    recalled: bool = False
    cuts: dict[str, tuple[Path, Window]] = field(default_factory=dict)

    @property
    def hub(self) -> str:
        """The job that this job's hub is measured in; empty if it is its own."""
        return hub_of(self.folder)

    def changed(self) -> None:
        """Say that there is something new to show."""
        self.version += 1

    def side_photos(self, side: SetName) -> list[PhotoState]:
        """Return a set's photos in the order of their names."""
        own = [p for p in self.photos.values() if p.file.side == side]
        return sorted(own, key=lambda p: p.file.path.name)

    def evidence(self, photo: PhotoState) -> PhotoEvidence | None:
        """Return what the last measuring saw in a photo; None where it was left out."""
        side = photo.file.side
        if side == "lying":
            return next((e for e in self.lying_evidence if e.file == photo.file.path.name), None)
        measured = self.measured_side(side)
        found = None if measured is None else measured.measurement
        refused = () if self.outcome is None else self.outcome.refused_photos.get(side, ())
        photos = refused if found is None else found.photos
        return next((e for e in photos if e.file == photo.file.path.name), None)

    @property
    def lying(self) -> LyingMeasurement | None:
        """The lying hub, measured."""
        measured = None if self.outcome is None else self.outcome.measured
        return None if measured is None or measured.lying is None else measured.lying.measurement

    @property
    def lying_evidence(self) -> tuple[PhotoEvidence, ...]:
        """What the last measuring saw in photos of the lying hub."""
        return () if self.lying is None else self.lying.evidence

    def measured_side(self, side: SideName, *, before: bool = False) -> MeasuredSide | None:
        """Return a side's outcome."""
        outcome = self.before if before else self.outcome
        if outcome is None or outcome.measured is None:
            return None
        return next((s for s in outcome.measured.sides if s.name == side), None)
