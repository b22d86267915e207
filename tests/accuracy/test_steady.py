"""The steadiness bench compares in the right unit, and sees what was not said."""

from types import SimpleNamespace

import pytest
from bench.careful import Case
from steady import CHANGES, UNSTEADY_U, Move, as_one, move, summary

SIDE = SimpleNamespace(hub="h", side="ds")


def measured(value, u=0.1, warnings=(), doubts=()):
    figure = SimpleNamespace(value=value, u=u, warnings=warnings)
    return SimpleNamespace(figures={"reach": figure}, doubts=doubts)


def test_a_move_counts_in_the_smaller_uncertainty():
    found = move("photos in another order", SIDE, measured(97.0, u=0.1), measured(97.05, u=0.2))
    assert found.sigmas == pytest.approx(0.5)
    assert not found.said


def test_without_a_photo_it_counts_in_the_uncertainty_of_the_difference():
    found = move("without photo 1", SIDE, measured(97.0, u=0.3), measured(97.5, u=0.4))
    assert found.sigmas == pytest.approx(1.0)


def test_a_doubt_on_either_side_of_the_change_is_a_word():
    assert move("x", SIDE, measured(97.0), measured(98.0, doubts=("doubt",))).said
    assert move("x", SIDE, measured(97.0, warnings=("w",)), measured(98.0)).said


def test_the_table_counts_what_was_unsteady_without_a_word():
    moves = [
        Move("x", "h", "ds", "reach", UNSTEADY_U + 0.1, said=False),
        Move("x", "h", "nds", "reach", UNSTEADY_U + 0.1, said=True),
        Move("x", "i", "ds", "reach", UNSTEADY_U - 0.1, said=False),
    ]
    assert list(summary(moves))[1].split()[-3:] == ["2", "1", "0"]


@pytest.mark.parametrize("stated", [[119.0, 119.1, 119.2], 119.1])
def test_bars_are_restated_from_their_mean(stated):
    case = as_one(Case(None, {"target": {"bar_x": stated, "bar_y": stated}}, {}), SIDE)
    assert case.at("target", "bar_y") == pytest.approx(119.1)
    assert CHANGES["bars 0.03 larger"](case, SIDE).at("target", "bar_x") == pytest.approx(119.13)
    assert CHANGES["bars as two readings"](case, SIDE).at("target", "bar_x") == pytest.approx(
        [119.09, 119.11]
    )


def test_every_change_has_a_name():
    assert len(CHANGES) >= 10
