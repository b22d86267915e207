"""Made-up workshops: hubs with true dimensions, what photos and people make of them, slips on the way.

Coded apart from ``hubsight.job.joint``: true dimensions go forward through formulas of the trade to what is
seen and read, so that the joint test can be compared with what really happened. All errors are drawn from
the uncertainties that are stated of them. Lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from hubsight.job.file.load import Job, JobSide
from hubsight.model.figure import BudgetItem, Figure
from hubsight.model.result import MeasuredSide
from hubsight.model.side import PrintScale, SideMeasurement
from hubsight.model.stated import Reading, StatedGauge, StatedSide, StatedTarget, StatedWheel

SIDES = ("drive", "non_drive")
BAR_U, SEEN_SCALE_U, GAUGE_U, OLD_U = 0.1, 5.9e-4, 0.03, 0.05
READ_U = {"flange_diameter": 0.3, "boss_width": 0.1, "protrusion": 0.144}
FACE_U, END_U, PHASE_U, LOP_U = 0.09, 0.055, 0.08, 0.13
DIAMETER_U, HEIGHT_U, FACE_HEIGHT_U = 0.075, 0.11, 0.15


@dataclass
class Workshop:
    """One job: what is true, and what went wrong on purpose.

    ``seen`` adds to what photos measure, ``read`` to what a caliper reads, by side and name; ``bars`` to the
    check bars as stated, ``over_locknut`` to the stated one, ``gauge`` to the stated gauges' lengths;
    ``blocks`` are forgotten.
    """

    rng: np.random.Generator
    bars: tuple[float, float] = (0.0, 0.0)
    over_locknut: float = 0.0
    gauge: float = 0.0
    seen: dict[tuple[str, str], float] = field(default_factory=dict)
    read: dict[tuple[str, str], float] = field(default_factory=dict)
    blocks: dict[str, float] = field(default_factory=dict)
    centre_stated: bool = False
    truth: dict[str, dict[str, float]] = field(default_factory=dict)

    def job(self) -> tuple[Job, tuple[MeasuredSide, ...]]:
        """Return the job as stated, and its sides as measured."""
        rng = self.rng
        printed = 120.0 * (1.0 + rng.normal(0.0, 0.004, 2))
        stated = printed + rng.normal(0.0, BAR_U, 2) + self.bars
        self.scale = float(np.mean(stated) / np.mean(printed))
        self.printed, self.stated_bars = printed, stated
        old = float(rng.choice([100.0, 135.0, 142.0, 148.0]))
        alike = rng.normal(0.0, FACE_U)
        sides = [self._side(name, old, alike) for name in SIDES]
        target = StatedTarget(bar_x=Reading(stated[0], BAR_U), bar_y=Reading(stated[1], BAR_U))
        over = Reading(old + rng.normal(0.0, OLD_U) + self.over_locknut, OLD_U)
        wheel = StatedWheel(spokes=24, crosses=2, erd=Reading(600.0, 0.3), over_locknut=over)
        job_sides = tuple(JobSide(stated, wheel) for stated, _ in sides)
        job = Job("made up", Path(), target, job_sides)
        return job, tuple(measured for _, measured in sides)

    def _side(self, name: str, old: float, alike: float) -> tuple[StatedSide, MeasuredSide]:
        rng, block = self.rng, self.blocks.get(name, 0.0)
        d, W, o = rng.uniform(38.0, 55.0), 8.3, rng.normal(2.2, 0.8)
        w = rng.uniform(16.0, 22.0) if name == "drive" else rng.uniform(28.0, 36.0)
        L, lop = 100.0 + rng.normal(0.0, 0.3), rng.normal(0.0, LOP_U)
        P = L - o - W / 2.0 - lop
        self.truth[name] = {"d": d, "o": o, "w": w}
        length = L + rng.normal(0.0, GAUGE_U) + self.gauge
        true = {"flange_diameter": d, "boss_width": W, "protrusion": P, "centre_to_flange": w}
        u_read = {**READ_U, **({"centre_to_flange": 0.3} if self.centre_stated else {})}
        readings = {
            key: Reading(true[key] + rng.normal(0.0, u) + self.read.get((name, key), 0.0), u)
            for key, u in u_read.items()
        }
        k = self.scale
        face = np.sqrt(0.7) * alike + np.sqrt(0.3) * rng.normal(0.0, FACE_U)
        end = rng.normal(0.0, END_U)
        seen = {
            "flange_diameter": k * d + rng.normal(0.0, DIAMETER_U),
            "boss_width": k * W + 2.0 * face + rng.normal(0.0, 0.04),
            "protrusion": k * P + end - face + rng.normal(0.0, 0.04),
            "reach": k * (L - o) + end + rng.normal(0.0, PHASE_U),
            "flange_height": k * (old / 2.0 + w + block) + rng.normal(0.0, HEIGHT_U),
            "over_locknut": k * (old + block) + rng.normal(0.0, FACE_HEIGHT_U),
        }
        seen = {key: value + self.seen.get((name, key), 0.0) for key, value in seen.items()}
        seen["spoke_offset"] = length - seen["reach"]
        seen["spoke_offset_by_width"] = length - seen["protrusion"] - seen["boss_width"] / 2.0
        seen["centre_to_flange"] = seen["flange_height"] - seen["over_locknut"] / 2.0
        figures = {key: _figure(key, value) for key, value in seen.items()}
        scale = self.stated_bars / 120.0
        ratio = self.printed[0] / self.printed[1] * (1.0 + rng.normal(0.0, 2e-4))
        mean = float(scale.mean())
        adjusted = PrintScale(
            x=mean * (1 + (ratio - 1) / 2), y=mean * (1 - (ratio - 1) / 2), x_u=6e-4, y_u=6e-4
        )
        measurement = SideMeasurement(
            name=name, kind="paired", boss_count=6, crosses=2, figures=figures, print_scale=adjusted
        )
        stated = StatedSide(
            name,
            (),
            (StatedGauge(Reading(length, GAUGE_U)),),
            caliper=readings,
            centre_to_flange=readings.get("centre_to_flange"),
        )
        return stated, MeasuredSide(name=name, photos=(), measurement=measurement)


OWN_U = {
    "flange_diameter": {"look of the bosses": DIAMETER_U},
    "boss_width": {"rounding of the faces": 2.0 * FACE_U, "views of the faces": 0.04},
    "protrusion": {"gauge end": END_U, "rounding of the faces": FACE_U, "views of the faces": 0.04},
    "reach": {"gauge end": END_U, "boss centreline": PHASE_U},
    "flange_height": {"flange's middle": HEIGHT_U},
    "over_locknut": {"rounding of the end face": FACE_HEIGHT_U},
    "spoke_offset": {"gauge end": END_U, "boss centreline": PHASE_U, "gauge length": GAUGE_U},
    "spoke_offset_by_width": {"lopsided bosses": LOP_U, "gauge end": END_U, "gauge length": GAUGE_U},
    "centre_to_flange": {"flange's middle": HEIGHT_U, "rounding of the end face": FACE_HEIGHT_U / 2.0},
}


def _figure(name: str, value: float) -> Figure:
    size = 98.0 if name.startswith("spoke_offset") else value
    parts = {**OWN_U[name], "print scale": SEEN_SCALE_U * abs(size)}
    u = float(np.sqrt(sum(part**2 for part in parts.values())))
    budget = tuple(BudgetItem(source=source, u=part) for source, part in parts.items())
    return Figure(value=value, u=u, low=value - 1.96 * u, high=value + 1.96 * u, budget=budget)
