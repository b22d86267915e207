"""From the sightings of a side to its measurement: its figures, and what contradicts what."""

from __future__ import annotations

from hubsight.measure.doubt import Doubt
from hubsight.measure.doubts import doubts_of
from hubsight.measure.gauge_pair import believed_gauge, pair_doubt, with_one_gauge
from hubsight.measure.settle import restated
from hubsight.measure.side_figures import offsets_of_gauges, side_evidence, side_measurement
from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import FIGURES_ON
from hubsight.model.figure import Figure
from hubsight.model.progress import doing
from hubsight.model.refusal import Refusal
from hubsight.model.side import PhotoEvidence, SideMeasurement
from hubsight.model.verdict import Reason


def measurement_of(seen: Sightings, *, thorough: bool = True) -> SideMeasurement | Refusal:
    """Turn what was seen of a side into its figures, each wide enough to hold what contradicts it.

    Where the photos without marks that contradict them give no figures, the marks are right. Figures that are
    not ``thorough`` come sooner; whether they hang on one photo is not told of them.
    """
    believed = None if seen.side.corrections.marks() else _believed(seen, thorough=thorough)
    if believed is not None:
        return believed
    measured = side_measurement(seen)
    if isinstance(measured, Refusal):
        return _by_marks(seen, measured)
    doing("comparing the photos with each other", done=0.65)
    agreement, doubts = doubts_of(seen, measured, thorough=thorough)
    figures = {name: _held(name, figure, doubts) for name, figure in measured.figures.items()}
    return measured.model_copy(
        update={
            "figures": figures,
            "agreement": agreement,
            "doubts": (*measured.doubts, *(doubt.reason for doubt in doubts)),
        }
    )


def _believed(seen: Sightings, *, thorough: bool) -> SideMeasurement | None:
    """Measure by the one of two gauges that is to be believed, where they contradict each other."""
    if len(seen.gauges) != 2:
        return None
    believed = believed_gauge(seen.gauges, seen.side.gauges, offsets_of_gauges(seen))
    alone = None if believed is None else with_one_gauge(seen, believed.gauge)
    measured = None if not alone else measurement_of(alone, thorough=thorough)
    if believed is None or not isinstance(measured, SideMeasurement):
        return None
    doubt = pair_doubt(believed, seen)
    figures = {
        name: figure.warned(doubt.sentence) if name in FIGURES_ON["gauge_end"] else figure
        for name, figure in measured.figures.items()
    }
    return measured.model_copy(update={"figures": figures, "doubts": (*measured.doubts, doubt)})


def _by_marks(seen: Sightings, refusal: Refusal) -> SideMeasurement | Refusal:
    """Believe the marks that contradict photos which by themselves are refused."""
    if not seen.marks.conflicts:
        return refusal
    side = seen.stated.side
    corrections = side.corrections
    for conflict in seen.marks.conflicts:
        corrections = corrections.answered(conflict.mark, "mark")
    believing = restated(seen, seen.stated.with_corrections(corrections))
    measured = believing if isinstance(believing, Refusal) else measurement_of(believing)
    if isinstance(measured, Refusal):
        return refusal
    reason = Reason(
        sentence=f"the figures rest on what was placed by hand; by the photos alone {refusal.reason}",
        remedy="Place the same in one more photo",
        about=f"{side.name}.spoke_offset",
        severity="check",
    )
    return measured.model_copy(update={"doubts": (*measured.doubts, reason)})


def evidence_of(seen: Sightings) -> tuple[PhotoEvidence, ...]:
    """Return what was seen in each photo, even where `measurement_of` refuses the figures."""
    return side_evidence(seen)


def _held(name: str, figure: Figure, doubts: list[Doubt]) -> Figure:
    """Widen a figure to hold what doubts would make of it; what is to be checked is a warning besides."""
    for doubt in doubts:
        other = doubt.instead.get(name)
        if other is None:
            continue
        figure = figure.holding(other, doubt.source)
        if doubt.reason.severity != "note":
            figure = figure.warned(doubt.reason.sentence)
    return figure
