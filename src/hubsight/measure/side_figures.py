"""From the adjusted side to its figures: which boss, which centreline, which budget, which warnings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from hubsight.measure.adjust.centreline import PAIR_SIGMA_MM, Centreline, Opinion, outline_doubt, weigh
from hubsight.measure.bore_photo import settles_centreline
from hubsight.measure.consistency import close_rival, unexpected_height, unusual_offset
from hubsight.measure.drilled import (
    DrilledFor,
    direction_opinions,
    drilled_for,
    possible_directions,
    wrong_spokes,
)
from hubsight.measure.evidence import adjusted_camera, adjusted_print_scale, face_geometry, photo_evidence
from hubsight.measure.flange import SideGeometry, boss_of_gauge, gauge_of
from hubsight.measure.gauge_consistency import (
    TWO_GAUGES_MM,
    gauge_length_trouble,
    gauge_warnings,
    gauges_disagree,
    without_end,
    wrong_tip,
)
from hubsight.measure.gauge_lift import droop_advice
from hubsight.measure.heights import END_SLACK_MM, is_usual_width
from hubsight.measure.routes import routes_apart
from hubsight.measure.sheet import NOT_FLAT
from hubsight.measure.side_models import diameter_offset_correlation, droops, flange_figures
from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import FIGURES_ON
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.side import FigureName, PhotoEvidence, SideMeasurement
from hubsight.model.stated import SideName, StatedSide
from hubsight.model.uncertainty import APART_SIGMAS
from hubsight.model.verdict import Reason
from hubsight.scene.boss_shape import BossShape
from hubsight.see.bosses.sighting import ASTRAY_MM
from hubsight.see.gauge.sighting import ANCHORS
from hubsight.wheel.geometry import POSSIBLE_DIAMETERS_MM, POSSIBLE_OFFSETS_MM

LARGEST_U_MM = 3.0
"""Standard uncertainty of the flange diameter from which on there is no figure, mm."""
LARGEST_DISAGREEMENT_RAD = np.radians(3.5)
"""Outline and gauge direction further apart than any boss' shape explains, on any usual row of rim holes."""
LEAST_REPEAT_OF_ONE, LEAST_REPEAT_WITH_GAUGE, LEAST_REPEAT_IN_PLACE = 0.27, 0.2, 0.12
"""Score of the bosses' repetition in one photo alone below which something else may look like them; and where
the gauge's direction, found apart from it, agrees to `CLOSE_AGREEMENT_RAD`; and where the hub stands at its
place on the sheet besides."""
LEAST_REPEAT_ON_AXIS = 0.1
"""The same where the bosses lie round the axis that turned edges show, and no other pattern comes near (found
on rendered hubs, where such patterns are hardly ever chance)."""
CLOSE_AGREEMENT_RAD = np.radians(0.7)
"""Outline and gauge direction that agree to this are of the same bosses."""
UNSURE_FACE = (
    "the points placed on the end face do not tell how high it lies: place three or more of them in one more "
    "photo, taken from another side"
)
"""Warning where placed points leave the height of an end face open."""
BETTER_PHOTOS = (
    "Photograph the hub from above and from three sides, with the upper flange sharp and evenly lit"
)
"""What to do where the bosses are not seen well."""
ASYMMETRIC_DOUBT = 0.5
"""Probability of a boss that is no mirror image of itself from which on it is said."""


