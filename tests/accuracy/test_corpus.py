"""From a corpus to jobs and rows, on a small made-up corpus."""

import json
import math

import numpy as np
import pytest
from bench.corpus import load_corpus, width_across
from bench.jobs import build_job, photos_of
from bench.report import report
from bench.tool import Run, read_document

from hubsight.job import load_job
from hubsight.job.measure import measure_job, software
from hubsight.model.figure import Figure
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.side import SideMeasurement

OFFSET, RADIUS, LENGTH = 2.0, 22.0, 100.0


def gauge_line():
    """A gauge through the boss at azimuth 0 and its crossing point, in the target frame; hub at (-50, 0)."""
    direction = np.radians(80.0)
    along = np.array([math.cos(direction), math.sin(direction), -0.05])
    along /= np.linalg.norm(along)
    crossing = np.array([RADIUS - 50.0, 0.0, 91.0])
    return {
        "lump": 0,
        "dir": "ccw",
        "L": LENGTH,
        "protrusion": LENGTH - OFFSET - 4.0,
        "seat_target": (crossing - OFFSET * along).tolist(),
        "tip_target": (crossing + (LENGTH - OFFSET) * along).tolist(),
    }


def truth(photos):
    bosses = [[RADIUS * math.cos(a), RADIUS * math.sin(a), 20.0] for a in np.radians(60.0 * np.arange(6))]
    side = {
        "kind": "paired",
        "n": 6,
        "d": 2 * RADIUS,
        "w": 20.0,
        "offset": OFFSET,
        "crosses": 2,
        "W": {"ccw": 8.0, "cw": 9.0},
        "bores": [{"lump": k, "C": boss} for k, boss in enumerate(bosses)],
        "spoke_length_mean": 296.0,
    }
    to_target = np.eye(4)
    to_target[:3, 3] = [-50.0, 0.0, 71.0]
    photo_set = {
        "flange_mid_z": 91.0,
        "hub_to_target": to_target.tolist(),
        "gauges": [gauge_line()],
        "photos": [{"file": f"ds/{name}", "points": {}, "camera": {}} for name in photos],
    }
    design = {"erd": 601.0, "flange": {"lump": {"h": 4.0, "lean": 5.0}}, "flange_ds": {"lump": {"h": 4.0}}}
    return {"design": design, "hub": {"OLD": 142.0, "sides": {"ds": side}}, "sets": {"ds": photo_set}}


@pytest.fixture
def corpus(tmp_path):
    photos = ["a.jpg", "b.jpg", "absent.jpg"]
    folder = tmp_path / "corpus"
    (folder / "h1" / "ds").mkdir(parents=True)
    for name in photos[:2]:
        (folder / "h1" / "ds" / name).write_bytes(b"")
    stated = {
        "gauge_stated_length": [100.04],
        "tip": ["nipple"],
        "flange_mid_height": 91.1,
        "gauge_height_at_boss": 90.7,
        "gauge_height_at_end": 85.9,
        "d": 44.2,
        "W": 8.4,
        "protrusion": [94.1],
    }
    job = {
        "checkbar_x": 119.4,
        "checkbar_y": 119.6,
        "old": 142.02,
        "block_thickness": None,
        "sides": {"ds": stated},
    }
    entry = {
        "id": "h1",
        "camera_id": "A",
        "job": "h1/job.json",
        "truth": "h1/truth.json",
        "photos": {"ds": photos, "nds": ["gone.jpg"]},
    }
    (folder / "index.json").write_text(json.dumps({"hubs": [entry]}))
    (folder / "h1" / "job.json").write_text(json.dumps(job))
    (folder / "h1" / "truth.json").write_text(json.dumps(truth(photos)))
    return folder


def test_absent_photos_and_sets_are_skipped(corpus):
    (hub,) = load_corpus(corpus)
    (side,) = hub.sides
    assert [photo.name for photo in side.photos] == ["a.jpg", "b.jpg"]
    assert hub.camera_set is None
    assert load_corpus(corpus, {"other"}) == []


def test_single_modes_need_the_first_photo(corpus):
    (corpus / "h1" / "ds" / "a.jpg").unlink()
    side = load_corpus(corpus)[0].sides[0]
    assert photos_of(side, "single") == ()
    assert len(photos_of(side, "all")) == 1


def test_true_figures_follow_from_the_geometry(corpus):
    side = load_corpus(corpus)[0].sides[0]
    assert side.truth["reach"] == pytest.approx(LENGTH - OFFSET)
    assert side.truth["boss_width"] == 8.0  # of the gauged bore's direction
    assert side.truth["flange_diameter"] == 44.0
    assert side.boss_count == 6
    assert not side.asymmetric  # the second flange's own bosses count


def test_the_width_across_lies_between_where_the_bores_pass_the_faces():
    """Faces that lean by 10 degrees, 4 mm from the crossing point; spokes at 70 degrees to the centreline."""
    lean, beta = np.tan(np.radians(10.0)), np.radians(70.0)
    ahead = 4.0 / (np.sin(beta) - lean * np.cos(beta))  # on y = 4 + lean x, along (cos, sin)
    behind = 4.0 / (np.sin(beta) + lean * np.cos(beta))
    bores = [
        {
            "C": [0.0, 22.0, 3.0],
            "u": [-sign * np.sin(beta), np.cos(beta), 0.0],  # the centreline points along +y
            "exit_from_C": ahead,
            "rear_from_C": behind,
        }
        for sign in (1.0, -1.0)
    ]
    assert width_across(bores) == pytest.approx(8.0)


