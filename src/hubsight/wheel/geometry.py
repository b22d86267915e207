"""What spoke lengths are computed from: one side of the hub, the rim, and how its holes are shared out.

Lengths in mm, angles in degrees. See `hubsight.wheel.length` for the formula.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from hubsight.model.lengths import SideKind
from hubsight.model.stated import ZERO, HolePattern, Reading, SideName

POSSIBLE_DIAMETERS_MM = (24.0, 90.0)
"""Flange diameters of straight-pull hubs, with room (common practice, no source)."""
POSSIBLE_OFFSETS_MM = (-6.0, 14.0)
"""Spoke offsets of straight-pull hubs, with room (common practice, no source)."""

USUAL_OFFSETS_MM = (-2.5, 7.0)
"""Spoke offsets of usual hubs (common practice, no source)."""


@dataclass(frozen=True)
class SideGeometry:
    """One side of a hub.

    Attributes
    ----------
    name
        Which side; it decides the sign of the rim's lateral offset.
    kind
        ``"paired"``: bosses with two bores each; ``"radial"``: straight-pull bores along the radius;
        ``"j_bend"``: a flange with holes for spokes with an elbow.
    count
        Number of bosses (paired), of bores (radial) or of flange holes (J-bend).
    crosses
        As in the trade; on tangent pairs the crossing inside the boss is not counted.
    flange_diameter
        d: twice the distance of the crossing point from the axis (paired), the outside diameter (radial),
        the hole circle (J-bend).
    centre_to_flange
        w: from the middle between the locknuts to the flange's mid-plane.
    spoke_offset
        o: what the spoke is longer than the distance from C to the rim point. See `j_bend_side` for J-bend.
    stagger
        a: how far the bores lie from the flange's mid-plane, one outwards, one inwards; None if unknown.
    covariance
        Of flange diameter and spoke offset, mm^2: both come from one adjustment.
    boss_half_height
        How far a boss reaches from the crossing point towards the rim, for the clearance of passing spokes.
    """

    name: SideName
    kind: SideKind
    count: int
    crosses: int
    flange_diameter: Reading
    centre_to_flange: Reading
    spoke_offset: Reading
    stagger: Reading | None = None
    covariance: float = 0.0
    boss_half_height: float | None = None

    @property
    def spokes(self) -> int:
        """Number of spokes on this side."""
        return 2 * self.count if self.kind == "paired" else self.count


def j_bend_side(
    name: SideName,
    *,
    holes: int,
    crosses: int,
    hole_circle: Reading,
    hole_diameter: Reading,
    centre_to_flange: Reading,
    flange_half_thickness: Reading | None = None,
) -> SideGeometry:
    """Return a J-bend flange as a `SideGeometry`.

    The spoke is measured from inside its elbow, which pulls against the hole's rim: the offset is minus half
    the hole's diameter. Heads alternate inside and outside the flange, half its thickness off the mid-plane.
    """
    return SideGeometry(
        name=name,
        kind="j_bend",
        count=holes,
        crosses=crosses,
        flange_diameter=hole_circle,
        centre_to_flange=centre_to_flange,
        spoke_offset=Reading(-hole_diameter.value / 2.0, hole_diameter.u / 2.0),
        stagger=flange_half_thickness,
    )


@dataclass(frozen=True)
class RimGeometry:
    """The rim.

    Attributes
    ----------
    erd
        Effective rim diameter: the diameter on which the spoke ends are to lie, level with the bottom of the
        nipple's slot.
    spokes
        N: holes in the rim.
    offset
        Lateral offset of the hole plane from the rim's middle, positive towards the drive side.
    hole_stagger
        How far each side's holes lie off that plane towards their own side.
    even
        False when the holes are not evenly drilled; lengths then need the patterns.
    drive_pattern, non_drive_pattern
        This side's holes where they are not simply every second of evenly drilled ones (two-to-one lacing,
        paired holes).
    """

    erd: Reading
    spokes: int
    offset: Reading = ZERO
    hole_stagger: Reading = ZERO
    even: bool = True
    drive_pattern: HolePattern | None = None
    non_drive_pattern: HolePattern | None = None

    def pattern(self, side: SideName) -> HolePattern | None:
        """Return the hole pattern stated for ``side``."""
        return self.drive_pattern if side == "drive" else self.non_drive_pattern


@dataclass(frozen=True)
class Drilling:
    """How rim and flange are drilled, as far as it is not the ordinary way.

    Attributes
    ----------
    even, drive_pattern, non_drive_pattern, hole_stagger
        Of the rim, see `RimGeometry`.
    stagger, boss_half_height
        Of this side's flange, see `SideGeometry`.
    """

    even: bool = True
    drive_pattern: HolePattern | None = None
    non_drive_pattern: HolePattern | None = None
    hole_stagger: Reading = ZERO
    stagger: Reading | None = None
    boss_half_height: float | None = None

    def with_holes(self, side: SideName, holes: HolePattern | None) -> Drilling:
        """Return the same with other rim holes on one side."""
        if side == "drive":
            return replace(self, drive_pattern=holes)
        return replace(self, non_drive_pattern=holes)

    def holes(self, side: SideName) -> HolePattern | None:
        """Return the rim holes stated of one side."""
        return self.drive_pattern if side == "drive" else self.non_drive_pattern

    def rim(self, erd: Reading, spokes: int, offset: Reading | None) -> RimGeometry:
        """Return the rim that is drilled like this."""
        return RimGeometry(
            erd=erd,
            spokes=spokes,
            offset=offset or ZERO,
            hole_stagger=self.hole_stagger,
            even=self.even,
            drive_pattern=self.drive_pattern,
            non_drive_pattern=self.non_drive_pattern,
        )


ORDINARY = Drilling()
"""Rim and bosses of which nothing is stated."""


def pattern_from_letters(letters: str, spokes: int, side: SideName, *, first: int = 0) -> HolePattern:
    """Return the holes of one side of an evenly drilled rim from a repeating row of letters.

    Parameters
    ----------
    letters
        ``"D"`` for a hole of the drive side, ``"N"`` for the other; ``"DND"`` is two-to-one lacing.
    spokes
        N, holes in the rim.
    side
        Whose holes are wanted.
    first
        Which of this side's holes in the row comes first: with ``"DND"``, 0 puts a boss centreline amid the
        two drive holes that have a hole of the other side between them, 1 amid the two neighbours.

    Raises
    ------
    ValueError
        If the row contains other letters or none of this side, or does not divide the rim.
    """
    row = letters.upper().replace(" ", "")
    if not row or set(row) - {"D", "N"}:
        msg = f"a hole pattern consists of the letters D and N, not {letters!r}"
        raise ValueError(msg)
    if spokes % len(row):
        msg = f"the pattern {row} of {len(row)} holes does not divide a rim of {spokes}"
        raise ValueError(msg)
    own = "D" if side == "drive" else "N"
    places = [index for index, letter in enumerate(row) if letter == own]
    if not places:
        msg = f"the pattern {row} gives no hole to the {side.replace('_', '-')} side"
        raise ValueError(msg)
    step = 360.0 / spokes
    period = len(row) * step
    turned = [
        places[(first + i) % len(places)] + len(row) * ((first + i) // len(places))
        for i in range(len(places))
    ]
    return HolePattern(tuple(step * place for place in turned), period)
