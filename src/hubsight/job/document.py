"""The one JSON document of a job's measurement. Lengths in mm; photo names as in the job folder."""

from __future__ import annotations

from typing import Literal

from hubsight.job.double_check import Check
from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.hub import HubFigures, LyingMeasurement
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import SideName

SCHEMA_VERSION: Literal[1] = 1
"""Raised whenever a reader of the old document would misread the new one."""


class Software(Frozen):
    """Versions of what computed the document."""

    hubsight: str
    python: str
    numpy: str
    opencv: str
    scipy: str


class KitUsed(Frozen):
    """A piece of kit that the job used.

    Attributes
    ----------
    kind, name, file
        What it is, its name, and where it was read.
    says
        What it says, in a few words.
    how
        How the job came by it, where it does not name it.
    """

    kind: Literal["gauge", "target", "caliper", "camera"]
    name: str
    file: str
    says: str
    how: str = ""

    def sentence(self) -> str:
        """Return it as the user reads it."""
        kind = {"camera": "camera profile"}.get(self.kind, self.kind)
        return f'{kind} "{self.name}": {self.says}{f" ({self.how})" if self.how else ""}'


class FlatReport(Frozen):
    """What photos of a ruler on the sheet said of the print.

    Attributes
    ----------
    photos
        Those used.
    scale, u
        Printed over nominal length along the ruler, and its standard uncertainty.
    sentences
        What it means; how it goes with the check bars.
    refusal
        Why it could not be used, if it could not.
    """

    photos: tuple[str, ...] = ()
    scale: float | None = None
    u: float | None = None
    sentences: tuple[str, ...] = ()
    refusal: Refusal | None = None


class DirectionLength(Frozen):
    """Length of one sort of spoke of a side: through one of the bores, or to one sort of rim hole."""

    bore: Literal["mean", "outer", "inner"]
    count: int
    length: Figure


class SpokeLengths(Frozen):
    """Spoke lengths of one side.

    Attributes
    ----------
    length
        Mean over the side's spokes, with its uncertainty.
    directions
        Every sort of spoke that differs.
    spokes
        Of the whole wheel.
    crosses
        Not counting the crossing inside the boss.
    crosses_stated
        False when the crosses were read off the photos.
    centre_to_flange
        Stated, or from the flange's height and the over-locknut length.
    warnings
        Sentences that the user has to read before cutting or ordering.
    """

    length: Figure
    directions: tuple[DirectionLength, ...]
    spokes: int
    crosses: int
    crosses_stated: bool
    centre_to_flange: Figure
    warnings: tuple[str, ...] = ()


class RepeatedSet(Frozen):
    """A further photo set of a side: exactly one of measurement and refusal is given."""

    photos: tuple[str, ...]
    measurement: SideMeasurement | None = None
    refusal: Refusal | None = None


class MeasuredSide(Frozen):
    """One side of the job: what was measured, or why not.

    Attributes
    ----------
    name, photos
        As stated.
    measurement, refusal
        Exactly one of them is given.
    spoke_lengths, spoke_lengths_refusal
        At most one of them; none when the job states no rim.
    repeated
        Further photo sets of the side, in their order; their figures are combined with the measurement's.
    caliper_checks
        Every caliper reading of the job beside the photos' figure.
    seconds
        Time that measuring took.
    """

    name: SideName
    photos: tuple[str, ...]
    measurement: SideMeasurement | None = None
    refusal: Refusal | None = None
    spoke_lengths: SpokeLengths | None = None
    spoke_lengths_refusal: Refusal | None = None
    repeated: tuple[RepeatedSet, ...] = ()
    caliper_checks: tuple[Check, ...] = ()
    seconds: float = 0.0

    @property
    def complete(self) -> bool:
        """Whether nothing of this side was refused."""
        return (
            self.measurement is not None
            and not self.measurement.refusals
            and self.spoke_lengths_refusal is None
        )


class LyingReport(Frozen):
    """What the photos of the lying hub say: exactly one of measurement and refusal is given."""

    photos: tuple[str, ...]
    measurement: LyingMeasurement | None = None
    refusal: Refusal | None = None


class JobMeasurement(Frozen):
    """A job, measured.

    Attributes
    ----------
    job
        The job's name.
    sides
        In the order of the job file.
    warnings
        That concern the job as a whole.
    kit
        What was taken from the kit, the camera's profile included.
    flat
        What a ruler on the sheet said, if there was one.
    lying
        The hub lying on its flanges, if the job has photos of it.
    hub
        The whole hub, from all its photo sets.
    """

    schema_version: Literal[1] = SCHEMA_VERSION
    job: str
    sides: tuple[MeasuredSide, ...]
    warnings: tuple[str, ...] = ()
    kit: tuple[KitUsed, ...] = ()
    flat: FlatReport | None = None
    lying: LyingReport | None = None
    hub: HubFigures | None = None
    software: Software

    @property
    def complete(self) -> bool:
        """Whether every side was measured and nothing refused."""
        lying = self.lying is None or self.lying.refusal is None
        return lying and all(side.complete for side in self.sides)
