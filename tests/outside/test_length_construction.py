"""Spoke lengths against an independent construction in three dimensions, and against facts of the trade.

The construction knows no formula for alpha: it drills the rim, sets up the bosses, laces the spokes, turns
the hub until both spokes of a pair are equally long, and counts the crossings that it sees.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from hubsight.model.stated import Reading
from hubsight.wheel import LengthResult, RimGeometry, SideGeometry, j_bend_side, side_length

FloatArray = npt.NDArray[np.float64]


def exact(value: float) -> Reading:
    return Reading(value, 0.0)


def at(radius: float, degrees: float, z: float) -> FloatArray:
    angle = math.radians(degrees)
    return np.array([radius * math.cos(angle), radius * math.sin(angle), z])


def cross(a: tuple[FloatArray, FloatArray], b: tuple[FloatArray, FloatArray]) -> bool:
    """Whether two spokes cross, seen along the axis, other than at their ends."""
    (p, q), (s, t) = ((x[0][:2], x[1][:2]) for x in (a, b))

    def side(u: FloatArray, v: FloatArray, w: FloatArray) -> float:
        return float((v[0] - u[0]) * (w[1] - u[1]) - (v[1] - u[1]) * (w[0] - u[0]))

    eps = 1e-6
    return side(p, q, s) * side(p, q, t) < -eps and side(s, t, p) * side(s, t, q) < -eps


class Wheel:
    """One side of a wheel of tangent pairs, in coordinates: boss 0 along +x, drive side at +z."""

    def __init__(
        self, n: int, skip: int, *, R: float, r: float, w: float, a: float = 0.0, offset: float
    ) -> None:
        total = 4 * n
        # every second hole is this side's; boss 0's centreline lies midway between two of them
        own = [(index - 0.5) * 2.0 * 360.0 / total for index in range(2 * n)]
        self.spokes = []
        for boss in range(n):
            direction = boss * 360.0 / n
            for way in (1, -1):
                hole = direction + way * own[skip]
                where = at(r, direction, w + way * a)
                self.spokes.append((where, at(R, hole, 0.0)))
        self.offset = offset

    def seat_to_rim(self, index: int) -> float:
        """Distance of head seat and rim point, the seat being set back from the crossing point."""
        crossing, rim = self.spokes[index]
        along = (rim - crossing) / np.linalg.norm(rim - crossing)
        seat = crossing - self.offset * along
        return float(np.linalg.norm(rim - seat))

    def crossings(self) -> int:
        """Spokes that the first one crosses outside its boss; its own pair shares its crossing point."""
        return sum(cross(self.spokes[0], other) for other in self.spokes[2:])


@pytest.mark.parametrize(
    ("n", "crosses", "w", "offset"),
    [
        (6, 2, 19.0, 2.2),
        (6, 1, 34.0, 4.0),
        (5, 2, 17.5, 3.4),
        (7, 2, 33.0, -1.2),
        (8, 3, 21.0, 2.8),
        (6, 0, 25.0, 3.0),
    ],
)
def test_tangent_pairs_against_the_construction(n: int, crosses: int, w: float, offset: float) -> None:
    R, r, a = 298.0, 23.5, 1.3
    wheel = Wheel(n, crosses + 1, R=R, r=r, w=w, a=a, offset=offset)
    assert wheel.crossings() == crosses
    side = SideGeometry(
        "drive", "paired", n, crosses, exact(2 * r), exact(w), exact(offset), stagger=exact(a)
    )
    result = side_length(side, RimGeometry(exact(2 * R), 4 * n))
    assert isinstance(result, LengthResult)
    built = {"outer": wheel.seat_to_rim(0), "inner": wheel.seat_to_rim(1)}
    for spoke in result.spokes:
        assert spoke.value == pytest.approx(built[spoke.bore], abs=1e-9)


def test_each_rim_hole_holds_one_spoke() -> None:
    """The construction's own check: no two spokes share a hole."""
    wheel = Wheel(6, 3, R=298.0, r=23.5, w=19.0, a=1.3, offset=2.0)
    holes = {round(math.degrees(math.atan2(rim[1], rim[0])) % 360.0, 6) for _, rim in wheel.spokes}
    assert len(holes) == len(wheel.spokes)


def test_rim_offset_in_the_construction() -> None:
    """A rim whose holes lie 2.5 mm to the drive side: its flange is nearer, the other farther, by that
    much."""
    rim = RimGeometry(exact(540.0), 32, offset=exact(2.5))
    for name, w, from_holes in (("drive", 21.0, 18.5), ("non_drive", 34.0, 36.5)):
        side = SideGeometry(name, "paired", 8, 3, exact(58.0), exact(w), exact(2.8))  # type: ignore[arg-type]
        result = side_length(side, rim)
        assert isinstance(result, LengthResult)
        built = Wheel(8, 4, R=270.0, r=29.0, w=from_holes, offset=2.8)
        assert result.mean.value == pytest.approx(built.seat_to_rim(0), abs=1e-9)


