"""The laced wheel against an independent construction in three dimensions, and against facts of the trade.

The construction drills the rim hole by hole, counts a boss' holes outwards from its centreline, turns the hub
until no torque is left, and looks at lines in space. It knows no formula for alpha.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import brentq

from hubsight.model.stated import Reading, SideName
from hubsight.wheel import LengthResult, RimGeometry, SideGeometry, pattern_from_letters, side_length
from hubsight.wheel.laced import HAND_MM, LacedSpoke, crossings, laced_wheel

FloatArray = npt.NDArray[np.float64]
R, STAGGER, OFFSET = 298.0, 1.3, 2.2


def exact(value: float) -> Reading:
    return Reading(value, 0.0)


def pairs(name: SideName, count: int, crosses: int, r: float = 23.5, w: float = 19.0) -> SideGeometry:
    return SideGeometry(
        name, "paired", count, crosses, exact(2 * r), exact(w), exact(OFFSET), stagger=exact(STAGGER)
    )


def drilled(letters: str, spokes: int) -> RimGeometry:
    if letters == "DN":
        return RimGeometry(exact(2 * R), spokes)
    drive, other = (pattern_from_letters(letters, spokes, side) for side in ("drive", "non_drive"))
    return RimGeometry(exact(2 * R), spokes, drive_pattern=drive, non_drive_pattern=other)


def by_finger(letters: str, spokes: int, mine: str, bosses: int, crosses: int) -> list[dict[str, int]]:
    """Return for every boss the places of its two rim holes, from 0 clockwise along the row of letters."""
    own = [k for k in range(spokes) if letters[k % len(letters)] == mine]
    out = []
    for boss in range(bosses):
        left, right = 2 * boss, 2 * boss + 1  # the holes on either side of its centreline
        out.append(
            {"leading": own[(right + crosses) % len(own)], "trailing": own[(left - crosses) % len(own)]}
        )
    return out


def turned_the_same(
    one: set[tuple[tuple[int, str], ...]], other: set[tuple[tuple[int, str], ...]], n: int
) -> bool:
    """Whether two lacings, pairs of holes by boss, are one turned round by whole holes."""

    def turned(by: int) -> set[tuple[tuple[int, str], ...]]:
        return {tuple(sorted(((hole + by) % n, way) for hole, way in boss)) for boss in other}

    return any(one == turned(by) for by in range(n))


WHEELS = [
    ("DN", 24, 6, 2, 6, 2),
    ("DN", 32, 8, 3, 8, 3),
    ("DN", 28, 7, 1, 7, 2),
    ("DN", 20, 5, 0, 5, 1),
    ("DND", 24, 8, 2, 4, 1),
    ("DDNN", 24, 6, 2, 6, 2),
]


@pytest.mark.parametrize("built", WHEELS)
def test_every_boss_gets_the_holes_that_a_finger_counts(
    built: tuple[str, int, int, int, int, int],
) -> None:
    letters, spokes, n, x, other_n, other_x = built
    sides = (pairs("drive", n, x), pairs("non_drive", other_n, other_x, w=33.0))
    wheel = laced_wheel(sides, drilled(letters, spokes))
    assert wheel.numbered_together
    assert sorted(spoke.hole for spoke in wheel.spokes) == list(range(1, spokes + 1))
    assert list(wheel.holes) == sorted(wheel.holes)
    ours, theirs = set(), set()
    for side, mine in zip(sides, "DN", strict=True):
        spun = wheel.of(side.name)
        assert sorted(spoke.place for spoke in spun) == sorted([*range(1, side.count + 1)] * 2)
        for place in range(1, side.count + 1):
            ours.add(tuple(sorted((s.hole - 1, s.way) for s in spun if s.place == place)))
        for boss in by_finger(letters, spokes, mine, side.count, side.crosses):
            theirs.add(tuple(sorted((hole, way) for way, hole in boss.items())))
    assert turned_the_same(ours, theirs, spokes)


def in_space(
    spoke: LacedSpoke, side: SideGeometry, turn: float = 0.0, axial: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Return crossing point and rim point of a spoke, the hub turned by some degrees."""

    def at(radius: float, degrees: float, z: float) -> FloatArray:
        angle = math.radians(degrees)
        return np.array([radius * math.cos(angle), radius * math.sin(angle), z])

    r, w = side.flange_diameter.value / 2.0, side.centre_to_flange.value
    return at(r, spoke.hub + turn, w + axial), at(R, spoke.rim, 0.0)


