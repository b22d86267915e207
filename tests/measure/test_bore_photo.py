"""The photo that would settle a centreline: it looks at a face that no photo so far looks at."""

from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.measure import bore_photo
from hubsight.measure.bore_photo import OTHER_BORE, settles_centreline
from hubsight.scene.boss_shape import BossShape, Face

SHAPE = BossShape(Face(1, 4.5, 0.0, 0.0), Face(-1, 4.5, 0.0, 0.0), (0.0, 0.0, 0.0))
CENTRE = np.array([-48.0, 2.0])


def asked(monkeypatch, azimuths, *, shape=SHAPE, by_hand=False):
    """What is asked for after photos from these directions; four bosses look along both axes of the sheet."""
    eyes = [np.append(CENTRE + 150.0 * np.array([np.cos(a), np.sin(a)]), 350.0) for a in np.radians(azimuths)]
    monkeypatch.setattr(bore_photo, "view_in", lambda _, k: SimpleNamespace(position=eyes[k]))
    bosses = SimpleNamespace(pose=SimpleNamespace(count=4), by_hand=by_hand)
    solution = {"pattern": np.array([*CENTRE, 90.0, 0.0, 0.0, 24.0, 0.0])}
    return settles_centreline(
        SimpleNamespace(shape=shape, bosses=bosses, solution=solution, files=["a"] * len(eyes))
    )


@pytest.mark.parametrize(
    ("azimuths", "edge"),
    [((90, 180, 270), "right"), ((0, 180, 270), "top"), ((0, 90, 270), "left"), ((0, 90, 180), "bottom")],
)
def test_the_photo_is_to_come_from_where_none_was_taken(monkeypatch, azimuths, edge):
    said = asked(monkeypatch, azimuths)
    assert f"from the sheet's {edge} edge" in said
    assert said.startswith(OTHER_BORE)


def test_bosses_that_were_not_seen_name_no_photo(monkeypatch):
    assert asked(monkeypatch, (0, 90), shape=None) == OTHER_BORE
    assert asked(monkeypatch, (0, 90), by_hand=True) == OTHER_BORE
