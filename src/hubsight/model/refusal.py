"""A failure as a value: why something could not be done, where, and what to do."""

from __future__ import annotations

from typing import Literal

from hubsight.model.frozen import Frozen


def begins_with_verb(reason: str) -> bool:
    """Tell whether a reason begins with its verb ("is no photo"), so that the photo is its subject."""
    return reason.split(" ", 1)[0] in ("is", "has", "does", "holds", "cannot", "was")


class Refusal(Frozen):
    """Why something could not be measured, where, and what to do. Falsy, so that callers can test it.

    Attributes
    ----------
    about
        The statement to blame, as the verdict's reasons name it; None where it is the photos.
    """

    reason: str
    remedy: str
    photo: str | None = None
    about: str | None = None

    def __bool__(self) -> Literal[False]:
        """Return False."""
        return False

    def sentence(self) -> str:
        """Return one sentence for the user: where, what is wrong, what to do."""
        if self.photo is None:
            return f"{self.reason}. {self.remedy}"
        joined = " " if begins_with_verb(self.reason) else ": "
        return f"{self.photo}{joined}{self.reason}. {self.remedy}"
