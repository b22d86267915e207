"""The JSON document of a wheel: lengths, chosen stock lengths with their risks, caliper checks, order list.

Lengths in mm, tensions in N, angles in degrees; positions of spoke ends from the bottom of the nipple's slot,
positive outwards.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Literal

from pydantic import BaseModel, ConfigDict

from hubsight.figures import Figure
from hubsight.measurement import Refusal
from hubsight.stated import SideName
from hubsight.wheel.choice import Candidate
from hubsight.wheel.geometry import Bore
from hubsight.wheel.length import SpokeLength
from hubsight.wheel.order import PlannedLength, PlannedSide, WheelPlan, order_list
from hubsight.wheel.rim import ERD_DEFINITION

SCHEMA_VERSION: Literal[1] = 1
"""Raised whenever a reader of the old document would misread the new one."""

Verdict = Literal["agrees", "undecided", "doubt", "disagrees"]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Check(_Frozen):
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

    @property
    def usable_as_observation(self) -> bool:
        """Whether the reading may enter the adjustment as one more observation."""
        return self.verdict == "agrees"


class StockRisk(_Frozen):
    """A stock length: where the spokes' ends would lie in the tensioned wheel, and the risk of a bad fit."""

    length: float
    end: float
    p_too_short: float
    p_too_long: float


class SortLength(_Frozen):
    """The computed length of one sort of spoke: through which bore, to rim holes at which angle, how many."""

    bore: Bore
    alpha: float
    count: int
    length: Figure


class LengthChoice(_Frozen):
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


class SideLengths(_Frozen):
    """One side.

    Attributes
    ----------
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
    window
        Lowest and highest place for a spoke's end in the nipple.
    tension, bracing_angle, stretch, sits
        Of a spoke in the finished wheel; ``sits`` is by how much its end lies farther out than on the bench.
    """

    length: Figure
    proposed: float
    p_too_short: float
    p_too_long: float
    close_call: bool
    sorts: tuple[SortLength, ...]
    choices: tuple[LengthChoice, ...]
    window: tuple[float, float]
    tension: float
    bracing_angle: float
    stretch: float
    sits: float
    warnings: tuple[str, ...] = ()


class OrderItem(_Frozen):
    """One line of the order; see `hubsight.wheel.order.OrderLine`."""

    side: SideName
    count: int
    spares: int
    length: float
    head: str
    wire: str
    thread: str
    measured: str
    nipple: str


class LengthsDocument(_Frozen):
    """Everything about the wheel.

    Attributes
    ----------
    sides, refusals
        Each side is in one of them.
    checks
        Caliper readings against the photos.
    order
        What to order.
    rim_shrink
        Shrinking of the rim's radius in the tensioned wheel.
    erd_definition
        What the ERD is.
    """

    schema_version: Literal[1] = SCHEMA_VERSION
    sides: dict[SideName, SideLengths]
    refusals: dict[SideName, Refusal] = {}
    checks: tuple[Check, ...] = ()
    order: tuple[OrderItem, ...] = ()
    rim_shrink: float = 0.0
    erd_definition: str = ERD_DEFINITION
    warnings: tuple[str, ...] = ()


def lengths_document(
    plan: WheelPlan,
    checks: Sequence[Check] = (),
    length_figures: Mapping[SideName, Figure] | None = None,
) -> LengthsDocument:
    """Return the document of a planned wheel.

    Parameters
    ----------
    plan : from `hubsight.wheel.order.plan_wheel`
    checks : of the caliper readings
    length_figures : the sides' mean lengths as figures with reasons and warnings, where the caller has them;
        else they are made from the plan
    """
    known = length_figures or {}
    return LengthsDocument(
        sides={side.geometry.name: _side(side, plan, known.get(side.geometry.name)) for side in plan.sides},
        refusals=dict(plan.refusals),
        checks=tuple(checks),
        order=tuple(OrderItem(**dataclasses.asdict(line)) for line in order_list(plan)),
        rim_shrink=plan.rim_shrink,
        warnings=plan.warnings,
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
    )


def _side(side: PlannedSide, plan: WheelPlan, figure: Figure | None) -> SideLengths:
    window = plan.build.nipple_window
    choices = tuple(_choice(order) for order in side.orders)
    return SideLengths(
        length=figure or length_figure(side.lengths.mean),
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
        tension=side.tension.tension.value,
        bracing_angle=side.tension.bracing,
        stretch=side.tension.stretch,
        sits=side.tension.sits.value,
        warnings=side.lengths.warnings,
    )


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
    )


def _risk(candidate: Candidate) -> StockRisk:
    return StockRisk(
        length=candidate.length,
        end=candidate.end,
        p_too_short=candidate.p_too_short,
        p_too_long=candidate.p_too_long,
    )
