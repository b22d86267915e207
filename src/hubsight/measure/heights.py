"""Heights of a standing hub as figures: flange's middle, upper end face, and what follows from both.

A gauge's bore lies a little above or below the flange's middle, and its height does not say on which side;
upper edges are seen rounded off; lower edges are seen from the side only, and more than one line looks like
them; the mouths of the other bores are seen roughly. Each by itself leaves several possibilities; together
they leave one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from hubsight.estimate.problem import Solution
from hubsight.measure.face_height import FaceHeight
from hubsight.measure.flange import Model, figure
from hubsight.model.arrays import Array
from hubsight.model.corrections import PLACED
from hubsight.model.figure import Figure
from hubsight.model.side import FigureName
from hubsight.model.stated import BLOCK_U_MM, ZERO, Reading
from hubsight.model.uncertainty import APART_SIGMAS
from hubsight.scene.usual import Usual
from hubsight.see.bosses.holes import STAGGERS_MM, Holes
from hubsight.see.turned.ends import EndsSeen
from hubsight.see.turned.underside import Underside

STANDARD_OVER_LOCKNUT_MM = (74, 100, 110, 120, 126, 130, 135, 141, 142, 148, 150, 157, 170, 177, 190, 197)
"""Over-locknut widths of hubs (common practice, no source)."""
END_SLACK_MM = 0.3
"""Widths further apart than this, and than by chance, do not end at the same faces."""
SHEET_WAVES = "waves of the sheet"
"""Source in the budgets of heights."""
LONE_EDGE = "only one turned edge was seen at the upper end, perhaps not the end face itself: use a caliper"
"""Warning where nothing confirms the end face."""
ON_ITS_AXLE = (
    "an axle stands out of the upper end face: if the hub stands on another one, put a block with a hole "
    "under its locknut and state the block's thickness"
)
"""Note on a hub that may stand on its axle."""
SHAKY_MIDDLE_MM = 0.4
"""Standard uncertainty of a flange's middle from which on it is said."""
SHAKY = (
    "the photos leave two possibilities for the flange's middle: photograph the bosses from the side as well"
)
"""Warning of such a middle."""
STAGGER_MM = Usual(1.35, 0.16)
"""A boss' two bores lie this far above and below the middle (common practice, no source)."""
FAR_SHARE = 0.2
"""Share of wires and edges that are seen badly (found on rendered hubs)."""
NO_LOWER_EDGE = 0.08
"""Weight of the possibility that none of the lines is the lower edge."""
HOLES_CLEARER, NO_HOLES = 0.08, 0.1
"""By how much clearer holes are e times as likely, and the share of flanges where no holes are seen (found on
rendered hubs)."""
LEAST_SIGMA_MM = 0.05
"""The witnesses are not quite independent of each other."""
REACH_MM, STEP_MM = 3.5, 0.03
"""Farthest from its usual place that a flange's middle is looked for, and step of the search, mm."""


@dataclass(frozen=True)
class Witness(Usual):
    """Something seen above what it stands for, mm; ``far`` is the scatter of those that are seen badly."""

    far: float

    def says(self, seen: Array, sigma: float = 0.0, far: float = 0.0) -> Array:
        """Return weights of what it stands for, mm, from differences to where it was seen.

        ``sigma`` and ``far`` are this one's own scatter, where that is larger.
        """
        off, near, astray = seen - self.mean, max(self.sigma, sigma), max(self.far, far)
        return (1 - FAR_SHARE) * _normal(off, 0.0, near) + FAR_SHARE * _normal(off, 0.0, astray)


WIRE_HIGH_MM = Witness(0.11, 0.12, 0.3)
"""A wire, lit from above on white paper (found on rendered hubs)."""
WIRE_FAR_TIMES = 4.0
"""Scatter of wires that are seen badly in the uncertainty of their height: where a reflection is taken for
the wire's edge, photos disagree less than they are wrong (found on rendered hubs)."""
EDGE_ABOVE_MM = Witness(3.6, 0.3, 0.8)
"""Visible upper edges of the bosses above the flange's middle (found on rendered hubs)."""
HALF_WAY_HIGH_MM = Witness(0.03, 0.1, 0.3)
"""Half way between visible upper and lower edges above the middle (found on rendered hubs)."""


@dataclass(frozen=True)
class Bore:
    """A gauge's axis at its crossing point: height above the paper and its standard uncertainty, mm."""

    height: float
    u: float = 0.0


