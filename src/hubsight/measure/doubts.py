"""What contradicts what in the photos of a side and its marks by hand, as reasons with a remedy each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from hubsight.measure.agreement import agreements, apart, contradicts
from hubsight.measure.doubt import Doubt
from hubsight.measure.gauge_consistency import wrong_tip
from hubsight.measure.gauge_ends import runners_up
from hubsight.measure.left_out import left_out, unsteady
from hubsight.measure.marks import asked_marks
from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import Agreement, Feature, PhotosAgree, RunnerUp, WithoutPhoto
from hubsight.model.catalogue import OF_SIDE, figure_words
from hubsight.model.figure import Figure
from hubsight.model.side import FigureName, SideMeasurement
from hubsight.model.verdict import Reason, Severity
from hubsight.see.gauge.end_odds import SURE

DECIDES: FigureName = "spoke_offset"
"""The figure on which the order hangs: a contradiction that moves it has to be settled first."""
FEW_AGAINST = 1
"""So many photos in which a gauge seems shorter may show its end covered; so many that show it longer not."""
ENDS_LIKE: dict[FigureName, float] = {
    "reach": 1.0,
    "protrusion": 1.0,
    "spoke_offset": -1.0,
    "spoke_offset_by_width": -1.0,
}
"""How figures move with the gauge's end."""
MOVES: dict[tuple[Feature, FigureName], float] = {("end_face", "centre_to_flange"): -0.5}
"""How figures move with a feature, where not by as much."""
ONE_PHOTO = "hangs on one photo"
"""Why a figure is doubted that one photo alone carries, as it stands in its budget."""


def doubts_of(
    seen: Sightings, measured: SideMeasurement, *, thorough: bool = True
) -> tuple[PhotosAgree, list[Doubt]]:
    """Return how photos and marks of a side agree, and what of it is to be doubted.

    Parameters
    ----------
    seen, measured
        A side, and what its figures are.
    thorough
        Whether each figure is worked out without each photo and each mark too, which takes as long as all the
        rest.
    """
    figures = measured.figures
    features, ends = agreements(seen), runners_up(seen)
    without = left_out(seen, figures) if thorough else ()
    marks = asked_marks(seen, figures, thorough=thorough)
    doubts = [
        *_of_ends(seen, ends, figures),
        *_of_features(seen, features, figures),
        *_of_single_photos(seen, without, figures),
        *(one.doubt for one in marks),
        *_of_tip(seen),
    ]
    questions = tuple(one.question for one in marks)
    return PhotosAgree(features=features, without=without, runners_up=ends, questions=questions), doubts


def _about(seen: Sightings, what: str) -> str:
    return f"{seen.side.name}.{what}"


def _named(files: Sequence[str]) -> str:
    return files[0] if len(files) == 1 else f"{', '.join(files[:-1])} and {files[-1]}"


def _show(files: Sequence[str]) -> str:
    return f"{_named(files)} {'shows' if len(files) == 1 else 'show'}"


def _of_ends(seen: Sightings, ends: Iterable[RunnerUp], figures: dict[FigureName, Figure]) -> list[Doubt]:
    """Doubt a gauge's end where photos show another one; a mark by hand that counts has settled it."""
    settled = {mark.gauge for mark in seen.marks.believed.ends}
    open_ends = [end for end in ends if end.gauge not in settled and end.photos]
    out, said = [], set[tuple[int, str]]()
    for end in sorted(open_ends, key=lambda e: (-len(e.photos), -e.share)):
        who = {(end.gauge, photo) for photo in end.photos}
        if who <= said:
            continue
        said |= who
        against = {p for e in open_ends if e.gauge == end.gauge and e.beyond < 0 for p in e.photos}
        covered = end.beyond < 0 and len(against) <= FEW_AGAINST < len(end.others)
        severity: Severity = "note" if covered else "check"
        instead = {
            str(name): figures[name].value + sign * end.beyond / len(seen.gauges)
            for name, sign in ENDS_LIKE.items()
            if name in figures
        }
        where = f"{abs(end.beyond):.1f} mm {'beyond it' if end.beyond > 0 else 'nearer to the hub'}"
        only = [photo for photo in end.others if photo not in end.photos]
        taken = f", {_show(only)} the one that was taken" if only else ""
        told = f": the spoke offset would be {instead[DECIDES]:.2f} mm" if DECIDES in instead else ""
        reason = Reason(
            sentence=f"{_show(end.photos)} another end of the gauge, {where}{taken}{told}",
            remedy="Look at the gauge's end in these photos, and place it by hand in one; or photograph it "
            "sharp and uncovered over plain paper",
            about=_about(seen, DECIDES),
            severity=severity,
        )
        out.append(Doubt(reason, {} if covered else instead))
    return out


