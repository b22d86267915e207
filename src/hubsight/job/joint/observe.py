"""The observations of a job: photos' figures, readings and statements, as rows over the true quantities.

True quantities, mm: ``bar_x``, ``bar_y`` (the printed check bars), ``over_locknut``; per gauge its length;
per side ``d``, ``W`` (along the spoke), ``Wx`` (across), ``lop`` (by how much the crossing point misses the
middle between the faces), ``o`` (spoke offset), ``w`` (centre to flange), ``block``. All that is read or seen
follows from these: reach T = L - o, protrusion P = L - o - W/2 - lop, flange height = OLD/2 + w + block, end
face above the sheet = OLD + block.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from hubsight.job.by_hand import worked_out
from hubsight.job.file.load import JobSide
from hubsight.job.joint.gauss import Known, Observation, System, stacked
from hubsight.job.slips import LIKE_BOSSES
from hubsight.model.catalogue import CENTRE
from hubsight.model.figure import Figure
from hubsight.model.hub import LyingMeasurement
from hubsight.model.result import MeasuredSide
from hubsight.model.side import FigureName, SideMeasurement
from hubsight.model.stated import BLOCK_U_MM, CHECK_BAR_NOMINAL_MM, SideName, StatedGauge, StatedTarget
from hubsight.target.sheet import PRINT_SCALE_PRIOR
from hubsight.wheel.geometry import USUAL_OFFSETS_MM

RATIO_U = 3e-4
"""Standard uncertainty of the ratio of the print's scales in x and y as the photos show it: 0.04 mm on a
check bar (found on rendered sheets)."""
LEAST_U_MM = 0.01
"""No value is taken as known better than this, mm: readings are rounded to it."""
WARNED_FACTOR = 3.0
"""The uncertainty of a figure with a warning is multiplied by this: its interval does not claim to hold."""
LOPSIDED_U_MM = 0.15
"""Standard deviation of ``lop`` where a measurement does not state it, mm (found on rendered bosses)."""
USUAL_OFFSET = Known(
    (USUAL_OFFSETS_MM[0] + USUAL_OFFSETS_MM[1]) / 2.0, (USUAL_OFFSETS_MM[1] - USUAL_OFFSETS_MM[0]) / 4.0
)
"""Spoke offset of a hub of which nothing is known: its usual range as a 95 % interval."""

FACE_SHARE = 0.95
"""Share of a width's standard uncertainty that is the faces' own: the rest does not come back in the other
figures of the side."""

SCALE, CENTRELINE, LOPSIDED, BLOCK = "print scale", "boss centreline", "lopsided bosses", "block thickness"
"""Sources in the figures' budgets."""
OF_THE_END = (
    "gauge end's shape",
    "gauge end",
    "gauge axis",
    "focus and stabilisation",
    "target corners",
    "look of the bosses",
    "boss pattern",
)
"""Sources that put reach and protrusion off alike: both end where the gauge ends."""


@dataclass(frozen=True)
class Scale:
    """How statements of the print enter every length: derivative of the mean scale by each statement.

    ``x`` and ``y`` per mm of a check bar, ``along`` per unit of the ruler's scale. Photos show the ratio of
    both scales by themselves, so each bar tells of the mean of both.
    """

    x: float
    y: float
    along: float

    @classmethod
    def of(cls, target: StatedTarget) -> Scale:
        """Weigh what is stated by the inverse squares of the uncertainties."""
        nominal = CHECK_BAR_NOMINAL_MM
        us = [PRINT_SCALE_PRIOR if bar is None else bar.u / nominal for bar in (target.bar_x, target.bar_y)]
        weights = [1.0 / u**2 for u in us]
        weights.append(0.0 if target.along is None else 1.0 / target.along.u**2)
        total = sum(weights)
        return cls(weights[0] / total / nominal, weights[1] / total / nominal, weights[2] / total)

    def errors(self, size: float, target: StatedTarget) -> dict[str, float]:
        """Return the standard uncertainties that the print gives a length, mm, by shared error."""
        out = {}
        for name, slope, bar in (("bar_x", self.x, target.bar_x), ("bar_y", self.y, target.bar_y)):
            u = PRINT_SCALE_PRIOR * CHECK_BAR_NOMINAL_MM if bar is None else bar.u
            out[name] = size * slope * u
        if target.along is not None:
            out["along"] = size * self.along * target.along.u
        return out


