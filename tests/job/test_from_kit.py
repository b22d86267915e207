"""Jobs that name kit, and cameras found by the photos' tags."""

import datetime
import math

import pytest
from PIL import Image

from hubsight.camera import load_profile, save_profile
from hubsight.camera.profile import ProfileSignature
from hubsight.job import JobFileError, load_job
from hubsight.job.file.readings import GAUGE_LENGTH
from hubsight.job.measure import measure_job
from hubsight.job.proved import proved
from hubsight.kit import Kit, KitCaliper, KitGauge, KitTarget, save_item
from hubsight.kit.proofs import Proof, keep_proof
from hubsight.kit.readings import GOOD_CALIPER_U_MM, aged
from hubsight.model.stated import Reading
from hubsight.record.make import make_record, read_inputs
from hubsight.target.print_scale import bar_uncertainty

DAY = datetime.date(2026, 3, 1)
GAUGE = KitGauge(date=DAY, length=(100.08, 100.06), tip="nipple", caliper="shop")
SHEET = KitTarget(date=DAY, bar_x=(119.5,), bar_y=(119.6,))
SHOP = KitCaliper(date=DAY, u=0.03, zero=0.02)
SIZE = (400, 300)

JOB = """\
[target]
kit = "sheet"
[gauges.a]
kit = "long"
[sides.drive]
photos = "*"
"""


def tags(day="2026:03:01 10:00:00", **more):
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Invented", more.get("model", "One")
    details = exif.get_ifd(0x8769)
    details[0x920A] = more.get("focal", 5.4)
    details[0x9003] = day
    for tag, value in more.get("details", {}).items():
        details[tag] = value
    return exif


@pytest.fixture
def folder(tmp_path, no_kit_of_the_user):
    for kind, name, item in (("gauge", "long", GAUGE), ("target", "sheet", SHEET), ("caliper", "shop", SHOP)):
        save_item(item, kind, name, no_kit_of_the_user)
    job = tmp_path / "job"
    job.mkdir()
    photograph(job)
    (job / "job.toml").write_text(JOB)
    return job


def photograph(job, size=SIZE, **more):
    for number in (1, 2):
        Image.new("RGB", size, (90, 60 * number, 120)).save(job / f"IMG_{number}.jpg", exif=tags(**more))


def write(folder, text):
    (folder / "job.toml").write_text(text)
    return load_job(folder)


def test_kit_fills_in_what_the_job_leaves_out(folder):
    job = load_job(folder)
    (gauge,) = job.sides[0].stated.gauges
    assert gauge.tip == "nipple"
    assert gauge.length.value == pytest.approx(100.07 - 0.02)
    usual = GAUGE_LENGTH.uncertainty([100.08, 100.06])
    assert gauge.length.u == pytest.approx(math.sqrt(usual**2 + 0.03**2 - GOOD_CALIPER_U_MM**2))
    assert job.target.bar_y.value == pytest.approx(119.6)
    assert {(used.kind, used.name) for used in job.kit} == {
        ("gauge", "long"),
        ("caliper", "shop"),
        ("target", "sheet"),
    }
    assert not job.warnings


def test_what_the_job_states_comes_first(folder):
    job = write(
        folder,
        JOB.replace('kit = "long"', 'kit = "long"\ntip = "flat"').replace(
            'kit = "sheet"', 'kit = "sheet"\nbar_x = 119.0'
        ),
    )
    assert job.sides[0].stated.gauges[0].tip == "flat"
    assert job.target.bar_x.value == 119.0
    assert job.target.bar_y is None, "bars of different days do not go together"