def _of_features(
    seen: Sightings, features: Iterable[Agreement], figures: dict[FigureName, Figure]
) -> list[Doubt]:
    """Doubt what two or more photos, or bosses, show elsewhere than the rest."""
    out = []
    for one in features:
        if not contradicts(one):
            continue
        named = [o.photo for o in one.odd if o.photo]
        who = _named(named) if named else f"{len(one.odd)} of {len(one.opinions)} bosses"
        rest, off, tip = len(one.opinions) - len(one.odd), apart(one), one.feature == "tip"
        where = "otherwise than" if tip else f"up to {abs(off):.2f} mm from where"
        remedy = "Photograph the side once more, with everything lying still and evenly lit"
        if not named:
            remedy = (
                "Look whether these bosses are dirty, damaged or of another shape; photograph the side once "
                "more"
                " in even light"
            )
        reason = Reason(
            sentence=f"{who} show {one.words} {where} the {rest} that agree{'' if tip else ' do'}",
            remedy=remedy,
            about=_about(seen, one.figures[0]),
            severity="check" if DECIDES in one.figures else "note",
        )
        instead = {
            str(n): f.value + off * MOVES.get((one.feature, n), 1.0)
            for n, f in figures.items()
            if n in one.figures
        }
        out.append(Doubt(reason, {} if tip else instead))
    return out


def _of_single_photos(
    seen: Sightings, without: Iterable[WithoutPhoto], figures: dict[FigureName, Figure]
) -> list[Doubt]:
    """Doubt figures that leave their interval when one photo is left out: per figure the worst photo."""
    worst: dict[str, WithoutPhoto] = {}
    for one in without:
        if unsteady(one, figures[_name(one)]):
            known = worst.get(one.figure)
            worst[one.figure] = one if known is None or abs(one.moved) > abs(known.moved) else known
    out = []
    for one in worst.values():
        name = _name(one)
        sentence = (
            f"the {figure_words(name)} hangs on {one.photo}: {figures[name].value:.2f} mm with it, "
            f"{one.value:.2f} without"
        )
        reason = Reason(
            sentence=sentence,
            remedy=f"Look at what was seen in {one.photo}; add a photo taken from beside it",
            about=_about(seen, name),
            severity="check" if name == DECIDES else "note",
        )
        instead = {} if one.value is None else {one.figure: one.value}
        out.append(Doubt(reason, instead, ONE_PHOTO))
    return out


def _name(one: WithoutPhoto) -> FigureName:
    return next(name for name in OF_SIDE if name == one.figure)


def _of_tip(seen: Sightings) -> list[Doubt]:
    """Doubt what is stated to be on a gauge's end where the photos show something else, or hardly tell."""
    wrong = wrong_tip(seen.side.gauges, seen.gauges)
    if wrong is None:
        sentence, remedy = _hardly_told(seen), "Look at the gauge's end, and state what is on it"
        if sentence is None:
            return []
    else:
        few = "as far as one photo tells, " if len(seen.files) == 1 else ""
        sentence, remedy = f"{few}{wrong.reason}", wrong.remedy
    return [Doubt(Reason(sentence=sentence, remedy=remedy, about=_about(seen, "gauges"), severity="check"))]


def _hardly_told(seen: Sightings) -> str | None:
    """Say so where another kind of end than the one taken is nearly as likely."""
    near = [
        gauge
        for gauge in seen.gauges
        if gauge.odds is not None and max(gauge.odds.log_odds.values(), default=-np.inf) > -SURE
    ]
    return "the photos hardly tell whether a nipple is on the gauge's end or none" if near else None