def test_the_true_reach_ends_where_the_gauge_passes_the_bosss_plane(corpus):
    # turned about its end, the gauge passes the plane of axis and centreline beside the crossing point
    file = corpus / "h1" / "truth.json"
    content = json.loads(file.read_text())
    gauge = content["sets"]["ds"]["gauges"][0]
    tip = np.array(gauge["tip_target"])
    passes = np.array([RADIUS - 50.0 + 0.3, 0.0, 91.0])
    along = (tip - passes) / np.linalg.norm(tip - passes)
    gauge["seat_target"] = (passes - OFFSET * along).tolist()
    file.write_text(json.dumps(content))
    assert load_corpus(corpus)[0].sides[0].truth["reach"] == pytest.approx(np.linalg.norm(tip - passes))


def test_a_radial_reach_begins_at_the_outside_diameter(corpus):
    file = corpus / "h1" / "truth.json"
    content = json.loads(file.read_text())
    content["hub"]["sides"]["ds"]["kind"] = "radial"
    gauge = content["sets"]["ds"]["gauges"][0]
    gauge["seat_target"] = [RADIUS - 50.0 - 3.0, 0.0, 91.0]
    gauge["tip_target"] = [RADIUS - 50.0 + 97.0, 0.0, 91.0]
    file.write_text(json.dumps(content))
    side = load_corpus(corpus)[0].sides[0]
    assert side.truth["reach"] == pytest.approx(97.0)
    assert "boss_width" not in side.truth


def test_the_job_of_all_photos_states_no_height(corpus, tmp_path):
    side = load_corpus(corpus)[0].sides[0]
    job = load_job(build_job(side, "all", tmp_path))
    stated = job.sides[0].stated
    assert stated.name == "drive"
    assert len(stated.photos) == 2
    assert stated.flange_height is None
    assert stated.gauges[0].length.value == 100.04
    assert stated.gauges[0].tip == "nipple"
    assert stated.caliper == {}
    assert job.sides[0].wheel.spokes is None
    assert job.sides[0].wheel.erd.value == 601.0
    assert job.target.bar_y.value == 119.6


def test_the_job_of_one_photo_states_heights_and_profile(corpus, tmp_path):
    side = load_corpus(corpus)[0].sides[0]
    profile = tmp_path / "made.json"
    profile.write_text("{}")
    job = load_job(build_job(side, "single", tmp_path / "jobs", profile=profile))
    stated = job.sides[0].stated
    assert [photo.name for photo in stated.photos] == ["a.jpg"]
    assert stated.flange_height.value == 91.1
    assert stated.gauge_height_at_end.value == 85.9
    assert job.camera_profile.is_file()


def measured_document(corpus, tmp_path, figures):
    side = load_corpus(corpus)[0].sides[0]
    job = load_job(build_job(side, "all", tmp_path))

    def measure(stated, target, wheel, *, camera_profile=None):
        return SideMeasurement(name="drive", kind="paired", boss_count=6, crosses=2, figures=figures)

    return side, json.loads(measure_job(job, measure=measure).model_dump_json())


def test_a_document_becomes_a_row_with_its_spoke_length(corpus, tmp_path):
    figures = {
        "flange_diameter": Figure(value=44.1, u=0.1, low=43.9, high=44.3),
        "spoke_offset": Figure(value=2.5, u=0.1, low=2.3, high=2.7),
        "flange_height": Figure(value=91.0, u=0.1, low=90.8, high=91.2),
    }
    side, document = measured_document(corpus, tmp_path, figures)
    row = read_document(document, side, "all", Run(0, "", "", 3.0, 500.0))
    assert row.failed is None
    assert row.boss_count == 6
    assert set(row.figures) == {*figures, "centre_to_flange", "spoke_length"}
    assert set(row.as_dict()) == {
        *("hub", "side", "mode", "photos", "failed", "boss_count", "crosses"),
        *("figures", "warnings", "seconds", "peak_mb"),
    }


def test_the_report_counts_the_blunder_and_the_missing(corpus, tmp_path):
    figures = {
        "flange_diameter": Figure(value=44.1, u=0.1, low=43.9, high=44.3),
        "spoke_offset": Figure(value=2.5, u=0.1, low=2.3, high=2.7),
    }
    side, document = measured_document(corpus, tmp_path, figures)
    row = read_document(document, side, "all", Run(0, "", "", 3.0, 500.0))
    # the made-up truth has no features for the alternatives
    bare = {("h1", "ds"): side}
    text = report([row], bare, most=5, alternatives=False)
    offset = next(line for line in text.splitlines() if line.startswith("spoke_offset"))
    assert offset.split()[:4] == ["spoke_offset", "1", "0", "0.500"]
    assert offset.split()[-1] == "1"
    width = next(line for line in text.splitlines() if line.startswith("boss_width"))
    assert width.split() == ["boss_width", "0", "1"]
    assert "BLUNDER" in text
    assert "1.50" in text  # seconds per photo


def test_a_side_without_its_main_figures_failed(corpus, tmp_path):
    side, document = measured_document(corpus, tmp_path, {})
    row = read_document(document, side, "all", Run(1, "", "", 3.0, 500.0))
    assert row.failed.startswith("no spoke_offset and no flange_diameter")


def test_a_refused_side_fails_with_its_sentence(corpus, refusal):
    side = load_corpus(corpus)[0].sides[0]
    refused = MeasuredSide(name="drive", photos=(), refusal=refusal)
    document = JobResult(job="j", sides=(refused,), software=software())
    row = read_document(json.loads(document.model_dump_json()), side, "all", Run(1, "", "", 3.0, 500.0))
    assert row.failed == refusal.sentence()
    assert row.boss_count is None
