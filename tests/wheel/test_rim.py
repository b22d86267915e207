"""ERD from readings and rods, washers, offset, plausibility."""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.wheel.rim import (
    BEAD_SEAT_MM,
    ERD_DEFINITION,
    RimDiameter,
    bead_seat_warning,
    bead_seats_for,
    erd_from_readings,
    erd_from_rods,
    erd_from_seat,
    with_washers,
)


def measured(result: RimDiameter | Refusal) -> RimDiameter:
    assert isinstance(result, RimDiameter)
    return result


def test_several_readings_average() -> None:
    result = measured(erd_from_readings([600.2, 600.6, 600.4, 600.4], 0.2))
    assert result.erd.value == pytest.approx(600.4)
    assert result.erd.u == pytest.approx(0.1)
    assert result.spread == pytest.approx(0.4)
    assert not result.warnings


def test_scatter_among_the_readings_counts_when_it_is_larger() -> None:
    """The uncertainty of the mean agrees with the scatter of means over many rims."""
    rng = np.random.default_rng(6)
    results = [measured(erd_from_readings(list(rng.normal(600.0, 0.6, 12)), 0.1)) for _ in range(400)]
    scatter = float(np.std([result.erd.value for result in results]))
    assert float(np.mean([result.erd.u for result in results])) == pytest.approx(scatter, rel=0.1)


def test_agreeing_readings_are_no_proof() -> None:
    assert measured(erd_from_readings([600.0, 600.0], 0.3)).erd.u == pytest.approx(0.3 / 2**0.5)


def test_out_of_round_is_warned_about() -> None:
    warnings = measured(erd_from_readings([600.0, 601.6])).warnings
    assert "1.6 mm round the rim" in warnings[0]


def test_rods_with_gap_or_overlap() -> None:
    rods = (Reading(299.0, 0.05), Reading(300.0, 0.05))
    result = measured(erd_from_rods(rods, [2.0, 1.6, -0.2, 0.6], 0.2))
    assert result.erd.value == pytest.approx(600.0)
    alone = measured(erd_from_readings(result.readings, 0.2))
    # both rods' lengths, and where the slot's bottom lies, are in every gap's ERD
    assert result.erd.u == pytest.approx((alone.erd.u**2 + 2 * 0.05**2 + 0.15**2) ** 0.5)
    assert result.erd.count == 4


@pytest.mark.parametrize("readings", [[], [600.0, float("nan")], [-600.0]])
def test_no_length_is_refused(readings: list[float]) -> None:
    assert isinstance(erd_from_readings(readings), Refusal)


def test_seat_and_washers_count_on_both_ends() -> None:
    erd = erd_from_seat(Reading(594.0, 0.3), Reading(2.5, 0.1))
    assert (erd.value, erd.u) == pytest.approx((599.0, 0.13**0.5))
    assert with_washers(erd, Reading(0.7, 0.02)).value == pytest.approx(600.4)


def test_plausible_bead_seats() -> None:
    assert bead_seats_for(600.0) == (622,)
    assert 559 in bead_seats_for(540.0)
    assert bead_seats_for(300.0) == ()
    assert bead_seat_warning(600.0, 622) is None
    assert "radius" in str(bead_seat_warning(300.0, 622))
    for nominal in BEAD_SEAT_MM:
        assert bead_seat_warning(nominal + 10.0, nominal)


def test_definition_names_the_slot() -> None:
    assert "bottom of the nipple's slot" in ERD_DEFINITION