def gauge_name(gauge: StatedGauge) -> str:
    """Return the name of the quantity that is a gauge's true length: alike gauges are the same one."""
    return f"gauge {gauge.length.value:.3f} {gauge.tip}"


def mean_gauge(gauges: Sequence[StatedGauge]) -> dict[str, float]:
    """Return the gauges' mean length as a row."""
    row: dict[str, float] = {}
    for gauge in gauges:
        name = gauge_name(gauge)
        row[name] = row.get(name, 0.0) + 1.0 / len(gauges)
    return row


def system_of(
    target: StatedTarget,
    sides: Sequence[tuple[JobSide, MeasuredSide]],
    lying: LyingMeasurement | None = None,
) -> System:
    """Return everything that is stated, read and seen of a job as one system of observations."""
    seen = {stated.stated.name: side.measurement for stated, side in sides}
    observations = [*_of_print(target, [s for s in seen.values() if s is not None])]
    gauges = {
        gauge_name(gauge): gauge
        for stated, _ in sides
        for one in (stated.stated, *stated.repeats)
        for gauge in one.gauges
    }
    observations += [
        Observation(name, gauge.length.value, max(gauge.length.u, LEAST_U_MM), {name: 1.0})
        for name, gauge in gauges.items()
    ]
    over = next((s.wheel.over_locknut for s, _ in sides if s.wheel.over_locknut is not None), None)
    if over is not None:
        observations.append(Observation("hub.over_locknut", over.value, over.u, {"over_locknut": 1.0}))
    known: dict[str, Known] = {}
    alike = _alike_bosses(list(seen.values()))
    for stated, side in sides:
        observations += _of_statements(stated, rows_of(stated, side.measurement))
        if side.measurement is not None:
            photos = _OfPhotos(target, stated, side.measurement, alike=alike)
            observations += photos.all()
            observations += _of_repeats(photos, side)
        name = stated.stated.name
        known[f"{name}.lop"] = Known(0.0, lopsided_u(side.measurement))
        known[f"{name}.o"] = USUAL_OFFSET
    if lying is not None:
        observations += _of_lying(target, lying)
    return stacked(observations, known)


def _of_print(target: StatedTarget, seen: Sequence[SideMeasurement]) -> Iterator[Observation]:
    """Yield the bars as read (else as meant), and their difference as the photos show it."""
    for name, bar in (("bar_x", target.bar_x), ("bar_y", target.bar_y)):
        value = CHECK_BAR_NOMINAL_MM if bar is None else bar.value
        u = PRINT_SCALE_PRIOR * CHECK_BAR_NOMINAL_MM if bar is None else bar.u
        yield Observation(f"target.{name}", value, 0.0, {name: 1.0}, {name: u})
    prints = [side.print_scale for side in seen if side.print_scale is not None]
    if prints:
        ratio = sum(one.x - one.y for one in prints) / len(prints)
        u = CHECK_BAR_NOMINAL_MM * RATIO_U
        yield Observation("photos.bars", CHECK_BAR_NOMINAL_MM * ratio, u, {"bar_x": 1.0, "bar_y": -1.0})
    if target.along is not None:
        along, nominal = target.along, CHECK_BAR_NOMINAL_MM
        row = {"bar_x": along.x, "bar_y": along.y}  # in mm of a check bar, like the other statements
        yield Observation("target.flat", along.value * nominal, 0.0, row, {"along": along.u * nominal})


def _rows(side: SideName, gauges: Sequence[StatedGauge], *, radial: bool) -> dict[str, dict[str, float]]:
    """Return what each reading and figure of a side is of the true quantities."""
    reach = {**mean_gauge(gauges), f"{side}.o": -1.0}
    faces = {} if radial else {f"{side}.W": -0.5, f"{side}.lop": -1.0}
    return {
        "flange_diameter": {f"{side}.d": 1.0},
        "boss_width": {f"{side}.W": 1.0},
        "boss_width_across": {f"{side}.Wx": 1.0},
        "reach": reach,
        "protrusion": {**reach, **faces},
        "flange_height": {"over_locknut": 0.5, f"{side}.w": 1.0, f"{side}.block": 1.0},
        "centre_to_flange": {f"{side}.w": 1.0},
        "end_to_flange": {"over_locknut": 0.5, f"{side}.w": -1.0},
        "end_face": {"over_locknut": 1.0, f"{side}.block": 1.0},
    }


