"""Which length to order: the risk of too short and too long in the tensioned wheel, per stock length.

In the tensioned wheel the end of a spoke of length l lies at p = l + sits - L from the slot's bottom, with L
its computed length and ``sits`` what stretch and rim compression add. Lengths and positions in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from hubsight.model.stated import Reading
from hubsight.wheel.length import SpokeLength
from hubsight.wheel.nipple import Stock, Window
from hubsight.wheel.scatter import Need, log_any_below, lot_and_spoke

SHORT_WEIGHT = 3.0
"""Weight of a spoke too short over one too long: the trade rounds up (common practice, no source)."""

CUT_U_MM = 0.15
"""Standard uncertainty of a spoke's length as delivered (common practice, no source)."""

CLOSE_CALL = 0.1
"""Probability that the true length asks for another stock length, above which the choice is a close call.

Follows from the step: of lengths known to u, a share 2 z u / step is flagged, with z the normal quantile of
this probability: one in six at 0.13 mm and steps of 2 mm. One in 160 is then wrong and not flagged; at 0.05
it would be one in 370, and more than one in five would be flagged.
"""

TIE_BREAK = 1e-9
"""Weight, per mm^2, of the distance from the window's middle where risks do not tell lengths apart."""

CERTAIN_MM = 1e-6
"""Least standard uncertainty that is computed with, so that certain inputs need no case of their own."""


@dataclass(frozen=True)
class Task:
    """What the choice is made from.

    Attributes
    ----------
    longest, shortest
        Computed lengths of the spokes that are to be of one length; often the two bores' of a side.
    u_length
        Standard uncertainty of the computed lengths, which they share.
    sits
        What tension adds to the end's position, with its uncertainty.
    window
        Of the nipple.
    stock
        What lengths there are.
    u_cut
        Of the spokes as delivered.
    short_weight
        How much worse too short is than too long.
    counts
        How many spokes need the one and the other length, or other lengths between; one each if empty.
    """

    longest: float
    shortest: float
    u_length: float
    sits: Reading
    window: Window
    stock: Stock
    u_cut: float = CUT_U_MM
    short_weight: float = SHORT_WEIGHT
    counts: tuple[Need, ...] = ()

    @property
    def u_common(self) -> float:
        """Standard uncertainty of what the ends of all spokes share."""
        return max(math.hypot(self.u_length, self.sits.u, lot_and_spoke(self.u_cut)[0]), CERTAIN_MM)

    @property
    def needs(self) -> tuple[Need, ...]:
        """Needed lengths with the number of spokes; relative to `longest` and `shortest` they never move."""
        return self.counts or tuple((length, 1) for length in {self.longest, self.shortest})

    @property
    def u_end(self) -> float:
        """Standard uncertainty of the end's position."""
        return max(math.hypot(self.u_length, self.sits.u, self.u_cut), CERTAIN_MM)


@dataclass(frozen=True)
class Candidate:
    """One stock length.

    Attributes
    ----------
    length
        mm.
    end
        Mean position of the spokes' ends in the tensioned wheel.
    p_too_short, p_too_long
        Probability that at least one spoke ends below or beyond the nipple's window.
    risk
        Weighted sum of both.
    """

    length: float
    end: float
    p_too_short: float
    p_too_long: float
    risk: float


@dataclass(frozen=True)
class Choice:
    """The proposed length, and how sure that is.

    Attributes
    ----------
    proposed
        The length of least risk.
    rounded_up
        What the trade would take: the next length that is not shorter than the computed one, or the longest
        that can be had.
    candidates
        The proposed length and its neighbours, and the rounded-up one, rising.
    p_other
        Probability that the true length asks for another than the proposed one.
    close_call
        Whether that is more than `CLOSE_CALL`.
    u_end
        Standard uncertainty of where the spokes' ends will lie.
    rival
        In a close call the other length.
    """

    proposed: Candidate
    rounded_up: Candidate
    candidates: tuple[Candidate, ...]
    p_other: float
    close_call: bool
    u_end: float
    rival: Candidate | None = None


def task(
    spokes: Sequence[SpokeLength],
    sits: Reading,
    window: Window,
    stock: Stock,
    *,
    u_cut: float = CUT_U_MM,
    short_weight: float = SHORT_WEIGHT,
) -> Task:
    """Return the task of finding one length for all of ``spokes``."""
    values = [spoke.value for spoke in spokes]
    u = max(spoke.u for spoke in spokes)
    counts = tuple((spoke.value, spoke.count) for spoke in spokes)
    return Task(max(values), min(values), u, sits, window, stock, u_cut, short_weight, counts)