def test_the_job_s_own_caliper_corrects_the_job_s_own_readings_once(folder):
    text = '[kit]\ncaliper = "shop"\n' + JOB.replace(
        'kit = "sheet"', "bar_x = 119.5\nbar_y = {value=119.4, u=0.02}"
    )
    job = write(
        folder, text + "flange_height = 80\n[sides.drive.caliper]\nboss_width = 8\n[rim]\nerd = 600\n"
    )
    assert job.target.bar_x.value == pytest.approx(119.48)
    assert job.target.bar_y == Reading(pytest.approx(119.38), pytest.approx(0.02))
    stated = job.sides[0].stated
    assert stated.flange_height.value == pytest.approx(79.98)
    assert stated.caliper["boss_width"].value == pytest.approx(7.98)
    assert stated.gauges[0].length.value == pytest.approx(100.05), "the kit's gauge was corrected already"
    assert job.sides[0].wheel.erd.value == 600


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"long"', '"short"', 'line 4, gauges.a.kit: there is no gauge "short" in the kit. There are: long'),
        ('"sheet"', '"none"', 'target.kit: there is no target "none"'),
        ('kit = "long"', "", "gauges.a.length: this is missing"),
        ("[target]", '[camera]\nkit = "phone"\n[target]', "kit add-camera"),
    ],
)
def test_kit_that_is_not_there_is_told(folder, old, new, words):
    with pytest.raises(JobFileError) as caught:
        write(folder, JOB.replace(old, new))
    assert words in str(caught.value)


def test_readings_of_old_paper_are_widened_to_the_day_of_the_photos(folder):
    photograph(folder, day="2026:06:01 10:00:00")
    job = load_job(folder)
    bar = Reading(119.5, bar_uncertainty([119.5]))
    assert job.target.bar_x == aged(bar, 92)
    assert "92 days before the photos" in job.warnings[0]


def test_the_document_shows_what_the_kit_gave(folder, fake_measurement):
    measured = measure_job(load_job(folder), measure=fake_measurement)
    said = [used.sentence() for used in measured.kit]
    assert 'gauge "long": 100.07 mm, 2 readings of 2026-03-01, nipple end' in said
    assert measured.model_dump()["kit"][0]["says"]


@pytest.fixture
def profile(example_profile):
    was = example_profile.signature
    own = {"make": "Invented", "model": "One", "lens": "", "focal_mm": 5.4, "focal_35mm": None}
    return example_profile.model_copy(
        update={"signature": was.model_copy(update={**own, "width": SIZE[0], "height": SIZE[1]})}
    )


def test_a_profile_is_found_by_the_photos_tags(folder, profile, no_kit_of_the_user, fake_measurement):
    file = save_item(profile, "camera", "phone", no_kit_of_the_user)
    measured = measure_job(load_job(folder), measure=fake_measurement)
    assert fake_measurement.asked[0][3] == load_profile(file)
    (used,) = (used for used in measured.kit if used.kind == "camera")
    assert used.sentence().startswith('camera profile "phone": Invented One, 400 x 300 pixels')
    assert "found by the photos' tags" in used.sentence()


def test_a_profile_beside_the_job_comes_before_the_user_s_and_the_newest_of_a_place_counts(
    folder, profile, no_kit_of_the_user
):
    save_item(profile, "camera", "phone", no_kit_of_the_user)
    newer = profile.model_copy(update={"date": profile.date + datetime.timedelta(1)})
    newest = save_item(newer, "camera", "again", no_kit_of_the_user)
    assert load_job(folder).camera_profile == newest
    save_profile(profile, folder / "own.json")
    (folder / "other.json").write_text("{}")
    assert load_job(folder).camera_profile == folder / "own.json"


def test_a_smaller_copy_is_rescaled_and_said(folder, profile, no_kit_of_the_user):
    save_item(profile, "camera", "phone", no_kit_of_the_user)
    photograph(folder, (200, 150))
    job = load_job(folder)
    assert job.camera_profile is not None
    assert "rescaled from 400 x 300 to 200 x 150" in job.kit[-1].how


@pytest.mark.parametrize(
    ("taken", "words"),
    [
        ({"focal": 9.0}, "another lens"),
        ({"details": {0xA404: 2.0}}, "a zoom of 2"),
        ({"size": (400, 225)}, "another shape"),
        ({"details": {0xA002: 800, 0xA003: 450}}, "cut-out"),
        ({"focal": 0}, "do not both state the focal length"),
        ({"model": "Two"}, None),
    ],
)
def test_a_profile_of_another_lens_zoom_cut_or_shape_is_not_used(
    folder, profile, no_kit_of_the_user, taken, words
):
    save_item(profile, "camera", "phone", no_kit_of_the_user)
    photograph(folder, **taken)
    job = load_job(folder)
    assert job.camera_profile is None
    assert not [used for used in job.kit if used.kind == "camera"]
    if words is None:
        assert not job.warnings
    else:
        assert words in job.warnings[0]
        assert '"phone" was not used' in job.warnings[0]


