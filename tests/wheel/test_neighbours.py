"""A broken spoke in a wheel of unknown hub: the answer of its neighbours against wheels that are drawn."""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.wheel.neighbours import FromNeighbours, from_neighbours
from hubsight.wheel.nipple import Nipple, Stock, nipple_window
from hubsight.wheel.wire import plain

WINDOW = nipple_window(Nipple())


def answer(spokes: list[float], ends: tuple[float, ...] = (), *, step: float = 2.0) -> FromNeighbours:
    found = from_neighbours(spokes, ends=ends, window=WINDOW, stock=Stock(step))
    assert isinstance(found, FromNeighbours)
    return found


def test_risks_and_intervals_agree_with_wheels_that_are_drawn() -> None:
    """Each wheel: a length that ends level, spokes cut near a stock length, readings of three of them."""
    rng = np.random.default_rng(4)
    wheels, inside, short, long = 1500, 0, 0, 0
    said_short = said_long = 0.0
    for _ in range(wheels):
        built, level = rng.uniform(280.0, 300.0), 0.0
        end = rng.uniform(WINDOW.low, WINDOW.high)
        level = built - end  # a spoke of this length ends level with the slot's bottom
        cut = built + rng.normal(0.0, 0.15, 3)
        found = answer(
            list(cut + rng.normal(0.0, 0.3, 3)),
            tuple(cut - level + rng.normal(0.0, 0.3, 3)),
            step=1.0,
        )
        inside += abs(found.length.value - built) <= 1.96 * found.length.u
        new = found.order.length + rng.normal(0.0, 0.15) - level
        short += new < WINDOW.low
        long += new > WINDOW.high
        said_short += found.order.p_too_short
        said_long += found.order.p_too_long
    assert 0.90 <= inside / wheels <= 0.995
    assert short / wheels == pytest.approx(said_short / wheels, abs=0.01)
    assert long / wheels == pytest.approx(said_long / wheels, abs=0.02)


def test_ends_that_stand_out_ask_for_a_shorter_spoke() -> None:
    alike = answer([296.0, 296.1], (0.2, 0.3))
    out = answer([296.0, 296.1], (2.4, 2.2))
    sunk = answer([296.0, 296.1], (-2.0, -1.8))
    assert (out.order.length, alike.order.length, sunk.order.length) == (294.0, 296.0, 298.0)


def test_what_is_not_known_widens_the_answer() -> None:
    seen, unseen = answer([296.0, 296.1], (0.2, 0.3)), answer([296.0, 296.1])
    assert unseen.end.u > seen.end.u
    assert not unseen.end_seen
    assert any("not measured" in note for note in unseen.notes)
    assert answer([296.0]).length.u > answer([296.0, 296.0, 296.0]).length.u
    assert any("a second" in note for note in answer([296.0]).notes)


def test_tension_is_taken_off() -> None:
    """1000 N stretch 290 mm of 2.0 mm stainless wire by 0.50 mm (spring makers' tables, EN 10270-3)."""
    tense = from_neighbours(
        [290.5], wire=plain(2.0), tension=Reading(1000.0, 100.0), window=WINDOW, stock=Stock()
    )
    assert isinstance(tense, FromNeighbours)
    assert tense.length.value == pytest.approx(290.0, abs=0.01)
    assert tense.length.u > answer([290.5]).length.u


def test_neighbours_of_two_lengths_are_doubted() -> None:
    assert any("two lengths" in note for note in answer([294.0, 296.0]).notes)
    assert not any("two lengths" in note for note in answer([295.8, 296.2]).notes)


@pytest.mark.parametrize("spokes", [[], [float("nan")], [-3.0]])
def test_without_a_neighbour_the_hand_route_is_told(spokes: list[float]) -> None:
    refusal = from_neighbours(spokes, window=WINDOW, stock=Stock())
    assert isinstance(refusal, Refusal)
    assert "leans the same way" in refusal.remedy


def test_lengths_that_are_all_too_short_are_refused() -> None:
    refusal = from_neighbours([296.0], ends=(0.2,), window=WINDOW, stock=Stock(lengths=(280.0, 282.0)))
    assert isinstance(refusal, Refusal)
