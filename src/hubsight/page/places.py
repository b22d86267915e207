"""What can be placed by hand in a photo beside the gauges."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from hubsight.model.corrections import Edge
from hubsight.page.state import JobState, PhotoState
from hubsight.page.view import LYING_EDGES, is_lying, lying_words
from hubsight.show.turned import displayed_evidence


class Place(BaseModel):
    """Something to be placed.

    Attributes
    ----------
    id, name
        Of the choice.
    group
        Label of its handles afterwards.
    tap
        Where to tap, for a turned edge; empty for bosses.
    what, number
        Of a turned edge, see `hubsight.page.view.Handle`.
    least
        Points of a turned edge that are needed.
    """

    model_config = ConfigDict(frozen=True)

    id: str
    name: str
    group: str
    tap: str = ""
    what: Edge | None = None
    number: int = 0
    least: int = 1


BOSSES = Place(id="bosses", name="the bosses", group="bosses placed by hand")
"""Where the bosses are placed."""
RIM = Place(
    id="rim",
    name="the flange's rim (radial hub)",
    group="flange's rim",
    tap="the upper outer edge of the flange",
    what="rim",
    least=4,
)
"""Where the rim of a radial flange is placed."""
END_FACE = Place(
    id="end_face",
    name="the end face",
    group="end face",
    tap="the outer edge of the upper end face",
    what="end_face",
    least=3,
)
"""Where the upper end face is placed."""
TAPS: dict[Edge, str] = {
    "end_face": "the edge of this end face, beside the axis",
    "flange": "the middle of this flange's rim, beside the axis",
}
"""What is tapped on a lying hub."""


def places_in(state: JobState, photo: PhotoState) -> tuple[Place, ...]:
    """Return what can be placed in a photo: flange and end face, or what is seen of a lying hub."""
    side = photo.file.side
    if side == "lying":
        return _lying(state, photo)
    measured = state.measured_side(side)
    found = None if measured is None else measured.measurement
    flange = (BOSSES, RIM) if found is None else (RIM,) if found.kind == "radial" else (BOSSES,)
    return (*flange, END_FACE)


def _lying(state: JobState, photo: PhotoState) -> tuple[Place, ...]:
    evidence = state.evidence(photo)
    if evidence is None or photo.shown is None or not is_lying(evidence):
        return ()
    words = lying_words(displayed_evidence(evidence, photo.shown.orientation))
    return tuple(
        Place(
            id=f"{kind}-{number}",
            name=f"the {name}",
            group=name,
            tap=TAPS[LYING_EDGES[kind]],
            what=LYING_EDGES[kind],
            number=number,
        )
        for (kind, number), name in words.items()
    )
