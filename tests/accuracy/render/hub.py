"""The design of a hub: what it is made of and its sizes. Lengths in mm, angles in degrees.

Hub frame: z along the axis, 0 half way between the end faces, drive side at +z. The sides are called ``ds``
(drive) and ``nds`` (non-drive), as in a corpus.
"""

from __future__ import annotations

from dataclasses import dataclass

Profile = tuple[tuple[float, float], ...]

SIDES = ("ds", "nds")
SIGNS = {"ds": 1, "nds": -1}
"""Where a side lies along the hub axis."""


@dataclass(frozen=True, kw_only=True)
class Boss:
    """Outline of a boss about the crossing point, seen along the hub axis, and its thickness.

    Pairs hold the counter-clockwise face first, then the clockwise one, seen from the drive side.

    Attributes
    ----------
    half_width
        From the centreline to each face at the crossing point.
    slope_deg
        How much each face leans away from the centreline going outwards.
    out
        From the crossing point to the outer face.
    thickness
        Along the hub axis.
    corner, edge
        Rounding of the outline's corners, and of the edges between outline and ends.
    barrel
        Radius of round faces, or 0 for flat ones; ``bulge_at`` is where their widest place lies, outwards.
    lean_deg
        Of the whole boss to one side.
    twist_deg, twist_other_deg
        Of each face along the hub axis; the second is minus the first if None.
    crown
        Radius of a round outer face, or 0; ``cant_deg`` tilts a flat one.
    beak
        Radius and place (outwards, sideways) of a nose on one side, or None.
    z_offset
        Of the boss from the flange's mid-plane.
    """

    half_width: tuple[float, float]
    out: float
    thickness: float
    corner: float
    edge: float
    slope_deg: tuple[float, float] = (0.0, 0.0)
    barrel: float = 0.0
    bulge_at: float = 0.0
    lean_deg: float = 0.0
    twist_deg: float = 0.0
    twist_other_deg: float | None = None
    crown: float = 0.0
    cant_deg: float = 0.0
    beak: tuple[float, float, float] | None = None
    z_offset: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Flange:
    """What both kinds of flange have.

    Attributes
    ----------
    count
        Bosses, or bores of a radial flange.
    bore, counterbore
        Diameters of the wire's bore and of the head's.
    tilt_deg
        Of the bores towards the rim's plane.
    offset
        From the crossing point back to the head seat; radial: the seat's depth under the outside diameter.
    phase_deg
        Direction of boss 0, seen from the drive side.
    blend
        Fillet between flange and collar.
    collar
        The turned part that carries the flange: (z, radius) from inboard to outboard, z from the mid-plane.
    alpha_deg
        From a boss' centreline to its rim holes, round the axis; None: as even drilling gives it.
    crosses
        Of this side, where the sides differ; None: the hub's.
    """

    count: int
    bore: float
    counterbore: float
    tilt_deg: float
    offset: float
    phase_deg: float
    blend: float
    collar: Profile
    alpha_deg: float | None = None
    crosses: int | None = None

    @property
    def inner_collar(self) -> float:
        """The collar's radius at its inboard end."""
        return self.collar[0][1]


@dataclass(frozen=True, kw_only=True)
class PairedFlange(Flange):
    """A flange of bosses with two bores each.

    Attributes
    ----------
    diameter
        Twice the distance of the crossing points from the axis.
    root
        Radius of the web's rim, from which the bosses rise; ``root_fillet`` rounds the corner.
    half_gap
        Each bore's distance from the boss' middle, along the hub axis.
    hand
        1 where the counter-clockwise bore lies at the drive side's end of the boss, else -1.
    web_thickness, web_z, web_edge
        The disc between collar and bosses: thickness, place of its middle, rounding.
    scallop
        How much lower the web's rim is between the bosses.
    cut
        Distance from the axis and radius of lightening holes between the bosses, or None.
    """

    diameter: float
    root: float
    half_gap: float
    hand: int
    root_fillet: float
    boss: Boss
    web_thickness: float
    web_z: float
    web_edge: float
    scallop: float
    cut: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class RadialFlange(Flange):
    """A cup whose wall holds radial bores, each open to the outboard face by a slot.

    Attributes
    ----------
    outside
        Diameter of the cup.
    wall, thickness
        Of the cup's wall: radially, and along the hub axis.
    """

    outside: float
    wall: float
    thickness: float


AnyFlange = PairedFlange | RadialFlange


@dataclass(frozen=True)
class Splines:
    """A splined tube outboard of a flange; ``shares`` is each groove's part of its pitch."""

    diameter: float
    length: float
    depth: float
    shares: tuple[float, ...]


@dataclass(frozen=True)
class Stub:
    """A thin axle that stands out of the end faces, for which the hub stands on a block."""

    length: float
    diameter: float


@dataclass(frozen=True)
class HolePattern:
    """Evenly spaced rim holes that belong to the two sides by a repeating row of letters.

    Attributes
    ----------
    spokes
        Of the whole wheel.
    row
        The letters: D drive side, N non-drive side.
    zero_deg
        Direction of the row's first hole in the hub frame; they count on counter-clockwise.
    first
        Per side, which of its holes in the row comes first: boss 0 stands amid that one and the side's next
        one, a radial bore points at it.
    """

    spokes: int
    row: str
    zero_deg: float
    first: dict[str, int]

    def letter(self, side: str) -> str:
        """Return the letter of a side's holes."""
        return {"ds": "D", "nds": "N"}[side]


@dataclass(frozen=True, kw_only=True)
class Hub:
    """A hub and the rim that it is drilled for.

    Attributes
    ----------
    over_locknut, axle_hole
        Length over the end faces, diameter through the axle.
    cap_diameter, cap_length, cap_step
        End caps: diameter, length, and how much thicker they are inboard.
    groove
        Depth of the groove between shell and flanges.
    head_diameter
        Of the spokes' heads.
    stub, block
        A thin axle that stands out, and the height of the block that the hub then stands on, or 0.
    freehub, disc_mount
        Splined parts outboard of the drive and of the non-drive flange.
    flanges, centre_to_flange
        Per side.
    waist, waist_fillet
        The shell: (share of the way from the non-drive to the drive flange, radius), and its rounding.
    erd, rim_offset, crosses, rim
        Of the wheel; ``rim`` only where its holes are shared out unevenly.
    shell_grooves, cap_grooves
        Turned grooves. Shell: (share of the way, depth). Caps: (depth, place), in the cap's rim where
        place < 0, else in the end face.
    cover
        How far a dust cover stands over the part behind the cap, and its thickness, or None.
    """

    over_locknut: float
    axle_hole: float
    cap_diameter: float
    cap_length: float
    cap_step: float
    groove: float
    head_diameter: float
    flanges: dict[str, AnyFlange]
    centre_to_flange: dict[str, float]
    waist: Profile
    waist_fillet: float
    erd: float
    rim_offset: float
    crosses: int
    stub: Stub | None = None
    block: float = 0.0
    freehub: Splines | None = None
    disc_mount: Splines | None = None
    rim: HolePattern | None = None
    shell_grooves: Profile = ()
    cap_grooves: Profile = ()
    cover: tuple[float, float] | None = None

    @property
    def half(self) -> float:
        """From the middle to an end face."""
        return self.over_locknut / 2

    def fitting(self, side: str) -> Splines | None:
        """Return the splined part outboard of a side's flange."""
        return self.freehub if side == "ds" else self.disc_mount
