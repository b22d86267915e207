"""Spoke length of one side of a wheel, with derivatives, uncertainty and reasons for refusing.

length = sqrt(R^2 + r^2 + w^2 - 2 R r cos(alpha)) + o, with R half the ERD, r half the flange diameter, w from
the flange to the plane of this side's rim holes, alpha the angle seen along the axis from the boss centreline
to the spoke's rim hole, o the spoke offset: the law of cosines in the plane of the wheel, Pythagoras across
it.

Model error: the bore is taken as pointing at the rim point. One that leans off by delta puts the seat aside,
and the length is too large by o (1 - cos(delta)): 0.02 mm at 5 degrees and an offset of 5 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from hubsight.model.figure import BudgetItem
from hubsight.model.refusal import Refusal
from hubsight.model.stated import ZERO, Bore, SideName
from hubsight.model.uncertainty import COVERAGE_FACTOR, FloatArray
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.lacing import Lead, spoke_leads

DIRECTIONS_WARN_MM = 0.5
"""Difference of a side's two directions beyond which one length for both is no longer sensible (design)."""


@dataclass(frozen=True)
class Sensitivities:
    """Change of the length per change of an input, mm per mm (``alpha``: mm per degree)."""

    flange_diameter: float
    centre_to_flange: float
    erd: float
    spoke_offset: float
    alpha: float


@dataclass(frozen=True)
class SpokeLength:
    """The length of one sort of spoke of a side.

    Attributes
    ----------
    value, u
        Length from under the head (J-bend: from inside the elbow) to the end, and its standard uncertainty,
        mm.
    count
        How many spokes of the side have it.
    bore
        Through which bore: the outer or inner of a boss, or their mean.
    alpha, beta
        From the boss centreline to the rim hole, seen from the axis; and between centreline and spoke,
        degrees.
    sensitivities
        Derivatives of the length.
    budget
        Contributions to ``u``; their root sum of squares is ``u``. Correlated inputs share one item.
    """

    value: float
    u: float
    count: int
    bore: Bore
    alpha: float
    beta: float
    sensitivities: Sensitivities
    budget: tuple[BudgetItem, ...]

    @property
    def interval(self) -> tuple[float, float]:
        """Limits of the 95 % interval, mm."""
        return self.value - COVERAGE_FACTOR * self.u, self.value + COVERAGE_FACTOR * self.u


@dataclass(frozen=True)
class LengthResult:
    """Spoke lengths of one side.

    Attributes
    ----------
    mean
        Over the side's spokes: what one length for all of them should be.
    spokes
        Every sort of spoke: by bore where the stagger is known, by rim hole where these are uneven.
    difference
        Longest minus shortest of ``spokes``, mm.
    warnings, notes
        Sentences for the user: what may be wrong, and what has to be known.
    """

    mean: SpokeLength
    spokes: tuple[SpokeLength, ...]
    difference: float
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def straight_distance(
    erd: npt.ArrayLike, flange_diameter: npt.ArrayLike, lateral: npt.ArrayLike, alpha_deg: npt.ArrayLike
) -> FloatArray:
    """Return the distance from the crossing point to the rim point, mm (law of cosines); inputs broadcast.

    Parameters
    ----------
    erd, flange_diameter
        In mm.
    lateral
        From the flange to the plane of the rim holes, along the axis, mm.
    alpha_deg
        Angle seen along the axis, degrees.

    Examples
    --------
    >>> float(straight_distance(600.0, 40.0, 0.0, 0.0))
    280.0
    """
    R = np.asarray(erd, dtype=np.float64) / 2.0
    r = np.asarray(flange_diameter, dtype=np.float64) / 2.0
    half = np.radians(np.asarray(alpha_deg, dtype=np.float64)) / 2.0
    # (R - r)^2 + 4 R r sin^2(alpha / 2): the law of cosines without cancellation at small angles
    square = (R - r) ** 2 + 4.0 * R * r * np.sin(half) ** 2 + np.asarray(lateral, dtype=np.float64) ** 2
    return np.asarray(np.sqrt(square))


def sensitivities(erd: float, flange_diameter: float, lateral: float, alpha_deg: float) -> Sensitivities:
    """Return the derivatives of the length; arguments as in `straight_distance`."""
    R, r, alpha = erd / 2.0, flange_diameter / 2.0, math.radians(alpha_deg)
    distance = float(straight_distance(erd, flange_diameter, lateral, alpha_deg))
    return Sensitivities(
        flange_diameter=(r - R * math.cos(alpha)) / (2.0 * distance),
        centre_to_flange=lateral / distance,
        erd=(R - r * math.cos(alpha)) / (2.0 * distance),
        spoke_offset=1.0,
        alpha=math.radians(R * r * math.sin(alpha) / distance),
    )


