"""Choices of a stock length that are close calls: asked for once for the whole job."""

from __future__ import annotations

from dataclasses import dataclass

from hubsight.model.catalogue import FIGURES, OF_SIDE, SIDE_WORDS
from hubsight.model.lengths import LengthChoice
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.verdict import Reason

NEGLIGIBLE_RISK = 0.02
"""Probability of a bad fit that nobody would measure again for."""

ERD_SHARE = 0.5
"""Share of the largest contribution to a length's uncertainty from which the ERD is asked for first, as it is
read again in a minute; raising it asks for it less."""


@dataclass(frozen=True)
class CloseCalls:
    """The sides on which the choice of a length is a close call, and what settles it, asked for once."""

    sides: tuple[str, ...]
    reasons: tuple[Reason, ...]


def close_calls(result: JobResult) -> CloseCalls:
    """Return the close calls of all sides as one reason, with the one reading that settles most."""
    close = {
        side.name: [c for c in side.spoke_lengths.order.choices if c.close_call and not either_will_do(c)]
        for side in result.sides
        if side.spoke_lengths is not None and side.spoke_lengths.order is not None
    }
    close = {name: choices for name, choices in close.items() if choices}
    if not close:
        return CloseCalls((), ())
    parts = [_between(side, close[side.name]) for side in result.sides if side.name in close]
    about, remedy = _what_settles([side for side in result.sides if side.name in close])
    sentence = f"a close call between stock lengths: {'; '.join(parts)}"
    return CloseCalls(
        tuple(close), (Reason(sentence=sentence, remedy=remedy, about=about, severity="check"),)
    )


def either_will_do(choice: LengthChoice) -> bool:
    """Tell whether the proposed length and its rival both fit for certain."""
    return choice.rival is not None and all(
        one.p_too_short + one.p_too_long < NEGLIGIBLE_RISK for one in (choice.proposed, choice.rival)
    )


def _between(side: MeasuredSide, choices: list[LengthChoice]) -> str:
    lengths = ", ".join(_lengths(choice) for choice in choices)
    u = max(choice.u_end for choice in choices)
    return f"{SIDE_WORDS[side.name].lower()} {lengths} mm (the spoke's end is known to ± {u:.2f} mm)"


def _lengths(choice: LengthChoice) -> str:
    both = {choice.proposed.length, *(() if choice.rival is None else (choice.rival.length,))}
    return " or ".join(f"{length:g}" for length in sorted(both))


def _what_settles(sides: list[MeasuredSide]) -> tuple[str, str]:
    """Return which reading would settle close calls, as a path and in words."""
    shares: dict[str, float] = {}
    for side in sides:
        for item in () if side.spoke_lengths is None else side.spoke_lengths.length.budget:
            shares[item.source] = max(shares.get(item.source, 0.0), item.u)
    most = max(shares, key=lambda source: shares[source], default="")
    if most and shares.get("ERD", 0.0) >= ERD_SHARE * shares[most]:
        return "rim.erd", "Read the ERD more often, at four places round the rim, and state all readings"
    known = next((entry for entry in FIGURES if entry.words == most), OF_SIDE["spoke_offset"])
    return f"{sides[0].name}.{known.name}", f"Measure once more: {known.settle[:1].lower()}{known.settle[1:]}"
