"""The drawn sheet, looked at from outside: rasterised, measured, and read by OpenCV's own detector."""

import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image

from hubsight.model.stated import PaperName
from hubsight.target.draw import draw_target, render_target, write_target
from hubsight.target.geometry import PAGE_MM, TargetGeometry, target_geometry
from opencv_board import opencv_board

PAPERS: tuple[PaperName, ...] = ("a4", "letter", "a3")
DPI = 600
TRUE_SIZE_MM = 0.05
"""How exact the print file has to be."""
READY_TO_PRINT = Path(__file__).parents[2] / "calibration"


class Sheet:
    """A rasterised page with a ruler on it: darkness from 0 (paper) to 1 (ink), places in target frame mm."""

    def __init__(self, grey: np.ndarray, page: tuple[float, float]) -> None:
        self.grey, self.page = grey, page
        self.per_mm = np.array(grey.shape[::-1]) / page

    def pixels(self, points: np.ndarray) -> np.ndarray:
        """Pixel coordinates, centres at integers, of points in mm."""
        return (np.asarray(points) * [1, -1] + np.array(self.page) / 2) * self.per_mm - 0.5

    def darkness(self, left: float, bottom: float, right: float, top: float) -> np.ndarray:
        (x0, y0), (x1, y1) = np.rint(self.pixels(np.array([[left, top], [right, bottom]]))).astype(int)
        return 1 - self.grey[y0 : y1 + 1, x0 : x1 + 1] / 255.0

    def profile(self, centre: tuple[float, float], axis: str, half: float, half_across: float):
        """Mean darkness along an axis through a centre: centroid relative to it and width of the ink, mm."""
        reach = (half, half_across) if axis == "x" else (half_across, half)
        x, y = centre
        darkness = self.darkness(x - reach[0], y - reach[1], x + reach[0], y + reach[1])
        line = darkness.mean(axis=0) if axis == "x" else darkness.mean(axis=1)[::-1]
        index = 0 if axis == "x" else 1
        start = np.rint(self.pixels(np.array([x - reach[0], y - reach[1]])))[index]
        origin = self.pixels(np.array(centre))[index]
        if axis == "x":
            places = start + np.arange(len(line)) - origin
        else:
            places = origin - (start - np.arange(len(line)))
        per_mm = self.per_mm[index]
        return float((line * places).sum() / line.sum() / per_mm), float(line.sum() / per_mm)


def raster_of_pdf(path: Path, dpi: int = DPI) -> np.ndarray:
    with pypdfium2.PdfDocument(path) as document:
        assert len(document) == 1
        return document[0].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()


@pytest.fixture(scope="module", params=PAPERS)
def printed(request, tmp_path_factory):
    """A paper's geometry and its PDF, rasterised."""
    path = write_target(tmp_path_factory.mktemp("print") / "target.pdf", request.param)
    geometry = target_geometry(request.param)
    return geometry, Sheet(raster_of_pdf(path), geometry.page)


def test_pdf_has_the_papers_size_and_asks_for_no_scaling(tmp_path):
    for paper in PAPERS:
        path = write_target(tmp_path / f"{paper}.pdf", paper)
        with pypdfium2.PdfDocument(path) as document:
            size = np.array(document[0].get_size()) * 25.4 / 72
        np.testing.assert_allclose(size, PAGE_MM[paper], atol=0.01)
        assert b"/PrintScaling /None" in path.read_bytes()


def test_check_bars_are_true_to_size(printed):
    geometry, sheet = printed
    for bar in geometry.check_bars:
        middles = bar.ticks.mean(axis=1)
        offsets, widths = zip(*(sheet.profile(tuple(m), bar.axis, 1.0, 1.5) for m in middles), strict=True)
        assert bar.nominal + offsets[1] - offsets[0] == pytest.approx(120, abs=TRUE_SIZE_MM)
        np.testing.assert_allclose(offsets, 0, atol=TRUE_SIZE_MM)
        np.testing.assert_allclose(widths, 0.2, atol=TRUE_SIZE_MM)