def length_inputs(side: SideGeometry, rim: RimGeometry) -> tuple[FloatArray, FloatArray]:
    """Return what a side's lengths are computed from, (7,) in mm, and its covariance, (7, 7).

    In this order: flange diameter, spoke offset, ERD, centre to flange, the rim's lateral offset, the rim
    holes' stagger, the bores' axial stagger. Of these, the last four make up the lateral distance.
    """
    readings = (
        side.flange_diameter,
        side.spoke_offset,
        rim.erd,
        side.centre_to_flange,
        rim.offset,
        rim.hole_stagger,
        side.stagger or ZERO,
    )
    covariance = np.diag([reading.u**2 for reading in readings])
    covariance[0, 1] = covariance[1, 0] = side.covariance
    return np.array([reading.value for reading in readings]), covariance


def lateral_slopes(side: SideName, bore: Bore) -> FloatArray:
    """Return the derivatives (4,) of the lateral distance by the last four of `length_inputs`."""
    toward = 1.0 if side == "drive" else -1.0
    outward = {"mean": 0.0, "outer": 1.0, "inner": -1.0}[bore]
    return np.array([1.0, -toward, -1.0, outward])


def lengths_of(inputs: npt.ArrayLike, side: SideName, alpha_deg: float, bore: Bore) -> FloatArray:
    """Return the spoke lengths (...) for `length_inputs` (..., 7): the formula at the head of this module."""
    x = np.asarray(inputs, dtype=np.float64)
    lateral = x[..., 3:] @ lateral_slopes(side, bore)
    return straight_distance(x[..., 2], x[..., 0], lateral, alpha_deg) + x[..., 1]


def lateral_distance(side: SideGeometry, rim: RimGeometry, bore: Bore = "mean") -> float:
    """Return the axial distance from a bore to the plane of this side's rim holes, mm."""
    values, _ = length_inputs(side, rim)
    return float(values[3:] @ lateral_slopes(side.name, bore))


def side_length(side: SideGeometry, rim: RimGeometry) -> LengthResult | Refusal:
    """Return the spoke lengths of one side, or why they cannot be given.

    Refused are values that are no dimensions, numbers of spokes and bosses that do not go together, crosses
    that the flange cannot take, and uneven rim holes without a stated pattern.
    """
    refusal = _refuse_values(side, rim)
    if refusal is not None:
        return refusal
    leads = spoke_leads(side, rim)
    if isinstance(leads, Refusal):
        return leads
    spokes = tuple(
        _one_length(side, rim, lead, bore, count)
        for lead in leads.sorts
        for bore, count in _bores(side, lead)
    )
    mean = _mean_length(side, rim, leads.sorts)
    values = [spoke.value for spoke in spokes]
    difference = max(values) - min(values)
    warnings, notes = list(leads.warnings), list[str]()
    if difference > DIRECTIONS_WARN_MM:
        notes.append(
            f"the spokes of this side differ by {difference:.2f} mm in length:"
            f" order {len(spokes)} lengths, not one"
        )
    if lateral_distance(side, rim) < 0.0:
        warnings.append(
            "the flange lies on the other side of the plane of its rim holes:"
            " check centre to flange and the rim's lateral offset"
        )
    return LengthResult(mean, spokes, difference, tuple(warnings), tuple(notes))


def _bores(side: SideGeometry, lead: Lead) -> tuple[tuple[Bore, int], ...]:
    """Bores that one sort of spoke comes from; their mean where the stagger or the sharing is unknown."""
    if side.stagger is None or 2 * lead.forward != lead.count:
        return (("mean", lead.count),)
    return (("outer", lead.forward), ("inner", lead.count - lead.forward))


def _one_length(side: SideGeometry, rim: RimGeometry, lead: Lead, bore: Bore, count: int) -> SpokeLength:
    """Length through one bore to one sort of rim hole."""
    values, _ = length_inputs(side, rim)
    lateral = lateral_distance(side, rim, bore)
    slopes = sensitivities(rim.erd.value, side.flange_diameter.value, lateral, lead.alpha)
    return SpokeLength(
        value=float(lengths_of(values, side.name, lead.alpha, bore)),
        u=_propagated(side, rim, slopes, bore),
        count=count,
        bore=bore,
        alpha=lead.alpha,
        beta=lead.beta,
        sensitivities=slopes,
        budget=_budget(side, rim, slopes, bore),
    )


