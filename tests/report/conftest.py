"""A job with everything that a report can show."""

import pytest
from PIL import Image

from hostile import HOSTILE
from hubsight import load_job, measure_and_record, measure_job, render_report
from hubsight.model.figure import BudgetItem
from made_up import make_face, make_figure, make_side

BUDGET = tuple(BudgetItem(source=name, u=0.02 * k) for k, name in enumerate("abcdefghi", start=1))

CALIPER = """
[sides.drive.caliper]
flange_diameter = 47.2
protrusion = 98.8
"""


def full_side(name, photos=(), **more):
    """A side with everything: all figures with budgets, drawing, camera."""
    figures = {
        "flange_diameter": make_figure(47.0, 0.08, budget=BUDGET),
        "spoke_offset": make_figure(2.2, 0.12, budget=BUDGET),
        "reach": make_figure(97.8, 0.1, budget=BUDGET),
        "protrusion": make_figure(93.7, 0.1, budget=BUDGET),
        "boss_width": make_figure(8.4, 0.2, budget=BUDGET),
        "flange_height": make_figure(90.0, 0.2, budget=BUDGET),
        "spoke_offset_by_width": make_figure(2.1, 0.2, budget=BUDGET),
    }
    return make_side(name, photos, figures=figures, face=make_face(), **more)


@pytest.fixture
def record(job_folder, fake_measurement):
    file = job_folder / "job.toml"
    file.write_text(file.read_text() + CALIPER)
    job = load_job(job_folder)
    for side in job.sides:
        fake_measurement.answers[side.stated.name] = full_side(side.stated.name, side.stated.photos)
    return measure_and_record(job, measure=lambda job: measure_job(job, measure=fake_measurement))


@pytest.fixture
def page(record, job_folder):
    return render_report(record, job_folder)


@pytest.fixture
def hostile_record(tmp_path, job_folder, fake_measurement):
    """A job in whose every word somebody hid a page of his own."""
    name = "<img src=x onerror=alert(3)>"
    photo = job_folder / "drive" / f"{name}.jpg"
    tags = Image.Exif()
    for tag in (0x010F, 0x0110):
        tags[tag] = HOSTILE
    Image.new("RGB", (400, 300), (9, 9, 9)).save(photo, exif=tags)
    quoted = HOSTILE.replace("\\", "\\\\").replace('"', '\\"')
    words = "\n".join(f'{field} = "{quoted}"' for field in ("hub", "customer", "wheel", "notes"))
    file = job_folder / "job.toml"
    text = file.read_text().replace("gauges.a", 'gauges."<script>alert(4)</script>"')
    file.write_text(f"{text}\n[label]\n{words}\n")
    folder = job_folder.rename(tmp_path / "job <script>alert(5)<")
    job = load_job(folder)
    fake_measurement.answers["drive"] = make_side(
        "drive", job.sides[0].stated.photos, warnings=(HOSTILE,), advice=(HOSTILE,)
    )
    return measure_and_record(job, measure=lambda job: measure_job(job, measure=fake_measurement))


@pytest.fixture
def hostile(tmp_path, hostile_record):
    return render_report(hostile_record, tmp_path / "job <script>alert(5)<")