@pytest.mark.parametrize("built", WHEELS)
def test_lengths_and_torque_in_space(
    built: tuple[str, int, int, int, int, int],
) -> None:
    """Lines in space are as long as `side_length` says, and pull the hub neither way."""
    letters, spokes, n, x, other_n, other_x = built
    rim = drilled(letters, spokes)
    sides = (pairs("drive", n, x), pairs("non_drive", other_n, other_x, w=33.0))
    wheel = laced_wheel(sides, rim)
    for side in sides:
        result = side_length(side, rim)
        assert isinstance(result, LengthResult)
        computed = {round(spoke.value, 6) for spoke in result.spokes}
        spun, found = wheel.of(side.name), set()
        bores = (STAGGER, -STAGGER) if {s.bore for s in result.spokes} != {"mean"} else (0.0,)
        for spoke, axial in itertools.product(spun, bores):
            start, end = in_space(spoke, side, axial=axial)
            found.add(round(float(np.linalg.norm(end - start)) + OFFSET, 6))
        assert computed <= {x for y in found for x in (y, round(y - 1e-6, 6), round(y + 1e-6, 6))}

        def lead(turn: float, side: SideGeometry = side, spun: tuple[LacedSpoke, ...] = spun) -> float:
            """Mean angle by which the spokes run ahead of their bosses: none where they pull equally."""
            return sum((s.rim - (s.hub + turn) + 180.0) % 360.0 - 180.0 for s in spun) / len(spun)

        assert brentq(lead, -5.0, 5.0) == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("built", WHEELS)
def test_crossings_are_those_that_lines_in_space_make(
    built: tuple[str, int, int, int, int, int],
) -> None:
    """Each spoke is walked along in small steps, and the others looked at where they pass over it."""
    letters, spokes, n, x, other_n, other_x = built
    rim = drilled(letters, spokes)
    sides = (pairs("drive", n, x), pairs("non_drive", other_n, other_x, w=33.0))
    wheel, side = laced_wheel(sides, rim), sides[0]
    spun = wheel.of("drive")
    for spoke in [s for s in spun if s.way == "leading"][:3]:
        found = crossings(spoke, spun, side, rim)
        assert len(found) == x
        start, end = in_space(spoke, side, axial=STAGGER)
        walk = start + np.linspace(0.0, 1.0, 60_001)[:, np.newaxis] * (end - start)
        met = []
        for other in spun:
            if other.place == spoke.place or other.way == spoke.way:
                continue
            a, b = in_space(other, side, axial=-STAGGER)
            across = (b - a)[0] * (walk - a)[:, 1] - (b - a)[1] * (walk - a)[:, 0]
            (changes,) = np.nonzero(np.diff(np.sign(across)))
            for k in changes:
                share = float((walk[k] - a)[:2] @ (b - a)[:2] / ((b - a)[:2] @ (b - a)[:2]))
                if 0.0 < share < 1.0:
                    apart = walk[k][2] - (a + share * (b - a))[2]
                    met.append((float(np.hypot(*walk[k][:2])), (other.place - spoke.place) % n, apart))
        for crossing, (radius, places, apart) in zip(found, sorted(met), strict=True):
            assert crossing.radius == pytest.approx(radius, abs=0.02)
            assert crossing.places == places
            assert crossing.apart == pytest.approx(apart, abs=0.002)


def test_the_valve_has_the_widest_room_that_there_is() -> None:
    """Distances between neighbouring spokes a hand's breadth inside the rim, gap by gap."""
    for letters, spokes, n, x, other_n, other_x in WHEELS:
        sides = {"drive": pairs("drive", n, x), "non_drive": pairs("non_drive", other_n, other_x, w=33.0)}
        wheel = laced_wheel(tuple(sides.values()), drilled(letters, spokes))
        ordered = sorted(wheel.spokes, key=lambda spoke: spoke.hole)
        rooms = []
        for one, following in zip(ordered, [*ordered[1:], ordered[0]], strict=True):
            inner = []
            for spoke in (one, following):
                start, end = in_space(spoke, sides[spoke.side])
                flat = (start - end)[:2]
                inner.append(end[:2] + HAND_MM * flat / np.linalg.norm(flat))
            middle = math.radians(one.rim + ((following.rim - one.rim) % 360.0) / 2.0)
            rooms.append(float((inner[1] - inner[0]) @ [-math.sin(middle), math.cos(middle)]))
        assert rooms[-1] == pytest.approx(max(rooms), abs=1e-3), (
            letters
        )  # between the last hole and the first


def test_leading_spokes_run_ahead_of_a_wheel_that_rolls_forwards() -> None:
    """Common practice, no source: seen from the drive side the bicycle goes to the right."""
    wheel = laced_wheel((pairs("drive", 6, 2), pairs("non_drive", 6, 2)), drilled("DN", 24))
    for spoke in wheel.spokes:
        ahead = (spoke.rim - spoke.hub + 180.0) % 360.0 - 180.0  # both clockwise from the valve
        assert (ahead > 0.0) == (spoke.way == "leading")


def test_sides_that_are_stated_from_different_starts_are_numbered_apart() -> None:
    rim = RimGeometry(
        exact(2 * R),
        24,
        even=False,
        drive_pattern=pattern_from_letters("DN", 24, "drive"),
        non_drive_pattern=pattern_from_letters("DN", 24, "drive"),
    )
    wheel = laced_wheel((pairs("drive", 6, 2), pairs("non_drive", 6, 2)), rim)
    assert not wheel.numbered_together
    for side in ("drive", "non_drive"):
        assert sorted(s.hole for s in wheel.spokes if s.side == side) == list(range(1, 13))


def test_one_side_alone_is_numbered_over_the_whole_rim() -> None:
    wheel = laced_wheel((pairs("drive", 6, 2),), drilled("DN", 24))
    assert wheel.numbered_together
    assert len(wheel.holes) == 24
    assert {spoke.hole % 2 for spoke in wheel.spokes} in ({0}, {1})
