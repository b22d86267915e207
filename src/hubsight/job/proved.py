"""What the kit's proofs say of a job's phone and sheet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from hubsight.job.file.load import Job
from hubsight.job.file.photos_say import read_headers
from hubsight.kit.proofs import proofs_for
from hubsight.kit.store import Kit
from hubsight.model.verdict import Reason


@dataclass(frozen=True)
class Proved:
    """Paths of what a proof confirms, as `hubsight.job.confirmed.unconfirmed` takes them, and its reason."""

    paths: Collection[str] = ()
    reasons: tuple[Reason, ...] = ()


def proved(job: Job) -> Proved:
    """Return what the newest proof with a job's camera, on its sheet of the kit, says.

    Photos of more than one camera are not proved: the proof was made with one.
    """
    sheet = next((used.name for used in job.kit if used.kind == "target"), None)
    headers = [] if sheet is None else read_headers([p for s in job.sides for p in s.stated.photos])
    if sheet is None or not headers:
        return Proved()
    kit = Kit.beside(job.folder)
    found = [proofs_for(header.signature, sheet, kit)[:1] for header in headers]
    if not found[0] or any(one != found[0] for one in found) or not found[0][0].same_print(job.target):
        return Proved()
    newest = found[0][0]
    if newest.word == "agrees":
        sentence = newest.sentence(min((h.day for h in headers if h.day), default=None))
        remedy = "Prove it again once phone or sheet are others"
        return Proved(
            {"target", "photos"},
            (Reason(sentence=sentence, remedy=remedy, about="target", severity="note"),),
        )
    if newest.word == "undecided":
        return Proved()
    sentence = (
        f"the last proof with this phone and this sheet was {newest.difference:+.2f} mm off the caliper, "
        "more than both allow for"
    )
    remedy = "Measure both check bars of this sheet again, three times each, and prove it once more"
    return Proved((), (Reason(sentence=sentence, remedy=remedy, about="target", severity="check"),))