def rows_of(stated: JobSide, seen: SideMeasurement | None) -> dict[str, dict[str, float]]:
    """Return what each reading and figure of a side is of the true quantities, by its name."""
    radial = seen is not None and seen.kind == "radial"
    return _rows(stated.stated.name, stated.stated.gauges, radial=radial)


def _of_statements(side: JobSide, rows: Mapping[str, Mapping[str, float]]) -> Iterator[Observation]:
    """Yield a side's readings and stated heights."""
    stated, name = side.stated, side.stated.name
    readings = dict(stated.caliper)
    if stated.centre_to_flange is not None:
        readings.setdefault("centre_to_flange", stated.centre_to_flange)
    if "flange_diameter" not in readings and "flange_diameter" in (worked := worked_out(side)):
        readings["flange_diameter"] = worked["flange_diameter"]
    if stated.flange_height is not None:
        readings.setdefault("flange_height", stated.flange_height)
    for quantity, reading in readings.items():
        if quantity in rows and (stated.gauges or quantity not in ("reach", "protrusion")):
            u = max(reading.u, LEAST_U_MM)
            yield Observation(f"{name}.caliper.{quantity}", reading.value, u, rows[quantity])
    u = BLOCK_U_MM if stated.block_thickness else LEAST_U_MM
    yield Observation(f"{name}.block_thickness", stated.block_thickness, u, {f"{name}.block": 1.0})
    yield from _offset_by_hand(side, rows["reach"])


def _offset_by_hand(side: JobSide, reach: Mapping[str, float]) -> Iterator[Observation]:
    """Yield an offset that was stated without what it was worked out from: it says what the reach is.

    It rests on the stated gauge length, and so do the photos' offsets: a slip in that is in both.
    """
    stated = side.stated
    raw = {"reach", "protrusion"} & set(stated.caliper)
    offset = stated.caliper.get("spoke_offset")
    if raw or offset is None or not stated.gauges:
        return
    length = sum(gauge.length.value for gauge in stated.gauges) / len(stated.gauges)
    yield Observation(f"{stated.name}.caliper.spoke_offset", length - offset.value, offset.u, reach)


@dataclass(frozen=True)
class _OfPhotos:
    """What the photos show of a side, as observations with the errors that they share."""

    target: StatedTarget
    stated: JobSide
    seen: SideMeasurement
    alike: bool

    def all(self) -> Iterator[Observation]:
        """Yield one observation a figure."""
        figures, block = self.seen.figures, self.stated.stated.block_thickness
        for name in ("flange_diameter", "boss_width", "boss_width_across", "flange_height"):
            if name in figures:
                yield self.observation(name, figures[name], shared=self._faces(name))
        if "reach" in figures:
            yield self.observation("reach", figures["reach"], shared=self._end("reach"))
        if "protrusion" in figures and self.seen.kind == "paired":
            shared = {**self._faces("protrusion"), **self._end("protrusion")}
            yield self.observation("protrusion", figures["protrusion"], shared=shared)
        if "over_locknut" in figures:
            yield self.observation("end_face", figures["over_locknut"], add=block)

    def observation(
        self, name: str, figure: Figure, *, add: float = 0.0, shared: Mapping[str, float] | None = None
    ) -> Observation:
        """Return a figure as an observation; ``add`` is added to its value."""
        stated = self.stated.stated
        own = [item.u for item in figure.budget if item.source in (SCALE, BLOCK)]
        shared = shared or {}
        rest = figure.u**2 - math.fsum(u**2 for u in own) - math.fsum(u**2 for u in shared.values())
        u = math.sqrt(max(rest, LEAST_U_MM**2))
        if figure.warnings:
            u = math.hypot(u, figure.u * math.sqrt(WARNED_FACTOR**2 - 1.0))
        value = figure.value + add
        scale = Scale.of(self.target).errors(value, self.target)
        row = rows_of(self.stated, self.seen)[name]
        return Observation(f"{stated.name}.photos.{name}", value, u, row, {**scale, **shared})

    def _faces(self, name: str) -> dict[str, float]:
        """Return what one error in the sight of the faces does to a figure; much of it is in both sides."""
        part = face_part(name, self.seen.figures)
        if part == 0.0:
            return {}
        common = LIKE_BOSSES if self.alike else 0.0
        side = self.stated.stated.name
        return {"faces": part * math.sqrt(common), f"{side}.faces": part * math.sqrt(1.0 - common)}

    def _end(self, name: str) -> dict[str, float]:
        """Return what reach and protrusion share: the gauge's end and what the boss looks like."""
        side = self.stated.stated.name
        both = [self.seen.figures.get("reach"), self.seen.figures.get("protrusion")]
        of = [_budget(figure) for figure in both if figure is not None]
        own = _budget(self.seen.figures["reach" if name == "reach" else "protrusion"])
        out = {f"{side}.{source}": own[source] for source in OF_THE_END if all(source in b for b in of)}
        if name == "reach" and CENTRELINE in own:
            out[f"{side}.{CENTRELINE}"] = own[CENTRELINE]
        return out


