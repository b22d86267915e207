"""Gauge and bosses placed by hand where nothing was found: the figures come from the marks alone.

The marks are those of a hand that is off by a pixel, on the sample's photos, with the detector made blind.
"""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from hubsight import load_job
from hubsight.job.sample import load_truth
from hubsight.measure import side as measure
from hubsight.measure.measurement import measurement_of
from hubsight.measure.settle import corrected, covers, needs_no_look
from hubsight.model.corrections import (
    PLACED,
    Corrections,
    PlacedAxis,
    PlacedCentreline,
    PlacedEnd,
    PlacedFace,
)
from hubsight.model.refusal import Refusal
from hubsight.see.gauge import placed as gauge_placed

SAMPLE = Path(__file__).parents[2] / "sample_images"
TRUTH = load_truth(SAMPLE).sides["drive"].figures
U_PX, HAND_PX = 1.5, 1.0
COUNT = 6


@pytest.fixture(scope="module")
def job():
    return load_job(SAMPLE)


def marks(photos, seed=0, *, bosses=(0, 2, 4), count=COUNT, hand=HAND_PX):
    """What a hand places in the photos, a pixel off."""
    rng = np.random.default_rng(seed)

    def near(pixel):
        return tuple((np.array(pixel) + rng.normal(0, hand, 2)).tolist())

    axes, ends, faces = [], [], []
    for p in photos:
        line = p.gauges[0]
        axes.append(PlacedAxis(photo=p.file, pixels=(near(line[4]), near(line[-3])), u_px=U_PX))
        ends.append(PlacedEnd(photo=p.file, pixel=near(p.gauge_end_outlines[0]), u_px=U_PX))
        for boss in bosses:
            outline = p.boss_outlines[boss]
            quarter = (len(outline) - 1) // 4
            for face, at in enumerate((outline[quarter], outline[-2 - quarter])):
                faces.append(PlacedFace(photo=p.file, boss=boss, face=face, pixel=near(at), u_px=U_PX))
    return Corrections(
        axes=tuple(axes), ends=tuple(ends), faces=tuple(faces), bosses=count if faces else None
    )


def looked(job, corrections):
    side = job.sides[0]
    stated = side.stated.__class__(**{**vars(side.stated), "corrections": corrections})
    return measure.see_side(stated, job.target, side.wheel)


@contextmanager
def blindness():
    """A detector that finds no gauge, nor anything along one that was placed."""
    with pytest.MonkeyPatch.context() as patch:
        nothing = Refusal(reason="no gauge spoke was found", remedy="Look again")
        patch.setattr(measure, "see_gauges", lambda *_, **__: nothing)
        patch.setattr(gauge_placed, "track_axis", lambda *_, **__: None)
        patch.setattr(gauge_placed, "see_gauge_end", lambda *_, **__: None)
        yield


@pytest.fixture
def blind():
    with blindness():
        yield


@pytest.fixture(scope="module")
def by_hand(job, found):
    with blindness():
        out = looked(job, marks(found[:2]))
    assert out, out
    return out


@pytest.fixture(scope="module")
def seen(job):
    """What the detector sees when nothing is placed."""
    return looked(job, Corrections())


@pytest.fixture(scope="module")
def found(seen):
    """The same in each photo."""
    return measurement_of(seen).photos


@pytest.mark.parametrize("photos", [2, 3])
def test_the_figures_come_from_the_marks_and_their_intervals_hold(by_hand, found, photos):
    held, errors = [], []
    for seed in range(8):
        out = measurement_of(corrected(by_hand, marks(found[:photos], seed)))
        assert out, out
        assert out.crosses == 2
        offset = out.figures["spoke_offset"]
        assert {b.source: b.u for b in offset.budget}[PLACED] > 0.05
        for name in ("spoke_offset", "flange_diameter", "reach", "protrusion", "boss_width"):
            figure = out.figures[name]
            held.append(figure.low <= TRUTH[name] <= figure.high)
            errors.append((figure.value - TRUTH[name]) / figure.u)
    # 95 % of 40, and marks of one hub that are not independent of each other
    assert np.mean(held) >= 0.85, errors
    assert np.abs(errors).max() < 4


