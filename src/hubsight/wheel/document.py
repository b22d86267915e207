"""The JSON document of a wheel: lengths, chosen stock lengths with their risks, caliper checks, order list.

Lengths in mm, tensions in N, angles in degrees; positions of spoke ends from the bottom of the nipple's slot,
positive outwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from pydantic import Field

from hubsight.model.figure import Figure, confidence_word
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import SideName
from hubsight.wheel.choice import Candidate
from hubsight.wheel.geometry import Bore, SideKind
from hubsight.wheel.length import SpokeLength
from hubsight.wheel.order import OrderLine, PlannedLength, PlannedSide, WheelPlan, order_list, order_notes
from hubsight.wheel.rim import ERD_DEFINITION

SCHEMA_VERSION: Literal[1] = 1
"""Raised whenever a reader of the old document would misread the new one."""

POOR_FIT = 0.2
"""Risk of the proposed length above which it is worth a warning."""

Verdict = Literal["agrees", "undecided", "doubt", "disagrees"]


class Check(Frozen):
    """One caliper reading, compared with the photo's figure of the same name.

    Attributes
    ----------
    side, reading
        Which side, and which figure by name.
    stated, photo
        The reading and the photo's figure.
    e_n, verdict
        Normalised error and what it means.
    slip
        The slip that explains the difference, if one does.
    sentence
        All of it in plain words.
    """

    side: SideName
    reading: str
    stated: float
    photo: float
    e_n: float
    verdict: Verdict
    slip: str | None
    sentence: str


class StockRisk(Frozen):
    """A stock length: where the spokes' ends would lie in the tensioned wheel, and the risk of a bad fit."""

    length: float
    end: float
    p_too_short: float
    p_too_long: float


class SortLength(Frozen):
    """The computed length of one sort of spoke: through which bore, to rim holes at which angle, how many."""

    bore: Bore
    alpha: float
    count: int
    length: Figure


class LengthChoice(Frozen):
    """Spokes that are ordered in one length.

    Attributes
    ----------
    count
        How many.
    proposed, rounded_up
        Length of least risk, and the next one that is not shorter than the computed length.
    candidates
        The proposed length, its neighbours and the rounded-up one.
    sampled_too_short, sampled_too_long
        The proposed length's risks by Monte Carlo, as a check.
    p_other, close_call
        Probability that the true length asks for another stock length, and whether that is much.
    advice
        Whether one more measurement would change the choice, and which.
    u_end
        Standard uncertainty of where the spokes' ends will lie.
    """

    count: int
    proposed: StockRisk
    rounded_up: StockRisk
    candidates: tuple[StockRisk, ...]
    sampled_too_short: float
    sampled_too_long: float
    p_other: float
    close_call: bool
    advice: str
    u_end: float


class UsedFigure(Frozen):
    """A figure that the lengths rest on: mm, its standard uncertainty, and where it comes from."""

    name: str
    value: float
    u: float
    source: str


class HandResult(Frozen):
    """A result by hand, computed again from its raw readings; see `hubsight.wheel.manual.Redone`."""

    side: SideName
    quantity: str
    value: float
    u: float
    stated: float | None
    agrees: bool
    slip: str | None
    sentence: str


class Origin(Frozen):
    """What a side's lengths were computed from.

    Attributes
    ----------
    kind, bosses, crosses
        Kind of flange, its bosses (radial: bores, J-bend: holes), and the crosses.
    crosses_stated
        False when they were read off the photos.
    figures
        Every figure that went in.
    """

    kind: SideKind
    bosses: int
    crosses: int
    crosses_stated: bool
    figures: tuple[UsedFigure, ...]


class SideLengths(Frozen):
    """One side.

    Attributes
    ----------
    origin
        What it was computed from.
    length
        Computed, mean over the side's spokes.
    proposed
        Stock length to order; of the first of ``choices`` where the side takes several.
    p_too_short, p_too_long, close_call
        Of the proposed length; the worst of several.
    sorts
        Computed lengths of all sorts of spoke.
    choices
        One where the side is ordered in one length.
    window, window_reasons
        Lowest and highest place for a spoke's end in the nipple, and what happens below and beyond.
    tension, bracing_angle, stretch, sits
        Of a spoke in the finished wheel; ``sits`` is by how much its end lies farther out than on the bench.
    in_wheel
        Length of the proposed spoke under tension.
    """

    origin: Origin | None = None
    length: Figure
    proposed: float
    p_too_short: float
    p_too_long: float
    close_call: bool
    sorts: tuple[SortLength, ...]
    choices: tuple[LengthChoice, ...]
    window: tuple[float, float]
    window_reasons: tuple[str, str] = ("", "")
    tension: float
    bracing_angle: float
    stretch: float
    sits: float
    in_wheel: float
    warnings: tuple[str, ...] = ()