@dataclass(frozen=True)
class Middle:
    """Height of a flange's middle above the paper and its standard uncertainty, mm."""

    height: float
    u: float


def radial_middle(bores: Sequence[Bore], edges: float, underside: Underside | None) -> Middle:
    """Weigh what is known of the middle of a radial flange, in which the bores lie.

    Parameters are those of `paired_middle`; the edges are those of the rim.
    """
    middle = _candidates(edges)
    weight = np.prod([_wire(bore, middle) for bore in bores], axis=0)
    return _weighed(middle, weight * _edge_weights(middle, edges, underside))


def paired_middle(
    bores: Sequence[Bore], edges: float, underside: Underside | None, holes: Holes | None = None
) -> Middle:
    """Weigh what is known of the middle of a flange with paired bores.

    Parameters
    ----------
    bores
        Of the gauges.
    edges
        Height of the bosses' visible upper edges, mm above the paper.
    underside
        Lower edges, from the upper ones.
    holes
        Mouths of the empty bores.

    Notes
    -----
    Mean and standard deviation of the posterior over the middle and the bores' stagger. Two gauges in bores
    on either side of the middle share one stagger, which then drops out.
    """
    middle = _candidates(edges)
    stagger = _normal(np.abs(STAGGERS_MM), STAGGER_MM.mean, STAGGER_MM.sigma)
    # A boss' two gauges lie on either side, those of two bosses may lie on the same one.
    whole = np.zeros((len(middle), len(STAGGERS_MM)))
    for sides in _sides(len(bores)):
        part = np.broadcast_to(stagger, whole.shape).copy()
        for bore, side in zip(bores, sides, strict=True):
            part *= _wire(bore, middle[:, None] + side * STAGGERS_MM)
        whole += part
    if holes is not None:
        likely = np.exp(holes.at(middle - edges) / HOLES_CLEARER)
        whole *= NO_HOLES + (1 - NO_HOLES) * likely / likely.mean()
    return _weighed(middle, whole.sum(1) * _edge_weights(middle, edges, underside))


def _candidates(edges: float) -> Array:
    first = edges - EDGE_ABOVE_MM.mean
    return np.arange(first - REACH_MM, first + REACH_MM, STEP_MM)


def _wire(bore: Bore, at: Array) -> Array:
    """Return weights of heights at which a gauge's axis may really lie."""
    return WIRE_HIGH_MM.says(bore.height - at, bore.u, WIRE_FAR_TIMES * bore.u)


def _edge_weights(middle: Array, edges: float, underside: Underside | None) -> Array:
    """Return weights of heights of the middle by the visible upper and lower edges."""
    weight = EDGE_ABOVE_MM.says(edges - middle)
    if underside is None:
        return weight
    fits = HALF_WAY_HIGH_MM.says(edges + underside.depth / 2 - middle[:, None])
    return np.asarray(weight * (NO_LOWER_EDGE + fits @ underside.weight))


def _weighed(middle: Array, weight: Array) -> Middle:
    weight = weight / weight.sum()
    height = float(weight @ middle)
    u = float(np.sqrt(weight @ (middle - height) ** 2))
    return Middle(height, float(np.hypot(u, LEAST_SIGMA_MM)))


def _sides(count: int) -> list[tuple[int, ...]]:
    return [(1,)] if count == 1 else [(1, 1), (1, -1)]


def _normal(x: Array, mean: float, sigma: float) -> Array:
    return np.asarray(np.exp(-0.5 * ((x - mean) / sigma) ** 2) / sigma)


def is_usual_width(over_locknut: Figure) -> bool:
    """Tell whether a measured over-locknut dimension may be a standard one."""
    nearest = min(abs(width - over_locknut.value) for width in STANDARD_OVER_LOCKNUT_MM)
    return nearest < APART_SIGMAS * over_locknut.u + END_SLACK_MM


