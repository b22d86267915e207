"""Check rendered photos, or rebuilt hubs, against their truth; prints one line each and a summary.

python tests/accuracy/render/check.py CORPUS               # saddles that OpenCV finds, against truth
python tests/accuracy/render/check.py CORPUS --geometry    # hubs built anew: seats, bores, exits, gauges
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

if not __package__:  # run as a script: its package lies one folder up
    sys.path[0] = str(Path(__file__).resolve().parents[1])

from render import draw_lifelike, draw_random
from render.build import BuiltHub, build
from render.design import side_of
from render.hub import SIDES
from render.mesh import Array, Mesh, frame_to, ray_hits
from render.sheet import board, saddles

OUTLIER_PX = 3.0
"""A saddle found farther from its place is another one, or none."""

SEAT_MM = 0.002
"""A ray that meets the seat this near to its plane has met the seat itself, not the other bore's wall."""


@dataclass(frozen=True)
class Found:
    """What OpenCV found of a photo's saddles, px: errors (n, 2), how many were visible, outliers."""

    errors: Array
    visible: int
    outliers: int
    reprojection: float

    def __str__(self) -> str:
        if not len(self.errors):
            return f"no saddle of {self.visible} found"
        size = np.linalg.norm(self.errors, axis=1)
        x, y = self.errors.mean(0)
        return (
            f"saddles {len(size)}/{self.visible}  mean {size.mean():.3f}  bias {x:+.3f} {y:+.3f}  "
            f"worst {size.max():.2f}  outliers {self.outliers}  reprojection {self.reprojection:.4f}"
        )


# ---------- photos ----------


def check_photo(file: Path, true: dict[str, Any]) -> Found:
    """Return what OpenCV's own detector and projection make of a photo; raises ValueError on a wrong size."""
    camera, divisor = true["camera"], true.get("test_scale", 1)
    picture = cv2.imread(str(file), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    if picture is None or picture.shape != (camera["height"] // divisor, camera["width"] // divisor):
        raise ValueError(f"{file}: not a photo of the size that its truth states")
    visible = {
        int(number): (np.array(point["px"]) + 0.5) / divisor - 0.5
        for number, point in zip(saddles()[1], true["points"]["saddles"], strict=True)
        if point["visible"]
    }
    errors = _saddle_errors(picture, visible)
    near = np.linalg.norm(errors, axis=1) < OUTLIER_PX
    return Found(errors[near], len(visible), int((~near).sum()), _reprojection(true))


def _saddle_errors(picture: Any, visible: dict[int, Array]) -> Array:
    """Return found less true place of each saddle that was found, (n, 2)."""
    parameters = cv2.aruco.CharucoParameters()
    parameters.minMarkers = 1
    detector = cv2.aruco.CharucoDetector(board(), parameters, cv2.aruco.DetectorParameters())
    corners, numbers, _, _ = detector.detectBoard(picture)
    if numbers is None:
        return np.zeros((0, 2))
    found = {
        int(number): corner
        for number, corner in zip(numbers.ravel(), corners.reshape(-1, 2), strict=True)
        if int(number) in visible
    }
    neighbours = [np.linalg.norm(visible[k] - visible[k + 1]) for k in visible if k + 1 in visible]
    half = max(3, int(0.10 * np.median(neighbours)))
    rough = np.array(list(found.values()), np.float32).reshape(-1, 1, 2)
    fine = cv2.cornerSubPix(picture, rough, (half, half), (-1, -1), (3, 60, 1e-4)).reshape(-1, 2)
    errors: Array = fine - np.array([visible[k] for k in found])
    return errors


def _reprojection(true: dict[str, Any]) -> float:
    """Return the largest distance between stated pixels and OpenCV's projection of the stated points."""
    camera, points = true["camera"], [point for named in true["points"].values() for point in named]
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1]])
    rotation, _ = cv2.Rodrigues(np.array(camera["R"]))
    xyz = np.array([point["xyz"] for point in points])
    place, terms = np.array(camera["t"]), np.array(camera["dist"])
    projected, _ = cv2.projectPoints(xyz, rotation, place, matrix, terms)
    stated = np.array([point["px"] for point in points])
    return float(np.abs(projected.reshape(-1, 2) - stated).max())


# ---------- geometry ----------


