"""Double check: each caliper reading against the photo's figure, and the slip that explains a difference.

Compared by the normalised error of ISO/IEC 17043 and ISO 13528, E_n = (x - X) / sqrt(U^2 + U_ref^2) with
expanded uncertainties of 95 %; satisfactory at |E_n| <= 1. Like is compared with like: a reading is only ever
compared with the figure of the same name. Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from hubsight.job.slips import Surroundings, find_slip
from hubsight.model.catalogue import entry_of, figure_words
from hubsight.model.figure import Figure
from hubsight.model.result import Agreement, Check
from hubsight.model.stated import Reading, SideName
from hubsight.model.uncertainty import AGREES_E_N, CONTRADICTS_E_N, COVERAGE_FACTOR, normalised_error


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
    if any(abs(check.e_n) <= AGREES_E_N for check in both) or width.e_n * protrusion.e_n > 0.0:
        return checks
    by_hand = around.gauge_length - protrusion.stated - width.stated / 2.0
    u = math.hypot(readings["protrusion"].u, readings["boss_width"].u / 2.0, offset.u)
    if abs(by_hand - offset.value) > COVERAGE_FACTOR * u:
        return checks
    return tuple(_face_doubted(check) if check in both else check for check in checks)


def _face_doubted(check: Check) -> Check:
    what = figure_words(check.reading)
    sentence = (
        f"{what}: the caliper reads {check.stated:.2f} mm, the photos {check.photo:.2f} mm; but the readings"
        " of boss width and protrusion give together the offset that the photos show without the faces: the"
        " photos have probably misplaced a face. The offset does not depend on it"
    )
    return check.model_copy(update={"verdict": "doubt", "slip": None, "sentence": sentence})


def check_reading(
    side: SideName, name: str, stated: Reading, photo: Figure, surroundings: Surroundings
) -> Check:
    """Compare one reading with the photo's figure of the same name.

    A figure that carries a warning cannot call a reading wrong: its interval does not claim to hold.
    """
    photo_expanded = photo.high - photo.value if stated.value > photo.value else photo.value - photo.low
    expanded = COVERAGE_FACTOR * stated.u
    e_n = normalised_error(stated.value, expanded, photo.value, photo_expanded)
    verdict = _verdict(e_n, photo_expanded, entry_of(name).matters)
    if verdict == "disagrees" and photo.warnings:
        verdict = "doubt"
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
            warned=bool(photo.warnings),
        ),
    )


def _verdict(e_n: float, photo_expanded: float, matters: float) -> Agreement:
    if abs(e_n) > CONTRADICTS_E_N:
        return "disagrees"
    if abs(e_n) > AGREES_E_N:
        return "doubt"
    return "agrees" if photo_expanded <= matters else "undecided"


def _sentence(
    name: str,
    *,
    stated: float,
    photo: float,
    expanded: float,
    verdict: Agreement,
    slip: str | None,
    warned: bool,
) -> str:
    what = figure_words(name)
    both = f"{what}: the caliper reads {stated:.2f} mm, the photos {photo:.2f} mm"
    meaning = {
        "agrees": "they agree",
        "undecided": f"they do not contradict each other, but the photos know it only to {expanded:.1f} mm",
        "doubt": "that is more than the uncertainties explain; measure again",
        "disagrees": "they disagree",
    }[verdict]
    if warned and verdict == "doubt":
        meaning += "; the photos' figure has a warning of its own, and may be what is wrong"
    if slip is None:
        return f"{both}; {meaning}"
    return f"{both}; {meaning}. {'Perhaps' if verdict == 'doubt' else 'It looks as if'} {slip}"
