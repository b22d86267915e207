"""What figures, sides and findings are called wherever a person reads them: screen, page and report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from hubsight.figures import Figure
from hubsight.job.document import MeasuredSide
from hubsight.measurement import FigureName

Name = TypeVar("Name", bound=str)

FIGURE_WORDS: dict[FigureName, str] = {
    "flange_diameter": "flange diameter",
    "boss_width": "boss width",
    "boss_width_across": "boss width across",
    "spoke_offset": "spoke offset",
    "spoke_offset_by_width": "offset by width (check)",
    "protrusion": "protrusion",
    "reach": "reach",
    "flange_height": "flange height",
    "centre_to_flange": "centre to flange",
    "over_locknut": "over-locknut",
}
SIDE_WORDS = {"drive": "Drive side", "non_drive": "Non-drive side"}

CAUTIONS = (
    "Wear eye protection when cutting and tensioning spokes; cut ends are sharp.",
    "Keep to the makers' limits on tension and lacing of hub, rim, spokes and nipples.",
    "Measure a second time before ordering, and have the finished wheel checked by a qualified mechanic.",
)


def found_words(side: MeasuredSide) -> str:
    """Say what was found on a side, and in how many of the photos that were given; nothing if refused."""
    found = side.measurement
    if found is None:
        return ""
    shape = "radial bores" if found.kind == "radial" else "bosses"
    crosses = {None: "crosses not readable", 0: "drilled for radial spokes"}.get(
        found.crosses, f"drilled for {found.crosses} crosses"
    )
    used = sum(photo.used for photo in found.photos)
    return f"{found.boss_count} {shape}, {crosses}; {used} of {len(side.photos)} photos used"


def warnings_once(
    general: Iterable[str], figures: Mapping[Name, Figure], words: Mapping[Name, str]
) -> list[str]:
    """Return general warnings and those of figures, every sentence once.

    Parameters
    ----------
    general
        Of the side or the hub as a whole. One that figures repeat stands for them: the figures are marked.
    figures, words
        By name; what each is called.

    Returns
    -------
    list of str
        A sentence that only figures carry begins with their names.
    """
    return [*dict.fromkeys(general), *_of_figures(general, figures, words, "warnings")]


def reasons_once(figures: Mapping[Name, Figure], words: Mapping[Name, str]) -> list[str]:
    """Return why figures are not better known, every sentence once, behind the figures' names."""
    return _of_figures((), figures, words, "reasons")


def _of_figures(
    said: Iterable[str], figures: Mapping[Name, Figure], words: Mapping[Name, str], which: str
) -> list[str]:
    carriers: dict[str, list[str]] = {}
    for name, figure in figures.items():
        for sentence in dict.fromkeys(getattr(figure, which)):
            carriers.setdefault(sentence, []).append(words[name])
    known = set(said)
    return [f"{_names(names)}: {sentence}" for sentence, names in carriers.items() if sentence not in known]


def _names(names: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