def side_measurement(seen: Sightings) -> SideMeasurement | Refusal:
    """Turn an adjusted side into figures, warnings and evidence."""
    x = seen.solution.x
    geometry, line, drilled = on_its_boss(seen)
    warnings, advice = _judge(seen, line)
    settles = settles_centreline(seen)
    bent = gauge_warnings(seen.solution, seen.adjusted.hub_blocks, seen.adjusted.references, seen.gauges)
    tip = wrong_tip(seen.side.gauges, seen.gauges)
    if tip is not None and len(seen.files) == 1:
        bent, tip = [*bent, f"as far as one photo tells, {tip.reason}"], None
    tip = tip or gauges_disagree(_offsets(seen, geometry))
    nipple = []
    if len(seen.files) == 1 and any(gauge.tip == "nipple" for gauge in seen.side.gauges):
        nipple = [
            "in one photo alone the nipple's end is easily mistaken: compare with a caliper reading of the"
            " protrusion"
        ]
    figures = flange_figures(
        seen, geometry, line, centreline_warnings=warnings, end_warnings=[*bent, *nipple]
    )
    correlation = diameter_offset_correlation(seen, geometry, figures)
    contradicted = _side_warnings(seen, drilled.crosses)
    unusual = unusual_offset(seen.side, figures.get("spoke_offset"))
    # Half a boss' width is no way to the crossing point where its bores' mouths show how lopsided it is.
    shown = seen.ends.bores is not None and seen.ends.bores.shows_boss
    apart, another_end = [] if shown else routes_apart(figures), _another_end(seen, figures)
    uneven = [text for text in seen.warnings if text.startswith(NOT_FLAT)]
    figures = {
        name: figure.warned(
            *contradicted,
            *(unusual if name in FIGURES_ON["gauge_end"] else []),
            *(apart if name in FIGURES_ON["boss_left_face"] else []),
            *(another_end if name in FIGURES_ON["end_face"] else []),
            *(uneven if name in ("flange_height", *FIGURES_ON["end_face"]) else []),
        )
        for name, figure in figures.items()
    }
    if tip is not None:
        figures = without_end(figures)
    trouble = _implausible(seen, figures, drilled)
    if trouble is not None:
        return trouble
    return SideMeasurement(
        name=seen.side.name,
        kind=seen.bosses.kind,
        boss_count=seen.bosses.pose.count,
        crosses=drilled.crosses,
        first_holes=drilled.first_holes,
        figures=figures,
        warnings=(
            *seen.warnings,
            *_placed_warnings(seen),
            *bent,
            *unexpected_height(seen.side, seen.wheel, figures.get("flange_height")),
            *unusual,
            *apart,
            *another_end,
            *contradicted,
        ),
        advice=tuple(advice),
        photos=_evidence(seen, geometry, line),
        placed_by_hand=seen.side.corrections.sentences(seen.files),
        refusals=() if tip is None else (tip,),
        doubts=(
            *drilled.doubts,
            *_of_centreline(seen.side.name, warnings, settles),
            *_harmless(seen.side.name, seen.harmless),
        ),
        diameter_offset_correlation=correlation,
        camera=adjusted_camera(seen.solution),
        print_scale=adjusted_print_scale(seen.solution),
        face=face_geometry(
            seen.solution,
            seen.marked_bosses,
            geometry.gauges(x),
            at_boss=geometry.bosses,
            lengths=[g.length.value for g in seen.side.gauges],
            centreline=line.angle,
        ),
    )


def offsets_of_gauges(seen: Sightings) -> list[float]:
    """Return the spoke offset that each gauge by itself makes, mm."""
    return _offsets(seen, on_its_boss(seen)[0])


def _offsets(seen: Sightings, geometry: SideGeometry) -> list[float]:
    gauges = zip(seen.side.gauges, geometry.gauges(seen.solution.x), strict=True)
    return [stated.length.value - at.reach for stated, at in gauges]


def _placed_warnings(seen: Sightings) -> list[str]:
    """Say where photos and placed marks contradict each other."""
    aside, outvoted = (
        [seen.files[k] for k in photos] for photos in (seen.adjusted.set_aside, seen.adjusted.outvoted)
    )
    no_face = seen.marked_ends.end_face is None
    return [
        *(
            f"{file}: what the program saw of the gauge contradicts what was placed by hand, and was left out"
            for file in aside
        ),
        *(
            f"{file}: what was placed by hand does not go with the other photos; look at it again"
            for file in outvoted
        ),
        *([UNSURE_FACE] if seen.marks.believed.edge_marks("end_face") and no_face else []),
    ]


def side_evidence(seen: Sightings) -> tuple[PhotoEvidence, ...]:
    """Return what was seen in each photo, even where its figures are refused: it shows what went wrong."""
    geometry, line, _ = on_its_boss(seen)
    return _evidence(seen, geometry, line)


def on_its_boss(seen: Sightings) -> tuple[SideGeometry, Centreline, DrilledFor]:
    """Return the gauges against their boss' centreline, that centreline, and what they were drilled for."""
    draft = SideGeometry(
        seen,
        tuple(
            boss_of_gauge(seen.solution, seen.bosses, k, start=g.start, reference=r)
            for k, (g, r) in enumerate(zip(seen.gauges, seen.adjusted.references, strict=True))
        ),
        0.0,
    )
    if seen.shape is None:
        return draft, Centreline(0.0, 0.0, 0.0, False), DrilledFor(0)
    line, drilled = _centreline(seen, draft, seen.shape)
    return replace(draft, angle=line.angle), line, drilled