def log_risk(job: Task, length: float, shift: float = 0.0) -> float:
    """Return the logarithm of the weighted risk of a length, were the computed lengths larger by ``shift``.

    The spokes share their errors but that of cutting, see `hubsight.wheel.scatter`.
    """
    short, long = _log_risks(job, length, shift)
    return float(np.logaddexp(math.log(job.short_weight) + short, long))


def _log_risks(job: Task, length: float, shift: float = 0.0) -> tuple[float, float]:
    """Return the logarithms of the probabilities that any spoke is too short, and too long."""
    lowest, highest = _ends(job, length, shift)
    scatter = lot_and_spoke(job.u_cut)[1]
    mirrored = tuple((-length, count) for length, count in job.needs)
    return (
        log_any_below(lowest - job.window.low, job.needs, job.u_common, scatter),
        log_any_below(job.window.high - highest, mirrored, job.u_common, scatter),
    )


def judge(job: Task, length: float) -> Candidate:
    """Return the probabilities of one stock length."""
    short, long = _log_risks(job, length)
    return Candidate(
        length=length,
        end=sum(_ends(job, length)) / 2.0,
        p_too_short=min(math.exp(short), 1.0),
        p_too_long=min(math.exp(long), 1.0),
        risk=math.exp(float(np.logaddexp(math.log(job.short_weight) + short, long))),
    )


def least_risk_index(job: Task, shift: float = 0.0) -> int:
    """Return the number of the stock length of least risk, were the computed lengths larger by ``shift``."""
    ideal = (job.longest + job.shortest) / 2.0 + shift - job.sits.value + job.window.middle
    near = job.stock.near(ideal, 2.0 * job.u_end)
    return min(near, key=lambda index: _preference(job, job.stock.length(index), shift))


def choose(job: Task) -> Choice:
    """Choose a stock length; the job's stock has one that is long enough."""
    stock = job.stock
    index = least_risk_index(job)
    up = stock.index_at_least(job.longest)
    if not stock.has(up):  # the tensioned wheel may take a spoke that is shorter than the computed length
        up -= 1
    wanted = [number for number in sorted({index - 1, index, index + 1, up}) if stock.has(number)]
    judged = {number: judge(job, stock.length(number)) for number in wanted}
    low, high = _boundary(job, index - 1), _boundary(job, index)
    p_other = _outside(low, high, job.u_length)
    close = p_other > CLOSE_CALL
    nearest = index + 1 if high < -low else index - 1
    return Choice(
        proposed=judged[index],
        rounded_up=judged[up],
        candidates=tuple(judged[number] for number in wanted),
        p_other=p_other,
        close_call=close,
        u_end=job.u_end,
        rival=judged[nearest] if close else None,
    )


def _preference(job: Task, length: float, shift: float) -> float:
    """Log risk; among lengths that are all certain to be wrong, the nearest to the window's middle."""
    away = sum(_ends(job, length, shift)) / 2.0 - job.window.middle
    return log_risk(job, length, shift) + TIE_BREAK * away**2


def _ends(job: Task, length: float, shift: float = 0.0) -> tuple[float, float]:
    """Lowest and highest end among the spokes, were the computed lengths larger by ``shift``."""
    seat = length + job.sits.value - shift
    return seat - job.longest, seat - job.shortest


def _boundary(job: Task, index: int) -> float:
    """Error of the computed lengths at which this stock length and the next one are equally risky.

    Infinite where one of them cannot be had: nothing then decides for it.
    """
    if not job.stock.has(index):
        return -math.inf
    if not job.stock.has(index + 1):
        return math.inf
    shorter, longer = job.stock.length(index), job.stock.length(index + 1)

    def gain(shift: float) -> float:
        return _preference(job, shorter, shift) - _preference(job, longer, shift)

    mean = (job.longest + job.shortest) / 2.0
    middle = (shorter + longer) / 2.0 + job.sits.value - job.window.middle - mean
    reach = longer - shorter + job.window.high - job.window.low
    return float(brentq(gain, middle - reach, middle + reach, xtol=1e-6))


def _outside(low: float, high: float, u: float) -> float:
    """Probability that an error of standard uncertainty ``u`` lies outside of the boundaries."""
    u = max(u, CERTAIN_MM)
    return float(ndtr(low / u) + ndtr(-high / u))