def test_squares_are_true_to_size_and_in_place(printed):
    geometry, sheet = printed
    centres = (geometry.dark_squares + 0.5) * geometry.square - np.array(geometry.frame) / 2
    for x, y in centres * [1, -1]:
        for axis in ("x", "y"):
            offset, width = sheet.profile((x, y), axis, geometry.square / 2 + 1.0, 4.0)
            assert offset == pytest.approx(0, abs=TRUE_SIZE_MM)
            assert width == pytest.approx(geometry.square, abs=TRUE_SIZE_MM)


def test_a_block_of_ink_shows_no_seams(printed):
    geometry, sheet = printed
    for corners in geometry.marker_corners:
        left, top = corners[0]
        border = sheet.darkness(left + 0.2, top - 8.8, left + 1.0, top - 0.2)
        assert border.min() == 1.0


def test_the_field_is_blank_where_hub_and_gauge_lie(printed):
    geometry, sheet = printed
    half_x, half_y = np.array(geometry.field) / 2
    inside = sheet.darkness(-half_x + 1, -half_y + 12, half_x - 9, half_y - 8)
    station = 4 * 8 * 0.3 * sheet.per_mm.prod()
    assert inside.max() == pytest.approx(0.15, abs=0.01)  # the station's ticks only
    assert inside.sum() == pytest.approx(0.15 * station, rel=0.03)


def detect(grey: np.ndarray, geometry: TargetGeometry) -> tuple[np.ndarray, np.ndarray]:
    """Return true corners and ids. OpenCV makes up further ones where the blank field begins."""
    corners, ids, _, _ = cv2.aruco.CharucoDetector(opencv_board(geometry)).detectBoard(grey)
    corners, ids = np.asarray(corners).reshape(-1, 2), np.asarray(ids).ravel()
    true = np.isin(ids, geometry.saddle_ids)
    return corners[true], ids[true]


def test_opencv_reads_every_corner_at_its_place(printed):
    geometry, sheet = printed
    scale = 0.4
    corners, ids = detect(
        cv2.resize(sheet.grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), geometry
    )
    assert np.array_equal(np.sort(ids), geometry.saddle_ids)
    expected = sheet.pixels(geometry.saddles[np.searchsorted(geometry.saddle_ids, ids)])
    error = ((corners + 0.5) / scale - 0.5 - expected) / sheet.per_mm
    assert np.abs(error).max() < TRUE_SIZE_MM


def test_orientation_is_seen(printed):
    """Corner ids grow to the right first, then downwards; on a turned sheet they do not."""
    geometry, sheet = printed
    small = np.ascontiguousarray(sheet.grey[::3, ::3])
    corners, ids = detect(small, geometry)
    first_row = corners[np.argsort(ids)][: geometry.squares[0] - 1]
    assert all(right[0] > left[0] for left, right in pairwise(first_row))
    assert first_row[:, 1].mean() < small.shape[0] / 4
    turned, ids = detect(np.ascontiguousarray(small[::-1, ::-1]), geometry)
    assert turned[np.argsort(ids)][0, 1] > 3 * small.shape[0] / 4


def test_other_papers_markers_are_not_this_papers(printed):
    geometry, sheet = printed
    small = np.ascontiguousarray(sheet.grey[::3, ::3])
    for paper in set(PAPERS) - {geometry.paper}:
        _, ids, _ = cv2.aruco.ArucoDetector(target_geometry(paper).dictionary()).detectMarkers(small)
        seen = set() if ids is None else set(ids.ravel().tolist())
        assert not seen & set(target_geometry(paper).marker_ids.tolist())


@pytest.mark.parametrize("paper", PAPERS)
def test_words_on_the_sheet(tmp_path, paper):
    path = write_target(tmp_path / "target.pdf", paper)
    with pypdfium2.PdfDocument(path) as document:
        text = document[0].get_textpage().get_text_bounded()
    for words in (
        target_geometry(paper).target_id,
        "Print at 100 %, then measure both bars with a caliper",
        "This edge is the top",
        "Bar x: 120 mm",
        "Bar y: 120 mm",
    ):
        assert words in text


