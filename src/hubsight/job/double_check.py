"""Double check: each caliper reading against the photo's figure, and the slip that explains a difference.

Compared by the normalised error of ISO/IEC 17043 and ISO 13528, E_n = (x - X) / sqrt(U^2 + U_ref^2) with
expanded uncertainties of 95 %; satisfactory at |E_n| <= 1. Like is compared with like: a reading is only ever
compared with the figure of the same name. Lengths in mm.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from hubsight.figures import Figure
from hubsight.stated import Reading, SideName
from hubsight.uncertainty import COVERAGE_FACTOR, normalised_error
from hubsight.wheel.document import Check, Verdict
from hubsight.wheel.manual import NOMINAL_GAUGE_MM

__all__ = ["Check", "Surroundings", "Verdict", "check_reading", "double_check", "find_slip"]

SATISFACTORY = 1.0
"""Largest |E_n| of readings that agree (ISO/IEC 17043)."""

DISAGREES = 1.5
"""|E_n| above which a reading is called wrong: three standard uncertainties of the difference. One right
reading in twenty lies above 1, one in three hundred above this."""

MATTERS_MM = {
    "spoke_offset": 0.5,
    "spoke_offset_by_width": 0.5,
    "reach": 0.5,
    "protrusion": 0.5,
    "boss_width": 1.0,
    "boss_width_across": 1.0,
    "flange_diameter": 1.5,
    "flange_height": 2.0,
    "centre_to_flange": 2.0,
    "over_locknut": 4.0,
}
"""Error of a reading that changes a spoke length by 0.1 to 0.5 mm. Agreement with a photo's figure whose
expanded uncertainty is larger says nothing."""

SLIP_ODDS = 20.0
"""How many times likelier than chance a slip has to make the reading before it is named: slips are rare."""

AMBIGUOUS_ODDS = 10.0
"""Slips that are less likely than the best one by no more than this factor are named with it."""

OUTSIDE_OF_BOSS_MM = (2.0, 7.0)
"""Least and largest distance from the crossing point out to the boss's top (common practice, no source)."""


@dataclass(frozen=True)
class Surroundings:
    """What else is known of a side, for finding slips; mm.

    Attributes
    ----------
    figures, readings
        The photo's figures and the caliper readings of this side, by name.
    other_figures, other_readings
        Those of the other side.
    gauge_length
        L of the gauge that was used.
    over_locknut
        OLD.
    """

    figures: Mapping[str, Figure] = field(default_factory=dict)
    readings: Mapping[str, Reading] = field(default_factory=dict)
    other_figures: Mapping[str, Figure] = field(default_factory=dict)
    other_readings: Mapping[str, Reading] = field(default_factory=dict)
    gauge_length: float | None = None
    over_locknut: float | None = None


@dataclass(frozen=True)
class _Candidate:
    """A slip, and what the reading would have been without it.

    ``rarity`` is how many times rarer than a common slip it is. ``scale`` is what the reading's uncertainty
    is multiplied by on the way.
    """

    slip: str
    corrected: float
    rarity: float = 1.0
    scale: float = 1.0


def double_check(
    side: SideName, readings: Mapping[str, Reading], surroundings: Surroundings
) -> tuple[Check, ...]:
    """Compare every caliper reading of a side that has a figure of the same name."""
    checks = tuple(
        check_reading(side, name, reading, surroundings.figures[name], surroundings)
        for name, reading in readings.items()
        if name in surroundings.figures
    )
    return _with_doubtful_faces(checks, readings, surroundings)


def _with_doubtful_faces(
    checks: tuple[Check, ...], readings: Mapping[str, Reading], around: Surroundings
) -> tuple[Check, ...]:
    """Blame the photos' sight of the boss's faces where two readings against it bear each other out.

    A face seen too far in makes the photos' width too small and their protrusion too large. Where both
    readings differ like that, and give together the offset that the photos find without any face, by the
    reach, they are no two slips.
    """
    found = {check.reading: check for check in checks}
    width, protrusion = found.get("boss_width"), found.get("protrusion")
    offset = around.figures.get("spoke_offset")
    if width is None or protrusion is None or offset is None or around.gauge_length is None:
        return checks
    both = (width, protrusion)
    if any(abs(check.e_n) <= SATISFACTORY for check in both) or width.e_n * protrusion.e_n > 0.0:
        return checks
    by_hand = around.gauge_length - protrusion.stated - width.stated / 2.0
    u = math.hypot(readings["protrusion"].u, readings["boss_width"].u / 2.0, offset.u)
    if abs(by_hand - offset.value) > COVERAGE_FACTOR * u:
        return checks
    return tuple(_face_doubted(check) if check in both else check for check in checks)