@dataclass(frozen=True)
class Upright:
    """What is known of a standing hub's heights.

    Attributes
    ----------
    solution, names
        The adjustment, and the names of the gauges' and bosses' unknowns.
    photos
        Their number.
    radial
        Whether the flange's bores lie in its middle.
    bores
        Heights of the gauges at their crossing points, as a function of the unknowns.
    bores_u
        Their standard uncertainties, mm.
    ends
        What was seen of the upper end face, of the flange's lower edges and of its empty bores.
    block
        Thickness of a block under the hub, mm; 0 for none.
    lift
        How far the mean plane of the sheet, from which heights count, lies above the table, mm.
    """

    solution: Solution
    names: Sequence[str]
    photos: int
    radial: bool
    bores: Callable[[Array], list[float]]
    bores_u: Sequence[float]
    ends: EndsSeen
    block: float
    lift: Reading = ZERO
    known: dict[tuple[str, bytes], Middle | float] = field(default_factory=dict)
    """What was worked out for which unknowns: most steps of a gradient leave one of the two as it is."""

    @property
    def cameras(self) -> list[str]:
        """Names of the unknowns on which the end face's height depends."""
        return ["camera", *(f"photo{k}" for k in range(self.photos))]

    def _key(self, what: str, x: Array, names: Sequence[str]) -> tuple[str, bytes]:
        return what, np.concatenate([x[self.solution.layout[name]] for name in names]).tobytes()

    def middle(self, x: Array) -> Middle:
        """Height of the flange's middle above the sheet."""
        key = self._key("middle", x, self.names)
        found = self.known.get(key)
        if not isinstance(found, Middle):
            self.known[key] = found = self._middle(x)
        return found

    def _middle(self, x: Array) -> Middle:
        bores = [Bore(height, u) for height, u in zip(self.bores(x), self.bores_u, strict=True)]
        edges = float(x[self.solution.layout["pattern"]][2])
        if self.radial:
            return radial_middle(bores, edges, self.ends.underside)
        return paired_middle(bores, edges, self.ends.underside, self.ends.holes)

    def face(self, x: Array) -> float:
        """Height of the upper end face above the sheet."""
        key = self._key("face", x, self.cameras)
        found = self.known.get(key)
        if not isinstance(found, float):
            self.known[key] = found = self.end.at(x)
        return found

    def face_u(self) -> float:
        """Return the standard uncertainty of the face's height on account of its edges, mm; 0 without one."""
        return 0.0 if self.ends.end_face is None else self.end.u

    @cached_property
    def end(self) -> FaceHeight:
        """The upper end face.

        Raises
        ------
        ValueError
            If none was seen.
        """
        if self.ends.end_face is None:
            raise ValueError("no end face was seen")
        return FaceHeight(self.solution, self.photos, self.ends.end_face)


def height_figures(hub: Upright) -> dict[FigureName, Figure]:
    """Return flange height and, where the upper end face was seen, over-locknut and centre to flange.

    Over-locknut is the upper end face's height over the lower one, which stands on the paper or on the block;
    centre to flange is the flange's height over half of that.
    """
    solution = hub.solution
    middle = hub.middle(solution.x)
    how = (
        "height of the gauge where it leaves the flange, and of the rim's edges"
        if hub.radial
        else "height of the gauge's bore, of the bosses' edges and of the empty bores' mouths"
    )
    doubt = [SHAKY] if middle.u > SHAKY_MIDDLE_MM else []
    # All witnesses of the middle share the errors of cameras, poses and scale; none of them shows those.
    flange, lift = ("flange's middle", middle.u), (SHEET_WAVES, hub.lift.u)
    out: dict[FigureName, Figure] = {
        "flange_height": figure(
            Model(lambda x: hub.middle(x).height + hub.lift.value, (flange, lift), how),
            solution,
            hub.names,
            doubt,
        )
    }
    face = hub.ends.end_face
    if face is None:
        return out
    warnings = [LONE_EDGE] if face.doubtful else []
    if face.stub and not hub.block:
        warnings.append(ON_ITS_AXLE)
    if face.rival is not None:
        way = "above" if face.rival.above > 0 else "below"
        warnings.append(
            f"another turned edge may be the upper end face, {abs(face.rival.above):.1f} mm {way} it: use a "
            "caliper"
        )
    edges = [("rounding of the end face", hub.face_u())]
    if hub.end.placed_u:
        edges.append((PLACED, hub.end.placed_u))
    block = ("block thickness", BLOCK_U_MM if hub.block else 0.0)
    seen = "turned edges of the upper end face"
    out["over_locknut"] = figure(
        Model(lambda x: hub.face(x) + hub.lift.value - hub.block, (*edges, block, lift), seen),
        solution,
        hub.cameras,
        warnings,
    )

    def centre_to_flange(x: Array) -> float:
        return hub.middle(x).height - (hub.face(x) + hub.block - hub.lift.value) / 2

    out["centre_to_flange"] = figure(
        Model(
            centre_to_flange,
            (flange, *((source, u / 2) for source, u in (*edges, block, lift))),
            "the flange's height over half the over-locknut",
        ),
        solution,
        [*hub.cameras, *hub.names],
        [*doubt, *warnings],
    )
    return out