def test_words_keep_clear_of_the_ring(printed):
    geometry, sheet = printed
    half_x, half_y = np.array(geometry.field) / 2
    clear = 2.0
    for strip in (
        (-half_x + 0.1, half_y - clear, half_x - 0.1, half_y - 0.1),
        (-half_x + 0.1, -half_y + 0.1, half_x - 0.1, -half_y + clear),
        (half_x - clear, -half_y + 0.1, half_x - 0.1, half_y - 0.1),
    ):
        assert sheet.darkness(*strip).max() == 0


def test_png_is_the_same_drawing_and_knows_its_size(tmp_path, printed):
    geometry, _ = printed
    path = write_target(tmp_path / "target.png", geometry.paper)
    with Image.open(path) as picture:
        assert picture.info["dpi"] == pytest.approx((DPI, DPI), rel=1e-4)
        png = Sheet(np.asarray(picture), geometry.page)
    _, ids = detect(np.ascontiguousarray(png.grey[::3, ::3]), geometry)
    assert np.array_equal(np.sort(ids), geometry.saddle_ids)
    for bar in geometry.check_bars:
        for middle in bar.ticks.mean(axis=1):
            offset, width = png.profile(tuple(middle), bar.axis, 1.0, 1.5)
            assert offset == pytest.approx(0, abs=TRUE_SIZE_MM)
            assert width == pytest.approx(0.2, abs=TRUE_SIZE_MM)


@pytest.mark.parametrize("paper", PAPERS)
def test_svg_has_millimetres_and_the_same_ink(tmp_path, paper):
    path = write_target(tmp_path / "target.SVG", paper)
    root = ET.parse(path).getroot()
    space = "{http://www.w3.org/2000/svg}"
    width, height = PAGE_MM[paper]
    assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
    assert [float(side) for side in root.get("viewBox").split()] == [-width / 2, -height / 2, width, height]
    drawing = draw_target(target_geometry(paper))
    paths = root.findall(f"{space}path")
    count = sum(path.get("d").count("M") for path in paths)
    assert count == len(drawing.rectangles)
    first = drawing.rectangles[0]
    assert paths[0].get("d").startswith(f"M{first.left:.6f} {-first.top:.6f}h12.000000v12.000000")
    assert [text.text for text in root.iter(f"{space}text")] == [line.text for line in drawing.texts]


def test_rendering_keeps_edges_between_pixels():
    """At 25.4 dpi a pixel is 1 mm: a tick of 0.2 x 4 mm leaves a fifth of its ink on each of four pixels."""
    geometry = target_geometry("a4")
    grey = render_target(draw_target(geometry), 25.4)
    assert grey.shape == (210, 297)
    ink = 1 - grey[105 + 64 : 105 + 68, 148 - 62 : 148 - 57].astype(float) / 255
    assert ink.sum() == pytest.approx(0.8, abs=0.02)


@pytest.mark.parametrize("name", ["target.docx", "target", "target.jpg"])
def test_an_unknown_suffix_is_refused(tmp_path, name):
    with pytest.raises(ValueError, match=f"{name} does not end in .pdf, .svg, .png"):
        write_target(tmp_path / name)
    assert not (tmp_path / name).exists()


@pytest.mark.parametrize("suffix", ["pdf", "svg", "png"])
def test_a_folder_that_does_not_exist_is_an_error(tmp_path, suffix):
    with pytest.raises(FileNotFoundError):
        write_target(tmp_path / "nowhere" / f"target.{suffix}")


@pytest.mark.parametrize("paper", PAPERS)
def test_the_ready_to_print_sheet_is_what_the_package_draws(tmp_path, paper):
    ready = raster_of_pdf(READY_TO_PRINT / f"target-{paper}.pdf", 300)
    drawn = raster_of_pdf(write_target(tmp_path / "target.pdf", paper), 300)
    assert ready.shape == drawn.shape
    assert np.array_equal(ready, drawn)
