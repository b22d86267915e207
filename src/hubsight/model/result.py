"""The one result of a job: what the photos show, what compares with it, the planned wheel, and the verdict.

Lengths in mm, tensions in N, angles in degrees; photo names as in the job folder. Positions of spoke ends
count from the bottom of the nipple's slot, positive outwards.
"""

from __future__ import annotations

from typing import Literal

from hubsight.model.cautions import CAUTIONS
from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.hub import HubFigures, LyingMeasurement
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import SideName
from hubsight.model.verdict import NOT_JUDGED, Verdict

SCHEMA_VERSION: Literal[2] = 2
"""Raised whenever a reader of the old document would misread the new one."""

SideKind = Literal["paired", "radial", "j_bend"]
Bore = Literal["mean", "outer", "inner"]
"""Which of a boss' two bores: the one nearer to the hub's end, the one nearer to its middle, or their
mean."""
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


class LyingReport(Frozen):
    """What the photos of the lying hub say: exactly one of measurement and refusal is given."""

    photos: tuple[str, ...]
    measurement: LyingMeasurement | None = None
    refusal: Refusal | None = None


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


class StockRisk(Frozen):
    """A stock length: where the spokes' ends would lie in the tensioned wheel, and the risk of a bad fit."""

    length: float
    end: float
    p_too_short: float
    p_too_long: float


class SortLength(Frozen):
    """The computed length of one sort of spoke: through which bore, to rim holes at which angle, how many."""

    bore: Bore
    alpha: float | None
    count: int
    length: Figure


class LengthChoice(Frozen):
    """Spokes that are ordered in one length.

    Attributes
    ----------
    count
        How many.
    proposed, rounded_up
        Length of least risk, and the next one that is not shorter than the computed length.
    candidates
        The proposed length, its neighbours and the rounded-up one.
    sampled_too_short, sampled_too_long
        The proposed length's risks by Monte Carlo, as a check.
    p_other, close_call
        Probability that the true length asks for another stock length, and whether that is much.
    advice
        Whether one more measurement would change the choice, and which.
    u_end
        Standard uncertainty of where the spokes' ends will lie.
    rival
        In a close call the other length.
    """

    count: int
    proposed: StockRisk
    rounded_up: StockRisk
    candidates: tuple[StockRisk, ...]
    sampled_too_short: float
    sampled_too_long: float
    p_other: float
    close_call: bool
    advice: str
    u_end: float
    rival: StockRisk | None = None


class UsedFigure(Frozen):
    """A figure that the lengths rest on: mm, its standard uncertainty, and where it comes from.

    ``per_mm`` is by how much the spoke length changes with it; None where that was not worked out.
    """

    name: str
    value: float
    u: float
    source: str
    per_mm: float | None = None


class Origin(Frozen):
    """What a side's lengths were computed from.

    Attributes
    ----------
    kind, bosses, crosses
        Kind of flange, its bosses (radial: bores, J-bend: holes), and the crosses.
    crosses_stated
        False when they were read off the photos.
    figures
        Every figure that went in.
    """

    kind: SideKind
    bosses: int
    crosses: int
    crosses_stated: bool
    figures: tuple[UsedFigure, ...]

    def figure(self, name: str) -> UsedFigure | None:
        """Return the figure of a name that went in."""
        return next((figure for figure in self.figures if figure.name == name), None)


class SideOrder(Frozen):
    """What to order for a side, and what that does in the tensioned wheel.

    Attributes
    ----------
    proposed
        Stock length to order; of the first of ``choices`` where the side takes several.
    p_too_short, p_too_long, close_call
        Of the proposed length; the worst of several.
    choices
        One where the side is ordered in one length.
    window, window_reasons
        Lowest and highest place for a spoke's end in the nipple, and what happens below and beyond.
    tension, bracing_angle, stretch, sits
        Of a spoke in the finished wheel; ``sits`` is by how much its end lies farther out than on the bench.
    in_wheel
        Length of the proposed spoke under tension.
    """

    proposed: float
    p_too_short: float
    p_too_long: float
    close_call: bool
    choices: tuple[LengthChoice, ...]
    window: tuple[float, float]
    window_reasons: tuple[str, str] = ("", "")
    tension: float
    bracing_angle: float
    stretch: float
    sits: float
    in_wheel: float


class SideLengths(Frozen):
    """The spoke lengths of one side.

    Attributes
    ----------
    origin
        What they were computed from.
    length
        Mean over the side's spokes.
    sorts
        Computed lengths of all sorts of spoke.
    order
        What to order; None where no stock was chosen from.
    warnings, notes
        What may be wrong with them, and what has to be known before cutting or ordering.
    """

    origin: Origin
    length: Figure
    sorts: tuple[SortLength, ...]
    order: SideOrder | None = None
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class OrderLine(Frozen):
    """One line of the order.

    Attributes
    ----------
    side
        For which side of the wheel.
    count, spares
        Spokes in the wheel, and spare ones on top.
    length
        mm.
    head
        ``"straight-pull"`` or ``"J-bend"``.
    wire, thread
        Standard designations.
    measured
        How the length is measured.
    nipple
        What nipples, one a spoke.
    """

    side: SideName
    count: int
    spares: int
    length: float
    head: str
    wire: str
    thread: str
    measured: str
    nipple: str


class PlannedWheel(Frozen):
    """What concerns both sides of the planned wheel.

    Attributes
    ----------
    order
        What to order; empty where the verdict is to stop.
    erd, erd_readings
        As it went in, and the single readings.
    rim_offset
        Of the spoke holes from the rim's middle, positive towards the drive side.
    tension_ratio
        Tension of the slacker side over that of the tighter one; None with one side only.
    rim_shrink
        Shrinking of the rim's radius in the tensioned wheel.
    erd_definition
        What the ERD is.
    cautions
        What everybody has to mind who acts on this.
    warnings, notes
        What may be wrong, and what has to be known.
    """

    order: tuple[OrderLine, ...] = ()
    erd: UsedFigure | None = None
    erd_readings: tuple[float, ...] = ()
    rim_offset: float = 0.0
    tension_ratio: float | None = None
    rim_shrink: float = 0.0
    erd_definition: str = ""
    cautions: tuple[str, ...] = CAUTIONS
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


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


class JobResult(Frozen):
    """The result of a job.

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
    wheel
        The planned wheel; None where the job states no rim.
    verdict
        Whether to order: that of the worst side, and what concerns both.
    """

    schema_version: Literal[2] = SCHEMA_VERSION
    job: str
    sides: tuple[MeasuredSide, ...]
    warnings: tuple[str, ...] = ()
    kit: tuple[KitUsed, ...] = ()
    flat: FlatReport | None = None
    lying: LyingReport | None = None
    hub: HubFigures | None = None
    wheel: PlannedWheel | None = None
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
