"""What each photo says of what the figures hang on, and how the figures move without it."""

from __future__ import annotations

from typing import Literal

from hubsight.model.catalogue import FigureName
from hubsight.model.corrections import MarkKind
from hubsight.model.frozen import Frozen

Feature = Literal[
    "gauge_end",
    "gauge_axis",
    "tip",
    "bosses",
    "boss_centreline",
    "boss_left_face",
    "boss_right_face",
    "bore_mouth",
    "end_face",
]
FEATURE_WORDS: dict[Feature, str] = {
    "gauge_end": "the gauge's end",
    "gauge_axis": "the gauge's axis",
    "tip": "what is on the gauge's end",
    "bosses": "the bosses",
    "boss_centreline": "the boss centreline",
    "boss_left_face": "the bosses' left faces",
    "boss_right_face": "the bosses' right faces",
    "bore_mouth": "the mouth of the bore",
    "end_face": "the upper end face",
}
"""What the features are called."""
FIGURES_ON: dict[Feature, tuple[FigureName, ...]] = {
    "gauge_end": ("spoke_offset", "spoke_offset_by_width", "reach", "protrusion"),
    "tip": ("spoke_offset", "spoke_offset_by_width", "reach", "protrusion"),
    "gauge_axis": ("flange_diameter", "spoke_offset", "reach", "protrusion"),
    "bosses": ("flange_diameter", "spoke_offset", "reach", "protrusion"),
    "boss_centreline": ("spoke_offset", "reach", "flange_diameter"),
    "boss_left_face": ("boss_width", "boss_width_across", "protrusion", "spoke_offset_by_width"),
    "boss_right_face": ("boss_width", "boss_width_across", "protrusion", "spoke_offset_by_width"),
    "bore_mouth": ("boss_width", "boss_width_across", "protrusion", "spoke_offset_by_width"),
    "end_face": ("over_locknut", "centre_to_flange"),
}
"""Figures that hang on a feature."""


class Opinion(Frozen):
    """What one photo, or one boss over all photos, says of a feature.

    Attributes
    ----------
    photo
        Its file; empty where a boss speaks.
    boss
        Its number from 0, anticlockwise; None where a photo speaks.
    value, u
        How far from where all together put it, and the standard uncertainty, mm. Of a tip the strength of a
        nipple's edges, 1 for as strong as the wire's.
    against
        Normalised residual against all others, in standard deviations.
    odd
        Whether it goes with none of those that agree.
    by_hand
        Whether a person placed it.
    """

    photo: str = ""
    boss: int | None = None
    value: float
    u: float
    against: float = 0.0
    odd: bool = False
    by_hand: bool = False


class Agreement(Frozen):
    """How photos, or bosses, agree on one feature.

    Attributes
    ----------
    gauge
        Of features of a gauge its number from 0.
    figures
        The figures that hang on it.
    chi2, freedom
        Sum of squared normalised departures from their mean, and its degrees of freedom.
    """

    feature: Feature
    words: str
    gauge: int | None = None
    figures: tuple[str, ...] = ()
    opinions: tuple[Opinion, ...]
    chi2: float
    freedom: int

    @property
    def odd(self) -> tuple[Opinion, ...]:
        """Those that go with none of the rest."""
        return tuple(o for o in self.opinions if o.odd)


class RunnerUp(Frozen):
    """Another place of a gauge's end that photos support.

    Attributes
    ----------
    gauge
        Its number from 0.
    beyond
        How far beyond the end that was taken, mm; negative if nearer to the hub.
    share
        Its support against that of the end that was taken, 1 for the same.
    photos, others
        The photos that show it, and those that show the end that was taken.
    """

    gauge: int
    beyond: float
    share: float
    photos: tuple[str, ...]
    others: tuple[str, ...]


class WithoutPhoto(Frozen):
    """A figure without one photo.

    Attributes
    ----------
    value
        Of the figure, mm; None where the other photos give none.
    moved
        Against all photos, mm.
    expected
        Standard deviation of that difference, by the uncertainties with and without the photo, mm.
    """

    figure: str
    photo: str
    value: float | None
    moved: float = 0.0
    expected: float = 0.0


class Question(Frozen):
    """Which is right, a mark by hand or the photos that it contradicts.

    Attributes
    ----------
    photo, mark, index
        The mark's photo, what it is of, and its gauge or boss; see `hubsight.model.corrections.Answer`.
    sigmas
        How far the mark lies from what the photos show, in standard deviations of the difference.
    figure, by_mark, by_photos
        The figure that hangs on it, mm, if either is right; None where it makes none.
    photos
        The other photos, which say otherwise.
    """

    photo: str
    mark: MarkKind
    index: int
    sigmas: float
    figure: str
    by_mark: float | None
    by_photos: float | None
    photos: tuple[str, ...] = ()


class PhotosAgree(Frozen):
    """All that is known of how the photos of a side agree, with each other and with marks by hand."""

    features: tuple[Agreement, ...] = ()
    without: tuple[WithoutPhoto, ...] = ()
    runners_up: tuple[RunnerUp, ...] = ()
    questions: tuple[Question, ...] = ()