def test_one_photo_of_another_lens_is_enough(folder, profile, no_kit_of_the_user):
    save_item(profile, "camera", "phone", no_kit_of_the_user)
    Image.new("RGB", SIZE).save(folder / "IMG_3.jpg", exif=tags(focal=2.0))
    job = load_job(folder)
    assert job.camera_profile is None
    assert "IMG_3.jpg was taken with another lens" in job.warnings[0]


def test_a_named_profile_is_not_looked_for(folder, profile, no_kit_of_the_user):
    save_item(profile, "camera", "phone", no_kit_of_the_user)
    save_profile(profile, folder / "own.json")
    job = write(folder, JOB + '[camera]\nprofile = "own.json"\n')
    assert job.camera_profile == folder / "own.json"
    assert not [used for used in job.kit if used.kind == "camera"]
    named = write(folder, JOB + '[camera]\nkit = "phone"\n')
    assert named.camera_profile == Kit.beside(folder).files("camera")["phone"]


def test_a_record_of_a_job_with_a_profile_from_the_kit_holds(
    folder, profile, no_kit_of_the_user, fake_measurement
):
    file = save_item(profile, "camera", "phone", no_kit_of_the_user)
    job = load_job(folder)
    inputs = read_inputs(job)
    record = make_record(job, measure_job(job, measure=fake_measurement), inputs)
    (kept,) = [known for known in record.inputs if known.kind == "camera profile"]
    assert kept.content == file.read_text(encoding="utf-8")
    assert str(no_kit_of_the_user) not in record.model_dump_json(), (
        "where the user keeps it is nobody's business"
    )
    stated = {statement.field: statement for statement in record.statements}
    assert "gauges.long" not in stated
    assert any(name.startswith("gauges.a.length") for name in stated), "the kit's value, in the record"


def prove(kit, **more):
    known = {
        "date": DAY,
        "camera": ProfileSignature(width=400, height=300, make="Invented", model="One", focal_mm=5.4),
        "target": "sheet",
        "paper": "a4",
        "bar_x": 119.5,
        "bar_y": 119.6,
        "length": 100.03,
        "u": 0.05,
        "caliper": 100.0,
        "caliper_u": 0.02,
        "e_n": 0.3,
        "height": 80.0,
        "photos": 4,
    }
    keep_proof(Proof(**{**known, **more}), kit)


def test_a_proof_with_this_phone_and_sheet_confirms_print_and_photos(folder, no_kit_of_the_user):
    prove(no_kit_of_the_user)
    found = proved(load_job(folder))
    assert set(found.paths) == {"target", "photos"}
    (note,) = found.reasons
    assert note.sentence == "proved with this phone and this sheet to 0.07 mm on 1 March 2026"
    assert note.severity == "note"


@pytest.mark.parametrize("change", [{"target": "other"}, {"bar_x": 119.0}, {"u": 0.5}])
def test_a_proof_of_another_print_or_a_vague_one_confirms_nothing(folder, no_kit_of_the_user, change):
    prove(no_kit_of_the_user, **change)
    found = proved(load_job(folder))
    assert not found.paths
    assert not found.reasons


def test_a_proof_that_contradicts_the_caliper_is_a_reason_to_check(folder, no_kit_of_the_user):
    prove(no_kit_of_the_user)
    prove(no_kit_of_the_user, date=DAY + datetime.timedelta(1), length=100.5, e_n=4.7)
    found = proved(load_job(folder))
    assert not found.paths
    assert [one.severity for one in found.reasons] == ["check"]
    assert "+0.50 mm off the caliper" in found.reasons[0].sentence


def test_photos_of_another_phone_are_not_proved(folder, no_kit_of_the_user):
    prove(no_kit_of_the_user)
    photograph(folder, model="Two")
    assert not proved(load_job(folder)).paths