def test_radial_against_the_construction() -> None:
    R, D, w, offset = 294.0, 41.0, 35.0, 4.3
    mouth, rim = at(D / 2.0, 0.0, w), at(R, 0.0, 0.0)
    inward = (mouth - rim) / np.linalg.norm(mouth - rim)
    side = SideGeometry("non_drive", "radial", 10, 0, exact(D), exact(w), exact(offset))
    result = side_length(side, RimGeometry(exact(2 * R), 20))
    assert isinstance(result, LengthResult)
    assert result.mean.value == pytest.approx(float(np.linalg.norm(mouth + offset * inward - rim)), abs=1e-9)


@pytest.mark.parametrize("lean", [-5.0, 3.0, 6.0])
def test_bore_that_leans_off_the_spoke_changes_little(lean: float) -> None:
    """The seat lies on the bore's axis, not on the spoke's: the length is off by o (1 - cos(lean))."""
    R, D, w, offset = 294.0, 44.0, 30.0, 4.5
    mouth, rim = at(D / 2.0, 0.0, w), at(R, 0.0, 0.0)
    angle = math.atan2(w, R - D / 2.0) + math.radians(lean)
    seat = mouth + offset * np.array([-math.cos(angle), 0.0, math.sin(angle)])
    built = float(np.linalg.norm(seat - rim))
    side = SideGeometry("drive", "radial", 12, 0, exact(D), exact(w), exact(offset))
    result = side_length(side, RimGeometry(exact(2 * R), 24))
    assert isinstance(result, LengthResult)
    error = result.mean.value - built
    assert error == pytest.approx(offset * (1.0 - math.cos(math.radians(lean))), abs=1e-3)
    assert 0.0 < error < 0.03


@pytest.mark.parametrize(("holes", "crosses"), [(16, 3), (18, 3), (12, 2), (14, 0)])
def test_j_bend_against_the_published_form(holes: int, crosses: int) -> None:
    """Law of cosines for J-bend spokes: sqrt(R^2 + r^2 + w^2 - 2 R r cos(360 X / h)) - hole / 2 (from
    memory)."""
    R, r, w, hole = 301.0, 22.5, 20.0, 2.6
    angle = math.radians(360.0 * crosses / holes)
    published = math.sqrt(R**2 + r**2 + w**2 - 2.0 * R * r * math.cos(angle)) - hole / 2.0
    side = j_bend_side(
        "drive",
        holes=holes,
        crosses=crosses,
        hole_circle=exact(2 * r),
        hole_diameter=exact(hole),
        centre_to_flange=exact(w),
    )
    result = side_length(side, RimGeometry(exact(2 * R), 2 * holes))
    assert isinstance(result, LengthResult)
    assert result.mean.value == pytest.approx(published, abs=1e-9)


def test_numbers_of_bosses() -> None:
    """A 24-spoke hub has six bosses a side, a 20-spoke hub five, none of them opposite another.

    Common practice, no source.
    """
    for spokes, bosses, opposite in ((24, 6, True), (20, 5, False)):
        side = SideGeometry("drive", "paired", bosses, 2, exact(44.0), exact(17.0), exact(2.0))
        assert isinstance(side_length(side, RimGeometry(exact(600.0), spokes)), LengthResult)
        directions = [boss * 360.0 / bosses for boss in range(bosses)]
        assert any(abs((x + 180.0) % 360.0 - y) < 1e-9 for x in directions for y in directions) == opposite


def test_lengths_of_a_common_wheel() -> None:
    """Common practice, no source: about 297 and 299.5 mm, within a millimetre."""
    rim = RimGeometry(exact(601.0), 24)
    for name, d, w, about in (("drive", 44.0, 15.0, 297.0), ("non_drive", 39.0, 33.0, 299.5)):
        side = SideGeometry(name, "paired", 6, 2, exact(d), exact(w), exact(2.0))  # type: ignore[arg-type]
        result = side_length(side, rim)
        assert isinstance(result, LengthResult)
        assert result.mean.value == pytest.approx(about, abs=1.0)


def test_which_errors_matter() -> None:
    """An offset error goes into the length one to one, one of 1 mm in the flange diameter is tolerable.

    Common practice, no source.
    """
    rim = RimGeometry(exact(601.0), 24)

    def value(d: float, o: float) -> float:
        result = side_length(SideGeometry("drive", "paired", 6, 2, exact(d), exact(15.0), exact(o)), rim)
        assert isinstance(result, LengthResult)
        return result.mean.value

    assert value(44.0, 3.0) - value(44.0, 2.0) == pytest.approx(1.0)
    assert abs(value(45.0, 2.0) - value(44.0, 2.0)) < 0.15
