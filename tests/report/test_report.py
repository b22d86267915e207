"""What the report says, and that nothing in it comes from elsewhere or runs."""

import base64
import io
import re
from html.parser import HTMLParser

import pytest
from PIL import Image
from typer.testing import CliRunner

from hostile import HOSTILE
from hubsight import load_job, measure_and_record, measure_job, render_report
from hubsight.cli import app
from hubsight.cli.report import ORDER_FILE, REPORT_FILE
from hubsight.model.agreement import Agreement, Opinion, PhotosAgree
from hubsight.model.cautions import CAUTIONS
from hubsight.model.result import FlatReport, KitUsed, LyingReport
from hubsight.report import render_order
from hubsight.report.content import report_content

WHOLE, CLOSE_UPS = 4, 12
"""Photos of the job, and their close-ups: per side and photo the gauge's end, its exit, the flange's rim."""

VOID = {"meta", "img", "br", "hr", "link", "input"}


class Page(HTMLParser):
    """Elements with their attributes, and the text; complains where elements are not closed as opened."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.said, self._open = [], [], []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        if self._open and self._open[-1] != "style":
            self.said.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.said).split())

    def of(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    @property
    def photos(self):
        """The photos that are shown whole."""
        return [picture for picture in self.of("img") if picture["alt"].startswith("Photo ")]


def test_every_figure_is_there_with_its_uncertainty_and_interval(page):
    said = Page(page).text
    for words in (
        "flange diameter 47.00 0.08 46.84 to 47.16 good",
        "spoke offset 2.20 0.12 1.96 to 2.44 good",
    ):
        assert said.count(words) == 2  # both sides


def test_double_check_warnings_cautions_and_lengths_are_there(page, record):
    said = Page(page).text
    assert "flange diameter 47.20 47.00 +0.20 agrees" in said
    assert "protrusion 98.80 93.70 +5.10 disagrees" in said
    for check in record.measurement.sides[0].caliper_checks[1:]:
        assert check.sentence in said
    for caution in CAUTIONS:
        assert caution in said
    length = record.measurement.sides[0].spoke_lengths.length
    assert f"{length.value:.2f} mm" in said


def test_every_input_and_statement_is_there(page, record):
    said = Page(page).text
    for file in record.inputs:
        assert f"{file.path} {file.sha256}" in said
    assert "target.bar_x 119.50 ± 0.10" in said
    assert record.measurement.software.opencv in said


def test_a_budget_is_shown_with_its_largest_parts_and_the_rest_together(page):
    said = Page(page).text
    # the parts are 0.02 to 0.18; the three smallest together are 0.02 * sqrt(1 + 4 + 9)
    assert "i 0.180 h 0.160 g 0.140 f 0.120 e 0.100 d 0.080 3 smaller ones together 0.075" in said


def test_photos_are_in_it_with_words_for_those_who_cannot_see_them(page):
    pictures = Page(page).of("img")
    assert len(Page(page).photos) == WHOLE
    assert len(pictures) == WHOLE + CLOSE_UPS
    for picture in pictures:
        assert "IMG_" in picture["alt"]
        kind, _, content = picture["src"].partition(",")
        assert kind == "data:image/jpeg;base64"
        with Image.open(io.BytesIO(base64.b64decode(content))) as shown:
            assert shown.size == (int(picture["width"]), int(picture["height"]))
            assert not shown.getexif()
            assert not set(shown.info) & {"exif", "xmp", "comment", "photoshop"}


def test_drawings_have_titles(page):
    assert page.count("<title>Flange of the") == 2
    pictures = re.findall(r'<svg class="(drawing|nipples|strip)" role="img"', page)
    assert pictures.count("drawing") == 4
    assert pictures.count("nipples") == 2
    assert page.count("<title>") == 1 + len(pictures)


def test_nothing_runs_and_nothing_is_loaded(page):
    seen = Page(page)
    tags = {tag for tag, _ in seen.elements}
    assert not tags & {"script", "link", "iframe", "object", "embed", "form", "a", "base", "audio", "video"}
    for _, attributes in seen.elements:
        assert not [name for name in attributes if name.startswith("on")]
        assert not set(attributes) & {"href", "xlink:href", "srcset", "action"}
        assert attributes.get("src", "data:").startswith("data:")
    assert not re.search(r"url\(|@import|expression\(", page)
    policy = next(item for item in seen.of("meta") if "http-equiv" in item)
    assert "default-src 'none'" in policy["content"]


def test_a_photo_that_is_gone_or_exchanged_is_not_shown(record, job_folder):
    (job_folder / "drive" / "IMG_1.jpg").unlink()
    Image.new("RGB", (400, 300)).save(job_folder / "drive" / "IMG_2.jpg")
    seen = Page(render_report(record, job_folder))
    assert len(seen.photos) == 2
    assert "drive/IMG_1.jpg: the photo cannot be shown: does not exist" in seen.text
    assert "drive/IMG_2.jpg: the photo is not the one that was measured" in seen.text
    assert Page(render_report(record, None)).of("img") == []


def test_what_changed_since_is_said_on_report_and_order_sheet(record, job_folder):
    assert "Out of date" not in Page(render_report(record, job_folder)).text
    assert "Out of date" not in Page(render_order(record, job_folder)).text
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("value = 596,", "value = 598,"))
    Image.new("RGB", (400, 300)).save(job_folder / "drive" / "IMG_2.jpg")
    (job_folder / "non_drive" / "IMG_1.jpg").rename(job_folder / "non_drive" / "IMG_7.jpg")
    for page in (render_report(record, job_folder), render_order(record, job_folder)):
        said = Page(page).text
        assert "Out of date: the job was changed after it was measured." in said
        assert "in job.toml rim.erd corrected: 596.00 ± 0.00 to 598.00 ± 0.00" in said
        assert "drive/IMG_2.jpg is another file" in said
        assert "non_drive/IMG_7.jpg was added" in said
        assert "non_drive/IMG_1.jpg was taken out" in said
    assert "Out of date" not in Page(render_order(record)).text, "a record that was sent alone"


def test_the_command_says_what_changed_since(record, job_folder):
    def run():
        return CliRunner().invoke(app, ["report", str(job_folder)])

    assert run().stderr == ""
    file = job_folder / "job.toml"
    file.write_text(file.read_text() + '[label]\ncustomer = "somebody"\n')
    assert "in job.toml the words of [label] are others" in run().stderr
    file.write_text(file.read_text().replace("crosses = 2", "croses = 2"))
    assert "job.toml cannot be read as it is now (this field is not known)" in run().stderr
    assert f"hubsight measure {job_folder}" in run().stderr


def test_a_photo_outside_the_folder_is_not_shown(record, job_folder, tmp_path):
    Image.new("RGB", (400, 300), (90, 60, 120)).save(tmp_path / "IMG_1.jpg")
    sides = record.measurement.sides
    hostile = sides[0].model_copy(update={"photos": ("../IMG_1.jpg", sides[0].photos[1])})
    measurement = record.measurement.model_copy(update={"sides": (hostile, sides[1])})
    seen = Page(render_report(record.model_copy(update={"measurement": measurement}), job_folder))
    assert "../IMG_1.jpg: the photo is not here" in seen.text
    assert len(seen.photos) == 3


def test_a_refused_side_says_why(job_folder, fake_measurement, refusal):
    fake_measurement.answers["drive"] = refusal
    job = load_job(job_folder)
    record = measure_and_record(job, measure=lambda job: measure_job(job, measure=fake_measurement))
    said = Page(render_report(record, job_folder)).text
    assert "Drive side: Stop: do not order yet" in said
    assert f"Stop: drive side: {refusal.sentence()}" in said


def test_hostile_words_are_shown_as_words(hostile):
    seen = Page(hostile)
    assert not seen.of("script")
    assert len(seen.photos) == 5
    for _, attributes in seen.elements:
        assert not [name for name in attributes if name.startswith("on")]
    words = " ".join(HOSTILE.split())
    assert seen.text.count(words) >= 7  # title, heading, label, warning, advice, camera
    assert "gauges.<script>alert(4)</script>.length" in seen.text
    assert "drive/<img src=x onerror=alert(3)>.jpg" in seen.text


def contrast(one, other):
    """Contrast ratio of two colours (WCAG 2.1, relative luminance and contrast ratio)."""

    def luminance(colour):
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_words_and_bars_stand_out_without_colour(page):
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", page))
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for name in ("ink", "quiet", "mark"):
        for ground in ("#ffffff", colours["wash"]):
            assert contrast(colours[name], ground) >= 4.5, name  # WCAG 2.1, 1.4.3
    assert contrast(colours["bar"], "#e4e7eb") >= 3.0  # WCAG 2.1, 1.4.11


def test_what_disagrees_is_framed_and_every_close_up_is_named(record, job_folder):
    odd = Agreement(
        feature="gauge_end",
        words="the gauge's end",
        gauge=0,
        opinions=(
            Opinion(photo="IMG_1.jpg", value=0.0, u=0.05),
            Opinion(photo="IMG_2.jpg", value=0.7, u=0.05, odd=True),
        ),
        chi2=90.0,
        freedom=1,
    )
    first = record.measurement.sides[0]
    agreement = PhotosAgree(features=(odd,))
    measured = first.measurement.model_copy(update={"agreement": agreement})
    sides = (first.model_copy(update={"measurement": measured}), record.measurement.sides[1])
    measurement = record.measurement.model_copy(update={"sides": sides})
    page = render_report(record.model_copy(update={"measurement": measurement}), job_folder)
    seen = Page(page)
    assert page.count('<li class="odd">') == 1
    close_ups = [picture["alt"] for picture in seen.of("img") if picture not in seen.photos]
    assert close_ups[0] == "IMG_2, far end"
    assert "! the end 0.70 mm farther out than where the others have it" in seen.text
    assert "! IMG_2" in seen.text, "and on the strip of the photos' opinions"


def test_the_order_sheet_orders_and_repeats_every_doubt(record):
    said = Page(render_order(record)).text
    for line in record.measurement.order:
        counts = f"{line.count} {line.spares} {line.count + line.spares}"
        assert f"thread {line.thread} {counts} {line.length:g}" in said
    for reason in record.measurement.verdict.reasons:
        assert reason.sentence.rstrip(".") in said
    for caution in CAUTIONS:
        assert caution in said
    assert "where the end is good" in said


def test_without_a_rim_the_order_sheet_orders_nothing(record):
    measurement = record.measurement.model_copy(update={"wheel": None})
    said = Page(render_order(record.model_copy(update={"measurement": measurement}))).text
    assert "There is nothing to order yet." in said


def test_the_order_sheet_is_escaped(hostile_record):
    page = render_order(hostile_record)
    assert not Page(page).of("script")
    assert not Page(page).of("img")


def test_the_command_writes_the_page_into_the_job(record, job_folder):
    result = CliRunner().invoke(app, ["report", str(job_folder)])
    assert result.exit_code == 0
    assert (job_folder / REPORT_FILE).read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert CliRunner().invoke(app, ["report", str(job_folder), "--order"]).exit_code == 0
    assert "Spokes to order" in (job_folder / ORDER_FILE).read_text(encoding="utf-8")
    refused = CliRunner().invoke(app, ["report", str(job_folder), "--out", str(job_folder / "no" / "a.html")])
    assert refused.exit_code == 2
    assert "the report cannot be written there" in refused.output
    nothing = CliRunner().invoke(app, ["report", str(job_folder / "drive")])
    assert nothing.exit_code == 2
    assert "has no record yet" in nothing.output


def test_kit_and_what_else_was_refused_are_told(record, job_folder, refusal):
    kit = (KitUsed(kind="gauge", name="<b>long</b>", file="long.json", says="100.02 mm"),)
    flat = FlatReport(sentences=("the ruler agrees with the bars",), refusal=refusal)
    lying = LyingReport(photos=("a.jpg",), refusal=refusal)
    measurement = record.measurement.model_copy(update={"kit": kit, "flat": flat, "lying": lying})
    said = Page(render_report(record.model_copy(update={"measurement": measurement}), job_folder)).text
    assert 'gauge "<b>long</b>": 100.02 mm' in said
    assert "the ruler agrees with the bars" in said
    assert f"The lying hub, not measured: {refusal.sentence()}" in said
    assert f"Photos of a ruler on the sheet, not measured: {refusal.sentence()}" in said


def test_centre_to_flange_is_told_once_and_is_the_one_in_the_spoke_length(record):
    for side, shown in zip(record.measurement.sides, report_content(record, None, None).sides, strict=True):
        (row,) = [row for row in shown.view.rows if row.name == "centre_to_flange"]
        used = side.spoke_lengths.origin.figure("centre_to_flange")
        assert (row.figure.value, row.figure.u) == (used.value, used.u)
