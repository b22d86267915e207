"""Marks placed by hand in the sample's photos: what they move, what they add, and what they override."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hubsight import load_job
from hubsight.camera.observe import view_in
from hubsight.measure.measurement import measurement_of
from hubsight.measure.settle import corrected
from hubsight.measure.side import see_side
from hubsight.model.corrections import (
    PLACED,
    Corrections,
    PlacedAxis,
    PlacedCentreline,
    PlacedEnd,
    PlacedFace,
)
from hubsight.model.refusal import Refusal

SAMPLE = Path(__file__).parents[2] / "sample_images"
U_PX = 1.5


@pytest.fixture(scope="module")
def seen():
    job = load_job(SAMPLE)
    out = see_side(job.sides[0].stated, job.target, job.sides[0].wheel)
    assert out, out
    return out


def figures(seen):
    out = measurement_of(seen)
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


def test_an_end_placed_elsewhere_overrides_what_was_seen_and_says_so(seen):
    """Fifty pixels short of what all photos show: the person is believed, and told of the contradiction."""
    end, line = seen.gauges[0].ends[0].pixel, evidence(seen).gauges[0]
    mark = PlacedEnd(photo=seen.files[0], pixel=shifted(end, (line[0], line[-1]), -50), u_px=U_PX)
    out, before = figures(corrected(seen, Corrections(ends=(mark,)))), figures(seen)
    view = view_in(seen.adjusted.solution, 0)
    depth = (seen.gauges[0].end - view.position) @ view.rotation[2]
    by = 50 * depth / view.focal
    moved = before.figures["reach"].value - out.figures["reach"].value
    assert moved == pytest.approx(by, rel=0.1)
    others = [f for f, seen_end in zip(seen.files, seen.gauges[0].ends, strict=True) if seen_end is not None][
        1:
    ]
    assert [w.split(":")[0] for w in out.warnings if "contradicts what was placed by hand" in w] == others
    assert out.placed_by_hand == (f"{seen.files[0]}: the gauge's end was placed by hand",)
    assert shares(out.figures["reach"])[PLACED] > 0.05


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


def test_an_axis_that_goes_with_nothing_is_told(seen):
    e = evidence(seen)
    off = tuple((x, y + 60) for x, y in (e.gauges[0][8], e.gauges[0][-2]))
    out = corrected(seen, Corrections(axes=(PlacedAxis(photo=e.file, pixels=off, u_px=U_PX),)))
    if not isinstance(out, Refusal):
        assert any("does not go with the other photos" in w for w in figures(out).warnings)


def test_a_face_moves_the_width_by_what_it_was_moved(seen):
    """Along the spoke a face moved square to the centreline by e changes the width by e over the sine."""
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
    right = outline[len(outline) // 2 :][::-1][len(left) // 2]
    outward = np.array(on_face) - right
    moved = tuple(np.array(on_face) + 5 * outward / np.linalg.norm(outward))
    wider = figures(corrected(seen, Corrections(faces=(PlacedFace(photo=e.file, pixel=moved, u_px=U_PX),))))
    view = view_in(seen.adjusted.solution, 0)
    depth = (np.append(seen.bosses.pose.centre, seen.bosses.pose.height) - view.position) @ view.rotation[2]
    growth = wider.figures["boss_width"].value - unmoved.figures["boss_width"].value
    assert 0.5 * 5 * depth / view.focal < growth < 2 * 5 * depth / view.focal


def test_a_centreline_turns_the_offset(seen):
    """Turned by e it moves the offset by about r e; its uncertainty enters."""
    before, e = figures(seen), evidence(seen)
    inner, outer = (np.array(p) for p in e.centrelines[0])
    across = np.array([-(outer - inner)[1], (outer - inner)[0]]) / np.linalg.norm(outer - inner)
    here = PlacedCentreline(photo=e.file, pixel=tuple(outer), u_px=U_PX)
    there = PlacedCentreline(photo=e.file, pixel=tuple(outer + 4 * across), u_px=U_PX)
    same = figures(corrected(seen, Corrections(centrelines=(here,))))
    other = figures(corrected(seen, Corrections(centrelines=(there,))))
    assert same.figures["spoke_offset"].value == pytest.approx(before.figures["spoke_offset"].value, abs=0.08)
    assert abs(other.figures["spoke_offset"].value - same.figures["spoke_offset"].value) > 0.1


def test_an_unusable_photo_is_left_out(seen):
    out = figures(corrected(seen, Corrections(unusable=(seen.files[1],))))
    assert [p.file for p in out.photos] == [seen.files[0], *seen.files[2:]]
    assert out.figures["spoke_offset"].u > figures(seen).figures["spoke_offset"].u
    assert f"{seen.files[1]} was marked as unusable" in out.placed_by_hand


def test_all_photos_unusable_is_refused(seen):
    out = corrected(seen, Corrections(unusable=seen.files))
    assert isinstance(out, Refusal)
    assert "every photo" in out.reason
