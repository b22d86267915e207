"""How photos agree, as small strips: one line a photo, its opinion and what it may be off by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from hubsight.model.agreement import Agreement, PhotosAgree
from hubsight.model.catalogue import OF_SIDE
from hubsight.model.side import SideMeasurement
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.show.vector import Frame, line_mark, round_step, text_mark

FRAME = Frame(width=300.0, left=96.0, right=0.0, top=6.0, row=15.0)
"""Room of a strip, drawing units; its labels stand on the left."""
LONGEST_LABEL = 16
"""Letters of a photo's name; a longer one loses its beginning."""


@dataclass(frozen=True)
class StripRow:
    """One photo's, or one boss', line: its value and standard uncertainty, and whether it stands out."""

    label: str
    value: float
    u: float
    odd: bool = False


@dataclass(frozen=True)
class Strip:
    """One strip; values are mm from where all together put it, at 0."""

    title: str
    said: str
    rows: tuple[StripRow, ...]

    @property
    def odd(self) -> bool:
        """Whether any line stands out."""
        return any(row.odd for row in self.rows)

    def svg(self) -> Markup:
        """Return the strip as a picture."""
        return _svg(self)


def side_strips(side: SideMeasurement) -> tuple[Strip, ...]:
    """Return a side's strips: main figures without each photo, then each feature by photo; odd ones first."""
    strips = [*_without_each(side), *_features(side.agreement)]
    return tuple(sorted(strips, key=lambda strip: not strip.odd))


def _without_each(side: SideMeasurement) -> Iterable[Strip]:
    for name, entry in OF_SIDE.items():
        own = [w for w in side.agreement.without if w.figure == name and w.value is not None]
        if entry.budgeted and own:
            rows = tuple(StripRow(f"no {_short(w.photo)}", w.moved, w.expected) for w in own)
            figure = side.figures.get(name)
            at = "" if figure is None else f"; 0 is {figure.value:.2f} mm"
            yield Strip(f"{entry.words}, without each photo", f"mm it moves by{at}", rows)


def _features(agreement: PhotosAgree) -> Iterable[Strip]:
    for feature in agreement.features:
        if feature.feature == "tip":
            continue
        rows = tuple(StripRow(_label(o.photo, o.boss), o.value, o.u, o.odd) for o in feature.opinions)
        yield Strip(f"{_named(feature)}", "mm from where all together put it", rows)


def _named(feature: Agreement) -> str:
    by = "by boss" if feature.opinions[0].boss is not None else "by photo"
    return f"{feature.words}, {by}"


def _label(photo: str, boss: int | None) -> str:
    return _short(photo) if boss is None else f"boss {boss + 1}"


def _short(photo: str) -> str:
    stem = Path(photo).stem
    return stem if len(stem) <= LONGEST_LABEL else f"…{stem[1 - LONGEST_LABEL :]}"


def _svg(strip: Strip) -> Markup:
    reach = max([0.1, *(abs(row.value) + COVERAGE_FACTOR * row.u for row in strip.rows)]) * 1.1
    middle, scale = FRAME.x(0.5), (FRAME.end - FRAME.left) / 2 / reach
    top, bottom = FRAME.top - 3, FRAME.top + FRAME.row * len(strip.rows)
    step = round_step(reach / 2.5)
    parts = [line_mark((middle, top), (middle, bottom), "zero")]
    for at in (-step, step):
        x = middle + at * scale
        parts += [line_mark((x, top), (x, bottom), "grid"), text_mark((x, bottom + 11), f"{at:+g}", "middle")]
    parts.append(text_mark((middle, bottom + 11), "0", "middle"))
    for number, row in enumerate(strip.rows):
        y = FRAME.top + FRAME.row * (number + 0.5)
        x, half = middle + row.value * scale, COVERAGE_FACTOR * row.u * scale
        kind = "odd" if row.odd else "fits"
        parts += [
            text_mark((0.0, y + 4), f"! {row.label}" if row.odd else row.label, "start"),
            line_mark((x - half, y), (x + half, y), f"whisker {kind}"),
            _dot(x, y, kind),
        ]
    said = "; ".join(f"{row.label} {row.value:+.2f} mm{' (odd)' if row.odd else ''}" for row in strip.rows)
    head = Markup(
        '<svg class="strip" role="img" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {:g} {:g}">'
        "<title>{}</title><desc>{}</desc>"
    ).format(FRAME.width, bottom + 14, strip.title, said)
    return head + Markup("").join(parts) + Markup("</svg>")


def _dot(x: float, y: float, kind: str) -> Markup:
    if kind == "odd":
        return Markup('<path class="odd" d="M{:.1f} {:.1f}l5 5l-5 5l-5 -5z"/>').format(x, y - 5)
    return Markup('<circle class="fits" cx="{:.1f}" cy="{:.1f}" r="3.2"/>').format(x, y)
