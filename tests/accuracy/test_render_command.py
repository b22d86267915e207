"""The command that makes a corpus, and the index it writes."""

import json

import pytest
from bench.corpus import load_corpus

for needed in ("manifold3d", "piexif"):
    pytest.importorskip(needed, reason=f"{needed} is missing: pip install --group render")

from render import draw_random  # noqa: E402
from render.index import write_index  # noqa: E402
from render.make import designs, main  # noqa: E402


def test_a_corpus_is_named_by_its_seeds():
    made = designs("random:7:2")
    assert [design.name for design in made] == ["r000007", "r000008"]
    assert made[1] == draw_random.design(8)
    assert designs("lifelike:2003:1")[0].sets == ("ds", "nds", "side")


@pytest.mark.parametrize(
    ("corpus", "said"),
    [("foo:1:2", "write random:FIRST:COUNT"), ("random:0:1", "1 to 9999"), ("random:7", "not random:7")],
)
def test_another_corpus_is_refused_with_what_to_write(corpus, said, capsys, tmp_path):
    with pytest.raises(SystemExit):
        main([corpus, str(tmp_path)])
    assert said in capsys.readouterr().err


def test_the_index_lists_photos_and_whose_camera_photos_serve(tmp_path):
    for name, camera, sets in (("a", "one", ("ds", "camera")), ("b", "one", ("nds",)), ("c", "two", ("ds",))):
        photos = {photo_set: {"photos": [{"file": f"{photo_set}/1.jpg"}]} for photo_set in sets}
        for photo_set in sets:
            (tmp_path / name / photo_set).mkdir(parents=True)
            (tmp_path / name / photo_set / "1.jpg").write_bytes(b"12345")
        true = {"id": name, "design": {"cam": camera}, "sets": photos}
        (tmp_path / name / "truth.json").write_text(json.dumps(true))
    said = write_index(tmp_path)
    index = json.loads((tmp_path / "index.json").read_text())
    assert "3 hubs, 4 photos" in said
    assert index["jpeg_bytes"] == 20
    assert [hub["camera_photos"] for hub in index["hubs"]] == ["a/camera", "a/camera", None]
    assert [hub["sides"] for hub in index["hubs"]] == [["ds"], ["nds"], ["ds"]]
    assert index["hubs"][0]["photos"] == {"ds": ["1.jpg"], "camera": ["1.jpg"]}


def test_the_benchmark_lists_the_photos_of_a_made_corpus(tmp_path):
    figures = {
        "kind": "radial",
        "n": 8,
        "crosses": 0,
        "d": 40.0,
        "offset": 4.0,
        "w": 30.0,
        "spoke_length_mean": 280.0,
    }
    place = [[1.0, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]
    gauge = {
        "dir": "radial",
        "lump": 0,
        "protrusion": 96.0,
        "seat_target": [16.0, 0, 0],
        "tip_target": [116.0, 0, 0],
    }
    photo_set = {
        "photos": [{"file": "ds/1.jpg"}],
        "gauges": [gauge],
        "flange_mid_z": 80.0,
        "hub_to_target": place,
    }
    true = {
        "id": "a",
        "design": {"cam": "one"},
        "hub": {"OLD": 100.0, "sides": {"ds": figures}},
        "sets": {"ds": photo_set},
    }
    (tmp_path / "a" / "ds").mkdir(parents=True)
    (tmp_path / "a" / "ds" / "1.jpg").write_bytes(b"1")
    (tmp_path / "a" / "truth.json").write_text(json.dumps(true))
    (tmp_path / "a" / "job.json").write_text(json.dumps({"sides": {"ds": {}}}))
    write_index(tmp_path)
    (hub,) = load_corpus(tmp_path)
    assert [photo.name for photo in hub.sides[0].photos] == ["1.jpg"]
    assert hub.sides[0].truth["reach"] == pytest.approx(96.0)
