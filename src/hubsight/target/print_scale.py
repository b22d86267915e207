"""What caliper readings of the two check bars say: the print's scales, and whether they can be right.

The limits below are common practice, no source, unless said otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from hubsight.model.refusal import Refusal
from hubsight.model.stated import CHECK_BAR_NOMINAL_MM, PaperName, Reading
from hubsight.model.uncertainty import APART_SIGMAS, u_of_mean
from hubsight.target.geometry import PAGE_MM, PAPER_TITLE


@dataclass(frozen=True)
class BarReadings:
    """How check bars are read with a caliper, mm (common practice, no source).

    Attributes
    ----------
    common_u
        Standard uncertainty that all readings of one bar share: the caliper, and how the ticks are
        judged; raising it trusts more readings less.
    scatter_u
        Standard uncertainty that differs from reading to reading; raising it trusts readings less.
        With the common part it is 0.1 for one reading and 0.06 for the mean of three.
    spread
        Difference of two readings of one bar above which one is a slip; raising it accepts more
        slips.
    """

    common_u: float = 0.02
    scatter_u: float = 0.098
    spread: float = 1.0


BAR = BarReadings()
"""As the program reckons with it."""


PRINTER_ERROR = 0.02
"""Relative error of a printer at 100 %; raising it says less about other scales (common practice, no
source)."""
LARGEST_ERROR = 0.075
"""Relative error above which a print is not used; raising it accepts more slips. A4 fitted to Letter comes
out at 94 %."""
LARGEST_DIFFERENCE = 0.03
"""Relative difference of the print's scales in x and y up to which they are believed; raising it accepts more
slips (common practice, no source)."""
EQUAL_SCALES = 0.004
"""Relative difference of the two scales up to which one setting of the print dialog may have made them;
raising it names causes more often."""
PRINTER_MARGIN_MM = (2.5, 6.5)
"""Margins that a print dialog keeps when it fits a page to the printable area, mm; a wider range names causes
more often (common practice, no source)."""

_HOW_TO_READ = "Measure each bar again from the middle of one tick to the middle of the other, in mm"
"""Remedy for a reading that cannot be right."""
_WHICH_IS_X = "The bar along x lies at the lower edge, along the sheet's long side"
"""Words that tell the two bars apart."""
_PRINT_AGAIN = 'Print again at 100 % ("actual size", not "fit to page"), then measure both bars'
"""Remedy for a print of another scale."""


FINE = "The print is fine: state both readings in your job, and carry on."
"""Said where nothing speaks against a print and its readings."""


@dataclass(frozen=True)
class PrintCheck:
    """What two check bars say.

    Attributes
    ----------
    paper
        The target that was printed.
    bar_x, bar_y
        Mean readings, mm; None where not measured or refused.
    scale_x, scale_y
        Printed over nominal length, a ratio.
    refusals
        Readings that cannot be right; the print must not be used with them.
    warnings
        What speaks against the print, or for a slip.
    sentences
        What the readings mean, in plain words.
    """

    paper: PaperName
    bar_x: Reading | None
    bar_y: Reading | None
    scale_x: Reading | None
    scale_y: Reading | None
    refusals: tuple[Refusal, ...] = ()
    warnings: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether the readings may enter a job."""
        return not self.refusals


Readings = float | Sequence[float] | None
"""One caliper reading, several of the same bar, or none; mm."""


def check_print(x: Readings, y: Readings, paper: PaperName = "a4") -> PrintCheck:
    """Say what caliper readings of the two check bars mean and whether they can be right.

    Parameters
    ----------
    x, y
        Readings of the bar along the sheet's long side, and of the bar along its short side.
    paper
        Which target was printed.
    """
    bars = [read_bar(readings, axis, paper) for readings, axis in ((x, "x"), (y, "y"))]
    refusals = [bar for bar in bars if isinstance(bar, Refusal)]
    bar_x, bar_y = (None if isinstance(bar, Refusal) else bar for bar in bars)
    scale_x, scale_y = print_scale(bar_x), print_scale(bar_y)
    warnings: list[str] = []
    if scale_x and scale_y:
        refusals += _differ_too_much(scale_x, scale_y)
        warnings += _print_dialog(scale_x, scale_y, paper)
    sentences = [_meaning("x", bar_x, scale_x), _meaning("y", bar_y, scale_y)]
    if not refusals:
        if scale_x and scale_y:
            sentences += _which_is_which(scale_x, scale_y)
        sentences += _advice(x, y)
        if scale_x and scale_y and not warnings:
            sentences.append(FINE)
    return PrintCheck(
        paper=paper,
        bar_x=bar_x,
        bar_y=bar_y,
        scale_x=scale_x,
        scale_y=scale_y,
        refusals=tuple(refusals),
        warnings=tuple(warnings),
        sentences=tuple(filter(None, sentences)),
    )


