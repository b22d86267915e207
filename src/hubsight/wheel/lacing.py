"""Which rim hole each spoke leads to: angles per spoke, and whether a flange can take the stated crosses."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from hubsight.model.refusal import Refusal
from hubsight.model.stated import HolePattern
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.wire import USUAL_WIRE_MM

BOSS_HALF_HEIGHT_MM = 3.5
"""Reach of a boss from its crossing point towards the rim, mm: half a 2.4 bore and 2.3 of wall (common
practice, no source)."""


ELBOW_CLEARANCE_MM = 3.0
"""Distance of a passing spoke from a neighbouring J-bend hole below which it rubs on the head (common
practice, no source): half a head of 4 mm and half a wire."""

SAME_ANGLE_DEG = 1e-6
"""Difference of angles up to which rim holes belong to one sort."""


@dataclass(frozen=True)
class Lead:
    """One sort of spoke, with the angles of `even_alpha` and `beta_from_alpha` in degrees.

    Attributes
    ----------
    count, forward
        How many spokes of this sort there are, and how many of them leave forwards, that is through the same
        bore of their boss.
    """

    alpha: float
    beta: float
    count: int
    forward: int


@dataclass(frozen=True)
class Leads:
    """All sorts of spoke of a side, and warnings about how they pass their neighbours."""

    sorts: tuple[Lead, ...]
    warnings: tuple[str, ...] = ()


def even_alpha(kind: str, count: int, crosses: float) -> float:
    """Return alpha in degrees for evenly drilled rim holes, each side having every second one.

    Tangent pairs on n bosses: (X + 1/2) 360 / (2 n), from the mirror symmetry of the pair. Radial: 0. J-bend
    with h holes in the flange: X 360 / h, the published law-of-cosines form (from memory).
    """
    if kind == "paired":
        return (crosses + 0.5) * 360.0 / (2.0 * count)
    if kind == "radial":
        return 0.0
    return crosses * 360.0 / count


def beta_from_alpha(alpha_deg: float, erd: float, flange_diameter: float) -> float:
    """Return the angle in degrees, seen along the axis, between the boss centreline (outwards) and the spoke.

    tan(beta) = R sin(alpha) / (R cos(alpha) - r): 0 is radial, 90 tangential. Lengths in mm.
    """
    alpha = math.radians(alpha_deg)
    return math.degrees(math.atan2(erd * math.sin(alpha), erd * math.cos(alpha) - flange_diameter))


def spoke_leads(side: SideGeometry, rim: RimGeometry) -> Leads | Refusal:
    """Return the angles of all spokes of a side, or why there are none."""
    refusal = _refuse_counts(side, rim)
    if refusal is not None:
        return refusal
    pattern = rim.pattern(side.name)
    if pattern is None:
        alpha = even_alpha(side.kind, side.count, side.crosses)
        alphas = [(alpha, place % 2 == 0) for place in range(side.spokes)]
    else:
        holes = pattern.all_angles()
        wrong = _refuse_pattern(side, pattern, holes)
        if wrong is not None:
            return wrong
        alphas = pattern_alphas(side.kind, side.count, side.crosses, holes)
    warnings: list[str] = []
    sorts = []
    for alpha, count, forward in _grouped(alphas):
        beta = beta_from_alpha(alpha, rim.erd.value, side.flange_diameter.value)
        blocked = _passing(side, alpha, beta)
        if isinstance(blocked, Refusal):
            return blocked
        if blocked and blocked not in warnings:
            warnings.append(blocked)
        sorts.append(Lead(alpha, beta, count, forward))
    return Leads(tuple(sorts), tuple(warnings))


def _refuse_counts(side: SideGeometry, rim: RimGeometry) -> Refusal | None:
    """Refuse numbers of spokes, bosses and crosses that do not go together."""
    what = {"paired": "bosses", "radial": "bores", "j_bend": "flange holes"}[side.kind]
    if side.count < 2 or side.crosses < 0 or rim.spokes < 2:
        return Refusal(
            reason=f"{side.count} {what}, {side.crosses} crosses and {rim.spokes} spokes make no wheel",
            remedy="Check the three numbers",
        )
    if side.kind == "radial" and side.crosses != 0:
        return Refusal(
            reason=f"a radial hub cannot be laced with {side.crosses} crosses",
            remedy="State 0 crosses, or check that the bores really point away from the axis",
        )
    if rim.pattern(side.name) is None:
        if not rim.even:
            return Refusal(
                reason="the rim's holes are not evenly drilled and their pattern is not stated",
                remedy='State their row as holes = "DND" in [rim], or the angles of this side as rim_holes',
            )
        if rim.spokes != 2 * side.spokes:
            times = {"paired": "four times the boss count", "radial": "twice the number of bores"}.get(
                side.kind, "twice the number of flange holes"
            )
            return Refusal(
                reason=f"{rim.spokes} spokes do not go with {side.count} {what} on a side:"
                f" it would take {times}, {2 * side.spokes}",
                remedy="Check both numbers; where the sides have different numbers of spokes,"
                " state the rim's hole pattern",
            )
    if even_alpha(side.kind, side.count, side.crosses) >= 180.0:
        return Refusal(
            reason=f"{side.crosses} crosses on {side.count} {what} lead a spoke more than half way round",
            remedy="Check the crosses against the number of spokes",
        )
    return None


def _refuse_pattern(side: SideGeometry, pattern: HolePattern, holes: tuple[float, ...]) -> Refusal | None:
    """Refuse a hole pattern that is none, or that has another number of holes than the side has spokes."""
    turns = 360.0 / pattern.period if pattern.period > 0.0 else 0.0
    rising = all(a < b for a, b in itertools.pairwise(holes))
    if (
        not holes
        or turns < 1.0
        or abs(turns - round(turns)) > 1e-9
        or not rising
        or holes[-1] - holes[0] >= 360.0
    ):
        return Refusal(
            reason="the stated hole pattern does not go round the rim",
            remedy="Give rising angles within one period that is 360 degrees or a whole fraction of it",
        )
    if len(holes) != side.spokes:
        return Refusal(
            reason=f"the stated hole pattern has {len(holes)} holes, this side has {side.spokes} spokes",
            remedy="Check the pattern and the number of bosses or bores",
        )
    return None


@dataclass(frozen=True)
class PlacedLead:
    """One spoke of a side with hub and rim in place.

    Attributes
    ----------
    place, hole
        Its boss, bore or flange hole, and its rim hole among this side's, both from 0.
    forward
        Whether it leaves the way that the angles rise.
    hub, rim
        Directions of the boss centreline (bore, flange hole) and of the rim hole, degrees.
    alpha
        Between them, as of `even_alpha`, degrees.
    """

    place: int
    hole: int
    forward: bool
    hub: float
    rim: float
    alpha: float


def placed_leads(kind: str, count: int, crosses: int, holes: tuple[float, ...]) -> list[PlacedLead]:
    """Return all spokes of a side with these rim holes.

    Kind, count and crosses as in `SideGeometry`, ``holes`` as of `HolePattern.all_angles`.

    The hub turns until the spokes pull equally both ways: alpha has the same mean both ways.
    """
    total = len(holes)
    if kind == "paired":
        pairs = [(boss, (2 * boss + crosses + 1, 2 * boss - crosses)) for boss in range(count)]
        laced = [(boss, hole, hole == both[0]) for boss, both in pairs for hole in both]
    elif kind == "j_bend" and crosses:
        laced = [
            (place, place + (-crosses if place % 2 else crosses), not place % 2) for place in range(count)
        ]
    else:
        laced = [(place, place, not place % 2) for place in range(count)]
    rims = [holes[hole % total] + 360.0 * (hole // total) for _, hole, _ in laced]
    ahead = [rim - 360.0 * place / count for rim, (place, _, _) in zip(rims, laced, strict=True)]
    turn = sum(ahead) / len(ahead)
    straight = kind != "paired" and not crosses
    return [
        PlacedLead(
            place=place,
            hole=hole % total,
            forward=forward,
            hub=360.0 * place / count + turn,
            rim=rim,
            alpha=abs(away - turn) if straight else (away - turn) * (1.0 if forward else -1.0),
        )
        for (place, hole, forward), rim, away in zip(laced, rims, ahead, strict=True)
    ]


def pattern_alphas(kind: str, count: int, crosses: int, holes: tuple[float, ...]) -> list[tuple[float, bool]]:
    """Return alpha in degrees and whether it leaves forwards, per spoke; arguments as of `placed_leads`."""
    return [(lead.alpha, lead.forward) for lead in placed_leads(kind, count, crosses, holes)]


def _grouped(alphas: list[tuple[float, bool]]) -> list[tuple[float, int, int]]:
    """Return the different angles, rising, with the number of spokes and of those that leave forwards."""
    groups: list[list[tuple[float, bool]]] = []
    for alpha, forward in sorted(alphas):
        if groups and alpha - groups[-1][0][0] < SAME_ANGLE_DEG:
            groups[-1].append((alpha, forward))
        else:
            groups.append([(alpha, forward)])
    return [(group[0][0], len(group), sum(forward for _, forward in group)) for group in groups]


def passing_distance(side: SideGeometry, alpha_deg: float, beta_deg: float) -> float:
    """Return how near a spoke passes, seen along the axis, to the crossing points or holes it goes by, mm.

    The spoke's line has the distance r sin(beta) from the axis, the k-th neighbour lies r sin(beta - k 360 /
    n) along the same normal. Positive: the neighbour lies on the axis' side. Infinite if there is none on the
    way.
    """
    r, beta = side.flange_diameter.value / 2.0, math.radians(beta_deg)
    nearest = math.inf
    for k in range(1, side.count):
        if k * 360.0 / side.count >= alpha_deg - SAME_ANGLE_DEG:
            break
        distance = r * (math.sin(beta) - math.sin(beta - 2.0 * math.pi * k / side.count))
        nearest = min(nearest, distance)
    return nearest


def _passing(side: SideGeometry, alpha: float, beta: float) -> Refusal | str:
    """Refuse a spoke through a neighbouring boss; return a warning for one that passes close, else ''."""
    distance = passing_distance(side, alpha, beta)
    if side.kind == "j_bend":
        least, comfortable, neighbour = USUAL_WIRE_MM / 2.0, ELBOW_CLEARANCE_MM, "flange hole"
    else:
        half = BOSS_HALF_HEIGHT_MM if side.boss_half_height is None else side.boss_half_height
        least, comfortable, neighbour = half + USUAL_WIRE_MM / 2.0, half + USUAL_WIRE_MM, "boss"
    if distance < least:
        how = "inside of its middle" if distance < 0.0 else "from its middle"
        return Refusal(
            reason=f"with {side.crosses} crosses a spoke would run through a neighbouring {neighbour}:"
            f" it passes {abs(distance):.1f} mm {how}",
            remedy="Check the crosses against the number of spokes; fewer crosses go",
            about="wheel.crosses",
        )
    if distance < comfortable:
        return (
            f"with {side.crosses} crosses the spokes pass only {distance:.1f} mm from the middle of a"
            f" neighbouring {neighbour}: check that they clear it"
        )
    return ""
