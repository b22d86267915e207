"""Which of a side's rim holes comes first: stated, told by the photos, or open."""

import math
from dataclasses import replace

import pytest

from hubsight.job import load_job
from hubsight.job.by_hand import HandFigures
from hubsight.job.file.load import JobSide
from hubsight.job.file.model import JobFile
from hubsight.job.first_hole import drilled
from hubsight.job.lengths import photo_geometry
from hubsight.job.measure import measure_job
from hubsight.job.plan import plan_job
from hubsight.job.ready_side import ready_side
from hubsight.model.result import MeasuredSide
from hubsight.model.stated import Reading, StatedSide, StatedWheel
from hubsight.wheel import side_length
from hubsight.wheel.geometry import Drilling
from hubsight.wheel.rows import first_hole_patterns
from made_up import make_side

HOLES = first_hole_patterns("DND", 24)
WHEEL = StatedWheel(spokes=24, crosses=3, erd=Reading(545.0, 0.5), rim_holes=HOLES)
STATED = StatedSide("drive", (), (), centre_to_flange=Reading(22.0, 0.2))
ALPHAS = (75.0, 82.5)
"""Three crosses, holes 15 degrees apart in the row DND: counted off by hand (fifth hole from a boss amid two
that are two apart, or five and a half from one amid two neighbours)."""


def seen(*firsts, **more):
    return make_side(boss_count=8, crosses=3, first_holes=firsts, **more)


def length(first, side):
    """By the law of cosines."""
    d, o = side.figures["flange_diameter"].value, side.figures["spoke_offset"].value
    r, big = d / 2, 545.0 / 2
    flat = big**2 + r**2 - 2 * big * r * math.cos(math.radians(ALPHAS[first]))
    return math.sqrt(flat + 22.0**2) + o


def lengths_of(side):
    """The lengths of the side, the holes' row stated and its first hole not."""
    job = JobSide(STATED, WHEEL, drilling=Drilling(drive_pattern=HOLES[0]))
    ready = ready_side(
        job, MeasuredSide(name="drive", measurement=side), JobFile(), HandFigures(None, None, None, ())
    )
    rim = ready.drilling.rim(WHEEL.erd, WHEEL.spokes, WHEEL.rim_offset)
    return ready, side_length(ready.geometry, rim).mean.value


@pytest.mark.parametrize("first", [0, 1])
def test_the_photos_tell_the_first_hole(first):
    side = seen(first)
    ready, value = lengths_of(side)
    assert value == pytest.approx(length(first, side), abs=0.01)
    assert not ready.doubts


def test_photos_that_do_not_tell_leave_both_lengths_the_likelier_first():
    side = seen(1, 0)
    ready, value = lengths_of(side)
    (doubt,) = ready.doubts
    assert f"{length(1, side):.1f} mm with first_hole = 1 or {length(0, side):.1f} mm" in doubt.sentence
    assert value == pytest.approx(length(1, side), abs=0.01)


def test_an_open_first_hole_has_to_be_checked():
    geometry = photo_geometry(seen(), STATED, WHEEL)
    doubt = drilled(geometry, WHEEL, Drilling(drive_pattern=HOLES[0])).doubt
    assert doubt.severity == "check"
    assert doubt.about == "sides.drive.first_hole"


def test_radial_spokes_do_not_ask_for_it():
    side = make_side(kind="radial", boss_count=16, crosses=0)
    wheel = replace(WHEEL, crosses=0)
    geometry = photo_geometry(side, STATED, wheel)
    assert drilled(geometry, wheel, Drilling(drive_pattern=HOLES[0])).doubt is None


JOB = """
[sides.drive]
first_hole = 1
[sides.non_drive]
[rim]
erd = 545
holes = "DND"
[wheel]
spokes = 24
crosses = 3
"""


def test_a_job_states_the_holes_of_each_side(tmp_path):
    (tmp_path / "job.toml").write_text(JOB)
    drive, other = load_job(tmp_path, need_photos=False).sides
    assert drive.wheel.rim_holes == (HOLES[1],)
    assert [holes.all_angles() for holes in other.wheel.rim_holes] == [tuple(15.0 + 45 * k for k in range(8))]
    (tmp_path / "job.toml").write_text(JOB.replace("first_hole = 1\n", ""))
    drive, _ = load_job(tmp_path, need_photos=False).sides
    assert drive.wheel.rim_holes == HOLES


def test_the_order_follows_the_first_hole_that_the_photos_tell(tmp_path):
    (tmp_path / "job.toml").write_text(JOB.replace("first_hole = 1\n", "centre_to_flange = 22\n"))
    job = load_job(tmp_path, need_photos=False)
    drive = job.sides[0]
    shown = replace(drive, stated=replace(drive.stated, photos=(tmp_path / "1.jpg",)))
    job = replace(job, sides=(shown,))
    side = seen(1)
    measured = measure_job(job, measure=lambda *_, **__: side)
    drive = plan_job(job, measured).result.side("drive").spoke_lengths
    assert [sort.alpha for sort in drive.sorts] == pytest.approx([ALPHAS[1]])
    assert drive.length.value == pytest.approx(length(1, side), abs=0.01)
