"""The order sheet: one page to order from, apart from the evidence."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from hubsight.model.cautions import CAUTIONS
from hubsight.record.model import Record
from hubsight.show.nipple_view import nipple_view
from hubsight.show.view import JobView, SideView, job_view


@dataclass(frozen=True)
class LengthPicture:
    """A choice of lengths: for which spokes, the picture, and how sure it is."""

    title: str
    picture: Markup
    sentence: str


@dataclass(frozen=True)
class OrderContent:
    """What the order sheet shows: the job as every place shows it, and its lengths as pictures."""

    record: Record
    title: str
    job: JobView
    pictures: tuple[LengthPicture, ...]
    cautions: tuple[str, ...]


def order_content(record: Record) -> OrderContent:
    """Gather what the order sheet of a record shows."""
    view = job_view(record.measurement)
    pictures = tuple(picture for side in view.sides for picture in length_pictures(side))
    return OrderContent(record, record.label.hub or record.job, view, pictures, CAUTIONS)


def length_pictures(side: SideView) -> tuple[LengthPicture, ...]:
    """Return a side's choices of a length as pictures; none where the verdict is to stop."""
    order = None if side.lengths is None else side.lengths.order
    if order is None:
        return ()
    return tuple(
        LengthPicture(
            f"{side.title}, {choice.count} spokes", nipple_view(order, choice.choice), choice.sentence
        )
        for choice in side.choices
    )
