"""The live drawing of a job: dimensioned sections, and what lies folded behind their figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from markupsafe import Markup

from hubsight.model.stated import SideName
from hubsight.page.state import JobState
from hubsight.show.budgets import Budget, side_budgets
from hubsight.show.drawing import boss_detail, face_view
from hubsight.show.nipple_view import LengthPicture, length_pictures
from hubsight.show.side_view import side_view
from hubsight.show.strips import Strip, side_strips
from hubsight.show.view import SideView

LETTERS = 1.45
"""Size of a drawing's words against that of the report: a column of the page is half as wide as paper."""


@dataclass(frozen=True)
class LiveSide:
    """A side's drawings, its budgets and how its photos agree; None and nothing where it is not measured."""

    face: Markup | None
    detail: Markup | None
    budgets: tuple[Budget, ...]
    strips: tuple[Strip, ...]


class Live:
    """Drawings of one job, made when a template asks for them."""

    def __init__(self, state: JobState) -> None:
        self._state = state

    def side(self, name: SideName) -> LiveSide:
        """Return what is drawn of a side."""
        measured = self._state.measured_side(name)
        if measured is None or measured.measurement is None:
            return LiveSide(None, None, (), ())
        found = measured.measurement
        drawn = face_view(found, LETTERS), boss_detail(found)
        return LiveSide(*drawn, side_budgets(measured), side_strips(found))

    @staticmethod
    def lengths(view: SideView | None) -> tuple[LengthPicture, ...]:
        """Return a side's choices of a length as pictures."""
        return () if view is None else length_pictures(view)

    @cached_property
    def hub(self) -> Markup | None:
        """The hub from the side."""
        outcome = self._state.outcome
        return None if outcome is None or outcome.measured is None else side_view(outcome.measured, LETTERS)
