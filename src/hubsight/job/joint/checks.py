"""Caliper readings beside the photos' figures, in the light of all readings together."""

from __future__ import annotations

from collections.abc import Sequence

from hubsight.model.joint import JointTest
from hubsight.model.result import Check


def cleared(checks: Sequence[Check], test: JointTest | None) -> tuple[Check, ...]:
    """Return the checks; readings that the likeliest explanation of a job clears are accused no more.

    Parameters
    ----------
    checks
        Each reading against the figure of its name.
    test
        Of the whole job; None leaves the checks as they are.
    """
    if test is None or test.best is None:
        return tuple(checks)
    return tuple(_cleared(one, test) if _path(one) in test.exonerated else one for one in checks)


def _path(check: Check) -> str:
    """Return a reading's path."""
    if check.reading == "over_locknut":
        return "hub.over_locknut"
    return f"{check.side}.caliper.{check.reading}"


def _cleared(check: Check, test: JointTest) -> Check:
    if check.verdict not in ("doubt", "disagrees") or test.best is None:
        return check
    what = check.reading.replace("_", " ").replace("over locknut", "over-locknut")
    sentence = (
        f"{what}: the caliper reads {check.stated:.2f} mm, the photos {check.photo:.2f} mm; by all readings "
        f"together the reading is right, and {test.best.sentence}"
    )
    return check.model_copy(update={"verdict": "undecided", "slip": None, "sentence": sentence})