def _face_doubted(check: Check) -> Check:
    what = check.reading.replace("_", " ")
    sentence = (
        f"{what}: the caliper reads {check.stated:.2f} mm, the photos {check.photo:.2f} mm; but the readings"
        " of boss width and protrusion give together the offset that the photos show without the faces: the"
        " photos have probably misplaced a face. The offset does not depend on it"
    )
    return check.model_copy(update={"verdict": "doubt", "slip": None, "sentence": sentence})


def check_reading(
    side: SideName, name: str, stated: Reading, photo: Figure, surroundings: Surroundings
) -> Check:
    """Compare one reading with the photo's figure of the same name."""
    photo_expanded = photo.high - photo.value if stated.value > photo.value else photo.value - photo.low
    expanded = COVERAGE_FACTOR * stated.u
    e_n = normalised_error(stated.value, expanded, photo.value, photo_expanded)
    verdict = _verdict(e_n, photo_expanded, MATTERS_MM.get(name, 1.0))
    slip = None
    if verdict in ("doubt", "disagrees"):
        slip = find_slip(name, stated, Reading(photo.value, photo_expanded / COVERAGE_FACTOR), surroundings)
    return Check(
        side=side,
        reading=name,
        stated=stated.value,
        photo=photo.value,
        e_n=e_n,
        verdict=verdict,
        slip=slip,
        sentence=_sentence(
            name,
            stated=stated.value,
            photo=photo.value,
            expanded=photo_expanded,
            verdict=verdict,
            slip=slip,
        ),
    )


def find_slip(name: str, stated: Reading, photo: Reading, surroundings: Surroundings) -> str | None:
    """Return the slip that explains the difference of a reading and the photo's figure, or None.

    Parameters
    ----------
    name : of the figure
    stated, photo : with their standard uncertainties, mm
    surroundings : what else is known

    Notes
    -----
    Errors are taken as normal: without its slip the reading must not be called wrong, and the slip must make
    it `SLIP_ODDS` times likelier than chance does. Where several do nearly as well, all of them are named.
    """
    by_chance = ((stated.value - photo.value) / math.hypot(stated.u, photo.u)) ** 2 / 2.0
    fitting: list[tuple[float, str]] = []
    for candidate in _candidates(name, stated.value, surroundings):
        u = math.hypot(candidate.scale * stated.u, photo.u)
        left = (candidate.corrected - photo.value) / u
        unlikely = left**2 / 2.0 + math.log(candidate.rarity)
        if abs(left) <= DISAGREES * COVERAGE_FACTOR and by_chance - unlikely > math.log(SLIP_ODDS):
            fitting.append((unlikely, candidate.slip))
    if not fitting and name == "flange_diameter":
        low, high = (2.0 * distance for distance in OUTSIDE_OF_BOSS_MM)
        if low <= stated.value - photo.value <= high:
            return "it was measured to the boss's outside rather than to the crossing point"
    fitting.sort()
    limit = math.log(AMBIGUOUS_ODDS)
    return " or ".join(slip for unlikely, slip in fitting if unlikely <= fitting[0][0] + limit) or None


def _verdict(e_n: float, photo_expanded: float, matters: float) -> Verdict:
    if abs(e_n) > DISAGREES:
        return "disagrees"
    if abs(e_n) > SATISFACTORY:
        return "doubt"
    return "agrees" if photo_expanded <= matters else "undecided"


def _sentence(
    name: str, *, stated: float, photo: float, expanded: float, verdict: Verdict, slip: str | None
) -> str:
    what = name.replace("_", " ")
    both = f"{what}: the caliper reads {stated:.2f} mm, the photos {photo:.2f} mm"
    meaning = {
        "agrees": "they agree",
        "undecided": f"they do not contradict each other, but the photos know it only to {expanded:.1f} mm",
        "doubt": "that is more than the uncertainties explain; measure again",
        "disagrees": "they disagree",
    }[verdict]
    if slip is None:
        return f"{both}; {meaning}"
    return f"{both}; {meaning}. {'Perhaps' if verdict == 'doubt' else 'It looks as if'} {slip}"


