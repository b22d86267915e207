"""E_n numbers against a worked example.

Source: the definition in ISO/IEC 17043 and ISO 13528, E_n = (x - X) / sqrt(U_lab^2 + U_ref^2); and, from
memory, EA-4/02 example S10: a vernier caliper with an expanded uncertainty of 0.06 mm.
"""

from __future__ import annotations

import math

import pytest

from hubsight.uncertainty import combine, normalised_error, u_rectangular


def test_definition() -> None:
    assert normalised_error(10.25, 0.3, 10.0, 0.4) == pytest.approx(0.5)
    assert normalised_error(9.0, 0.6, 10.0, 0.8) == pytest.approx(-1.0)
    assert normalised_error(5.0, 0.0, 5.0, 0.0) == 0.0
    assert normalised_error(6.0, 0.0, 5.0, 0.0) == math.inf


def test_vernier_caliper_budget() -> None:
    """EA-4/02 S10 (from memory): +-25 um for the resolution, +-50 um mechanical; u = 33 um, k = 1.83, U = 60
    um."""
    u = combine(u_rectangular(0.025), u_rectangular(0.050))
    assert u == pytest.approx(0.033, abs=0.001)
    assert 1.83 * u == pytest.approx(0.06, abs=0.002)
