"""The order sheet: one page to order from, apart from the evidence."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hubsight.model.cautions import CAUTIONS
from hubsight.record.current import out_of_date
from hubsight.record.model import Record
from hubsight.show.nipple_view import LengthPicture, length_pictures
from hubsight.show.view import JobView, job_view


@dataclass(frozen=True)
class OrderContent:
    """What the order sheet shows: the job as every place shows it, and its lengths as pictures."""

    record: Record
    title: str
    job: JobView
    pictures: tuple[LengthPicture, ...]
    cautions: tuple[str, ...]
    out_of_date: tuple[str, ...] = ()


def order_content(record: Record, folder: Path | None = None) -> OrderContent:
    """Gather what the order sheet of a record shows; with the job folder also what was changed since."""
    stale = () if folder is None else out_of_date(record, folder)
    view = job_view(record.measurement)
    pictures = tuple(picture for side in view.sides for picture in length_pictures(side))
    return OrderContent(record, record.label.hub or record.job, view, pictures, CAUTIONS, stale)
