"""The one verdict on a side, a hub or a job: order, check or stop, and why."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from hubsight.model.frozen import Frozen

Severity = Literal["note", "check", "stop"]
"""``note``: the order does not hang on it. ``check``: one named reading or photo settles it. ``stop``:
figures contradict each other."""
VerdictWord = Literal["order", "check", "stop"]

_WORDS: dict[Severity, VerdictWord] = {"note": "order", "check": "check", "stop": "stop"}
"""What a verdict says for its gravest reason, the least grave first."""


class Reason(Frozen):
    """Why a verdict is what it is.

    Attributes
    ----------
    sentence
        What contradicts what, and by how much.
    remedy
        What would settle it; begins with a verb.
    about
        What it is about, as a path: ``drive.spoke_offset`` (a figure), ``target.bar_x`` (a statement, by its
        field in the job file), ``drive.photos.IMG_1.jpg`` (a photo).
    severity
        How it bears on the order.
    """

    sentence: str
    remedy: str
    about: str
    severity: Severity


class Verdict(Frozen):
    """One word on an order, with every reason for it, the gravest first."""

    word: VerdictWord
    reasons: tuple[Reason, ...] = ()

    @classmethod
    def of(cls, reasons: Iterable[Reason]) -> Verdict:
        """Return the verdict that reasons lead to; each sentence counts once."""
        once = {reason.sentence: reason for reason in reasons}
        ordered = sorted(once.values(), key=lambda reason: -list(_WORDS).index(reason.severity))
        return cls(word=_WORDS[ordered[0].severity] if ordered else "order", reasons=tuple(ordered))


NOT_JUDGED = Verdict.of(
    [Reason(sentence="this was not judged", remedy="Measure the job again", about="job", severity="check")]
)
"""Verdict of what nobody has judged: never an order."""