class LengthsDocument(Frozen):
    """Everything about the wheel.

    Attributes
    ----------
    sides, refusals
        Each side is in one of them.
    checks
        Caliper readings against the photos.
    order, order_notes
        What to order, and what to mind of it.
    arithmetic
        Results by hand, computed again from their raw readings.
    erd, erd_readings
        As it went in, and the single readings.
    rim_offset
        Of the spoke holes from the rim's middle, positive towards the drive side.
    tension_ratio
        Tension of the slacker side over that of the tighter one; None with one side only.
    rim_shrink
        Shrinking of the rim's radius in the tensioned wheel.
    cautions
        What everybody has to mind who acts on this.
    erd_definition
        What the ERD is.
    """

    schema_version: Literal[1] = SCHEMA_VERSION
    sides: dict[SideName, SideLengths]
    refusals: dict[SideName, Refusal] = Field(default_factory=dict)
    checks: tuple[Check, ...] = ()
    order: tuple[OrderLine, ...] = ()
    order_notes: tuple[str, ...] = ()
    arithmetic: tuple[HandResult, ...] = ()
    erd: UsedFigure | None = None
    erd_readings: tuple[float, ...] = ()
    rim_offset: float = 0.0
    tension_ratio: float | None = None
    rim_shrink: float = 0.0
    cautions: tuple[str, ...] = ()
    erd_definition: str = ERD_DEFINITION
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Surrounding:
    """What the caller knows beside the plan; see `LengthsDocument` and `SideLengths`.

    ``length_figures`` are the sides' mean lengths with reasons and warnings; without them they are made from
    the plan.
    """

    checks: Sequence[Check] = ()
    length_figures: Mapping[SideName, Figure] = field(default_factory=dict)
    origins: Mapping[SideName, Origin] = field(default_factory=dict)
    refusals: Mapping[SideName, Refusal] = field(default_factory=dict)
    arithmetic: Sequence[HandResult] = ()
    erd_readings: Sequence[float] = ()
    warnings: Sequence[str] = ()
    cautions: Sequence[str] = ()


def lengths_document(plan: WheelPlan, known: Surrounding | None = None) -> LengthsDocument:
    """Return the document of a planned wheel, with what else is known."""
    known = known or Surrounding()
    tensions = [side.tension.tension.value for side in plan.sides]
    return LengthsDocument(
        sides={side.geometry.name: _side(side, plan, known) for side in plan.sides},
        refusals={**known.refusals, **dict(plan.refusals)},
        checks=tuple(known.checks),
        order=order_list(plan),
        order_notes=order_notes(plan),
        arithmetic=tuple(known.arithmetic),
        erd=UsedFigure(name="erd", value=plan.rim.erd.value, u=plan.rim.erd.u, source="stated"),
        erd_readings=tuple(known.erd_readings),
        rim_offset=plan.rim.offset.value,
        tension_ratio=min(tensions) / max(tensions) if len(tensions) == 2 else None,
        rim_shrink=plan.rim_shrink,
        cautions=tuple(known.cautions),
        warnings=(*known.warnings, *plan.warnings),
    )


def length_figure(spoke: SpokeLength) -> Figure:
    """Return a computed length as a figure with a normal 95 % interval."""
    low, high = spoke.interval
    return Figure(
        value=spoke.value,
        u=spoke.u,
        low=low,
        high=high,
        budget=spoke.budget,
        seen="computed from the figures",
        confidence=confidence_word(spoke.u, warned=False),
    )


def _side(side: PlannedSide, plan: WheelPlan, known: Surrounding) -> SideLengths:
    window, name = plan.build.nipple_window, side.geometry.name
    choices = tuple(_choice(order) for order in side.orders)
    return SideLengths(
        origin=known.origins.get(name),
        length=known.length_figures.get(name) or length_figure(side.lengths.mean),
        proposed=choices[0].proposed.length,
        p_too_short=max(choice.proposed.p_too_short for choice in choices),
        p_too_long=max(choice.proposed.p_too_long for choice in choices),
        close_call=any(choice.close_call for choice in choices),
        sorts=tuple(
            SortLength(bore=spoke.bore, alpha=spoke.alpha, count=spoke.count, length=length_figure(spoke))
            for spoke in side.lengths.spokes
        ),
        choices=choices,
        window=(window.low, window.high),
        window_reasons=(window.low_reason, window.high_reason),
        tension=side.tension.tension.value,
        bracing_angle=side.tension.bracing,
        stretch=side.tension.stretch,
        sits=side.tension.sits.value,
        in_wheel=choices[0].proposed.length + side.tension.stretch,
        warnings=(*side.lengths.warnings, *_poor_fits(choices)),
    )


def _poor_fits(choices: Sequence[LengthChoice]) -> list[str]:
    """Warn of a length that is the best that can be had, and still may well not fit."""
    said = []
    for choice in choices:
        best = choice.proposed
        risk = best.p_too_short + best.p_too_long
        if risk > POOR_FIT:
            said.append(
                f"even the best length, {best.length:g} mm, may end outside of the nipple's window"
                f" ({100.0 * risk:.0f} %): other nipples, or spokes cut to order, would fit better"
            )
    return said


def _choice(order: PlannedLength) -> LengthChoice:
    choice = order.choice
    return LengthChoice(
        count=order.count,
        proposed=_risk(choice.proposed),
        rounded_up=_risk(choice.rounded_up),
        candidates=tuple(_risk(candidate) for candidate in choice.candidates),
        sampled_too_short=order.sampled.p_too_short,
        sampled_too_long=order.sampled.p_too_long,
        p_other=choice.p_other,
        close_call=choice.close_call,
        advice=choice.advice,
        u_end=choice.u_end,
    )


def _risk(candidate: Candidate) -> StockRisk:
    return StockRisk(
        length=candidate.length,
        end=candidate.end,
        p_too_short=candidate.p_too_short,
        p_too_long=candidate.p_too_long,
    )
