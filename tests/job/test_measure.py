"""A job's measurement: sides, spoke lengths, and the document they are gathered in."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from hubsight.job import load_job
from hubsight.job.centre import one_centre
from hubsight.job.file.load import Job, JobSide
from hubsight.job.measure import measure_job
from hubsight.measure.hub_figures import SetFigures, StatedHub, hub_figures
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import Reading, StatedSide, StatedTarget, StatedWheel


def figure(value, u=0.1, **more):
    return Figure(value=value, u=u, low=value - 1.96 * u, high=value + 1.96 * u, **more)


def side(**more):
    figures = {"flange_diameter": figure(44.0, 0.2), "spoke_offset": figure(2.0, 0.05)}
    usual = {"name": "drive", "kind": "paired", "boss_count": 6, "crosses": 2, "figures": figures}
    return SideMeasurement(**{**usual, **more})


STATED = StatedSide("drive", (), (), centre_to_flange=Reading(15.0, 0.2))
WHEEL = StatedWheel(spokes=24, crosses=2, erd=Reading(601.0, 0.5))


def spoke_lengths(measured, stated, wheel):
    """What a job of one side says of its lengths: lengths, a refusal, or None."""
    with_photo = replace(stated, photos=(Path("IMG_1.jpg"),))
    job = Job("job", Path(), StatedTarget(), (JobSide(with_photo, wheel),), table=None)
    (found,) = measure_job(job, measure=lambda *_, **__: measured).sides
    return found.spoke_lengths or found.spoke_lengths_refusal


def used(lengths, name):
    return lengths.origin.figure(name)


def test_both_sides_are_measured_with_what_the_job_states(job_folder, fake_measurement):
    job = load_job(job_folder)
    measured = measure_job(job, measure=fake_measurement)
    assert [found.name for found in measured.sides] == ["drive", "non_drive"]
    assert measured.sides[0].photos == ("drive/IMG_1.jpg", "drive/IMG_2.jpg")
    stated, target, wheel, profile = fake_measurement.asked[1]
    assert stated.name == "non_drive"
    assert target.bar_x.value == 119.5
    assert wheel.crosses == 2
    assert profile is None
    assert measured.complete


def test_the_document_survives_json(job_folder, fake_measurement, refusal):
    fake_measurement.answers["non_drive"] = refusal
    measured = measure_job(load_job(job_folder), measure=fake_measurement)
    again = JobResult.model_validate_json(measured.model_dump_json())
    assert again == measured
    assert again.schema_version == 2
    assert again.sides[1].refusal == refusal
    assert not again.complete
    assert set(measured.software.model_dump()) == {"hubsight", "python", "numpy", "opencv", "scipy"}


def test_caliper_readings_are_compared_with_the_figures(job_folder, fake_measurement):
    file = job_folder / "job.toml"
    readings = "[sides.drive.caliper]\nflange_diameter = 23.5\nprotrusion = 93.7\nboss_width = 8\n"
    file.write_text(file.read_text() + readings)
    measured = measure_job(load_job(job_folder), measure=fake_measurement)
    checks = {check.reading: check for check in measured.sides[0].caliper_checks}
    assert set(checks) == {"flange_diameter", "protrusion"}  # the fake sees no boss width
    assert checks["protrusion"].verdict == "agrees"
    assert "radius" in checks["flange_diameter"].slip  # half of the 47.0 that were measured
    assert measured.sides[1].caliper_checks == ()


def test_a_print_far_off_is_warned_of(job_folder, fake_measurement):
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("119.5", "113.2").replace("119.4", "113.2"))
    measured = measure_job(load_job(job_folder), measure=fake_measurement)
    assert "94.3 %" in measured.warnings[0]


@pytest.mark.parametrize(("d", "w", "expected"), [(44.0, 15.0, 297.0), (39.0, 33.0, 299.5)])
def test_lengths_of_a_known_wheel(d, w, expected):
    # common practice, no source: offset 2, ERD 601, 24 spokes, two crosses (the one in the boss not counted)
    figures = {"flange_diameter": figure(d, 0.2), "spoke_offset": figure(2.0, 0.05)}
    stated = StatedSide("drive", (), (), centre_to_flange=Reading(w, 0.2))
    lengths = spoke_lengths(side(figures=figures), stated, WHEEL)
    assert lengths.length.value == pytest.approx(expected, abs=1.0)


def test_an_error_of_the_offset_goes_into_the_length_one_to_one():
    def length(offset):
        figures = {"flange_diameter": figure(44.0), "spoke_offset": figure(offset)}
        return spoke_lengths(side(figures=figures), STATED, WHEEL).length.value

    assert length(3.0) - length(2.0) == pytest.approx(1.0)


def test_the_budget_adds_up_to_the_uncertainty():
    length = spoke_lengths(side(), STATED, WHEEL).length
    assert length.u == pytest.approx(math.hypot(*(item.u for item in length.budget)))
    assert length.high - length.low == pytest.approx(2 * 1.96 * length.u, rel=1e-3)


def test_a_lopsided_interval_of_the_offset_stays_lopsided():
    lopsided = Figure(value=2.0, u=0.1, low=1.6, high=2.2)
    figures = {"flange_diameter": figure(44.0, 0.001), "spoke_offset": lopsided}
    exact = StatedSide("drive", (), (), centre_to_flange=Reading(15.0, 0.001))
    wheel = StatedWheel(spokes=24, crosses=2, erd=Reading(601.0, 0.001))
    length = spoke_lengths(side(figures=figures), exact, wheel).length
    assert length.value - length.low == pytest.approx(0.4, rel=0.01)
    assert length.high - length.value == pytest.approx(0.2, rel=0.01)


def test_on_a_radial_hub_the_errors_of_diameter_and_offset_cancel():
    # an outside diameter read 0.4 too large makes the protrusion 0.2 short and the offset 0.2 long
    stated = StatedSide("drive", (), (), centre_to_flange=Reading(30.0, 0.001))
    wheel = StatedWheel(crosses=0, erd=Reading(588.0, 0.001))

    def length(diameter, offset):
        figures = {"flange_diameter": figure(diameter, 0.4), "spoke_offset": figure(offset, 0.2)}
        radial = side(kind="radial", boss_count=10, crosses=0, figures=figures)
        return spoke_lengths(radial, stated, wheel).length

    assert length(41.4, 4.5).value == pytest.approx(length(41.0, 4.3).value, abs=0.002)
    assert length(41.0, 4.3).u < 0.01


def test_the_length_is_no_surer_than_what_it_rests_on():
    figures = {
        "flange_diameter": figure(44.0, confidence="fair", reasons=("few photos",)),
        "spoke_offset": figure(2.0, confidence="poor", warnings=("the two routes disagree",)),
    }
    length = spoke_lengths(side(figures=figures), STATED, WHEEL).length
    assert length.confidence == "poor"
    assert length.reasons == ("few photos",)
    assert length.warnings == ("the two routes disagree",)


def test_centre_to_flange_follows_from_the_height_of_the_standing_hub():
    # 142 over the locknuts on a block of 10: the hub's middle is 81 above the paper
    figures = {**side().figures, "flange_height": figure(100.0, 0.3)}
    stated = StatedSide("drive", (), (), block_thickness=10.0)
    wheel = StatedWheel(crosses=2, erd=Reading(601.0, 0.5), over_locknut=Reading(142.0, 0.1))
    lengths = spoke_lengths(side(figures=figures), stated, wheel)
    assert used(lengths, "centre_to_flange").value == pytest.approx(19.0)
    assert used(lengths, "centre_to_flange").u == pytest.approx(math.hypot(0.3, 0.05, 0.05))
    assert sum(sort.count for sort in lengths.sorts) == 12  # six bosses a side


def test_crosses_are_read_off_where_they_are_not_stated():
    lengths = spoke_lengths(side(crosses=1), STATED, StatedWheel(erd=Reading(601.0, 0.5)))
    assert lengths.origin.crosses == 1
    assert not lengths.origin.crosses_stated


def test_other_crosses_than_drilled_for_are_warned_of():
    assert "drilled for 1" in spoke_lengths(side(crosses=1), STATED, WHEEL).doubts[0].sentence
    assert spoke_lengths(side(crosses=2), STATED, WHEEL).warnings == ()


def test_without_a_rim_nobody_asked_for_a_length():
    assert spoke_lengths(side(), STATED, StatedWheel(crosses=2)) is None


@pytest.mark.parametrize(
    ("measured", "stated", "wheel", "words"),
    [
        (side(figures={"flange_diameter": figure(44.0)}), STATED, WHEEL, "without the spoke offset"),
        (side(figures={"spoke_offset": figure(2.0)}), STATED, WHEEL, "without the flange diameter"),
        (side(crosses=None), STATED, StatedWheel(erd=Reading(601.0, 0.5)), "crosses are neither"),
        (side(), StatedSide("drive", (), ()), WHEEL, "centre to flange is not stated"),
        (side(boss_count=5), STATED, WHEEL, "24"),  # N is not four times the boss count
    ],
)
def test_a_length_that_does_not_follow_is_refused(measured, stated, wheel, words):
    refused = spoke_lengths(measured, stated, wheel)
    assert isinstance(refused, Refusal)
    assert words in refused.sentence()


def test_refused_lengths_make_a_job_incomplete(job_folder, fake_measurement):
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("over_locknut = 142", ""))
    measured = measure_job(load_job(job_folder), measure=fake_measurement)
    assert measured.sides[0].spoke_lengths is None
    assert "centre to flange" in measured.sides[0].spoke_lengths_refusal.reason
    assert not measured.complete


def agreed(*values, u=0.05):
    """The whole hub of a job whose standing and lying sets show these centres to flange of the drive side."""
    sets = [SetFigures(f"set {k}", {"centre_to_flange_ds": figure(v, u)}) for k, v in enumerate(values)]
    return hub_figures(sets, StatedHub())


def measured_with(centre, job_folder):
    figures = {"flange_diameter": figure(44.0, 0.2), "spoke_offset": figure(2.0, 0.05)}
    if centre is not None:
        figures["centre_to_flange"] = centre
    job = load_job(job_folder)
    job = replace(job, sides=tuple(replace(s, wheel=WHEEL) for s in job.sides))
    return MeasuredSide(name="drive", photos=(), measurement=side(figures=figures)), job


def centred(own, job, hub):
    (found,), hub = one_centre(replace(job, sides=job.sides[:1]), (own,), hub)
    if hub is not None and "centre_to_flange" in found.measurement.figures:
        assert hub.figures["centre_to_flange_ds"] == found.measurement.figures["centre_to_flange"]
    return found.measurement.figures["centre_to_flange"].value


def test_one_centre_to_flange_is_that_on_which_the_sets_agree(job_folder):
    own, job = measured_with(figure(20.0, 0.2), job_folder)
    assert centred(own, job, None) == 20.0
    assert centred(own, job, agreed(20.0, 20.1)) == pytest.approx(20.05)


def test_a_centre_to_flange_that_other_sets_contradict_stays_its_own(job_folder):
    own, job = measured_with(figure(20.0, 0.2), job_folder)
    assert centred(own, job, agreed(23.0)) == 20.0
    assert centred(own, job, agreed(20.0, 23.0)) == 20.0


def test_a_side_that_does_not_show_it_takes_it_from_the_lying_hub(job_folder):
    own, job = measured_with(None, job_folder)
    assert centred(own, job, agreed(20.0)) == 20.0


def test_a_forgotten_block_gives_one_centre_to_flange_with_a_warning(job_folder, fake_measurement):
    # 142 over the locknuts on a forgotten block of 12: by its height the flange is 12 too far out, by the end
    # face and the paper 6
    figures = {
        **side().figures,
        "flange_height": figure(102.0, 0.2),
        "over_locknut": figure(154.0, 0.2),
        "centre_to_flange": figure(25.0, 0.3),
    }
    fake_measurement.answers["drive"] = side(figures=figures)
    result = measure_job(load_job(job_folder), measure=fake_measurement)
    found = result.side("drive")
    shown = found.measurement.figures["centre_to_flange"]
    assert shown == result.hub.figures["centre_to_flange_ds"]
    assert shown.value == used(found.spoke_lengths, "centre_to_flange").value
    assert "block" in shown.warnings[0]
    assert any("block" in reason.sentence for reason in found.verdict.reasons)
