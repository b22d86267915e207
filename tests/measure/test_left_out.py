"""A photo that was left out: a warning where figures move with it, a note where they do not."""

from dataclasses import dataclass

import pytest

from hubsight.measure import side as module
from hubsight.measure.left_out import _compared, moved
from hubsight.model.refusal import Refusal
from made_up import make_figure, make_side

NOTE = "c.jpg was left out: the hub stands about 0.7 mm from where the other photos show it"


@dataclass(frozen=True)
class Seen:
    """Sightings, as far as this asks; ``offset`` is what side_measurement makes of them."""

    offset: float | None
    warnings: tuple[str, ...] = ()
    ends: object = None
    mouths: tuple[object, ...] = ()
    harmless: tuple[str, ...] = ()


@pytest.fixture(autouse=True)
def measured(monkeypatch):
    def measurement(seen):
        if seen.offset is None:
            return Refusal(reason="no bosses", remedy="Look")
        return make_side(figures={"spoke_offset": make_figure(seen.offset, 0.1)})

    monkeypatch.setattr(module, "side_measurement", measurement)


def left_out(with_it, without):
    return module._harmless(Seen(without, (NOTE, "the sheet is not flat")), Seen(with_it), NOTE)


@pytest.mark.parametrize("without", [2.09, 1.91])
def test_a_photo_whose_leaving_moves_nothing_is_a_note(without):
    left = left_out(2.0, without)
    assert left.warnings == ("the sheet is not flat",)
    assert left.harmless == (NOTE,)


@pytest.mark.parametrize(("with_it", "without"), [(2.0, 2.11), (2.0, 1.89), (None, 2.0), (2.0, None)])
def test_one_that_moves_a_figure_beyond_its_uncertainty_stays_a_warning(with_it, without):
    left = left_out(with_it, without)
    assert NOTE in left.warnings
    assert left.harmless == ()


def test_a_figure_moves_by_more_than_the_larger_uncertainty_or_is_gone():
    before = {"reach": make_figure(90.0, 0.1)}
    assert not moved(before, {"reach": make_figure(90.25, 0.3)})
    assert moved(before, {"reach": make_figure(90.35, 0.3)})
    assert moved(before, {})
    assert not moved({}, before)


def test_a_figure_without_a_photo_moves_to_where_the_others_put_it():
    one = _compared("reach", "a.jpg", make_figure(90.0), make_figure(90.3), 0.1)
    assert (one.value, one.moved) == (90.3, pytest.approx(0.3))
