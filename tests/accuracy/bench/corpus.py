"""A corpus folder: hubs, their photos, what a user would state, and the truth.

Layout: ``index.json`` names the hubs; each hub has ``job.json`` (what a user knows, with reading errors),
``truth.json`` (exact, from the model that was rendered) and folders of photos. All lengths in mm.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

SIDES = {"ds": "drive", "nds": "non_drive"}
"""Names of the sides in a corpus and in a job."""

SLANT_TOLERANCE_DEG = 2.0
"""A boss whose faces lean, twist or cant by less counts as its own mirror image."""

WIDTH_TOLERANCE_MM = 0.1
"""A boss whose two halves differ in width by less counts as its own mirror image."""

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Side:
    """One standing photo set with its statements and truth.

    Attributes
    ----------
    hub, side
        Their names in the corpus.
    photos
        Those that are there, in the order of the set.
    near_vertical
        The set's first photo; None if it is not there.
    job, stated
        The hub's ``job.json``, and this side's part of it.
    truth_file
        The hub's whole ``truth.json``.
    truth
        True figures by name; a figure that does not exist on this hub is absent.
    boss_count, crosses
        True ones.
    kind
        ``"paired"`` or ``"radial"``.
    asymmetric
        Bosses that are not their own mirror image, with one gauge only: counted apart.
    """

    hub: str
    side: str
    photos: tuple[Path, ...]
    near_vertical: Path | None
    job: dict[str, Any]
    stated: dict[str, Any]
    truth_file: dict[str, Any]
    truth: dict[str, float]
    boss_count: int
    crosses: int
    kind: str
    asymmetric: bool


@dataclass(frozen=True)
class CameraSet:
    """Photos of the target alone, from one camera, with the check-bar readings of that print."""

    camera: str
    photos: tuple[Path, ...]
    bar_x: float
    bar_y: float


@dataclass(frozen=True)
class Hub:
    """One hub: the sides whose photos are there, and its camera's set if there is one."""

    name: str
    sides: tuple[Side, ...]
    camera_set: CameraSet | None


def _load(path: Path) -> dict[str, Any]:
    content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return content


def _photos(corpus: Path, hub: dict[str, Any], name: str) -> tuple[Path, ...]:
    """Return the photos of a set that are there; listed but absent ones are skipped."""
    listed = (corpus / hub["id"] / name / file for file in hub["photos"].get(name, []))
    return tuple(photo for photo in listed if photo.is_file())


def load_corpus(corpus: Path, hubs: set[str] | None = None) -> list[Hub]:
    """Return the hubs of a corpus, all or those named in ``hubs``."""
    entries = _load(corpus / "index.json")["hubs"]
    sets = _camera_sets(corpus, entries)
    return [
        _hub(corpus, entry, sets.get(entry["camera_id"]))
        for entry in entries
        if hubs is None or entry["id"] in hubs
    ]


def _camera_sets(corpus: Path, entries: list[dict[str, Any]]) -> dict[str, CameraSet]:
    sets: dict[str, CameraSet] = {}
    for entry in entries:
        photos = _photos(corpus, entry, "camera")
        if photos:
            job = _load(corpus / entry["job"])
            camera = CameraSet(entry["camera_id"], photos, job["checkbar_x"], job["checkbar_y"])
            sets.setdefault(entry["camera_id"], camera)
    return sets


def _hub(corpus: Path, entry: dict[str, Any], camera_set: CameraSet | None) -> Hub:
    truth, job = _load(corpus / entry["truth"]), _load(corpus / entry["job"])
    sides = []
    for name in SIDES:
        photos = _photos(corpus, entry, name)
        if photos and name in job["sides"]:
            first = corpus / entry["id"] / name / entry["photos"][name][0]
            sides.append(_side((entry["id"], name), photos, first if first in photos else None, job, truth))
    return Hub(entry["id"], tuple(sides), camera_set)


def _side(
    which: tuple[str, str],
    photos: tuple[Path, ...],
    first: Path | None,
    job: dict[str, Any],
    truth: dict[str, Any],
) -> Side:
    hub, name = which
    side = truth["hub"]["sides"][name]
    gauges = truth["sets"][name]["gauges"]
    return Side(
        hub=hub,
        side=name,
        photos=photos,
        near_vertical=first,
        job=job,
        stated=job["sides"][name],
        truth_file=truth,
        truth=true_figures(truth, name),
        boss_count=side["n"],
        crosses=side["crosses"],
        kind=side["kind"],
        asymmetric=side["kind"] == "paired" and len(gauges) == 1 and asymmetric_boss(_boss(truth, name)),
    )


