"""Overlay pictures: marks where they belong, legends with the job's words, files written whole."""

import numpy as np
import pytest
from PIL import Image

from hubsight.job import load_job
from hubsight.job.measure import measure_job
from hubsight.model.side import PhotoEvidence, SaddleEvidence
from hubsight.photo import upright
from hubsight.show.canvas import Canvas, Window
from hubsight.show.marks import marks_of
from hubsight.show.overlay import overlay_picture, write_overlays
from hubsight.show.paint import COLOURS, legend_of, paint
from hubsight.show.turned import displayed, displayed_evidence


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_pixel_is_displayed_where_the_picture_shows_it(orientation):
    stored = np.zeros((5, 7, 3), np.uint8)
    stored[1, 4] = 255
    x, y = displayed((4, 1), orientation, 7, 5)
    assert upright(stored, orientation)[y, x].tolist() == [255, 255, 255]
    assert upright(stored, orientation).sum() == 3 * 255


@pytest.mark.parametrize("orientation", range(1, 9))
def test_residuals_turn_with_the_picture(orientation):
    seen = PhotoEvidence(
        file="a.jpg",
        width=7,
        height=5,
        used=True,
        saddles=(SaddleEvidence(pixel=(4.0, 1.0), residual=(1.0, 0.5), used=True),),
        axis=(3.0, 0.5),
        other_gauges=(((3.0, 0.5), (5.0, 2.0)),),
    )
    turned = displayed_evidence(seen, orientation)
    assert turned.other_gauges[0][0] == turned.axis
    adjusted = displayed((3.0, 0.5), orientation, 7, 5)
    saddle = turned.saddles[0]
    assert np.subtract(saddle.pixel, saddle.residual) == pytest.approx(adjusted)
    assert turned.axis == pytest.approx(adjusted)
    assert (turned.width, turned.height) == ((5, 7) if orientation >= 5 else (7, 5))


def near(picture, place, colour, radius=6):
    """Tell whether a colour shows within some pixels of a place."""
    x, y = np.round(place).astype(int)
    part = picture[max(y - radius, 0) : y + radius + 1, max(x - radius, 0) : x + radius + 1].astype(int)
    return bool((np.abs(part - colour).sum(axis=2) < 60).any())


@pytest.mark.parametrize("orientation", [1, 6])
def test_marks_lie_on_what_they_mark(orientation):
    photo = upright(np.full((300, 400, 3), 70, np.uint8), orientation)
    seen = displayed_evidence(
        PhotoEvidence(
            file="a.jpg",
            width=400,
            height=300,
            used=True,
            crossing_points=((300.0, 200.0),),
            boss_outlines=(((40.0, 30.0), (90.0, 30.0), (90.0, 60.0)),),
        ),
        orientation,
    )
    picture = overlay_picture(photo, seen, "a title")
    scale = 1100 / photo.shape[0]
    crossing = (np.array(displayed((300.0, 200.0), orientation, 400, 300)) + 0.5) * scale - 0.5
    side = (np.array(displayed((65.0, 30.0), orientation, 400, 300)) + 0.5) * scale - 0.5
    assert near(picture, crossing, COLOURS["crossing"], radius=12)
    assert near(picture, side, COLOURS["outline"])
    assert not near(picture, side, COLOURS["crossing"])


def test_a_gauge_that_nobody_stated_is_drawn_dashed_and_called_so():
    line = tuple((60.0 + 12.0 * k, 150.0) for k in range(25))
    marks = marks_of(PhotoEvidence(file="a.jpg", width=400, height=300, used=True, other_gauges=(line,)))
    assert [(mark.kind, mark.points, mark.dashed) for mark in marks] == [("other-gauge", line, True)]
    assert [said for said, _ in legend_of(marks)] == ["another gauge, not stated"]
    photo = np.full((300, 400, 3), 70, np.uint8)
    picture = Canvas(photo, Window(0, 0, 400, 300, 1.0))
    paint(picture, marks, 1.0)
    yellow = (np.abs(picture.picture[150].astype(int) - COLOURS["gauge"]).sum(axis=1) < 60).sum()
    assert 60 < yellow < 240, "dashed, not solid"


def test_a_photo_in_which_nothing_was_seen_is_shown_with_its_note():
    seen = PhotoEvidence(file="a.jpg", width=400, height=300, used=False, note="no target")
    picture = overlay_picture(np.full((300, 400, 3), 70, np.uint8), seen, "a.jpg")
    assert picture.shape[1] == round(400 * 1100 / 300)
    assert picture[:1100].std() < 1
    assert picture[1100:].std() > 10  # the legend


def test_a_window_beyond_the_photo_is_dark_there():
    shown = Window(-10, -10, 20, 20, 1.0).show(np.full((50, 50, 3), 200, np.uint8))
    assert shown[:10].max() < 30
    assert shown[12:, 12:].min() == 200


def test_window_and_photo_agree_on_pixel_centres():
    photo = np.zeros((40, 60, 3), np.uint8)
    photo[20, 30] = 255
    window = Window(20, 10, 20, 20, 8.0)
    rows, columns = np.nonzero(window.show(photo)[:, :, 0] > 127)
    assert window.place((30, 20)) == pytest.approx((columns.mean(), rows.mean()), abs=0.5)


def test_a_line_is_drawn_to_a_fraction_of_a_pixel():
    canvas = Canvas(np.zeros((40, 40, 3), np.uint8), Window(0, 0, 40, 40, 1.0))
    canvas.line([(5.0, 20.5), (35.0, 20.5)], (255, 255, 255), 2)
    weights = canvas.picture[:, 20, 0].astype(float)
    assert (weights * np.arange(40)).sum() / weights.sum() == pytest.approx(20.5, abs=0.2)


def test_overlays_are_written_for_every_photo(job_folder, fake_measurement, tmp_path):
    measured = measure_job(load_job(job_folder), measure=fake_measurement)
    written = write_overlays(measured, job_folder, tmp_path / "seen")
    assert [file.name for file in written] == [
        "drive-01-IMG_1.jpg",
        "drive-02-IMG_2.jpg",
        "non_drive-01-IMG_1.jpg",
        "non_drive-02-IMG_2.jpg",
    ]
    assert sorted(written) == sorted((tmp_path / "seen").iterdir())
    for file in written:
        with Image.open(file) as picture:
            assert picture.height > 1100