def test_it_is_recorded_what_was_placed(by_hand, found):
    said = measurement_of(by_hand).placed_by_hand
    assert said[0] == "the pattern of 6 bosses was placed by hand"
    assert f"{found[0].file}: the gauge's axis was placed by hand" in said
    assert sum("a boss face" in s for s in said) == 12


def test_more_is_placed_in_more_photos_and_the_uncertainty_shrinks(by_hand, found):
    u = [measurement_of(corrected(by_hand, marks(found[:n], 1))).figures["spoke_offset"].u for n in (2, 4)]
    assert u[1] < 0.9 * u[0]


def test_one_axis_asks_for_another(job, found, blind):
    out = looked(job, marks(found[:1], bosses=()))
    assert isinstance(out, Refusal)
    assert "one direction only" in out.reason
    assert "one more photo" in out.remedy


def test_an_axis_without_an_end_asks_for_the_end(job, found, blind):
    axes = Corrections(axes=marks(found[:2], bosses=()).axes)
    out = looked(job, axes)
    assert isinstance(out, Refusal)
    assert "far end" in out.reason


@pytest.mark.parametrize(
    ("bosses", "count", "words"),
    [
        ((0, 3), 6, "too few"),
        ((0, 1, 2), 6, "one side"),
        ((0, 2, 4), 5, "does not repeat evenly"),
        ((0, 1, 3, 4), 7, "does not repeat evenly"),
    ],
)
def test_marks_that_make_no_pattern_are_told(by_hand, found, bosses, count, words):
    out = corrected(by_hand, marks(found[:2], bosses=bosses, count=count))
    assert isinstance(out, Refusal)
    assert words in out.reason
    assert out.remedy


def test_a_mark_on_something_else_is_told(by_hand, found):
    wrong = marks(found[:2])
    one, other = wrong.faces[2:4]
    beyond = tuple(float(v) for v in np.array(other.pixel) + 0.8 * np.subtract(other.pixel, one.pixel))
    moved = other.model_copy(update={"pixel": beyond})
    out = corrected(by_hand, wrong.model_copy(update={"faces": (*wrong.faces[:3], moved, *wrong.faces[4:])}))
    said = out.reason if isinstance(out, Refusal) else " ".join(measurement_of(out).warnings)
    assert "does not repeat evenly" in said or "does not go with" in said


def test_the_detector_is_believed_where_it_saw_what_was_placed(seen, found):
    """Marks on what was found change little, and nothing has to be looked at again for them."""
    now = marks(found[:2], bosses=())
    assert needs_no_look(seen, now)
    before = measurement_of(seen).figures["spoke_offset"]
    assert measurement_of(corrected(seen, now)).figures["spoke_offset"].value == pytest.approx(
        before.value, abs=0.25
    )


def test_an_axis_placed_elsewhere_is_looked_along(seen, found):
    """Two axes beside the line that the detector took: it was misled, and the photos are looked at again."""
    axes = [
        PlacedAxis(
            photo=p.file,
            pixels=tuple((x + 40.0, y + 90.0) for x, y in (p.gauges[0][4], p.gauges[0][-3])),
            u_px=U_PX,
        )
        for p in found[:2]
    ]
    assert not needs_no_look(seen, Corrections(axes=tuple(axes)))
    assert needs_no_look(seen, Corrections(axes=tuple(axes[:1]))), "one alone is no line in space"
    assert covers(seen, Corrections(axes=tuple(axes)))


def test_bosses_alone_are_placed_beside_a_gauge_that_was_found(seen, found):
    faces = marks(found[:2], 3).model_copy(update={"axes": (), "ends": ()})
    out = measurement_of(corrected(seen, faces))
    offset = out.figures["spoke_offset"]
    assert offset.low <= TRUTH["spoke_offset"] <= offset.high
    assert not covers(corrected(seen, faces), Corrections()), "then bosses have to be looked for"
    # a centreline more is one observation more
    line = found[2].centrelines[1]
    more = PlacedCentreline(photo=found[2].file, boss=1, pixel=line[1], u_px=U_PX)
    again = measurement_of(corrected(seen, faces.model_copy(update={"centrelines": (more,)})))
    assert again.figures["spoke_offset"].u < offset.u