def bar_uncertainty(readings: Sequence[float]) -> float:
    """Return the standard uncertainty of the mean of readings of one bar, mm; a large scatter counts."""
    return math.hypot(BAR.common_u, u_of_mean(readings, BAR.scatter_u))


def read_bar(readings: Readings, axis: str, paper: PaperName = "a4") -> Reading | Refusal | None:
    """Return the mean of the readings of one bar, or why they cannot be right; None without any."""
    values = [readings] if isinstance(readings, int | float) else list(readings or ())
    if not values:
        return None
    for value in values:
        why = _cannot_be(value, paper)
        if why:
            return Refusal(reason=f"check bar {axis}: {why[0]}", remedy=why[1])
    spread = max(values) - min(values)
    if spread > BAR.spread:
        reason = f"check bar {axis}: its readings differ by {spread:.2f} mm, so one of them is a slip"
        return Refusal(reason=reason, remedy=_HOW_TO_READ)
    return Reading(fmean(values), bar_uncertainty(values), count=len(values))


def print_scale(bar: Reading | None) -> Reading | None:
    """Return the print's scale in a bar's direction, a ratio, by its reading."""
    if bar is None:
        return None
    return Reading(bar.value / CHECK_BAR_NOMINAL_MM, bar.u / CHECK_BAR_NOMINAL_MM)


def swapped_bars(bar_x: Reading, bar_y: Reading, seen_ratio: Reading) -> Refusal | None:
    """Return a refusal of readings given for the wrong bar, by the ratio of scales that photos show.

    Parameters
    ----------
    bar_x, bar_y
        As stated, mm.
    seen_ratio
        Scale in x over scale in y, from photographs alone (cameras have square pixels).

    Returns
    -------
    Refusal or None
        A refusal where the stated ratio contradicts the seen one and the swapped readings agree with it.
    """
    stated = bar_x.value / bar_y.value
    u = math.hypot(stated * math.hypot(bar_x.u / bar_x.value, bar_y.u / bar_y.value), seen_ratio.u)
    as_stated, as_swapped = abs(stated - seen_ratio.value), abs(1 / stated - seen_ratio.value)
    if as_stated <= APART_SIGMAS * u or as_swapped >= APART_SIGMAS * u:
        return None
    return Refusal(
        reason=(
            f"the check bars seem to be swapped: stated are {bar_x.value:.2f} mm along x and "
            f"{bar_y.value:.2f} mm along y, but the photos show x to be "
            f"{'longer' if seen_ratio.value > 1 else 'shorter'}"
        ),
        remedy=f"{_WHICH_IS_X}: exchange the two readings",
    )


def _cannot_be(value: float, paper: PaperName) -> tuple[str, str] | None:
    """Say why a reading cannot be a check bar's, and what to do; None for a plausible one."""
    if not math.isfinite(value) or value <= 0:
        return f"{value:g} is no length", _HOW_TO_READ
    if _plausible(value):
        return None
    for unit, factor in (("inches", 25.4), ("centimetres", 10.0)):
        if _plausible(value * factor):
            return (
                f"{value:g} looks like {unit}, {value * factor:.2f} mm",
                "Set the caliper to mm and measure again",
            )
    off = f"{value:g} mm is {100 * (value / CHECK_BAR_NOMINAL_MM - 1):+.0f} % off {CHECK_BAR_NOMINAL_MM:g} mm"
    causes = fit_to_page(value / CHECK_BAR_NOMINAL_MM, paper)
    if causes:
        return f"{off}, as when {' or '.join(causes)}", _PRINT_AGAIN
    return f"{off}, more than any print", f"{_HOW_TO_READ}; if it is right, print again at 100 %"


