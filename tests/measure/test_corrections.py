"""Marks by hand in the sample's photos: what they move and add, and what is asked where photos contradict."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from hubsight import load_job
from hubsight.camera.observe import view_in
from hubsight.measure.adjust.placed import EDGE_U_MM
from hubsight.measure.measurement import measurement_of
from hubsight.measure.settle import corrected, restated
from hubsight.measure.side import measure_side, see_side
from hubsight.measure.side_figures import on_its_boss
from hubsight.measure.sightings import without_photo
from hubsight.model.corrections import (
    PLACED,
    Corrections,
    PlacedAxis,
    PlacedCentreline,
    PlacedEnd,
    PlacedFace,
)
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading

SAMPLE = Path(__file__).parents[2] / "sample_images"
U_PX = 1.5


@pytest.fixture(scope="module")
def sample():
    return load_job(SAMPLE)


@pytest.fixture(scope="module")
def seen(sample):
    out = see_side(sample.sides[0].stated, sample.target, sample.sides[0].wheel)
    assert out, out
    return out


@cache
def _measured(key):
    return measurement_of(key.seen)


class ByIdentity:
    """Sightings as a key of a cache."""

    def __init__(self, seen):
        self.seen = seen

    def __eq__(self, other):
        return self.seen is other.seen

    def __hash__(self):
        return id(self.seen)


def figures(seen):
    out = _measured(ByIdentity(seen))
    assert not isinstance(out, Refusal), out
    return out


def evidence(seen, photo=0):
    return figures(seen).photos[photo]


def shares(figure):
    return {item.source: item.u for item in figure.budget}


def shifted(pixel, along, by):
    step = np.subtract(along[1], along[0])
    return tuple(float(v) for v in np.array(pixel) + by * step / np.linalg.norm(step))


def test_without_corrections_nothing_moves(seen):
    before, again = figures(seen), figures(corrected(seen, Corrections()))
    for name, figure in before.figures.items():
        assert again.figures[name].value == pytest.approx(figure.value, abs=1e-4), name
        assert again.figures[name].u == pytest.approx(figure.u, rel=1e-3), name


def end_off(seen, px):
    """A mark of the gauge's end, that many pixels short of it in the first photo."""
    end, line = seen.gauges[0].ends[0].pixel, evidence(seen).gauges[0]
    return PlacedEnd(photo=seen.files[0], pixel=shifted(end, (line[0], line[-1]), -px), u_px=U_PX)


def axis_off(seen, px):
    line = evidence(seen).gauges[0]
    x, y = np.subtract(line[-2], line[8]) / np.linalg.norm(np.subtract(line[-2], line[8]))
    pixels = tuple((u - px * y, v + px * x) for u, v in (line[8], line[-2]))
    return PlacedAxis(photo=seen.files[0], pixels=pixels, u_px=U_PX)


