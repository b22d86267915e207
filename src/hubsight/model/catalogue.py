"""The catalogue of figures: what each is called, where it is shown, and what compares with it.

A new figure has its entry here, is computed somewhere, and has a test: nothing else names figures one by one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from hubsight.model.stated import SetName, SideName

FigureName = Literal[
    "spoke_offset",
    "flange_diameter",
    "centre_to_flange",
    "boss_width",
    "boss_width_across",
    "protrusion",
    "reach",
    "spoke_offset_by_width",
    "flange_height",
    "over_locknut",
]
"""Figures of one side; `FIGURES` has an entry for each."""
HubFigureName = Literal["over_locknut", "centre_to_flange_ds", "centre_to_flange_nds"]
"""Figures of the whole hub."""
Owner = Literal["side", "hub", "wheel"]

SIDE_WORDS: dict[SideName, str] = {"drive": "Drive side", "non_drive": "Non-drive side"}
"""What the sides are called, at the start of a sentence."""
SET_WORDS: dict[SetName, str] = {
    "drive": SIDE_WORDS["drive"],
    "non_drive": SIDE_WORDS["non_drive"],
    "lying": "Lying hub",
}
"""What photo sets are called there."""
CENTRE: dict[SideName, HubFigureName] = {
    "drive": "centre_to_flange_ds",
    "non_drive": "centre_to_flange_nds",
}
"""What a side's centre to flange is called among the figures of the whole hub."""


@dataclass(frozen=True)
class FigureEntry:
    """What is known of a figure beforehand; all are lengths in mm.

    Attributes
    ----------
    name, words
        In documents, and wherever a person reads it.
    owner
        Whose it is.
    on_drawing
        Words on a drawing, where there is little room; empty if it is not dimensioned.
    matters
        Error that changes a spoke length by 0.1 to 0.5 mm: agreement of a reading with a photo's figure known
        no better than this says nothing.
    astray
        How far it may be off when something was misread: largest errors under a warning on rendered hubs.
    settle
        What settles a doubt about it; begins with a verb.
    main
        Whether the spoke length rests on it: shown before the others, in bold.
    budgeted
        Whether the report shows what its uncertainty consists of.
    typed
        Whether the page asks for a caliper reading of it.
    combined
        Whether it is the same in repeated photo sets with the gauge in another boss or bore.
    scatter_told
        Whether the scatter over repeated sets is told even if it is as expected.
    shelf_about
        How far a figure on the shelf may be from the number looked for; None if the shelf does not keep it.
    listed
        Whether the list of hubs shows it.
    asked_for
        Further words by which the shelf finds it.
    """

    name: str
    words: str
    owner: Owner = "side"
    on_drawing: str = ""
    matters: float = 1.0
    astray: float = 0.0
    settle: str = "Photograph the side again"
    main: bool = False
    budgeted: bool = False
    typed: bool = False
    combined: bool = True
    scatter_told: bool = False
    shelf_about: float | None = None
    listed: bool = False
    asked_for: tuple[str, ...] = ()


FIGURES: tuple[FigureEntry, ...] = (
    FigureEntry(
        "spoke_offset",
        "spoke offset",
        on_drawing="spoke offset",
        matters=0.5,
        astray=1.5,
        settle="Read protrusion and boss width with a caliper, or photograph the side again",
        main=True,
        budgeted=True,
        scatter_told=True,
        shelf_about=0.3,
        listed=True,
        asked_for=("offset", "o"),
    ),
    FigureEntry(
        "flange_diameter",
        "flange diameter",
        on_drawing="flange diameter ⌀",
        matters=1.5,
        astray=3.0,
        settle="Read the flange diameter with a caliper",
        main=True,
        budgeted=True,
        typed=True,
        scatter_told=True,
        shelf_about=1.0,
        listed=True,
        asked_for=("diameter", "d"),
    ),
    FigureEntry(
        "centre_to_flange",
        "centre to flange",
        on_drawing="centre to flange",
        matters=2.0,
        astray=4.0,
        settle="Read over-locknut and centre to flange with a caliper, or photograph the hub lying",
        main=True,
        shelf_about=1.0,
        listed=True,
        asked_for=("w",),
    ),
    FigureEntry(
        "boss_width",
        "boss width",
        on_drawing="boss width",
        budgeted=True,
        typed=True,
        shelf_about=0.5,
        listed=True,
        asked_for=("width",),
    ),
    FigureEntry("boss_width_across", "boss width across", typed=True),
    FigureEntry(
        "protrusion",
        "protrusion",
        on_drawing="protrusion",
        matters=0.5,
        budgeted=True,
        typed=True,
        combined=False,
        shelf_about=1.0,
    ),
    FigureEntry("reach", "reach", on_drawing="reach", matters=0.5, combined=False),
    FigureEntry("spoke_offset_by_width", "offset by width (check)", matters=0.5),
    FigureEntry(
        "flange_height", "flange height", matters=2.0, budgeted=True, shelf_about=1.0, asked_for=("height",)
    ),
    FigureEntry("over_locknut", "over-locknut", on_drawing="over-locknut", matters=4.0),
    FigureEntry("over_locknut", "over-locknut", owner="hub", on_drawing="over-locknut", matters=4.0),
    FigureEntry(
        "centre_to_flange_ds",
        "centre to flange, drive side",
        owner="hub",
        on_drawing="to flange",
        matters=2.0,
        main=True,
    ),
    FigureEntry(
        "centre_to_flange_nds",
        "centre to flange, non-drive side",
        owner="hub",
        on_drawing="to flange",
        matters=2.0,
        main=True,
    ),
    FigureEntry("spoke_length", "spoke length", owner="wheel", shelf_about=1.0, asked_for=("length",)),
)
"""In the order in which they are shown."""

OF_SIDE: dict[FigureName, FigureEntry] = {e.name: e for e in FIGURES if e.owner == "side"}  # type: ignore[misc]
"""A side's figures by name, in order."""
OF_HUB: dict[HubFigureName, FigureEntry] = {e.name: e for e in FIGURES if e.owner == "hub"}  # type: ignore[misc]
"""The whole hub's figures by name, in order."""
ON_SHELF: dict[str, FigureEntry] = {e.name: e for e in FIGURES if e.shelf_about is not None}
"""Figures that the shelf keeps, by name."""

_BY_NAME = {entry.name: entry for entry in FIGURES}
"""All figures by name."""


def entry_of(name: str) -> FigureEntry:
    """Return the entry of a figure; one that is both a side's and the hub's has the same.

    Raises
    ------
    KeyError
        If the catalogue does not know it.
    """
    return _BY_NAME[name]


def figure_words(name: str) -> str:
    """Return what a figure, or a reading's field in the job file, is called in a sentence."""
    known = _BY_NAME.get(name)
    return name.replace("_", " ") if known is None else known.words