def check_geometry(true: dict[str, Any]) -> dict[str, float]:
    """Return the largest departure of a hub, built anew, from its truth, by what is checked; mm.

    Seats by rays beside the wire, exits by rays along its axis, gauges in the pictures, the resting pose.
    """
    number = int(true["id"][1:])
    design = (draw_random if true["id"].startswith("r") else draw_lifelike).design(number)
    built = build(design.hub)
    worst: dict[str, float] = {}
    for what, departure in (*_bores(built, true), *_gauges(built, true), *_rest(built, true)):
        worst[what] = max(worst.get(what, 0.0), departure)
    return worst


def _bores(built: BuiltHub, true: dict[str, Any]) -> Iterator[tuple[str, float]]:
    for side in SIDES:
        stated, undrilled = true["hub"]["sides"][side], built.sides[side]
        mesh = next(part.mesh for part in built.parts if part.name == f"flange_{side}")
        for bore in stated["bores"]:
            u, seat = np.array(bore["u"]), np.array(bore["seat"])
            yield "seat", _seat_departure(mesh, seat, u, (stated["bore_dia"] + stated["cbore_dia"]) / 4)
            through = np.array(bore["axis_at_C"]) - 0.3 * u
            ahead = ray_hits(undrilled.v, undrilled.f, through, u) - 0.3
            yield "exit", float(np.abs(ahead - bore["exit_from_C"]).min())
            free = ray_hits(mesh.v, mesh.f, seat, u)
            length = np.linalg.norm(np.array(bore["exit"]) - seat)
            yield "blocked bores", float(np.any((free > -0.2) & (free < length + 0.5)))
            rim = np.array(bore["rim_hole"])
            yield "spoke length", abs(float(np.linalg.norm(rim - seat)) - bore["length"])


def _seat_departure(mesh: Mesh, seat: Array, along: Array, radius: float) -> float:
    """Return how far the seat lies from its plane; 9 where no ray meets it."""
    frame, flat = frame_to(seat, along)[:3, :3], []
    for angle in np.radians(np.arange(0, 360, 45)):
        out = frame @ [np.cos(angle), np.sin(angle), 0]
        met = ray_hits(mesh.v, mesh.f, seat + radius * out - 0.6 * along, along) - 0.6
        flat += [float(depth) for depth in np.abs(met[met > -0.5][:1]) if depth < SEAT_MM]
    return max(flat, default=9.0)


def _gauges(built: BuiltHub, true: dict[str, Any]) -> Iterator[tuple[str, float]]:
    for name, photo_set in true["sets"].items():
        for wire in photo_set["gauges"]:
            if "seat" not in wire:
                continue
            ends = np.array(wire["tip_target"]) - np.array(wire["seat_target"])
            yield "gauge length", abs(float(np.linalg.norm(ends)) - wire["L"])
            flange = built.sides[side_of(name)]
            hits = ray_hits(flange.v, flange.f, np.array(wire["seat"]), np.array(wire["u"]))
            yield "gauge exit", float(np.abs(hits - wire["exit_from_seat"]).min())
            yield "protrusion", abs(wire["L"] - wire["exit_from_seat"] - wire["protrusion"])


def _rest(built: BuiltHub, true: dict[str, Any]) -> Iterator[tuple[str, float]]:
    for name, photo_set in true["sets"].items():
        if photo_set["hub_to_target"] is None:
            continue
        matrix = np.array(photo_set["hub_to_target"])
        parts = [p for p in built.parts if name == "side" or not p.name.startswith(("axle", "tube"))]
        low = min((part.mesh.v @ matrix[:3, :3].T + matrix[:3, 3])[:, 2].min() for part in parts)
        yield "rest", abs(float(low) - (photo_set.get("block") or 0.0))


# ---------- command line ----------


def main(argv: Sequence[str] | None = None) -> None:
    """Check the corpus that the command line names."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--geometry", action="store_true", help="build the hubs anew instead")
    arguments = parser.parse_args(argv)
    everything: list[Array] = []
    for file in sorted(arguments.corpus.glob("*/truth.json")):
        true = json.loads(file.read_text(encoding="utf-8"))
        if arguments.geometry:
            worst = check_geometry(true)
            print(true["id"], *(f"{what} {value:.5f}" for what, value in worst.items()), sep="  ", flush=True)
            continue
        for photo in (photo for photo_set in true["sets"].values() for photo in photo_set["photos"]):
            found = check_photo(file.parent / photo["file"], photo)
            print(true["id"], photo["file"], found, flush=True)
            everything.append(found.errors)
    if everything:
        errors = np.concatenate(everything)
        size, (x, y) = np.linalg.norm(errors, axis=1), errors.mean(0)
        print(f"{len(everything)} photos: mean {size.mean():.4f} px, bias {x:+.4f} {y:+.4f} px")


if __name__ == "__main__":
    main()
