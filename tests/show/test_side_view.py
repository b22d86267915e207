"""The drawing of a whole hub from the side, against its figures."""

import re
from xml.etree import ElementTree as ET

from hubsight.job.measure import software
from hubsight.model.figure import Figure
from hubsight.model.hub import HubFigures
from hubsight.model.result import JobResult
from hubsight.show.side_view import side_view


def figure(value):
    return Figure(value=value, u=0.12, low=value - 0.2, high=value + 0.2)


def job(**figures):
    hub = HubFigures(figures={name: figure(value) for name, value in figures.items()}) if figures else None
    return JobResult(job="j", sides=(), hub=hub, software=software())


def test_it_shows_every_figure_at_its_place():
    drawn = side_view(job(over_locknut=142.0, centre_to_flange_ds=19.25, centre_to_flange_nds=33.5))
    tree = ET.fromstring(str(drawn))
    words = [e.text for e in tree.iter() if e.tag.endswith("text")]
    assert {
        "over-locknut 142.00 ± 0.12",
        "to flange 19.25 ± 0.12",
        "to flange 33.50 ± 0.12",
    } <= set(words)
    boxes = [
        [float(p.split(",")[0]) for p in e.get("points").split()]
        for e in tree.iter()
        if e.tag.endswith("polygon") and e.get("class") != "arrow"
    ]
    middles = {round((min(x) + max(x)) / 2, 2) for x in boxes}
    assert {19.25, -33.5} <= middles


def test_a_side_that_was_not_measured_is_not_drawn():
    drawn = str(side_view(job(over_locknut=100.0, centre_to_flange_ds=35.0)))
    assert len(re.findall(r">to flange [\d.]+ ±", drawn)) == 1
    assert "non-drive" not in drawn


def test_without_the_over_locknut_there_is_nothing_to_draw():
    assert side_view(job(centre_to_flange_ds=35.0)) is None
    assert side_view(job()) is None
