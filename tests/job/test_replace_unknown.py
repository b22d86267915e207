"""``hubsight replace`` in a wheel of unknown hub: by its neighbours, and why not by a photo."""

import json

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.target.draw import write_target


@pytest.fixture
def run(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    return lambda *arguments: CliRunner().invoke(app, ["replace", *map(str, arguments)])


def words(text):
    return " ".join(text.split())


def test_the_neighbours_give_the_answer(run):
    result = run("--spoke", "296.02", "--spoke", "296.2", "--end", "0.3", "--end", "0.1")
    assert result.exit_code == 0, result.output
    assert "Order 296 mm" in words(result.stdout)
    assert "The neighbours say 296.1 ± 0.2 mm" in words(result.stdout)
    assert max(map(len, result.stdout.splitlines())) <= 80
    document = json.loads(run("--spoke", "296", "--json").stdout)
    assert document["order"]["length"] == 296.0
    assert not document["end_seen"]


def test_inches_are_read(run):
    assert "296.1 ±" in words(run("--spoke", "11 21/32 in").stdout)


def test_nothing_given_tells_the_hand_route(run):
    result = run()
    assert result.exit_code == 2
    assert "Take out the next spoke but one" in words(result.stderr)


@pytest.mark.parametrize("wrong", [("--wire", "9"), ("--tension", "5"), ("--step", "0")])
def test_what_cannot_be_right_is_refused(run, wrong):
    assert run("--spoke", "296", *wrong).exit_code == 2


def test_a_photo_of_the_hub_in_the_wheel_is_refused_with_the_reason(run, tmp_path):
    pdfium = pytest.importorskip("pypdfium2")
    write_target(tmp_path / "target.pdf", "a4")
    page = pdfium.PdfDocument(tmp_path / "target.pdf")[0]
    sheet = np.asarray(page.render(scale=150 / 72).to_pil().convert("RGB"))
    beside = np.full((sheet.shape[0] + 300, sheet.shape[1] + 300, 3), 120, np.uint8)
    beside[150:-150, 150:-150] = sheet
    for name, picture in (("beside.png", beside), ("plain.png", np.full((600, 800, 3), 120, np.uint8))):
        cv2.imwrite(str(tmp_path / name), picture)
    seen, plain = (run("--photo", tmp_path / name) for name in ("beside.png", "plain.png"))
    assert seen.exit_code == plain.exit_code == 2
    assert "the target lies beside the hub" in words(seen.stderr)
    assert "no target is seen" in words(plain.stderr)
    for said in (seen, plain):
        assert "leans the same way" in words(said.stderr)
    assert "leans the same way" in words(run("--photo", tmp_path / "missing.jpg").stderr)
