"""E_n numbers against a worked example.

Sources: the definition in ISO/IEC 17043 and ISO 13528, E_n = (x - X) / sqrt(U_lab^2 + U_ref^2); the example
of the NIST Dataplot reference manual, "ISO 13528 EN SCORE"
(https://itl.nist.gov/div898/software/dataplot/refman2/auxillar/enscore.htm); and, from memory, EA-4/02
example S10: a vernier caliper with an expanded uncertainty of 0.06 mm.
"""

from __future__ import annotations

import math
from statistics import stdev

import pytest

from gum import combine
from hubsight.model.uncertainty import normalised_error, u_rectangular


def test_definition() -> None:
    assert normalised_error(10.25, 0.3, 10.0, 0.4) == pytest.approx(0.5)
    assert normalised_error(9.0, 0.6, 10.0, 0.8) == pytest.approx(-1.0)
    assert normalised_error(5.0, 0.0, 5.0, 0.0) == 0.0
    assert normalised_error(6.0, 0.0, 5.0, 0.0) == math.inf


# First batch of the NIST gear data, and the standard deviation of all ten batches (both from memory).
GEARS = (1.006, 0.996, 0.998, 1.000, 0.992, 0.993, 1.002, 0.999, 0.994, 1.000)
ALL_GEARS_SD = 0.00628


@pytest.mark.parametrize(
    ("value", "published"), [(1.006, 0.393), (0.996, -0.262), (0.998, -0.131), (1.0, 0.0)]
)
def test_published_scores_of_gears(value: float, published: float) -> None:
    """Laboratory: twice its batch's standard deviation, printed as 0.009; reference 1: twice that of all."""
    laboratory = 2.0 * stdev(GEARS)
    assert round(laboratory, 3) == 0.009
    assert normalised_error(value, laboratory, 1.0, 2.0 * ALL_GEARS_SD) == pytest.approx(published, abs=6e-4)


def test_vernier_caliper_budget() -> None:
    """EA-4/02 S10 (from memory): +-25 um for the resolution, +-50 um mechanical; u = 33 um, k = 1.83, U = 60
    um."""
    u = combine(u_rectangular(0.025), u_rectangular(0.050))
    assert u == pytest.approx(0.033, abs=0.001)
    assert 1.83 * u == pytest.approx(0.06, abs=0.002)