def _candidates(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Every slip that is possible with this quantity."""
    yield from _number_slips(stated)
    yield from _swapped_sides(name, stated, around)
    if name == "flange_diameter":
        yield _Candidate("the radius was given for the diameter", 2.0 * stated, scale=2.0)
        yield _Candidate("twice the diameter was given", stated / 2.0, 3.0, scale=0.5)
    if name.startswith("boss_width"):
        yield _Candidate("half of the boss width was given", 2.0 * stated, scale=2.0)
    if name.startswith("spoke_offset"):
        yield from _offset_slips(stated, around)
    if name in ("protrusion", "reach"):
        yield from _gauge_slips(name, stated, around)
    if name == "centre_to_flange" and around.over_locknut is not None:
        half = around.over_locknut / 2.0
        given = "the distance from the locknut was given, not subtracted from half the over-locknut"
        yield _Candidate(given, half - stated)
        yield _Candidate("it was subtracted from the whole over-locknut, not from half of it", stated - half)
        yield _Candidate("half of the over-locknut was subtracted once too often", stated + half)


def _number_slips(stated: float) -> Iterator[_Candidate]:
    """Slips in reading or writing a number down."""
    for step, rarity in ((1.0, 2.0), (10.0, 4.0), (5.0, 4.0)):
        for sign in (1.0, -1.0):
            yield _Candidate(f"the reading is off by exactly {step:g} mm", stated + sign * step, rarity)
    text = f"{abs(stated):.2f}"
    places = [index for index, character in enumerate(text) if character.isdigit()]
    for one, other in itertools.pairwise(places):
        if text[one] != text[other]:
            turned = list(text)
            turned[one], turned[other] = turned[other], turned[one]
            corrected = math.copysign(float("".join(turned)), stated)
            if abs(corrected - stated) > 0.1:
                yield _Candidate("two digits were transposed", corrected, 3.0)


def _swapped_sides(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Yield the exchange of the two sides' readings: each fits the other side's figure."""
    own, other = around.figures.get(name), around.other_figures.get(name)
    if own is None or other is None:
        return
    counterpart = around.other_readings.get(name)
    corrected = stated - other.value + own.value
    if counterpart is None:
        yield _Candidate("the readings of the two sides were swapped", corrected, 2.0)
    elif abs(counterpart.value - own.value) < abs(counterpart.value - other.value):
        yield _Candidate("the readings of the two sides were swapped", corrected, 0.5)


def _offset_slips(stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Slips on the way from gauge, protrusion and boss width to the offset."""
    if around.gauge_length is not None and abs(around.gauge_length - NOMINAL_GAUGE_MM) > 0.1:
        yield _Candidate(
            f"a gauge length of 100 mm was assumed; it is {around.gauge_length:.2f} mm",
            stated + around.gauge_length - NOMINAL_GAUGE_MM,
        )
    width = around.figures.get("boss_width")
    if width is not None:
        W = width.value
        yield _Candidate("the half width was not subtracted", stated - W / 2.0)
        yield _Candidate("the whole boss width was subtracted, not half of it", stated + W / 2.0)
        yield _Candidate("the protrusion was read from the boss's other face", stated + W)
        for name in ("boss_width", "boss_width_across"):
            used = around.readings.get(name)
            if used is not None:
                what = "another width" if name == "boss_width" else "the width across the boss"
                shift = (used.value - W) / 2.0
                yield _Candidate(f"the half width was taken from {what}", stated + shift)
    yield _Candidate("the sign is the wrong way round", -stated, 2.0)


def _gauge_slips(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Slips in reading how far the gauge sticks out."""
    width = around.figures.get("boss_width")
    if name == "protrusion" and width is not None:
        yield _Candidate("it was read from the boss's other face", stated - width.value)
    protrusion, reach = around.figures.get("protrusion"), around.figures.get("reach")
    if protrusion is not None and reach is not None:
        inside = reach.value - protrusion.value
        if name == "reach":
            yield _Candidate("it was read from the boss's face, not from the crossing point", stated + inside)
        else:
            yield _Candidate("it was read from the crossing point, not from the boss's face", stated - inside)
