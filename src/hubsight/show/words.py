"""What figures, sides and findings are called wherever a person reads them: screen, page and report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from hubsight.job.document import MeasuredSide
from hubsight.model.figure import Figure

Name = TypeVar("Name", bound=str)


def found_words(side: MeasuredSide) -> str:
    """Say what was found on a side, and in how many of the photos that were given; nothing if refused."""
    found = side.measurement
    if found is None:
        return ""
    shape = "radial bores" if found.kind == "radial" else "bosses"
    crosses = "crosses not readable"
    if found.crosses is not None:
        crosses = f"drilled for {lacing_words(found.kind, found.crosses)}"
    used = sum(photo.used for photo in found.photos)
    return f"{found.boss_count} {shape}, {crosses}; {used} of {len(side.photos)} photos used"


def lacing_words(kind: str, crosses: int) -> str:
    """Say how a side is laced; ``kind`` as of a `SideGeometry`.

    The two spokes of a boss cross inside it, and are not radial even if they cross no other spoke.
    """
    if kind != "paired" and crosses == 0:
        return "radial spokes"
    return f"{crosses} cross" if crosses == 1 else f"{crosses or 'no'} crosses"


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