def _evidence(seen: Sightings, geometry: SideGeometry, line: Centreline) -> tuple[PhotoEvidence, ...]:
    x, references = seen.solution.x, seen.adjusted.references
    return photo_evidence(
        seen.solution,
        files=seen.files,
        sizes=seen.sizes,
        sightings=seen.targets,
        bosses=seen.marked_bosses,
        geometry=geometry.gauges(x),
        gauges=[gauge_of(seen.solution, x, f"gauge{k}", r) for k, r in enumerate(references)],
        rims=[[None if end is None else end.rim for end in gauge.ends] for gauge in seen.gauges],
        lengths=[g.length.value for g in seen.side.gauges],
        centreline=line.angle,
        end_face=seen.marked_ends.end_face,
        blocks=seen.adjusted.hub_blocks,
        beside=seen.gauges[0].beside,
    )


def _implausible(seen: Sightings, figures: dict[FigureName, Figure], drilled: DrilledFor) -> Refusal | None:
    """Refuse what no hub can be: the bosses or the gauge were taken for something else."""
    if len(seen.files) == 1 and seen.bosses.repeat < _least_repeat(seen, drilled):
        return Refusal(reason="the bosses cannot be told from their surroundings", remedy=BETTER_PHOTOS)
    if drilled.off_usual is not None and drilled.off_usual > LARGEST_DISAGREEMENT_RAD:
        return Refusal(
            reason=f"the gauge points {np.degrees(drilled.off_usual):.0f} degrees away from where a spoke of "
            "these bosses would run, on any usual rim",
            remedy=f"{BETTER_PHOTOS}; if the rim's holes are unusual, state them",
        )
    d = figures["flange_diameter"]
    if not all(np.isfinite([f.value, f.u]).all() for f in figures.values()):
        return Refusal(reason="the bosses' faces were not found", remedy=BETTER_PHOTOS)
    if d.u > LARGEST_U_MM:
        return Refusal(
            reason=f"too few bosses were seen well: the flange diameter is uncertain by {d.u:.0f} mm",
            remedy=BETTER_PHOTOS,
        )
    if not POSSIBLE_DIAMETERS_MM[0] < d.value < POSSIBLE_DIAMETERS_MM[1]:
        return Refusal(
            reason=f"the bosses seem to lie on {d.value:.0f} mm, which no hub has", remedy=BETTER_PHOTOS
        )
    return _implausible_end(seen.side, figures)


def _another_end(seen: Sightings, figures: dict[FigureName, Figure]) -> list[str]:
    """Say so where the end face that was seen cannot be the one that the over-locknut dimension ends at."""
    found, stated = figures.get("over_locknut"), seen.wheel.over_locknut
    if found is None:
        return []
    if stated is not None:
        apart = found.value - stated.value
        if abs(apart) < APART_SIGMAS * np.hypot(found.u, stated.u) + END_SLACK_MM:
            return []
        return [
            f"the end face seen makes the hub {found.value:.1f} mm over the locknuts, but {stated.value:.1f} "
            "are stated: a shoulder may have been taken for it, or the block is not as thick as stated"
        ]
    if is_usual_width(found):
        return []
    return [
        f"{found.value:.1f} mm over the locknuts is no usual width: a shoulder may have been taken for the "
        "end face; compare with a caliper"
    ]


def _least_repeat(seen: Sightings, drilled: DrilledFor) -> float:
    """Return the least score of repetition that one photo needs, by what else speaks for the bosses."""
    if seen.bosses.on_axis and seen.bosses.stands_out:
        return LEAST_REPEAT_ON_AXIS
    if drilled.off_expected is None or drilled.off_expected > CLOSE_AGREEMENT_RAD:
        return LEAST_REPEAT_OF_ONE
    astray = min(float(np.hypot(*(seen.bosses.pose.centre - anchor))) for anchor in ANCHORS)
    return LEAST_REPEAT_IN_PLACE if astray < ASTRAY_MM else LEAST_REPEAT_WITH_GAUGE


def _implausible_end(side: StatedSide, figures: dict[FigureName, Figure]) -> Refusal | None:
    """Refuse an offset or a gauge length that cannot be."""
    o, length = figures.get("spoke_offset"), side.gauges[0].length.value
    if o is None:
        return None
    outside = gauge_length_trouble(length, figures["protrusion"].value)
    if outside is not None:
        return outside
    if not POSSIBLE_OFFSETS_MM[0] < o.value < POSSIBLE_OFFSETS_MM[1]:
        return Refusal(
            reason=f"with a gauge of {length:.1f} mm the spoke offset would be {o.value:.1f} mm, which "
            "no hub has",
            remedy="Check the gauge's stated length and what is on its end; else photograph the set again",
        )
    return None


