"""The print's scale from a gauge or a locked caliper on the sheet, in drawn pictures of known truth."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from flat_pictures import CAMERA, SIZE, FlatPicture, locked_caliper, lying_gauge, view
from hubsight.calibrate.boards import PlainBoard, PlainSighting
from hubsight.camera import View, load_profile
from hubsight.job import JobFileError, load_job
from hubsight.job.flat import with_flat_scale
from hubsight.job.measure import measure_job
from hubsight.measure.flat import scale_from_photos
from hubsight.measure.sheet import sheet_of
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, Ruler, ScaleAlong, StatedTarget
from hubsight.target.sheet import CameraPrior
from scenes import poses, ring

SCALES = (0.9935, 0.9962)
GAUGE = Ruler("gauge", Reading(100.0, 0.02))
CALIPER = Ruler("caliper", Reading(100.0, 0.02))
WITHIN = 5e-4
"""Largest error of a scale from one drawn photo; found 3e-4."""
HONEST_U = 9e-4
"""A single photo's uncertainty may not be wider: the bars' is 8e-4."""
THREE_HUNDREDTHS_PER_CENT = 3.05e-4
"""In one figure."""
VIEWS = [view(1, 0), view(8, 40), view(5, 120, 350), view(6, 270, 430)]
LYING = [{"turned": 0.0}, {"turned": 178.0, "middle": (5.0, -10.0)}, {"turned": 90.0}, {"turned": 10.0}]


def save(picture, file):
    """Write a picture with a focal length in its tags that is 1 % off, as tags are."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 1.01 * CAMERA[0] * np.hypot(36, 24) / np.hypot(*SIZE)
    file.parent.mkdir(exist_ok=True)
    Image.fromarray(picture).convert("RGB").save(file, quality=92, exif=exif)
    return file


@pytest.fixture(scope="module")
def gauges(tmp_path_factory):
    folder = tmp_path_factory.mktemp("flat")
    return [
        save(lying_gauge(VIEWS[k], scales=SCALES, seed=k, **LYING[k]), folder / f"gauge{k}.jpg")
        for k in range(4)
    ]


@pytest.fixture(scope="module")
def caliper(tmp_path_factory):
    picture = locked_caliper(VIEWS[0], turned=20.0, scales=SCALES)
    return save(picture, tmp_path_factory.mktemp("flat") / "caliper.jpg")


def error(along: ScaleAlong):
    return along.value - (along.x * SCALES[0] + along.y * SCALES[1])


def bars(off=0.0, u=0.06):
    return StatedTarget("a4", *(Reading(120 * s * (1 + off), u) for s in SCALES))


@pytest.mark.parametrize("photo", range(4))
def test_a_lying_gauge_gives_the_scale_along_it(gauges, photo):
    found = scale_from_photos(gauges[photo : photo + 1], StatedTarget("a4"), GAUGE)
    assert found, getattr(found, "reason", "")
    turned = np.radians(LYING[photo]["turned"])
    assert found.along.x == pytest.approx(np.cos(turned) ** 2, abs=0.002)
    assert abs(error(found.along)) < WITHIN
    assert abs(error(found.along)) < 2 * found.along.u
    assert found.along.u < HONEST_U


def test_several_photos_are_surer_than_one(gauges):
    one = scale_from_photos(gauges[:1], bars(), GAUGE)
    two = scale_from_photos(gauges[:2], bars(), GAUGE)
    assert two.along.u < 0.9 * one.along.u
    assert abs(error(two.along)) < 3e-4
    assert one.scales is not None
    assert "they agree, and both count" in two.sentences[1]
    assert two.bar_factor == 1.0
    assert not two.warnings


def test_four_photos_and_three_readings_of_both_bars_give_the_scale_to_three_hundredths_of_a_per_cent(gauges):
    """Along both axes, whatever the bars' own errors: here one reads long and one short, by 0.05 mm."""
    off = (0.05, -0.05)
    read = StatedTarget(
        "a4", *(Reading(120 * scale + by, 0.06) for scale, by in zip(SCALES, off, strict=True))
    )
    found = scale_from_photos(gauges, read, GAUGE)
    assert not found.warnings
    for scale, true in zip(found.scales, SCALES, strict=True):
        assert scale.u < THREE_HUNDREDTHS_PER_CENT
        assert abs(scale.value - true) < 3e-4
    assert "together" in found.sentences[-1]
    alone = scale_from_photos(gauges, StatedTarget("a4"), GAUGE)
    assert alone.scales is None
    assert 4e-4 < alone.along.u < 6e-4


def test_a_gauge_that_is_turned_between_photos_is_no_scatter(gauges):
    """The print is 0.27 % larger in y than in x, and the photos show that."""
    one = scale_from_photos(gauges[:1], StatedTarget("a4"), GAUGE)
    turned = scale_from_photos(gauges[:3:2], StatedTarget("a4"), GAUGE)
    assert turned.along.u < 0.9 * one.along.u
    assert abs(error(turned.along)) < WITHIN


def test_a_profile_of_another_camera_is_left_aside(gauges):
    profile = load_profile(Path(__file__).parents[2] / "calibration" / "example-camera.json")
    found = scale_from_photos(gauges[:1], StatedTarget("a4"), GAUGE, profile=profile)
    assert "another camera" in found.sentences[0]
    assert found.along == scale_from_photos(gauges[:1], StatedTarget("a4"), GAUGE).along


def test_more_photos_do_not_mend_what_all_share(gauges):
    """The gauge's own ends and length, and how high they lie, err alike in every photo."""
    many = scale_from_photos(gauges * 4, StatedTarget("a4"), GAUGE)
    assert many.along.u > 3.5e-4