def true_figures(truth: dict[str, Any], name: str) -> dict[str, float]:
    """Return the true figures of a side. With two gauges, boss width, protrusion and reach are means."""
    side, photo_set = truth["hub"]["sides"][name], truth["sets"][name]
    gauges = photo_set["gauges"]
    figures = {
        "flange_diameter": side["d"],
        "spoke_offset": side["offset"],
        "flange_height": photo_set["flange_mid_z"],
        "over_locknut": truth["hub"]["OLD"],
        "centre_to_flange": side["w"],
        "spoke_length": side["spoke_length_mean"],
        "protrusion": float(np.mean([gauge["protrusion"] for gauge in gauges])),
        "reach": float(np.mean([_reach(side, photo_set, gauge) for gauge in gauges])),
    }
    if side["kind"] == "paired":
        figures["boss_width"] = float(np.mean([side["W"][gauge["dir"]] for gauge in gauges]))
        bores = [bore for bore in side["bores"] if bore["lump"] == gauges[0]["lump"]]
        if len(bores) == 2:
            figures["boss_width_across"] = width_across(bores)
    return figures


def width_across(bores: list[dict[str, Any]]) -> float:
    """Return a boss' width square to its centreline, through the crossing point.

    Each face is known where one bore leaves it and where the other's line enters it; it is taken as straight
    in between.
    """
    out = np.array([*bores[0]["C"][:2], 0.0])
    out /= np.linalg.norm(out)
    left = np.cross([0.0, 0.0, 1.0], out)
    faces: dict[bool, list[tuple[float, float]]] = {True: [], False: []}
    for bore in bores:
        for distance in (bore["exit_from_C"], -bore["rear_from_C"]):
            point = distance * np.array(bore["u"])
            faces[bool(point @ left > 0.0)].append((float(point @ out), float(point @ left)))
    return sum(abs(float(np.interp(0.0, *np.transpose(sorted(face))))) for face in faces.values())


def _reach(side: dict[str, Any], photo_set: dict[str, Any], gauge: dict[str, Any]) -> float:
    """Return the true distance from the crossing point to the gauge's end, along the gauge as it lay.

    The crossing point is where the gauge's line passes the plane of hub axis and boss centreline; on radial
    hubs, where it leaves the outside diameter.
    """
    hub_to_target = np.array(photo_set["hub_to_target"])
    to_hub = np.linalg.inv(hub_to_target)
    seat, tip = (to_hub @ np.append(gauge[key], 1.0) for key in ("seat_target", "tip_target"))
    start, along = seat[:3], (tip - seat)[:3]
    if side["kind"] == "radial":
        return float(np.linalg.norm(along) * (1.0 - _leaves_cylinder(start, along, side["d"] / 2.0)))
    boss = next(bore["C"] for bore in side["bores"] if bore["lump"] == gauge["lump"])
    normal = np.cross([0.0, 0.0, 1.0], boss)
    return float(np.linalg.norm(along) * (1.0 + (normal @ start) / (normal @ along)))


def _leaves_cylinder(start: Vector, along: Vector, radius: float) -> float:
    """Return the fraction of ``along`` at which a line from inside leaves a cylinder about the hub axis."""
    a, b, c = along[:2] @ along[:2], start[:2] @ along[:2], start[:2] @ start[:2] - radius**2
    return float((-b + np.sqrt(b * b - a * c)) / a)


def _boss(truth: dict[str, Any], name: str) -> dict[str, Any]:
    """Return the design of a side's bosses; the second flange differs from the first where it says so."""
    design = truth["design"]
    boss: dict[str, Any] = {**design["flange"], **design.get(f"flange_{name}", {})}["lump"]
    return boss


def _pair(value: Any) -> tuple[float, float]:
    return (value[0], value[1]) if isinstance(value, list | tuple) else (value, value)


def asymmetric_boss(boss: dict[str, Any]) -> bool:
    """Tell whether a boss' outline, seen along the hub axis, is not its own mirror image.

    Parameters
    ----------
    boss
        Its design: per face half width ``h`` and ``slope``; ``lean``, ``cant``, ``twist`` and ``twist_l`` in
        degrees (faces twisted alike, ``twist_l`` = ``twist``, mirror each other); ``beak``, a nose.
    """
    half, slope = _pair(boss["h"]), _pair(boss.get("slope", 0.0))
    twist = boss.get("twist", 0.0)
    slants = (
        slope[0] - slope[1],
        boss.get("lean", 0.0),
        boss.get("cant", 0.0),
        twist - boss.get("twist_l", -twist),
    )
    return (
        abs(half[0] - half[1]) > WIDTH_TOLERANCE_MM
        or any(abs(slant) > SLANT_TOLERANCE_DEG for slant in slants)
        or bool(boss.get("beak"))
    )
