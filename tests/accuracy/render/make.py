"""Make a corpus of rendered hub photographs with exact truth; see README.md beside this file.

    python tests/accuracy/render/make.py random:1201:8 OUT
    python tests/accuracy/render/make.py lifelike:2001:4 OUT --scale 4 --samples 24 --variant llvm_ad_rgb

The first word is ``random:FIRST:COUNT`` or ``lifelike:FIRST:COUNT``: hubs of these seeds. OUT becomes a whole
corpus, with its index; hubs that it holds already stay in it.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path[0] = str(Path(__file__).resolve().parents[1])

from render import draw_lifelike, draw_random  # noqa: E402
from render.build import BuiltHub, build  # noqa: E402
from render.design import Design  # noqa: E402
from render.index import write_index  # noqa: E402
from render.plan import PhotoSet, plan  # noqa: E402
from render.readings import readings  # noqa: E402
from render.seeds import rng_of  # noqa: E402
from render.sheet import draw_wave  # noqa: E402
from render.truth import plain, set_truth, whole_truth  # noqa: E402

DESIGNERS: dict[str, Callable[[int], Design]] = {
    "random": draw_random.design,
    "lifelike": draw_lifelike.design,
}


@dataclass(frozen=True)
class Wanted:
    """Which sets and photos to take; None for all."""

    sets: frozenset[str] | None
    photos: frozenset[int] | None


def designs(corpus: str) -> list[Design]:
    """Return the designs of ``KIND:FIRST:COUNT``; raises ValueError for anything else."""
    kind, _, span = corpus.partition(":")
    first, _, count = span.partition(":")
    if kind not in DESIGNERS or not (first.isdigit() and count.isdigit()):
        raise ValueError(f"not {corpus!r}: write random:FIRST:COUNT or lifelike:FIRST:COUNT")
    return [DESIGNERS[kind](int(first) + i) for i in range(int(count))]


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", help="random:FIRST:COUNT or lifelike:FIRST:COUNT")
    parser.add_argument("out", type=Path)
    parser.add_argument(
        "--sets", help="comma-separated, of: ds, ds2, nds, side, flat, camera; all if not given"
    )
    parser.add_argument("--photos", help="comma-separated numbers, from 1; all if not given")
    parser.add_argument("--scale", type=int, default=1, help="full size divided by the photos' size")
    parser.add_argument("--samples", type=int, default=64, help="per pixel")
    parser.add_argument("--chunk", type=int, default=4, help="samples at a time; fewer need less memory")
    parser.add_argument("--variant", default="cuda_ad_rgb", help="llvm_ad_rgb without a GPU")
    parser.add_argument("--workers", type=int, default=4, help="processes that build and develop")
    parser.add_argument("--geometry-only", action="store_true", help="truth and readings, no photos")
    return parser.parse_args(argv)


def _write_json(file: Path, content: Any) -> None:
    file.write_text(json.dumps(plain(content), indent=1), encoding="utf-8")


def _photograph(
    photographer: Any, design: Design, built: BuiltHub, *, sets: list[PhotoSet], wanted: Wanted, folder: Path
) -> list[Future[Path]]:
    """Take a hub's photos and write its files; without a photographer only the files."""
    look = rng_of(design.corpus, design.name, "look")
    wave = draw_wave(design.setting.wave, design.setting.curl, look)
    folder.mkdir(parents=True, exist_ok=True)
    studio = photographer.studio(design, built, wave, look) if photographer else None
    true: dict[str, Any] = {}
    files = []
    for photo_set in sets:
        if wanted.sets and photo_set.name not in wanted.sets:
            continue
        true[photo_set.name] = set_truth(design, photo_set)
        if studio is None:
            continue
        for photo, file in photographer.take(studio, photo_set, wave, folder, wanted.photos):
            true[photo_set.name]["photos"].append(photo)
            files.append(file)
            print(design.name, photo["file"], flush=True)
    _write_json(folder / "truth.json", whole_truth(design, built, wave, true))
    _write_json(folder / "job.json", readings(design, built, sets))
    return files


def main(argv: Sequence[str] | None = None) -> None:
    """Make the corpus that the command line asks for."""
    arguments = _arguments(argv)
    wanted = Wanted(
        frozenset(arguments.sets.split(",")) if arguments.sets else None,
        frozenset(map(int, arguments.photos.split(","))) if arguments.photos else None,
    )
    hubs = designs(arguments.corpus)
    context = multiprocessing.get_context("forkserver")
    with (
        ProcessPoolExecutor(arguments.workers, mp_context=context) as pool,
        tempfile.TemporaryDirectory() as scratch,
    ):
        photographer = None
        if not arguments.geometry_only:
            from render.take import Photographer, Quality  # noqa: PLC0415 - the renderer only where it is used

            quality = Quality(arguments.scale, arguments.samples, arguments.chunk, arguments.variant)
            photographer = Photographer(quality, pool, Path(scratch))
        building = {design.name: pool.submit(build, design.hub) for design in hubs[: arguments.workers + 1]}
        files: list[Future[Path]] = []
        for i, design in enumerate(hubs):
            built = building.pop(design.name).result()
            for later in hubs[i + arguments.workers + 1 : i + arguments.workers + 2]:
                building[later.name] = pool.submit(build, later.hub)
            folder = arguments.out / design.name
            files += _photograph(
                photographer, design, built, sets=plan(design, built), wanted=wanted, folder=folder
            )
        for file in files:
            file.result()
    print(write_index(arguments.out))


if __name__ == "__main__":
    main()
