"""The picture of built wheels against their predictions."""

from xml.etree import ElementTree

import pytest

from hubsight.job.as_built import BuiltDocument, BuiltSide
from hubsight.model.stated import Reading
from hubsight.show.built_picture import built_picture
from hubsight.wheel.built import as_built, over_jobs


def side(job, end, name="drive", rim="light", predicted=0.4):
    result = as_built(Reading(predicted, 0.2), [end - 0.1, end + 0.1])
    return BuiltSide(job=job, side=name, rim=rim, nipple="12 mm", hub="rear", length=296.0, result=result)


@pytest.fixture
def document():
    sides = (side("a", 0.5), side("a", 0.2, "non_drive"), side("b", 2.4, rim="deep"))
    return BuiltDocument(sides=sides, overall=over_jobs([one.result for one in sides]))


def drawn(document, by="rim"):
    root = ElementTree.fromstring(str(built_picture(document, by)))
    return root, " ".join("".join(root.itertext()).split())


def test_every_side_is_a_mark_in_the_order_of_its_difference(document):
    root, _ = drawn(document)
    dots = [float(node.get("cx")) for node in root.iter() if node.get("class") == "dot"]
    diamonds = [node.get("points") for node in root.iter() if node.get("class") == "off"]
    assert len(dots) == 2
    assert len(diamonds) == 1, "what contradicts has a shape of its own, in grey too"
    assert dots[0] > dots[1]
    assert float(diamonds[0].split(",")[0]) > dots[0]
    bars = [node for node in root.iter() if node.get("class") in ("bar", "offbar")]
    ends = [float(point.split(",")[0]) for point in bars[0].get("points").split()]
    assert sum(ends) / 2 == pytest.approx(dots[0], abs=0.02)


def test_bias_scatter_and_stated_u_are_said(document):
    _, said = drawn(document)
    assert "bias +0.63 ± 0.69 mm, scatter 1.19 mm, stated u 0.29 mm" in said
    assert "2 of 3 within their 95 % interval" in said


def test_groups_follow_what_is_asked(document):
    assert "light: -0.05 mm" in drawn(document)[1]
    assert "deep: +2.00 mm" in drawn(document)[1]
    assert "rear: +0.63 mm" in drawn(document, "hub")[1]
    assert "12 mm: +0.63 mm" in drawn(document, "nipple")[1]


def test_one_side_alone_is_drawn():
    root, said = drawn(BuiltDocument(sides=(side("a", 0.5),)))
    assert "one side, stated u 0.29 mm" in said
    assert root.find(".//{*}circle") is not None
