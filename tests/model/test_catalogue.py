"""The catalogue of figures: in step with the types that name them, and complete."""

from typing import get_args

import pytest

from hubsight.model.catalogue import (
    CENTRE,
    FIGURES,
    OF_HUB,
    OF_SIDE,
    ON_SHELF,
    FigureName,
    HubFigureName,
    entry_of,
    figure_words,
)
from hubsight.shelf import parse_query


def test_every_name_has_an_entry_and_every_entry_a_name():
    assert tuple(OF_SIDE) == get_args(FigureName)
    assert tuple(OF_HUB) == get_args(HubFigureName)
    assert set(CENTRE.values()) <= set(OF_HUB)


@pytest.mark.parametrize("entry", FIGURES, ids=lambda entry: f"{entry.owner} {entry.name}")
def test_every_entry_says_what_is_needed(entry):
    assert entry.words
    assert entry.matters > 0
    assert entry.settle[0].isupper()
    assert entry.astray > 0 or not (entry.main and entry.owner == "side")
    twin = entry_of(entry.name)
    assert (twin.words, twin.matters) == (entry.words, entry.matters)


def test_an_error_that_matters_moves_a_spoke_by_a_tenth_to_half_a_millimetre():
    # derivatives of a usual wheel by the design: offset 1, flange diameter 0.09, centre to flange 0.05; at
    # one cross and radial 0.3 and more
    for name, least, most in (
        ("spoke_offset", 1.0, 1.0),
        ("flange_diameter", 0.09, 0.33),
        ("centre_to_flange", 0.05, 0.25),
    ):
        matters = entry_of(name).matters
        assert matters * least >= 0.09
        assert matters * most <= 0.5


def test_the_shelf_finds_every_figure_by_its_words():
    for name, entry in ON_SHELF.items():
        (span,) = parse_query(f"{entry.words} 44").spans
        assert span.name == name
        assert span.high - span.low == pytest.approx(2 * entry.shelf_about)


def test_a_reading_that_is_no_figure_is_called_by_its_field():
    assert figure_words("reference_diameter") == "reference diameter"