def _of_repeats(first: _OfPhotos, side: MeasuredSide) -> Iterator[Observation]:
    """Yield the reaches of a side's repeated sets, each with its own gauge, in bosses of one centreline."""
    stated = first.stated
    for k, (again, found) in enumerate(zip(stated.repeats, side.repeated, strict=False), 1):
        if found.measurement is None or "reach" not in found.measurement.figures or not again.gauges:
            continue
        figure = found.measurement.figures["reach"]
        name = stated.stated.name
        budget = _budget(figure)
        shared = {f"{name}.{CENTRELINE}": budget[CENTRELINE]} if CENTRELINE in budget else {}
        one = first.observation("reach", figure, shared=shared)
        row = {**mean_gauge(again.gauges), f"{name}.o": -1.0}
        yield Observation(f"{name}.repeat{k}.reach", one.value, one.u, row, one.shared)


def _of_lying(target: StatedTarget, lying: LyingMeasurement) -> Iterator[Observation]:
    """Yield what the photos of the lying hub show."""
    for name, figure in lying.figures.items():
        side = next((side for side, centre in CENTRE.items() if centre == name), None)
        row = {"over_locknut": 1.0} if side is None else {f"{side}.w": 1.0}
        u = figure.u * (WARNED_FACTOR if figure.warnings else 1.0)
        scale = Scale.of(target).errors(figure.value, target)
        yield Observation(f"lying.photos.{name}", figure.value, max(u, LEAST_U_MM), row, scale)


def face_part(name: str, figures: Mapping[FigureName, Figure]) -> float:
    """Return the faces' standard uncertainty in a figure, mm, with its sign; 0 where it has none.

    Faces seen too far out make widths too large by twice as much, and the protrusion too small.
    """
    slope = {"boss_width": 2.0, "boss_width_across": 2.0, "protrusion": -1.0}.get(name, 0.0)
    width, protrusion = figures.get("boss_width"), figures.get("protrusion")
    if slope == 0.0 or width is None or (name == "protrusion" and protrusion is None):
        return 0.0
    return FACE_SHARE * slope * (width.u / 2.0 if protrusion is None else min(width.u / 2.0, protrusion.u))


def _alike_bosses(seen: Sequence[SideMeasurement | None]) -> bool:
    """Tell whether two sides' bosses may be alike: as wide as one another, as far as the photos tell."""
    widths = [side.figures.get("boss_width") for side in seen if side is not None]
    if len(widths) < 2 or widths[0] is None or widths[1] is None:
        return False
    one, other = widths[0], widths[1]
    u = math.sqrt(max(one.u**2 + other.u**2 - 2.0 * LIKE_BOSSES * one.u * other.u, 0.0))
    return abs(one.value - other.value) <= 2.0 * u + 0.05


def lopsided_u(seen: SideMeasurement | None) -> float:
    """Return the standard deviation of ``lop``, mm."""
    figure = None if seen is None else seen.figures.get("spoke_offset_by_width")
    stated = None if figure is None else _budget(figure).get(LOPSIDED)
    return max(stated or LOPSIDED_U_MM, LEAST_U_MM)


def _budget(figure: Figure) -> dict[str, float]:
    return {item.source: item.u for item in figure.budget}