def test_a_locked_caliper_does_too(caliper):
    found = scale_from_photos([caliper], StatedTarget("a4"), CALIPER)
    assert abs(error(found.along)) < min(2 * found.along.u, 8e-4)
    assert found.along.u < HONEST_U


def test_a_contradiction_with_the_bars_is_said_and_widens_both(gauges):
    found = scale_from_photos(gauges[:2], bars(off=0.006), GAUGE)
    assert "contradict each other" in found.warnings[-1]
    agreed = scale_from_photos(gauges[:2], bars(), GAUGE)
    assert found.along.u == pytest.approx(found.bar_factor * agreed.along.u, rel=0.05)
    assert found.bar_factor > 3
    widened = found.target(bars(off=0.006))
    assert widened.bar_x.u == pytest.approx(0.06 * found.bar_factor)
    off = (
        found.along.value - (found.along.x * widened.bar_x.value + found.along.y * widened.bar_y.value) / 120
    )
    assert abs(off) < 1.5 * np.hypot(found.along.u, widened.bar_x.u / 120)


@pytest.mark.parametrize(
    ("ruler", "words"),
    [
        (Ruler("gauge", Reading(110.0, 0.02)), "mm long, the stated gauge 110 mm"),
        (Ruler("caliper", Reading(60.0, 0.02)), "no two jaws 60.0 mm apart"),
        (Ruler("gauge", Reading(100.0, 0.02), "nipple"), "does not lie flat"),
    ],
)
def test_another_ruler_than_stated_is_refused(gauges, ruler, words):
    found = scale_from_photos(gauges[:1], StatedTarget("a4"), ruler)
    assert isinstance(found, Refusal)
    assert words in found.reason
    assert found.photo == "gauge0.jpg"


def test_an_empty_sheet_is_refused(tmp_path):
    file = save(FlatPicture(VIEWS[0]).developed(), tmp_path / "empty.jpg")
    assert "no gauge is seen" in scale_from_photos([file], StatedTarget("a4"), GAUGE).reason
    assert "no two jaws" in scale_from_photos([file], StatedTarget("a4"), CALIPER).reason


def test_a_lamp_s_shadow_beside_the_gauge_is_refused(tmp_path):
    picture = lying_gauge(VIEWS[0], shift=(-0.4, 0.6), shade=0.5)
    found = scale_from_photos([save(picture, tmp_path / "lamp.jpg")], StatedTarget("a4"), GAUGE)
    assert isinstance(found, Refusal)
    assert "a lamp throws a shadow" in found.reason


JOB = """\
[target]
bar_x = 119.2
bar_y = 119.5
[target.flat]
photos = "flat/*"
gauge = "a"
[gauges.a]
length = { value = 100.0, u = 0.02 }
[sides.drive]
photos = "drive/*"
"""


@pytest.fixture
def job(job_folder, gauges):
    (job_folder / "flat").mkdir()
    for photo in gauges[:2]:
        (job_folder / "flat" / photo.name).write_bytes(photo.read_bytes())
    (job_folder / "job.toml").write_text(JOB)
    return job_folder


def test_a_job_states_its_flat_photos_and_they_reach_the_measurement(job, fake_measurement):
    measured = measure_job(load_job(job), measure=fake_measurement)
    along = fake_measurement.asked[0][1].along
    assert abs(error(along)) < WITHIN
    assert measured.flat.photos == ("gauge0.jpg", "gauge1.jpg")
    assert measured.flat.u == along.u
    assert any("they agree" in sentence for sentence in measured.flat.sentences)


def test_flat_photos_that_hold_nothing_are_told_and_left_out(job):
    for photo in (job / "flat").iterdir():
        Image.new("RGB", (400, 300)).save(photo)
    loaded = load_job(job)
    same, report, warnings = with_flat_scale(loaded, None)
    assert same is loaded
    assert report.refusal is not None
    assert "were not used" in warnings[0]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('gauge = "a"', "", "either gauge or opening"),
        ('gauge = "a"', 'gauge = "a"\nopening = 100', "either gauge or opening"),
        ('gauge = "a"', 'gauge = "b"', 'there is no gauge "b"'),
        ('gauge = "a"', "opening = 10", "not between 60 and 155"),
        ('"flat/*"', '"level/*"', 'no photo matches "level/*"'),
    ],
)
def test_what_is_wrong_with_the_statement_is_told(job, old, new, words):
    (job / "job.toml").write_text(JOB.replace(old, new))
    with pytest.raises(JobFileError) as caught:
        load_job(job)
    assert words in str(caught.value)


def test_the_ruler_is_one_observation_of_the_sheet_s_adjustment():
    """A ruler at 60 degrees to x, and a sheet whose ratio of scales the photos show."""
    board = ring()
    nominal = PlainBoard(board.saddles / np.array(SCALES))
    points = np.column_stack([board.saddles, np.zeros(len(board.saddles))])
    noise = 0.05 * np.random.default_rng(1).standard_normal((4, len(points), 2))
    seen = [
        PlainSighting(
            nominal, np.arange(len(points)), View(CAMERA, np.r_[0, 0, 0, pose]).project(points) + off
        )
        for pose, off in zip(poses(4), noise, strict=True)
    ]
    value = 0.25 * SCALES[0] + 0.75 * SCALES[1]
    target = StatedTarget("a4", along=ScaleAlong(0.25, 0.75, value, 0.0004))
    prior = CameraPrior(CAMERA, np.diag(np.array([10.0, 5, 5, 0.01, 0.01, 1e-4, 1e-4, 0.01]) ** 2))
    solution = sheet_of(seen, prior, target, SIZE).solve()
    assert solution["scale"] == pytest.approx(SCALES, abs=1e-4)
    where = solution.layout["scale"]
    assert np.sqrt(np.diag(solution.covariance)[where]) == pytest.approx(0.0004, rel=0.3)