def face_off(seen, px):
    outline = np.array(evidence(seen).boss_outlines[0][:-1])
    left, right = outline[: len(outline) // 2], outline[len(outline) // 2 :][::-1]
    k = len(left) // 2
    outward = (left[k] - right[k]) / np.linalg.norm(left[k] - right[k])
    return PlacedFace(photo=seen.files[0], pixel=tuple(left[k] + px * outward), u_px=U_PX)


def centreline_off(seen, px):
    inner, outer = (np.array(p) for p in evidence(seen).centrelines[0])
    across = np.array([-(outer - inner)[1], (outer - inner)[0]]) / np.linalg.norm(outer - inner)
    return PlacedCentreline(photo=seen.files[0], pixel=tuple(outer + px * across), u_px=U_PX)


HANDLES = {
    "ends": (end_off, "spoke_offset"),
    "axes": (axis_off, "spoke_offset"),
    "faces": (face_off, "boss_width"),
    "centrelines": (centreline_off, "spoke_offset"),
}


@pytest.mark.parametrize("px", [5, 10, 30])
@pytest.mark.parametrize("handle", HANDLES)
def test_a_mark_that_is_off_never_takes_the_figure_away_from_what_the_photos_show(seen, handle, px):
    """One mark in one of four photos: the interval holds the photos' value, and grows if it contradicts."""
    place, name = HANDLES[handle]
    before = figures(seen).figures[name]
    out = figures(corrected(seen, Corrections(**{handle: (place(seen, px),)})))
    after = out.figures[name]
    assert after.low <= before.value <= after.high
    assert abs(after.value - before.value) < 1.96 * before.u
    if px == 30:
        (question,) = out.agreement.questions
        assert question.photo == seen.files[0]
        assert question.by_photos == pytest.approx(before.value, abs=0.02)
        (doubt,) = [d for d in out.doubts if d.about == f"drive.photos.{seen.files[0]}"]
        assert after.u >= before.u
        assert after.low <= question.by_mark <= after.high
        assert doubt.severity == ("note" if handle == "axes" else "check")
        assert handle == "axes" or "which is right?" in doubt.sentence


@pytest.mark.parametrize(("handle", "px"), [("centrelines", 7), ("faces", 5)])
def test_a_mark_that_goes_with_the_photos_but_moves_a_figure_is_asked_about(seen, handle, px):
    """Surer than what the photos show, it takes the figure along: the figure holds both, until answered."""
    place, name = HANDLES[handle]
    mark, before = place(seen, px), figures(seen).figures[name]
    placed = corrected(seen, Corrections(**{handle: (mark,)}))
    assert not placed.marks.conflicts
    out = figures(placed)
    assert abs(out.figures[name].value - before.value) > before.u
    (question,) = out.agreement.questions
    assert (question.photo, question.figure, question.photos) == (seen.files[0], name, seen.files[1:])
    assert question.by_mark == pytest.approx(out.figures[name].value, abs=1e-6)
    assert question.by_photos == pytest.approx(before.value, abs=0.01)
    (doubt,) = [d for d in out.doubts if d.about == f"drive.photos.{seen.files[0]}"]
    assert (doubt.severity, "which is right?" in doubt.sentence) == ("check", True)
    assert out.figures[name].low <= before.value <= out.figures[name].high
    for believe, value in (("mark", question.by_mark), ("photos", before.value)):
        said = figures(corrected(seen, Corrections(**{handle: (mark,)}).answered(mark, believe)))
        assert not said.agreement.questions
        assert said.figures[name].value == pytest.approx(value, abs=0.01)
        assert said.figures[name].u < out.figures[name].u


@pytest.mark.parametrize(("handle", "px"), [("centrelines", 3), ("faces", 3)])
def test_a_mark_that_hardly_moves_a_figure_is_not_asked_about(seen, handle, px):
    out = figures(corrected(seen, Corrections(**{handle: (HANDLES[handle][0](seen, px),)})))
    assert not out.agreement.questions


def test_of_two_marks_the_one_that_moves_a_figure_is_asked_about(seen):
    marks = Corrections(faces=(face_off(seen, 0),), centrelines=(centreline_off(seen, 7),))
    out = figures(corrected(seen, marks))
    assert [(q.mark, q.figure) for q in out.agreement.questions] == [("centreline", "spoke_offset")]


def test_an_end_that_contradicts_is_asked_about_and_the_answer_is_kept(seen):
    """Fifty pixels short of what all photos show."""
    mark, before = end_off(seen, 50), figures(seen).figures["reach"]
    asked = Corrections(ends=(mark,))
    view = view_in(seen.adjusted.solution, 0)
    by = 50 * ((seen.gauges[0].end - view.position) @ view.rotation[2]) / view.focal
    photos, mark_right = (figures(corrected(seen, asked.answered(mark, who))) for who in ("photos", "mark"))
    assert photos.figures["reach"].value == pytest.approx(before.value, abs=1e-3)
    assert photos.figures["reach"].u == pytest.approx(before.u, rel=1e-2)
    assert before.value - mark_right.figures["reach"].value == pytest.approx(by, rel=0.1)
    assert shares(mark_right.figures["reach"])[PLACED] > 0.05
    for out in (photos, mark_right):
        assert not out.agreement.questions
    others = [f for f, end in zip(seen.files, seen.gauges[0].ends, strict=True) if end is not None][1:]
    assert [w.split(":")[0] for w in mark_right.warnings if "contradicts what was placed" in w] == others
    # Moved since, the mark is asked about again.
    moved = asked.answered(mark, "photos").model_copy(update={"ends": (end_off(seen, 60),)})
    assert figures(corrected(seen, moved)).agreement.questions


def test_an_end_placed_where_it_is_keeps_the_figures(seen):
    marks = tuple(
        PlacedEnd(photo=file, pixel=tuple(end.pixel), u_px=U_PX)
        for file, end in zip(seen.files, seen.gauges[0].ends, strict=True)
        if end is not None
    )
    out, before = figures(corrected(seen, Corrections(ends=marks))), figures(seen)
    assert out.figures["spoke_offset"].value == pytest.approx(before.figures["spoke_offset"].value, abs=0.05)
    assert not any("contradicts" in w for w in out.warnings)
    assert out.figures["reach"].u > before.figures["reach"].u


def test_an_axis_placed_on_the_wire_keeps_the_figures(seen):
    marks = tuple(
        PlacedAxis(photo=e.file, pixels=(e.gauges[0][8], e.gauges[0][-2]), u_px=U_PX)
        for e in figures(seen).photos
    )
    out, before = figures(corrected(seen, Corrections(axes=marks))), figures(seen)
    for name in ("spoke_offset", "flange_diameter"):
        assert out.figures[name].value == pytest.approx(before.figures[name].value, abs=0.1)
        assert shares(out.figures[name])[PLACED] > 0.02


def test_a_face_moves_the_width_by_its_share(seen):
    """A mark weighs as much as its uncertainty lets it against the edge that the photos show."""
    before, e = figures(seen), evidence(seen)
    outline = np.array(e.boss_outlines[0][:-1])
    left = outline[: len(outline) // 2]
    on_face = tuple(left[len(left) // 2])
    unmoved = figures(
        corrected(seen, Corrections(faces=(PlacedFace(photo=e.file, pixel=on_face, u_px=U_PX),)))
    )
    assert unmoved.figures["boss_width"].value == pytest.approx(before.figures["boss_width"].value, abs=0.03)
    assert shares(unmoved.figures["boss_width"])[PLACED] > 0
    assert unmoved.figures["spoke_offset"] == before.figures["spoke_offset"]
    wider = figures(corrected(seen, Corrections(faces=(face_off(seen, 2),))))
    assert not wider.agreement.questions
    view = view_in(seen.adjusted.solution, 0)
    depth = (np.append(seen.bosses.pose.centre, seen.bosses.pose.height) - view.position) @ view.rotation[2]
    mm, growth = depth / view.focal, wider.figures["boss_width"].value - unmoved.figures["boss_width"].value
    weight = EDGE_U_MM**2 / (EDGE_U_MM**2 + (U_PX * mm) ** 2)
    assert growth == pytest.approx(weight * 2 * mm, rel=0.25)


def test_a_centreline_turns_the_offset(seen):
    """Turned by e it moves the offset by about r e, and a mark turns it by its weight among the opinions."""
    before, e = figures(seen), evidence(seen)
    inner, outer = (np.array(p) for p in e.centrelines[0])
    across = np.array([-(outer - inner)[1], (outer - inner)[0]]) / np.linalg.norm(outer - inner)
    here = PlacedCentreline(photo=e.file, pixel=tuple(outer), u_px=U_PX)
    there = PlacedCentreline(photo=e.file, pixel=tuple(outer + 3 * across), u_px=U_PX)
    marked = [corrected(seen, Corrections(centrelines=(mark,))) for mark in (here, there)]
    same, other = (figures(one) for one in marked)
    offsets = [one.figures["spoke_offset"].value for one in (before, same, other)]
    angles = [on_its_boss(one)[1].angle for one in marked]
    assert offsets[1] == pytest.approx(offsets[0], abs=0.08)
    turned = angles[1] - angles[0]
    pose = seen.bosses.pose
    view = view_in(seen.adjusted.solution, 0)
    depth = (np.append(pose.centre, pose.height) - view.position) @ view.rotation[2]
    whole = 3 * depth / view.focal / pose.radius
    assert 0.05 * whole < abs(turned) < 0.6 * whole
    assert abs(offsets[2] - offsets[1]) == pytest.approx(pose.radius * abs(turned), rel=0.15)


def test_an_unusable_photo_is_left_out(seen):
    out = figures(corrected(seen, Corrections(unusable=(seen.files[1],))))
    assert [p.file for p in out.photos] == [seen.files[0], *seen.files[2:]]
    assert out.figures["spoke_offset"].u > figures(seen).figures["spoke_offset"].u
    assert f"{seen.files[1]} was marked as unusable" in out.placed_by_hand


def test_all_photos_unusable_is_refused(seen):
    out = corrected(seen, Corrections(unusable=seen.files))
    assert isinstance(out, Refusal)
    assert "every photo" in out.reason


def test_a_print_that_is_larger_makes_the_figures_larger_without_a_new_look(seen, sample):
    """Both bars 0.8 % longer: every length grows by that, and looking anew says the same."""
    bars = {
        k: replace(v, value=1.008 * v.value) for k in ("bar_x", "bar_y") if (v := getattr(sample.target, k))
    }
    target = replace(sample.target, **bars)
    again = figures(restated(seen, replace(seen.stated, target=target)))
    before = figures(seen)
    for name in ("reach", "flange_diameter", "boss_width", "over_locknut", "flange_height"):
        assert again.figures[name].value / before.figures[name].value == pytest.approx(1.008, abs=6e-4), name
    side = sample.sides[0]
    anew = measure_side(side.stated, target, side.wheel)
    for name, figure in anew.figures.items():
        assert again.figures[name].value == pytest.approx(figure.value, abs=0.3 * figure.u), name


def test_statements_that_change_what_is_looked_for_need_a_new_look(seen):
    side = seen.stated.side
    nipple = replace(side, gauges=(replace(side.gauges[0], tip="nipple"),))
    out = restated(seen, replace(seen.stated, side=nipple))
    assert isinstance(out, Refusal)
    assert "what is on their ends" in out.reason
    longer = replace(
        side, gauges=(replace(side.gauges[0], length=Reading(side.gauges[0].length.value + 1.0, 0.05)),)
    )
    offset = figures(restated(seen, replace(seen.stated, side=longer))).figures["spoke_offset"].value
    assert offset == pytest.approx(figures(seen).figures["spoke_offset"].value + 1.0, abs=1e-6)


def test_each_photo_says_what_it_saw_and_each_figure_is_known_without_it(seen):
    agreement = figures(seen).agreement
    ends = next(a for a in agreement.features if a.feature == "gauge_end")
    assert [o.photo for o in ends.opinions] == [
        f for f, end in zip(seen.files, seen.gauges[0].ends, strict=True) if end is not None
    ]
    assert not any(d.severity != "note" for d in figures(seen).doubts)
    without = {w.photo: w for w in agreement.without if w.figure == "spoke_offset"}
    assert list(without) == list(seen.files)
    left = restated(without_photo(seen, 2), seen.stated)
    assert left.files == (*seen.files[:2], *seen.files[3:])
    afresh = figures(left).figures["spoke_offset"]
    assert without[seen.files[2]].value == pytest.approx(afresh.value, abs=0.02 * afresh.u)


def test_photos_that_are_refused_by_themselves_leave_it_to_the_mark(seen):
    """By the photos the gauge sticks out further than it is long; by the end that was placed it does not."""
    side, length = seen.stated.side, figures(seen).figures["protrusion"].value - 1.0
    short = replace(side, gauges=(replace(side.gauges[0], length=Reading(length, 0.05)),))
    refused = restated(seen, replace(seen.stated, side=short))
    assert isinstance(measurement_of(refused), Refusal)
    out = figures(corrected(refused, Corrections(ends=(end_off(seen, 60),))))
    assert out.figures["protrusion"].value < length
    assert [d.severity for d in out.doubts if "by the photos alone" in d.sentence] == ["check"]
