"""What a side is called that has no crosses, and one that has one."""

import pytest

from hubsight.model.result import MeasuredSide
from hubsight.show.view import found_words, lacing_words
from made_up import make_side


@pytest.mark.parametrize(
    ("kind", "crosses", "words"),
    [
        ("radial", 0, "radial spokes"),
        ("j_bend", 0, "radial spokes"),
        ("paired", 0, "no crosses"),
        ("paired", 1, "1 cross"),
        ("j_bend", 3, "3 crosses"),
    ],
)
def test_pairs_without_crosses_are_not_radial(kind, crosses, words):
    assert lacing_words(kind, crosses) == words


@pytest.mark.parametrize(
    ("kind", "crosses", "words"),
    [
        ("paired", 0, "6 bosses, drilled for no crosses"),
        ("radial", 0, "6 radial bores, drilled for radial spokes"),
        ("paired", None, "6 bosses, crosses not readable"),
    ],
)
def test_what_was_found_says_how_it_is_laced(kind, crosses, words):
    side = make_side(kind=kind, crosses=crosses)
    assert found_words(MeasuredSide(name="drive", photos=(), measurement=side)).startswith(words)
