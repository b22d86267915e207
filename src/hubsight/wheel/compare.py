"""Which of several wheels from one hub is best, and why: pure arithmetic."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

BestAt = Literal["risk", "tension", "bracing", "one length"]


@dataclass(frozen=True)
class Same:
    """Differences up to which wheels are the same (common practice, no source); raising one marks fewer.

    Attributes
    ----------
    risk
        Of risks: half a per cent, what their uncertainties leave of them.
    ratio
        Of tension ratios: nobody tensions more evenly.
    angle_deg
        Of bracing angles.
    """

    risk: float = 0.005
    ratio: float = 0.01
    angle_deg: float = 0.1


SAME = Same()
"""As the program compares them."""


@dataclass(frozen=True)
class Wheel:
    """What wheels are compared by.

    Attributes
    ----------
    name
        Of the wheel.
    p_wrong
        Probability that any spoke ends outside of its nipple's window.
    tension_ratio
        Tension of the slacker side over that of the tighter one; None with one side.
    bracing
        Bracing angle of each side, degrees.
    lengths
        Every length that is ordered, mm.
    """

    name: str
    p_wrong: float
    tension_ratio: float | None
    bracing: tuple[float, ...]
    lengths: tuple[float, ...]


@dataclass(frozen=True)
class Best:
    """Wheels that are the best at something, and the reason; no wheel where it makes no difference."""

    at: BestAt
    wheels: tuple[str, ...]
    sentence: str


def best_wheels(wheels: Sequence[Wheel]) -> tuple[Best, ...]:
    """Return what each wheel is best at: least risk, evenest tension, widest bracing, one length for all.

    Parameters
    ----------
    wheels
        That can be ordered; with fewer than two there is nothing to choose.
    """
    if len(wheels) < 2:
        return ()
    found: list[Best | None] = [_least_risk(wheels)]
    two_sided = [wheel for wheel in wheels if wheel.tension_ratio is not None]
    if len(two_sided) == len(wheels):
        found += [_evenest(wheels), _widest(wheels), _one_length(wheels)]
    return tuple(one for one in found if one is not None)


def _within(
    wheels: Sequence[Wheel], value: Callable[[Wheel], float], same: float
) -> tuple[list[Wheel], float | None]:
    """Return the wheels of the smallest values, and the next value; None where all are the same."""
    least = min(map(value, wheels))
    first = [wheel for wheel in wheels if value(wheel) <= least + same]
    rest = [value(wheel) for wheel in wheels if wheel not in first]
    return first, min(rest) if rest else None


def _least_risk(wheels: Sequence[Wheel]) -> Best:
    first, following = _within(wheels, lambda wheel: wheel.p_wrong, SAME.risk)
    worst = max(wheel.p_wrong for wheel in first)
    risk = f"{_percent(worst)} that any spoke ends outside of its nipple's window"
    if following is None:
        return Best("risk", (), f"all wheels run about the same risk, at most {risk}")
    return Best("risk", _names(first), f"least risk, {risk}; the next has {_percent(following)}")


def _evenest(wheels: Sequence[Wheel]) -> Best:
    first, following = _within(wheels, lambda wheel: -(wheel.tension_ratio or 0.0), SAME.ratio)
    best = max(wheel.tension_ratio or 0.0 for wheel in first)
    share = f"the slacker side has {_percent(best, 0)} of the other's"
    if following is None:
        return Best("tension", (), f"tensions are about the same in all wheels: {share}")
    return Best("tension", _names(first), f"evenest tension, {share}; the next has {_percent(-following, 0)}")


def _widest(wheels: Sequence[Wheel]) -> Best:
    first, following = _within(wheels, lambda wheel: -min(wheel.bracing), SAME.angle_deg)
    best = max(min(wheel.bracing) for wheel in first)
    least = f"{best:.1f}° on the side that has less of it"
    if following is None:
        return Best("bracing", (), f"bracing is about the same in all wheels: {least}")
    after = f"the next has {-following:.1f}°"
    return Best("bracing", _names(first), f"widest bracing, {least}: it holds the rim best sideways; {after}")


def _one_length(wheels: Sequence[Wheel]) -> Best | None:
    first = [wheel for wheel in wheels if len(set(wheel.lengths)) == 1]
    if not first or len(first) == len(wheels):
        return None
    lengths = " or ".join(dict.fromkeys(f"{wheel.lengths[0]:g} mm" for wheel in first))
    return Best("one length", _names(first), f"one length for both sides, {lengths}")


def _names(wheels: Sequence[Wheel]) -> tuple[str, ...]:
    return tuple(wheel.name for wheel in wheels)


def _percent(share: float, digits: int = 1) -> str:
    return f"{100.0 * share:.{digits}f} %"
