"""The history of a job's corrections: what was changed can be taken back and done again."""

from __future__ import annotations

from typing import Literal

from hubsight.job.file.corrections import JobCorrections
from hubsight.model.corrections import Corrections
from hubsight.model.frozen import Frozen
from hubsight.model.stated import SetName

MOST = 200
"""Changes that are kept; raising it lets more be taken back, and the file grow."""


class Change(Frozen):
    """One change of a side's corrections."""

    side: SetName
    before: Corrections
    after: Corrections


class History(Frozen):
    """Changes that can be taken back, the last one at the end; and those that were, to be done again."""

    schema_version: Literal[1] = 1
    done: tuple[Change, ...] = ()
    undone: tuple[Change, ...] = ()

    def with_change(self, change: Change) -> History:
        """Return the history with one change more; what was taken back before cannot be done again."""
        return History(done=(*self.done, change)[-MOST:])

    def last(self, now: JobCorrections) -> Change | None:
        """Return the change that would be taken back; None where somebody else changed its marks since."""
        change = self.done[-1] if self.done else None
        return change if change is not None and now.of(change.side) == change.after else None

    def next(self, now: JobCorrections) -> Change | None:
        """Return the change that would be done again; None where somebody else changed its marks since."""
        change = self.undone[-1] if self.undone else None
        return change if change is not None and now.of(change.side) == change.before else None

    def taken_back(self) -> History:
        """Return the history after the last change was taken back."""
        return History(done=self.done[:-1], undone=(*self.undone, self.done[-1]))

    def done_again(self) -> History:
        """Return the history after the change taken back last was done again."""
        return History(done=(*self.done, self.undone[-1]), undone=self.undone[:-1])

    def without_photo(self, side: SetName, file: str) -> History:
        """Return the history without a photo that was taken out of the job."""
        return History(
            done=_without(self.done, side, file),
            undone=_without(self.undone, side, file),
        )


def _without(changes: tuple[Change, ...], side: SetName, file: str) -> tuple[Change, ...]:
    kept = []
    for change in changes:
        if change.side == side:
            before, after = (c.without_photo(file) for c in (change.before, change.after))
            change = Change(side=side, before=before, after=after)  # noqa: PLW2901 - the same without the photo
        if change.before != change.after:
            kept.append(change)
    return tuple(kept)
