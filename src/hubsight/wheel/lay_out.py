"""From a planned wheel to the parts of the job's result: a side's lengths, what to order, the rim; mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from hubsight.model.figure import Figure, confidence_word
from hubsight.model.lengths import (
    LengthChoice,
    Origin,
    PlannedWheel,
    SideLengths,
    SideOrder,
    SortLength,
    StockRisk,
    UsedFigure,
)
from hubsight.wheel.choice import Candidate
from hubsight.wheel.length import SpokeLength
from hubsight.wheel.order import PlannedLength, PlannedSide, WheelPlan, order_list, order_notes
from hubsight.wheel.own_stock import from_drawer, one_length
from hubsight.wheel.rim import erd_definition


def planned_wheel(
    plan: WheelPlan, *, erd_readings: Sequence[float] = (), warnings: Sequence[str] = ()
) -> PlannedWheel:
    """Return what concerns both sides of a planned wheel, with what the caller has to say of it."""
    tensions = [side.tension.tension.value for side in plan.sides]
    return PlannedWheel(
        order=order_list(plan),
        order_notes=(*order_notes(plan), *_one_length(plan)),
        own_stock=from_drawer(plan) if plan.sides and plan.build.drawer else None,
        erd=UsedFigure(name="erd", value=plan.rim.erd.value, u=plan.rim.erd.u, source="stated"),
        erd_readings=tuple(erd_readings),
        rim_offset=plan.rim.offset.value,
        tension_ratio=min(tensions) / max(tensions) if len(tensions) == 2 else None,
        rim_shrink=plan.rim_shrink,
        p_wrong=plan.p_wrong,
        erd_definition=erd_definition(plan.build.nipple.kind),
        warnings=tuple(warnings),
        notes=plan.notes,
    )


def _one_length(plan: WheelPlan) -> tuple[str, ...]:
    """Say that one length would do for both sides, where the list orders several."""
    one = None if len({line.length for line in order_list(plan)}) < 2 else one_length(plan)
    if one is None:
        return ()
    risks = " and ".join(
        f"{100.0 * (risk.p_too_short + risk.p_too_long):.1f} % on the {risk.side.replace('_', '-')} side"
        for risk in one.risks
    )
    return (f"One length, {one.order[0].length:g} mm, would do for both sides, at a risk of {risks}",)


def side_lengths(
    side: PlannedSide, plan: WheelPlan, origin: Origin, figure_of: Callable[[SpokeLength], Figure]
) -> SideLengths:
    """Return a planned side's lengths.

    Parameters
    ----------
    side, plan
        Of the wheel.
    origin
        What the side was computed from.
    figure_of
        What makes a figure of a length: `length_figure`, or one that knows more of it than the plan says.
    """
    return SideLengths(
        origin=_with_slopes(origin, side.lengths.mean),
        length=figure_of(side.lengths.mean),
        sorts=tuple(
            SortLength(bore=spoke.bore, alpha=spoke.alpha, count=spoke.count, length=figure_of(spoke))
            for spoke in side.lengths.spokes
        ),
        order=_order(side, plan),
        warnings=side.lengths.warnings,
        notes=side.lengths.notes,
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


def _with_slopes(origin: Origin, length: SpokeLength) -> Origin:
    """Say of every figure how the length changes with it."""
    slopes = length.sensitivities
    per_mm = {
        "spoke_offset": slopes.spoke_offset,
        "flange_diameter": slopes.flange_diameter,
        "hole_circle": slopes.flange_diameter,
        "centre_to_flange": slopes.centre_to_flange,
        "hole_diameter": -0.5,
    }
    figures = (one.model_copy(update={"per_mm": per_mm.get(one.name)}) for one in origin.figures)
    return origin.model_copy(update={"figures": tuple(figures)})


def _order(side: PlannedSide, plan: WheelPlan) -> SideOrder:
    window = plan.build.nipple_window
    choices = tuple(_choice(order) for order in side.orders)
    return SideOrder(
        proposed=choices[0].proposed.length,
        p_too_short=max(choice.proposed.p_too_short for choice in choices),
        p_too_long=max(choice.proposed.p_too_long for choice in choices),
        close_call=any(choice.close_call for choice in choices),
        choices=choices,
        window=(window.low, window.high),
        window_reasons=(window.low_reason, window.high_reason),
        zero=window.zero,
        seat=window.seat,
        tension=side.tension.tension.value,
        bracing_angle=side.tension.bracing,
        stretch=side.tension.stretch,
        sits=side.tension.sits.value,
        in_wheel=choices[0].proposed.length + side.tension.stretch,
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
        u_end=choice.u_end,
        rival=None if choice.rival is None else _risk(choice.rival),
    )


def _risk(candidate: Candidate) -> StockRisk:
    return StockRisk(
        length=candidate.length,
        end=candidate.end,
        p_too_short=candidate.p_too_short,
        p_too_long=candidate.p_too_long,
    )