def _centreline(seen: Sightings, draft: SideGeometry, shape: BossShape) -> tuple[Centreline, DrilledFor]:
    """Weigh outline, gauge directions and, with two gauges in one boss, the agreement of their offsets."""
    x, outline = seen.solution.x, shape.mirror[0]
    gauges = draft.gauges(x, outline)
    radius = float(np.mean([g.radius for g in gauges]))
    bosses, wheel = seen.bosses.pose.count, seen.wheel
    directions = possible_directions(wheel, bosses, radius)
    opinions = direction_opinions(directions, gauges, wheel, bosses, outline)
    pair = None
    if (
        len(gauges) == 2
        and draft.bosses[0] == draft.bosses[1]
        and gauges[0].sideways * gauges[1].sideways < 0
    ):
        first, second = (draft.gauges(x, outline + e) for e in (-0.01, 0.01))
        lengths = [g.length.value for g in seen.side.gauges]
        gap = [(lengths[0] - g[0].reach) - (lengths[1] - g[1].reach) for g in (first, second)]
        slope = (gap[1] - gap[0]) / 0.02
        if abs(gap[0] + gap[1]) / 2 < TWO_GAUGES_MM:  # else an end was misread, which no centreline mends
            pair = Opinion(outline - 0.01 - gap[0] / slope, PAIR_SIGMA_MM / abs(slope))
    placed = None if seen.placed.centreline is None else Opinion(*seen.placed.centreline)
    mouths = seen.ends.bores
    bores = None
    if mouths is not None and mouths.shows_centreline:
        bores = Opinion(mouths.boss.centreline, mouths.centreline_u)
    line = weigh(shape, radius, opinions, pair, placed=placed, bores=bores)
    return line, drilled_for(seen.side.name, directions, opinions, line, outline=outline, wheel=wheel)


def _judge(seen: Sightings, line: Centreline) -> tuple[list[str], list[str]]:
    """Warnings for the offset, and advice."""
    warnings, advice = [], droop_advice(droops(seen))
    shape, radius = seen.shape, seen.bosses.pose.radius
    if line.doubt > ASYMMETRIC_DOUBT and not line.settled:
        why = "the bosses are not mirror images of themselves"
        if shape is not None and outline_doubt(shape, radius) < ASYMMETRIC_DOUBT:
            why = f"the gauge contradicts the bosses' outline: {why}, or the rim's holes lie otherwise"
        warnings.append(f"{why}: their centreline is uncertain, and so is the offset")
        advice.append(settles_centreline(seen))
    if len(seen.files) == 1:
        advice.append("Add three photos from around the hub: the figures become several times better")
    elif len(seen.files) < 4:
        advice.append("Four or five photos from all around the hub make the figures better")
    return warnings, advice


def _of_centreline(side: SideName, warnings: Iterable[str], remedy: str) -> Iterator[Reason]:
    """Yield doubts of the centreline: notes, since the offset's interval holds them and the order's risk."""
    for text in warnings:
        yield Reason(sentence=text, remedy=remedy, about=f"{side}.spoke_offset", severity="note")


def _harmless(side: SideName, notes: Iterable[str]) -> Iterator[Reason]:
    """Yield what has to be known of the photos, but moves no figure."""
    for text in notes:
        yield Reason(
            sentence=text,
            remedy="Look at the photo that was left out",
            about=f"{side}.photos",
            severity="note",
        )


def _side_warnings(seen: Sightings, crosses: int | None) -> list[str]:
    """Compare what is stated of the wheel with the bosses: if those were misread, every figure is."""
    out = []
    if not seen.solution.converged:
        out.append(
            "the adjustment of these photos did not settle: what they show contradicts itself; photograph the"
            " set again"
        )
    count = seen.bosses.pose.count
    if seen.wheel.spokes is None and not seen.wheel.rim_holes:
        out += close_rival(seen.bosses)
    elif wrong := wrong_spokes(seen.wheel, 2 * count if seen.bosses.kind == "paired" else count):
        out.append(f"{count} bosses were found on this side, {wrong}")
    stated = seen.wheel.crosses
    if stated is not None and crosses is not None and stated != crosses:
        out.append(
            f"the gauge's direction says that the hub is drilled for {crosses} crosses, but {stated} "
            "are stated"
        )
    return out