def _propagated(side: SideGeometry, rim: RimGeometry, slopes: Sensitivities, bore: Bore) -> float:
    """Return the standard uncertainty of a length by linear propagation, J C J^T (GUM 5.2.2)."""
    by_lateral = slopes.centre_to_flange * lateral_slopes(side.name, bore)
    jacobian = np.array([slopes.flange_diameter, slopes.spoke_offset, slopes.erd, *by_lateral])
    _, covariance = length_inputs(side, rim)
    return math.sqrt(max(float(jacobian @ covariance @ jacobian), 0.0))


def _mean_length(side: SideGeometry, rim: RimGeometry, leads: tuple[Lead, ...]) -> SpokeLength:
    """Mean over the sorts of rim hole, through the mean bore; inputs are common to all, so slopes average."""
    parts = [_one_length(side, rim, lead, "mean", lead.count) for lead in leads]
    weights = np.array([part.count for part in parts], dtype=np.float64)
    weights /= weights.sum()

    def over(values: list[float]) -> float:
        return float(weights @ np.array(values))

    slopes = Sensitivities(
        flange_diameter=over([p.sensitivities.flange_diameter for p in parts]),
        centre_to_flange=over([p.sensitivities.centre_to_flange for p in parts]),
        erd=over([p.sensitivities.erd for p in parts]),
        spoke_offset=1.0,
        alpha=over([p.sensitivities.alpha for p in parts]),
    )
    return SpokeLength(
        value=over([p.value for p in parts]),
        u=_propagated(side, rim, slopes, "mean"),
        count=sum(p.count for p in parts),
        bore="mean",
        alpha=over([p.alpha for p in parts]),
        beta=over([p.beta for p in parts]),
        sensitivities=slopes,
        budget=_budget(side, rim, slopes, "mean"),
    )


def _budget(
    side: SideGeometry, rim: RimGeometry, slopes: Sensitivities, bore: Bore
) -> tuple[BudgetItem, ...]:
    """Contributions of the inputs; flange diameter and offset share one item where they are correlated."""
    from_d = slopes.flange_diameter * side.flange_diameter.u
    from_o = slopes.spoke_offset * side.spoke_offset.u
    if side.covariance:
        together = (
            from_d**2 + from_o**2 + 2.0 * slopes.flange_diameter * slopes.spoke_offset * side.covariance
        )
        items = [("flange diameter and spoke offset together", math.sqrt(max(together, 0.0)))]
    else:
        items = [("spoke offset", from_o), ("flange diameter", from_d)]
    items += [
        ("ERD", slopes.erd * rim.erd.u),
        ("centre to flange", slopes.centre_to_flange * side.centre_to_flange.u),
        ("rim's lateral offset", slopes.centre_to_flange * math.hypot(rim.offset.u, rim.hole_stagger.u)),
    ]
    if bore != "mean" and side.stagger is not None:
        items.append(("bores' axial stagger", slopes.centre_to_flange * side.stagger.u))
    return tuple(BudgetItem(source=source, u=abs(u)) for source, u in items if u != 0.0)


def _refuse_values(side: SideGeometry, rim: RimGeometry) -> Refusal | None:
    """Refuse what is no dimension, or uncertainties that cannot be."""
    readings = {
        "flange diameter": side.flange_diameter,
        "centre to flange": side.centre_to_flange,
        "spoke offset": side.spoke_offset,
        "bores' axial stagger": side.stagger or ZERO,
        "ERD": rim.erd,
        "rim's lateral offset": rim.offset,
        "rim holes' stagger": rim.hole_stagger,
    }
    for name, reading in readings.items():
        if not (math.isfinite(reading.value) and math.isfinite(reading.u) and reading.u >= 0.0):
            return Refusal(
                reason=f"{name} {reading.value} +- {reading.u} is no dimension",
                remedy="State a number in mm and an uncertainty that is not negative",
            )
    if not 0.0 < side.flange_diameter.value < rim.erd.value:
        return Refusal(
            reason=f"a flange diameter of {side.flange_diameter.value:g} mm does not go inside an ERD of"
            f" {rim.erd.value:g} mm",
            remedy="Check both for a slip",
        )
    limit = side.flange_diameter.u * side.spoke_offset.u
    if not abs(side.covariance) <= limit * (1.0 + 1e-9):
        return Refusal(
            reason="the covariance of flange diameter and spoke offset exceeds"
            " the product of their uncertainties",
            remedy="Take all three from the same adjustment",
        )
    return None
