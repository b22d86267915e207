"""The one result of a job: what the photos show, what compares with it, the planned wheel, and the verdict.

Lengths in mm; photo names as in the job folder.
"""

from __future__ import annotations

from typing import Literal

from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.hub import HubFigures, LyingMeasurement
from hubsight.model.joint import JointTest
from hubsight.model.lengths import OrderLine, PlannedWheel, SideLengths
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import ScaleAlong, SideName
from hubsight.model.verdict import NOT_JUDGED, Verdict

SCHEMA_VERSION: Literal[2] = 2
"""Raised whenever a reader of the old document would misread the new one."""

Agreement = Literal["agrees", "undecided", "doubt", "disagrees"]


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

    kind: Literal["gauge", "target", "caliper", "camera", "rim", "drawer"]
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
    warnings
        What may be wrong with it.
    along, bar_factor
        How it enters with the check bars: itself, and the factor by which their uncertainty grows.
    rests_on
        Fingerprint of photos, statements and program; empty where it was not taken.
    """

    photos: tuple[str, ...] = ()
    scale: float | None = None
    u: float | None = None
    sentences: tuple[str, ...] = ()
    refusal: Refusal | None = None
    warnings: tuple[str, ...] = ()
    along: ScaleAlong | None = None
    bar_factor: float = 1.0
    rests_on: str = ""


class LyingReport(Frozen):
    """What the photos of the lying hub say: exactly one of measurement and refusal is given.

    ``rests_on`` is a fingerprint of photos, statements and program; empty where it was not taken.
    """

    photos: tuple[str, ...]
    measurement: LyingMeasurement | None = None
    refusal: Refusal | None = None
    rests_on: str = ""


class Check(Frozen):
    """One caliper reading, compared with the photos' figure of the same name.

    Attributes
    ----------
    side, reading
        Which side, and which figure by name.
    stated, photo
        The reading and the photos' figure.
    e_n, verdict
        Normalised error and what it means.
    slip
        The slip that explains the difference, if one does.
    sentence
        All of it in plain words.
    """

    side: SideName
    reading: str
    stated: float
    photo: float
    e_n: float
    verdict: Agreement
    slip: str | None
    sentence: str


class HandResult(Frozen):
    """A result by hand, computed again from its raw readings; see `hubsight.wheel.manual.Redone`."""

    side: SideName
    quantity: str
    value: float
    u: float
    stated: float | None
    agrees: bool
    slip: str | None
    sentence: str


class RepeatedSet(Frozen):
    """A further photo set of a side: exactly one of measurement and refusal is given."""

    photos: tuple[str, ...]
    measurement: SideMeasurement | None = None
    refusal: Refusal | None = None


class MeasuredSide(Frozen):
    """One side of the job: what was measured and what follows, or why not.

    Attributes
    ----------
    name, photos
        As stated; no photos where the side is known from readings by hand alone.
    measurement, refusal
        Exactly one of them is given where there are photos.
    repeated
        Further photo sets of the side, in their order; their figures are combined with the measurement's.
    caliper_checks
        Every caliper reading of the side beside the photos' figure.
    arithmetic
        Results by hand, computed again from their raw readings.
    spoke_lengths, spoke_lengths_refusal
        At most one of them; none when the job states no rim.
    seconds
        Time that measuring took.
    verdict
        Whether to order.
    own_centre
        Centre to flange as this side's photos alone show it, before the job chose one.
    rests_on
        Fingerprint of photos, statements and program; empty where it was not taken.
    """

    name: SideName
    photos: tuple[str, ...] = ()
    measurement: SideMeasurement | None = None
    refusal: Refusal | None = None
    repeated: tuple[RepeatedSet, ...] = ()
    caliper_checks: tuple[Check, ...] = ()
    arithmetic: tuple[HandResult, ...] = ()
    spoke_lengths: SideLengths | None = None
    spoke_lengths_refusal: Refusal | None = None
    seconds: float = 0.0
    verdict: Verdict = NOT_JUDGED
    own_centre: Figure | None = None
    rests_on: str = ""


class JobResult(Frozen):
    """The result of a job.

    Attributes
    ----------
    job
        The job's name.
    sides
        In the order of the job file.
    warnings, notes
        That concern the job as a whole: what may be wrong, and what the uncertainties allow for.
    kit
        What was taken from the kit, the camera's profile included.
    flat
        What a ruler on the sheet said, if there was one.
    lying
        The hub lying on its flanges, if the job has photos of it.
    hub
        The whole hub, from all its photo sets.
    wheel
        The planned wheel; None where the job states no rim.
    left_out
        The side of which there are neither photos nor readings, if the other one is photographed.
    joint
        All statements, readings and figures compared at once; None where no side was measured.
    verdict
        Whether to order: that of the worst side, and what concerns both.
    """

    schema_version: Literal[2] = SCHEMA_VERSION
    job: str
    sides: tuple[MeasuredSide, ...]
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    kit: tuple[KitUsed, ...] = ()
    flat: FlatReport | None = None
    lying: LyingReport | None = None
    hub: HubFigures | None = None
    wheel: PlannedWheel | None = None
    left_out: SideName | None = None
    joint: JointTest | None = None
    software: Software
    verdict: Verdict = NOT_JUDGED

    def side(self, name: SideName) -> MeasuredSide | None:
        """Return a side of the job."""
        return next((side for side in self.sides if side.name == name), None)

    @property
    def checks(self) -> tuple[Check, ...]:
        """Every caliper reading of the job beside the photos' figure."""
        return tuple(check for side in self.sides for check in side.caliper_checks)

    @property
    def order(self) -> tuple[OrderLine, ...]:
        """What to order."""
        return () if self.wheel is None else self.wheel.order

    @property
    def complete(self) -> bool:
        """Whether nothing was refused."""
        refused = [None if self.lying is None else self.lying.refusal]
        for side in self.sides:
            found = side.measurement
            refused += [side.refusal, side.spoke_lengths_refusal, *(() if found is None else found.refusals)]
        return all(refusal is None for refusal in refused)