def _plausible(value: float) -> bool:
    return abs(value / CHECK_BAR_NOMINAL_MM - 1) <= LARGEST_ERROR


def fit_to_page(ratio: float, paper: PaperName) -> tuple[str, ...]:
    """Return the print dialogs' ways of fitting pages that give this scale, the likeliest first.

    A page fitted to another sheet takes the smaller of the ratios of their sides; fitted to the printable
    area, the sheet is smaller by the printer's margins.
    """
    whole, within = [], []
    title = PAPER_TITLE[paper]
    for other in PAGE_MM:
        largest, smallest = (_fit(paper, other, margin) for margin in PRINTER_MARGIN_MM)
        if other != paper and abs(ratio / _fit(paper, other, 0.0) - 1) < EQUAL_SCALES / 2:
            whole.append(f"the {title} sheet is fitted to {PAPER_TITLE[other]} paper")
        elif smallest <= ratio <= largest:
            where = (
                "the printer's margins"
                if other == paper
                else f"{PAPER_TITLE[other]} paper within its margins"
            )
            within.append(f"the {title} sheet is shrunk to {where}")
    return tuple(whole + within)


def _fit(paper: PaperName, other: PaperName, margin: float) -> float:
    sides = zip(PAGE_MM[paper], PAGE_MM[other], strict=True)
    return min((have - 2 * margin) / want for want, have in sides)


def _differ_too_much(scale_x: Reading, scale_y: Reading) -> list[Refusal]:
    if abs(scale_x.value / scale_y.value - 1) <= LARGEST_DIFFERENCE:
        return []
    reason = (
        f"the print would be {scale_x.value:.3f} in x and {scale_y.value:.3f} in y, which no printer does"
    )
    return [Refusal(reason=f"check bars: {reason}", remedy=_HOW_TO_READ)]


def _print_dialog(scale_x: Reading, scale_y: Reading, paper: PaperName) -> list[str]:
    """Return warnings of a print that was not made at 100 %."""
    mean = (scale_x.value + scale_y.value) / 2
    if abs(mean - 1) <= PRINTER_ERROR:
        return []
    off = f"The print is at {100 * mean:.1f} %, further off than a printer is by itself"
    causes = fit_to_page(mean, paper) if abs(scale_x.value / scale_y.value - 1) < EQUAL_SCALES else ()
    return [f"{off}{': as when ' + ' or '.join(causes) if causes else ''}. {_PRINT_AGAIN}."]


def _which_is_which(scale_x: Reading, scale_y: Reading) -> list[str]:
    """Return a warning where it matters which reading belongs to which bar."""
    ratio = scale_x.value / scale_y.value
    if abs(ratio - 1) <= APART_SIGMAS * math.hypot(scale_x.u, scale_y.u):
        return []
    differ = f"The two scales differ by {100 * abs(ratio - 1):.1f} %, as printers do"
    return [f"{differ}; make sure that the readings are not swapped. {_WHICH_IS_X}."]


_SIDE_OF_SHEET = {"x": "long", "y": "short"}
"""Side of the sheet along which each bar lies."""


def _meaning(axis: str, bar: Reading | None, scale: Reading | None) -> str:
    if bar is None or scale is None:
        return ""
    percent = 100 * (scale.value - 1)
    size = f"{abs(percent):.2f} % too {'large' if percent > 0 else 'small'}"
    if round(abs(percent), 2) == 0:
        size = "at 100 %"
    where = f"Along the {_SIDE_OF_SHEET[axis]} side (bar {axis})"
    return (
        f"{where} the print is {size}: {bar.value:.2f} mm instead of "
        f"{CHECK_BAR_NOMINAL_MM:g}, known to ± {100 * scale.u:.2f} %."
    )


def _advice(x: Readings, y: Readings) -> list[str]:
    counts = [1 if isinstance(readings, int | float) else len(readings or ()) for readings in (x, y)]
    advice = []
    if 0 in counts:
        advice.append("Measure both bars: printers scale differently in x and y.")
    if 1 in counts:
        advice.append("Three readings of a bar bring its uncertainty from 0.10 to 0.06 mm.")
    return advice
